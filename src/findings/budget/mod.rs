//! What each of several devices adds to the noise of all.

pub mod figure;
pub mod result;
pub mod section;
pub mod select;
pub mod shares;
