//! Whether the station is quiet enough by the user's own aim.

pub mod devices;
pub mod judge;
