//! The receiver's audio passband, as a filter of exactly known power gain.
//!
//! The whole signal is shaped at once in the frequency domain, so the response is what the formula says and there
//! is no delay. What a receiver's mixer does is left out: for Gaussian noise, pulses of random phase and carriers,
//! the audio of an SSB receiver is band-limited noise, pulses and carriers again. For AM the same stands in for the
//! envelope detector, which it does not model.

use realfft::RealFftPlanner;

/// A receiver as its audio output shows it: sample rate and passband.
#[derive(Debug, Clone, PartialEq)]
pub struct Receiver {
    /// Samples a second of the recording.
    pub rate_hz: u32,
    /// Lower edge: the response is 6 dB down here.
    pub low_hz: f64,
    /// Upper edge: the response is 6 dB down here.
    pub high_hz: f64,
    /// From full response to nothing, centred on each edge: a raised cosine in amplitude.
    pub skirt_hz: f64,
    /// The response at the upper edge over that at the lower one, a straight line in dB that is 0 in the middle.
    pub tilt_db: f64,
    /// What leaks through beyond the skirts.
    pub stop_db: f64,
}

impl Receiver {
    /// A voice filter: 300 to 2700 Hz.
    pub fn ssb(rate_hz: u32) -> Self {
        Self::with_edges(rate_hz, 300.0, 2700.0, 150.0)
    }

    /// A telegraphy filter: 500 Hz wide around 700 Hz.
    pub fn cw(rate_hz: u32) -> Self {
        Self::with_edges(rate_hz, 450.0, 950.0, 100.0)
    }

    /// The audio of an AM receiver: 100 to 4500 Hz. Of a rate below 9 kHz only what lies under half the rate is
    /// left.
    pub fn am(rate_hz: u32) -> Self {
        Self::with_edges(rate_hz, 100.0, 4500.0, 100.0)
    }

    /// A passband of one's own, with skirts `skirt_hz` wide, flat, and 70 dB down beyond.
    pub fn with_edges(rate_hz: u32, low_hz: f64, high_hz: f64, skirt_hz: f64) -> Self {
        Self { rate_hz, low_hz, high_hz, skirt_hz, tilt_db: 0.0, stop_db: -70.0 }
    }

    /// The same receiver with its upper edge this many dB above its lower one.
    pub fn tilted(mut self, tilt_db: f64) -> Self {
        self.tilt_db = tilt_db;
        self
    }

    /// Amplitude response at an audio frequency.
    pub fn gain(&self, freq_hz: f64) -> f64 {
        let rise = smooth_step((freq_hz - self.low_hz) / self.skirt_hz + 0.5);
        let fall = smooth_step((self.high_hz - freq_hz) / self.skirt_hz + 0.5);
        let middle = (self.low_hz + self.high_hz) / 2.0;
        let tilt_db = self.tilt_db * (freq_hz - middle) / (self.high_hz - self.low_hz);
        let stop = 10f64.powf(self.stop_db / 20.0);
        (rise * fall * 10f64.powf(tilt_db / 20.0)).max(stop)
    }

    /// Mean square of unit white noise after the filter and a further amplitude response `shape`: the ensemble's
    /// mean, not that of one realisation. Without a shape and tilt, about 2·(high − low)/rate.
    pub fn noise_gain(&self, shape: impl Fn(f64) -> f64) -> f64 {
        // Midpoints of strips about a quarter of a hertz wide: finer than any skirt by two orders.
        let half_rate = f64::from(self.rate_hz) / 2.0;
        let strips = (half_rate * 4.0).ceil();
        let step = half_rate / strips;
        (0..strips as usize)
            .map(|i| (i as f64 + 0.5) * step)
            .map(|f| (self.gain(f) * shape(f)).powi(2))
            .sum::<f64>()
            / strips
    }

    /// The wave after the filter; the same length. Treated as one period of a periodic signal: see [`Grid`] for the
    /// margins that keep the ends from meeting.
    pub fn filter(&self, wave: &[f64]) -> Vec<f64> {
        shape_spectrum(wave, f64::from(self.rate_hz), |f| self.gain(f))
    }
}

/// From 0 at 0 to 1 at 1 along half a cosine; clamped beyond.
fn smooth_step(x: f64) -> f64 {
    0.5 - 0.5 * (std::f64::consts::PI * x.clamp(0.0, 1.0)).cos()
}

/// The wave with each frequency multiplied by `gain`, phase untouched. An empty wave stays empty.
pub(super) fn shape_spectrum(wave: &[f64], rate_hz: f64, gain: impl Fn(f64) -> f64) -> Vec<f64> {
    if wave.is_empty() {
        return Vec::new();
    }
    let n = wave.len();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let mut time = wave.to_vec();
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut time, &mut spectrum).expect("lengths come from the plan itself");
    for (k, bin) in spectrum.iter_mut().enumerate() {
        *bin *= gain(k as f64 * rate_hz / n as f64) / n as f64;
    }
    // A real signal has real values at 0 Hz and half the rate; the gain is real, so they still are.
    inverse.process(&mut spectrum, &mut time).expect("lengths come from the plan itself; ends are real");
    time
}

/// Where the samples lie: the take itself with a margin before and after, which is filtered along and cut off, so
/// that no filter starts or wraps round within the take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Samples a second.
    pub rate_hz: f64,
    /// Samples in all, with the margins.
    pub len: usize,
    /// Samples before the take's first.
    pub lead: usize,
    /// Samples of the take.
    pub take: usize,
}

