//! What can hurt the user or the device, told from the words of devices and remedies: on the test sheet before
//! anything is tried, and in the report beside what was. Words only point: where none is known, the cautions that
//! hold for all have to do. The words and what the cautions say: `cautions.toml`. Not here: whether a remedy works,
//! whether a supply fits (`findings::supply`).

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cautions {
    always: Vec<String>,
    walk: Vec<String>,
    in_every_report: Vec<General>,
    leads: Vec<String>,
    about: BTreeMap<About, Caution>,
}

/// What stands in every report.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct General {
    text: String,
    /// Not where this is told of a device, which says the same in full.
    unless: Option<About>,
}

/// What calls for a caution, and what it says where.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Caution {
    words: Vec<String>,
    report: Option<String>,
    sheet: Option<String>,
}

static CAUTIONS: LazyLock<Cautions> =
    LazyLock::new(|| toml::from_str(include_str!("cautions.toml")).expect("tests read the same text"));

/// From here a supply counts as strong enough to set a lead on fire, A (chosen: what the caution itself names).
const STRONG_A: f64 = 10.0;

/// What a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// Another supply.
    Supply,
    /// Enough current to set a lead on fire.
    Current,
    /// The mains side.
    Mains,
    /// Ferrite on a lead.
    Ferrite,
    /// A charger is the device.
    Charger,
    /// Parts fitted inside.
    Inside,
    /// A shield or a case.
    Shield,
    /// Leads moved or changed.
    Lead,
    /// Something that charges, or solar panels.
    Charging,
}

impl About {
    /// In the order in which they are told.
    pub const ALL: [Self; 9] = [
        Self::Supply,
        Self::Current,
        Self::Mains,
        Self::Ferrite,
        Self::Charger,
        Self::Inside,
        Self::Shield,
        Self::Lead,
        Self::Charging,
    ];

    /// Its code in `report.json`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::Current => "current",
            Self::Mains => "mains",
            Self::Ferrite => "ferrite",
            Self::Charger => "charger",
            Self::Inside => "inside",
            Self::Shield => "shield",
            Self::Lead => "lead",
            Self::Charging => "charging",
        }
    }

    /// In the report; `None` for those that are told before anything is tried only.
    pub fn in_report(self) -> Option<&'static str> {
        CAUTIONS.about.get(&self)?.report.as_deref()
    }

    /// On the sheet; a charger's stands with what charges.
    pub fn on_sheet(self) -> Option<&'static str> {
        CAUTIONS.about.get(&self)?.sheet.as_deref()
    }

    fn is_called_for(self, device: &str, remedy: Option<&str>) -> bool {
        let Some(Caution { words: list, .. }) = CAUTIONS.about.get(&self) else { return false };
        let has = |words: &[String]| words.iter().any(|word| list.contains(word));
        let device = words(device);
        if self == Self::Charging {
            return has(&device) || remedy.is_some_and(|remedy| has(&words(remedy)));
        }
        let Some(remedy) = remedy else { return false };
        // The voltage of supplies for transceivers, which deliver 20 A and more (common practice).
        let shack_supply = remedy.contains("13.8") || remedy.contains("13,8");
        let remedy = words(remedy);
        match self {
            Self::Supply => shack_supply || is_swap(&remedy, list),
            Self::Current => {
                shack_supply || is_swap(&remedy, list) || remedy.iter().any(|word| amps(word) >= STRONG_A)
            }
            Self::Charger => has(&device),
            Self::Mains | Self::Ferrite | Self::Inside | Self::Shield | Self::Lead | Self::Charging => has(&remedy),
        }
    }
}

/// Stand on every sheet.
pub fn always() -> &'static [String] {
    &CAUTIONS.always
}

/// Stand on every sheet of a walk over the circuits of a house.
pub fn of_walk() -> &'static [String] {
    &CAUTIONS.walk
}

/// Stand in every report beside what is told of its devices.
pub(crate) fn in_every_report(told: &[About]) -> Vec<&'static str> {
    let all = CAUTIONS.in_every_report.iter();
    all.filter(|one| one.unless.is_none_or(|about| !told.contains(&about))).map(|one| one.text.as_str()).collect()
}

/// What a device and a remedy call for. Where nothing is changed on a device nothing can go wrong by it, but what
/// charges does so anyhow.
pub fn called_for(device: &str, remedy: Option<&str>) -> Vec<About> {
    About::ALL.into_iter().filter(|about| about.is_called_for(device, remedy)).collect()
}

/// Whether one of the words names a supply and not merely its lead.
fn is_swap(remedy: &[String], list: &[String]) -> bool {
    let of_lead = |at: usize| remedy.get(at + 1).is_some_and(|next| CAUTIONS.leads.contains(next));
    remedy.iter().enumerate().any(|(at, word)| list.contains(word) && !of_lead(at))
}

/// "20a" is 20; 0 for anything else.
fn amps(word: &str) -> f64 {
    word.strip_suffix('a').and_then(|number| number.parse().ok()).unwrap_or(0.0)
}

/// Small letters, parted at everything that is neither letter nor digit, without the s of the plural.
fn words(text: &str) -> Vec<String> {
    let singular = |word: &str| match word.strip_suffix("ies") {
        Some(stem) if stem.len() > 2 => format!("{stem}y"),
        _ => word.strip_suffix('s').filter(|stem| stem.len() > 2 && *stem != "main").unwrap_or(word).to_owned(),
    };
    let lower = text.to_lowercase();
    lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(singular).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_call_for_their_cautions() {
        for (device, remedy, expected) in [
            ("lamp", None, &[][..]),
            ("lamp", Some("linear supply"), &["supply"]),
            ("lamp", Some("bench PSU, 20 A"), &["supply", "current"]),
            ("router", Some("12 V battery"), &["supply", "current"]),
            ("router", Some("13.8 V from the bench"), &["supply", "current"]),
            ("lamp", Some("ferrites on the mains lead"), &["mains", "ferrite", "lead"]),
            ("drill charger", Some("second ferrite on battery lead"), &["ferrite", "charger", "lead", "charging"]),
            ("drill charger", None, &["charging"]),
            ("lamp", Some("snap-on chokes and power packs"), &["supply", "ferrite"]),
            ("lamp", Some("another socket"), &["mains"]),
            ("lamp", Some("moved two metres"), &["lead"]),
            ("lamp", Some("foil round the case"), &["shield"]),
            ("lamp", Some("a capacitor inside"), &["inside"]),
        ] {
            let called: Vec<&str> = called_for(device, remedy).into_iter().map(About::word).collect();
            assert_eq!(called, expected, "{device}, {remedy:?}");
        }
    }

    #[test]
    fn every_caution_has_its_words_and_its_texts() {
        assert_eq!(CAUTIONS.about.keys().copied().collect::<Vec<_>>(), About::ALL);
        assert_eq!((always().len(), in_every_report(&[]).len()), (3, 2));
        assert_eq!(in_every_report(&About::ALL).len(), 1);
        for about in About::ALL {
            let Caution { words, report, sheet } = &CAUTIONS.about[&about];
            assert!(!words.is_empty(), "{}", about.word());
            let mut texts: Vec<&str> = report.iter().chain(sheet).map(String::as_str).collect();
            assert!(!texts.is_empty(), "{}", about.word());
            texts.extend(always().iter().chain(of_walk()).chain(words).map(String::as_str));
            texts.extend(in_every_report(&[]));
            for text in texts {
                assert!(!text.is_empty() && text.trim() == text && !text.contains(['\n', '\\']), "{text:?}");
                assert!(!text.contains("  "), "{text:?}");
            }
        }
    }
}
