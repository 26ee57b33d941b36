//! The names of one folder read together: what one name leaves open, the others may settle.

use std::collections::{BTreeMap, BTreeSet};

use super::vocabulary::{Role, Tongues, says};
use super::{FromName, Linked, Unclear, read_among, tokens};
use crate::labels::fields::State;
use crate::labels::files;
use crate::labels::key;
use crate::labels::printable::printable;
use crate::labels::together::join;

/// Where a device comes from that no name but one tells.
pub(crate) const ONLY_DEVICE: &str = "the only device in this session";

/// Reads the names of all recordings of a session, in their order.
pub(crate) fn read_all<'a>(files: impl Iterator<Item = &'a str>) -> Vec<FromName> {
    let files: Vec<&str> = files.collect();
    let mut names = read_each(files.iter().copied());
    links(&mut names);
    leading(&mut names);
    counted(&mut names);
    join(names.iter_mut().filter(|n| n.state.is_ok()).filter_map(|n| n.fields.device.as_mut()));
    remarks(&mut names);
    lend(&mut names, &files);
    names
}

/// Reads each name for itself; together they only tell which languages they are in.
pub(crate) fn read_each<'a>(files: impl Iterator<Item = &'a str>) -> Vec<FromName> {
    let stems: Vec<&str> = files.map(files::stem).collect();
    let words = |stem: &&str| tokens::split(stem).0.into_iter().map(|token| token.low).collect();
    let words: Vec<Vec<String>> = stems.iter().map(words).collect();
    let tongues = Tongues::of(words.iter().map(Vec::as_slice));
    stems.into_iter().map(|stem| read_among(stem, &tongues)).collect()
}

/// What a device is compared by.
fn device(name: &FromName) -> Option<String> {
    name.fields.device.as_deref().map(key::words)
}

/// "with dimmer" among recordings of a lamp may be a remedy of the lamp or another device: only if the folder has
/// the device otherwise, or no other, is it one.
fn links(names: &mut [FromName]) {
    let having = |names: &[FromName], is: &dyn Fn(&FromName) -> bool| -> BTreeSet<String> {
        names.iter().filter(|n| is(n)).filter_map(device).collect()
    };
    let plain = having(names, &|n| n.state.is_ok() && !matches!(n.linked, Some(Linked::State | Linked::Device)));
    let is_other = |same: &String| !plain.is_empty() && !plain.contains(same);
    let on = having(names, &|n| {
        n.state == Ok(State::On) && !(n.linked == Some(Linked::State) && device(n).is_some_and(|d| is_other(&d)))
    });
    let bare = |n: &FromName| n.fields.device.is_none() && n.fields.remedy.is_none();
    let unnamed = names.iter().any(|n| n.state == Ok(State::On) && bare(n));
    for name in names.iter_mut() {
        let (Some(linked), Some(same)) = (name.linked, device(name)) else { continue };
        let other = is_other(&same);
        match (linked, name.state) {
            (Linked::State, Ok(State::On)) if other => name.state = Err(Unclear::Linked),
            (Linked::State, Ok(State::Off)) if !on.contains(&same) => {
                if name.fields.device.as_deref().is_some_and(|d| says(d, Role::Everything)) {
                    name.fields.device = None;
                } else if other || !unnamed {
                    name.state = Err(Unclear::Linked);
                }
            }
            (Linked::Device, Ok(State::On)) if other => {
                let words = [name.fields.device.take(), name.fields.remedy.take()];
                name.fields.remedy = Some(words.into_iter().flatten().collect::<Vec<_>>().join(" "));
            }
            (Linked::Remedy, Ok(State::On)) => {
                let remedy = name.fields.remedy.clone().unwrap_or_default();
                if on.contains(&key::words(&remedy)) && key::words(&remedy) != same {
                    name.fields.device = name.fields.device.take().map(|device| format!("{device} + {remedy}"));
                    name.fields.remedy = None;
                }
            }
            _ => {}
        }
    }
}

/// "4-port-hub-on" beside "off": a number that leads names of one device, and is the same in all, belongs to it.
/// The first of an order is 0 or 1, and its numbers may be padded.
fn leading(names: &mut [FromName]) {
    let led = |n: &&FromName| n.fields.order.is_some();
    let told: BTreeSet<Option<&String>> = names.iter().filter(led).map(|n| n.leading.as_ref()).collect();
    let [Some(number)] = told.into_iter().collect::<Vec<_>>()[..] else { return };
    let number = number.clone();
    if number.starts_with('0') || number == "1" || names.len() < 2 {
        return;
    }
    let with: BTreeSet<Option<String>> = names.iter().filter(led).map(device).collect();
    let without: BTreeSet<Option<String>> = names.iter().filter(|n| !led(n)).map(device).collect();
    if with.len() != 1 || with.contains(&None) || !with.is_disjoint(&without) {
        return;
    }
    for name in names.iter_mut().filter(|n| n.fields.order.is_some()) {
        name.fields.order = None;
        name.fields.device = name.fields.device.take().map(|device| format!("{number} {device}"));
    }
}

