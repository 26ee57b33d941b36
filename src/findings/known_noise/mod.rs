//! Known noises: what a device's noise is like, so that it is recognised when it is heard again, at another
//! strength, gain and background.
//!
//! Here: the signature, from the figures of one comparison. [`folder`] takes the comparisons and holds them against
//! a folder of the user's, or writes it; [`mod@resemblance`] says how alike two are (`carriers` by their carriers), [`in_one`] how alike a single
//! recording is, [`judge`] which of several it is, `words` what is said of it.

mod carriers;
pub mod folder;
pub mod in_one;
pub mod judge;
pub mod resemblance;
#[cfg(test)]
mod tests;
pub mod words;

use serde::{Deserialize, Serialize};

use crate::contrast::{Character, DeviceLine, Figures, Level, UNMOVED_HZ};
use crate::signal::spectrum::Line;
use crate::units::{in_db, ratio_of_db};

pub use judge::{Candidate, Resembles, resembling, resembling_by};
pub use resemblance::{Resemblance, resemblance};

/// Added densities that are less certain than this, in parts of the passband's mean, tell nothing of a shape.
const MOST_DOUBT: f64 = 0.6;
/// A shape needs at least this many parts of the passband.
const LEAST_BANDS: usize = 6;
/// Share of the added power from which a part of it is described.
const LEAST_SHARE: f64 = 0.1;
/// Shapes and depths within this of even are plain.
const PLAIN: f64 = 0.25;
/// Clicks that hold this share of the added noise are what its shape is taken from.
const CLICKS_LEAD: f64 = 0.5;

/// What one device's noise is like at one setting of the receiver. Nothing in it depends on its strength.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Signature {
    /// Dial frequency at which it was heard, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dial_khz: Option<f64>,
    /// Mode, likewise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<String>,
    /// Kind of noise, as the report names it; for the reader.
    pub kind: String,
    /// Total excess when it was learnt, dB; for the reader.
    pub total_excess_db: f64,
    /// Share of steady or pulsing noise in the added power, 0..1.
    pub noise_share: f64,
    /// Share of clicks.
    pub clicks_share: f64,
    /// Share of carriers.
    pub carriers_share: f64,
    /// Comb: distance of neighbouring carriers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comb_spacing_hz: Option<f64>,
    /// Clicks; `None` where there are none or too few.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clicks: Option<Clicks>,
    /// Added noise over frequency.
    #[serde(default)]
    pub shape: Vec<Point>,
    /// How deeply the added noise pulses at the mains rates.
    #[serde(default)]
    pub pulsing: Vec<Pulsing>,
    /// Carriers, strongest first.
    #[serde(default)]
    pub carriers: Vec<CarrierTrait>,
}

/// Added density in one part of the passband.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Audio frequency.
    pub hz: f64,
    /// Added power density over its mean in the passband (1: as the mean).
    pub relative: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// Pulsing at one rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pulsing {
    /// The rate.
    pub hz: f64,
    /// Relative amplitude of the added power: 1 where it swings between 0 and twice its mean as a sine does.
    pub depth: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// How clicks follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Clicks {
    /// Clicks a second.
    pub per_s: f64,
    /// How many were counted.
    pub count: usize,
    /// Standard deviation over mean of their distances: 1 for random ones, near 0 for even ones.
    pub irregularity: f64,
    /// Period of the beat they keep; `None` where they keep none, and in files of earlier versions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period_s: Option<f64>,
    /// Half its 95 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period_ci_s: Option<f64>,
}

/// A carrier that came with the device.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CarrierTrait {
    /// Audio frequency, in the middle of the recording if it drifts.
    pub hz: f64,
    /// Its power over that of the strongest one, dB.
    pub relative_db: f64,
    /// Drift.
    pub drift_hz_per_s: f64,
    /// How far it moved while it was recorded.
    pub moved_hz: f64,
}

impl Signature {
    /// Of the noise that a comparison found. `None` where nothing was added, or nothing that can be described.
    pub fn of(figures: &Figures) -> Option<Self> {
        let verdict = &figures.verdict;
        // An empty sum of floats is −0.
        let share = |wanted: &[Character]| -> f64 {
            verdict.parts.iter().filter(|part| wanted.contains(&part.character)).map(|part| part.share).sum::<f64>()
                + 0.0
        };
        let named_share = share(&[Character::Carriers, Character::Comb]);
        // Carriers too weak beside the noise to be a part of the verdict are heard all the same, and well placed.
        let beside_share = if named_share > 0.0 { 0.0 } else { share_of_sure(figures) };
        let noise_share = share(&[Character::Hash, Character::Buzz]) * (1.0 - beside_share);
        let clicks_share = share(&[Character::Clicks]) * (1.0 - beside_share);
        let carriers_share = named_share + beside_share;
        if noise_share + clicks_share + named_share <= 0.0 || verdict.character == Character::Unclear {
            return None;
        }
        let traits = &figures.traits;
        let broad_share = noise_share + clicks_share;
        let levels = if clicks_share > CLICKS_LEAD * broad_share { &traits.mean } else { &traits.steady };
        let pulsing = traits.pulsing.iter().map(|r| Pulsing { hz: r.rate_hz, depth: r.depth, sd: r.sd });
        let clicks = verdict.pulse_rate_hz.zip(traits.ticks).map(|(per_s, ticks)| Clicks {
            per_s,
            count: ticks.count,
            irregularity: ticks.irregularity,
            period_s: verdict.pulse_period_s.map(|period| period.value),
            period_ci_s: verdict.pulse_period_s.map(|period| (period.ci95.1 - period.ci95.0) / 2.0),
        });
        Some(Self {
            dial_khz: None,
            mode: None,
            kind: verdict.character.code().to_owned(),
            total_excess_db: figures.total_db,
            noise_share,
            clicks_share,
            carriers_share,
            comb_spacing_hz: figures.lines.comb.as_ref().map(|comb| comb.spacing_hz),
            clicks,
            shape: if broad_share >= LEAST_SHARE { shape(levels) } else { Vec::new() },
            pulsing: if noise_share >= LEAST_SHARE { pulsing.collect() } else { Vec::new() },
            carriers: carriers(figures, named_share > 0.0),
        })
    }
}

