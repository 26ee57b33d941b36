//! How the pitch of one signal goes: a device's carrier keeps it, moves it slowly, or has it run to and fro at an
//! even rate, as a supply's regulation does; a station's tones leap as what it sends has it. Not here: whether its
//! power stays (`standing`).

use super::mixed_down::MixedDown;
use super::standing::Rows;
use super::statistics::{mean, median, quantile};

/// Length of a window, s, and how many begin in one. Chosen: tones of 0.16 s and more fill one, and a pitch that
/// runs through 100 Hz in half a second stays within a main lobe of it.
const WINDOW_S: f64 = 1.0 / 16.0;
const A_WINDOW: usize = 4;
/// A signal weaker than this over the noise in a window (ratio of powers, 10 dB) has tops of the noise among its own.
/// Chosen: by the tails of the noise's powers (exponential) one window in thousands.
const LEAST_SNR: f64 = 10.0;
/// A pitch that keeps within this about its straight line (standard deviation, Hz) is still. Chosen: carriers that
/// wander by 2 Hz a second are to be looked at no further; eight tones 3 Hz apart have 7.
const STILL_HZ: f64 = 4.0;
/// A pitch that moves by itself is nearly where it was so much later, s; one that leaps every 0.32 s or faster has
/// kept at most a third of its places.
const SLOW_S: f64 = 0.2;
/// It runs to and fro where it comes back at an even rate, at least so often in the recording, and where it first
/// lost this much of its likeness. Chosen: four times could still be chance in what leaps ten times as often, whose
/// likeness then scatters by a third.
const COMES_BACK: f64 = 4.0;
const LOST: f64 = 0.3;
/// The likeness (autocorrelation) that tells either. Chosen in the middle between that of an even motion without noise,
/// 1, and what thirty leaps at random reach within three of its standard deviations.
const ALIKE: f64 = 0.7;
/// Share of the time in the middle half of its range. Mathematics: a sawtooth has a half, a sine a third there, two
/// tones none; chosen in the middle.
const BETWEEN: f64 = 0.2;

/// How a pitch goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// It keeps to its straight line.
    Still,
    /// It moves slowly.
    Slow,
    /// It runs to and fro at an even rate.
    ToAndFro,
    /// It leaps.
    Leaps,
}

/// The strongest tone of each window.
pub struct Pitch {
    /// Above the lowest frequency looked at, Hz.
    hz: Vec<f64>,
    /// Its power over the noise in the window.
    power: Vec<f64>,
    /// Windows a second.
    rate_hz: f64,
}

impl Pitch {
    /// Within `reach_hz` of the middle of what was mixed down, `floor` the density of the noise there, FS²/Hz.
    pub fn of(line: &MixedDown, reach_hz: f64, floor: f64) -> Self {
        let Rows { rows, step_hz, rate_hz } = Rows::of(line, floor, (WINDOW_S, A_WINDOW), reach_hz);
        let top = |row: &Vec<f64>| {
            let top = (0..row.len()).max_by(|&a, &b| row[a].total_cmp(&row[b])).unwrap_or(0);
            let beside = |at: Option<&f64>| at.copied().unwrap_or(row[top]);
            let (below, above) = (beside(top.checked_sub(1).and_then(|at| row.get(at))), beside(row.get(top + 1)));
            // The top of a parabola through three of them.
            let bend = below - 2.0 * row[top] + above;
            let between = if bend < 0.0 { (0.5 * (below - above) / bend).clamp(-0.5, 0.5) } else { 0.0 };
            ((top as f64 + between) * step_hz, row[top])
        };
        let (hz, power) = rows.iter().map(top).unzip();
        Self { hz, power, rate_hz }
    }

    /// How it goes; `None` where it is too weak or too short to tell.
    pub fn motion(&self) -> Option<Motion> {
        let quarter = (self.hz.len() as f64 / COMES_BACK) as usize;
        let slow = (SLOW_S * self.rate_hz).round() as usize;
        if quarter <= 2 * slow || median(&mut self.power.clone()) < LEAST_SNR {
            return None;
        }
        let places = without_line(&self.hz);
        let spread = places.iter().map(|hz| hz * hz).sum::<f64>() / places.len() as f64;
        if spread.sqrt() < STILL_HZ {
            return Some(Motion::Still);
        }
        let alike = |lag: usize| {
            let both = places.iter().zip(&places[lag..]).map(|(a, b)| a * b).sum::<f64>();
            both / (places.len() - lag) as f64 / spread
        };
        if alike(slow) > ALIKE {
            return Some(Motion::Slow);
        }
        let lost = (1..quarter).find(|&lag| alike(lag) < LOST);
        let comes_back = lost.is_some_and(|lost| (lost..quarter).any(|lag| alike(lag) > ALIKE));
        Some(if comes_back && passes_between(&places) { Motion::ToAndFro } else { Motion::Leaps })
    }

