//! From transformed frames to the power envelope of the passband, lines left out.

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::signal::spectrum::{FramePlan, Passband};

/// The envelope's rate is at least this. Mathematics: twice the highest rate looked at (`modulation::HIGHEST_HZ`).
const LEAST_RATE_HZ: f64 = 1000.0;

/// The mask falls off this softly at the passband's edges: a sharp edge rings so long that a strong click would
/// lift the envelope around it. Chosen: the ringing of a slope of 120 Hz is over in some 8 ms, the gap within a
/// pulse; of a narrow passband no more than this share is lost on each side.
const TAPER_HZ: f64 = 120.0;
const TAPER_SHARE: f64 = 0.15;

/// Raised cosine from 0 at 0 to 1 at 1 and beyond.
fn taper(place: f64) -> f32 {
    (0.5 - 0.5 * (std::f64::consts::PI * place.clamp(0.0, 1.0)).cos()) as f32
}

/// Puts the passband together again from half-overlapped Hann frames, as a complex signal moved down to 0 Hz at a
/// rate just above its width, and gives its power, averaged to a rate of 1 to 2 kHz and not averaged.
#[derive(Clone)]
pub struct EnvelopeSource {
    /// First bin (even, so that frames half a window apart keep their phase) and how many.
    first: usize,
    /// Weight of the bins from `first` on: the passband without lines.
    mask: Vec<f32>,
    inverse: Arc<dyn Fft<f32>>,
    buffer: Vec<Complex32>,
    scratch: Vec<Complex32>,
    tail: Vec<Complex32>,
    scale: f32,
    average: usize,
    /// Values not averaged yet, and how many of them were handed out already.
    powers: Vec<f32>,
    given: usize,
    primed: bool,
    rate_hz: f64,
    base_rate_hz: f64,
    noise_width_hz: f64,
}

impl EnvelopeSource {
    /// A source for this passband. `lines_hz`: stretches of frequency (low, high) to leave out.
    pub fn new(plan: &FramePlan, passband: &Passband, lines_hz: &[(f64, f64)]) -> Self {
        let range = passband.bins(plan.bin_hz(), plan.bins());
        let first = range.start & !1;
        let mask: Vec<f32> = (first..range.end)
            .map(|k| {
                let freq_hz = k as f64 * plan.bin_hz();
                if !range.contains(&k) || lines_hz.iter().any(|&(low, high)| (low..=high).contains(&freq_hz)) {
                    return 0.0;
                }
                let edge_hz = (passband.width_hz() * TAPER_SHARE).min(TAPER_HZ).max(plan.bin_hz());
                taper((freq_hz - passband.low_hz) / edge_hz) * taper((passband.high_hz - freq_hz) / edge_hz)
            })
            .collect();
        let least = (LEAST_RATE_HZ / plan.bin_hz()).ceil() as usize;
        let size = mask.len().max(least).next_power_of_two();
        let inverse = FftPlanner::new().plan_fft_inverse(size);
        let base_rate_hz = size as f64 * plan.bin_hz();
        let average = ((base_rate_hz / LEAST_RATE_HZ).floor() as usize).max(1);
        let noise_width_hz = mask.iter().map(|&weight| f64::from(weight).powi(2)).sum::<f64>() * plan.bin_hz();
        Self {
            first,
            mask,
            buffer: vec![Complex32::ZERO; size],
            scratch: vec![Complex32::ZERO; inverse.get_inplace_scratch_len()],
            tail: vec![Complex32::ZERO; size / 2],
            inverse,
            // The analytic signal is 2/len times the sum over positive frequencies; its mean power is twice the
            // signal's mean square.
            scale: 2.0 / (plan.len as f32).powi(2),
            average,
            powers: Vec::new(),
            given: 0,
            primed: false,
            rate_hz: base_rate_hz / average as f64,
            base_rate_hz,
            noise_width_hz,
        }
    }

    /// Values a second.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Values a second before averaging.
    pub fn base_rate_hz(&self) -> f64 {
        self.base_rate_hz
    }

