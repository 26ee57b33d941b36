//! The labels a file name gives away: state, device, remedy, order, frequency, mode, date.
//!
//! The rule users can rely on: `ORDER-DEVICE-on-REMEDY`, with frequency, mode and date anywhere between; words
//! before `on` or `off` are the device, words behind it the remedy. The usual words of six languages do as well.
//! What can't be read safely is not guessed. Not here: the manifest, which always has the last word (`read`).

mod folder;
mod parts;
mod shared;
#[cfg(test)]
mod tests;
mod tokens;
mod vocabulary;

use super::fields::{Fields, Mode, State};
use super::files;
use super::manifest::step_of_khz;
use super::printable::printable;
use parts::Meaning;
use shared::{BETWEEN, by_exception, by_link, device_and_remedy, is_remedy, is_times, remedy_begins, wordy};
pub(super) use vocabulary::{Role, is_and, says};
use vocabulary::{Tongues, Word};

pub(crate) use folder::{ONLY_DEVICE, read_all, read_each};

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
    /// What stands behind a "with", "without" or "and" and the folder must tell.
    pub linked: Option<Linked>,
    /// What may be the device of an off recording, the likelier first: only if another recording has it on.
    pub aside: Vec<String>,
    /// Number that leads the name, as it stands there: an order, or part of the device's name.
    pub leading: Option<String>,
    /// Where the device is taken from, if it is not in the name.
    pub lent: Option<String>,
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

/// What a name's "with", "without" or "and" may be about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Linked {
    /// "with lamp", "without lamp": the only words for the state.
    State,
    /// "on with lamp", "off with lamp".
    Device,
    /// "lamp on with heater", "lamp on + heater".
    Remedy,
}

/// Why the state can't be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unclear {
    /// No word for it.
    NoWord,
    /// "off" as well as "on".
    Both,
    /// Only a word that is one for it in a language that nothing else in the folder shows.
    Perhaps(&'static Word),
    /// "with" or "without" something that is a device or a remedy.
    Linked,
}

impl Unclear {
    /// The reason in plain words, with names the file could be given.
    pub fn reason(self, file: &str) -> String {
        let stem = files::stem(file);
        let name = file.rsplit('/').next().unwrap_or(file);
        let extension = printable(&name[stem.len().min(name.len())..]);
        let what = match self {
            Unclear::NoWord => "its name does not say whether the device was off or on".into(),
            Unclear::Both => "its name says both off and on".into(),
            Unclear::Perhaps(word) => format!(
                "its name says whether the device was off or on only if `{}` is {}, which nothing else here shows",
                word.text, word.language
            ),
            Unclear::Linked => "its name may be about a device, or about what was done to another one".to_owned(),
        };
        let stem = if self == Unclear::NoWord { printable(stem) } else { "device".into() };
        format!(
            "{what}; rename it, for example to `{stem}-on{extension}` or `{stem}-off{extension}`, or give it a \
             `state` in session.toml"
        )
    }
}

/// Reads a file's name by itself; its folder and extension tell nothing.
pub(super) fn read(file: &str) -> FromName {
    let mut names = read_each([file].into_iter());
    names.remove(0)
}

/// Reads a name in a folder that shows these languages.
fn read_among(stem: &str, tongues: &Tongues) -> FromName {
    let (tokens, started) = tokens::split(stem);
    let mut parts = parts::classify(&tokens, tongues);
    let mut leading = None;
    let by_recorder = tokens.first().is_some_and(|t| says(without_count(&t.low), Role::Idle));
    let order = take_order(&mut parts, &mut leading);
    repeats(&mut parts);
    let (state, at) = state(&parts);
    // "REC0012" counts recordings; they are in no order of remedies.
    let order = order.filter(|_| !(by_recorder && state == Err(Unclear::NoWord)));
    let fields = Fields { order, started, ..Fields::default() };
    let mut name = FromName {
        state,
        fields,
        device_behind: false,
        linked: None,
        aside: Vec::new(),
        leading,
        lent: None,
        unread: Vec::new(),
    };
    receiver(&parts, &mut name);
    name.fields.dial_step_hz = name.fields.dial_khz.and_then(step_of_khz);
    if by_exception(&parts, &mut name) {
        return name;
    }
    match (state, at) {
        (Ok(state), Some(at)) => device_and_remedy(state, wordy(&parts[..at]), wordy(&parts[at + 1..]), &mut name),
        (Err(Unclear::NoWord), _) => by_link(&parts, &mut name),
        _ => {}
    }
    name
}

