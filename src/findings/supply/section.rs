//! Supplies and cautions where they belong: at the head of the device they concern. Those that hold for all stand
//! at the report's end.

use crate::contrast::comparison::ContrastResult;
use crate::findings::supply::result::{Caution, SupplyCheck, SupplyVerdict};
use crate::findings::supply::words::supply;
use crate::text::{Document, Words};

/// A supply that must not be connected is told at the very top.
pub(crate) fn verdicts(supplies: &[SupplyCheck]) -> Vec<Words> {
    let stops = supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop);
    stops.map(|check| Words::strong("Do not connect:").then(" ").then(supply(check))).collect()
}

/// What concerns one device.
pub(crate) fn section(doc: &mut Document, supplies: &[SupplyCheck], cautions: &[Caution], device: &str) {
    let checks = supplies.iter().filter(|check| check.device == device);
    let mut told: Vec<Words> = checks.map(item).collect();
    let cautions = cautions.iter().filter(|caution| caution.device == device);
    told.extend(cautions.map(|caution| caution.text.as_str().into()));
    if !told.is_empty() {
        doc.lead("Before you try a remedy:");
        doc.list(told);
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
