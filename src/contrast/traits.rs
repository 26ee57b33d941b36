//! What the added noise is like, whatever its strength, the gain and the noise it is added to: its density over
//! frequency, how it pulses with the mains, how its clicks follow each other. Not here: what kind it is
//! (`character`), whether two such noises are alike (`findings::known_noise`).

use serde::{Deserialize, Serialize};

use super::excess::Excess;
use crate::signal::envelope::Envelope;
use crate::units::ratio_of_db;

/// Multiples of the mains frequency at which the pulsing is taken: up to 500 Hz at 50 Hz mains. Mathematics:
/// `envelope::modulation::HIGHEST_HZ` over 50 Hz.
const MULTIPLES: u32 = 10;

/// A power density of the added noise in one part of the passband.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Level {
    /// Its middle.
    pub freq_hz: f64,
    /// Added density, FS²/Hz; below 0 where chance has it so.
    pub density: f64,
    /// Its standard deviation, beside what all parts of the passband share.
    pub sd: f64,
}

/// How deeply the added noise pulses at one rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rate {
    /// The rate.
    pub rate_hz: f64,
    /// Relative amplitude of the added power: 1 where it swings between 0 and twice its mean as a sine does.
    pub depth: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// How the pulses follow each other with the device on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ticks {
    /// How many were counted.
    pub count: usize,
    /// Standard deviation over mean of their distances: 1 for random ones, near 0 for even ones.
    pub irregularity: f64,
}

/// What the added noise is like.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Traits {
    /// Over frequency, by the level that most slices keep to.
    pub steady: Vec<Level>,
    /// The same by the mean, which clicks lift too.
    pub mean: Vec<Level>,
    /// At the multiples of the mains frequency; empty where no noise is added.
    pub pulsing: Vec<Rate>,
    /// Pulses; `None` for fewer than six.
    pub ticks: Option<Ticks>,
}

impl Traits {
    /// From the excess over frequency and the envelopes of both sides; `gain`: what the on side's gain is above the
    /// off side's (ratio of powers).
    pub(super) fn of(excess: &Excess, off: &[&Envelope], on: &[&Envelope], gain: f64, mains_hz: f64) -> Self {
        let level = |freq_hz: f64, before: f64, excess_db: f64, sd_db: f64| {
            let ratio = ratio_of_db(excess_db);
            Level { freq_hz, density: before * (ratio - 1.0), sd: before * ratio * sd_db * 10f64.ln() / 10.0 }
        };
        let bands = || excess.bands.iter();
        Self {
            // What whole takes differ by moves all parts of the passband together: that is no other shape.
            steady: bands()
                .map(|band| level(band.freq_hz, band.before.0, band.excess.value, band.within_db))
                .collect(),
            mean: bands()
                .map(|band| level(band.freq_hz, band.before.1, band.mean_db.0, band.mean_within_db))
                .collect(),
            pulsing: pulsing(off, on, gain, mains_hz),
            ticks: on
                .iter()
                .filter_map(|e| Some(Ticks { count: e.pulses.count, irregularity: e.irregularity()? }))
                .min_by(|a, b| a.irregularity.total_cmp(&b.irregularity)),
        }
    }
}

/// Squared amplitudes add as powers do where both sides pulse at a rate with phases of their own.
fn pulsing(off: &[&Envelope], on: &[&Envelope], gain: f64, mains_hz: f64) -> Vec<Rate> {
    let mean = |side: &[&Envelope]| side.iter().map(|e| e.modulated_mean).sum::<f64>() / side.len().max(1) as f64;
    let added = mean(on) / gain - mean(off);
    let known = |side: &[&Envelope]| side.iter().any(|e| e.modulation.is_some());
    if added <= 0.0 || !known(on) || !known(off) {
        return Vec::new();
    }
    // Squared amplitude in power, FS⁴, and its variance: the mean over the recordings of a side.
    let squared = |side: &[&Envelope], rate_hz: f64| {
        let each: Vec<(f64, f64)> = side
            .iter()
            .filter_map(|e| {
                let (squared, sd) = e.modulation.as_ref()?.squared_at(rate_hz);
                Some((squared * e.modulated_mean.powi(2), (sd * e.modulated_mean.powi(2)).powi(2)))
            })
            .collect();
        let n = each.len() as f64;
        (each.iter().map(|v| v.0).sum::<f64>() / n, each.iter().map(|v| v.1).sum::<f64>() / (n * n))
    };
    (1..=MULTIPLES)
        .map(|multiple| {
            let rate_hz = f64::from(multiple) * mains_hz;
            let (before, before_variance) = squared(off, rate_hz);
            let (after, after_variance) = squared(on, rate_hz);
            let depth2 = (after / gain.powi(2) - before).max(0.0) / added.powi(2);
            let sd2 = (after_variance / gain.powi(4) + before_variance).sqrt() / added.powi(2);
            let depth = depth2.sqrt();
            // The root's own spread: half the square's over the root, at most the root of it.
            let sd = if depth2 > sd2 { sd2 / (2.0 * depth) } else { sd2.sqrt() };
            Rate { rate_hz, depth, sd }
        })
        .filter(|rate| rate.depth.is_finite() && rate.sd.is_finite() && rate.sd > 0.0)
        .collect()
}
