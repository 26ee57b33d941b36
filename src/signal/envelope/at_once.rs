//! Whether the noise pulses in all parts of the passband at once. Noise of the mains does; the tones of a station
//! that beat at such a rate do so in their own place. Not here: at which rates it pulses (`modulation`).

use std::f64::consts::TAU;

use rustfft::num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::modulation::{HIGHEST_HZ, Modulation};
use crate::signal::spectrum::statistics::median;
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
        let parts: Vec<Part> = (0..count)
            .map(|n| passband.low_hz + (n as f64 + 0.5) * step_hz)
            .filter_map(|hz| Part::of(samples, rate_hz, hz))
            .collect();
        stands.into_iter().filter_map(|hz| Self::at(hz, &parts)).collect()
    }

    fn at(rate_hz: f64, parts: &[Part]) -> Option<Self> {
        let seconds = parts.first()?.seconds();
        let step_hz = 0.5 / seconds;
        let steps = (REACH_HZ / step_hz).ceil() as i32;
        let scale: Vec<f64> = parts.iter().map(|part| part.noise_at(rate_hz)).collect();
        let each = |hz: f64| -> Vec<Complex64> {
            parts.iter().zip(&scale).map(|(part, sd)| part.amplitude(hz) / sd.max(f64::MIN_POSITIVE)).collect()
        };
        let score = |z: &[Complex64]| z.iter().sum::<Complex64>().norm_sqr() / z.len() as f64;
        let tried = (-steps..=steps).map(|step| rate_hz + f64::from(step) * step_hz);
        let tried = tried.map(|hz| (hz, each(hz)));
        let (hz, mut z) = tried.max_by(|a, b| score(&a.1).total_cmp(&score(&b.1)))?;
        z.iter_mut().for_each(|z| *z *= MOST / z.norm().max(MOST));
        let all = score(&z);
        let sum: Complex64 = z.iter().sum();
        // Along the sum of all: what is strong in another phase does not speak for it.
        z.sort_by(|a, b| (b * sum.conj()).re.total_cmp(&(a * sum.conj()).re));
        let others = (z.len() >= SPOILT + LEAST_OTHERS).then(|| score(&z[SPOILT..]));
        Some(Self { rate_hz: hz, score: all, others, parts: parts.len() })
    }

    /// Whether the parts pulse together; of a single part nothing can be told against it.
    pub fn is_together(&self) -> bool {
        let all = self.score >= if self.parts > 1 { TOGETHER } else { 0.0 };
        all && self.others.is_none_or(|others| others >= OTHERS_TOGETHER)
    }
}

/// Power over time of one part of the passband, less its mean, under a window.
struct Part {
    values: Vec<f64>,
    rate_hz: f64,
}

impl Part {
    /// `None` for too short a stretch or one of silence.
    fn of(samples: &[f32], rate_hz: f64, freq_hz: f64) -> Option<Self> {
        let mixed = MixedDown::of(samples, rate_hz, MixedDown::WIDE_HZ, freq_hz, 0.0);
        let mut values: Vec<f64> = mixed.values.iter().map(|value| value.norm_sqr()).collect();
        if (values.len() as f64) < mixed.rate_hz {
            return None;
        }
        let most = CAP * median(&mut values.clone());
        values.iter_mut().for_each(|value| *value = value.min(most));
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        if mean <= 0.0 {
            return None;
        }
        let n = values.len() as f64;
        for (at, value) in values.iter_mut().enumerate() {
            *value = (*value / mean - 1.0) * (0.5 - 0.5 * (TAU * (at as f64 + 0.5) / n).cos());
        }
        Some(Self { values, rate_hz: mixed.rate_hz })
    }

    fn seconds(&self) -> f64 {
        self.values.len() as f64 / self.rate_hz
    }

    /// Amplitude at one rate, its phase counted from the start.
    fn amplitude(&self, hz: f64) -> Complex64 {
        let turn = Complex64::cis(-TAU * hz / self.rate_hz);
        // Horner's scheme: one product a value.
        self.values.iter().rev().fold(Complex64::ZERO, |sum, value| sum * turn + value)
    }

    /// Root of the mean square of the amplitudes beside a rate.
    fn noise_at(&self, rate_hz: f64) -> f64 {
        let step_hz = 1.0 / self.seconds();
        let (near, far) = (*BESIDE_HZ.start(), *BESIDE_HZ.end());
        let steps = ((far - near) / step_hz).floor() as usize;
        let beside = (0..=steps).map(|step| near + step as f64 * step_hz);
        let places = beside.flat_map(|off| [rate_hz - off, rate_hz + off]);
        let squares: Vec<f64> = places
            .filter(|hz| (1.0..HIGHEST_HZ.min(self.rate_hz / 2.0)).contains(hz))
            .map(|hz| self.amplitude(hz).norm_sqr())
            .collect();
        (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use crate::demo::synth::{Buzz, Receiver, Scene, Take};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};

    fn measured(take: &Take) -> Measurement {
        let settings = MeasureSettings { by_itself: true, ..MeasureSettings::default() };
        Measurement::of_samples(take.rate_hz, &take.samples, &settings)
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
