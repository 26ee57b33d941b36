//! Clicks: moments in which the power stands far above what the noise around it does by itself.

use serde::{Deserialize, Serialize};

use crate::signal::spectrum::statistics::{mean, quantile_scaled, standard_deviation};

/// Standard deviations (of the cube root of power, which is nearly normal: Wilson and Hilferty, PNAS 17, 1931) that
/// a pulse stands above the noise. For 1000 values a second plain noise does so once in an hour.
const SIGMAS: f64 = 5.2;
/// The same for pulses that count only where they stand on a beat. Chosen: of 3000 values a second plain noise
/// makes a few a minute, which no beat minds.
pub(super) const SIGMAS_ON_A_BEAT: f64 = 4.7;
/// Gap within one pulse. Chosen: the ringing of an SSB filter, and below the 10 ms from one half wave of the mains
/// to the next.
const GAP_S: f64 = 0.008;
/// After a pulse, what stays below this share of its peak for this long is the filter's ringing. Chosen: 17 dB
/// down, and the ringing of a narrow filter for Morse.
const TAIL: f64 = 0.02;
const RINGING_S: f64 = 0.03;
/// Longest pulse: what lasts longer is no click (CISPR 14-1:2016, 3.3.3 takes 200 ms).
const LONGEST_S: f64 = 0.2;
/// Pulses remembered with their times; more are only counted. Chosen: bounds memory to some hundred kilobytes; more
/// pulses tell nothing more.
const MOST_KEPT: usize = 20_000;
/// Typical width up to which pulses count as short; and that of what a filter makes of the shortest, in inverses of
/// its width (a rectangular filter's 1, and room for the notches at lines). Chosen: a click is over within the
/// filter's ringing, a static crash or a syllable takes tens of milliseconds.
const SHORT_S: f64 = 0.006;
const SHORT_OVER_WIDTH: f64 = 3.0;

/// Width (s) up to which pulses behind a filter so wide (Hz) count as short.
pub fn short_s(width_hz: f64) -> f64 {
    SHORT_S.max(SHORT_OVER_WIDTH / width_hz)
}

/// One pulse.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pulse {
    /// When it began, from the start of the recording.
    pub at_s: f64,
    /// How long it stood above the limit.
    pub length_s: f64,
    /// Its energy above the noise, FS²·s.
    pub energy: f64,
    /// Its largest power, FS².
    pub peak: f64,
    /// When it had that, from the start of the recording.
    pub peak_at_s: f64,
}

impl Pulse {
    /// Energy over peak: how long it would last at full strength. Unlike the time above a limit it does not grow
    /// with the strength of what rings.
    pub fn width_s(&self) -> f64 {
        self.energy / self.peak.max(f64::MIN_POSITIVE)
    }
}

/// The pulses of a recording.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Pulses {
    /// In order of time, the first ones if there are very many.
    pub kept: Vec<Pulse>,
    /// How many in all.
    pub count: usize,
    /// Energy of all, above the noise, FS²·s.
    pub energy: f64,
    /// Time looked at.
    pub seconds: f64,
}

impl Pulses {
    /// Pulses a second.
    pub fn rate_hz(&self) -> f64 {
        if self.seconds > 0.0 { self.count as f64 / self.seconds } else { 0.0 }
    }

    /// Mean power the pulses add, FS².
    pub fn power(&self) -> f64 {
        if self.seconds > 0.0 { self.energy / self.seconds } else { 0.0 }
    }

    /// Standard deviation over mean of the distances between pulses: 1 for random ones, near 0 for regular ones.
    /// `None` for fewer than six.
    pub fn irregularity(&self) -> Option<f64> {
        let gaps: Vec<f64> = self.kept.windows(2).map(|pair| pair[1].at_s - pair[0].at_s).collect();
        if gaps.len() < 5 {
            return None;
        }
        Some(standard_deviation(&gaps) / mean(&gaps))
    }

    /// Looks for pulses in one stretch of envelope that began at `start_s`; the limit is the stretch's own.
    pub fn look(&mut self, envelope: &[f32], rate_hz: f64, start_s: f64) {
        self.look_over(SIGMAS, envelope, rate_hz, start_s);
    }

    /// The same with the limit at so many standard deviations.
    pub(super) fn look_over(&mut self, sigmas: f64, envelope: &[f32], rate_hz: f64, start_s: f64) {
        match limit(envelope, sigmas) {
            Some(known) => self.look_above(known, envelope, rate_hz, start_s),
            None => self.seconds += envelope.len() as f64 / rate_hz,
        }
    }

