//! The fields of a manifest: what they hold once read, and an example line of each.
//! Not here: reading them (`mod.rs`).

use std::collections::BTreeMap;
use std::ops::Range;

use toml::de::DeValue;

use super::listening::{SUPPLY_FIELDS, TARGET_FIELDS};
use super::receiver_check::CHECK_FIELDS;
use crate::labels::label::{Mode, ReceiverCheckLabel, State};
use crate::labels::listening::ListeningLabels;
use crate::labels::started::Started;

/// All that the manifest says.
#[derive(Debug, Default)]
pub(in crate::labels) struct Manifest {
    pub title: Option<String>,
    pub mains_hz: Option<f64>,
    pub station: Option<String>,
    pub reference_hz: Option<f64>,
    pub bands_khz: Vec<(f64, f64)>,
    pub listening: ListeningLabels,
    pub receiver_check: Option<ReceiverCheckLabel>,
    pub entries: Vec<Entry>,
}

/// What the manifest says of one recording. Words that are given and empty mean "none, and don't guess".
#[derive(Debug, Default)]
pub(in crate::labels) struct Entry {
    pub file: String,
    pub state: Option<State>,
    pub device: Option<String>,
    pub remedy: Option<String>,
    pub order: Option<f64>,
    pub ferrites: Option<u32>,
    pub turns: Option<u32>,
    pub dial_khz: Option<f64>,
    /// One in the last digit of the dial as it is written.
    pub dial_step_hz: Option<f64>,
    pub band: Option<String>,
    pub mode: Option<Mode>,
    pub bandwidth_hz: Option<f64>,
    pub antenna: Option<String>,
    pub gain: Option<String>,
    pub started: Option<Started>,
    pub meter: Option<String>,
    pub dbm: Option<f64>,
    pub channel: Option<String>,
    pub note: Option<String>,
    /// Where each given value stands in the text.
    pub spans: BTreeMap<&'static str, Range<usize>>,
}

/// Fields of the session, each with an example of its line.
pub(super) const SESSION_FIELDS: &[(&str, &str)] = &[
    ("title", "title = \"Aquarium lamp, shed station\""),
    ("mains_hz", "mains_hz = 50"),
    ("station", "station = \"receiver, antenna, earth\""),
    ("reference_hz", "reference_hz = 1000.0"),
    ("bands_khz", "bands_khz = [[7000, 7200], [14000, 14350]]"),
    ("antenna_type", "antenna_type = \"short vertical\""),
    ("antenna_loss_db", "antenna_loss_db = 1.5"),
    ("dbm_tolerance_db", "dbm_tolerance_db = 3.0"),
    ("target", "[target]"),
    ("supply", "[[supply]]"),
    ("receiver_check", "[receiver_check]"),
    ("recording", "[[recording]]"),
];

/// Fields of a recording, each with an example of its line.
pub(super) const RECORDING_FIELDS: &[(&str, &str)] = &[
    ("file", "file = \"03-lamp-on.flac\""),
    ("state", "state = \"on\""),
    ("device", "device = \"aquarium lamp\""),
    ("remedy", "remedy = \"linear supply\""),
    ("order", "order = 2"),
    ("ferrites", "ferrites = 3"),
    ("turns", "turns = 1"),
    ("dial_khz", "dial_khz = 14100.0"),
    ("band", "band = \"20m\""),
    ("mode", "mode = \"USB\""),
    ("bandwidth_hz", "bandwidth_hz = 2400"),
    ("antenna", "antenna = \"end-fed wire\""),
    ("gain", "gain = \"AGC off, RF gain 60\""),
    ("started", "started = 2026-03-14T19:02:00Z"),
    ("meter", "meter = \"S7\""),
    ("dbm", "dbm = -85.0"),
    ("channel", "channel = \"left\""),
    ("note", "note = \"lamp warm\""),
];

/// The example line of a field of either kind.
pub(super) fn example(name: &str) -> Option<&'static str> {
    let all =
        SESSION_FIELDS.iter().chain(RECORDING_FIELDS).chain(TARGET_FIELDS).chain(SUPPLY_FIELDS).chain(CHECK_FIELDS);
    all.into_iter().find(|(field, _)| *field == name).map(|(_, example)| *example)
}

/// What a value is, in plain words.
pub(super) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "words in quotes",
        DeValue::Integer(_) => "a number",
        DeValue::Float(_) => "a number with a decimal point",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
