//! The station's noise held against published man-made noise.

pub mod figure;
pub mod p372;
pub mod station;
