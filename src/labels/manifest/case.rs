//! The manifest's table `[case]`: what recordings can't tell of a case, for the command `handout` alone.

use std::ops::Range;

use toml::de::DeValue;

use super::{Reader, Value, kind};
use crate::labels::case::Case;

/// Fields of `[case]`, each with an example of its line.
pub(super) const CASE_FIELDS: &[(&str, &str)] = &[
    ("name", "name = \"your name\""),
    ("contact", "contact = \"telephone or mail\""),
    ("address", "address = \"where the antenna stands\""),
    ("since", "since = \"October 2025\""),
    ("times", "times = \"every evening from dusk to about 23 h\""),
    ("direction", "direction = \"strongest from the west\""),
    ("own_house_ruled_out", "own_house_ruled_out = \"main switch off, receiver on a battery: the noise stayed\""),
    ("services_hit", "services_hit = \"medium-wave broadcast\""),
    ("note", "note = \"anything else\""),
];

impl Reader<'_> {
    pub(super) fn case(&mut self, name: Range<usize>, value: &Value<'_>) -> Option<Case> {
        let DeValue::Table(table) = value.get_ref() else {
            let found = format!("`case` is a group of fields, and this is {}", kind(value.get_ref()));
            self.fault(name, found, "write `[case]`, and below it `since = \"…\"`");
            return None;
        };
        let mut case = Case::default();
        for (field, value) in table {
            let known = CASE_FIELDS.iter().find(|(known, _)| *known == field.get_ref().as_ref());
            let Some(&(known, _)) = known else {
                self.unknown(field.get_ref(), field.span(), CASE_FIELDS, &[], "of the case");
                continue;
            };
            let words = self.words(known, value).filter(|words| !words.is_empty());
            match known {
                "name" => case.name = words,
                "contact" => case.contact = words,
                "address" => case.address = words,
                "since" => case.since = words,
                "times" => case.times = words,
                "direction" => case.direction = words,
                "own_house_ruled_out" => case.own_house_ruled_out = words,
                "services_hit" => case.services_hit = words,
                _ => case.note = words,
            }
        }
        Some(case)
    }
}
