//! The whole comparison, step by step.

use serde::{Deserialize, Serialize};

use super::added_lines::{LineChanges, Reference};
use super::cells::{Cells, NoiseSeries};
use super::character::{Character, Facts, Verdict};
use super::cluster::Cluster;
use super::excess::{Excess, Take};
use super::impulsive::AddedNoise;
use super::receiver::ReceiverNoise;
use super::skirts::skirted;
use super::surge::Surge;
use super::take_scatter::TakeScatter;
use super::traits::Traits;
use super::trust::{GAIN_SHIFT_DB, OFF_RANGE_DB, pair_warnings, trust};
use super::uncounted::Uncounted;
use super::visitor::Visitor;
use super::wander::{QuietMoments, Wander};
use crate::signal::envelope::Envelope;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::Passband;
use crate::signal::spectrum::statistics::{median, standard_deviation, steady_level};
use crate::units::{Estimate, in_db, ratio_of_db};
use crate::warning::{Code, Trust, Warning};

/// What the user can set.
#[derive(Debug, Clone, PartialEq)]
pub struct ContrastSettings {
    /// Part of the passband to compare; everything common to both sides if `None`.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: f64,
    /// A steady carrier that stands in both states, if the user named one.
    pub reference_hz: Option<f64>,
    /// How far takes differ with nothing touched.
    pub scatter: TakeScatter,
    /// From one click to the next, s, where a longer look than these takes told it.
    pub beat: Option<Estimate>,
}

impl Default for ContrastSettings {
    fn default() -> Self {
        Self { passband: None, mains_hz: 50.0, reference_hz: None, scatter: TakeScatter::default(), beat: None }
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
    /// Off recordings (by place) that stood apart from the others and were not used.
    pub set_aside: Vec<usize>,
    /// Codes of the recordings' own warnings that make this contrast less than sound.
    pub spoilt_by: Vec<Code>,
}

impl Contrast {
    /// Nothing could be compared, for this reason.
    pub fn void(why: Warning) -> Self {
        Self {
            figures: None,
            trust: Trust::Void,
            warnings: vec![why],
            set_aside: Vec::new(),
            spoilt_by: Vec::new(),
        }
    }
}

/// The figures of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// The common passband.
    pub passband: Passband,
    /// Noise without lines, a change of gain taken off if a reference told it.
    pub excess: Excess,
    /// The same with the power of added lines and clicks, dB: noise and all that came with the device over the
    /// noise before. Stations, which stand in both states, have no part in it.
    pub total_db: f64,
    /// The carrier of both states and how its level moved: (Hz, dB).
    pub reference: Option<(f64, f64)>,
    /// Whether the excess was taken against it.
    pub corrected: bool,
    /// Lines.
    pub lines: LineChanges,
    /// Carriers that came with the device, too many to tell them all apart.
    pub cluster: Option<Cluster>,
    /// What is in no other figure.
    pub uncounted: Uncounted,
    /// Kind of noise.
    pub verdict: Verdict,
    /// By what the added noise could be known again.
    pub traits: Traits,
    /// The band's noise against the receiver's own, where recordings with a dummy load tell it.
    pub receiver: Option<ReceiverNoise>,
}

impl Figures {
    /// Frequency and change of level, dB, of a steady carrier that shows the gain to have changed.
    pub fn gain_shown_by(&self) -> Option<(f64, f64)> {
        self.reference.filter(|reference| reference.1.abs() > GAIN_SHIFT_DB)
    }
}

/// Least number of off recordings that can outvote one of them. Mathematics: at most a quarter is set aside, so
/// four is the least.
const LEAST_TO_OUTVOTE: usize = 4;

/// A recording, and when it was made.
#[derive(Clone, Copy)]
pub struct At<'a> {
    /// What was measured of it.
    pub measurement: &'a Measurement,
    /// Minutes from any start; equal for all where that is not known.
    pub at_min: f64,
}

/// Compares recordings of one setting, made no one knows when: `on` against `off`, each at least one.
pub fn contrast(off: &[&Measurement], on: &[&Measurement], settings: &ContrastSettings) -> Contrast {
    let [off, on] = [off, on]
        .map(|side| -> Vec<At<'_>> { side.iter().map(|&measurement| At { measurement, at_min: 0.0 }).collect() });
    contrast_in_time(&off, &on, settings)
}

/// Compares recordings of one setting: `on` against `off`, each at least one.
pub fn contrast_in_time(off: &[At<'_>], on: &[At<'_>], settings: &ContrastSettings) -> Contrast {
    if off.is_empty() || on.is_empty() {
        return Contrast::void(Warning::new(Code::Silent, "there is no recording left to compare with."));
    }
    if off.iter().chain(on).any(|at| at.measurement.passband.is_none()) {
        return Contrast::void(Warning::new(
            Code::Silent,
            "a recording has nothing to hear or is too short to measure, so there is nothing to compare.",
        ));
    }
    let set_aside = odd_ones_out(&measurements(off), settings.passband);
    let kept: Vec<At<'_>> =
        off.iter().enumerate().filter(|(index, _)| !set_aside.contains(index)).map(|(_, at)| *at).collect();
    Contrast { set_aside, ..compare(&kept, on, settings) }
}

fn measurements<'a>(side: &[At<'a>]) -> Vec<&'a Measurement> {
    side.iter().map(|at| at.measurement).collect()
}

