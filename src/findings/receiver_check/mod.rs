//! Whether the receiver follows its input.

pub mod recordings;
pub mod result;
pub mod section;
pub mod solve;
pub mod words;
