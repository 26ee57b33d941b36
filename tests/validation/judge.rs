//! The tool's own answer to one case, beside the truth.

use super::cases::{Case, FADING};
use super::program;
use noisetally::audio::write_wav;
use noisetally::contrast::{Contrast, ContrastSettings, Doubt, TakeScatter, contrast};
use noisetally::demo::synth::Take;
use noisetally::run::SessionRun;
use noisetally::signal::measure::{MeasureSettings, Measurement};
use noisetally::warning::{Code, Trust};

/// Truth and answer.
pub struct Judged {
    /// Row of the table.
    pub row: &'static str,
    /// What it is.
    pub kind: &'static str,
    /// What it may be called.
    pub fair: &'static [&'static str],
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
    /// The period of its pulses, s: what was told, and what is true; `None` where none is true.
    pub period_s: Option<(Option<f64>, f64)>,
    /// For single steady carriers: frequency error over the Cramér–Rao bound, level error in dB.
    pub line: Option<(f64, f64)>,
    /// Evidence, for the list of failures.
    pub evidence: String,
}

impl Judged {
    /// Whether the kind is right, and the period where there is one; for a mixture any verdict that names one of
    /// its parts first is near, but not right.
    pub fn is_right(&self) -> bool {
        self.fair.contains(&self.called) && self.period_s.is_none_or(|(told, true_s)| is_near(told, true_s))
    }

    /// Whether nothing is said against leaning on it.
    pub fn stands(&self) -> bool {
        stands(self.trust)
    }

    /// A wrong kind, told so that a user leans on it. A period that is off has a target of its own.
    pub fn is_sure_and_wrong(&self) -> bool {
        !self.fair.contains(&self.called) && self.confidence > 0.9 && self.stands()
    }

    /// One line for the list of failures.
    pub fn told(&self) -> String {
        format!(
            "{:14} called {:8} ({:.2}, {:?}) {}: {}",
            self.kind, self.called, self.confidence, self.trust, self.told, self.evidence
        )
    }
}

/// A period is right within this share of it.
const PERIOD_WITHIN: f64 = 0.01;

fn is_near(told_s: Option<f64>, true_s: f64) -> bool {
    told_s.is_some_and(|told_s| (told_s / true_s - 1.0).abs() <= PERIOD_WITHIN)
}

/// Whether a word of trust says nothing against the figures: `sound`, and `unrepeated`, by which a recording merely
/// stands alone.
pub fn stands(trust: Trust) -> bool {
    matches!(trust.word(), "sound" | "unrepeated")
}

/// Measures a take.
pub fn measured(take: &Take, mains_hz: f64) -> Measurement {
    let settings = MeasureSettings { passband: None, mains_hz };
    Measurement::of_samples(take.rate_hz, &take.samples, &settings)
}

/// Has the tool judge a case; one whose band moves as a user has it judged.
pub fn judge(case: &Case) -> Judged {
    if case.background == FADING {
        return judge_files(case, Some(case.mains_hz));
    }
    let (off, on) = (measured(&case.off, case.mains_hz), measured(&case.on, case.mains_hz));
    // The other bands hold still from take to take, and the program is told: what they ask is how well it measures and
    // judges within takes. Bands that move are asked of by `between` and `real`.
    let scatter = TakeScatter { sd_db: 0.0, ..TakeScatter::default() };
    let settings = ContrastSettings { mains_hz: case.mains_hz, scatter, ..ContrastSettings::default() };
    let result = contrast(&[&off], &[&on], &settings);
    judged(case, &result, codes(&result, &off, &on), [&off, &on], None)
}

/// Has the program judge a case as two files, about which a user told nothing but, perhaps, the
/// mains frequency.
pub fn judge_files(case: &Case, mains_hz: Option<f64>) -> Judged {
    let dir = tempfile::tempdir().expect("a bench needs a folder for its files");
    let files = [dir.path().join("first.wav"), dir.path().join("second.wav")];
    // No sample beyond full scale: nothing here is about clipping.
    let gain = 0.9 / case.off.peak().max(case.on.peak()).max(0.9);
    for (file, take) in files.iter().zip([&case.off, &case.on]) {
        let samples: Vec<f32> = take.samples.iter().map(|x| gain * x).collect();
        assert!(write_wav(file, &samples, take.rate_hz, 1).is_ok(), "{}: can't be written", file.display());
    }
    let tally = program::pair(&files[0], &files[1], mains_hz);
    let (_, result) = tally.contrasts.first().expect("a pair is one comparison");
    let takes = ["r1", "r2"].map(|id| &tally.measured[id].measurement);
    judged(case, result, program::codes(&tally), takes, told_period(&tally))
}

/// The period of regular pulses as the report's contract has it: by itself, else by their rate.
fn told_period(tally: &SessionRun) -> Option<f64> {
    let told = serde_json::to_value(tally.report.contrasts.first()?).ok()?;
    let rate = || told["pulse_rate_hz"].as_f64().filter(|_| told["pulses_regular"] == true).map(f64::recip);
    told["pulse_period_s"].as_f64().or_else(rate)
}

fn judged(
    case: &Case,
    result: &Contrast,
    codes: Vec<Code>,
    takes: [&Measurement; 2],
    told_period_s: Option<f64>,
) -> Judged {
    let figures = result.figures.as_ref();
    let truth_db = case.true_excess_db;
    let excess = figures.map(|figures| {
        let found = figures.excess_db();
        (found.value - truth_db, (found.ci95.0..=found.ci95.1).contains(&truth_db))
    });
    let [off, on] = takes.map(|take| take.envelope.as_ref().map_or(0, |e| e.pulses.count));
    Judged {
        row: case.row,
        kind: case.kind,
        fair: case.fair,
        told: case.told.clone(),
        background: case.background,
        excess_db: case.excess_db,
        true_excess_db: truth_db,
        called: figures.map_or("unclear", |figures| figures.verdict.character.code()),
        confidence: figures.map_or(0.0, |figures| figures.verdict.confidence),
        bound: figures.map(|figures| figures.verdict.bound),
        trust: result.trust,
        codes,
        excess,
        period_s: case.period_s.map(|true_s| (told_period_s, true_s)),
        line: line_error(case, result),
        evidence: figures.map_or_else(String::new, |f| {
            format!(
                "excess {:.2} (true {:.2}) limit {:.2}, {:?}, pulses {:?} (off {off}, on {on}), period {:.3?}, \
                 {} lines of {:?}; {}",
                f.excess_db().value,
                truth_db,
                f.excess.limit_db,
                f.verdict.parts.iter().map(|p| (p.character.code(), (100.0 * p.share).round())).collect::<Vec<_>>(),
                f.verdict.pulse_rate_hz,
                told_period_s,
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
