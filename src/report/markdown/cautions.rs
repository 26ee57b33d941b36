//! Cautions where they belong: at the head of the device they concern. Those that hold for all stand at the report's end.

use crate::findings::listening::result::SupplyCheck;
use crate::findings::listening::result::SupplyVerdict;
use crate::findings::listening::words::supply;
use crate::report::contract::Report;
use crate::text::{Document, Words};

/// A supply that must not be connected is told at the very top.
pub(crate) fn verdicts(report: &Report) -> Vec<Words> {
    let stops = report.listening.supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop);
    stops.map(|check| Words::strong("Do not connect:").then(" ").then(supply(check))).collect()
}

/// What concerns one device.
pub(crate) fn write(doc: &mut Document, report: &Report, device: &str) {
    let checks = report.listening.supplies.iter().filter(|check| check.device == device);
    let mut told: Vec<Words> = checks.map(item).collect();
    let cautions = report.listening.cautions.iter().filter(|caution| caution.device == device);
    told.extend(cautions.map(|caution| caution.text.as_str().into()));
    if !told.is_empty() {
        doc.lead("Before you try a remedy:");
        doc.list(told);
    }
}

/// Supplies of devices that no comparison has.
pub(crate) fn of_no_device(report: &Report) -> Vec<Words> {
    let known = |check: &&SupplyCheck| report.contrasts.iter().any(|c| c.device == check.device);
    report.listening.supplies.iter().filter(|check| !known(check)).map(item).collect()
}

fn item(check: &SupplyCheck) -> Words {
    let text = supply(check);
    if check.verdict == SupplyVerdict::Fits { text.into() } else { Words::strong(text) }
}
