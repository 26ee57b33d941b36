//! The figures of a night.

pub mod hours;
pub mod on_times;
pub mod timeline;
pub mod waterfall;
