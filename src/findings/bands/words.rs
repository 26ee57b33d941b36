//! A device over the dial in words: what its figure and its title tell. The verdict is that of the device
//! (`report::brief::device`).

use crate::findings::bands::result::{BandPoint, DeviceBands};
use crate::text::number;

impl BandPoint {
    /// What it adds: lines and clicks too where that is what the noise consists of.
    pub(super) fn value_db(&self) -> Option<f64> {
        if self.character.is_lines() { self.total_excess_db } else { self.excess_db }
    }
}

impl DeviceBands {
    /// The first point of a setting: without a remedy, where it was recorded so.
    pub(super) fn first(&self, setting: &str) -> Option<&BandPoint> {
        let here = || self.points.iter().filter(|point| point.setting == setting);
        here().find(|point| point.remedy.is_none()).or_else(|| here().next())
    }
}

/// "7.1": a dial in MHz, as fine as kilohertz need.
pub(super) fn mhz(khz: f64) -> String {
    number(khz / 1000.0, 3).trim_end_matches('0').trim_end_matches('.').to_owned()
}
