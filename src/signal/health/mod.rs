//! Can this recording be trusted? What spoils a comparison, each cause with a code, a reason and what to do.

pub mod ends;
pub mod gain;
pub mod hum;
pub mod samples;

pub use ends::SilentEnds;
pub use gain::GainMotion;
pub use hum::Hum;
pub use samples::{SHORTEST_S, SampleWatch};
