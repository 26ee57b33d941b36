//! The session's target and how far it was met, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use super::judge::Outcome;

/// What the session aims at, and how far it came.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetResult {
    /// Most dB of excess allowed, carriers and clicks counted.
    pub excess_db: Option<f64>,
    /// Whether no carrier may stand above the floor.
    pub no_carrier: bool,
    /// Strongest carrier allowed, dB over the noise in 1 Hz.
    pub carrier_cnr_db_hz: Option<f64>,
    /// How it stands.
    pub outcome: Outcome,
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
    /// How it stands.
    pub outcome: Outcome,
    /// The conditions one by one, as sentences without a stop.
    pub why: Vec<String>,
}

/// A single thing that can be left of a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftKind {
    /// Its noise.
    Noise,
    /// Its noise, where it comes in clicks.
    Clicks,
    /// Its carriers.
    Carriers,
}

impl LeftKind {
    /// Its word in JSON and in sentences.
    pub fn word(self) -> &'static str {
        match self {
            Self::Noise => "noise",
            Self::Clicks => "clicks",
            Self::Carriers => "carriers",
        }
    }
}

/// The largest thing left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LargestLeft {
    /// The device.
    pub device: String,
    /// Id of the comparison.
    pub contrast: String,
    /// What of it.
    pub kind: LeftKind,
    /// By how many dB this alone lifts the noise of the passband.
    pub lifts_db: f64,
}
