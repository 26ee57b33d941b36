//! The words that call for a caution, whole and without the s of the plural. Words only point: where none is known, the
//! cautions that hold for all have to do. Not here: what the cautions say (`wording`).

use super::About;

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
const CURRENTS: [&str; 11] =
    ["battery", "accumulator", "lifepo4", "13v8", "bench", "accu", "akku", "cell", "powerbank", "lithium", "lipo"];
const FERRITES: [&str; 11] =
    ["ferrite", "choke", "clip", "toroid", "core", "bead", "ring", "snap", "cmc", "clamp", "turn"];
const MAINS: [&str; 17] = [
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
    "isolator",
    "isolation",
    "isolating",
    "varistor",
];
const CHARGERS: [&str; 1] = ["charger"];
const INSIDE: [&str; 8] =
    ["capacitor", "snubber", "bypass", "condenser", "solder", "soldered", "inside", "resistor"];
const SHIELDS: [&str; 11] =
    ["shield", "shielded", "shielding", "screen", "screened", "foil", "box", "case", "enclosure", "mesh", "cover"];
const MOVED: [&str; 12] = [
    "moved",
    "move",
    "lead",
    "cable",
    "cord",
    "extension",
    "shorter",
    "longer",
    "twist",
    "twisted",
    "reroute",
    "rerouted",
];
const CHARGING: [&str; 6] = ["charger", "charging", "solar", "inverter", "panel", "scooter"];
/// A supply word before one of these names a lead, not another supply: "ferrite on battery lead".
const LEADS: [&str; 5] = ["lead", "cable", "cord", "wire", "side"];

impl About {
    pub(super) fn is_called_for(self, device: &str, remedy: Option<&str>) -> bool {
        let device = words(device);
        if self == Self::Charging {
            let all = device.into_iter().chain(remedy.map(words).unwrap_or_default());
            return all.into_iter().any(|word| CHARGING.contains(&word.as_str()));
        }
        let Some(remedy) = remedy else { return false };
        // The voltage of supplies for transceivers, which deliver 20 A and more (common practice).
        let shack_supply = remedy.contains("13.8") || remedy.contains("13,8");
        let remedy = words(remedy);
        let has = |list: &[&str]| remedy.iter().any(|word| list.contains(&word.as_str()));
        match self {
            Self::Supply => shack_supply || is_swap(&remedy, &SUPPLIES),
            Self::Current => {
                shack_supply || is_swap(&remedy, &CURRENTS) || remedy.iter().any(|word| amps(word) >= 10.0)
            }
            Self::Ferrite => has(&FERRITES),
            Self::Mains => has(&MAINS),
            Self::Inside => has(&INSIDE),
            Self::Shield => has(&SHIELDS),
            Self::Lead => has(&MOVED),
            Self::Charging => false,
            Self::Charger => device.iter().any(|word| CHARGERS.contains(&word.as_str())),
        }
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

#[cfg(test)]
mod tests {
    use super::super::called_for;

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
            let called: Vec<&str> = called_for(device, remedy).into_iter().map(super::About::word).collect();
            assert_eq!(called, expected, "{device}, {remedy:?}");
        }
    }
}
