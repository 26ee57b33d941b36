//! What the cautions say: short on the sheet, which holds all of a plan, and with the reason in the report.
//! Not here: what calls for them (`vocabulary`).

use super::About;

/// Hold for every session.
pub const ALWAYS: [&str; 3] = [
    "Mains can kill. Don't open a mains-operated device or a power supply, even unplugged: its capacitors hold their \
     charge. Unplug a device before you fit anything to it.",
    "Fixed wiring and the protective earth are for a licensed electrician. Never open the protective earth to quieten a \
     device.",
    "Don't switch off what someone's health or safety hangs on, or what is not yours.",
];

impl About {
    /// In the report; those that are told before anything is tried only have nothing there.
    pub fn in_report(self) -> Option<&'static str> {
        Some(match self {
            Self::Supply => {
                "Another supply: read voltage, current, AC or DC and polarity off the device's own label, and measure \
                 the plug of the supply with a meter before it goes in. Never go by the plug's shape, the colour of the \
                 leads or what another supply had. Do not open a mains supply."
            }
            Self::Current => {
                "A battery or a supply of 10 A and more can set a lead on fire. Put a fuse into the lead, close to the \
                 source, rated for the lead and not for the supply."
            }
            Self::Mains => {
                "Mains can kill. Use only filters and leads that are made and approved for the mains, and plug them in \
                 whole. Fixed wiring, sockets and the protective earth are for a licensed electrician, under the codes \
                 that hold where you live; never open the protective earth."
            }
            Self::Ferrite => {
                "Ferrite goes only over leads whose insulation is whole, never over bare conductors; do not open a \
                 plug, a device or a mains lead to fit it."
            }
            Self::Charger => {
                "Leave the charger, its mains pack and its battery closed, and use no other charger than the maker \
                 allows: a cell charged wrongly can burn."
            }
            Self::Inside | Self::Shield | Self::Lead | Self::Charging => return None,
        })
    }

    /// On the sheet; a charger's stands with what charges.
    pub fn on_sheet(self) -> Option<&'static str> {
        Some(match self {
            Self::Supply => {
                "Another supply: the same voltage, the same kind (DC or AC), enough current. Check the polarity with a \
               meter before you connect it, and put a fuse at the source, rated for the lead."
            }
            Self::Current => {
                "Batteries and large supplies deliver enough to start a fire: a fuse at the source, rated for the lead, and the polarity \
               checked before connecting. Never open a battery pack, never use or charge a damaged one."
            }
            Self::Mains => {
                "On the mains side only ready-made, approved, plug-in filters, their earth connected. A filter leaks to \
               earth: it may trip a residual-current breaker, which must stay in place."
            }
            Self::Ferrite => {
                "Ferrite only over leads whose insulation is whole, never over bare conductors: most ferrites conduct. \
               Unplug the lead, don't force it, and leave nothing heavy hanging from a plug."
            }
            Self::Inside => {
                "Nothing soldered into a mains-operated device. On extra-low voltage: unplugged, discharged, and parts \
               rated for the voltage; across the mains only by those who are licensed, with approved parts."
            }
            Self::Shield => {
                "A shield must touch no contact and cover no vent: a device that can't cool may burn. Insulate foil, and \
               watch the first minutes."
            }
            Self::Lead => {
                "Move leads with the plug out, don't coil up an extension lead under load, and leave no lead where someone \
               trips over it."
            }
            Self::Charging => {
                "Don't leave a device that charges alone while you are at the receiver. Solar panels give voltage whenever \
               there is light: their DC leads are not to be opened under load."
            }
            Self::Charger => return None,
        })
    }
}
