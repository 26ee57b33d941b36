//! The manifest's text, read field by field, so that each mistake is shown at its line with what to write instead.
//! Not here: whether the files exist (`read`), what their names say (`names`).

mod bands;
mod case;
mod fields;
mod listening;
mod receiver_check;

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::Fault;
use super::fields::{Mode, RECORDING_FIELDS, State};
use super::key;
use super::printable::{is_harmful, printable};
use super::start::Start;
use fields::{SESSION_FIELDS, example, kind};

pub(super) use bands::step_of_khz;
pub(super) use fields::{Entry, Manifest};
pub(crate) use receiver_check::ATTENUATORS_DB;

/// Mistakes gathered at most: a file that is something else altogether would give thousands (chosen).
const MOST_FAULTS: usize = 100;

/// Reads the manifest's text. Every mistake is returned, in the order of the lines.
pub(super) fn parse(text: &str) -> Result<Manifest, Vec<Fault>> {
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(sorted(errors.iter().take(MOST_FAULTS).map(|e| syntax_fault(text, e)).collect()));
    }
    let mut reader = Reader { text, faults: Vec::new() };
    let manifest = reader.session(root.get_ref());
    if reader.faults.is_empty() { Ok(manifest) } else { Err(sorted(reader.faults)) }
}

fn sorted(mut faults: Vec<Fault>) -> Vec<Fault> {
    faults.sort_by_key(|f| (f.line, f.indent));
    faults
}

/// A mistake against TOML itself, with the causes that are common in hand-written manifests.
fn syntax_fault(text: &str, error: &toml::de::Error) -> Fault {
    let span = error.span().unwrap_or(0..0);
    let mut fault = Fault::at(text, span, String::new(), String::new());
    let line = fault.text.trim();
    let message = error.message().lines().next().unwrap_or("not TOML");
    fault.advice = match line.split_once('=') {
        _ if line.starts_with("[recording]") => "write `[[recording]]`: with two brackets on each side".into(),
        _ if message.contains("duplicate") => {
            "leave one of the two; a new recording begins with `[[recording]]`".into()
        }
        Some((name, _)) => match example(name.trim()) {
            Some(example) => format!("write it like this: `{example}`; words stand in quotes, numbers do not"),
            None => "words stand in quotes, numbers do not".into(),
        },
        None => "each line is `name = value`, or `[[recording]]` where a new recording begins".into(),
    };
    fault.found = format!("this is not TOML ({})", printable(message));
    fault
}

/// Walks the tree and gathers mistakes.
struct Reader<'t> {
    text: &'t str,
    faults: Vec<Fault>,
}

type Value<'i> = Spanned<DeValue<'i>>;

