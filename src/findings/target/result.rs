//! The session's target and how far it was met, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// What the session aims at, and how far it came.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetResult {
    /// Most dB of excess allowed, carriers and clicks counted.
    pub excess_db: Option<f64>,
    /// Whether no carrier may stand above the floor.
    pub no_carrier: bool,
    /// Strongest carrier allowed, dB over the noise in 1 Hz.
    pub carrier_cnr_db_hz: Option<f64>,
    /// "met", "not met" or "can't be told", of all devices together.
    pub outcome: String,
    /// Each device after its last remedy.
    pub devices: Vec<TargetDevice>,
    /// The largest thing left.
    pub largest_left: Option<LargestLeft>,
}

/// One device in one setting against the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetDevice {
    /// The device.
    pub device: String,
    /// Id of the setting.
    pub setting: String,
    /// Id of the comparison that was judged: that of the last remedy.
    pub contrast: String,
    /// That remedy.
    pub remedy: Option<String>,
    /// "met", "not met" or "can't be told".
    pub outcome: String,
    /// The conditions one by one, as sentences without a stop.
    pub why: Vec<String>,
}

/// The largest thing left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LargestLeft {
    /// The device.
    pub device: String,
    /// Id of the comparison.
    pub contrast: String,
    /// "noise", "clicks" or "carriers".
    pub kind: String,
    /// By how many dB this alone lifts the noise of the passband.
    pub lifts_db: f64,
}
