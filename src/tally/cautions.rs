//! Cautions that belong to what a session tries, told from the words of its remedies and devices; and supplies held
//! against labels, in sentences. Words only point: where none is known, the cautions that hold for all stand at the
//! report's end. Not here: whether a supply fits (`findings::supply`).

use crate::findings::supply::{Plate, Problem, VOLTS_WITHIN, problems};
use crate::report::contract::{Caution, ContrastResult, SupplyCheck};
use crate::session::{Current, Polarity, SupplyLabel};

/// What a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    Supply,
    Current,
    Ferrite,
    Mains,
    Charger,
}

impl About {
    const ALL: [Self; 5] = [Self::Supply, Self::Current, Self::Mains, Self::Ferrite, Self::Charger];

    fn word(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::Current => "current",
            Self::Ferrite => "ferrite",
            Self::Mains => "mains",
            Self::Charger => "charger",
        }
    }

    fn text(self) -> &'static str {
        match self {
            Self::Supply => {
                "Another supply: read voltage, current, AC or DC and polarity off the device's own label, and measure \
                 the plug of the supply with a meter before it goes in. Never go by the plug's shape, the colour of the \
                 leads or what another supply had. Do not open a mains supply."
            }
            Self::Current => {
                "A battery or a supply of 10 A and more can set a lead on fire. Put a fuse into the lead, close to the \
                 source, rated for the lead and not for the supply."
            }
            Self::Ferrite => {
                "Ferrite goes only over leads whose insulation is whole, never over bare conductors; do not open a \
                 plug, a device or a mains lead to fit it."
            }
            Self::Mains => {
                "Mains can kill. Use only filters and leads that are made and approved for the mains, and plug them in \
                 whole. Fixed wiring, sockets and the protective earth are for a licensed electrician, under the codes \
                 that hold where you live; never open the protective earth."
            }
            Self::Charger => {
                "Leave the charger, its mains pack and its battery closed, and use no other charger than the maker \
                 allows: a cell charged wrongly can burn."
            }
        }
    }
}

const SUPPLIES: [&str; 14] = [
    "supply",
    "psu",
    "adapter",
    "adaptor",
    "linear",
    "transformer",
    "brick",
    "wart",
    "pack",
    "battery",
    "accumulator",
    "lifepo4",
    "13v8",
    "12v",
];
const CURRENTS: [&str; 5] = ["battery", "accumulator", "lifepo4", "13v8", "bench"];
const FERRITES: [&str; 9] = ["ferrite", "choke", "clip", "toroid", "core", "bead", "ring", "snap", "cmc"];
const MAINS: [&str; 13] = [
    "mains",
    "filter",
    "socket",
    "outlet",
    "earth",
    "earthing",
    "ground",
    "grounding",
    "wiring",
    "circuit",
    "phase",
    "strip",
    "emi",
];
const CHARGERS: [&str; 1] = ["charger"];
/// A supply word before one of these names a lead, not another supply: "ferrite on battery lead".
const LEADS: [&str; 5] = ["lead", "cable", "cord", "wire", "side"];

/// The cautions of every device with comparisons, in their order.
pub fn cautions(contrasts: &[ContrastResult]) -> Vec<Caution> {
    let mut found: Vec<(String, About)> = Vec::new();
    for contrast in contrasts {
        for about in About::ALL.into_iter().filter(|about| calls_for(*about, contrast)) {
            let one = (contrast.device.clone(), about);
            if !found.contains(&one) {
                found.push(one);
            }
        }
    }
    found
        .into_iter()
        .map(|(device, about)| Caution { device, about: about.word().to_owned(), text: about.text().to_owned() })
        .collect()
}

fn calls_for(about: About, contrast: &ContrastResult) -> bool {
    // Where nothing is changed on a device, nothing can go wrong by it.
    let Some(remedy) = contrast.remedy.as_deref() else { return false };
    // The voltage of supplies for transceivers, which deliver 20 A and more (common practice).
    let shack_supply = remedy.contains("13.8") || remedy.contains("13,8");
    let (remedy, device) = (words(remedy), words(&contrast.device));
    let has = |list: &[&str]| remedy.iter().any(|word| list.contains(&word.as_str()));
    match about {
        About::Supply => shack_supply || is_swap(&remedy, &SUPPLIES),
        About::Current => {
            shack_supply || is_swap(&remedy, &CURRENTS) || remedy.iter().any(|word| amps(word) >= 10.0)
        }
        About::Ferrite => has(&FERRITES),
        About::Mains => has(&MAINS),
        About::Charger => device.iter().any(|word| CHARGERS.contains(&word.as_str())),
    }
}

