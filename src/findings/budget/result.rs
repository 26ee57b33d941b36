//! What each of several devices contributes, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::findings::budget::shares::Balance;

/// When a budget is drawn up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Without remedies.
    #[default]
    Before,
    /// At the last step of each device's ladder.
    Now,
}

impl Stage {
    /// Its word in JSON and in the names of files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::Now => "now",
        }
    }
}

/// One device's contribution to what all devices of a setting add.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct BudgetEntry {
    /// The device.
    pub device: String,
    /// Its share of the power that all devices add, carriers included.
    pub share: f64,
    /// Its excess, noise without carriers.
    pub excess_db: f64,
    /// Id of the setting.
    #[serde(default)]
    pub setting: String,
    /// Without remedies or with them.
    #[serde(default)]
    pub stage: Stage,
    /// Id of the contrast.
    #[serde(default)]
    pub contrast: String,
    /// 95 % interval of the share.
    #[serde(default)]
    pub share_ci: Option<[f64; 2]>,
    /// 95 % interval of the excess.
    #[serde(default)]
    pub excess_ci_db: Option<[f64; 2]>,
    /// How much quieter the band would be without it, all others on.
    #[serde(default)]
    pub without_db: Option<f64>,
    /// Its 95 % interval.
    #[serde(default)]
    pub without_ci_db: Option<[f64; 2]>,
}

/// Several devices on at once, held against the sum of each by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JointResult {
    /// Id of the setting.
    pub setting: String,
    /// Id of the contrast with all of them on.
    pub contrast: String,
    /// The devices.
    pub devices: Vec<String>,
    /// What their powers add up to, all over off.
    pub sum_db: f64,
    /// Its 95 % interval.
    pub sum_ci_db: [f64; 2],
    /// What was measured.
    pub joint_db: f64,
    /// Its 95 % interval.
    pub joint_ci_db: [f64; 2],
    /// Measured over added up.
    pub difference_db: f64,
    /// Its 95 % interval.
    pub difference_ci_db: [f64; 2],
    /// How they stand to each by itself.
    pub balance: Balance,
}
