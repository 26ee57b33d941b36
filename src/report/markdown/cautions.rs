//! Cautions where they belong: at the head of the device they concern. Those that hold for all stand at the report's end.

use super::{Document, escape};
use crate::findings::listening::result::SupplyCheck;
use crate::findings::listening::result::SupplyVerdict;
use crate::findings::listening::words::supply;
use crate::report::contract::Report;

/// A supply that must not be connected is told at the very top.
pub(crate) fn verdicts(report: &Report) -> Vec<String> {
    let stops = report.listening.supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop);
    stops.map(|check| format!("**Do not connect:** {}", escape(&supply(check)))).collect()
}

/// What concerns one device.
pub(crate) fn write(doc: &mut Document, report: &Report, device: &str) {
    let checks = report.listening.supplies.iter().filter(|check| check.device == device);
    let mut told: Vec<String> = checks.map(item).collect();
    let cautions = report.listening.cautions.iter().filter(|caution| caution.device == device);
    told.extend(cautions.map(|caution| escape(&caution.text)));
    if !told.is_empty() {
        doc.block("Before you try a remedy:");
        doc.list(&told);
    }
}

/// Supplies of devices that no comparison has.
pub(crate) fn of_no_device(report: &Report) -> Vec<String> {
    let known = |check: &&SupplyCheck| report.contrasts.iter().any(|c| c.device == check.device);
    report.listening.supplies.iter().filter(|check| !known(check)).map(item).collect()
}

fn item(check: &SupplyCheck) -> String {
    let text = escape(&supply(check));
    if check.verdict == SupplyVerdict::Fits { text } else { format!("**{text}**") }
}
