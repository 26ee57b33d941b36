//! Whether another supply fits a device by its figures.

pub mod fit;
pub mod gather;
