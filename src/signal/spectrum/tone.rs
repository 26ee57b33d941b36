//! The frequency of a steady line to a small part of a bin, from its phase over the whole stretch.

use std::f64::consts::TAU;

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

use super::mixed_down::MixedDown;

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

/// Drifts tried on each side of the one expected.
const DRIFTS_EACH_SIDE: i32 = 10;

/// Finds the sine with linear drift that explains most of what was mixed down, within ±6 Hz of where the mixing was
/// centred in the middle. `None` for less than a second.
///
/// The estimate is the maximum of the chirp periodogram, which for one tone in Gaussian noise is the
/// maximum-likelihood one and reaches the bound of D. C. Rife and R. R. Boorstyn, IEEE Trans. IT-20, 1974 (from
/// memory), above threshold.
pub fn refine_tone(base: &MixedDown) -> Option<Tone> {
    let seconds = base.values.len() as f64 / base.rate_hz;
    if seconds < 1.0 {
        return None;
    }
    let size = (4 * base.values.len()).next_power_of_two();
    let fft = FftPlanner::new().plan_fft_forward(size);
    let step = 0.5 / (seconds * seconds);
    let middle = (base.values.len() as f64 - 1.0) / 2.0;
    let widest = (6.0 / base.rate_hz * size as f64) as usize;
    // What takes a step of drift off each value; as often as a drift has steps, it takes off that.
    let turns: Vec<Complex64> = (0..base.values.len())
        .map(|n| {
            let t = (n as f64 - middle) / base.rate_hz;
            Complex64::cis(-TAU * 0.5 * step * t * t)
        })
        .collect();
    let mut turned: Vec<Complex64> = base
        .values
        .iter()
        .zip(&turns)
        .map(|(value, turn)| value * turn.conj().powu(DRIFTS_EACH_SIDE as u32))
        .collect();
    let mut buffer = vec![Complex64::ZERO; size];
    let mut scratch = vec![Complex64::ZERO; fft.get_inplace_scratch_len()];
    let mut peak = || -> (f64, f64) {
        buffer[..turned.len()].copy_from_slice(&turned);
        buffer[turned.len()..].fill(Complex64::ZERO);
        turned.iter_mut().zip(&turns).for_each(|(value, turn)| *value *= turn);
        fft.process_with_scratch(&mut buffer, &mut scratch);
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
            let (shift, height) = peak();
            (height, drift, shift)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    // The transform's grid is coarse: close in on the maximum by parabolas of shrinking width, frequency and drift
    // in turn. They hardly depend on each other, since the frequency is that of the middle.
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
        freq_hz: base.freq_hz + shift + (base.drift_hz_per_s + drift) * base.unused_s / 2.0,
        drift_hz_per_s: base.drift_hz_per_s + drift,
        power: 2.0 * height / (count * count),
    })
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
        let tone = refine_tone(&MixedDown::of(&x, rate, MixedDown::NARROW_HZ, 1001.5, 0.19)).unwrap();
        assert!((tone.freq_hz - 1000.37).abs() < 1e-5, "{tone:?}");
        assert!((tone.drift_hz_per_s - 0.2).abs() < 1e-5, "{tone:?}");
        assert!((tone.power / 0.005 - 1.0).abs() < 0.02, "{tone:?}");
    }
}
