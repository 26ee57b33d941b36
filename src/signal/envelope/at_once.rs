//! Whether the noise pulses in all parts of the passband at once. Noise of the mains does; the tones of a station
//! that beat at such a rate do so in their own place. Not here: at which rates it pulses (`modulation`).

use std::f64::consts::TAU;

use realfft::RealFftPlanner;
use rustfft::num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::modulation::{HIGHEST_HZ, Modulation};
use crate::signal::spectrum::statistics::{mean, median};
use crate::signal::spectrum::{MixedDown, Passband};

/// From the middle of one part to that of the next, Hz. Chosen: each is some 380 Hz wide (`MixedDown::WIDE_HZ`), so
/// that they share little, and a station spoils two.
const PART_HZ: f64 = 300.0;
/// No moment counts for more than so many times the typical power of its part: clicks pulse everywhere at once too.
/// Chosen: noise alone gets there in 3 of 100 moments (mathematics: 2^−5).
const CAP: f64 = 5.0;
/// A part counts for no more than so many standard deviations: one that a station beats in must not speak for all.
/// Chosen: chance has it once in ten thousand (mathematics: e^(−3²)).
const MOST: f64 = 3.0;
/// What noise leaves is taken from rates so far on each side, Hz. Chosen: beyond the line's own skirts at 10 s, and
/// not yet the next rate of a station that beats.
const BESIDE_HZ: std::ops::RangeInclusive<f64> = 1.5..=8.0;
/// How far from the rate that the modulation spectrum has it is looked for, Hz. Chosen: half a bin of that.
const REACH_HZ: f64 = 0.25;
/// A station spoils so many parts; the others must pulse at once without them. Score from which they do, where so
/// many are left. Chosen: chance has it once in a hundred (mathematics: e^(−4.6)), beside the score of all.
const SPOILT: usize = 2;
const OTHERS_TOGETHER: f64 = 4.6;
const LEAST_OTHERS: usize = 3;
/// Score from which the parts pulse together. Noise alone exceeds s with the probability e^(−s) at each rate tried
/// (the sum of many independent phases; Lord Rayleigh, 1880; from memory). Chosen: over some ten rates once in some
/// thousand recordings.
const TOGETHER: f64 = 9.0;

/// Standard deviations from which a part pulses beyond doubt. Chosen: noise gets there once in 10^11 (mathematics:
/// e^(−5²)), and a weak buzz, spread over all parts, in none.
const BEYOND_DOUBT: f64 = 5.0;

/// Pulsing at one rate, over the parts of the passband.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AtOnce {
    /// The rate.
    pub rate_hz: f64,
    /// |Σz|²/n of n parts, z the amplitude of each in standard deviations of noise with its phase: 1 for noise
    /// alone.
    pub score: f64,
    /// The same without the two parts that speak loudest for it; `None` where too few are left.
    pub others: Option<f64>,
    /// |z| of the part in which it pulses most.
    pub loudest: f64,
    /// Parts looked at.
    pub parts: usize,
}

impl AtOnce {
    /// Each mains rate that stands in the modulation spectrum. `samples`: the beginning of a recording.
    pub fn of(samples: &[f32], rate_hz: f64, passband: &Passband, modulation: &Modulation) -> Vec<Self> {
        let nominal = [25.0, 30.0, 50.0, 60.0, 100.0, 120.0].map(|hz| modulation.at_rate(hz));
        let stands: Vec<f64> = nominal.iter().filter(|line| line.base_present).map(|line| line.rate_hz).collect();
        if stands.is_empty() {
            return Vec::new();
        }
        let count = ((passband.width_hz() / PART_HZ).floor() as usize).max(1);
        let step_hz = passband.width_hz() / count as f64;
        let mut planner = RealFftPlanner::new();
        let parts: Vec<Part> = (0..count)
            .map(|n| passband.low_hz + (n as f64 + 0.5) * step_hz)
            .filter_map(|hz| Part::of(samples, rate_hz, hz, &mut planner))
            .collect();
        stands.into_iter().filter_map(|hz| Self::at(hz, &parts)).collect()
    }

    fn at(rate_hz: f64, parts: &[Part]) -> Option<Self> {
        let step_hz = parts.first()?.step_hz;
        let scale: Vec<f64> = parts.iter().map(|part| part.noise_at(rate_hz)).collect();
        let each = |bin: usize| -> Vec<Complex64> {
            parts.iter().zip(&scale).map(|(part, sd)| part.amplitude(bin) / sd.max(f64::MIN_POSITIVE)).collect()
        };
        let score = |z: &[Complex64]| z.iter().sum::<Complex64>().norm_sqr() / z.len() as f64;
        let tried = ((rate_hz - REACH_HZ) / step_hz).ceil() as usize..=((rate_hz + REACH_HZ) / step_hz) as usize;
        let tried = tried.map(|bin| (bin, each(bin)));
        let (bin, mut z) = tried.max_by(|a, b| score(&a.1).total_cmp(&score(&b.1)))?;
        let loudest = z.iter().map(|z| z.norm()).fold(0.0, f64::max);
        z.iter_mut().for_each(|z| *z *= MOST / z.norm().max(MOST));
        let all = score(&z);
        let sum: Complex64 = z.iter().sum();
        // Along the sum of all: what is strong in another phase does not speak for it.
        z.sort_by(|a, b| (b * sum.conj()).re.total_cmp(&(a * sum.conj()).re));
        let others = (z.len() >= SPOILT + LEAST_OTHERS).then(|| score(&z[SPOILT..]));
        Some(Self { rate_hz: bin as f64 * step_hz, score: all, others, loudest, parts: parts.len() })
    }