/// Off recordings whose level stands far from that of all others, which agree among themselves; at most a quarter.
pub(super) fn odd_ones_out(off: &[&Measurement], passband: Option<Passband>) -> Vec<usize> {
    if off.len() < LEAST_TO_OUTVOTE {
        return Vec::new();
    }
    let Some(cells) = Cells::of(off, passband) else { return Vec::new() };
    let levels: Vec<f64> =
        off.iter().map(|m| in_db(steady_level(&cells.series(m).all).max(f64::MIN_POSITIVE))).collect();
    let middle = median(&mut levels.clone());
    let typical = median(&mut levels.iter().map(|level| (level - middle).abs()).collect::<Vec<_>>());
    let limit_db = (6.0 * typical).max(OFF_RANGE_DB);
    let odd: Vec<usize> = (0..off.len()).filter(|&i| (levels[i] - middle).abs() > limit_db).collect();
    if 4 * odd.len() > off.len() { Vec::new() } else { odd }
}

/// The noise of both sides at one gain, and the lines in it.
struct Noise {
    cells: Cells,
    off: Vec<NoiseSeries>,
    on: Vec<NoiseSeries>,
    excess: Excess,
    lines: LineChanges,
    /// Frequency of a carrier of both states, and how much higher it stands with the device on, dB.
    reference: Option<(f64, f64)>,
    /// Whether the excess is taken against it.
    corrected: bool,
    /// Power of the on side over that of the off side for the same noise.
    gain: f64,
}

impl Noise {
    /// `None` where the passbands have nothing in common. `moments`: when each take was made, off first, minutes.
    fn of(off: &[&Measurement], on: &[&Measurement], moments: &[f64], settings: &ContrastSettings) -> Option<Self> {
        let all: Vec<&Measurement> = off.iter().chain(on).copied().collect();
        let mut cells = Cells::of(&all, settings.passband)?;
        let takes_of = |cells: &Cells| -> Vec<Take> {
            let take = |(m, &at_min): (&&Measurement, &f64)| Take { series: cells.series(m), at_min, gain_db: 0.0 };
            all.iter().zip(moments).map(take).collect()
        };
        let excess_of = |cells: &Cells, takes: &[Take]| {
            let (off, on) = takes.split_at(off.len());
            Excess::of(cells, off, on, &settings.scatter)
        };
        let mut takes = takes_of(&cells);
        let mut excess = excess_of(&cells, &takes);
        let skirted = skirted(&excess.bands, &cells, off, on);
        if !skirted.is_empty() {
            cells = cells.without(&skirted);
            takes = takes_of(&cells);
            excess = excess_of(&cells, &takes);
        }
        let lines = LineChanges::of(off, on, &cells.passband, settings.mains_hz, settings.reference_hz);
        let reference = lines.reference();
        let corrected = reference.is_some_and(|carrier| tells_gain(carrier, &takes, off.len()));
        if let Some(carrier) = reference.filter(|_| corrected) {
            takes.iter_mut().zip(&carrier.steps_db).for_each(|(take, step)| take.gain_db = *step);
            excess = excess_of(&cells, &takes);
        }
        let reference = reference.map(|carrier| (carrier.freq_hz, carrier.shift_db));
        let gain = reference.filter(|_| corrected).map_or(1.0, |carrier| ratio_of_db(carrier.1));
        let mut series: Vec<NoiseSeries> = takes.into_iter().map(|take| take.series).collect();
        let on = series.split_off(off.len());
        Some(Self { cells, off: series, on, excess, lines, reference, corrected, gain })
    }

