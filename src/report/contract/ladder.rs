//! Remedies of one device in order, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// One device and its remedies, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ladder {
    /// The device.
    pub device: String,
    /// Id of the setting.
    pub setting: String,
    /// From no remedy onwards.
    pub steps: Vec<LadderStep>,
    /// Not made by this version.
    pub choke_fit: Option<serde_json::Value>,
    /// Not made by this version.
    pub unmasked: Vec<serde_json::Value>,
}

/// What is left after one remedy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LadderStep {
    /// The remedy; null: none yet.
    pub remedy: Option<String>,
    /// Id of the contrast.
    pub contrast: String,
    /// Excess left.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// Lines left.
    pub lines: Vec<StepLine>,
}

/// A line at one step of a ladder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepLine {
    /// Audio frequency.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
}
