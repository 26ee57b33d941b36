//! Whether the receiver follows its input, as an attenuator put into the antenna lead tells it, and how far the
//! band's noise lies above the receiver's own.
//!
//! [`recordings`] measures those of the manifest's check, [`solve`] judges; `result`, `words` and `section` are
//! what is told of it. It comes before the comparisons, which a receiver that fails spoils, and so is made from
//! other things than the other findings.

pub mod recordings;
pub mod result;
pub(crate) mod section;
pub mod solve;
pub mod words;

pub use recordings::of;
pub(crate) use section::section;
