//! A supply's check in a sentence without markup, at the head of the device it concerns, and in the digest where
//! the supply must not be connected. What holds for all devices stands at the report's end.

use crate::contrast::comparison::ContrastResult;
use crate::findings::supply::result::{Caution, SupplyCheck, SupplyVerdict};
use crate::text::{Document, Words, count, label};

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
    let stops = supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop);
    stops.map(|check| Words::strong("Do not connect:").then(" ").then(supply(check))).collect()
}

/// What concerns one device.
pub(crate) fn section(doc: &mut Document, supplies: &[SupplyCheck], cautions: &[Caution], device: &str) {
    let checks = supplies.iter().filter(|check| check.device == device);
    let mut items: Vec<Words> = checks.map(item).collect();
    let cautions = cautions.iter().filter(|caution| caution.device == device);
    items.extend(cautions.map(|caution| caution.text.as_str().into()));
    if !items.is_empty() {
        doc.lead("Before you try a remedy:");
        doc.list(items);
    }
}

/// Supplies of devices that no comparison has.
pub(crate) fn of_no_device(supplies: &[SupplyCheck], contrasts: &[ContrastResult]) -> Vec<Words> {
    let known = |check: &&SupplyCheck| contrasts.iter().any(|c| c.device == check.device);
    supplies.iter().filter(|check| !known(check)).map(item).collect()
}

fn item(check: &SupplyCheck) -> Words {
    let text = supply(check);
    if check.verdict == SupplyVerdict::Fits { text.into() } else { Words::strong(text) }
}

/// Supplies named one by one.
const SUPPLIES: usize = 2;

/// The first few by name.
pub(crate) fn digest(supplies: &[SupplyCheck]) -> Vec<String> {
    let stops: Vec<_> = supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop).collect();
    let named = stops.iter().take(SUPPLIES).map(|check| format!("Supply does NOT fit: {}", label(&check.device)));
    let mut found: Vec<String> = named.collect();
    if stops.len() > SUPPLIES {
        found.push(format!("... and {}", count(stops.len() - SUPPLIES, "more supply", "more supplies")));
    }
    found
}
