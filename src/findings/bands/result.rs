//! A device over the dial, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::warning::Trust;

/// A device that was recorded at several dials.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeviceBands {
    /// The device.
    pub device: String,
    /// Id of the setting where it adds most, without a remedy or else with the first; null where the intervals of
    /// most and least overlap.
    pub worst: Option<String>,
    /// Id of the setting where it adds least.
    pub best: Option<String>,
    /// By rising dial, remedies in their order.
    pub points: Vec<BandPoint>,
}

/// One comparison of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BandPoint {
    /// Id of the setting.
    pub setting: String,
    /// Its dial.
    pub dial_khz: f64,
    /// The remedy; null: none.
    pub remedy: Option<String>,
    /// Id of the comparison.
    pub contrast: String,
    /// Noise without lines, on over off; null where it could not be had.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// With lines and clicks.
    pub total_excess_db: Option<f64>,
    /// The kind of noise.
    pub character: Character,
    /// How far to rely on it.
    pub trust: Trust,
}
