//! The comparisons of a report by device: what the short report and the details both go through. Not here: words.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::loudest;
use crate::findings::ladder::result::Ladder;
use crate::report::contract::Report;

/// All of one device's comparisons, in the order of the report.
pub(crate) struct Device<'a> {
    pub(crate) name: &'a str,
    pub(crate) contrasts: Vec<&'a ContrastResult>,
    /// Only those with something to compare: two steps or more.
    pub(crate) ladders: Vec<&'a Ladder>,
}

/// The devices in the order in which the comparisons name them first.
pub(crate) fn devices(report: &Report) -> Vec<Device<'_>> {
    let mut devices: Vec<Device> = Vec::new();
    for contrast in &report.contrasts {
        match devices.iter_mut().find(|d| d.name == contrast.device) {
            Some(device) => device.contrasts.push(contrast),
            None => devices.push(Device { name: &contrast.device, contrasts: vec![contrast], ladders: vec![] }),
        }
    }
    for ladder in report.ladders.iter().filter(|l| l.steps.len() > 1) {
        if let Some(device) = devices.iter_mut().find(|d| d.name == ladder.device) {
            device.ladders.push(ladder);
        }
    }
    devices
}

/// The same, the loudest first: by all that a device adds where it adds most, no remedy on; equals as they came.
pub(crate) fn loudest_first(report: &Report) -> Vec<Device<'_>> {
    let mut devices = devices(report);
    let size = |d: &Device| d.loudest().and_then(ContrastResult::total_db).unwrap_or(f64::NEG_INFINITY);
    devices.sort_by(|a, b| size(b).total_cmp(&size(a)));
    devices
}

impl<'a> Device<'a> {
    /// The first comparison of each setting: the device without a remedy, where it was recorded so.
    pub(crate) fn first_steps(&self) -> Vec<&'a ContrastResult> {
        let mut firsts: Vec<&ContrastResult> = Vec::new();
        for &c in &self.contrasts {
            if firsts.iter().all(|first| first.setting != c.setting) {
                firsts.push(c);
            }
        }
        firsts
    }

    /// The one of them that adds most; the first where none could be measured.
    pub(crate) fn loudest(&self) -> Option<&'a ContrastResult> {
        let firsts = self.first_steps();
        loudest(firsts.iter().copied()).or(firsts.first().copied())
    }

    /// Whether all its comparisons say that it adds nothing, and nothing spoils them.
    pub(crate) fn is_quiet(&self) -> bool {
        self.contrasts.iter().all(|c| c.adds_nothing())
    }
}
