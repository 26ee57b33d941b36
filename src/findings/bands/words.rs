//! A device over the dial in words: for the title of its figure and the post.

use crate::contrast::comparisons::setting_name;
use crate::findings::bands::result::{BandPoint, DeviceBands};
use crate::labels::Setting;
use crate::text::{label, number, signed};

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

/// For the post: "lamp: worst at 7.1 MHz, best at 14.1 MHz".
pub(crate) fn digest(bands: &[DeviceBands], settings: &[Setting]) -> Vec<String> {
    let of = |one: &DeviceBands| {
        let (worst, best) = (one.worst.as_deref()?, one.best.as_deref()?);
        let at = |setting: &str| {
            let value = one.first(setting).and_then(BandPoint::value_db).map(|v| format!(" ({} dB)", signed(v, 1)));
            format!("{}{}", setting_name(settings, setting), value.unwrap_or_default())
        };
        Some(format!("{}: worst at {}, best at {}", label(&one.device), at(worst), at(best)))
    };
    bands.iter().filter_map(of).collect()
}

/// "7.1": a dial in MHz, as fine as kilohertz need.
pub(super) fn mhz(khz: f64) -> String {
    number(khz / 1000.0, 3).trim_end_matches('0').trim_end_matches('.').to_owned()
}