    /// The same where (limit, typical power) are known.
    pub fn look_above(&mut self, (limit, typical): (f64, f64), envelope: &[f32], rate_hz: f64, start_s: f64) {
        self.seconds += envelope.len() as f64 / rate_hz;
        let gap = (GAP_S * rate_hz).ceil() as usize;
        let ringing = (RINGING_S * rate_hz).ceil() as usize;
        let mut current: Option<Run> = None;
        for (n, &power) in envelope.iter().enumerate().filter(|(_, power)| **power as f64 > limit) {
            let (power, above) = (power as f64, power as f64 - typical);
            current = Some(match current {
                // The filter rings after a strong pulse: that is no pulse of its own, but its energy counts.
                Some(run) if power < TAIL * run.peak && n - run.peak_at <= ringing => {
                    Run { energy: run.energy + above, ..run }
                }
                Some(run) if n - run.last <= gap => Run {
                    last: n,
                    energy: run.energy + above,
                    peak: run.peak.max(power),
                    peak_at: if power > run.peak { n } else { run.peak_at },
                    ..run
                },
                other => {
                    self.close(other, rate_hz, start_s);
                    Run { first: n, last: n, energy: above, peak: power, peak_at: n }
                }
            });
        }
        self.close(current, rate_hz, start_s);
    }

    fn close(&mut self, run: Option<Run>, rate_hz: f64, start_s: f64) {
        let Some(Run { first, last, energy, peak, peak_at }) = run else { return };
        let length_s = (last - first + 1) as f64 / rate_hz;
        if length_s > LONGEST_S {
            return;
        }
        let time_s = |place: usize| start_s + place as f64 / rate_hz;
        let pulse =
            Pulse { at_s: time_s(first), length_s, energy: energy / rate_hz, peak, peak_at_s: time_s(peak_at) };
        self.count += 1;
        self.energy += pulse.energy;
        if self.kept.len() < MOST_KEPT {
            self.kept.push(pulse);
        }
    }
}

/// A pulse while it lasts: places in the envelope, energy as a sum of powers.
struct Run {
    first: usize,
    last: usize,
    energy: f64,
    peak: f64,
    peak_at: usize,
}

/// Where the straight tail of the loudest moments is taken from: shares of the time above. Chosen: below what
/// clicks take of the time, above the middle where noise is not yet exponential.
const TAIL_FROM: f64 = 0.2;
const TAIL_TO: f64 = 0.1;
/// How many times its own length (where the probability falls to 1/e) the tail is carried on. Noise alone, whose
/// power is at its widest exponential, gets so far once in 10^8 values; the tops of a buzz, of unequal heights,
/// have a tail that becomes a little longer the further out one looks. Chosen from this; held by the validation
/// bench.
const TAIL_LENGTHS: f64 = 16.0;

/// Power above which the loudest part of a stretch, be it noise throughout or a buzz's bursts, does not get by
/// itself. Takes the values, at least one, in any order and leaves them in another. Clicks that take more than a tenth
/// of the time are within it.
pub(crate) fn loud_limit(values: &mut [f32]) -> f64 {
    let mut at = |above: f64| {
        let place = ((1.0 - above) * (values.len() - 1) as f64) as usize;
        f64::from(*values.select_nth_unstable_by(place, f32::total_cmp).1)
    };
    let (from, to) = (at(TAIL_FROM), at(TAIL_TO));
    to + TAIL_LENGTHS * (to - from) / (TAIL_FROM / TAIL_TO).ln()
}

/// (limit, typical power) of a stretch, from quantiles that pulses hardly reach. `None` for silence.
fn limit(envelope: &[f32], sigmas: f64) -> Option<(f64, f64)> {
    let mut powers: Vec<f32> = envelope.iter().map(|&p| p.max(0.0)).collect();
    let mut root = |q: f64| quantile_scaled(&mut powers, q, |power| f64::from(power).cbrt());
    let middle = root(0.5);
    // Both halves, since clicks touch the upper one only.
    let lower = (middle - root(0.1587)).max(1e-12);
    let upper = (root(0.75) - middle) / 0.6745;
    let sigma = lower.max(upper.min(1.5 * lower));
    (middle > 0.0 && envelope.len() > 50).then(|| ((middle + sigmas * sigma).powi(3), middle.powi(3)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// The power of complex Gaussian noise is exponential: it exceeds x means with the probability e^(−x) (J. W.
    /// Goodman, *Statistical Optics*, 1985, 2.9; from memory). Of a tenth of the time it stands above ln 10 means,
    /// and the tail goes on by one mean for each factor of e.
    #[test]
    fn the_tail_of_gaussian_noise_is_carried_on_as_it_is() {
        let count = 100_000;
        let mut values: Vec<f32> =
            (0..count).map(|k| -(1.0 - (f64::from(k) + 0.5) / f64::from(count)).ln() as f32).collect();
        assert_abs_diff_eq!(loud_limit(&mut values), 10f64.ln() + TAIL_LENGTHS, epsilon = 0.01);
    }
}
