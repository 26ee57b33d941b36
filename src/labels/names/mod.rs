//! The labels a file name gives away: state, device, remedy, order, frequency, mode, date.
//!
//! The rule users can rely on: `ORDER-DEVICE-on-REMEDY`, with frequency, mode and date anywhere between; words
//! before `on` or `off` are the device, words behind it the remedy. The usual words of six languages do as well.
//! What can't be read safely is not guessed. Not here: the manifest, which always has the last word (`read`).

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
use parts::{Link, Meaning};
use vocabulary::{Role, Tongues, Word, says};

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
    /// What stands behind a "with" or "without" and the folder must tell.
    pub linked: Option<Linked>,
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

/// What a name's "with" or "without" may be about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Linked {
    /// "with lamp", "without lamp": the only words for the state.
    State,
    /// "on with lamp", "off with lamp".
    Device,
    /// "lamp on with heater".
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
    let mut name =
        FromName { state, fields, device_behind: false, linked: None, leading, lent: None, unread: Vec::new() };
    receiver(&parts, &mut name);
    name.fields.dial_step_hz = name.fields.dial_khz.and_then(step_of_khz);
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

/// A word or number of a name, and whether it is a "with" or "without".
#[derive(Debug, Clone)]
struct Piece {
    text: String,
    link: Option<Link>,
}

impl Piece {
    fn says(&self, role: Role) -> bool {
        says(&self.text, role)
    }

    /// Whether it stands between a device and a remedy.
    fn is_joint(&self) -> bool {
        let joints = ["plus", "and", "+", "&", "und", "et", "y", "e", "en"];
        self.link.is_some() || joints.contains(&vocabulary::fold(&self.text).as_str())
    }

    /// The number that it is, in digits or as a word.
    fn count(&self) -> Option<u32> {
        number(&vocabulary::fold(&self.text))
    }
}

/// A number of pieces, in digits or as a word.
fn number(folded: &str) -> Option<u32> {
    let count = folded.parse().ok().or_else(|| vocabulary::count(folded));
    count.filter(|n| (1..=100).contains(n))
}

/// The words and numbers of a stretch, without those that tell nothing.
fn wordy(parts: &[Meaning]) -> Vec<Piece> {
    let is_wordy = |i: Option<usize>| i.and_then(|i| parts.get(i)).is_some_and(Meaning::is_wordy);
    let piece = |(i, part): (usize, &Meaning)| {
        let text = match part {
            Meaning::Word(word) if says(word, Role::Idle) => return None,
            // "on 2 ferrites on lead"
            Meaning::State(state) if is_wordy(i.checked_sub(1)) && is_wordy(Some(i + 1)) => state.word(),
            Meaning::Word(text) | Meaning::Quiet(text) | Meaning::Number(_, text, _) => text,
            Meaning::Perhaps(_, text) | Meaning::Link(_, text) => text,
            _ => return None,
        };
        let link = if let Meaning::Link(link, _) = part { Some(*link) } else { None };
        Some(Piece { text: text.to_owned(), link })
    };
    parts.iter().enumerate().filter_map(piece).collect()
}

/// Shares the words before and behind the state out between device and remedy.
fn device_and_remedy(state: State, mut before: Vec<Piece>, mut behind: Vec<Piece>, name: &mut FromName) {
    if state != State::On && before.iter().all(|w| w.says(Role::Everything) || w.says(Role::Alone)) {
        before.clear();
    }
    if state == State::Terminated {
        name.fields.note = joined(&[before, behind].concat());
        return;
    }
    match before.first().and_then(|first| first.link) {
        // "with lamp on"
        Some(Link::With) => drop(before.remove(0)),
        // "without lamp on", not "no-name lamp on"
        Some(Link::Without) if state == State::On && !before[0].text.eq_ignore_ascii_case("no") => {
            if !begins_with_remedy(&before[1..], false) {
                name.state = Err(Unclear::Both);
                return;
            }
        }
        _ => {}
    }
    let (device, mut remedy);
    if before.is_empty() {
        // "on-lamp-ferrite", "on with lamp": the state leads, the device runs up to the first word of a remedy.
        if behind.len() > 1 && matches!((behind[0].link, state), (Some(Link::With), _) | (Some(_), State::Off)) {
            behind.remove(0);
            name.linked = Some(Linked::Device);
        }
        let (first, rest) = behind.split_at(remedy_begins(&behind, true).unwrap_or(behind.len()));
        let untouched = first.iter().all(|w| w.says(Role::Untouched));
        (device, remedy) = if untouched { (Vec::new(), behind) } else { (first.to_vec(), rest.to_vec()) };
        name.device_behind = !device.is_empty();
    } else {
        let (named, fitted) = before.split_at(remedy_begins(&before, false).unwrap_or(before.len()));
        let (mut named, mut fitted) = (named.to_vec(), fitted.to_vec());
        // "lamp with ferrite on", "lamp without ferrite on"
        if !fitted.is_empty() && take_joint(&mut named) == Some(Link::Without) {
            fitted.clear();
        }
        // "3 ferrites on lamp"
        let at = if named.is_empty() { remedy_begins(&behind, true).unwrap_or(behind.len()) } else { 0 };
        named.extend_from_slice(&behind[..at]);
        fitted.extend_from_slice(&behind[at..]);
        (device, remedy) = (named, fitted);
    }
    if let [first, _, ..] = remedy.as_slice()
        && first.link != Some(Link::Without)
        && first.is_joint()
    {
        if first.link.is_some() && !device.is_empty() {
            name.linked = Some(Linked::Remedy);
        }
        remedy.remove(0);
    }
    label(state, device, remedy, name);
}

