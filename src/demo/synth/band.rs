//! What the antenna brings besides devices and stations: band noise that fades slowly, and static crashes.

use std::f64::consts::TAU;

use super::clicks::poisson;
use super::gauss::Gauss;
use super::passband::{Grid, Receiver};
use super::source::{Antenna, Source};

/// Slow rise and fall of a level: a sine in dB, its phase drawn by the seed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fading {
    /// How far it goes up and down from its middle, dB.
    pub swing_db: f64,
    /// Seconds from one maximum to the next.
    pub period_s: f64,
}

impl Fading {
    /// A fading of ±`swing_db`.
    pub fn new(swing_db: f64, period_s: f64) -> Self {
        Self { swing_db, period_s }
    }

    /// Amplitude over the grid; the mean power over whole periods is 1.
    pub(super) fn gain(&self, grid: &Grid, gauss: &mut Gauss) -> Vec<f64> {
        let phase = gauss.uniform();
        let db = |turns: f64| self.swing_db * (TAU * turns).sin();
        // Mean power over one period; a smooth periodic function sums exactly in a few dozen steps.
        let mean = (0..256).map(|i| 10f64.powf(db(f64::from(i) / 256.0) / 10.0)).sum::<f64>() / 256.0;
        (0..grid.len).map(|i| 10f64.powf(db(grid.time(i) / self.period_s + phase) / 20.0) / mean.sqrt()).collect()
    }
}

/// Atmospheric noise of the band: white and Gaussian before the receiver's filter, with or without fading.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct BandNoise {
    pub fading: Option<Fading>,
}

impl Source for BandNoise {
    fn at_antenna(&self, grid: &Grid, receiver: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let gain = self.fading.map(|f| f.gain(grid, &mut gauss));
        let mut wave = gauss.white(grid.len);
        if let Some(gain) = gain {
            wave.iter_mut().zip(gain).for_each(|(x, g)| *x *= g);
        }
        Antenna { expected: Some(receiver.noise_gain(|_| 1.0)), ..Antenna::plain(wave) }
    }
}

/// Static crashes of distant thunder: bursts of noise that start at once and die away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crashes {
    /// Crashes a second, at random.
    pub rate_hz: f64,
    /// Mean time in which the amplitude dies down to 1/e, seconds; from crash to crash between half and double.
    pub decay_s: f64,
}

impl Crashes {
    /// Crashes at random times.
    pub fn new(rate_hz: f64, decay_s: f64) -> Self {
        Self { rate_hz, decay_s }
    }
}

impl Source for Crashes {
    fn at_antenna(&self, grid: &Grid, _: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let (from, to) = grid.span();
        let mut wave = vec![0.0; grid.len];
        let times = poisson(self.rate_hz, from, to, &mut gauss);
        for &start in &times {
            let decay = self.decay_s * 2f64.powf(gauss.between(-1.0, 1.0)) * grid.rate_hz;
            let amplitude = 10f64.powf(4.0 * gauss.normal() / 20.0);
            let first = (start * grid.rate_hz + grid.lead as f64) as usize;
            for (age, x) in wave.iter_mut().skip(first).take((8.0 * decay) as usize).enumerate() {
                *x += amplitude * (-(age as f64) / decay).exp() * gauss.normal();
            }
        }
        let end = grid.take as f64 / grid.rate_hz;
        let pulses_s = times.into_iter().filter(|t| (0.0..end).contains(t)).collect();
        Antenna { pulses_s, ..Antenna::plain(wave) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::mean_square;
    use approx::assert_abs_diff_eq;

    /// The swing is what was asked for, and the mean power over whole periods is 1.
    #[test]
    fn fading_keeps_the_mean_power() {
        let grid = Grid::new(1000, 60.0);
        let gain = Fading::new(3.0, 12.0).gain(&grid, &mut Gauss::new(1, "fading"));
        let take = grid.cut(&gain);
        assert_abs_diff_eq!(mean_square(take), 1.0, epsilon = 1e-3);
        let (low, high) = take.iter().fold((f64::MAX, 0.0f64), |(l, h), &g| (l.min(g), h.max(g)));
        assert_abs_diff_eq!(20.0 * (high / low).log10(), 6.0, epsilon = 0.01);
    }

    #[test]
    fn crashes_come_and_die_away() {
        let grid = Grid::new(8000, 60.0);
        let antenna = Crashes::new(0.5, 0.05).at_antenna(&grid, &Receiver::ssb(8000), 4, "crashes");
        // Poisson, mean 30: within four standard deviations.
        assert_abs_diff_eq!(antenna.pulses_s.len() as f64, 30.0, epsilon = 4.0 * 30f64.sqrt());
        let take = grid.cut(&antenna.wave);
        let quiet = take.chunks(800).filter(|c| mean_square(c) < 1e-4).count();
        assert!(quiet > take.len() / 800 / 3, "quiet between crashes: {quiet}");
    }
}
