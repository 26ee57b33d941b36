//! Whether another supply fits a device by its figures, and what else to be careful with before a remedy is tried.
//!
//! [`check`] takes the manifest's supplies and the words of devices and remedies, [`fit`] compares figures;
//! `result`, `words`, `section` and `digest` are what is told of it in the JSON, the report and the post.

pub mod check;
pub(crate) mod digest;
pub mod fit;
pub mod result;
pub(crate) mod section;
pub(crate) mod words;

pub use check::{cautions, of};
pub(crate) use digest::digest;
pub(crate) use section::{of_no_device, section, verdicts};
