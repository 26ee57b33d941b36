//! The words of a name shared out between device and remedy; "with" and "without"; what a remedy counts.
//! Not here: what each piece is (`parts`), what other names of the folder settle (`folder`).

use super::parts::{self, Link, Meaning};
use super::vocabulary::{self, Role, says};
use super::{FromName, Linked, Unclear};
use crate::labels::fields::State;

/// A word or number of a name, and whether it is a "with" or "without".
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub text: String,
    pub link: Option<Link>,
}

impl Piece {
    pub(super) fn says(&self, role: Role) -> bool {
        says(&self.text, role)
    }

    /// Whether it stands between a device and a remedy.
    fn is_joint(&self) -> bool {
        self.link.is_some() || vocabulary::is_and(&self.text)
    }

    /// Whether it tells which take it is.
    fn is_order(&self) -> bool {
        vocabulary::is_order(&vocabulary::fold(&self.text))
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
pub(super) fn wordy(parts: &[Meaning]) -> Vec<Piece> {
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
pub(super) fn device_and_remedy(state: State, mut before: Vec<Piece>, mut behind: Vec<Piece>, name: &mut FromName) {
    if !before.is_empty() && behind.iter().all(Piece::is_order) {
        behind.clear();
    }
    if state != State::On && before.iter().all(|w| w.says(Role::Everything) || w.says(Role::Alone)) {
        before.clear();
    }
    if state == State::Off {
        set_aside(&mut before, name);
    }
    if state == State::Terminated {
        name.fields.note = joined(&[before, behind].concat());
        return;
    }
    match before.first().and_then(|first| first.link) {
        // "with lamp on"
        Some(Link::With) => drop(before.remove(0)),
        // "without lamp on", not "no-name lamp on"
        Some(Link::Without)
            if state == State::On
                && !before[0].text.eq_ignore_ascii_case("no")
                && !begins_with_remedy(&before[1..], false) =>
        {
            name.state = Err(Unclear::Both);
            return;
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
        if !device.is_empty() {
            name.linked = Some(Linked::Remedy);
        }
        remedy.remove(0);
    }
    label(state, device, remedy, name);
}

/// Takes away what stands before "off" and is a device only if another recording has it on: "second" tells which
/// take it is, and with "kitchen all" everything is off, not only a device called so.
fn set_aside(before: &mut Vec<Piece>, name: &mut FromName) {
    let of_all = |w: &Piece| w.says(Role::All) || w.says(Role::Everything);
    let (rest, all) = before.split_at(before.iter().rposition(|w| !of_all(w)).map_or(0, |at| at + 1));
    let is_all = all.iter().any(|w| w.says(Role::All));
    if is_all || before.iter().all(Piece::is_order) {
        name.aside = [joined(before), joined(rest)].into_iter().flatten().collect();
        before.clear();
    }
}

/// Takes what joins a device to a remedy off its end.
fn take_joint(device: &mut Vec<Piece>) -> Option<Link> {
    if device.last().is_some_and(Piece::is_joint) { device.pop()?.link } else { None }
}

/// What a name without a word for the state tells by "with" and "without": "with lamp" is on, "without lamp" off;
/// with a remedy or without one, the device is on.
pub(super) fn by_link(parts: &[Meaning], name: &mut FromName) {
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

/// A name that is about all but one: "all but lamp" has everything on but the lamp, "all off but lamp" the lamp
/// alone. Whether it is such a name.
pub(super) fn by_exception(parts: &[Meaning], name: &mut FromName) -> bool {
    let stateless: Vec<Meaning> = parts.iter().filter(|p| !matches!(p, Meaning::State(_))).cloned().collect();
    let words = wordy(&stateless);
    let Some(at) = words.iter().position(|w| !(w.says(Role::All) || w.says(Role::Everything))) else {
        return false;
    };
    // "All without lamp" may as well be "all off without antenna".
    let is_without = words[at].link == Some(Link::Without) && name.state == Err(Unclear::NoWord);
    let excepts = words[at].says(Role::But) || is_without;
    let behind = &words[at + 1..];
    let is_one = excepts && words[..at].iter().any(|w| w.says(Role::All)) && !behind.is_empty();
    if !is_one || is_without && behind.iter().any(|w| w.says(Role::Antenna)) {
        return false;
    }
    name.fields.device = match name.state {
        Ok(State::Off) => joined(behind),
        Ok(State::On) | Err(Unclear::NoWord) => joined(&words),
        _ => return false,
    };
    name.state = Ok(State::On);
    true
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
pub(super) const BETWEEN: &[&str] = &["x", "snap", "clip", "on", "split", "klapp", "big", "small", "large"];

/// Whether a remedy is what these words begin with; `any`: weaker words count too.
fn begins_with_remedy(words: &[Piece], any: bool) -> bool {
    remedy_begins(words, any) == Some(0) || is_remedy(words, 0, true)
}

/// Where the words of a remedy begin, its count included; `any`: weaker words count too.
pub(super) fn remedy_begins(words: &[Piece], any: bool) -> Option<usize> {
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
pub(super) fn is_times(word: &Piece) -> bool {
    let low = vocabulary::fold(&word.text);
    low.strip_suffix('x').is_some_and(|digits| digits.chars().all(|c| c.is_ascii_digit()))
}

/// Whether the word at `i` can only be a remedy. Clips and the like are where they are counted: a core router is
/// none, and "3 ring lights" are not either.
pub(super) fn is_remedy(words: &[Piece], i: usize, is_counted: bool) -> bool {
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
