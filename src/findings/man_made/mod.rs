//! The station's noise held against published man-made noise.

pub mod drawing;
pub mod figure;
pub mod gather;
pub mod p372;