/// Whether one of the words names a supply and not merely its lead.
fn is_swap(remedy: &[String], list: &[&str]) -> bool {
    let of_lead = |at: usize| remedy.get(at + 1).is_some_and(|next| LEADS.contains(&next.as_str()));
    remedy.iter().enumerate().any(|(at, word)| list.contains(&word.as_str()) && !of_lead(at))
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

/// Every supply of the manifest, checked.
pub fn supplies(labels: &[SupplyLabel]) -> Vec<SupplyCheck> {
    labels.iter().map(supply).collect()
}

fn supply(label: &SupplyLabel) -> SupplyCheck {
    let alternating = |current: Option<Current>| current.map(|c| c == Current::Ac);
    let positive = |polarity: Option<Polarity>| polarity.map(|p| p == Polarity::CentrePositive);
    let wanted = Plate {
        volts: label.label_volts,
        amps: label.label_amps,
        alternating: alternating(label.label_current),
        centre_positive: positive(label.label_polarity),
    };
    let got = Plate {
        volts: label.supply_volts,
        amps: label.supply_amps,
        alternating: alternating(label.supply_current),
        centre_positive: positive(label.supply_polarity),
    };
    let found = problems(wanted, got, label.measured == Some(true), label.fuse_amps);
    let verdict = match found.as_slice() {
        [] => "fits",
        all if all.iter().any(Problem::forbids) => "stop",
        _ => "check",
    };
    SupplyCheck {
        device: label.device.clone(),
        remedy: label.remedy.clone(),
        verdict: verdict.to_owned(),
        findings: sentences(&found),
    }
}

/// What is not told stands in one sentence.
fn sentences(found: &[Problem]) -> Vec<String> {
    let mut told: Vec<String> = found.iter().filter_map(sentence).collect();
    let untold: Vec<&str> =
        found.iter().filter_map(|p| if let Problem::NotTold(what) = p { Some(*what) } else { None }).collect();
    if !untold.is_empty() {
        told.push(format!(
            "Not told of both label and supply, so not compared: {}. Find out before you connect it.",
            untold.join(", ")
        ));
    }
    told
}

fn sentence(problem: &Problem) -> Option<String> {
    Some(match problem {
        Problem::Current => "One is DC and the other AC: do not connect it.".to_owned(),
        Problem::Polarity => "The polarity is reversed: do not plug it in. It may destroy the device.".to_owned(),
        Problem::Volts(label, supply) => format!(
            "The label says {label} V and the supply gives {supply} V, more than {:.0} % apart: do not connect it \
             unless the device's maker allows that voltage.",
            100.0 * VOLTS_WITHIN
        ),
        Problem::Amps(label, supply) => format!(
            "The label asks for {label} A and the supply delivers {supply} A: too little. It may overheat; do not \
             connect it."
        ),
        Problem::NoFuse(supply) => format!(
            "The supply can deliver {supply} A, and no fuse in the lead is told: put one close to the supply, rated for \
             the lead. A thin lead burns before such a supply gives up."
        ),
        Problem::FuseTooLarge(supply, fuse) => format!(
            "The fuse of {fuse} A is no smaller than the {supply} A the supply delivers, so it may never blow: take one \
             rated for the lead."
        ),
        Problem::FuseTooSmall(label, fuse) => {
            format!(
                "The fuse of {fuse} A is smaller than the {label} A on the label: it will blow. Never bridge it."
            )
        }
        Problem::NotMeasured => {
            "Voltage and polarity were not measured: measure both at the plug before it goes in.".to_owned()
        }
        Problem::NotTold(_) => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn about(device: &str, remedy: Option<&str>) -> Vec<&'static str> {
        let remedy = remedy.map(str::to_owned);
        let contrast = crate::report::contract::ContrastResult {
            device: device.to_owned(),
            remedy,
            ..serde_json::from_str(BARE).unwrap()
        };
        About::ALL.into_iter().filter(|about| calls_for(*about, &contrast)).map(About::word).collect()
    }

    const BARE: &str = r#"{"id":"c1","device":"","setting":"s1","off":[],"on":[],"character":"none","confidence":0.5,
        "parts":[],"evidence":[],"added_lines":[],"lost_lines":[],"lost_lines_masked":false,"bands":[],
        "trust":"sound","warnings":[]}"#;

    #[test]
    fn words_call_for_their_cautions() {
        for (device, remedy, expected) in [
            ("lamp", None, &[][..]),
            ("lamp", Some("linear supply"), &["supply"]),
            ("lamp", Some("bench PSU, 20 A"), &["supply", "current"]),
            ("router", Some("12 V battery"), &["supply", "current"]),
            ("router", Some("13.8 V from the bench"), &["supply", "current"]),
            ("lamp", Some("ferrites on the mains lead"), &["mains", "ferrite"]),
            ("drill charger", Some("second ferrite on battery lead"), &["ferrite", "charger"]),
            ("lamp", Some("snap-on chokes and power packs"), &["supply", "ferrite"]),
            ("lamp", Some("another socket"), &["mains"]),
            ("lamp", Some("moved two metres"), &[]),
        ] {
            assert_eq!(about(device, remedy), expected, "{device}, {remedy:?}");
        }
    }

    #[test]
    fn a_supply_that_does_not_fit_is_said_plainly() {
        let label = SupplyLabel {
            device: "aquarium lamp".into(),
            label_volts: Some(12.0),
            label_amps: Some(2.0),
            label_current: Some(Current::Dc),
            label_polarity: Some(Polarity::CentrePositive),
            supply_volts: Some(12.1),
            supply_amps: Some(3.0),
            supply_current: Some(Current::Dc),
            supply_polarity: Some(Polarity::CentrePositive),
            measured: Some(true),
            ..SupplyLabel::default()
        };
        let one = supply(&label);
        assert_eq!((one.verdict.as_str(), one.findings.len()), ("fits", 0));
        let reversed = supply(&SupplyLabel { supply_polarity: Some(Polarity::CentreNegative), ..label.clone() });
        assert_eq!(reversed.verdict, "stop");
        assert!(reversed.findings[0].contains("do not plug it in"));
        let unmeasured = supply(&SupplyLabel { measured: None, label_amps: None, ..label });
        assert_eq!(unmeasured.verdict, "check");
        assert_eq!(unmeasured.findings.len(), 2);
        assert!(unmeasured.findings[1].contains("the current"));
    }
}
