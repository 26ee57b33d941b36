//! What leaves the house: figures rounded to what they are worth, absolute paths cut to the name at their end.
//!
//! One walk over the serialised report, with rules by the names of its fields: a new field is rounded and searched
//! for paths without being named here. Not here: how figures look in text (`words`).

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::labels::escaped_json;
use crate::report::contract::Report;
use crate::text::one_line;

/// Units at the end of a name whose figures are worth a hundredth: levels, frequencies, times.
const HUNDREDTHS: [&str; 5] = ["_db", "_dbm", "_dbfs", "_hz", "_s"];
/// Places after the point of every other figure: shares, confidence, presence, kilohertz, watts.
const USUAL_PLACES: i32 = 3;
/// Names, some with the one they stand in, that fit neither rule.
const PLACES: [(&str, i32); 33] = [
    // Known to a tenth of a millisecond, by which one fence is told from another.
    ("described/pulse_period_s", 4),
    ("described/pulse_period_ci_s", 4),
    ("compared/period_s", 4),
    ("compared/period_ci_s", 4),
    ("compared/known_period_s", 4),
    ("compared/known_period_ci_s", 4),
    ("clicks/period_s", 4),
    ("clicks/period_ci_s", 4),
    ("comb_spacing_ci_hz", 3),
    ("envelope_kurtosis", 2),
    ("envelope_mean_over_median", 2),
    ("spectral_kurtosis", 2),
    ("chi2", 2),
    ("outsiders", 2),
    // Known to a millihertz: from many carriers, or over a long time.
    ("spacing_hz", 3),
    ("spacing_ci_hz", 3),
    ("compared/known_hz", 3),
    ("carrier_means_hz", 3),
    ("silence_means_hz", 3),
    ("drift_hz_per_s", 3),
    // One of thousands of draws.
    ("sources/chance", 4),
    ("switch_log/chance", 4),
    ("habits/chance", 4),
    ("habits/chance_alone", 4),
    ("turns/chance", 4),
    ("turns/chance_alone", 4),
    ("conditions/chance", 4),
    ("conditions/chance_alone", 4),
    // Half to the power of the carriers heard.
    ("finer/chance", 6),
    // Single clicks hold less than a thousandth of the time.
    ("time_share", 5),
    // To a hertz.
    ("freq_mhz", 6),
    // A night's carriers, known to a bin of its spectra.
    ("first_hz", 0),
    ("last_hz", 0),
];
/// What means nothing without each of its figures: left out where one is no finite number.
const WHOLE: [&str; 29] = [
    "clusters",
    "published",
    "lines",
    "added_lines",
    "lost_lines",
    "bands",
    "parts",
    "impulsive",
    "gain_reference",
    "comb",
    "cluster",
    "compared",
    "forecasts",
    "joint",
    "members",
    "other_sideband",
    "missing",
    "predicted",
    "candidates",
    "listen_at",
    "station_noise",
    "off",
    "on",
    "categories",
    "signal_needed",
    "largest_left",
    "minutes",
    "carriers",
    "joins",
];
/// Single figures that what they stand in can't do without.
const NEEDED: [&str; 7] = [
    "budget/share",
    "budget/excess_db",
    "switching_combs/spacing_hz",
    "switching_combs/spacing_ci_hz",
    "switching_combs/offset_hz",
    "switching_combs/residual_hz",
    "choke_fit/chi2",
];
/// Words that may be missing in what is otherwise whole.
const MAY_BE_MISSING: [&str; 2] = ["device", "remedy"];

impl Report {
    /// The figures as all that leaves the house has them, rounded to what they are worth (0.01 dB, 0.01 Hz, 0.01 s,
    /// shares 0.001; never −0), and no absolute path in any text. Texts and pictures round these further: what is
    /// read from the JSON later says the same.
    ///
    /// A figure that is no finite number becomes null; a line or band that has one is left out.
    #[must_use]
    pub fn published(&self) -> Self {
        let mut rest = self.clone();
        // What a night has thousands of one by one: the tree of values takes many times the room of what it is made of.
        let episodes = one_by_one(&mut rest.episodes, ("", "episodes"));
        let lists = rest.night.as_mut().map(|night| {
            let recordings = one_by_one(&mut night.recordings, ("night", "recordings"));
            (recordings, one_by_one(&mut night.minutes, ("night", "minutes")))
        });
        let mut all = Self { episodes, ..published(&rest) };
        if let (Some(night), Some(lists)) = (&mut all.night, lists) {
            (night.recordings, night.minutes) = lists;
        }
        all
    }
}

/// As indented JSON with a line feed at the end.
pub(super) fn text(results: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(results)
        .expect("structs of strings and numbers always serialise: no map with keys that are no strings");
    escaped_json(&text) + "\n"
}

/// What is published of results, by the rules of [`Report::published`].
pub(super) fn published<T: Serialize + DeserializeOwned>(results: &T) -> T {
    in_list(results, ("", "")).expect("what stands in no list is never left out")
}

