//! When each noise of a night came back, and what a log of what was switched explains of it.

pub mod explain;
pub mod pattern;
pub mod patterns;
pub mod switch_log;
