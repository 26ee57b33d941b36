//! The manifest's `[receiver_check]`: recordings with a known attenuator ahead of the receiver, out and in. They
//! stand in no list of recordings, so nothing compares them as states of a device. Not here: what follows from them
//! (`findings::receiver_check`).

use std::ops::Range;

use toml::de::DeValue;

use super::{Reader, Value, kind};
use crate::labels::label::ReceiverCheckLabel;

/// Its fields, each with an example of its line.
pub(super) const CHECK_FIELDS: &[(&str, &str)] = &[
    ("attenuator_db", "attenuator_db = 10.0"),
    ("attenuator_out", "attenuator_out = [\"check-out.wav\"]"),
    ("attenuator_in", "attenuator_in = [\"check-in.wav\"]"),
];
/// Attenuators that tell something: below, the step drowns in what the attenuator is off; above, in the receiver's
/// noise (chosen).
pub const ATTENUATORS_DB: std::ops::RangeInclusive<f64> = 3.0..=40.0;
/// Chosen: more recordings than anyone makes of it.
const MOST_FILES: usize = 40;

impl Reader<'_> {
    pub(super) fn receiver_check(&mut self, name: Range<usize>, value: &Value<'_>) -> Option<ReceiverCheckLabel> {
        let DeValue::Table(table) = value.get_ref() else {
            let found = format!("`receiver_check` is a group of fields, and this is {}", kind(value.get_ref()));
            self.fault(name, found, "write `[receiver_check]`, and below it `attenuator_db = 10.0`");
            return None;
        };
        let faults = self.faults.len();
        let mut check = ReceiverCheckLabel::default();
        let mut attenuator_db = None;
        for (field, value) in table {
            match field.get_ref().as_ref() {
                "attenuator_db" => attenuator_db = self.number("attenuator_db", value, ATTENUATORS_DB),
                "attenuator_out" => check.out = self.files("attenuator_out", value),
                "attenuator_in" => check.inserted = self.files("attenuator_in", value),
                other => self.unknown(other, field.span(), CHECK_FIELDS, &[], "of the receiver check"),
            }
        }
        if self.faults.len() > faults {
            return None;
        }
        if attenuator_db.is_none() || check.out.is_empty() || check.inserted.is_empty() {
            let found = "the receiver check lacks its attenuator, or recordings with it out or in";
            let fields: Vec<&str> = CHECK_FIELDS.iter().map(|(_, example)| *example).collect();
            self.fault(name, found, format!("write below it `{}`", fields.join("`, `")));
        }
        Some(ReceiverCheckLabel { attenuator_db: attenuator_db?, ..check })
    }

    fn files(&mut self, name: &str, value: &Value<'_>) -> Vec<String> {
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_kind(name, value, "a list of file names");
            return Vec::new();
        };
        if items.len() > MOST_FILES {
            self.fault(value.span(), format!("more than {MOST_FILES} files"), "leave the best ones");
            return Vec::new();
        }
        items.iter().filter_map(|item| self.file(name, item)).collect()
    }
}
