//! The fields of a manifest: what they hold once read, and an example line of each.
//! Not here: reading them (`mod.rs`).

use std::collections::BTreeMap;
use std::ops::Range;

use toml::de::DeValue;

use super::case::CASE_FIELDS;
use super::listening::{SUPPLY_FIELDS, TARGET_FIELDS};
use super::receiver_check::CHECK_FIELDS;
use crate::labels::case::Case;
use crate::labels::fields::{Fields, RECORDING_FIELDS, State};
use crate::labels::label::ReceiverCheckLabel;
use crate::labels::listening::ListeningLabels;

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
    /// Personal: read by the command `handout` alone.
    pub case: Option<Case>,
    pub entries: Vec<Entry>,
}

/// What the manifest says of one recording.
#[derive(Debug, Default)]
pub(in crate::labels) struct Entry {
    pub file: String,
    pub state: Option<State>,
    pub fields: Fields,
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
    ("case", "[case]"),
    ("recording", "[[recording]]"),
];

/// The example line of a field of either kind.
pub(super) fn example(name: &str) -> Option<&'static str> {
    let all = SESSION_FIELDS
        .iter()
        .chain(RECORDING_FIELDS)
        .chain(TARGET_FIELDS)
        .chain(SUPPLY_FIELDS)
        .chain(CHECK_FIELDS)
        .chain(CASE_FIELDS);
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
