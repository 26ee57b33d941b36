//! From transformed frames to the power envelope of the passband, lines left out.

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::signal::spectrum::statistics::quantile;
use crate::signal::spectrum::{FramePlan, Passband};
use crate::wide::wide;

/// The envelope's rate is at least this. Mathematics: twice the highest rate looked at (`modulation::HIGHEST_HZ`).
const LEAST_RATE_HZ: f64 = 1000.0;

/// The mask falls off this softly at the passband's edges: a sharp edge rings so long that a strong click would
/// lift the envelope around it. Chosen: the ringing of a slope of 120 Hz is over in some 8 ms, the gap within a
/// pulse; of a narrow passband no more than this share is lost on each side.
const TAPER_HZ: f64 = 120.0;
const TAPER_SHARE: f64 = 0.15;

/// A station is told in each frame by itself, for it keys and hops: power averaged over so many bins on each side,
/// over the floor, more than so many times that of the bins which stations leave free (a quantile, for they may
/// hold more than half of them). Such bins are weakened until they hold less than the floor. Found with fences of
/// 20 dB in the recordings hf-01 to hf-13: of 159 pulses 133 are seen so, 57 where what stations hold most of the
/// time is left out for good, 29 in the plain passband.
const STATION_BINS: usize = 4;
const STATION_OVER: f32 = 2.5;
const FREE_QUANTILE: f64 = 0.35;
/// The floor under crowded stations: this quantile of the medians over time, within so far on each side. Found as
/// above, in the crowded hf-04, 05, 06, 08, 10, 12: of 71 pulses 64 are seen so, 41 with the 35 % quantile within
/// 100 Hz, which stations lift.
const FLOOR_QUANTILE: f64 = 0.1;
const FLOOR_HALF_HZ: f64 = 200.0;

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
    /// Where stations are to be weakened frame by frame.
    stations: Option<Stations>,
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
            stations: None,
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

    /// The same with stations weakened in every frame, as they come and go; noise keeps its power. `medians`:
    /// median over time of the density in each bin of the plan, FS²/Hz.
    pub fn between_stations(plan: &FramePlan, passband: &Passband, medians: &[f64]) -> Self {
        let mut source = Self::new(plan, passband, &[]);
        let half = (FLOOR_HALF_HZ / plan.bin_hz()).round() as usize;
        let bins = source.bins();
        let floor: Vec<f64> = bins
            .clone()
            .map(|k| {
                let (from, to) = (k.saturating_sub(half).max(bins.start), (k + half + 1).min(bins.end));
                quantile(&mut medians[from..to].to_vec(), FLOOR_QUANTILE)
            })
            .collect();
        source.stations = Some(Stations::new(&floor, &source.mask));
        source
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
        let weights = match &mut self.stations {
            Some(stations) => stations.weights(&spectrum[bins.clone()], &self.mask),
            None => &self.mask,
        };
        wide(|| {
            for ((slot, &value), &weight) in used.iter_mut().zip(&spectrum[bins]).zip(weights) {
                *slot = value * weight;
            }
        });
        unused.fill(Complex32::ZERO);
        self.inverse.process_with_scratch(&mut self.buffer, &mut self.scratch);
        let (head, tail) = self.buffer.split_at(self.tail.len());
        if self.primed {
            // All powers first, their means after: the former is done several at once, and waits for nothing.
            let scale = self.scale;
            wide(|| {
                self.powers.extend(self.tail.iter().zip(head).map(|(&old, &new)| (old + new).norm_sqr() * scale))
            });
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

/// Weakens what stands above the floor in a few bins, not in all.
#[derive(Clone)]
struct Stations {
    /// Floor per bin (any unit), 0 outside the passband.
    floor: Vec<f32>,
    /// Sum over the bins of the floor with the weights of the passband.
    all: f32,
    weights: Vec<f32>,
    sums: Vec<f64>,
    ratios: Vec<f32>,
}

impl Stations {
    fn new(floor: &[f64], mask: &[f32]) -> Self {
        let typical = floor.iter().sum::<f64>() / floor.len().max(1) as f64;
        let floor: Vec<f32> =
            floor.iter().map(|&density| (density / typical.max(f64::MIN_POSITIVE)) as f32).collect();
        let all = floor.iter().zip(mask).map(|(floor, weight)| floor * weight * weight).sum();
        Self { floor, all, weights: mask.to_vec(), sums: Vec::new(), ratios: Vec::new() }
    }

    /// The weights of a frame.
    fn weights<'a>(&'a mut self, spectrum: &[Complex32], mask: &'a [f32]) -> &'a [f32] {
        self.sums.clear();
        self.sums.push(0.0);
        let mut sum = 0.0;
        self.sums.extend(spectrum.iter().zip(mask).map(|(value, &weight)| {
            sum += if weight > 0.0 { f64::from(value.norm_sqr()) } else { 0.0 };
            sum
        }));
        let last = spectrum.len();
        let around = |k: usize| (k.saturating_sub(STATION_BINS), (k + STATION_BINS + 1).min(last));
        self.weights.clear();
        self.weights.extend((0..last).map(|k| {
            let (from, to) = around(k);
            (self.sums[to] - self.sums[from]) as f32 / ((to - from) as f32 * self.floor[k].max(f32::MIN_POSITIVE))
        }));
        self.ratios.clear();
        self.ratios.extend(self.weights.iter().zip(mask).filter(|(_, mask)| **mask > 0.0).map(|both| *both.0));
        if self.ratios.is_empty() {
            return mask;
        }
        let place = (FREE_QUANTILE * (self.ratios.len() - 1) as f64) as usize;
        let free = self.ratios.select_nth_unstable_by(place, f32::total_cmp).1;
        let mut left = 0.0;
        for ((weight, &mask), &floor) in self.weights.iter_mut().zip(mask).zip(&self.floor) {
            let ratio = *weight;
            *weight = if ratio > STATION_OVER * *free { mask * *free / ratio } else { mask };
            left += floor * *weight * *weight;
        }
        let gain = if left > 0.0 { (self.all / left).sqrt() } else { 1.0 };
        self.weights.iter_mut().for_each(|weight| *weight *= gain);
        &self.weights
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

    /// By construction: a tone of 60 times the noise's power is there for half of the time; between the stations
    /// the noise keeps its own power in both halves.
    #[test]
    fn a_station_that_comes_and_goes_leaves_the_noise_as_it_is() {
        let plan = FramePlan::for_rate(12_000);
        let mut state = 7u64;
        let x: Vec<f32> = (0..120_000)
            .map(|n| {
                let mut uniform = || {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (state >> 40) as f32 / (1u64 << 24) as f32
                };
                let noise = (0..12).map(|_| uniform()).sum::<f32>() - 6.0;
                let tone = (TAU * 1400.0 * n as f64 / 12_000.0).sin() as f32;
                0.01 * noise + if n < 60_000 { 0.05 * tone } else { 0.0 }
            })
            .collect();
        let medians = vec![1e-4 / 6000.0; plan.bins()];
        let passband = Passband { low_hz: 300.0, high_hz: 2700.0 };
        let mut source = EnvelopeSource::between_stations(&plan, &passband, &medians);
        let mut out = Vec::new();
        Stft::new(&plan).push(&x, |spectrum| source.push(spectrum, &mut out, |_| ()));
        let expected = 1e-4 / 6000.0 * source.noise_width_hz();
        let mean = |part: &[f32]| part.iter().map(|&p| f64::from(p)).sum::<f64>() / part.len() as f64;
        let (with, without) = (mean(&out[..out.len() / 2 - 200]), mean(&out[out.len() / 2 + 200..]));
        assert!((without / expected - 1.0).abs() < 0.1, "{without} of {expected}");
        assert!((with / expected - 1.0).abs() < 0.15, "{with} of {expected}");
    }

    #[test]
    fn a_line_left_out_is_gone() {
        let (power, _) = envelope(&tone(1003.0, 0.0), &[(960.0, 1046.0)]);
        assert!(power.iter().all(|&p| p < 1e-6), "{:?}", power.iter().cloned().fold(0f32, f32::max));
    }
}
