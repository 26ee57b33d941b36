//! The modulation spectrum: at which rates the noise power pulses, and how deeply.

use realfft::num_complex::Complex32;
use serde::{Deserialize, Serialize};

use crate::signal::spectrum::statistics::{line_threshold, median, median_over_mean, welch_dof};
use crate::signal::spectrum::{FramePlan, Stft};

/// Length of the stretches averaged; long enough to tell 50 Hz from a neighbour half a hertz away. Mathematics:
/// bins of half a hertz.
pub const STRETCH_S: f64 = 2.0;
/// Highest rate looked at. Chosen: the fifth multiple of 100 Hz; what pulses faster sounds as hash.
pub const HIGHEST_HZ: f64 = 500.0;
/// How far the mains may be off its nominal frequency (common practice: large networks keep within 0.4 %).
pub const MAINS_TOLERANCE: f64 = 0.006;
/// How well the place of a peak is known at least. Chosen: over half a bin.
const LEAST_TOLERANCE_HZ: f64 = 0.3;
/// Half the width of the neighbourhood that gives the local level. Chosen: 48 bins for a median, and not yet the
/// neighbours at 25 Hz.
const LOCAL_HALF_HZ: f64 = 12.0;

/// Bins on each side that belong to a line, its place being known to one; and how far above its neighbours it
/// stands alone. Mathematics: two of the Hann window's main lobe and one for its place. Chosen: 6 dB.
const LOBE_BINS: usize = 3;
const ALONE: f64 = 4.0;

/// Squared relative amplitude of the power envelope over rate: 1 where the power swings between 0 and twice its
/// mean as a sine does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Modulation {
    /// Distance of two values.
    pub bin_hz: f64,
    /// Squared relative amplitude a line in that bin would have.
    pub squared: Vec<f64>,
    /// Stretches averaged (they overlap by half).
    pub stretches: usize,
}

/// A rate at which the noise pulses.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RateLine {
    /// Base rate.
    pub rate_hz: f64,
    /// Relative amplitude of base and multiples together (root of the sum of squares).
    pub amplitude: f64,
    /// Share of its square that stands at odd multiples: next to nothing where the true rate is twice this one.
    pub odd_share: f64,
    /// Standard deviation of `amplitude` from noise.
    pub sigma: f64,
    /// Whether it stands above noise (false-alarm probability 1e-4 for the few rates tried), and above all else
    /// nearby: the beats of a station's tones come at many rates, those of the mains among them.
    pub present: bool,
    /// Whether the rate itself does, not multiples of it alone.
    pub base_present: bool,
}

impl Modulation {
    /// Smallest relative amplitude that would have been called at `rate_hz`.
    pub fn limit_at(&self, rate_hz: f64) -> f64 {
        let local = self.local_level(self.bin_of(rate_hz));
        (self.threshold(10.0) * local * ENBW).sqrt()
    }

    /// What stands at a rate and its multiples up to the fifth.
    pub fn at_rate(&self, nominal_hz: f64) -> RateLine {
        let mut total = 0.0;
        let mut odd = 0.0;
        let mut variance = 0.0;
        let (mut present, mut base_present) = (false, false);
        let mut rate_hz = nominal_hz;
        for multiple in 1..=5 {
            let wanted = nominal_hz * f64::from(multiple);
            if wanted > HIGHEST_HZ.min(self.bin_hz * self.squared.len() as f64 - 2.0 * LOCAL_HALF_HZ) {
                break;
            }
            let Some(found) = self.peak_near(wanted) else { continue };
            if found.ratio > self.threshold(2.0 * found.bins_tried) && self.stands_over(found.rate_hz, 1.0) {
                present = true;
                total += found.squared;
                odd += if multiple % 2 == 1 { found.squared } else { 0.0 };
                if multiple == 1 {
                    base_present = true;
                    rate_hz = found.rate_hz;
                }
            }
            variance += (found.local * ENBW).powi(2) / self.averages();
        }
        let amplitude = total.max(0.0).sqrt();
        // The amplitude's own spread: half the power's over the amplitude, or the root of the noise where none is
        // seen.
        let noise = variance.sqrt();
        let sigma = if amplitude > 0.0 {
            ((2.0 * total * self.local_level(self.bin_of(rate_hz)) * ENBW / self.averages() + noise * noise).sqrt()
                / (2.0 * amplitude))
                .max(1e-6)
        } else {
            noise.sqrt()
        };
        RateLine { rate_hz, amplitude, odd_share: odd / total.max(f64::MIN_POSITIVE), sigma, present, base_present }
    }