/// "lamp 1 off, lamp 2 on, lamp 3 on ferrite" counts recordings of one lamp: no numbered lamp is both on and off,
/// while the lamp without the number is. "lamp 1 on, lamp 1 off, lamp 2 on, lamp 2 off" are two lamps.
fn counted(names: &mut [FromName]) {
    let numbered: Vec<Option<(String, u32)>> =
        names.iter().map(|n| n.fields.device.as_deref().and_then(numbered)).collect();
    let mut of_base: BTreeMap<String, BTreeSet<State>> = BTreeMap::new();
    let mut of_one: BTreeMap<(String, u32), BTreeSet<State>> = BTreeMap::new();
    for (name, device) in names.iter().zip(&numbered) {
        if let (Ok(state), Some((base, number))) = (name.state, device) {
            of_base.entry(key::words(base)).or_default().insert(state);
            of_one.entry((key::words(base), *number)).or_default().insert(state);
        }
    }
    let both = |states: &BTreeSet<State>| states.contains(&State::On) && states.contains(&State::Off);
    let devices: BTreeSet<&String> = of_one.iter().filter(|(_, s)| both(s)).map(|((base, _), _)| base).collect();
    for (name, device) in names.iter_mut().zip(numbered) {
        let Some((base, number)) = device else { continue };
        let same = key::words(&base);
        if of_base.get(&same).is_some_and(both) && !devices.contains(&same) {
            name.fields.device = Some(base);
            name.fields.order = name.fields.order.or(Some(f64::from(number)));
        }
    }
}

/// A device's words and the number behind them.
fn numbered(device: &str) -> Option<(String, u32)> {
    let (base, digits) = device.rsplit_once(' ')?;
    let number = digits.parse::<u32>().ok().filter(|_| digits.len() <= 4)?;
    Some((base.to_owned(), number))
}

/// "off-lamp" is the lamp off, "off-evening" is everything off in the evening: words behind "off", and those set
/// aside before it, are a device only if some other name has it on.
fn remarks(names: &mut [FromName]) {
    let on: Vec<String> = names
        .iter()
        .filter(|n| n.state == Ok(State::On))
        .filter_map(|n| n.fields.device.as_deref().map(key::words))
        .collect();
    for name in names.iter_mut().filter(|n| n.state == Ok(State::Off)) {
        let is_on = |device: &str| on.contains(&key::words(device));
        if name.device_behind && name.fields.device.as_deref().is_some_and(|d| !is_on(d)) {
            let words = [name.fields.device.take(), name.fields.remedy.take()];
            name.fields.note = Some(words.into_iter().flatten().collect::<Vec<_>>().join(" "));
            (name.fields.ferrites, name.fields.turns) = (None, None);
        }
        if name.fields.device.is_none() {
            name.fields.device = name.aside.iter().find(|d| is_on(d)).cloned();
        }
    }
}

/// "on-2-clips" names no device: it is the only one of the session, or among several that of the recording before.
/// Which that is tells a number or a time in both names; the alphabet does not.
fn lend(names: &mut [FromName], files: &[&str]) {
    let named = |n: &FromName| {
        let state = n.state.ok().filter(|s| *s != State::Terminated);
        state.and_then(|_| n.fields.device.clone())
    };
    let devices: BTreeSet<String> = names.iter().filter_map(named).map(|d| key::words(&d)).collect();
    let first = names.iter().find_map(named);
    let before = |names: &[FromName], at: usize| {
        let place = |n: &FromName| n.fields.order.or(n.fields.started.map(|s| s.at.as_second() as f64));
        let same_kind = |n: &FromName| n.fields.order.is_some() == names[at].fields.order.is_some();
        let mine = place(&names[at])?;
        let earlier = |n: &FromName| place(n).filter(|_| same_kind(n)).filter(|p| *p < mine);
        let candidates = names.iter().enumerate().filter_map(|(i, n)| Some((earlier(n)?, i, named(n)?)));
        let (_, i, device) = candidates.max_by(|a, b| a.0.total_cmp(&b.0))?;
        Some((device, format!("`{}`, the recording before", printable(files[i]))))
    };
    for at in 0..names.len() {
        let name = &names[at];
        if name.state != Ok(State::On) || name.fields.device.is_some() || name.lent.is_some() {
            continue;
        }
        let lent = match (devices.len(), &first) {
            (1, Some(device)) => Some((device.clone(), ONLY_DEVICE.to_owned())),
            (2.., _) if name.fields.remedy.is_some() => before(names, at),
            _ => None,
        };
        if let Some((device, from)) = lent {
            names[at].lent = Some(from);
            names[at].fields.device = Some(device);
        }
    }
}
