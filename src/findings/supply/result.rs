//! Supplies checked and what to be careful with, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::cautions::About;

/// Whether a supply may be connected, by the figures told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SupplyVerdict {
    /// It fits.
    Fits,
    /// Something was not measured or told.
    Check,
    /// It must not be connected.
    Stop,
}

/// Figures of a supply against those on a device's label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyCheck {
    /// The device.
    pub device: String,
    /// The remedy it belongs to.
    pub remedy: Option<String>,
    /// "fits", "check" (something was not measured or told) or "stop" (do not connect it).
    pub verdict: SupplyVerdict,
    /// What was found, worst first, as sentences.
    pub findings: Vec<String>,
}

/// What to be careful with before a remedy is tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// The device.
    pub device: String,
    /// supply, current, ferrite, mains, charger.
    pub about: About,
    /// The caution, as sentences.
    pub text: String,
}
