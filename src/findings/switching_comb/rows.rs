//! Families of carriers over the dial as a table for a spreadsheet: one row a carrier, heard or to be expected.

use serde::Serialize;

use crate::findings::switching_comb::result::SwitchingComb;
use crate::text::csv::{Figure, table};

#[derive(Default, Serialize)]
struct CombRow<'a> {
    device: &'a str,
    spacing_hz: Figure,
    spacing_ci_low_hz: Figure,
    spacing_ci_high_hz: Figure,
    carrier: &'a str,
    rf_hz: Figure,
    harmonic: Option<i64>,
    residual_or_within_hz: Figure,
    recording: &'a str,
}

/// A carrier a row; `carrier` is member, missing, outsider or predicted. `residual_or_within_hz` is how far a
/// member lies above its place, or how far off a predicted one may be.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn switching_combs_csv(combs: &[SwitchingComb]) -> Result<String, csv::Error> {
    table(combs.iter().flat_map(rows))
}

fn rows(comb: &SwitchingComb) -> Vec<CombRow<'_>> {
    let row = |carrier, rf_hz: f64| CombRow {
        device: &comb.device,
        spacing_hz: comb.spacing_hz.into(),
        spacing_ci_low_hz: comb.spacing_ci_hz[0].into(),
        spacing_ci_high_hz: comb.spacing_ci_hz[1].into(),
        carrier,
        rf_hz: rf_hz.into(),
        ..CombRow::default()
    };
    let members = comb.members.iter().map(|m| CombRow {
        harmonic: Some(m.harmonic),
        residual_or_within_hz: m.residual_hz.into(),
        recording: &m.recording,
        ..row("member", m.rf_hz)
    });
    let missing = comb.missing.iter().map(|m| CombRow {
        harmonic: Some(m.harmonic),
        recording: &m.recording,
        ..row("missing", m.rf_hz)
    });
    let outsiders = comb.outsiders.iter().map(|&hz| row("outsider", hz));
    let predicted = comb.predicted.iter().filter(|p| !p.missing).map(|p| CombRow {
        harmonic: Some(p.harmonic),
        residual_or_within_hz: p.within_hz.into(),
        ..row("predicted", p.rf_hz)
    });
    members.chain(missing).chain(outsiders).chain(predicted).collect()
}
