//! The digest's lines on supplies that must not be connected.

use crate::findings::supply::result::{SupplyCheck, SupplyVerdict};
use crate::text::{count, label};

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
