//! Buzz: Gaussian noise whose power pulses at the mains rate, as rectifiers switch it on and off.

use std::f64::consts::PI;

use super::gauss::Gauss;
use super::hash::Hash;
use super::passband::{Grid, Receiver, mean_square, shape_spectrum};
use super::source::{Antenna, Source};

/// How the noise swells within one period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pulse {
    /// On for this share of the period (0..1), silent for the rest. The power's line at `m` times the rate then
    /// stands at 2·sin(πmd)/(πmd) of its mean.
    Gated(f64),
    /// Power ∝ sin²: one line in the power, as strong as its mean.
    Sine,
    /// Amplitude ∝ `floor` + (1 − `floor`)·sin².
    Swell(f64),
}

/// Gaussian noise pulsing at a rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Buzz {
    /// Pulses a second: twice the mains frequency for full-wave rectifiers.
    pub rate_hz: f64,
    /// Shape of one pulse.
    pub pulse: Pulse,
    /// Standard deviation of a pulse's start, in periods; each pulse for itself. Only for gated noise.
    pub jitter: f64,
    /// Spectrum of the noise.
    pub hash: Hash,
}

impl Buzz {
    /// Flat noise that is on for the share `duty` of each period.
    pub fn gated(rate_hz: f64, duty: f64) -> Self {
        Self { rate_hz, pulse: Pulse::Gated(duty), jitter: 0.0, hash: Hash::flat() }
    }

    /// Flat noise whose power goes as sin², `rate_hz` maxima a second.
    pub fn sine(rate_hz: f64) -> Self {
        Self { pulse: Pulse::Sine, ..Self::gated(rate_hz, 0.5) }
    }

    /// Flat noise whose amplitude goes as `floor` + (1 − `floor`)·sin², `rate_hz` maxima a second.
    pub fn swell(rate_hz: f64, floor: f64) -> Self {
        Self { pulse: Pulse::Swell(floor), ..Self::gated(rate_hz, 0.5) }
    }

    /// The same with each pulse's start off by a Gaussian of this many periods.
    pub fn jittered(mut self, periods: f64) -> Self {
        self.jitter = periods;
        self
    }

    /// The same over noise of another spectrum.
    pub fn over(mut self, hash: Hash) -> Self {
        self.hash = hash;
        self
    }

    /// Amplitude over the grid; its square is the power's course.
    fn modulation(&self, grid: &Grid, gauss: &mut Gauss) -> Vec<f64> {
        let phase = gauss.uniform();
        let sin2 = |i: usize| (PI * (grid.time(i) * self.rate_hz + phase)).sin().powi(2);
        match self.pulse {
            Pulse::Gated(duty) => self.gate(grid, duty, phase, gauss),
            Pulse::Sine => (0..grid.len).map(|i| sin2(i).sqrt()).collect(),
            Pulse::Swell(floor) => (0..grid.len).map(|i| floor + (1.0 - floor) * sin2(i)).collect(),
        }
    }

    /// 1 where the gate is open, 0 where it is shut; a sample it opens or shuts within holds its share of power, so
    /// that the duty is exact at any ratio of rates.
    fn gate(&self, grid: &Grid, duty: f64, phase: f64, gauss: &mut Gauss) -> Vec<f64> {
        let mut open = vec![0.0; grid.len];
        let period = grid.rate_hz / self.rate_hz;
        let pulses = (grid.len as f64 / period).ceil() as i64;
        for pulse in -2..=pulses + 1 {
            let start = (pulse as f64 + phase + self.jitter * gauss.normal()) * period;
            cover(&mut open, start, start + duty * period);
        }
        open.iter().map(|share: &f64| share.min(1.0).sqrt()).collect()
    }
}

/// Adds to each sample the share of it that lies between two places, counted in samples.
fn cover(open: &mut [f64], from: f64, to: f64) {
    let (from, to) = (from.max(0.0), to.min(open.len() as f64));
    let mut at = from;
    while at < to {
        let next = (at.floor() + 1.0).min(to);
        open[at as usize] += next - at;
        at = next;
    }
}

