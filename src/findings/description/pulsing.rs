//! Noise that pulses with the mains, in one recording: at half its frequency, at it or at twice it; how deep, how
//! surely. Depth is of all the noise, the band's included: the device's own may be deeper.

use super::lines::Lines;
use crate::contrast::{multiple_of_mains, other_mains_hz};
use crate::signal::envelope::{AtOnce, Modulation, RateLine};
use crate::signal::measure::Measurement;

/// Share of the pulsing at odd multiples of a rate from which that rate, not twice it, is meant. Chosen: half waves
/// that differ a little (the recordings hf-19 to hf-22: up to a tenth) pulse at twice the rate; what pulses once in
/// a cycle has more than half of it there (mathematics: gates of any duty up to a half).
const LEAST_ODD_SHARE: f64 = 0.25;
/// Standard deviations from which nothing but the mains is thought of; below, chance and beats of stations are.
/// Chosen: that of pulsing without a rise in a comparison.
const CERTAIN_SIGMAS: f64 = 8.0;
/// The other mains frequency, 60 beside 50 Hz, is believed from so many standard deviations on. Chosen as above:
/// nothing else speaks for it.
const OTHER_MAINS_SIGMAS: f64 = 8.0;

/// Two findings of one rate lie no further apart, Hz. Chosen: half a bin of the modulation spectrum, twice.
const NEAR_HZ: f64 = 0.6;

/// How sure: nothing else near the rate and no station; something of these; both. Held by `tests/description`.
const CLEAR: f64 = 0.97;
const DOUBTED: f64 = 0.85;
const DOUBTED_TWICE: f64 = 0.6;

/// Pulsing at a mains rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulsing {
    /// The rate.
    pub rate_hz: f64,
    /// Amplitude of base and multiples together over the mean of the noise: 1 where it swings between 0 and twice
    /// its mean as a sine does.
    pub depth: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// How sure it is there, 0..1.
    pub confidence: f64,
}

impl Pulsing {
    /// The pulsing of a recording in which these carriers and stations are heard.
    pub fn find(sound: &Measurement, mains_hz: f64, lines: &Lines) -> Option<Self> {
        let envelope = sound.envelope.as_ref()?;
        let modulation = envelope.modulation.as_ref()?;
        // Even clicks have multiples of their rate everywhere.
        let beats = envelope.beat.as_ref().is_some_and(|beat| beat.is_believed());
        let together = |line: &RateLine| {
            let near = |one: &&AtOnce| (one.rate_hz - line.rate_hz).abs() < NEAR_HZ;
            sound.at_once.iter().find(near).is_some_and(AtOnce::is_together)
                && (!beats || modulation.stands_alone(line.rate_hz))
        };
        let found = of(modulation, mains_hz, &together)?;
        // A single part of the passband can't tell noise from a keyed station or a carrier with hum.
        let near = sound.at_once.iter().find(|one| (one.rate_hz - found.rate_hz).abs() < NEAR_HZ);
        let in_one_part = near.is_some_and(|one| one.parts == 1);
        let may_be_keyed = in_one_part && (lines.stations > 0 || !lines.carriers.is_empty());
        if may_be_keyed && times_of_mains(found.rate_hz, mains_hz).is_some_and(|times| times < 1.0) {
            return None;
        }
        let sigmas = found.amplitude / found.sigma.max(f64::MIN_POSITIVE);
        let doubts = [
            !modulation.stands_alone(found.rate_hz),
            sigmas < CERTAIN_SIGMAS,
            lines.stations > 0,
            lines.crowded,
            in_one_part,
            may_be_keyed,
        ];
        let confidence = match doubts.iter().filter(|doubt| **doubt).count() {
            0 => CLEAR,
            1 => DOUBTED,
            _ => DOUBTED_TWICE,
        };
        // Known finer than the modulation spectrum has it.
        let rate_hz = near.map_or(found.rate_hz, |one| one.rate_hz);
        Some(Self { rate_hz, depth: found.amplitude, sd: found.sigma, confidence })
    }
}

/// At this country's mains, else at the other's.
fn of(modulation: &Modulation, mains_hz: f64, holds: &dyn Fn(&RateLine) -> bool) -> Option<RateLine> {
    let certain = |line: &RateLine| line.amplitude > OTHER_MAINS_SIGMAS * line.sigma;
    of_mains(modulation, mains_hz, holds)
        .or_else(|| of_mains(modulation, other_mains_hz(mains_hz), holds).filter(certain))
}

/// At half the mains frequency, at it or at twice it: a lower rate only counts where it adds something of its own.
fn of_mains(modulation: &Modulation, mains_hz: f64, holds: &dyn Fn(&RateLine) -> bool) -> Option<RateLine> {
    let at =
        |times: f64| Some(modulation.at_rate(times * mains_hz)).filter(|line| line.base_present && holds(line));
    let of_its_own = |line: &RateLine| line.odd_share >= LEAST_ODD_SHARE;
    at(0.5).filter(of_its_own).or_else(|| match (at(1.0), at(2.0)) {
        (Some(once), Some(_)) if of_its_own(&once) => Some(once),
        (_, Some(twice)) => Some(twice),
        (once, None) => once,
    })
}

/// Which multiple of the mains a rate is: half, once, twice.
pub fn times_of_mains(rate_hz: f64, mains_hz: f64) -> Option<f64> {
    multiple_of_mains(rate_hz, mains_hz).map(|(times, _)| times)
}