/// The place in the order: a number that leads the name ("03-lamp", "rec03 lamp"), or one with a leading zero right
/// before the state ("lamp 03 on").
fn take_order(parts: &mut Vec<Meaning>, leading: &mut Option<String>) -> Option<f64> {
    if let Some(Meaning::Word(word)) = parts.first() {
        let low = vocabulary::fold(word);
        if low.len() < LONGEST_COUNT && says(without_count(&low), Role::Idle) {
            let digits = low.trim_start_matches(|c: char| !c.is_ascii_digit());
            if let Some(number) = digits.parse::<f64>().ok().filter(|n| *n < MOST_COUNTED) {
                parts.remove(0);
                return Some(number);
            }
            parts.remove(0);
        }
    }
    if let Some(Meaning::Number(number, text, _)) = parts.first()
        && *number < MOST_ALONE
        && !counts_pieces(&parts[1..])
    {
        let number = *number;
        *leading = Some(text.clone());
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

/// "rec" of "rec000012".
fn without_count(low: &str) -> &str {
    low.trim_end_matches(|c: char| c.is_ascii_digit())
}

/// Whether a number before these parts of a name counts: "3 ferrites", "2 turns", "3 x ferrite", "2 clips".
fn counts_pieces(next: &[Meaning]) -> bool {
    let end = next.iter().position(|part| !part.is_wordy()).unwrap_or(next.len());
    let words = wordy(&next[..end]);
    let Some(first) = words.first() else { return false };
    is_times(first)
        || matches!(vocabulary::fold(&first.text).as_str(), "pcs" | "pieces")
        || first.says(Role::Turns)
        || is_remedy(&words, 0, true)
        || (BETWEEN.contains(&vocabulary::fold(&first.text).as_str()) && remedy_begins(&words, false) == Some(0))
}

/// Numbers in brackets, right behind the state or at the end behind anything but a word count repetitions.
fn repeats(parts: &mut [Meaning]) {
    for i in 0..parts.len() {
        let Meaning::Number(_, _, bracketed) = parts[i] else { continue };
        let after_label = i > 0 && !parts[i - 1].is_wordy();
        let counting = counts_pieces(&parts[i + 1..]);
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
        (None, None, None) => quiet(parts),
    }
}

/// The state of a name without "off", "on" and their like: nothing is on where it says so and no antenna is off.
fn quiet(parts: &[Meaning]) -> (Result<State, Unclear>, Option<usize>) {
    let numbers = |part: &&Meaning| matches!(part, Meaning::Number(..));
    let words = wordy(&parts.iter().filter(|part| !numbers(part)).cloned().collect::<Vec<_>>());
    let at = parts.iter().position(|p| matches!(p, Meaning::Quiet(_)));
    let has_link = words.iter().any(|w| w.link.is_some());
    if at.is_some() && !has_link && !words.iter().any(|w| w.says(Role::Antenna)) {
        return (Ok(State::Off), at);
    }
    let last = parts.len().checked_sub(1);
    match words.as_slice() {
        [word] if vocabulary::fold(&word.text) == "dummy" => (Ok(State::Terminated), last),
        words
            if words.iter().any(|w| w.says(Role::Alone))
                && words
                    .iter()
                    .all(|w| [Role::Alone, Role::Everything, Role::Scene].iter().any(|r| w.says(*r))) =>
        {
            (Ok(State::Off), last)
        }
        _ => (Err(Unclear::NoWord), None),
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
