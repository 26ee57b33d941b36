//! Whether the station is quiet enough by the user's own aim.

pub mod gather;
pub mod judge;