    /// Width of the rectangle that lets through as much white noise as what is left of the passband.
    pub fn noise_width_hz(&self) -> f64 {
        self.noise_width_hz
    }

    /// The bins it takes of each frame.
    pub fn bins(&self) -> std::ops::Range<usize> {
        self.first..self.first + self.mask.len()
    }

    /// Takes the next frame and appends the envelope it completes to `out`: mean square in the passband, FS².
    /// `each` is given every value before averaging.
    pub fn push(&mut self, spectrum: &[Complex32], out: &mut Vec<f32>, mut each: impl FnMut(f32)) {
        let bins = self.bins();
        let (used, unused) = self.buffer.split_at_mut(self.mask.len());
        for ((slot, &value), &weight) in used.iter_mut().zip(&spectrum[bins]).zip(&self.mask) {
            *slot = value * weight;
        }
        unused.fill(Complex32::ZERO);
        self.inverse.process_with_scratch(&mut self.buffer, &mut self.scratch);
        let (head, tail) = self.buffer.split_at(self.tail.len());
        if self.primed {
            // All powers first, their means after: the former is done several at once, and waits for nothing.
            let scale = self.scale;
            self.powers.extend(self.tail.iter().zip(head).map(|(&old, &new)| (old + new).norm_sqr() * scale));
            let pieces = self.powers.chunks_exact(self.average);
            let rest = pieces.remainder().len();
            out.extend(pieces.map(|piece| piece.iter().sum::<f32>() / piece.len() as f32));
            // What the last frame left over was told of then.
            self.powers[self.given..].iter().for_each(|&power| each(power));
            self.powers.drain(..self.powers.len() - rest);
            self.given = rest;
        }
        // The first half frame has no partner and would fade in.
        self.primed = true;
        self.tail.copy_from_slice(tail);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::spectrum::Stft;
    use std::f64::consts::TAU;

    fn envelope(x: &[f32], lines: &[(f64, f64)]) -> (Vec<f32>, f64) {
        let plan = FramePlan::for_rate(12_000);
        let mut source = EnvelopeSource::new(&plan, &Passband { low_hz: 300.0, high_hz: 2700.0 }, lines);
        let mut out = Vec::new();
        Stft::new(&plan).push(x, |spectrum| source.push(spectrum, &mut out, |_| ()));
        (out, source.rate_hz())
    }

    fn tone(freq_hz: f64, modulated_hz: f64) -> Vec<f32> {
        (0..60_000)
            .map(|n| {
                let t = n as f64 / 12_000.0;
                (0.1 * (1.0 + 0.5 * (TAU * modulated_hz * t).cos()) * (TAU * freq_hz * t).sin()) as f32
            })
            .collect()
    }

    #[test]
    fn a_steady_tone_has_a_flat_envelope_of_its_power() {
        let (power, rate) = envelope(&tone(1003.0, 0.0), &[]);
        assert!((1000.0..2000.0).contains(&rate));
        // Unmodulated here means a constant 1.5 times 0.1.
        for p in power {
            assert!((p / (0.15f32 * 0.15 / 2.0) - 1.0).abs() < 0.01, "{p}");
        }
    }

    #[test]
    fn a_modulated_tone_moves_as_it_was_modulated() {
        let (power, rate) = envelope(&tone(1503.0, 20.0), &[]);
        let (top, bottom) = power.iter().fold((0f32, 1f32), |(t, b), &p| (t.max(p), b.min(p)));
        assert!((top / (0.15f32.powi(2) / 2.0) - 1.0).abs() < 0.02);
        assert!((bottom / (0.05f32.powi(2) / 2.0) - 1.0).abs() < 0.05);
        assert!(rate > 0.0);
    }

    #[test]
    fn a_line_left_out_is_gone() {
        let (power, _) = envelope(&tone(1003.0, 0.0), &[(960.0, 1046.0)]);
        assert!(power.iter().all(|&p| p < 1e-6), "{:?}", power.iter().cloned().fold(0f32, f32::max));
    }
}
