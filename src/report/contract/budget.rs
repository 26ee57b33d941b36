//! What each of several devices contributes, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

/// One device's contribution to the total.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetEntry {
    /// The device.
    pub device: String,
    /// Its share of all added power.
    pub share: f64,
    /// Its excess.
    pub excess_db: f64,
}
