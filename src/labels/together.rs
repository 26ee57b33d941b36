//! What is on where several devices are, told from the words of `device`: "lamp + pump", "all", "all but lamp".
//! Not here: how such recordings are compared (`group`, `findings::ranking`, `findings::budget`).

use std::collections::BTreeSet;

use super::key;
use super::names::{Role, is_and, says};

/// What is on in a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Present {
    /// One device by itself.
    One,
    /// These, as they were written.
    Several(Vec<String>),
    /// Everything.
    All,
    /// Everything but these, as they were written.
    AllBut(Vec<String>),
}

impl Present {
    /// From the label `device`; words of six languages.
    pub fn of(device: &str) -> Self {
        let words: Vec<&str> = device.split(|c: char| c.is_whitespace() || matches!(c, '-' | '_')).collect();
        let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
        let head = words.iter().take_while(|w| says(w, Role::All) || says(w, Role::Everything)).count();
        let is_all = words[..head].iter().any(|word| says(word, Role::All));
        if is_all && head == words.len() {
            return Self::All;
        }
        let excepts = |word: &&str| says(word, Role::But) || says(word, Role::Without);
        let named: Vec<&str> = words.iter().skip(head + 1).copied().filter(|w| !says(w, Role::Idle)).collect();
        if is_all && words.get(head).is_some_and(excepts) && !named.is_empty() {
            return Self::AllBut(parts(&named.join(" ")));
        }
        if ["alldevices", "allon"].contains(&key::words(device).as_str()) {
            return Self::All;
        }
        match parts(device) {
            several if several.len() > 1 => Self::Several(several),
            _ => Self::One,
        }
    }

    /// Whether a label names several devices, as "lamp + pump" and "all but lamp" do. "All" may be a device's name
    /// where no other is.
    pub fn is_of_several(device: &str) -> bool {
        matches!(Self::of(device), Self::Several(_) | Self::AllBut(_))
    }
}

/// Writes "lamp and pump" as "lamp + pump" where each is among the devices of the session by itself; "heat and
/// light" is one device.
pub(super) fn join<'a>(devices: impl Iterator<Item = &'a mut String>) {
    let devices: Vec<&mut String> = devices.collect();
    let alone: BTreeSet<String> = devices.iter().map(|device| key::words(device)).collect();
    for device in devices {
        let words: Vec<&str> = device.split_whitespace().collect();
        let parts: Vec<String> = words.split(|word| is_and(word)).map(|part| part.join(" ")).collect();
        let distinct: BTreeSet<String> = parts.iter().map(|part| key::words(part)).collect();
        if parts.len() > 1 && distinct.len() == parts.len() && distinct.is_subset(&alone) {
            *device = parts.join(" + ");
        }
    }
}

/// Devices that a label joins by `+`; one for a device by itself.
fn parts(device: &str) -> Vec<String> {
    let parts = device.split('+').map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "));
    parts.filter(|part| !key::words(part).is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn devices_joined_by_and_are_several_where_each_is_there_by_itself() {
        let joined = |names: &[&str]| {
            let mut names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
            join(names.iter_mut());
            names.pop().unwrap()
        };
        for (names, last) in [
            (&["lamp", "pump", "lamp and pump"][..], "lamp + pump"),
            (&["Lampe", "pumpe", "lampe und Pumpe"], "lampe + Pumpe"),
            (&["lampe", "pompe", "lampe et pompe"], "lampe + pompe"),
            (&["lámpara", "impresora", "lámpara e impresora"], "lámpara + impresora"),
            (&["lader", "pomp", "lader en pomp"], "lader + pomp"),
            (&["LED lamp", "pump", "fan", "LED lamp & pump + fan"], "LED lamp + pump + fan"),
            (&["lamp", "lamp and pump"], "lamp and pump"),
            (&["heat and light"], "heat and light"),
            (&["lamp", "lamp and lamp"], "lamp and lamp"),
            (&["lamp", "lamp and"], "lamp and"),
        ] {
            assert_eq!(joined(names), last, "{names:?}");
        }
    }

    #[test]
    fn words_tell_what_is_on() {
        let but = |names: &[&str]| Present::AllBut(names.iter().map(|&name| name.to_owned()).collect());
        for (device, expected) in [
            ("kitchen ring", Present::One),
            ("lamp + pump", Present::Several(vec!["lamp".into(), "pump".into()])),
            ("All", Present::All),
            ("everything", Present::All),
            ("all on", Present::All),
            ("all devices", Present::All),
            ("alles", Present::All),
            ("all but the kitchen ring", but(&["kitchen ring"])),
            ("all-but-kitchen-ring", but(&["kitchen ring"])),
            ("everything except lamp + pump", but(&["lamp", "pump"])),
            ("alles außer Küche", but(&["Küche"])),
            ("tout sauf cuisine", but(&["cuisine"])),
            ("todo menos cocina", but(&["cocina"])),
            ("tutto tranne cucina", but(&["cucina"])),
            ("alles behalve keuken", but(&["keuken"])),
            ("all without lamp", but(&["lamp"])),
            ("all-purpose lamp", Present::One),
            ("device", Present::One),
            ("things", Present::One),
        ] {
            assert_eq!(Present::of(device), expected, "{device}");
        }
    }
}
