//! The noise level of a step: the power of the passband as its quieter bins tell it, so that lines and stations,
//! which only ever lift bins, are kept out.
//!
//! The passband is cut into narrow bands of some 300 Hz. In each, a low quantile of the bins, taken relative to the
//! shape that the recording's noise has, and corrected for where that quantile lies in plain noise, gives the
//! level. Not here: steps in which everything is lifted at once (`timeline`'s minutes take quantiles over them).

use crate::signal::spectrum::HANN_ENBW_BINS;
use crate::signal::spectrum::statistics::{mean_power_quantile, welch_dof};

/// Width of a band: narrow enough to follow a spectrum that slopes otherwise than the recording's does on the
/// whole (chosen).
const SUB_BAND_HZ: f64 = 300.0;
/// Fewest bins of a band that still have a quantile (chosen).
const LEAST_BINS: usize = 12;
/// Which quantile. Chosen: a band may be filled by lines or voice to two thirds; lower ones scatter more.
const QUANTILE: f64 = 0.3;
/// Standard deviations that a frame's power in the passband stands over that of the quieter quarter of its step
/// before it is called lifted: by a syllable, a crash, a click. Plain noise does so in one frame of fifty thousand
/// (chosen).
const LIFTED_SIGMAS: f64 = 5.0;
/// Finds noise levels in spectra of one recording's passband.
#[derive(Debug, Clone)]
pub(crate) struct NoiseLevel {
    /// One over the noise's usual density, Hz/FS², for each bin of the passband.
    inverse: Vec<f32>,
    bands: Vec<SubBand>,
    /// By frames averaged, from 1 on: what the quantile of plain noise is, relative to its mean.
    corrections: Vec<f64>,
}

#[derive(Debug, Clone, Copy)]
struct SubBand {
    from: usize,
    to: usize,
    /// Power of the shape in it, FS².
    power: f64,
}

impl NoiseLevel {
    /// `shape`: noise density over the bins of the passband, all above 0. `frames`: most frames averaged.
    pub fn new(shape: &[f64], bin_hz: f64, frames: usize) -> Self {
        let bins = shape.len();
        let count = ((bins as f64 * bin_hz / SUB_BAND_HZ).round() as usize).clamp(1, (bins / LEAST_BINS).max(1));
        let bands: Vec<SubBand> = (0..count)
            .map(|n| {
                let (from, to) = (n * bins / count, (n + 1) * bins / count);
                SubBand { from, to, power: shape[from..to].iter().sum::<f64>() * bin_hz }
            })
            .collect();
        let width = bins / count;
        // The k-th of n ordered values lies on average at probability k/(n + 1).
        let at = (rank(width) + 1) as f64 / (width + 1) as f64;
        Self {
            inverse: shape.iter().map(|&density| (1.0 / density) as f32).collect(),
            bands,
            corrections: (1..=frames).map(|n| mean_power_quantile(welch_dof(n as f64) / 2.0, at)).collect(),
        }
    }

    /// Noise power in the passband, FS². `density`: one value a bin of the passband, FS²/Hz, the mean of `frames`.
    pub fn power(&self, density: &[f32], frames: usize, scratch: &mut Vec<u32>) -> f64 {
        let correction = self.correction(frames);
        self.bands.iter().map(|band| self.level(band, density, scratch) / correction * band.power).sum()
    }

    /// A frame whose power in the passband is this many times that of the quieter frames beside it is not noise
    /// alone.
    ///
    /// The power of `n` bins of one Hann frame has the relative standard deviation √(1.5/n): neighbouring bins are
    /// not independent, and the window's noise bandwidth is 1.5 of them.
    pub fn lifted_at(&self) -> f32 {
        (1.0 + LIFTED_SIGMAS * (HANN_ENBW_BINS / self.inverse.len().max(1) as f64).sqrt()) as f32
    }

    /// Level of a band relative to its shape, not corrected.
    fn level(&self, band: &SubBand, density: &[f32], scratch: &mut Vec<u32>) -> f64 {
        let bins = band.from..band.to;
        let relative =
            density[bins.clone()].iter().zip(&self.inverse[bins]).map(|(value, inverse)| value * inverse);
        scratch.clear();
        // None is below zero, and so their bits are in the same order as they are, and quicker to compare.
        scratch.extend(relative.map(f32::to_bits));
        let rank = rank(scratch.len());
        f64::from(f32::from_bits(*scratch.select_nth_unstable(rank).1))
    }

    fn correction(&self, frames: usize) -> f64 {
        let last = self.corrections.len();
        self.corrections.get(frames.clamp(1, last.max(1)) - 1).copied().unwrap_or(1.0)
    }
}

/// Place of the quantile among `count` ordered values.
fn rank(count: usize) -> usize {
    (QUANTILE * count as f64) as usize
}
