//! What can hurt the user or the device, by the words of the remedies and devices planned.
//!
//! All of it common practice of electrical safety; the general part says the same as the README's "Before you change
//! anything". Not here: whether a remedy works.

use super::plan::PlanWords;

/// A caution and the words that call for it, by their beginning.
struct Caution {
    words: &'static [&'static str],
    text: &'static str,
}

/// Hold for every session.
const ALWAYS: [&str; 3] = [
    "Mains can kill. Don't open a mains-operated device or a power supply, even unplugged: its capacitors hold their \
     charge. Unplug a device before you fit anything to it.",
    "Fixed wiring and the protective earth are for a licensed electrician. Never open the protective earth to quieten a \
     device.",
    "Don't switch off what someone's health or safety hangs on, or what is not yours.",
];

const BY_WORD: [Caution; 8] = [
    Caution {
        words: &["ferrit", "choke", "toroid", "clamp", "ring", "core", "turn", "snap", "clip"],
        text: "Ferrite only over leads whose insulation is whole, never over bare conductors: most ferrites conduct. \
               Unplug the lead, don't force it, and leave nothing heavy hanging from a plug.",
    },
    Caution {
        words: &["supply", "suppl", "psu", "adapter", "adaptor", "linear", "transformer", "brick"],
        text: "Another supply: the same voltage, the same kind (DC or AC), enough current. Check the polarity with a \
               meter before you connect it, and put a fuse at the source, rated for the lead.",
    },
    Caution {
        words: &["batter", "accu", "akku", "cell", "pack", "powerbank", "lithium", "lipo"],
        text: "Batteries deliver enough to start a fire: a fuse at the source, rated for the lead, and the polarity \
               checked before connecting. Never open a battery pack, never use or charge a damaged one.",
    },
    Caution {
        words: &["filter", "mains", "socket", "earth", "ground", "isolat", "varistor"],
        text: "On the mains side only ready-made, approved, plug-in filters, their earth connected. A filter leaks to \
               earth: it may trip a residual-current breaker, which must stay in place.",
    },
    Caution {
        words: &["capacitor", "snubber", "bypass", "condenser", "solder", "inside", "resistor"],
        text: "Nothing soldered into a mains-operated device. On extra-low voltage: unplugged, discharged, and parts \
               rated for the voltage; across the mains only by those who are licensed, with approved parts.",
    },
    Caution {
        words: &["shield", "screen", "foil", "box", "case", "enclos", "mesh", "cover"],
        text: "A shield must touch no contact and cover no vent: a device that can't cool may burn. Insulate foil, and \
               watch the first minutes.",
    },
    Caution {
        words: &["moved", "move", "lead", "cable", "cord", "extension", "shorter", "longer", "twist", "rerout"],
        text: "Move leads with the plug out, don't coil up an extension lead under load, and leave no lead where someone \
               trips over it.",
    },
    Caution {
        words: &["charger", "charging", "solar", "inverter", "panel", "scooter"],
        text: "Don't leave a device that charges alone while you are at the receiver. Solar panels give voltage whenever \
               there is light: their DC leads are not to be opened under load.",
    },
];

/// The cautions for what is planned, the general ones first, each once.
pub fn cautions(words: &PlanWords) -> Vec<&'static str> {
    let named: Vec<String> = words
        .devices
        .iter()
        .flat_map(|device| std::iter::once(&device.name).chain(&device.remedies))
        .flat_map(|text| text.split(|c: char| !c.is_alphanumeric()).map(str::to_lowercase).collect::<Vec<_>>())
        .collect();
    let is_called =
        |caution: &&Caution| caution.words.iter().any(|begin| named.iter().any(|word| word.starts_with(begin)));
    ALWAYS.into_iter().chain(BY_WORD.iter().filter(is_called).map(|caution| caution.text)).collect()
}
