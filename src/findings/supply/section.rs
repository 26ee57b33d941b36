//! Supplies and cautions where they belong: at the head of the device they concern. Those that hold for all stand
//! at the report's end.

use crate::contrast::comparison::ContrastResult;
use crate::findings::supply::result::SupplyVerdict;
use crate::findings::supply::result::{Caution, SupplyCheck};
use crate::findings::supply::words::supply;
use crate::report::markdown::{Document, escape};

/// A supply that must not be connected is told at the very top.
pub(crate) fn verdicts(supplies: &[SupplyCheck]) -> Vec<String> {
    let stops = supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop);
    stops.map(|check| format!("**Do not connect:** {}", escape(&supply(check)))).collect()
}

/// What concerns one device.
pub(crate) fn section(doc: &mut Document, supplies: &[SupplyCheck], cautions: &[Caution], device: &str) {
    let checks = supplies.iter().filter(|check| check.device == device);
    let mut told: Vec<String> = checks.map(item).collect();
    let cautions = cautions.iter().filter(|caution| caution.device == device);
    told.extend(cautions.map(|caution| escape(&caution.text)));
    if !told.is_empty() {
        doc.block("Before you try a remedy:");
        doc.list(&told);
    }
}

/// Supplies of devices that no comparison has.
pub(crate) fn of_no_device(supplies: &[SupplyCheck], contrasts: &[ContrastResult]) -> Vec<String> {
    let known = |check: &&SupplyCheck| contrasts.iter().any(|c| c.device == check.device);
    supplies.iter().filter(|check| !known(check)).map(item).collect()
}

fn item(check: &SupplyCheck) -> String {
    let text = escape(&supply(check));
    if check.verdict == SupplyVerdict::Fits { text } else { format!("**{text}**") }
}
