//! The tool's own answer to one case, beside the truth.

use super::cases::Case;
use noisetally::contrast::{Contrast, ContrastSettings, Doubt, contrast};
use noisetally::demo::synth::Take;
use noisetally::signal::measure::{MeasureSettings, Measurement};
use noisetally::warning::{Code, Trust};

/// Truth and answer.
pub struct Judged {
    /// Row of the table.
    pub row: &'static str,
    /// What it is.
    pub kind: &'static str,
    /// What was made, in words.
    pub told: String,
    /// Background.
    pub background: &'static str,
    /// Nominal excess.
    pub excess_db: f64,
    /// True excess of the noise, dB.
    pub true_excess_db: f64,
    /// What it was called.
    pub called: &'static str,
    /// How sure.
    pub confidence: f64,
    /// What kept it from being surer; `None` where nothing could be compared.
    pub bound: Option<Doubt>,
    /// Trust.
    pub trust: Trust,
    /// Codes cried.
    pub codes: Vec<Code>,
    /// Measured less true noise excess, dB, and whether the interval holds the truth.
    pub excess: Option<(f64, bool)>,
    /// For single steady carriers: frequency error over the Cramér–Rao bound, level error in dB.
    pub line: Option<(f64, f64)>,
    /// Evidence, for the list of failures.
    pub evidence: String,
}

impl Judged {
    /// Whether the kind is right; for a mixture any verdict that names one of its parts first is near, but not
    /// right.
    pub fn is_right(&self) -> bool {
        self.called == self.kind
    }

    /// One line for the list of failures.
    pub fn told(&self) -> String {
        format!(
            "{:14} called {:8} ({:.2}, {:?}) {}: {}",
            self.kind, self.called, self.confidence, self.trust, self.told, self.evidence
        )
    }
}

/// Measures a take.
pub fn measured(take: &Take, mains_hz: f64) -> Measurement {
    let settings = MeasureSettings { passband: None, mains_hz };
    Measurement::of_samples(take.rate_hz, &take.samples, &settings)
}

/// Has the tool judge a case.
pub fn judge(case: &Case) -> Judged {
    let (off, on) = (measured(&case.off, case.mains_hz), measured(&case.on, case.mains_hz));
    let settings = ContrastSettings { mains_hz: case.mains_hz, ..ContrastSettings::default() };
    let result = contrast(&[&off], &[&on], &settings);
    let figures = result.figures.as_ref();
    let truth_db = case.true_excess_db;
    let excess = figures.map(|figures| {
        let found = figures.excess_db();
        (found.value - truth_db, (found.ci95.0..=found.ci95.1).contains(&truth_db))
    });
    Judged {
        row: case.row,
        kind: case.kind,
        told: case.told.clone(),
        background: case.background,
        excess_db: case.excess_db,
        true_excess_db: truth_db,
        called: figures.map_or("unclear", |figures| figures.verdict.character.code()),
        confidence: figures.map_or(0.0, |figures| figures.verdict.confidence),
        bound: figures.map(|figures| figures.verdict.bound),
        trust: result.trust,
        codes: codes(&result, &off, &on),
        excess,
        line: line_error(case, &result),
        evidence: figures.map_or_else(String::new, |f| {
            format!(
                "excess {:.2} (true {:.2}) limit {:.2}, {:?}, pulses {:?} (off {}, on {}), {} lines of {:?}; {}",
                f.excess_db().value,
                truth_db,
                f.excess.limit_db,
                f.verdict.parts.iter().map(|p| (p.character.code(), (100.0 * p.share).round())).collect::<Vec<_>>(),
                f.verdict.pulse_rate_hz,
                off.envelope.as_ref().map_or(0, |e| e.pulses.count),
                on.envelope.as_ref().map_or(0, |e| e.pulses.count),
                f.lines.added.len(),
                f.lines.added.iter().take(6).map(|l| (l.line.freq_hz * 10.0).round() / 10.0).collect::<Vec<_>>(),
                f.verdict.evidence.join("; ")
            )
        }),
    }
}

/// Every code cried for a pair.
pub fn codes(result: &Contrast, off: &Measurement, on: &Measurement) -> Vec<Code> {
    let all = off.warnings.iter().chain(&on.warnings).chain(&result.warnings);
    let mut codes: Vec<Code> = all.map(|warning| warning.code).collect();
    codes.sort();
    codes.dedup();
    codes
}

/// For one steady carrier: its frequency error over the bound of Rife and Boorstyn for a real tone of unknown phase
/// and amplitude (IEEE Trans. IT-20, 1974), and its level error.
fn line_error(case: &Case, result: &Contrast) -> Option<(f64, f64)> {
    if case.kind != "carriers" || !case.told.contains("steady") {
        return None;
    }
    let truth = case.on.truth.device_lines().next()?;
    let found = &result.figures.as_ref()?.lines.added.first()?.line;
    let seconds = case.on.samples.len() as f64 / f64::from(case.on.rate_hz);
    let noise = case.on.truth.noise_expected / case.on.truth.noise_bandwidth_hz;
    let carrier_over_density = truth.level.mean_square() / noise;
    let bound_hz = (3.0 / (2.0 * std::f64::consts::PI.powi(2) * carrier_over_density * seconds.powi(3))).sqrt();
    let level_db = 10.0 * (found.power / truth.level.mean_square()).log10();
    Some(((found.freq_hz - truth.mean_hz).abs() / bound_hz, level_db))
}
