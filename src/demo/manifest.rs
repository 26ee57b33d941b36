//! The evening's labels as `session.toml`.

use serde::Serialize;
use toml::value::Datetime;

use super::evening::{ENTRIES, Entry, MAINS_HZ};
use crate::labels::State;

#[derive(Serialize)]
struct Manifest {
    title: &'static str,
    mains_hz: u32,
    station: &'static str,
    target: Target,
    recording: Vec<Recording>,
}

/// What the evening aims at.
#[derive(Serialize)]
struct Target {
    excess_db: f64,
    no_carrier: bool,
}

/// Field names are the manifest's contract.
#[derive(Serialize)]
struct Recording {
    file: &'static str,
    state: State,
    #[serde(skip_serializing_if = "Option::is_none")]
    device: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    remedy: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ferrites: Option<u32>,
    dial_khz: f64,
    mode: &'static str,
    bandwidth_hz: u32,
    antenna: &'static str,
    gain: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    started: Option<Datetime>,
    #[serde(skip_serializing_if = "Option::is_none")]
    meter: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<&'static str>,
}

impl From<&Entry> for Recording {
    fn from(entry: &Entry) -> Self {
        Self {
            file: entry.file,
            state: entry.state,
            device: entry.source.device(),
            remedy: entry.remedy.map(|(words, _)| words),
            order: entry.remedy.map(|(_, order)| order),
            ferrites: entry.ferrites,
            dial_khz: 7100.0,
            mode: "USB",
            bandwidth_hz: 2400,
            antenna: "14 m wire to the plum tree",
            gain: "AGC off, RF gain 60, volume at the mark",
            started: format!("2026-03-14T{}Z", entry.clock).parse().ok(),
            meter: entry.meter,
            note: entry.note,
        }
    }
}

/// The text of the manifest.
pub(super) fn text() -> Result<String, toml::ser::Error> {
    let manifest = Manifest {
        title: "Pond evening: what hisses in the shed",
        mains_hz: MAINS_HZ as u32,
        station: "table-top receiver in the garden shed, earth rod by the pond",
        target: Target { excess_db: 1.0, no_carrier: true },
        recording: ENTRIES.iter().map(Recording::from).collect(),
    };
    toml::to_string(&manifest)
}