    /// The weakest tenth of its powers over their mean.
    pub fn evenness(&self) -> f64 {
        let mean = self.power.iter().sum::<f64>() / self.power.len().max(1) as f64;
        quantile(&mut self.power.clone(), 0.1) / mean.max(f64::MIN_POSITIVE)
    }
}

/// Whether a pitch that runs to and fro passes through what lies between, as two tones do not that take turns.
fn passes_between(places: &[f64]) -> bool {
    let mut sorted = places.to_vec();
    let (low, high) = (quantile(&mut sorted, 0.05), quantile(&mut sorted, 0.95));
    let between = (low + high) / 2.0 - (high - low) / 4.0..(low + high) / 2.0 + (high - low) / 4.0;
    let passing = places.iter().filter(|place| between.contains(place)).count();
    passing as f64 > BETWEEN * places.len() as f64
}

/// What is left of some values when their straight line is taken off (least squares).
fn without_line(values: &[f64]) -> Vec<f64> {
    let middle = (values.len() as f64 - 1.0) / 2.0;
    let mean = mean(values);
    let at = |n: usize| n as f64 - middle;
    let (both, own) = values
        .iter()
        .enumerate()
        .fold((0.0, 0.0), |(both, own), (n, value)| (both + at(n) * (value - mean), own + at(n).powi(2)));
    values.iter().enumerate().map(|(n, value)| value - mean - at(n) * both / own.max(f64::MIN_POSITIVE)).collect()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::super::standing::tests::{RATE, drawn, noisy, running};
    use super::*;

    /// The motion of a tone about 1000 Hz that is made so, at this many dB-Hz.
    fn motion(db_hz: f64, seed: u64, sound: impl FnMut(f64) -> f64) -> Option<Motion> {
        let cnr_hz = 10f64.powf(db_hz / 10.0);
        let line = MixedDown::of(&noisy(seed, cnr_hz, sound), RATE, MixedDown::WIDE_HZ, 1000.0, 0.0);
        Pitch::of(&line, 70.0, 0.5 / cnr_hz).motion()
    }

    /// By construction: a tone that stays, drifts, wanders to and fro once in eight seconds; a sine and a sawtooth.
    #[test]
    fn carriers_stay_move_slowly_or_run_to_and_fro() {
        for seed in 0..4 {
            for db_hz in [28.0, 40.0] {
                assert_eq!(motion(db_hz, seed, running(|_| 1003.3)), Some(Motion::Still));
                assert_eq!(motion(db_hz, seed, running(|t| 970.0 + 6.0 * t)), Some(Motion::Still));
                let slow = running(|t| 1000.0 + 20.0 * (TAU * t / 8.0).sin());
                assert_eq!(motion(db_hz, seed, slow), Some(Motion::Slow));
                let sine = running(|t| 1000.0 + 40.0 * (TAU * 1.3 * t).sin());
                assert_eq!(motion(db_hz, seed, sine), Some(Motion::ToAndFro));
                let sawtooth = running(|t| 950.0 + 100.0 * (2.0 * t).fract());
                assert_eq!(motion(db_hz, seed, sawtooth), Some(Motion::ToAndFro));
            }
        }
    }

    /// Source: eight tones as far apart as they are sent a second (common practice), here at random.
    #[test]
    fn tones_that_take_turns_leap() {
        for seed in 0..20 {
            for baud in [3.125, 6.25, 10.0] {
                let tones = running(|t| 1000.0 + baud * (drawn(seed, t * baud, 8) - 3.5));
                assert_eq!(motion(35.0, seed, tones), Some(Motion::Leaps), "{baud} baud, seed {seed}");
            }
        }
    }

    /// Source: radio teletype that idles shifts to and fro by 170 Hz (common practice); here each fifth of a second.
    #[test]
    fn two_tones_that_take_turns_evenly_do_not_run_to_and_fro() {
        let shifts = running(|t| 950.0 + if (2.5 * t).fract() < 0.5 { 0.0 } else { 100.0 });
        assert_eq!(motion(40.0, 1, shifts), Some(Motion::Leaps));
    }

    #[test]
    fn what_is_weak_or_short_cannot_be_told() {
        assert_eq!(motion(18.0, 1, running(|_| 1000.0)), None);
        let short = MixedDown::of(&vec![0.5; 4000], RATE, MixedDown::WIDE_HZ, 1000.0, 0.0);
        assert_eq!(Pitch::of(&short, 70.0, 1e-9).motion(), None);
    }
}
