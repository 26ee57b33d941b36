//! The names of one folder read together: what one name leaves open, the others may settle.

use std::collections::{BTreeMap, BTreeSet};

use super::{FromName, read};
use crate::labels::fields::State;
use crate::labels::key;

/// Reads the names of all recordings of a session, in their order.
pub(crate) fn read_all<'a>(files: impl Iterator<Item = &'a str>) -> Vec<FromName> {
    let mut names: Vec<FromName> = files.map(read).collect();
    counted(&mut names);
    remarks(&mut names);
    names
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

/// "off-lamp" is the lamp off, "off-evening" is everything off in the evening: words behind "off" are a device only
/// if some other name has it on.
fn remarks(names: &mut [FromName]) {
    let on: Vec<String> = names
        .iter()
        .filter(|n| n.state == Ok(State::On))
        .filter_map(|n| n.fields.device.as_deref().map(key::words))
        .collect();
    for name in names.iter_mut().filter(|n| n.device_behind && n.state == Ok(State::Off)) {
        if name.fields.device.as_deref().is_some_and(|d| !on.contains(&key::words(d))) {
            let words = [name.fields.device.take(), name.fields.remedy.take()];
            name.fields.note = Some(words.into_iter().flatten().collect::<Vec<_>>().join(" "));
            (name.fields.ferrites, name.fields.turns) = (None, None);
        }
    }
}
