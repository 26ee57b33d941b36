//! The digest's lines on the budget: shares before and now, and devices that do not add up.

use crate::findings::budget::result::{BudgetEntry, JointResult, Stage};
use crate::findings::budget::shares::Balance;
use crate::text::{label, number, percent};

/// Most devices named in a line of shares.
const MOST_SHARES: usize = 4;

/// One line each.
pub(crate) fn digest(budget: &[BudgetEntry], joint: &[JointResult]) -> Vec<String> {
    let mut told: Vec<String> = shares(budget, Stage::Before, "added power").into_iter().collect();
    told.extend(shares(budget, Stage::Now, "now"));
    told.extend(joint.iter().filter(|joint| joint.balance != Balance::AddsUp).map(|joint| {
        let names: Vec<String> = joint.devices.iter().map(|d| label(d)).collect();
        let how = if joint.balance == Balance::More { "louder" } else { "quieter" };
        format!("{}: {} dB {how} than their sum", names.join(" + "), number(joint.difference_db.abs(), 1))
    }));
    told
}

fn shares(budget: &[BudgetEntry], stage: Stage, name: &str) -> Option<String> {
    let first = budget.iter().find(|e| e.stage == stage)?;
    let of = budget.iter().filter(|e| e.stage == stage && e.setting == first.setting).take(MOST_SHARES);
    let told: Vec<String> = of.map(|e| format!("{} {}", label(&e.device), percent(e.share))).collect();
    Some(format!("{name}: {}", told.join(", ")))
}
