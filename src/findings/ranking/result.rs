//! Many devices in order, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::findings::budget::shares::Balance;
use crate::warning::Trust;

/// The devices of a setting, what adds most first.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Ranking {
    /// Id of the setting.
    pub setting: String,
    /// Of each device.
    pub devices: Vec<RankedDevice>,
    /// Everything on over everything off, noise without lines; null where either was not recorded.
    pub all_on_db: Option<f64>,
    /// Its 95 % interval.
    pub all_on_ci_db: Option<[f64; 2]>,
    /// What the devices' powers add up to, over everything off.
    pub sum_db: Option<f64>,
    /// Its 95 % interval.
    pub sum_ci_db: Option<[f64; 2]>,
    /// Everything on over that sum.
    pub unexplained_db: Option<f64>,
    /// Its 95 % interval.
    pub unexplained_ci_db: Option<[f64; 2]>,
    /// What that comes to.
    pub balance: Option<Balance>,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedDevice {
    /// The device.
    pub device: String,
    /// Noise without lines with it on over everything off.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// The same with the power of its lines and clicks.
    pub total_excess_db: Option<f64>,
    /// Whether it adds anything that shows.
    pub adds: bool,
    /// The smallest excess that would have been called.
    pub detection_limit_db: Option<f64>,
    /// What it was recorded with.
    pub recorded: Recorded,
    /// Id of the comparison by itself; null where it was only recorded as missing among all others.
    pub contrast: Option<String>,
    /// The kind of noise.
    pub character: Character,
    /// How far to rely on it.
    pub trust: Trust,
}

/// With what a device was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Recorded {
    /// By itself, everything else off.
    Alone,
    /// Off, everything else on.
    AllBut,
    /// Both.
    BothWays,
}