impl Source for Buzz {
    fn at_antenna(&self, grid: &Grid, receiver: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let modulation = self.modulation(grid, &mut gauss);
        let white = gauss.white(grid.len);
        let hash = shape_spectrum(&white, grid.rate_hz, |f| self.hash.shape(f));
        let wave = hash.iter().zip(&modulation).map(|(noise, gain)| noise * gain).collect();
        // Multiplying spreads the spectrum by the pulse rate only, far less than any slope or skirt here.
        let expected = mean_square(grid.cut(&modulation)) * receiver.noise_gain(|f| self.hash.shape(f));
        Antenna { expected: Some(expected), ..Antenna::plain(wave) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use std::f64::consts::TAU;

    /// Amplitude of the power's line at `freq_hz`, over the mean power.
    fn power_line(wave: &[f64], rate_hz: f64, freq_hz: f64) -> f64 {
        let (mut re, mut im, mut sum) = (0.0, 0.0, 0.0);
        for (i, x) in wave.iter().enumerate() {
            let angle = TAU * freq_hz * i as f64 / rate_hz;
            re += x * x * angle.cos();
            im += x * x * angle.sin();
            sum += x * x;
        }
        2.0 * re.hypot(im) / sum
    }

    /// A bound on the standard error of a relative line: r.m.s. 2√(v/M) for M independent power values (doubled
    /// here: gating leaves fewer of them, with a larger spread).
    fn line_se(relative_variance: f64, values: f64) -> f64 {
        2.0 * 2.0 * (relative_variance / values).sqrt()
    }

    /// Source: Fourier series of a rectangle, 2 sin(πmd)/(πmd): derived; for d = 0.3: 1.7168, 1.0091, 0.2186.
    #[test]
    fn gated_noise_has_the_lines_of_a_rectangle() {
        let (receiver, grid) = (Receiver::ssb(8000), Grid::new(8000, 40.0));
        assert_abs_diff_eq!(2.0 * (PI * 0.3).sin() / (PI * 0.3), 1.7168, epsilon = 1e-4);
        for duty in [0.1, 0.3, 0.45, 0.6] {
            let antenna = Buzz::gated(100.0, duty).at_antenna(&grid, &receiver, 5, "buzz");
            let raw = grid.cut(&antenna.wave);
            for m in [1.0, 2.0, 3.0] {
                let expected = (2.0 * (PI * m * duty).sin() / (PI * m * duty)).abs();
                // White Gaussian samples squared: v = 2, over the open samples.
                let tol = 3.0 * line_se(2.0, duty * raw.len() as f64);
                assert_abs_diff_eq!(power_line(raw, 8000.0, 100.0 * m), expected, epsilon = tol);
            }
            // The filter smears the power over about 1/B = 0.4 ms of 10 ms: under 1 % at 100 Hz.
            let filtered = receiver.filter(&antenna.wave);
            let expected = 2.0 * (PI * duty).sin() / (PI * duty);
            let tol = 0.01 * expected + 3.0 * line_se(1.0, duty * 2400.0 * 40.0);
            assert_abs_diff_eq!(power_line(grid.cut(&filtered), 8000.0, 100.0), expected, epsilon = tol);
        }
    }

    /// Source: sin² = ½ − ½cos: one line of relative amplitude 1. For amplitude 0.2 + 0.8 sin²: 1.0909 and 0.1818
    /// (squaring 0.6 − 0.4 cos: derived).
    #[test]
    fn sine_shapes_have_the_lines_of_their_formula() {
        let (receiver, grid) = (Receiver::ssb(8000), Grid::new(8000, 40.0));
        let tol = 3.0 * line_se(2.0, grid.take as f64);
        for (buzz, first, second) in [
            (Buzz::sine(100.0), 1.0, 0.0),
            (Buzz::sine(120.0), 1.0, 0.0),
            (Buzz::swell(100.0, 0.2), 1.0909, 0.1818),
        ] {
            let antenna = buzz.at_antenna(&grid, &receiver, 6, "buzz");
            let raw = grid.cut(&antenna.wave);
            assert_abs_diff_eq!(power_line(raw, 8000.0, buzz.rate_hz), first, epsilon = tol);
            assert_abs_diff_eq!(power_line(raw, 8000.0, 2.0 * buzz.rate_hz), second, epsilon = tol);
            assert_abs_diff_eq!(power_line(raw, 8000.0, 0.73 * buzz.rate_hz), 0.0, epsilon = tol);
        }
    }

    /// Jitter of the start with standard deviation s periods takes exp(−½(2πms)²) off line m (characteristic
    /// function of the Gaussian: derived).
    #[test]
    fn jitter_weakens_the_lines_as_a_gaussian() {
        let (receiver, grid) = (Receiver::ssb(8000), Grid::new(8000, 40.0));
        let antenna = Buzz::gated(100.0, 0.2).jittered(0.05).at_antenna(&grid, &receiver, 8, "buzz");
        let unjittered = 2.0 * (PI * 0.2).sin() / (PI * 0.2);
        let expected = unjittered * (-0.5 * (TAU * 0.05f64).powi(2)).exp();
        let tol = 3.0 * line_se(2.0, 0.2 * grid.take as f64) + 4.0 * 2.0 * 0.05 / (40.0f64 * 100.0).sqrt();
        assert_abs_diff_eq!(power_line(grid.cut(&antenna.wave), 8000.0, 100.0), expected, epsilon = tol);
    }

    #[test]
    fn the_gate_is_open_for_its_share() {
        let grid = Grid::new(8000, 10.0);
        for duty in [0.1, 0.333, 0.6] {
            // 117.3 Hz: no whole number of samples a period.
            let gate = Buzz::gated(117.3, duty).modulation(&grid, &mut Gauss::new(1, "gate"));
            assert_abs_diff_eq!(mean_square(grid.cut(&gate)), duty, epsilon = 1.0 / 1173.0);
        }
    }
}
