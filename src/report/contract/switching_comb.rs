//! Families of carriers over the dial, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// Carriers of one switching supply over the dial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SwitchingComb {
    /// Distance of neighbours.
    pub spacing_hz: f64,
    /// Its 95 % interval.
    pub spacing_ci_hz: [f64; 2],
    /// Frequency above a multiple of the spacing.
    pub offset_hz: f64,
}