/// Takes a list and walks what is in it one by one. `list`: what it stands in, and its name.
fn one_by_one<T: Serialize + DeserializeOwned>(all: &mut Vec<T>, list: (&str, &str)) -> Vec<T> {
    std::mem::take(all).into_iter().filter_map(|one| in_list(&one, list)).collect()
}

/// The same of one that stands in a list; `None` where it is left out.
fn in_list<T: Serialize + DeserializeOwned>(one: &T, list: (&str, &str)) -> Option<T> {
    let mut value = serde_json::to_value(one).expect("structs of strings and numbers always serialise");
    walk(&mut value, list.0, list.1, true);
    // Can't fail: what may be no finite number is an `Option` or stands in `WHOLE` or `NEEDED`. The rest are
    // times, sums and shares of them, chances, and labels whose range was checked when they were read.
    let whole = |value| serde_json::from_value(value).expect("what must stand is finite, or left out");
    (!value.is_null()).then(|| whole(value))
}

/// `name` is the field's, `parent` that of what it stands in; what stands in a list has the names of the list.
fn walk(value: &mut Value, parent: &str, name: &str, rounded: bool) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let places = rounded.then(|| places(parent, name));
            *value = number.as_f64().map(|v| round(v, places)).into();
        }
        Value::String(text) if name == "file" => cut_file(text),
        Value::String(text) => cut(text),
        Value::Array(items) => {
            let is_list = name == "outsiders" || items.iter().any(|item| item.is_object() || item.is_array());
            items.iter_mut().for_each(|item| walk(item, parent, name, rounded));
            if is_list {
                items.retain(|item| !item.is_null());
            } else if items.first().is_some_and(Value::is_null)
                // The upper end of this interval may be open.
                || (name != "ratio_ci" && items.iter().any(Value::is_null))
            {
                *value = Value::Null;
            }
        }
        Value::Object(fields) => {
            for (field, value) in fields.iter_mut() {
                // Rounded already, as a file of known noises has it.
                walk(value, name, field, rounded && field != "signature");
                // A confidence that is no number is none at all.
                if field == "confidence" && value.is_null() {
                    *value = 0.0.into();
                }
            }
            if fields.iter().any(|(field, value)| value.is_null() && is_needed(name, field)) {
                *value = Value::Null;
            }
        }
        _ => {}
    }
}

fn is_needed(parent: &str, name: &str) -> bool {
    (WHOLE.contains(&parent) && !MAY_BE_MISSING.contains(&name))
        || NEEDED.iter().any(|needed| is_named(needed, parent, name))
}

/// Whether a rule's name is this one's, alone or with what it stands in.
fn is_named(rule: &str, parent: &str, name: &str) -> bool {
    rule.split_once('/').map_or(rule == name, |named| named == (parent, name))
}

fn places(parent: &str, name: &str) -> i32 {
    let exception = PLACES.iter().find(|(rule, _)| is_named(rule, parent, name)).map(|(_, places)| *places);
    let usual = || if HUNDREDTHS.iter().any(|unit| name.ends_with(unit)) { 2 } else { USUAL_PLACES };
    exception.unwrap_or_else(usual)
}

