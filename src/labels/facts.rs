//! A session and its settings as `report.json` has them.

use serde::{Deserialize, Serialize};

use super::{Mode, Setting, printable};

/// What the session is about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionFacts {
    /// Title from the manifest, else the folder's name.
    pub title: String,
    /// The mains frequency the analysis used.
    pub mains_hz: f64,
    /// The user's own words about receiver, antenna, earth.
    pub station: Option<String>,
}

/// What was equal between the recordings that were compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingFacts {
    /// "s1" …
    pub id: String,
    /// Dial frequency.
    pub dial_khz: Option<f64>,
    /// Band as labelled, where only that is known ("40 m").
    pub band: Option<String>,
    /// How the receiver demodulates.
    pub mode: Option<Mode>,
    /// Bandwidth as labelled.
    pub bandwidth_hz: Option<f64>,
    /// Antenna as labelled.
    pub antenna: Option<String>,
    /// Gain as labelled.
    pub gain: Option<String>,
}

impl SettingFacts {
    /// As labelled.
    pub fn of(setting: &Setting) -> Self {
        Self {
            id: setting.id.clone(),
            dial_khz: setting.dial_khz,
            band: setting.band.clone(),
            mode: setting.mode,
            bandwidth_hz: setting.bandwidth_hz,
            antenna: setting.antenna.clone(),
            gain: setting.gain.clone(),
        }
    }
}

/// A file that could not be used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// Its name relative to the session's folder.
    pub file: String,
    /// Why, and what to do.
    pub reason: String,
}

impl LeftOut {
    /// As the session names it.
    pub fn of(file: &str, reason: &str) -> Self {
        Self { file: printable(file), reason: reason.to_owned() }
    }
}
