//! Can this recording be trusted? What spoils a comparison, each cause with a code, a reason and what to do.

mod warning;

pub use warning::{Code, Trust, Warning};
