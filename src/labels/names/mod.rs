//! The labels a file name gives away: state, device, remedy, order, frequency, mode, date.
//!
//! The rule users can rely on: `ORDER-DEVICE-on-REMEDY`, with frequency, mode and date anywhere between; words
//! before
//! `on` or `off` are the device, words behind it the remedy. What can't be read safely is not guessed.
//! Not here: the manifest, which always has the last word (`read`).

mod folder;
mod parts;
#[cfg(test)]
mod tests;
mod tokens;
mod vocabulary;

use super::fields::{Fields, Mode, State};
use super::files;
use super::manifest::step_of_khz;
use super::printable::printable;
use parts::Meaning;

pub(crate) use folder::read_all;

/// Longest word with a count in it ("recording000012"). Chosen: longer ones are sentences.
const LONGEST_COUNT: usize = 24;
/// A count stays below this behind a word ("rec000012"). Chosen: recorders count with six digits at most.
const MOST_COUNTED: f64 = 1e6;
/// So does a number by itself. Chosen: longer ones are frequencies or dates.
const MOST_ALONE: f64 = 10_000.0;

/// What a name tells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FromName {
    pub state: Result<State, Unclear>,
    pub fields: Fields,
    /// Whether the device stands behind the state, where a remark may stand as well.
    pub device_behind: bool,
    /// Pieces that look like a label and can't be read safely.
    pub unread: Vec<String>,
}

impl FromName {
    /// Whether a piece of the name can't be read safely, or was read as what a made-up name never holds.
    pub fn is_unclear(&self) -> bool {
        let Fields { band, meter, started, .. } = &self.fields;
        !self.unread.is_empty() || band.is_some() || meter.is_some() || started.is_some()
    }
}

/// Why the state can't be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unclear {
    /// No word for it.
    NoWord,
    /// "off" as well as "on".
    Both,
}

impl Unclear {
    /// The reason in plain words, with names the file could be given.
    pub fn reason(self, file: &str) -> String {
        let stem = files::stem(file);
        let name = file.rsplit('/').next().unwrap_or(file);
        let extension = printable(&name[stem.len().min(name.len())..]);
        let what = match self {
            Unclear::NoWord => "its name does not say whether the device was off or on",
            Unclear::Both => "its name says both off and on",
        };
        let stem = if self == Unclear::Both { "device".into() } else { printable(stem) };
        format!(
            "{what}; rename it, for example to `{stem}-on{extension}` or `{stem}-off{extension}`, or give it a \
             `state` in session.toml"
        )
    }
}

/// Reads a file's name; its folder and extension tell nothing.
pub(super) fn read(file: &str) -> FromName {
    let (tokens, started) = tokens::split(files::stem(file));
    let mut parts = parts::classify(&tokens);
    let order = take_order(&mut parts);
    repeats(&mut parts);
    let (state, at) = state(&parts);
    let fields = Fields { order, started, ..Fields::default() };
    let mut name = FromName { state, fields, device_behind: false, unread: Vec::new() };
    receiver(&parts, &mut name);
    name.fields.dial_step_hz = name.fields.dial_khz.and_then(step_of_khz);
    if let (Ok(state), Some(at)) = (state, at) {
        device_and_remedy(state, &wordy(&parts[..at]), &wordy(&parts[at + 1..]), &mut name);
    }
    name
}

/// The place in the order: a number that leads the name ("03-lamp", "rec03 lamp"), or one with a leading zero right
/// before the state ("lamp 03 on").
fn take_order(parts: &mut Vec<Meaning>) -> Option<f64> {
    if let Some(Meaning::Word(word)) = parts.first() {
        let low = word.to_lowercase();
        if low.len() < LONGEST_COUNT
            && vocabulary::IDLE.contains(&low.trim_end_matches(|c: char| c.is_ascii_digit()))
        {
            let digits = low.trim_start_matches(|c: char| !c.is_ascii_digit());
            if let Some(number) = digits.parse::<f64>().ok().filter(|n| *n < MOST_COUNTED) {
                parts.remove(0);
                return Some(number);
            }
            parts.remove(0);
        }
    }
    if let Some(Meaning::Number(number, ..)) = parts.first()
        && *number < MOST_ALONE
        && !counts_pieces(parts.get(1))
    {
        let number = *number;
        parts.remove(0);
        return Some(number);
    }
    let at = parts.iter().position(|p| matches!(p, Meaning::State(_)))?.checked_sub(1)?;
    match &parts[at] {
        Meaning::Number(number, text, false) if text.starts_with('0') => {
            let number = *number;
            parts.remove(at);
            Some(number)
        }
        _ => None,
    }
}

