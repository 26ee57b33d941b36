//! A line mixed down to a few samples a second: its phase tells the frequency, its size whether it is keyed.

use std::f64::consts::{PI, TAU};

use rustfft::num_complex::Complex64;

use super::window::HANN_ENBW_BINS;
use crate::wide::wide;

/// The surroundings of a line, its expected place moved to 0 Hz. A sine of mean square P has |value|² = P/2.
pub struct MixedDown {
    /// What became 0 Hz, in the middle of what was used.
    pub freq_hz: f64,
    /// Drift that was taken off.
    pub drift_hz_per_s: f64,
    /// One value each half block.
    pub values: Vec<Complex64>,
    /// Values a second.
    pub rate_hz: f64,
    /// Length of the samples at the end that no block took.
    pub unused_s: f64,
}

impl MixedDown {
    /// Rate after mixing down, values a second; neighbours further away than this are filtered out. Chosen: a power
    /// of two that keeps neighbours from 60 Hz on out.
    pub const NARROW_HZ: f64 = 64.0;
    /// The same where a line is followed. Chosen: of what stands one such rate away, and folds back upon the line,
    /// 40 dB are taken off; a station in the next rooms of the dial is up to 50 dB over the noise.
    pub const WIDE_HZ: f64 = 512.0;

    /// What of a power so far off gets through the blocks of that rate. Mathematics: the Hann window's spectrum
    /// (F. J. Harris, Proc. IEEE 66, 1978; from memory).
    pub fn lets_through(base_hz: f64, off_hz: f64) -> f64 {
        let u = 2.0 * off_hz.abs() / base_hz;
        let sinc = if u < 1e-6 { 1.0 } else { (PI * u).sin() / (PI * u) };
        if (u - 1.0).abs() < 1e-6 { 0.25 } else { (sinc / (1.0 - u * u)).powi(2) }
    }

    /// Multiplies with the expected tone's conjugate and averages over half-overlapped Hann blocks. `freq_hz`: in
    /// the middle of the samples. `base_hz`: values a second, about.
    pub fn of(samples: &[f32], rate_hz: f64, base_hz: f64, freq_hz: f64, drift_hz_per_s: f64) -> Self {
        let hop = (rate_hz / base_hz).round().max(1.0) as usize;
        let block = 2 * hop;
        let blocks = (samples.len() / hop).saturating_sub(1);
        let used = (blocks + 1) * hop;
        let middle_s = (used as f64) / 2.0 / rate_hz;
        let window: Vec<f64> = (0..block).map(|n| 0.5 - 0.5 * (TAU * n as f64 / block as f64).cos()).collect();
        let mut values = vec![Complex64::ZERO; blocks];
        // The phase is exact at the start of each half block; within it the frequency is taken as constant. Each
        // turn is the last one times a leap, which itself turns evenly.
        let (start_s, each_s) = (-middle_s, hop as f64 / rate_hz);
        let phase = |turns: f64| Complex64::cis(-TAU * turns);
        let mut turn = phase(freq_hz * start_s + 0.5 * drift_hz_per_s * start_s * start_s);
        let at_middle_hz = freq_hz + drift_hz_per_s * (start_s + 0.5 * each_s);
        let (mut leap, more_leap) = (phase(at_middle_hz * each_s), phase(drift_hz_per_s * each_s * each_s));
        let (mut step, more_step) = (phase(at_middle_hz / rate_hz), phase(drift_hz_per_s * each_s / rate_hz));
        for (half, samples) in samples.chunks_exact(hop).enumerate() {
            let (rising, falling) = wide(|| turned(samples, turn, step, window.split_at(hop)));
            if half < blocks {
                values[half] += rising;
            }
            if half > 0 {
                values[half - 1] += falling;
            }
            turn *= leap;
            leap *= more_leap;
            step *= more_step;
        }
        let scale = 1.0 / hop as f64;
        Self {
            freq_hz,
            drift_hz_per_s,
            values: values.into_iter().map(|value| value * scale).collect(),
            rate_hz: rate_hz / hop as f64,
            unused_s: samples.len().saturating_sub(used) as f64 / rate_hz,
        }
    }

