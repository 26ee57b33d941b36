//! Whether the station is quiet enough by the user's own aim, device by device after its last remedy.
//!
//! [`devices`] takes the comparisons, [`judge`] says when a condition is met; `result`, `words`, `section` and
//! `digest` are what is told of it in the JSON, the report and the post.

pub mod devices;
pub(crate) mod digest;
pub mod judge;
pub mod result;
pub(crate) mod section;
pub(crate) mod words;

pub use devices::of;
pub(crate) use digest::digest;
pub(crate) use section::{section, verdict};
