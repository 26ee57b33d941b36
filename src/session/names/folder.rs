//! The names of one folder read together: what one name leaves open, the others may settle.

use super::{FromName, read};
use crate::session::key;
use crate::session::label::State;

/// Reads the names of all recordings of a session, in their order.
pub(in crate::session) fn read_all<'a>(files: impl Iterator<Item = &'a str>) -> Vec<FromName> {
    let mut names: Vec<FromName> = files.map(read).collect();
    counted(&mut names);
    remarks(&mut names);
    names
}

/// "lamp 1 off, lamp 2 on, lamp 3 on ferrite" counts recordings of one lamp: no numbered lamp is both on and off,
/// while the lamp without the number is. "lamp 1 on, lamp 1 off, lamp 2 on, lamp 2 off" are two lamps.
fn counted(names: &mut [FromName]) {
    let numbered: Vec<Option<(String, f64)>> =
        names.iter().map(|n| n.device.as_deref().and_then(numbered)).collect();
    let states = |same: &dyn Fn(&(String, f64)) -> bool| {
        let of =
            |state| names.iter().zip(&numbered).any(|(n, d)| n.state == Ok(state) && d.as_ref().is_some_and(same));
        of(State::On) && of(State::Off)
    };
    let is_count = |device: &(String, f64)| {
        let base = key::words(&device.0);
        let of_base = |d: &(String, f64)| key::words(&d.0) == base;
        let paired = numbered
            .iter()
            .flatten()
            .filter(|d| of_base(d))
            .any(|d| states(&|other| of_base(other) && other.1 == d.1));
        states(&of_base) && !paired
    };
    let counts: Vec<bool> = numbered.iter().map(|d| d.as_ref().is_some_and(is_count)).collect();
    for ((name, device), is_count) in names.iter_mut().zip(numbered).zip(counts) {
        if let Some((base, number)) = device.filter(|_| is_count) {
            name.device = Some(base);
            name.order = name.order.or(Some(number));
        }
    }
}

/// A device's words and the number behind them.
fn numbered(device: &str) -> Option<(String, f64)> {
    let (base, digits) = device.rsplit_once(' ')?;
    let number = digits.parse::<u32>().ok().filter(|_| digits.len() <= 4)?;
    Some((base.to_owned(), f64::from(number)))
}

/// "off-lamp" is the lamp off, "off-evening" is everything off in the evening: words behind "off" are a device only
/// if some other name has it on.
fn remarks(names: &mut [FromName]) {
    let on: Vec<String> = names
        .iter()
        .filter(|n| n.state == Ok(State::On))
        .filter_map(|n| n.device.as_deref().map(key::words))
        .collect();
    for name in names.iter_mut().filter(|n| n.device_behind && n.state == Ok(State::Off)) {
        if name.device.as_deref().is_some_and(|d| !on.contains(&key::words(d))) {
            let words = [name.device.take(), name.remedy.take()];
            name.note = Some(words.into_iter().flatten().collect::<Vec<_>>().join(" "));
            (name.ferrites, name.turns) = (None, None);
        }
    }
}