    /// What the kind of noise is judged by.
    fn facts<'a>(
        &'a self,
        off: &[&'a Measurement],
        on: &[&'a Measurement],
        settings: &ContrastSettings,
    ) -> Facts<'a> {
        let Self { cells, excess, lines, gain, .. } = self;
        let (passband, gain) = (&cells.passband, *gain);
        let all = || off.iter().chain(on);
        let (off_envelopes, on_envelopes) = (envelopes(off), envelopes(on));
        let cluster = Cluster::find(off, on, passband, gain, lines);
        Facts {
            excess,
            cluster,
            uncounted: Uncounted::of(cells, off, on, gain, excess, lines, cluster.as_ref(), settings.mains_hz),
            width_hz: passband.width_hz(),
            lines,
            surge: Surge::find(&self.off, &self.on, gain),
            visitor: Visitor::find(off, on, passband, gain),
            station: all().any(|m| m.has_station(passband)),
            voice: all().any(|m| m.has_voice()),
            warbles: all().any(|m| m.lines.iter().any(|line| line.warbles)),
            // Takes that repeat tell of the band themselves.
            quiet_moments: QuietMoments::of(&self.off, &self.on, gain),
            wander: (off.len() == 1 || on.len() == 1).then(|| Wander::of(&self.off, &self.on, cells.free_hz())),
            moves: all().any(|m| m.warnings.iter().any(|w| w.code == Code::GainMoving)),
            added: AddedNoise::of(&off_envelopes, &on_envelopes, gain),
            off: off_envelopes,
            on: on_envelopes,
            at_once: on.iter().map(|m| m.at_once.as_slice()).collect(),
            gain,
            mains_hz: settings.mains_hz,
            longer_beat: settings.beat,
        }
    }
}

fn compare(off: &[At<'_>], on: &[At<'_>], settings: &ContrastSettings) -> Contrast {
    let moments: Vec<f64> = off.iter().chain(on).map(|at| at.at_min).collect();
    let (off, on) = (&measurements(off)[..], &measurements(on)[..]);
    let Some(noise) = Noise::of(off, on, &moments, settings) else {
        return Contrast::void(Warning::new(
            Code::SettingsDiffer,
            "the passbands of off and on have nothing in common: mode or filter differ. Record both with the same \
             settings.",
        ));
    };
    let facts = noise.facts(off, on, settings);
    let traits = Traits::of(&noise.excess, &facts.off, &facts.on, noise.gain, settings.mains_hz);
    let mut verdict = facts.judge();
    let warnings = pair_warnings(&facts, noise.reference, noise.corrected, noise.cells.crowded, off, on);
    let (trust, spoilt_by) = trust(&noise.excess, &warnings, off, on, noise.corrected);
    if trust.is_void() {
        // Levels tell nothing then; a beat needs none, nor do lines that were shown to stand.
        verdict.character = match verdict.character {
            _ if verdict.pulse_period_s.is_some() => Character::Clicks,
            lines if lines.is_lines() && facts.stand_for_sure() => lines,
            _ => Character::Unclear,
        };
    }
    verdict.doubted(trust);
    let (cluster, uncounted) = (facts.cluster, facts.uncounted);
    let came = noise.lines.added_power() + cluster.map_or(0.0, |cluster| cluster.beside_lines);
    let total_db = total_db(&noise.excess, &verdict, came / noise.gain, facts.width_hz);
    Contrast {
        figures: Some(Figures {
            passband: noise.cells.passband,
            excess: noise.excess,
            total_db,
            reference: noise.reference,
            corrected: noise.corrected,
            lines: noise.lines,
            cluster,
            uncounted,
            verdict,
            traits,
            receiver: None,
        }),
        trust,
        warnings,
        set_aside: Vec::new(),
        spoilt_by,
    }
}

/// Whether the gain moved as this carrier has it. A carrier may fade, but one as steady as a reference must be that
/// stands at another level is better evidence of the gain than none: it is believed, and the result called
/// doubtful. Where takes repeat, they tell which it is: a gain taken off makes them agree, a fading carrier's does
/// not.
fn tells_gain(carrier: &Reference, takes: &[Take], off: usize) -> bool {
    if carrier.steps_db.iter().all(|step| step.abs() <= GAIN_SHIFT_DB) {
        return false;
    }
    let levels: Vec<f64> = takes.iter().map(|take| in_db(steady_level(&take.series.all))).collect();
    let apart = |levels: &[f64]| -> f64 {
        let (off, on) = levels.split_at(off);
        let squares = |side: &[f64]| standard_deviation(side).powi(2) * side.len().saturating_sub(1) as f64;
        squares(off) + squares(on)
    };
    let taken_off: Vec<f64> = levels.iter().zip(&carrier.steps_db).map(|(level, step)| level - step).collect();
    takes.len() == 2 || apart(&taken_off) < apart(&levels)
}

fn envelopes<'a>(side: &[&'a Measurement]) -> Vec<&'a Envelope> {
    side.iter().filter_map(|m| m.envelope.as_ref()).collect()
}

/// Noise before, with all that came with the device, over the noise before, dB.
fn total_db(excess: &Excess, verdict: &Verdict, lines_power: f64, width_hz: f64) -> f64 {
    let (before, after) = excess.density_by(verdict.pulse_rate_hz.is_some());
    in_db((after + lines_power / width_hz) / before)
}
