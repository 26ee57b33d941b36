//! Stretches of a night in which a noise is present, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use super::ContrastResult;

/// A stretch of a night in which a noise is present.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Episode {
    /// Start, RFC 3339.
    pub start: Option<String>,
    /// Start, from the beginning of the night.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// This stretch against the quiet beside it.
    pub contrast: ContrastResult,
}
