//! What the noise of each comparison costs a listener: SNR, the power others seem to send with, the signal needed.
//!
//! [`cost`] takes the comparisons, [`weak_signal`] is the arithmetic; `result`, `words`, `section`, `digest` and
//! `rows` are what is told of it in the JSON, the report, the post and the table. In the JSON it shares one object
//! with published noise, the target and supplies: [`result::Listening`].

pub mod cost;
pub(crate) mod digest;
pub mod result;
pub(crate) mod rows;
pub(crate) mod section;
pub mod weak_signal;
pub(crate) mod words;

pub use cost::of;
pub(crate) use digest::digest;
pub(crate) use section::section;
