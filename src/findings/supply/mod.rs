//! Whether another supply fits a device by its figures.

pub mod check;
pub mod fit;
pub mod section;
