//! Clicks: short wideband impulses with quiet between; random, regular, or in bursts.
//!
//! Each is an ideal impulse at a time of its own between samples, with a random phase: what a wideband spark leaves
//! after a receiver's mixer. The receiver's filter gives it its length (about 1/bandwidth) and ring.

use std::f64::consts::{PI, TAU};

use super::gauss::Gauss;
use super::passband::{Grid, Receiver};
use super::source::{Antenna, Source};

/// Samples to either side of an impulse between which it is drawn, under a Hann window: far beyond what the
/// passband's lower edge can resolve at the rates in use (chosen).
const REACH: i64 = 96;

/// When clicks come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Timing {
    /// At random, this many a second on average.
    Poisson(f64),
    /// At even distances, `rate_hz` a second, each off by a Gaussian of `jitter` periods.
    Regular {
        /// Clicks a second.
        rate_hz: f64,
        /// Standard deviation of each click's time, in periods.
        jitter: f64,
    },
    /// Bursts at random, each of clicks at even distances.
    Bursts {
        /// Bursts a second on average.
        bursts_hz: f64,
        /// Clicks in a burst.
        clicks: u32,
        /// Clicks a second within a burst.
        rate_hz: f64,
    },
}

/// A train of clicks.
#[derive(Debug, Clone, PartialEq)]
pub struct Clicks {
    /// When they come.
    pub timing: Timing,
    /// Standard deviation of their level from click to click, in dB.
    pub spread_db: f64,
}

impl Clicks {
    /// Random clicks, `rate_hz` a second on average, all of one strength.
    pub fn poisson(rate_hz: f64) -> Self {
        Self { timing: Timing::Poisson(rate_hz), spread_db: 0.0 }
    }

    /// Clicks at even distances, each off by a Gaussian of `jitter` periods.
    pub fn regular(rate_hz: f64, jitter: f64) -> Self {
        Self { timing: Timing::Regular { rate_hz, jitter }, spread_db: 0.0 }
    }

    /// Random bursts, `bursts_hz` a second, each of `clicks` clicks at `rate_hz`.
    pub fn bursts(bursts_hz: f64, clicks: u32, rate_hz: f64) -> Self {
        Self { timing: Timing::Bursts { bursts_hz, clicks, rate_hz }, spread_db: 0.0 }
    }

    /// The same with levels that spread by this many dB.
    pub fn spread(mut self, db: f64) -> Self {
        self.spread_db = db;
        self
    }

    /// Times of all clicks over the grid, margins included; seconds from the take's start.
    fn times(&self, grid: &Grid, gauss: &mut Gauss) -> Vec<f64> {
        let (from, to) = grid.span();
        match self.timing {
            Timing::Poisson(rate_hz) => poisson(rate_hz, from, to, gauss),
            Timing::Regular { rate_hz, jitter } => {
                let phase = gauss.uniform();
                let count = ((to - from) * rate_hz).ceil() as i64;
                (-1..=count)
                    .map(|k| from + (k as f64 + phase + jitter * gauss.normal()) / rate_hz)
                    .filter(|t| (from..to).contains(t))
                    .collect()
            }
            Timing::Bursts { bursts_hz, clicks, rate_hz } => {
                let starts = poisson(bursts_hz, from, to, gauss);
                let within = move |start: f64| (0..clicks).map(move |k| start + f64::from(k) / rate_hz);
                starts.into_iter().flat_map(within).filter(|&t| t < to).collect()
            }
        }
    }
}

/// Events at random between two times, in order.
pub(super) fn poisson(rate_hz: f64, from: f64, to: f64, gauss: &mut Gauss) -> Vec<f64> {
    if rate_hz <= 0.0 {
        return Vec::new();
    }
    let mut times = Vec::new();
    let mut at = from + gauss.exponential(1.0 / rate_hz);
    while at < to {
        times.push(at);
        at += gauss.exponential(1.0 / rate_hz);
    }
    times
}

