//! What the noise costs a listener.

pub mod cost;
pub mod digest;
pub mod result;
pub mod rows;
pub mod section;
pub mod weak_signal;
pub mod words;