/// Whether a number before this piece counts pieces: "3 ferrites", "2 turns", "3 x ferrite".
fn counts_pieces(next: Option<&Meaning>) -> bool {
    let Some(Meaning::Word(word)) = next else { return false };
    let low = word.to_lowercase();
    matches!(low.as_str(), "x" | "turn" | "turns" | "pcs" | "pieces")
        || vocabulary::STRONG_REMEDY.contains(&low.as_str())
}

/// Numbers in brackets, right behind the state or at the end behind anything but a word count repetitions.
fn repeats(parts: &mut [Meaning]) {
    for i in 0..parts.len() {
        let Meaning::Number(_, _, bracketed) = parts[i] else { continue };
        let after_label = i > 0 && !parts[i - 1].is_wordy();
        let counting = counts_pieces(parts.get(i + 1));
        let behind_state = i > 0 && matches!(parts[i - 1], Meaning::State(_));
        let last = i + 1 == parts.len();
        if !counting && (bracketed || behind_state || (last && after_label)) {
            parts[i] = Meaning::Repeat;
        }
    }
}

/// The state and where it stands. A terminated receiver hears no device, whatever else the name says.
fn state(parts: &[Meaning]) -> (Result<State, Unclear>, Option<usize>) {
    let find = |wanted: State| parts.iter().position(|p| *p == Meaning::State(wanted));
    match (find(State::Terminated), find(State::Off), find(State::On)) {
        (Some(at), _, _) => (Ok(State::Terminated), Some(at)),
        (None, Some(_), Some(_)) => (Err(Unclear::Both), None),
        (None, Some(at), None) => (Ok(State::Off), Some(at)),
        (None, None, Some(at)) => (Ok(State::On), Some(at)),
        (None, None, None) => match parts.iter().position(|p| matches!(p, Meaning::Quiet(_))) {
            Some(at) => (Ok(State::Off), Some(at)),
            None => (Err(Unclear::NoWord), None),
        },
    }
}

/// What the receiver was set to; two values for one thing are none.
fn receiver(parts: &[Meaning], name: &mut FromName) {
    let mut dials = Vec::new();
    let mut modes = Vec::new();
    let mut widths = Vec::new();
    for part in parts {
        match part {
            Meaning::Dial(khz) => dials.push(*khz),
            Meaning::Mode(mode) => modes.push(*mode),
            Meaning::Bandwidth(hz, said) => widths.push((*hz, *said)),
            Meaning::Band(band) if name.fields.band.is_none() => name.fields.band = Some(band.clone()),
            Meaning::Meter(reading) => name.fields.meter = Some(reading.clone()),
            Meaning::Unread(text) => name.unread.push(text.clone()),
            _ => {}
        }
    }
    name.fields.dial_khz = only(&dials);
    name.fields.mode = only(&modes);
    if dials.len() > 1 && name.fields.dial_khz.is_none() {
        name.unread.extend(dials.iter().map(|khz| format!("{khz} kHz")));
    }
    if modes.len() > 1 && name.fields.mode.is_none() {
        name.unread.extend(modes.iter().map(Mode::to_string));
    }
    // "400Hz" alone may be a tone; with a mode, or named as a bandwidth, it is the filter.
    let safe = |(hz, said): &(f64, bool)| (*said || name.fields.mode.is_some()).then_some(*hz);
    name.fields.bandwidth_hz = widths.first().filter(|_| widths.len() == 1).and_then(safe);
    if name.fields.bandwidth_hz.is_none() {
        name.unread.extend(widths.iter().map(|(hz, _)| format!("{hz} Hz")));
    }
    if name.fields.dial_khz.is_some() {
        name.fields.band = None;
    }
}

/// The value, if all that are given agree.
fn only<T: PartialEq + Copy>(values: &[T]) -> Option<T> {
    values.first().copied().filter(|first| values.iter().all(|v| v == first))
}

/// The words and numbers of a stretch, without those that tell nothing.
fn wordy(parts: &[Meaning]) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for part in parts {
        match part {
            Meaning::Word(word) if !vocabulary::IDLE.contains(&word.to_lowercase().as_str()) => {
                words.push(word.clone())
            }
            Meaning::Number(_, text, _) => words.push(text.clone()),
            Meaning::Quiet(word) => words.push(word.clone()),
            _ => {}
        }
    }
    words
}