impl Reader<'_> {
    fn fault(&mut self, span: Range<usize>, found: impl Into<String>, advice: impl Into<String>) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(Fault::at(self.text, span, found.into(), advice.into()));
        }
    }

    fn session(&mut self, table: &DeTable<'_>) -> Manifest {
        let mut manifest = Manifest::default();
        for (name, value) in table {
            match name.get_ref().as_ref() {
                "title" => manifest.title = self.words("title", value),
                "station" => manifest.station = self.words("station", value),
                "mains_hz" => manifest.mains_hz = self.number("mains_hz", value, 10.0..=500.0),
                "reference_hz" => manifest.reference_hz = self.number("reference_hz", value, 1.0..=100_000.0),
                "bands_khz" => manifest.bands_khz = self.bands(value),
                "antenna_type" | "antenna_loss_db" | "dbm_tolerance_db" | "target" | "supply" => {
                    self.listening(&mut manifest.listening, name, value);
                }
                "receiver_check" => manifest.receiver_check = self.receiver_check(name.span(), value),
                "case" => manifest.case = self.case(name.span(), value),
                "recording" => manifest.entries = self.entries(name.span(), value),
                other => self.unknown(other, name.span(), SESSION_FIELDS, RECORDING_FIELDS, "of the session"),
            }
        }
        self.same_file_twice(&manifest.entries);
        manifest
    }

    fn entries(&mut self, name: Range<usize>, value: &Value<'_>) -> Vec<Entry> {
        let items = match value.get_ref() {
            DeValue::Array(items) => items,
            other => {
                let found = format!("`recording` is {}; there can be many, so it is a list", kind(other));
                self.fault(name, found, "write `[[recording]]`: with two brackets on each side");
                return Vec::new();
            }
        };
        let mut entries = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::Table(table) => entries.push(self.entry(table, item.span())),
                other => {
                    let found = format!("a recording is a group of fields, and this is {}", kind(other));
                    self.fault(item.span(), found, "write `[[recording]]`, and below it `file = \"…\"`");
                }
            }
        }
        entries
    }

    fn entry(&mut self, table: &DeTable<'_>, span: Range<usize>) -> Entry {
        let mut entry = Entry::default();
        for (name, value) in table {
            let field = name.get_ref().as_ref();
            if let Some((known, _)) = RECORDING_FIELDS.iter().find(|(known, _)| *known == field) {
                entry.spans.insert(known, value.span());
                self.field(&mut entry, known, value);
            } else {
                self.unknown(field, name.span(), RECORDING_FIELDS, SESSION_FIELDS, "of a recording");
            }
        }
        if !entry.spans.contains_key("file") {
            self.fault(span, "this recording names no file", "add `file = \"…\"`: the recording's file name");
        }
        entry
    }

    fn field(&mut self, entry: &mut Entry, name: &'static str, value: &Value<'_>) {
        let fields = &mut entry.fields;
        match name {
            "file" => entry.file = self.file(name, value).unwrap_or_default(),
            "state" => entry.state = self.state(value),
            "mode" => fields.mode = self.mode(value),
            "device" => fields.device = self.words(name, value),
            "remedy" => fields.remedy = self.words(name, value),
            "order" => fields.order = self.number(name, value, -1e6..=1e6),
            "ferrites" => fields.ferrites = self.count(name, value, 0..=1000),
            "turns" => fields.turns = self.count(name, value, 1..=1000),
            "dial_khz" => {
                fields.dial_khz = self.number(name, value, 1.0..=1e9);
                fields.dial_step_hz = self.text.get(value.span()).and_then(bands::last_digit_hz);
            }
            "band" => fields.band = self.words(name, value),
            "bandwidth_hz" => fields.bandwidth_hz = self.bandwidth(value),
            "antenna" => fields.antenna = self.words(name, value),
            "gain" => fields.gain = self.words(name, value),
            "started" => fields.started = self.started(value),
            "meter" => fields.meter = self.words(name, value),
            "dbm" => fields.dbm = self.number(name, value, -250.0..=60.0),
            "place" => fields.place = self.words(name, value),
            "bearing_deg" => fields.bearing_deg = self.number(name, value, 0.0..=360.0),
            "distance_m" => fields.distance_m = self.number(name, value, 0.0..=1e6),
            "channel" => fields.channel = self.channel(value),
            _ => fields.note = self.words(name, value),
        }
    }

    fn unknown(
        &mut self,
        name: &str,
        span: Range<usize>,
        here: &[(&'static str, &'static str)],
        elsewhere: &[(&'static str, &'static str)],
        whose: &str,
    ) {
        let found = format!("`{}` is not a field {whose}", printable(name));
        let names: Vec<&str> = here.iter().map(|(n, _)| *n).collect();
        let advice = if let Some((other, _)) = elsewhere.iter().find(|(n, _)| *n == name) {
            if names.contains(&"file") {
                format!("`{other}` belongs to the whole session: move it above the first `[[recording]]`")
            } else {
                format!("`{other}` belongs to a recording: move it below its `[[recording]]`")
            }
        } else if let Some(near) = key::nearest(name, &names) {
            let whole = if near == "recording" { "[[recording]]" } else { near };
            format!("did you mean `{whole}`?")
        } else {
            format!("the fields here are: {}", names.join(", "))
        };
        self.fault(span, found, advice);
    }

    fn wrong_kind(&mut self, name: &str, value: &Value<'_>, wanted: &str) {
        let found = format!("`{name}` is {wanted}, and this is {}", kind(value.get_ref()));
        let advice = match (value.get_ref(), wanted) {
            (DeValue::String(s), "a number") | (DeValue::String(s), "a whole number")
                if s.trim().parse::<f64>().is_ok() =>
            {
                format!("write it without quotes: `{name} = {}`", s.trim())
            }
            (DeValue::Integer(_) | DeValue::Float(_), "words in quotes") => {
                let raw = self.text.get(value.span()).unwrap_or("…");
                format!("write it in quotes: `{name} = \"{}\"`", printable(raw))
            }
            _ => format!("write it like this: `{}`", example(name).unwrap_or(name)),
        };
        self.fault(value.span(), found, advice);
    }

    /// Words on one line; a note, the station or an address may have several lines.
    fn words(&mut self, name: &str, value: &Value<'_>) -> Option<String> {
        let Some(words) = value.get_ref().as_str() else {
            self.wrong_kind(name, value, "words in quotes");
            return None;
        };
        let lines = matches!(name, "note" | "station" | "address");
        let harmful = |c: char| is_harmful(c) && !(lines && matches!(c, '\n' | '\r' | '\t'));
        if words.trim().chars().any(harmful) {
            let found = format!("`{name}` holds a character that can't be shown, or a new line");
            self.fault(value.span(), found, "write plain words on one line");
            return None;
        }
        Some(words.trim().to_owned())
    }

    fn number(&mut self, name: &str, value: &Value<'_>, range: std::ops::RangeInclusive<f64>) -> Option<f64> {
        let number = match value.get_ref() {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
            DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
            _ => {
                self.wrong_kind(name, value, "a number");
                return None;
            }
        };
        let number = number.filter(|n| range.contains(n));
        if number.is_none() {
            let found = format!("`{name}` must lie between {} and {}", range.start(), range.end());
            self.fault(value.span(), found, format!("write it like this: `{}`", example(name).unwrap_or(name)));
        }
        number
    }

    fn count(&mut self, name: &str, value: &Value<'_>, range: std::ops::RangeInclusive<u32>) -> Option<u32> {
        let DeValue::Integer(integer) = value.get_ref() else {
            self.wrong_kind(name, value, "a whole number");
            return None;
        };
        let count = u32::from_str_radix(integer.as_str(), integer.radix()).ok().filter(|n| range.contains(n));
        if count.is_none() {
            let found = format!("`{name}` is a whole number from {} to {}", range.start(), range.end());
            self.fault(value.span(), found, format!("write it like this: `{}`", example(name).unwrap_or(name)));
        }
        count
    }

    /// No receiver filter is narrower than 10 Hz, so a smaller number is one in kHz.
    fn bandwidth(&mut self, value: &Value<'_>) -> Option<f64> {
        let number = self.number("bandwidth_hz", value, 0.0..=1e6)?;
        if number < 10.0 {
            let found = format!("`bandwidth_hz` is in hertz, and {number} Hz is too narrow for a receiver");
            self.fault(
                value.span(),
                found,
                format!("if {number} kHz is meant, write `bandwidth_hz = {}`", number * 1e3),
            );
            return None;
        }
        Some(number)
    }

    /// `name`: the field it stands in.
    fn file(&mut self, name: &str, value: &Value<'_>) -> Option<String> {
        let Some(file) = value.get_ref().as_str() else {
            self.wrong_kind(name, value, "words in quotes");
            return None;
        };
        if file.trim().is_empty() {
            self.fault(value.span(), format!("`{name}` is empty"), "write the recording's file name");
            return None;
        }
        // A report is posted in public and names its files: no path of a machine may come in here.
        if std::path::Path::new(file).is_absolute()
            || file.starts_with(['/', '\\'])
            || file.get(1..3) == Some(":\\")
        {
            let found =
                format!("`{name}` is a path from the root of the disk; it is seen from the manifest's folder");
            self.fault(value.span(), found, "write the file's name alone, or `folder/name`");
            return None;
        }
        Some(file.to_owned())
    }

    fn state(&mut self, value: &Value<'_>) -> Option<State> {
        if let DeValue::Boolean(on) = value.get_ref() {
            let word = if *on { "on" } else { "off" };
            let found = "`state` is a word in quotes, and this is true or false";
            self.fault(value.span(), found, format!("write `state = \"{word}\"`"));
            return None;
        }
        let state = State::ALL.map(State::word);
        self.choice("state", value, &state, "off, on or terminated (antenna replaced by a dummy load)")
            .and_then(|word| State::from_word(&word))
    }

    fn mode(&mut self, value: &Value<'_>) -> Option<Mode> {
        if value.get_ref().as_str().is_some_and(|word| word.trim().eq_ignore_ascii_case("SSB")) {
            let found = "`SSB` is either of two modes, the upper and the lower sideband";
            self.fault(value.span(), found, "write `mode = \"USB\"` or `mode = \"LSB\"`");
            return None;
        }
        let modes = Mode::ALL.map(Mode::word);
        self.choice("mode", value, &modes, "USB, LSB, CW, AM or FM").and_then(|word| Mode::from_word(&word))
    }

    /// One of a few known words, in any case of letters.
    fn choice(&mut self, name: &str, value: &Value<'_>, known: &[&str], listed: &str) -> Option<String> {
        let word = self.words(name, value)?;
        if known.iter().any(|k| k.eq_ignore_ascii_case(&word)) {
            return Some(word);
        }
        let found = format!("`{}` is no {name}: it is {listed}", printable(&word));
        let advice = match key::nearest(&word, known) {
            Some(near) => format!("did you mean `{name} = \"{near}\"`?"),
            None => format!("write it like this: `{}`", example(name).unwrap_or(name)),
        };
        self.fault(value.span(), found, advice);
        None
    }

    fn channel(&mut self, value: &Value<'_>) -> Option<String> {
        if matches!(value.get_ref(), DeValue::Integer(_)) {
            return self.count("channel", value, 1..=64).map(|n| n.to_string());
        }
        let word = self.words("channel", value)?.to_lowercase();
        if word.parse::<u32>().is_ok_and(|n| (1..=64).contains(&n)) {
            return Some(word);
        }
        self.choice("channel", value, &["left", "right", "mean"], "left, right, mean or a number from 1")
            .map(|word| word.to_lowercase())
    }

    fn started(&mut self, value: &Value<'_>) -> Option<Start> {
        let Some(date) = value.get_ref().as_datetime() else {
            let found =
                format!("`started` is a date and time without quotes, and this is {}", kind(value.get_ref()));
            self.fault(value.span(), found, "write it like this: `started = 2026-03-14T19:02:00Z`");
            return None;
        };
        match Start::from_toml(date) {
            Ok(started) => Some(started),
            Err(what) => {
                let found = format!("`started` is {what}");
                self.fault(value.span(), found, "write it like this: `started = 2026-03-14T19:02:00Z`");
                None
            }
        }
    }

    fn same_file_twice(&mut self, entries: &[Entry]) {
        let mut seen: BTreeMap<String, usize> = BTreeMap::new();
        for entry in entries.iter().filter(|e| !e.file.is_empty()) {
            let Some(span) = entry.spans.get("file") else { continue };
            let parts: Vec<&str> = entry.file.split('/').filter(|p| !p.is_empty() && *p != ".").collect();
            match seen.get(&parts.join("/")) {
                Some(&first) => {
                    let first = self.text.get(..first).map_or(0, |before| before.matches('\n').count()) + 1;
                    let found = format!("`{}` is named twice: first in line {first}", printable(&entry.file));
                    self.fault(span.clone(), found, "leave one of the two, or correct the file name");
                }
                None => {
                    seen.insert(parts.join("/"), span.start);
                }
            }
        }
    }
}