/// Takes what joins a device to a remedy off its end.
fn take_joint(device: &mut Vec<Piece>) -> Option<Link> {
    if device.last().is_some_and(Piece::is_joint) { device.pop()?.link } else { None }
}

/// What a name without a word for the state tells by "with" and "without": "with lamp" is on, "without lamp" off;
/// with a remedy or without one, the device is on.
fn by_link(parts: &[Meaning], name: &mut FromName) {
    let found = parts.iter().enumerate().find_map(|(i, part)| match part {
        Meaning::Link(link, _) => Some((i, *link)),
        _ => None,
    });
    let Some((at, link)) = found else {
        let unsure = |part: &Meaning| if let Meaning::Perhaps(word, _) = part { Some(*word) } else { None };
        if let Some(word) = parts.iter().find_map(unsure) {
            name.state = Err(Unclear::Perhaps(word));
        }
        return;
    };
    let device: Vec<Piece> = wordy(&parts[..at]).into_iter().filter(|w| !w.says(Role::Scene)).collect();
    let behind = wordy(&parts[at + 1..]);
    if behind.is_empty() || behind.iter().any(|w| w.says(Role::Antenna)) {
        return;
    }
    if begins_with_remedy(&behind, !device.is_empty()) {
        let denied = link == Link::Without && begins_with_remedy(&behind, false);
        let remedy = match link {
            Link::With => behind,
            Link::Without if denied => Vec::new(),
            Link::Without => wordy(&parts[at..]),
        };
        name.state = Ok(State::On);
        label(State::On, device, remedy, name);
    } else if device.is_empty() {
        let mut device = behind;
        let mut remedy = remedy_begins(&device, false).map_or_else(Vec::new, |at| device.split_off(at));
        if !remedy.is_empty() && take_joint(&mut device) == Some(Link::Without) {
            remedy.clear();
        }
        let state = if link == Link::With { State::On } else { State::Off };
        name.state = Ok(state);
        name.linked = Some(Linked::State);
        label(state, device, remedy, name);
    } else {
        name.state = Err(Unclear::Linked);
    }
}

/// Writes device and remedy down. A remedy that is denied, or says that nothing was done, is none.
fn label(state: State, mut device: Vec<Piece>, mut remedy: Vec<Piece>, name: &mut FromName) {
    let denied = matches!(remedy.as_slice(), [first, rest @ ..]
        if first.link == Some(Link::Without) && begins_with_remedy(rest, false));
    if denied || remedy.iter().all(|w| w.says(Role::Untouched)) {
        remedy.clear();
    }
    if !device.is_empty() && joined(&remedy).is_some_and(|words| parts::is_amount(&words)) {
        // "lamp on 60W": of the lamp, no remedy.
        device.append(&mut remedy);
    }
    name.fields.device = joined(&device);
    if state == State::Off && name.fields.device.is_none() {
        // With everything off there is no device a remedy could belong to.
        name.fields.note = joined(&remedy);
        return;
    }
    (name.fields.ferrites, name.fields.turns) = pieces(&remedy);
    name.fields.remedy = joined(&remedy);
}