impl Signature {
    /// As a file has it: four digits are more than any of it is worth.
    #[must_use]
    pub fn rounded(mut self) -> Self {
        let four = |value: &mut f64| *value = (*value * 1e4).round() / 1e4 + 0.0;
        let shares = [&mut self.noise_share, &mut self.clicks_share, &mut self.carriers_share];
        shares.into_iter().chain([&mut self.total_excess_db]).chain(&mut self.comb_spacing_hz).for_each(four);
        self.clicks.iter_mut().flat_map(|c| [&mut c.per_s, &mut c.irregularity]).for_each(four);
        self.clicks.iter_mut().filter_map(|c| c.period_s.as_mut()).for_each(four);
        self.shape.iter_mut().flat_map(|p| [&mut p.hz, &mut p.relative]).for_each(four);
        self.pulsing.iter_mut().flat_map(|p| [&mut p.hz, &mut p.depth]).for_each(four);
        // A standard deviation of 0 would be certainty.
        let sds = self.shape.iter_mut().map(|p| &mut p.sd).chain(self.pulsing.iter_mut().map(|p| &mut p.sd));
        let of_beat = self.clicks.iter_mut().filter_map(|c| c.period_ci_s.as_mut());
        sds.chain(of_beat).for_each(|sd| *sd = (*sd * 1e4).ceil() / 1e4);
        for carrier in &mut self.carriers {
            let CarrierTrait { hz, relative_db, drift_hz_per_s, moved_hz } = carrier;
            [hz, relative_db, drift_hz_per_s, moved_hz].into_iter().for_each(four);
        }
        self
    }

    /// Whether it is steady, even hash, which has little of its own: many devices sound so.
    pub fn is_plain(&self) -> bool {
        let even = self.shape.iter().all(|point| (point.relative - 1.0).abs() < PLAIN + 2.0 * point.sd);
        even && self.noise_share > 0.9 && self.pulsing.iter().all(|rate| rate.depth < PLAIN)
    }

    /// Whether every figure is one that a noise can have: a file may have been edited.
    pub fn is_sane(&self) -> bool {
        let share = |value: f64| (-0.01..=1.01).contains(&value);
        let positive = |value: f64| value.is_finite() && value > 0.0;
        [self.noise_share, self.clicks_share, self.carriers_share].into_iter().all(share)
            && self.dial_khz.is_none_or(positive)
            && self.comb_spacing_hz.is_none_or(positive)
            && self.clicks.is_none_or(|c| {
                let beat = [c.period_s, c.period_ci_s];
                positive(c.per_s) && c.irregularity.is_finite() && beat.into_iter().flatten().all(positive)
            })
            && self.shape.iter().all(|p| positive(p.hz) && p.relative.is_finite() && positive(p.sd))
            && self.shape.windows(2).all(|pair| pair[0].hz < pair[1].hz)
            && self.pulsing.iter().all(|p| positive(p.hz) && p.depth.is_finite() && positive(p.sd))
            && self.carriers.iter().all(|c| {
                let figures = [c.relative_db, c.drift_hz_per_s, c.moved_hz];
                positive(c.hz) && c.moved_hz >= 0.0 && figures.into_iter().all(f64::is_finite)
            })
    }
}

/// Densities over their mean; empty where they tell no shape.
fn shape(levels: &[Level]) -> Vec<Point> {
    let mean = levels.iter().map(|level| level.density).sum::<f64>() / levels.len().max(1) as f64;
    if mean <= 0.0 {
        return Vec::new();
    }
    let points: Vec<Point> = levels
        .iter()
        .map(|level| Point { hz: level.freq_hz, relative: level.density / mean, sd: level.sd / mean })
        .filter(|point| point.relative.is_finite() && point.sd < MOST_DOUBT)
        .collect();
    if points.len() < LEAST_BANDS { Vec::new() } else { points }
}

/// Share of the added power that lines hold which are carriers for certain, 0..1.
fn share_of_sure(figures: &Figures) -> f64 {
    let sure = figures.lines.added.iter().filter(|found| found.sure);
    let power = sure.map(|found| found.added_power).sum::<f64>() / ratio_of_db(figures.gain_db());
    // An empty sum of floats is −0.
    (power / figures.verdict.added_power.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0) + 0.0
}

/// Carriers, strongest first. `named`: whether the verdict names them; else only those that are sure.
fn carriers(figures: &Figures, named: bool) -> Vec<CarrierTrait> {
    let meant = |found: &&DeviceLine| found.added_power > 0.0 && (named || found.sure);
    let added = || figures.lines.added.iter().filter(meant);
    let strongest = added().map(|found| found.added_power).fold(0.0, f64::max);
    added().map(|found| CarrierTrait::of(&found.line, found.added_power / strongest)).collect()
}

impl CarrierTrait {
    /// Of a line with so many times the power of the strongest one.
    fn of(line: &Line, relative: f64) -> Self {
        // Within a bin its places scatter with the noise: that is no motion.
        let moved_hz = Some(line.span_hz.1 - line.span_hz.0).filter(|moved| *moved > UNMOVED_HZ);
        Self {
            hz: line.freq_hz,
            relative_db: in_db(relative),
            drift_hz_per_s: line.drift_hz_per_s,
            moved_hz: moved_hz.unwrap_or(0.0),
        }
    }
}