    /// Whether the parts pulse together; of a single part nothing can be told against it.
    pub fn is_together(&self) -> bool {
        let all = self.score >= if self.parts > 1 { TOGETHER } else { 0.0 };
        all && self.others.is_none_or(|others| others >= OTHERS_TOGETHER)
    }

    /// Whether one or two parts pulse beyond doubt and the others do not, at least not with them: the beat of what
    /// stands there.
    pub fn is_in_its_place(&self) -> bool {
        self.loudest > BEYOND_DOUBT && self.others.is_some_and(|others| others < OTHERS_TOGETHER)
    }
}

/// Spectrum of the power over time of one part of the passband, less its mean, under a Hann window.
struct Part {
    bins: Vec<Complex64>,
    step_hz: f64,
}

impl Part {
    /// `None` for too short a stretch or one of silence.
    fn of(samples: &[f32], rate_hz: f64, freq_hz: f64, planner: &mut RealFftPlanner<f64>) -> Option<Self> {
        let (mut values, per_s) = MixedDown::powers(samples, rate_hz, MixedDown::WIDE_HZ, freq_hz);
        if (values.len() as f64) < per_s {
            return None;
        }
        let most = CAP * median(&mut values.clone());
        values.iter_mut().for_each(|value| *value = value.min(most));
        let mean = mean(&values);
        if mean <= 0.0 {
            return None;
        }
        let n = values.len() as f64;
        for (at, value) in values.iter_mut().enumerate() {
            *value = (*value / mean - 1.0) * (0.5 - 0.5 * (TAU * (at as f64 + 0.5) / n).cos());
        }
        // Twice as long, so that no rate falls between two bins.
        values.resize((2 * values.len()).next_power_of_two(), 0.0);
        let transform = planner.plan_fft_forward(values.len());
        let mut bins = transform.make_output_vec();
        transform.process(&mut values, &mut bins).ok()?;
        Some(Self { bins, step_hz: per_s / values.len() as f64 })
    }

    fn amplitude(&self, bin: usize) -> Complex64 {
        self.bins.get(bin).copied().unwrap_or_default()
    }

    /// Root of the mean square of the amplitudes beside a rate.
    fn noise_at(&self, rate_hz: f64) -> f64 {
        let (near, far) = (*BESIDE_HZ.start(), *BESIDE_HZ.end());
        let highest = (HIGHEST_HZ / self.step_hz) as usize;
        let mut squares = (0.0, 0usize);
        for (from_hz, to_hz) in [(rate_hz - far, rate_hz - near), (rate_hz + near, rate_hz + far)] {
            let bin = |hz: f64| (hz.max(1.0) / self.step_hz).round() as usize;
            for bin in bin(from_hz)..bin(to_hz).min(highest).min(self.bins.len()) {
                squares = (squares.0 + self.bins[bin].norm_sqr(), squares.1 + 1);
            }
        }
        (squares.0 / squares.1.max(1) as f64).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use crate::demo::synth::{Buzz, Receiver, Scene, Take};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};

    fn measured(take: &Take) -> Measurement {
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    fn quiet() -> Scene {
        Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0)).seed(5)
    }

    /// By construction: noise gated 100 times a second over the whole passband pulses there at once; a station of
    /// two tones 100 Hz apart beats at that rate in its own place only.
    #[test]
    fn a_buzz_pulses_everywhere_and_two_tones_in_their_place() {
        let buzz = measured(&quiet().device(Buzz::gated(100.0, 0.3), Db(3.0)).render(12.0));
        let found: Vec<_> = buzz.at_once.iter().filter(|one| (one.rate_hz - 100.0).abs() < 0.3).collect();
        assert!(found.len() == 1 && found[0].is_together(), "{:?}", buzz.at_once);
        let mut take = quiet().render(12.0);
        let rate = f64::from(take.rate_hz);
        for (n, x) in take.samples.iter_mut().enumerate() {
            let t = n as f64 / rate;
            // Keyed, so that it is no carrier to be left out.
            if (t * 2.0).fract() < 0.6 {
                let tone = |hz: f64| (std::f64::consts::TAU * hz * t).sin();
                *x += (0.004 * (tone(1200.0) + tone(1300.0))) as f32;
            }
        }
        let tones = measured(&take);
        assert!(tones.at_once.iter().all(|one| !one.is_together()), "{:?}", tones.at_once);
    }
}