/// Adds an impulse of all frequencies from 0 to half the rate, equal in amplitude, `phase` in each, at place `at`
/// (in samples, need not be whole). Its energy is `amplitude`² whatever the place and phase.
pub(crate) fn add_impulse(wave: &mut [f64], at: f64, amplitude: f64, phase: f64) {
    let centre = at.round() as i64;
    for i in (centre - REACH).max(0)..(centre + REACH).min(wave.len() as i64) {
        let u = i as f64 - at;
        // Real and imaginary part of 2∫₀^½ e^{j2πνu} dν.
        let (re, im) = if u.abs() < 1e-9 {
            (1.0, 0.0)
        } else {
            ((PI * u).sin() / (PI * u), (1.0 - (PI * u).cos()) / (PI * u))
        };
        let window = 0.5 + 0.5 * (PI * u / (REACH as f64 + 1.0)).cos();
        wave[i as usize] += amplitude * window * (phase.cos() * re - phase.sin() * im);
    }
}

impl Source for Clicks {
    fn at_antenna(&self, grid: &Grid, _: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let times = self.times(grid, &mut gauss);
        let mut wave = vec![0.0; grid.len];
        for &t in &times {
            let amplitude = 10f64.powf(self.spread_db * gauss.normal() / 20.0);
            let phase = TAU * gauss.uniform();
            add_impulse(&mut wave, t * grid.rate_hz + grid.lead as f64, amplitude, phase);
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
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    fn pulses(clicks: &Clicks, seconds: f64, seed: u64) -> Vec<f64> {
        clicks.at_antenna(&Grid::new(8000, seconds), &Receiver::ssb(8000), seed, "clicks").pulses_s
    }

    /// Source: a Poisson count of mean m has variance m. Forty seeded takes: mean within four standard errors,
    /// variance over mean within four of √(2/39).
    #[test]
    fn random_clicks_are_a_poisson_process() {
        let counts: Vec<f64> = (0..40).map(|seed| pulses(&Clicks::poisson(5.0), 20.0, seed).len() as f64).collect();
        let mean = counts.iter().sum::<f64>() / 40.0;
        let variance = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / 39.0;
        assert_abs_diff_eq!(mean, 100.0, epsilon = 4.0 * 10.0 / 40f64.sqrt());
        assert_abs_diff_eq!(variance / mean, 1.0, epsilon = 4.0 * (2.0f64 / 39.0).sqrt());
    }

    /// A regular train has its count to within one, and gaps that spread by √2 of the jitter.
    #[test]
    fn regular_clicks_keep_their_distance() {
        let times = pulses(&Clicks::regular(7.0, 0.02), 100.0, 2);
        assert!((699..=701).contains(&times.len()), "{}", times.len());
        let gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
        let n = gaps.len() as f64;
        let mean = gaps.iter().sum::<f64>() / n;
        let sd = (gaps.iter().map(|g| (g - mean).powi(2)).sum::<f64>() / n).sqrt();
        assert_abs_diff_eq!(mean, 1.0 / 7.0, epsilon = 1e-4);
        assert_relative_eq!(sd, 2f64.sqrt() * 0.02 / 7.0, max_relative = 0.15);
    }

    #[test]
    fn bursts_hold_their_clicks() {
        let times = pulses(&Clicks::bursts(0.5, 6, 50.0), 200.0, 3);
        let close = times.windows(2).filter(|w| (w[1] - w[0] - 0.02).abs() < 1e-9).count();
        assert!(times.len() > 6 * 60 && times.len() < 6 * 140, "{}", times.len());
        assert!(close as f64 > 0.75 * times.len() as f64);
    }

    /// Source: Parseval; an impulse flat to half the rate has energy amplitude², of which the filter passes the
    /// share it passes of white noise. Tolerance: the window round the impulse.
    #[test]
    fn an_impulse_is_flat_over_the_passband_wherever_it_falls() {
        let receiver = Receiver::ssb(8000);
        for (at, phase) in [(4000.0, 0.0), (4000.5, 0.0), (4000.25, 1.0), (3999.9, PI / 2.0), (4000.0, 2.5)] {
            let mut wave = vec![0.0; 8000];
            add_impulse(&mut wave, at, 0.5, phase);
            let energy = mean_square(&receiver.filter(&wave)) * 8000.0;
            assert_relative_eq!(energy, 0.25 * receiver.noise_gain(|_| 1.0), max_relative = 0.005);
        }
    }
}
