//! The frequency of a steady line to a small part of a bin, from its phase over the whole stretch.

use std::f64::consts::TAU;

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

/// What the phase of a line tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Frequency in the middle of the stretch.
    pub freq_hz: f64,
    /// Drift.
    pub drift_hz_per_s: f64,
    /// Mean square of the coherent sine, FS².
    pub power: f64,
}

/// Rate after mixing down; a line's neighbours further away than this are filtered out.
const BASE_RATE_HZ: f64 = 64.0;
/// Drifts tried on each side of the one expected.
const DRIFTS_EACH_SIDE: i32 = 10;

/// Finds the sine with linear drift that explains most of `samples` near `freq_hz` (in the middle, within ±6 Hz) and
/// `drift_hz_per_s`. `None` for less than a second.
///
/// The estimate is the maximum of the chirp periodogram, which for one tone in Gaussian noise is the maximum-likelihood
/// one and reaches the bound of D. C. Rife and R. R. Boorstyn, IEEE Trans. IT-20, 1974 (from memory), above threshold.
pub fn refine_tone(samples: &[f32], rate_hz: f64, freq_hz: f64, drift_hz_per_s: f64) -> Option<Tone> {
    let base = mix_down(samples, rate_hz, freq_hz, drift_hz_per_s);
    let seconds = base.values.len() as f64 / base.rate_hz;
    if seconds < 1.0 {
        return None;
    }
    let size = (4 * base.values.len()).next_power_of_two();
    let fft = FftPlanner::new().plan_fft_forward(size);
    let step = 0.5 / (seconds * seconds);
    let middle = (base.values.len() as f64 - 1.0) / 2.0;
    let widest = (6.0 / base.rate_hz * size as f64) as usize;
    let peak = |drift: f64| -> (f64, f64) {
        let mut buffer = vec![Complex64::ZERO; size];
        for (n, (out, &value)) in buffer.iter_mut().zip(&base.values).enumerate() {
            let t = (n as f64 - middle) / base.rate_hz;
            *out = value * Complex64::cis(-TAU * 0.5 * drift * t * t);
        }
        fft.process(&mut buffer);
        let at = |k: isize| buffer[k.rem_euclid(size as isize) as usize].norm_sqr();
        let best = (-(widest as isize)..=widest as isize)
            .max_by(|&a, &b| at(a).total_cmp(&at(b)))
            .expect("the range holds at least one bin");
        let (offset, height) = vertex(at(best - 1), at(best), at(best + 1));
        ((best as f64 + offset) * base.rate_hz / size as f64, height)
    };
    let (_, mut drift, mut shift) = (-DRIFTS_EACH_SIDE..=DRIFTS_EACH_SIDE)
        .map(|step_no| {
            let drift = f64::from(step_no) * step;
            let (shift, height) = peak(drift);
            (height, drift, shift)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    // The transform's grid is coarse: close in on the maximum by parabolas of shrinking width, frequency and drift in
    // turn. They hardly depend on each other, since the frequency is that of the middle.
    let mut height = 0.0;
    for round in 0..4 {
        let (wide_hz, wide_drift) = (0.125 / seconds / 6f64.powi(round), step / 6f64.powi(round));
        let in_shift = [-wide_hz, 0.0, wide_hz].map(|d| base.power_at(shift + d, drift));
        shift += wide_hz * vertex(in_shift[0], in_shift[1], in_shift[2]).0;
        let in_drift = [-wide_drift, 0.0, wide_drift].map(|d| base.power_at(shift, drift + d));
        drift += wide_drift * vertex(in_drift[0], in_drift[1], in_drift[2]).0;
        height = in_drift[1];
    }
    let count = base.values.len() as f64;
    Some(Tone {
        // Blocks leave a rest of samples: from the middle of what they used to the middle of all.
        freq_hz: freq_hz + shift + (drift_hz_per_s + drift) * base.unused_s / 2.0,
        drift_hz_per_s: drift_hz_per_s + drift,
        power: 2.0 * height / (count * count),
    })
}

struct Base {
    values: Vec<Complex64>,
    rate_hz: f64,
    /// Length of the samples at the end that no block took.
    unused_s: f64,
}

impl Base {
    /// Squared magnitude of the sum over all values with a tone of this frequency and drift taken off.
    fn power_at(&self, freq_hz: f64, drift_hz_per_s: f64) -> f64 {
        let middle = (self.values.len() as f64 - 1.0) / 2.0;
        let turned = self.values.iter().enumerate().map(|(n, value)| {
            let t = (n as f64 - middle) / self.rate_hz;
            value * Complex64::cis(-TAU * (freq_hz * t + 0.5 * drift_hz_per_s * t * t))
        });
        turned.sum::<Complex64>().norm_sqr()
    }
}

/// Multiplies with the expected tone's conjugate and averages over half-overlapped Hann blocks; a sine of mean square
/// P comes out with |value|² = P/2.
fn mix_down(samples: &[f32], rate_hz: f64, freq_hz: f64, drift_hz_per_s: f64) -> Base {
    let hop = (rate_hz / BASE_RATE_HZ).round().max(1.0) as usize;
    let block = 2 * hop;
    let blocks = (samples.len() / hop).saturating_sub(1);
    let used = (blocks + 1) * hop;
    let middle_s = (used as f64) / 2.0 / rate_hz;
    let window: Vec<f64> = (0..block).map(|n| 0.5 - 0.5 * (TAU * n as f64 / block as f64).cos()).collect();
    let mut values = vec![Complex64::ZERO; blocks];
    for half in 0..=blocks {
        let (start, end) = (half * hop, (half + 1) * hop);
        if end > samples.len() {
            break;
        }
        // The phase is exact at the start of each half block; within it the frequency is taken as constant.
        let t = start as f64 / rate_hz - middle_s;
        let mut turn = Complex64::cis(-TAU * (freq_hz * t + 0.5 * drift_hz_per_s * t * t));
        let step = Complex64::cis(-TAU * (freq_hz + drift_hz_per_s * (t + 0.5 * hop as f64 / rate_hz)) / rate_hz);
        for (n, &x) in samples[start..end].iter().enumerate() {
            let mixed = turn * x as f64;
            if half < blocks {
                values[half] += mixed * window[n];
            }
            if half > 0 {
                values[half - 1] += mixed * window[n + hop];
            }
            turn *= step;
        }
    }
    let scale = 1.0 / hop as f64;
    Base {
        values: values.into_iter().map(|value| value * scale).collect(),
        rate_hz: rate_hz / hop as f64,
        unused_s: samples.len().saturating_sub(used) as f64 / rate_hz,
    }
}

/// Vertex of the parabola through three values one apart: (offset from the middle one, height).
fn vertex(left: f64, middle: f64, right: f64) -> (f64, f64) {
    let bend = left - 2.0 * middle + right;
    if bend >= 0.0 {
        return (0.0, middle);
    }
    let offset = (0.5 * (left - right) / bend).clamp(-1.0, 1.0);
    (offset, middle - 0.25 * (left - right) * offset)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clean_sine_is_found_to_a_millihertz_with_its_power() {
        let rate = 12_000.0;
        let x: Vec<f32> = (0..120_000)
            .map(|n| {
                let t = n as f64 / rate - 5.0;
                (0.1 * (TAU * (1000.37 * t + 0.5 * 0.2 * t * t) + 0.7).sin()) as f32
            })
            .collect();
        let tone = refine_tone(&x, rate, 1001.5, 0.19).unwrap();
        assert!((tone.freq_hz - 1000.37).abs() < 1e-5, "{tone:?}");
        assert!((tone.drift_hz_per_s - 0.2).abs() < 1e-5, "{tone:?}");
        assert!((tone.power / 0.005 - 1.0).abs() < 0.02, "{tone:?}");
    }
}
