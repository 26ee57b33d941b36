//! The whole comparison, step by step.

use serde::{Deserialize, Serialize};

use super::added_lines::LineChanges;
use super::cells::{Cells, NoiseSeries};
use super::character::{Case, Character, Verdict};
use super::excess::Excess;
use super::trust::{GAIN_SHIFT_DB, pair_warnings, trust};
use crate::envelope::Envelope;
use crate::health::{Code, Trust, Warning};
use crate::measure::Measurement;
use crate::spectrum::Passband;

/// What the user can set.
#[derive(Debug, Clone, PartialEq)]
pub struct ContrastSettings {
    /// Part of the passband to compare; everything common to both sides if `None`.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: f64,
    /// A steady carrier that stands in both states, if the user named one.
    pub reference_hz: Option<f64>,
}

impl Default for ContrastSettings {
    fn default() -> Self {
        Self { passband: None, mains_hz: 50.0, reference_hz: None }
    }
}

/// The result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Contrast {
    /// Figures; `None` where nothing could be compared (the warnings say why).
    pub figures: Option<Figures>,
    /// How far to rely on them.
    pub trust: Trust,
    /// What speaks against them, beyond the recordings' own warnings.
    pub warnings: Vec<Warning>,
}

/// The figures of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// The common passband.
    pub passband: Passband,
    /// Noise without lines, a change of gain taken off if a reference told it.
    pub excess: Excess,
    /// Everything, on over off, dB, a change of gain taken off likewise.
    pub total_db: f64,
    /// The carrier of both states and how its level moved: (Hz, dB).
    pub reference: Option<(f64, f64)>,
    /// Whether the excess was taken against it.
    pub corrected: bool,
    /// Lines.
    pub lines: LineChanges,
    /// Kind of noise.
    pub verdict: Verdict,
}

impl Figures {
    /// The excess to quote: by the mean where the noise comes in clicks, else by the steady level.
    pub fn excess_db(&self) -> crate::units::Estimate {
        if self.verdict.pulse_rate_hz.is_some() { self.excess.mean } else { self.excess.steady }
    }
}

/// Compares recordings of one setting: `on` against `off`, each at least one.
pub fn contrast(off: &[&Measurement], on: &[&Measurement], settings: &ContrastSettings) -> Contrast {
    let all: Vec<&Measurement> = off.iter().chain(on).copied().collect();
    let void =
        |why: &str| Contrast { figures: None, trust: Trust::Void, warnings: vec![Warning::new(Code::Silent, why)] };
    if off.is_empty() || on.is_empty() {
        return void("there is no recording to compare with.");
    }
    if all.iter().any(|m| m.passband.is_none()) {
        return void("a recording has nothing to hear or is too short to measure, so there is nothing to compare.");
    }
    let Some(cells) = Cells::of(&all, settings.passband) else {
        return Contrast {
            figures: None,
            trust: Trust::Void,
            warnings: vec![Warning::new(
                Code::SettingsDiffer,
                "the passbands of off and on have nothing in common: mode or filter differ. Record both with the same \
                 settings.",
            )],
        };
    };
    let series = |side: &[&Measurement]| -> Vec<NoiseSeries> { side.iter().map(|m| cells.series(m)).collect() };
    let raw = Excess::of(&cells, &series(off), &series(on));
    let lines = LineChanges::of(off, on, &cells.passband, settings.reference_hz);
    let reference = lines.reference();
    // One carrier may fade; two that agree, or one the user vouches for, tell the gain. A single one that moved is
    // believed too, but the doubt is said.
    let shift_db = reference.map_or(0.0, |r| r.1);
    let corrected = shift_db.abs() > GAIN_SHIFT_DB;
    let excess = if corrected { raw.corrected(shift_db) } else { raw };
    let gain = if corrected { 10f64.powf(shift_db / 10.0) } else { 1.0 };
    let envelopes =
        |side: &[&Measurement]| -> Vec<Envelope> { side.iter().filter_map(|m| m.envelope.clone()).collect() };
    let (off_envelopes, on_envelopes) = (envelopes(off), envelopes(on));
    let mut verdict = Case {
        excess: &excess,
        width_hz: cells.passband.width_hz(),
        lines: &lines,
        off: off_envelopes.iter().collect(),
        on: on_envelopes.iter().collect(),
        gain,
        mains_hz: settings.mains_hz,
    }
    .judge();
    let warnings = pair_warnings(&excess, reference, corrected, cells.crowded, off, on);
    let trust = trust(&excess, &warnings, off, on, corrected);
    if trust == Trust::Void {
        verdict.character = Character::Unclear;
        verdict.confidence = verdict.confidence.min(0.3);
    } else if trust == Trust::Doubtful {
        verdict.confidence = (verdict.confidence * 0.85).max(0.05);
    }
    let total_db = 10.0 * (total_power(on, &cells.passband) / gain / total_power(off, &cells.passband)).log10();
    Contrast {
        figures: Some(Figures { passband: cells.passband, excess, total_db, reference, corrected, lines, verdict }),
        trust,
        warnings,
    }
}

/// Mean square in the passband, hum left out, averaged over recordings, FS².
fn total_power(side: &[&Measurement], passband: &Passband) -> f64 {
    let of = |m: &&Measurement| {
        let range = passband.bins(m.slices.bin_hz, m.slices.bins);
        let sum = m.slices.mean[range].iter().sum::<f64>() * m.slices.bin_hz;
        let hum: f64 = m.hum.iter().flat_map(|h| &h.lines).filter(|l| passband.contains(l.0)).map(|l| l.1).sum();
        sum - hum
    };
    side.iter().map(of).sum::<f64>() / side.len() as f64
}
