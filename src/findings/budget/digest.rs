//! The digest's lines on the budget: shares before and now, and devices that do not add up.

use crate::findings::budget::result::{BudgetEntry, JointResult};
use crate::report::words::{label, number, percent};

/// Most devices named in a line of shares.
const MOST_SHARES: usize = 4;

/// One line each.
pub(crate) fn digest(budget: &[BudgetEntry], joint: &[JointResult]) -> Vec<String> {
    let mut told: Vec<String> = shares(budget, "before", "added power").into_iter().collect();
    told.extend(shares(budget, "now", "now"));
    told.extend(joint.iter().filter(|joint| joint.balance != "adds_up").map(|joint| {
        let names: Vec<String> = joint.devices.iter().map(|d| label(d)).collect();
        let how = if joint.balance == "more" { "louder" } else { "quieter" };
        format!("{}: {} dB {how} than their sum", names.join(" + "), number(joint.difference_db.abs(), 1))
    }));
    told
}

fn shares(budget: &[BudgetEntry], stage: &str, name: &str) -> Option<String> {
    let first = budget.iter().find(|e| e.stage == stage)?;
    let of = budget.iter().filter(|e| e.stage == stage && e.setting == first.setting).take(MOST_SHARES);
    let told: Vec<String> = of.map(|e| format!("{} {}", label(&e.device), percent(e.share))).collect();
    Some(format!("{name}: {}", told.join(", ")))
}