/// Rounds to `places` decimals, if any are given; −0 becomes 0; what is not finite stays as it is.
fn round(value: f64, places: Option<i32>) -> f64 {
    let Some(places) = places else { return value + 0.0 };
    let scale = 10f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Adding 0 turns −0 into 0 and leaves every other number alone. Values too large to scale keep their own
    // digits.
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

/// A file name that should be relative already.
fn cut_file(file: &mut String) {
    if is_absolute(file) {
        *file = last_name(file).to_owned();
    }
}

/// Cuts each word that is an absolute path to its last name. A path with blanks loses its head, where user and
/// folders of the machine stand, so that what is left tells nothing of them.
fn cut(text: &mut String) {
    if text.split(is_edge).any(is_absolute) {
        let words = one_line(text);
        *text = words
            .split_inclusive(is_edge)
            .map(|piece| {
                let word = piece.trim_end_matches(is_edge);
                if is_absolute(word) {
                    format!("{}{}", last_name(word), &piece[word.len()..])
                } else {
                    piece.to_owned()
                }
            })
            .collect();
    }
}

/// What stands around a path in a message.
fn is_edge(c: char) -> bool {
    c.is_whitespace()
        || matches!(c, '"' | '\'' | '`' | '“' | '”' | '‘' | '’' | '(' | ')' | '[' | ']' | '{' | '}' | '<' | '>')
        || matches!(c, ',' | ';' | '=' | '|')
}

/// `/two/names` or more, `~/…`, `C:\…`, `\\server\…`, `file://…`; a lone `/or` is a word.
fn is_absolute(word: &str) -> bool {
    let drive = |w: &str| {
        let b = w.as_bytes();
        b.len() > 3 && b[0].is_ascii_alphabetic() && b[1] == b':' && (b[2] == b'\\' || b[2] == b'/')
    };
    let rooted = |w: &str| w.starts_with('/') && w[1..].contains('/');
    // What is all slashes names nothing.
    !last_name(word).is_empty()
        && (rooted(word) || drive(word) || ["\\\\", "~/", "file://"].iter().any(|head| word.starts_with(head)))
}

fn last_name(path: &str) -> &str {
    let trimmed = path.trim_end_matches(['/', '\\']);
    trimmed.rsplit(['/', '\\']).next().unwrap_or(trimmed)
}

#[cfg(test)]
mod tests {
    use super::super::sample::{sample_night, sample_report};
    use super::*;

    #[test]
    fn rounding_keeps_what_a_figure_is_worth() {
        assert_eq!(round(14.236_7, Some(2)), 14.24);
        assert!(round(-0.001, Some(2)).is_sign_positive());
        assert_eq!(round(1e300, Some(2)), 1e300);
        assert!(round(f64::NAN, Some(2)).is_nan());
        assert_eq!(round(14.236_7, None), 14.236_7);
    }

    /// Whatever a field is called: each figure of the sample with digits that no measurement is worth.
    #[test]
    fn no_figure_is_published_with_more_digits_than_it_is_worth() {
        fn lengthen(value: &mut Value) {
            match value {
                Value::Number(number) if number.is_f64() => {
                    *value = number.as_f64().map(|v| v * 1.000_123_457).into()
                }
                Value::Array(items) => items.iter_mut().for_each(lengthen),
                Value::Object(fields) => fields.values_mut().for_each(lengthen),
                _ => {}
            }
        }
        let digits = |number: &str| number.split_once('.').map_or(0, |(_, digits)| digits.len());
        for report in [sample_report(), sample_night()] {
            let mut value = serde_json::to_value(report).unwrap();
            lengthen(&mut value);
            let text = super::super::json(&serde_json::from_value(value).unwrap());
            let numbers = text.split([' ', ',', '\n']).filter(|word| word.parse::<f64>().is_ok());
            // The share of the time that clicks hold has most.
            assert_eq!(numbers.filter(|word| digits(word) > 5).collect::<Vec<_>>(), Vec::<&str>::new());
        }
        let mut unknown =
            serde_json::json!({"new": {"thing": 0.123_456, "level_db": [-0.001, 14.236_7], "count": 3}});
        walk(&mut unknown, "", "", true);
        assert_eq!(unknown.to_string(), r#"{"new":{"count":3,"level_db":[0.0,14.24],"thing":0.123}}"#);
    }

    #[test]
    fn what_is_no_number_becomes_null_or_is_left_out() {
        let mut report = sample_report();
        report.contrasts[0].excess_db = Some(f64::NAN);
        report.contrasts[0].excess_ci_db = Some([f64::NEG_INFINITY, 1.0]);
        report.contrasts[0].bands[0].excess_db = f64::INFINITY;
        report.recordings[0].level_db = Some(f64::NEG_INFINITY);
        let bands = report.contrasts[0].bands.len();
        let rounded = report.published();
        assert_eq!(rounded.contrasts[0].excess_db, None);
        assert_eq!(rounded.contrasts[0].excess_ci_db, None);
        assert_eq!(rounded.contrasts[0].bands.len(), bands - 1);
        assert_eq!(rounded.recordings[0].level_db, None);
    }

    /// 10.546 is 10.55 in the JSON, and what is read from there prints as 10.6: so does the report itself.
    #[test]
    fn texts_say_what_is_read_from_the_json() {
        let mut report = sample_report();
        let c = &mut report.contrasts[0];
        (c.excess_db, c.excess_ci_db) = (Some(10.546), Some([10.449, 10.551]));
        for report in [report, sample_night()] {
            let read: Report = serde_json::from_str(&crate::report::json(&report)).unwrap();
            assert_eq!(crate::report::details_markdown(&report), crate::report::details_markdown(&read));
            assert_eq!(crate::report::markdown(&report), crate::report::markdown(&read));
            assert_eq!(crate::report::post(&report), crate::report::post(&read));
        }
    }

    #[test]
    fn paths_are_cut_to_the_name_at_their_end() {
        for (said, published) in [
            (
                "could not read /home/someone/radio/01-off.wav: no such file",
                "could not read 01-off.wav: no such file",
            ),
            (r"C:\Users\Someone\radio\on.wav is empty", "on.wav is empty"),
            ("'/srv/a/b.flac', and/or 50/60 Hz", "'b.flac', and/or 50/60 Hz"),
            (r"[\\attic\radio\on.wav] and file://attic/off.wav|~/off.wav", "[on.wav] and off.wav|off.wav"),
            ("on/off, 5/8 wave, 40m/80m w/ ferrite /p // lamp", "on/off, 5/8 wave, 40m/80m w/ ferrite /p // lamp"),
            ("off /on", "off /on"),
            ("keeps  its\nlines without a path", "keeps  its\nlines without a path"),
        ] {
            let mut text = said.to_owned();
            cut(&mut text);
            assert_eq!(text, published);
        }
    }
}