impl Grid {
    /// Room for a take of `seconds` at `rate_hz`, with at least a quarter of a second on either side.
    pub fn new(rate_hz: u32, seconds: f64) -> Self {
        let take = (seconds.max(0.0) * f64::from(rate_hz)).round() as usize;
        let lead = rate_hz as usize / 4;
        Self { rate_hz: f64::from(rate_hz), len: fast_length(take + 2 * lead), lead, take }
    }

    /// Seconds from the take's first sample to sample `i` of the grid; negative in the lead.
    pub fn time(&self, i: usize) -> f64 {
        (i as f64 - self.lead as f64) / self.rate_hz
    }

    /// Times of the first and of one past the last sample, margins included.
    pub fn span(&self) -> (f64, f64) {
        (self.time(0), self.time(self.len))
    }

    /// The take without its margins.
    pub fn cut<'a>(&self, wave: &'a [f64]) -> &'a [f64] {
        &wave[self.lead..self.lead + self.take]
    }
}

/// The next even length without prime factors above 5, which the FFT does fast.
fn fast_length(at_least: usize) -> usize {
    let smooth = |mut n: usize| {
        for factor in [2, 3, 5] {
            while n.is_multiple_of(factor) {
                n /= factor;
            }
        }
        n == 1
    };
    (at_least.max(2)..).find(|&n| n % 2 == 0 && smooth(n)).unwrap_or(at_least)
}

/// Mean of the squares; 0 of nothing.
pub fn mean_square(wave: &[f64]) -> f64 {
    if wave.is_empty() { 0.0 } else { wave.iter().map(|x| x * x).sum::<f64>() / wave.len() as f64 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::Gauss;
    use approx::{assert_abs_diff_eq, assert_relative_eq};
    use std::f64::consts::TAU;

    /// A tone of a whole number of periods, read before and after the filter. Edges at −6 dB: common practice for
    /// receiver filters. Tolerance: rounding.
    #[test]
    fn tones_pass_inside_and_fall_by_6_db_at_the_edges() {
        let rate = 12_000;
        for (receiver, inside, low, high) in [
            (Receiver::ssb(rate), 1500.0, 300.0, 2700.0),
            (Receiver::cw(rate), 700.0, 450.0, 950.0),
            (Receiver::am(rate), 2000.0, 100.0, 4500.0),
        ] {
            let level_db = |f: f64| {
                let tone: Vec<f64> = (0..rate).map(|i| (TAU * f * f64::from(i) / f64::from(rate)).sin()).collect();
                10.0 * (mean_square(&receiver.filter(&tone)) / mean_square(&tone)).log10()
            };
            assert_abs_diff_eq!(level_db(inside), 0.0, epsilon = 1e-9);
            assert_abs_diff_eq!(level_db(low), -6.0206, epsilon = 1e-3);
            assert_abs_diff_eq!(level_db(high), -6.0206, epsilon = 1e-3);
            assert_abs_diff_eq!(level_db(high + receiver.skirt_hz), -70.0, epsilon = 1e-6);
            assert_abs_diff_eq!(level_db(low - receiver.skirt_hz / 2.0), -70.0, epsilon = 1e-6);
        }
    }

    /// Source: ∫|H|² of a raised-cosine amplitude skirt of width w centred on the edge is the brick wall's less w/8
    /// an edge (∫(½+½cos)² = 3/8 of w where the wall has 1/2). Tolerance: what leaks at −70 dB.
    #[test]
    fn noise_gain_is_the_integral_of_the_response() {
        let receiver = Receiver::ssb(8000);
        let expected = (2700.0 - 300.0 - 2.0 * 150.0 / 8.0) / 4000.0;
        assert_relative_eq!(receiver.noise_gain(|_| 1.0), expected, max_relative = 1e-5);
    }

    /// Measured on noise against the integral: within four standard errors, √(2/n_eff) with n_eff = 2BT.
    #[test]
    fn white_noise_comes_out_at_the_noise_gain() {
        for receiver in [Receiver::ssb(8000), Receiver::cw(8000), Receiver::ssb(8000).tilted(6.0)] {
            let noise = Gauss::new(11, "filter").white(480_000);
            let measured = mean_square(&receiver.filter(&noise));
            let bt = (receiver.high_hz - receiver.low_hz) * 60.0;
            assert_relative_eq!(measured, receiver.noise_gain(|_| 1.0), max_relative = 4.0 / bt.sqrt());
        }
    }

    #[test]
    fn tilt_is_the_difference_between_the_edges() {
        let receiver = Receiver::ssb(8000).tilted(-8.0);
        let db = |f: f64| 20.0 * receiver.gain(f).log10();
        assert_abs_diff_eq!(db(2600.0) - db(400.0), -8.0 * 2200.0 / 2400.0, epsilon = 1e-9);
        assert_abs_diff_eq!(db(1500.0), 0.0, epsilon = 1e-9);
    }

    #[test]
    fn grids_hold_the_take_and_its_margins() {
        let grid = Grid::new(8000, 20.0);
        assert_eq!((grid.take, grid.lead), (160_000, 2000));
        assert!(grid.len >= 164_000 && grid.len < 170_000);
        assert_eq!(grid.time(grid.lead), 0.0);
        assert_eq!(Grid::new(8000, 0.0).take, 0);
        assert!(shape_spectrum(&[], 8000.0, |_| 1.0).is_empty());
    }
}
