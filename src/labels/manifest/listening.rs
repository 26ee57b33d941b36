//! The manifest's fields for the listener's side: calibration, antenna, target, supplies. Nonsense is refused at
//! its line. Not here: whether a supply fits (`findings::supply`).

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{Reader, Value, kind};
use crate::labels::listening::{Antenna, Current, ListeningLabels, Polarity, SupplyLabel, Target};

/// Fields of `[target]`, each with an example of its line.
pub(super) const TARGET_FIELDS: &[(&str, &str)] = &[
    ("excess_db", "excess_db = 1.0"),
    ("no_carrier", "no_carrier = true"),
    ("carrier_cnr_db_hz", "carrier_cnr_db_hz = 20.0"),
];

/// Fields of `[[supply]]`, each with an example of its line.
pub(super) const SUPPLY_FIELDS: &[(&str, &str)] = &[
    ("device", "device = \"aquarium lamp\""),
    ("remedy", "remedy = \"linear supply\""),
    ("label_volts", "label_volts = 12.0"),
    ("label_amps", "label_amps = 2.0"),
    ("label_current", "label_current = \"DC\""),
    ("label_polarity", "label_polarity = \"centre positive\""),
    ("supply_volts", "supply_volts = 12.1"),
    ("supply_amps", "supply_amps = 3.0"),
    ("supply_current", "supply_current = \"DC\""),
    ("supply_polarity", "supply_polarity = \"centre positive\""),
    ("measured", "measured = true"),
    ("fuse_amps", "fuse_amps = 3.0"),
];

const ANTENNAS: [(&str, Antenna); 3] = [
    ("short vertical", Antenna::ShortVertical),
    ("half-wave dipole", Antenna::HalfWaveDipole),
    ("other", Antenna::Other),
];
const CURRENTS: [(&str, Current); 2] = [("DC", Current::Dc), ("AC", Current::Ac)];
const POLARITIES: [(&str, Polarity); 2] =
    [("centre positive", Polarity::CentrePositive), ("centre negative", Polarity::CentreNegative)];

