//! What can hurt the user or the device, told from the words of devices and remedies: on the test sheet before anything is
//! tried, and in the report beside what was. All of it common practice of electrical safety; the general part says the same
//! as the guide `safety`. Not here: whether a remedy works, whether a supply fits
//! (`findings::supply`).

mod vocabulary;
mod wording;

use serde::{Deserialize, Serialize};

pub use wording::ALWAYS;

/// What a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
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
}

/// What a device and a remedy call for. Where nothing is changed on a device nothing can go wrong by it, but what charges
/// does so anyhow.
pub fn called_for(device: &str, remedy: Option<&str>) -> Vec<About> {
    About::ALL.into_iter().filter(|about| about.is_called_for(device, remedy)).collect()
}
