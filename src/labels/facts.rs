//! What a session is about and which files it left out, as `report.json` has it.

use serde::{Deserialize, Serialize};

use super::printable;

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
