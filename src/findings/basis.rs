//! What every finding is made from: a session's labels, its recordings as measured, its comparisons.

use std::collections::BTreeMap;

use super::anchor::Anchors;
use crate::contrast::Contrast;
use crate::contrast::comparison::ContrastResult;
use crate::labels::{Label, Plan, Session};
use crate::signal::recording::Measured;

/// A session, measured and compared.
pub struct Basis<'a> {
    /// Labels.
    pub session: &'a Session,
    /// What was measured, by recording id.
    pub measured: &'a BTreeMap<String, Measured>,
    /// The comparisons, in the session's order.
    pub contrasts: &'a [(Plan, Contrast)],
    /// The same in the contract's words.
    pub results: &'a [ContrastResult],
    /// What full scale is at the receiver's input, where readings tell it.
    pub anchors: Anchors,
}

impl<'a> Basis<'a> {
    /// `contrasts` and `results` in one order.
    pub fn of(
        session: &'a Session,
        measured: &'a BTreeMap<String, Measured>,
        contrasts: &'a [(Plan, Contrast)],
        results: &'a [ContrastResult],
    ) -> Self {
        Self { session, measured, contrasts, results, anchors: Anchors::of(session, measured) }
    }

    /// A recording's level at the receiver's input: dBm, and as an S-meter shows it.
    pub fn reading(&self, label: &Label) -> Option<(f64, String)> {
        let level = self.measured.get(&label.id)?.measurement.level?;
        self.anchors.reading(&label.setting, level.0)
    }
}