/// Shares the words before and behind the state out between device and remedy.
fn device_and_remedy(state: State, before: &[String], behind: &[String], name: &mut FromName) {
    let in_list = |word: &String, list: &[&str]| list.contains(&word.to_lowercase().as_str());
    let everything = state != State::On && before.iter().all(|w| in_list(w, vocabulary::EVERYTHING));
    let before: &[String] = if everything { &[] } else { before };
    if state == State::Terminated {
        name.fields.note = joined(&[before, behind].concat());
        return;
    }
    let (device, mut remedy) = if before.is_empty() {
        // "on-lamp-ferrite": the state leads, the device runs up to the first word of a remedy.
        let (device, remedy) = behind.split_at(remedy_begins(behind, true).unwrap_or(behind.len()));
        if device.iter().all(|w| in_list(w, vocabulary::NO_REMEDY)) {
            (Vec::new(), behind.to_vec())
        } else {
            (device.to_vec(), remedy.to_vec())
        }
    } else {
        let (device, fitted) = before.split_at(remedy_begins(before, false).unwrap_or(before.len()));
        (device.to_vec(), [fitted, behind].concat())
    };
    if remedy.len() > 1 && remedy.first().is_some_and(|w| in_list(w, &["with", "plus", "and", "+", "&"])) {
        remedy.remove(0);
    }
    let denied = remedy.len() > 1
        && in_list(&remedy[0], &["no", "without"])
        && in_list(&remedy[1], vocabulary::STRONG_REMEDY);
    if denied || remedy.iter().all(|w| in_list(w, vocabulary::NO_REMEDY)) {
        remedy.clear();
    }
    name.fields.device = joined(&device);
    name.device_behind = before.is_empty() && name.fields.device.is_some();
    if state == State::Off && name.fields.device.is_none() {
        // With everything off there is no device a remedy could belong to.
        name.fields.note = joined(&remedy);
        return;
    }
    (name.fields.ferrites, name.fields.turns) = pieces(&remedy);
    name.fields.remedy = joined(&remedy);
}

fn joined(words: &[String]) -> Option<String> {
    let text = words.join(" ");
    let text = text.trim_matches(|c| matches!(c, ' ' | '+' | '&'));
    (!text.is_empty()).then(|| text.to_owned())
}

/// Where the words of a remedy begin, its count included; `any`: weaker words count too.
fn remedy_begins(words: &[String], any: bool) -> Option<usize> {
    let is_remedy = |word: &String| {
        let low = word.to_lowercase();
        let plain = low.trim_matches(|c: char| c.is_ascii_digit());
        vocabulary::STRONG_REMEDY.contains(&plain) || (any && vocabulary::REMEDY.contains(&low.as_str()))
    };
    let mut at = words.iter().position(is_remedy)?;
    let is_count = |word: &String| {
        let low = word.to_lowercase();
        low == "x"
            || (low.starts_with(|c: char| c.is_ascii_digit()) && low.trim_end_matches('x').parse::<u32>().is_ok())
    };
    while at > 0 && is_count(&words[at - 1]) {
        at -= 1;
    }
    Some(at)
}

/// Ferrites and turns a remedy counts: "3x ferrite", "3 ferrites", "ferrites3", "2 turns". "ferrite 3" may as well
/// be the third attempt, and counts nothing.
fn pieces(words: &[String]) -> (Option<u32>, Option<u32>) {
    let text = words.join(" ").to_lowercase();
    let split = with_gaps(&text);
    let words: Vec<&str> = split.split(' ').filter(|w| !w.is_empty() && *w != "x").collect();
    let count = |word: Option<&&str>| word.and_then(|w| w.parse::<u32>().ok()).filter(|n| (1..=100).contains(n));
    let before = |names: &[&str]| {
        let at = words.iter().position(|w| names.contains(w))?;
        count(at.checked_sub(1).and_then(|j| words.get(j)))
    };
    let behind = |name: &str| words.iter().position(|w| *w == name).and_then(|at| count(words.get(at + 1)));
    let ferrites = before(&["ferrite", "ferrites"]).or_else(|| behind("ferrites"));
    let times = split.contains("ferrite x ").then(|| behind("ferrite")).flatten();
    (ferrites.or(times), before(&["turn", "turns"]))
}

/// "3x ferrites12" with a space at each change between letters and digits.
fn with_gaps(text: &str) -> String {
    let mut out = String::new();
    let mut before = ' ';
    for c in text.chars() {
        let change =
            before.is_ascii_digit() != c.is_ascii_digit() && before.is_alphanumeric() && c.is_alphanumeric();
        if change {
            out.push(' ');
        }
        out.push(c);
        before = c;
    }
    out
}
