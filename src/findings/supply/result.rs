//! Supplies checked and what to be careful with, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// Figures of a supply against those on a device's label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyCheck {
    /// The device.
    pub device: String,
    /// The remedy it belongs to.
    pub remedy: Option<String>,
    /// "fits", "check" (something was not measured or told) or "stop" (do not connect it).
    pub verdict: String,
    /// What was found, worst first, as sentences.
    pub findings: Vec<String>,
}

/// What to be careful with before a remedy is tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// The device.
    pub device: String,
    /// supply, current, ferrite, mains, charger.
    pub about: String,
    /// The caution, as sentences.
    pub text: String,
}
