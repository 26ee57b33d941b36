//! Which device of one report is that of another: equal words, in settings that are equal but for the gain.

use std::collections::BTreeMap;

use crate::contrast::comparison::ContrastResult;
use crate::labels::{Setting, compared_by};
use crate::report::contract::Report;
use crate::text::and;

/// A setting of one report.
#[derive(Debug, Clone, Copy)]
pub(super) struct At<'a> {
    /// Number of the report, from 1.
    pub(super) report: usize,
    pub(super) setting: &'a Setting,
}

/// What must be equal between settings of different evenings; an excess does not hang on the gain.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Key {
    parts: [Option<String>; 5],
    /// In words.
    pub(super) words: String,
}

/// What each part is called.
const PARTS: [&str; 5] = ["dial", "band", "mode", "bandwidth", "antenna"];

/// A setting of which no label tells anything.
pub(super) const UNLABELLED: &str = "setting without labels";

impl Key {
    pub(super) fn of(setting: &Setting) -> Self {
        // To a tenth of a hertz: finer no dial is.
        let dial = setting.dial_khz.map(|khz| format!("{:.4} kHz", khz));
        let parts = [
            dial,
            setting.band.as_deref().filter(|_| setting.dial_khz.is_none()).map(compared_by),
            setting.mode.map(|mode| mode.to_string()),
            setting.bandwidth_hz.map(|hz| format!("{hz:.1} Hz")),
            setting.antenna.as_deref().map(compared_by),
        ];
        let ungained = Setting { gain: None, ..setting.clone() };
        Self { parts, words: ungained.facts().unwrap_or_else(|| UNLABELLED.into()) }
    }

    fn is_same(&self, other: &Self) -> bool {
        self.parts == other.parts
    }

    /// What keeps two settings apart: "dial and antenna".
    fn apart(&self, other: &Self) -> Vec<String> {
        let differ = |at: &usize| self.parts[*at] != other.parts[*at];
        (0..PARTS.len()).filter(differ).map(|at| PARTS[at].to_owned()).collect()
    }

    /// What no label tells: taken as equal, which is worth a word.
    pub(super) fn untold(&self) -> Vec<String> {
        let is_untold =
            |at: &usize| self.parts[*at].is_none() && *at != 1 && !(*at == 0 && self.parts[1].is_some());
        (0..PARTS.len()).filter(is_untold).map(|at| PARTS[at].to_owned()).collect()
    }
}

/// One comparison of one report.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry<'a> {
    pub(super) at: At<'a>,
    pub(super) contrast: &'a ContrastResult,
}

impl<'a> Entry<'a> {
    fn gain(&self) -> Option<String> {
        self.at.setting.gain.as_deref().map(compared_by)
    }

    fn remedy(&self) -> String {
        self.contrast.remedy.as_deref().map(compared_by).unwrap_or_default()
    }
}

/// A device at one setting, in all reports that have it.
pub(super) struct Group<'a> {
    pub(super) key: Key,
    device: String,
    /// In the order of the reports, and within one in its own.
    pub(super) entries: Vec<Entry<'a>>,
}

impl<'a> Group<'a> {
    pub(super) fn device(&self) -> &'a str {
        &self.entries[0].contrast.device
    }

    /// The numbers of the reports that have it.
    pub(super) fn reports(&self) -> Vec<usize> {
        let mut found: Vec<usize> = self.entries.iter().map(|entry| entry.at.report).collect();
        found.dedup();
        found
    }

    /// Evenings to be held against each other, a series each: the same remedy; where no remedy is on two evenings,
    /// each evening's last step.
    pub(super) fn series(&self) -> Vec<Vec<Entry<'a>>> {
        let mut remedies: Vec<String> = Vec::new();
        for entry in &self.entries {
            let remedy = entry.remedy();
            if !remedies.contains(&remedy) {
                remedies.push(remedy);
            }
        }
        let alike = |remedy: &String| self.evenings(|entry| entry.remedy() == *remedy);
        let found: Vec<Vec<Entry<'a>>> = remedies.iter().map(alike).filter(|series| series.len() > 1).collect();
        match found.is_empty() {
            true => {
                let last = |number: usize| self.entries.iter().rev().find(|e| e.at.report == number).copied();
                vec![self.reports().into_iter().filter_map(last).collect()]
            }
            false => found,
        }
    }

    /// One entry an evening: of several that differ in gain alone, one with a gain that other evenings have as well.
    fn evenings(&self, is_meant: impl Fn(&Entry<'a>) -> bool) -> Vec<Entry<'a>> {
        let meant: Vec<Entry<'a>> = self.entries.iter().copied().filter(is_meant).collect();
        let mut by_report: BTreeMap<usize, Vec<Entry<'a>>> = BTreeMap::new();
        meant.iter().for_each(|entry| by_report.entry(entry.at.report).or_default().push(*entry));
        let shared = |entry: &Entry<'a>| {
            meant.iter().any(|other| other.at.report != entry.at.report && other.gain() == entry.gain())
        };
        by_report
            .into_values()
            .filter_map(|here| here.iter().copied().find(shared).or(here.first().copied()))
            .collect()
    }
}

/// Every device at every setting.
pub(super) fn groups<'a>(reports: &[&'a Report]) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'a>> = Vec::new();
    for (at, report) in reports.iter().enumerate() {
        for contrast in &report.contrasts {
            let Some(setting) = report.settings.iter().find(|s| s.id == contrast.setting) else { continue };
            let (key, device) = (Key::of(setting), compared_by(&contrast.device));
            let entry = Entry { at: At { report: at + 1, setting }, contrast };
            match groups.iter_mut().find(|group| group.key.is_same(&key) && group.device == device) {
                Some(group) => group.entries.push(entry),
                None => groups.push(Group { key, device, entries: vec![entry] }),
            }
        }
    }
    groups
}

/// Why a group of one report has no partner in another that has the device: what keeps the nearest setting apart,
/// and the report that has it.
pub(super) fn apart(group: &Group<'_>, all: &[Group<'_>]) -> Option<(usize, String)> {
    let here = group.reports();
    let others = all
        .iter()
        .filter(|other| other.device == group.device && !other.key.is_same(&group.key) && other.reports() != here);
    let (apart, other) =
        others.map(|other| (group.key.apart(&other.key), other)).min_by_key(|(apart, _)| apart.len())?;
    let number = other.reports().into_iter().find(|number| !here.contains(number))?;
    let differ = if apart.len() == 1 { "differs" } else { "differ" };
    Some((number, format!("{} {differ}: {} against {}", and(&apart), group.key.words, other.key.words)))
}
