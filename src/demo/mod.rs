//! The invented scenario, synthesised.

pub mod synth;
