//! What is on where several devices are, told from the words of `device`: "lamp + pump", "all", "all but lamp".
//! Not here: how such recordings are compared (`group`, `findings::ranking`, `findings::budget`).

use super::key;
use super::names::{Role, says};

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

/// Devices that a label joins by `+`; one for a device by itself.
fn parts(device: &str) -> Vec<String> {
    let parts = device.split('+').map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "));
    parts.filter(|part| !key::words(part).is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

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