    /// |value|² of each value of [`MixedDown::of`] without drift, and values a second. Without its phase a value is
    /// one product with the same weights, block by block.
    pub fn powers(samples: &[f32], rate_hz: f64, base_hz: f64, freq_hz: f64) -> (Vec<f64>, f64) {
        let hop = (rate_hz / base_hz).round().max(1.0) as usize;
        let block = 2 * hop;
        // Weights of no effect fill the last lanes.
        let weights: Vec<[[f32; WIDE]; 2]> = (0..block.div_ceil(WIDE))
            .map(|piece| {
                let weight = |lane: usize| {
                    let n = piece * WIDE + lane;
                    let window = 0.5 - 0.5 * (TAU * n as f64 / block as f64).cos();
                    let weight = Complex64::cis(-TAU * freq_hz * n as f64 / rate_hz) * window / hop as f64;
                    if n < block { weight } else { Complex64::ZERO }
                };
                [
                    std::array::from_fn(|lane| weight(lane).re as f32),
                    std::array::from_fn(|lane| weight(lane).im as f32),
                ]
            })
            .collect();
        let power = |samples: &[f32]| {
            let mut sums = [[0.0; WIDE]; 2];
            let mut add = |samples: &[f32; WIDE], [re, im]: &[[f32; WIDE]; 2]| {
                for lane in 0..WIDE {
                    sums[0][lane] += samples[lane] * re[lane];
                    sums[1][lane] += samples[lane] * im[lane];
                }
            };
            let (pieces, rest) = samples.as_chunks();
            pieces.iter().zip(&weights).for_each(|(samples, weights)| add(samples, weights));
            if let (false, Some(weights)) = (rest.is_empty(), weights.last()) {
                add(&std::array::from_fn(|lane| rest.get(lane).copied().unwrap_or_default()), weights);
            }
            sums.map(|lanes| f64::from(lanes.iter().sum::<f32>()).powi(2)).iter().sum()
        };
        let blocks = (samples.len() / hop).saturating_sub(1);
        let values = wide(|| (0..blocks).map(|n| power(&samples[n * hop..n * hop + block])).collect());
        (values, rate_hz / hop as f64)
    }

    /// Bandwidth of noise in a value: blocks last two steps.
    pub fn noise_bandwidth_hz(&self) -> f64 {
        HANN_ENBW_BINS * self.rate_hz / 2.0
    }

    /// Squared magnitude of the sum over all values with a tone of this frequency and drift taken off.
    pub fn power_at(&self, freq_hz: f64, drift_hz_per_s: f64) -> f64 {
        let t = (1.0 - self.values.len() as f64) / 2.0 / self.rate_hz;
        let each_s = 1.0 / self.rate_hz;
        // The turn of a value is that of the last one times a step, which itself turns evenly.
        let mut turn = Complex64::cis(-TAU * (freq_hz * t + 0.5 * drift_hz_per_s * t * t));
        let mut step = Complex64::cis(-TAU * (freq_hz + drift_hz_per_s * (t + 0.5 * each_s)) * each_s);
        let more = Complex64::cis(-TAU * drift_hz_per_s * each_s * each_s);
        let mut sum = Complex64::ZERO;
        for value in &self.values {
            sum += value * turn;
            turn *= step;
            step *= more;
        }
        sum.norm_sqr()
    }
}

/// Phases that are turned on side by side: one alone would wait for itself at every sample. Chosen: what common
/// processors have room for.
const LANES: usize = 4;
/// The same for sums without a phase. Chosen: one vector of the processors of this decade, two of older ones.
const WIDE: usize = 8;

/// The sums of samples times a phase that begins with `turn` and turns on by `step`, weighted by the two halves of a
/// window.
#[inline(always)]
fn turned(
    samples: &[f32],
    turn: Complex64,
    step: Complex64,
    (rising, falling): (&[f64], &[f64]),
) -> (Complex64, Complex64) {
    let mut turns = [turn; LANES];
    for n in 1..LANES {
        turns[n] = turns[n - 1] * step;
    }
    let leap = step.powu(LANES as u32);
    let mut sums = [[Complex64::ZERO; LANES]; 2];
    let pieces = samples.chunks(LANES).zip(rising.chunks(LANES)).zip(falling.chunks(LANES));
    for ((samples, rising), falling) in pieces {
        for (n, ((&x, up), down)) in samples.iter().zip(rising).zip(falling).enumerate() {
            let mixed = turns[n] * f64::from(x);
            sums[0][n] += mixed * up;
            sums[1][n] += mixed * down;
            turns[n] *= leap;
        }
    }
    let [rising, falling] = sums.map(|lanes| lanes.into_iter().sum());
    (rising, falling)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the definition, |value|² of the values with their phase. Tolerance: rounding of f32 sums.
    #[test]
    fn powers_are_those_of_the_values() {
        // A short formula of no period: noise enough.
        let samples: Vec<f32> = (0..5003).map(|n| ((n * n) as f32 * 0.7).sin() * 0.1).collect();
        for rate_hz in [8000.0, 12_000.0, 44_100.0] {
            let values = MixedDown::of(&samples, rate_hz, MixedDown::WIDE_HZ, 1100.0, 0.0);
            let (powers, per_s) = MixedDown::powers(&samples, rate_hz, MixedDown::WIDE_HZ, 1100.0);
            assert_eq!((powers.len(), per_s), (values.values.len(), values.rate_hz));
            let typical = powers.iter().sum::<f64>() / powers.len() as f64;
            for (power, value) in powers.iter().zip(&values.values) {
                assert!(
                    (power - value.norm_sqr()).abs() < 1e-4 * (typical + power),
                    "{power} {}",
                    value.norm_sqr()
                );
            }
        }
    }
}
