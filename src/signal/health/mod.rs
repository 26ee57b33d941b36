//! Can this recording be trusted? What spoils a comparison, each cause with a code, a reason and what to do.

mod gain;
mod hum;
mod samples;
mod warning;

pub use gain::GainMotion;
pub use hum::Hum;
pub use samples::{SHORTEST_S, SampleWatch};
pub use warning::{Code, Trust, Warning};