fn joined(pieces: &[Piece]) -> Option<String> {
    let texts: Vec<&str> = pieces.iter().map(|piece| piece.text.as_str()).collect();
    let text = texts.join(" ");
    let text = text.trim_matches(|c| matches!(c, ' ' | '+' | '&'));
    (!text.is_empty()).then(|| text.to_owned())
}

/// Words that may stand between a count and what it counts ("2 snap-on ferrites"), or before a piece.
const BETWEEN: &[&str] = &["x", "snap", "clip", "on", "split", "klapp", "big", "small", "large"];

/// Whether a remedy is what these words begin with; `any`: weaker words count too.
fn begins_with_remedy(words: &[Piece], any: bool) -> bool {
    remedy_begins(words, any) == Some(0) || is_remedy(words, 0, true)
}

/// Where the words of a remedy begin, its count included; `any`: weaker words count too.
fn remedy_begins(words: &[Piece], any: bool) -> Option<usize> {
    let counted = |i: usize| i.checked_sub(1).is_some_and(|j| words[j].count().is_some() || is_times(&words[j]));
    let weak = |w: &Piece| any && (w.link.is_some() || w.says(Role::Changes));
    let mut at = (0..words.len()).find(|&i| is_remedy(words, i, counted(i)) || weak(&words[i]))?;
    let belongs =
        |w: &Piece| w.count().is_some() || is_times(w) || BETWEEN.contains(&vocabulary::fold(&w.text).as_str());
    while at > 0 && belongs(&words[at - 1]) {
        at -= 1;
    }
    Some(at)
}

/// "x", "3x".
fn is_times(word: &Piece) -> bool {
    let low = vocabulary::fold(&word.text);
    low.strip_suffix('x').is_some_and(|digits| digits.chars().all(|c| c.is_ascii_digit()))
}

/// Whether the word at `i` can only be a remedy. Clips and the like are where they are counted: a core router is
/// none, and "3 ring lights" are not either.
fn is_remedy(words: &[Piece], i: usize, is_counted: bool) -> bool {
    let Some(word) = words.get(i) else { return false };
    let low = vocabulary::fold(&word.text);
    let bare = low.trim_start_matches(|c: char| c.is_ascii_digit());
    let is_counted = is_counted || bare.len() < low.len();
    let bare = bare.strip_prefix('x').filter(|b| bare.len() < low.len() || says(b, Role::Ferrites)).unwrap_or(bare);
    let bare = bare.trim_end_matches(|c: char| c.is_ascii_digit());
    let stands_alone = || {
        words.get(i + 1).is_none_or(|next| {
            next.count().is_some() || is_times(next) || matches!(next.text.as_str(), "on" | "ons" | "On" | "Ons")
        })
    };
    says(bare, Role::Ferrites)
        || says(bare, Role::Remedies)
        || (is_counted && (says(bare, Role::Many) || (says(bare, Role::One) && stands_alone())))
}

/// Ferrites and turns a remedy counts: "3x ferrite", "three clips", "ferrites3", "2 turns". "ferrite 3" may as well
/// be the third attempt, and counts nothing.
fn pieces(words: &[Piece]) -> (Option<u32>, Option<u32>) {
    let text = words.iter().map(|w| vocabulary::fold(&w.text)).collect::<Vec<_>>().join(" ");
    let split = with_gaps(&text);
    let is_piece = |w: &str| [Role::Ferrites, Role::Many, Role::One].iter().any(|role| says(w, *role));
    // "2xferrite" is "2 xferrite" by now.
    let bare = |w: &'_ str| w.strip_prefix('x').filter(|rest| is_piece(rest)).map_or(w.to_owned(), str::to_owned);
    let words: Vec<String> = split.split(' ').filter(|w| !w.is_empty()).map(bare).collect();
    let before =
        |at: usize| words[..at].iter().rev().find(|w| !BETWEEN.contains(&w.as_str())).and_then(|w| number(w));
    let behind = |at: usize| {
        let times = words.get(at + 1).is_some_and(|w| w == "x");
        let told = if times { words.get(at + 2) } else { words.get(at + 1).filter(|_| words[at] == "ferrites") };
        told.and_then(|w| number(w))
    };
    let of = |is: &dyn Fn(&str) -> bool| (0..words.len()).filter(|&i| is(&words[i])).collect::<Vec<_>>();
    let ferrites = of(&is_piece).into_iter().find_map(|at| before(at).or_else(|| behind(at)));
    let turns = of(&|w| says(w, Role::Turns)).into_iter().find_map(before);
    (ferrites, turns)
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