    /// Whether what stands at a rate stands far above all else nearby, as the multiples of even clicks do not.
    pub fn stands_alone(&self, rate_hz: f64) -> bool {
        self.stands_over(rate_hz, ALONE)
    }

    /// Whether what stands at a rate is more than so many times all else nearby.
    fn stands_over(&self, rate_hz: f64, times: f64) -> bool {
        let half = (LOCAL_HALF_HZ / self.bin_hz).round() as usize;
        let middle = self.bin_of(rate_hz);
        let (from, to) = (middle.saturating_sub(half).max(2), (middle + half + 1).min(self.squared.len()));
        let largest = |wanted: &dyn Fn(usize) -> bool| {
            (from..to).filter(|&k| wanted(k)).map(|k| self.squared[k]).fold(0.0, f64::max)
        };
        largest(&|k| k.abs_diff(middle) <= LOBE_BINS) > times * largest(&|k| k.abs_diff(middle) > LOBE_BINS)
    }

    /// Squared relative amplitude near one rate, multiples left out, and its standard deviation; (0, 0) beyond the
    /// highest rate looked at. What noise leaves there is taken off, so the value may be 0.
    pub fn squared_at(&self, rate_hz: f64) -> (f64, f64) {
        if rate_hz > HIGHEST_HZ.min(self.bin_hz * self.squared.len() as f64 - 2.0 * LOCAL_HALF_HZ) {
            return (0.0, 0.0);
        }
        let bin = self.bin_of(rate_hz);
        let noise = self.local_level(bin) * ENBW;
        let squared = self.peak_near(rate_hz).map_or(0.0, |found| found.squared);
        (squared, ((2.0 * squared * noise + noise * noise) / self.averages().max(1.0)).sqrt())
    }

    /// The strongest rate anywhere above `least_hz` that stands above noise, for rates that have nothing to do with
    /// the mains.
    pub fn strongest(&self, least_hz: f64) -> Option<RateLine> {
        let first = self.bin_of(least_hz);
        let end = self.bin_of(HIGHEST_HZ).min(self.squared.len().saturating_sub(2));
        let threshold = self.threshold((end.saturating_sub(first)) as f64);
        (first..end)
            .filter(|&k| self.squared[k] > threshold * self.local_level(k))
            .max_by(|&a, &b| self.squared[a].total_cmp(&self.squared[b]))
            .map(|k| self.at_rate(k as f64 * self.bin_hz))
    }

