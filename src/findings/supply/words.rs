//! A supply's check in a sentence without markup, among the cautions, and at the head of report and digest where
//! the supply must not be connected.

use crate::findings::supply::result::{Caution, SupplyCheck, SupplyVerdict};
use crate::text::{Words, and, capital, count, label};

/// A supply's check in a sentence or more: "Supply for the lamp (linear supply): do not connect it. …".
pub(crate) fn supply(check: &SupplyCheck) -> String {
    let remedy = check.remedy.as_deref().map_or_else(String::new, |remedy| format!(" ({})", label(remedy)));
    let verdict = match check.verdict {
        SupplyVerdict::Stop => "it does NOT fit".to_owned(),
        SupplyVerdict::Check => "not safe to connect yet".to_owned(),
        SupplyVerdict::Fits => {
            "by the figures given, it fits the device's label. That is no check of the supply itself".to_owned()
        }
    };
    let found = check.findings.iter().map(|f| format!(" {f}")).collect::<String>();
    format!("Supply for the {}{remedy}: {verdict}.{found}", label(&check.device))
}

/// A supply that must not be connected is told at the very top.
pub(crate) fn verdicts(supplies: &[SupplyCheck]) -> Vec<Words> {
    supplies
        .iter()
        .filter(|check| stops(check))
        .map(|check| Words::strong("Do not connect:").then(" ").then(supply(check)))
        .collect()
}

/// What concerns single devices, each text once, with those it is for.
pub(crate) fn for_each_device(supplies: &[SupplyCheck], cautions: &[Caution]) -> Vec<Words> {
    let mut items: Vec<Words> = supplies.iter().filter(|check| !stops(check)).map(item).collect();
    let mut told: Vec<(&str, Vec<String>)> = Vec::new();
    for caution in cautions {
        let name = label(&caution.device);
        match told.iter_mut().find(|(text, _)| *text == caution.text) {
            Some((_, names)) => names.push(name),
            None => told.push((&caution.text, vec![name])),
        }
    }
    items.extend(
        told.into_iter()
            .map(|(text, names)| Words::strong(format!("{}:", capital(&and(&names)))).then(format!(" {text}"))),
    );
    items
}

fn stops(check: &SupplyCheck) -> bool {
    check.verdict == SupplyVerdict::Stop
}

fn item(check: &SupplyCheck) -> Words {
    let text = supply(check);
    if check.verdict == SupplyVerdict::Fits { text.into() } else { Words::strong(text) }
}

/// Supplies named one by one.
const SUPPLIES: usize = 2;

/// The first few by name.
pub(crate) fn digest(supplies: &[SupplyCheck]) -> Vec<String> {
    let stops: Vec<_> = supplies.iter().filter(|check| stops(check)).collect();
    let named = stops.iter().take(SUPPLIES).map(|check| format!("Supply does NOT fit: {}", label(&check.device)));
    let mut found: Vec<String> = named.collect();
    if stops.len() > SUPPLIES {
        found.push(format!("... and {}", count(stops.len() - SUPPLIES, "more supply", "more supplies")));
    }
    found
}