impl Reader<'_> {
    /// One field of the session that belongs here.
    pub(super) fn listening(
        &mut self,
        labels: &mut ListeningLabels,
        name: &Spanned<std::borrow::Cow<'_, str>>,
        value: &Value<'_>,
    ) {
        match name.get_ref().as_ref() {
            "antenna_type" => {
                let listed = "short vertical, half-wave dipole or other";
                labels.antenna_type = self.one_of("antenna_type", value, &ANTENNAS, listed);
            }
            "antenna_loss_db" => labels.antenna_loss_db = self.number("antenna_loss_db", value, 0.0..=60.0),
            "dbm_tolerance_db" => labels.dbm_tolerance_db = self.number("dbm_tolerance_db", value, 0.1..=30.0),
            "target" => labels.target = self.target(name.span(), value),
            _ => labels.supplies = self.supplies(name.span(), value),
        }
    }

    fn target(&mut self, name: std::ops::Range<usize>, value: &Value<'_>) -> Option<Target> {
        let DeValue::Table(table) = value.get_ref() else {
            let found = format!("`target` is a group of conditions, and this is {}", kind(value.get_ref()));
            self.fault(name, found, "write `[target]`, and below it `excess_db = 1.0` or `no_carrier = true`");
            return None;
        };
        let faults = self.faults.len();
        let mut target = Target::default();
        for (field, value) in table {
            match field.get_ref().as_ref() {
                "excess_db" => target.excess_db = self.number("excess_db", value, 0.1..=60.0),
                "no_carrier" => target.no_carrier = self.truth("no_carrier", value).unwrap_or_default(),
                "carrier_cnr_db_hz" => {
                    target.carrier_cnr_db_hz = self.number("carrier_cnr_db_hz", value, 0.0..=100.0);
                }
                other => self.unknown(other, field.span(), TARGET_FIELDS, &[], "of the target"),
            }
        }
        if self.faults.len() > faults {
            return None;
        }
        if target.no_carrier && target.carrier_cnr_db_hz.is_some() {
            let found = "`no_carrier = true` allows no carrier, so a strength allowed for one contradicts it";
            self.fault(name, found, "leave one of the two");
            return None;
        }
        if target == Target::default() {
            let found = "the target names no condition, so nothing could be met or missed";
            self.fault(name, found, "write below it `excess_db = 1.0`, `no_carrier = true` or both");
            return None;
        }
        Some(target)
    }

    fn supplies(&mut self, name: std::ops::Range<usize>, value: &Value<'_>) -> Vec<SupplyLabel> {
        let DeValue::Array(items) = value.get_ref() else {
            let found = format!("`supply` is {}; there can be many, so it is a list", kind(value.get_ref()));
            self.fault(name, found, "write `[[supply]]`: with two brackets on each side");
            return Vec::new();
        };
        let mut supplies = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::Table(table) => supplies.extend(self.supply(table, item.span())),
                other => {
                    let found = format!("a supply is a group of fields, and this is {}", kind(other));
                    self.fault(item.span(), found, "write `[[supply]]`, and below it `device = \"…\"`");
                }
            }
        }
        supplies
    }

    fn supply(&mut self, table: &DeTable<'_>, span: std::ops::Range<usize>) -> Option<SupplyLabel> {
        // Chosen: far beyond any supply of a small device; what lies outside is a slip of the unit.
        const VOLTS: std::ops::RangeInclusive<f64> = 0.1..=1000.0;
        const AMPS: std::ops::RangeInclusive<f64> = 0.001..=1000.0;
        let mut supply = SupplyLabel::default();
        for (field, value) in table {
            let known = SUPPLY_FIELDS.iter().find(|(known, _)| *known == field.get_ref().as_ref());
            let Some(&(known, _)) = known else {
                self.unknown(field.get_ref(), field.span(), SUPPLY_FIELDS, &[], "of a supply");
                continue;
            };
            let polarity = "centre positive or centre negative";
            match known {
                "device" => supply.device = self.words(known, value).unwrap_or_default(),
                "remedy" => supply.remedy = self.words(known, value).filter(|words| !words.is_empty()),
                "label_volts" => supply.label_volts = self.number(known, value, VOLTS),
                "label_amps" => supply.label_amps = self.number(known, value, AMPS),
                "label_current" => supply.label_current = self.one_of(known, value, &CURRENTS, "DC or AC"),
                "label_polarity" => supply.label_polarity = self.one_of(known, value, &POLARITIES, polarity),
                "supply_volts" => supply.supply_volts = self.number(known, value, VOLTS),
                "supply_amps" => supply.supply_amps = self.number(known, value, AMPS),
                "supply_current" => supply.supply_current = self.one_of(known, value, &CURRENTS, "DC or AC"),
                "supply_polarity" => supply.supply_polarity = self.one_of(known, value, &POLARITIES, polarity),
                "measured" => supply.measured = self.truth(known, value),
                _ => supply.fuse_amps = self.number(known, value, AMPS),
            }
        }
        if supply.device.is_empty() {
            self.fault(span, "this supply names no device", "add `device = \"…\"`: the device it feeds");
            return None;
        }
        Some(supply)
    }

    fn truth(&mut self, name: &str, value: &Value<'_>) -> Option<bool> {
        let truth = value.get_ref().as_bool();
        if truth.is_none() {
            let found = format!("`{name}` is true or false, and this is {}", kind(value.get_ref()));
            self.fault(value.span(), found, format!("write `{name} = true`, without quotes"));
        }
        truth
    }

    fn one_of<T: Copy>(&mut self, name: &str, value: &Value<'_>, known: &[(&str, T)], listed: &str) -> Option<T> {
        let words: Vec<&str> = known.iter().map(|(word, _)| *word).collect();
        let word = self.choice(name, value, &words, listed)?;
        known.iter().find(|(known, _)| known.eq_ignore_ascii_case(&word)).map(|(_, one)| *one)
    }
}