    /// Rates and relative amplitudes, for drawing.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let end = self.bin_of(HIGHEST_HZ);
        self.squared[..=end.min(self.squared.len().saturating_sub(1))]
            .iter()
            .enumerate()
            .skip(2)
            .map(|(k, squared)| (k as f64 * self.bin_hz, squared.sqrt()))
    }

    fn averages(&self) -> f64 {
        welch_dof(self.stretches as f64) / 2.0
    }

    fn threshold(&self, cells: f64) -> f64 {
        line_threshold(self.averages().max(1.0), cells.max(1.0), 1e-4)
    }

    fn bin_of(&self, rate_hz: f64) -> usize {
        ((rate_hz / self.bin_hz).round().max(0.0) as usize).min(self.squared.len().saturating_sub(1))
    }

    fn local_level(&self, bin: usize) -> f64 {
        let half = (LOCAL_HALF_HZ / self.bin_hz).round() as usize;
        let (from, to) = (bin.saturating_sub(half).max(2), (bin + half + 1).min(self.squared.len()));
        if from >= to {
            return f64::INFINITY;
        }
        median(&mut self.squared[from..to].to_vec()) / median_over_mean(self.averages().max(1.0))
    }

    fn peak_near(&self, rate_hz: f64) -> Option<Peak> {
        let reach = ((rate_hz * MAINS_TOLERANCE / self.bin_hz).ceil() as usize).max(1);
        let middle = self.bin_of(rate_hz);
        let (from, to) = (middle.saturating_sub(reach).max(2), (middle + reach).min(self.squared.len() - 2));
        let k = (from..=to).max_by(|&a, &b| self.squared[a].total_cmp(&self.squared[b]))?;
        let local = self.local_level(k);
        // Power of the line: its main lobe less the noise there, over the window's bandwidth.
        let lobe: f64 = self.squared[k - 1..=k + 1].iter().sum::<f64>() - 3.0 * local;
        let offset = {
            let (l, m, r) = (self.squared[k - 1], self.squared[k], self.squared[k + 1]);
            let bend = l - 2.0 * m + r;
            if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 }
        };
        let rate_found_hz = (k as f64 + offset) * self.bin_hz;
        if (rate_found_hz - rate_hz).abs() > (MAINS_TOLERANCE * rate_hz).max(LEAST_TOLERANCE_HZ) {
            return None;
        }
        Some(Peak {
            rate_hz: rate_found_hz,
            squared: (lobe / ENBW).max(0.0),
            ratio: self.squared[k] / local,
            local,
            bins_tried: (to - from + 1) as f64,
        })
    }
}

/// Equivalent noise bandwidth of the Hann window in bins: a line spreads its power so. Mathematics: 1.5.
const ENBW: f64 = crate::signal::spectrum::HANN_ENBW_BINS;

struct Peak {
    rate_hz: f64,
    squared: f64,
    ratio: f64,
    local: f64,
    bins_tried: f64,
}

/// Adds stretches of envelope up to a modulation spectrum.
pub struct ModulationBuilder {
    plan: FramePlan,
    stft: Stft,
    sum: Vec<f64>,
    stretches: usize,
    bin_hz: f64,
}

impl ModulationBuilder {
    /// For an envelope of this rate.
    pub fn new(rate_hz: f64) -> Self {
        let len = ((STRETCH_S * rate_hz) as usize).next_power_of_two();
        // The plan's sample rate only scales densities, which are not used here.
        let plan = FramePlan::new(rate_hz.round() as u32, len);
        Self {
            stft: Stft::new(&plan),
            sum: vec![0.0; plan.bins()],
            stretches: 0,
            bin_hz: rate_hz / len as f64,
            plan,
        }
    }

    /// Takes envelope values, FS².
    pub fn push(&mut self, envelope: &[f32]) {
        // The frame's own mean is taken from its first bin, so each stretch is relative to its own power.
        let sum = &mut self.sum;
        let stretches = &mut self.stretches;
        self.stft.push(envelope, |spectrum: &[Complex32]| {
            let mean = spectrum[0].re as f64;
            if mean > 0.0 {
                *stretches += 1;
                for (sum, value) in sum.iter_mut().zip(spectrum) {
                    *sum += 4.0 * value.norm_sqr() as f64 / (mean * mean);
                }
            }
        });
    }

    /// The spectrum, or `None` where the envelope was shorter than one stretch.
    pub fn finish(self) -> Option<Modulation> {
        let count = self.stretches as f64;
        (self.stretches > 0 && self.plan.bins() > 8).then(|| Modulation {
            bin_hz: self.bin_hz,
            squared: self.sum.iter().map(|sum| sum / count).collect(),
            stretches: self.stretches,
        })
    }
}
