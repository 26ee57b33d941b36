//! A supply's check in sentences without markup: for the report and the terminal alike.

use crate::findings::supply::result::{SupplyCheck, SupplyVerdict};
use crate::text::label;

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
