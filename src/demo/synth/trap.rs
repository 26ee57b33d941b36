//! What spoils a recording after the receiver's filter: gain that moves, clipping, holes, cabling hum.
//!
//! Traps act on the finished audio, in the order given; a scene's truth is what was true before them.

use std::f64::consts::TAU;

use super::gauss::Gauss;
use crate::units::Dbfs;

/// Something done to the audio behind the filter.
#[derive(Debug, Clone, PartialEq)]
pub enum Trap {
    /// Automatic gain control: brings the peaks to one level as far as its gain reaches.
    Agc(Agc),
    /// The volume turned by `db` at `at_s` seconds.
    Volume {
        /// When, seconds from the start.
        at_s: f64,
        /// By how much, dB.
        db: f64,
    },
    /// Samples held within ±`limit`.
    Clip {
        /// Largest magnitude that passes.
        limit: f64,
    },
    /// Holes of silence at random.
    Dropouts {
        /// Holes a second on average.
        rate_hz: f64,
        /// Length of each, seconds.
        hole_s: f64,
    },
    /// A constant added.
    DcOffset(f64),
    /// Hum of the audio cabling.
    Hum(Hum),
    /// White noise of the sound card, at this level over the whole width of the recording.
    SoundCard(Dbfs),
}

/// An AGC: envelope of the rectified audio with an attack and a decay time; gain = target/envelope, at most
/// `max_gain_db`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agc {
    /// Time constant at a rise, seconds.
    pub attack_s: f64,
    /// Time constant at a fall, seconds.
    pub decay_s: f64,
    /// Envelope it aims for, full scale 1.
    pub target: f64,
    /// Its largest gain, dB.
    pub max_gain_db: f64,
}

impl Agc {
    /// A fast one: 3 ms, 0.2 s.
    pub fn fast(target: f64) -> Self {
        Self { attack_s: 0.003, decay_s: 0.2, target, max_gain_db: 60.0 }
    }

    /// A slow one: 5 ms, 2 s.
    pub fn slow(target: f64) -> Self {
        Self { attack_s: 0.005, decay_s: 2.0, target, max_gain_db: 60.0 }
    }

    fn apply(&self, audio: &mut [f64], rate_hz: f64) {
        let pole = |seconds: f64| (-1.0 / (seconds * rate_hz)).exp();
        let (attack, decay) = (pole(self.attack_s), pole(self.decay_s));
        let most = 10f64.powf(self.max_gain_db / 20.0);
        // It has been running for long: its envelope starts where the first half second leaves it.
        let settle: Vec<f64> = audio.iter().take((rate_hz / 2.0) as usize).copied().collect();
        let mut envelope = 0.0;
        for x in settle {
            envelope = follow(envelope, x.abs(), attack, decay);
        }
        for x in audio.iter_mut() {
            envelope = follow(envelope, x.abs(), attack, decay);
            *x *= (self.target / envelope.max(1e-9)).min(most);
        }
    }
}

fn follow(envelope: f64, magnitude: f64, attack: f64, decay: f64) -> f64 {
    let pole = if magnitude > envelope { attack } else { decay };
    magnitude + pole * (envelope - magnitude)
}

/// Mains hum: the fundamental and its harmonics, each as a level.
#[derive(Debug, Clone, PartialEq)]
pub struct Hum {
    /// Mains frequency.
    pub mains_hz: f64,
    /// Level of harmonic 1, 2, 3 …
    pub levels: Vec<Dbfs>,
}

impl Hum {
    /// Harmonics at these levels, the fundamental first.
    pub fn new(mains_hz: f64, levels: &[Dbfs]) -> Self {
        Self { mains_hz, levels: levels.to_vec() }
    }

    fn apply(&self, audio: &mut [f64], rate_hz: f64, gauss: &mut Gauss) {
        for (k, level) in self.levels.iter().enumerate() {
            let amplitude = (2.0 * level.mean_square()).sqrt();
            let (freq, phase) = (self.mains_hz * (k + 1) as f64, TAU * gauss.uniform());
            for (i, x) in audio.iter_mut().enumerate() {
                *x += amplitude * (TAU * freq * i as f64 / rate_hz + phase).sin();
            }
        }
    }
}

impl Trap {
    /// Does it to the audio.
    pub(super) fn apply(&self, audio: &mut [f64], rate_hz: f64, gauss: &mut Gauss) {
        match self {
            Self::Agc(agc) => agc.apply(audio, rate_hz),
            Self::Volume { at_s, db } => {
                let gain = 10f64.powf(db / 20.0);
                audio.iter_mut().skip((at_s * rate_hz).max(0.0) as usize).for_each(|x| *x *= gain);
            }
            Self::Clip { limit } => audio.iter_mut().for_each(|x| *x = x.clamp(-limit.abs(), limit.abs())),
            Self::Dropouts { rate_hz: holes_hz, hole_s } => {
                let seconds = audio.len() as f64 / rate_hz;
                for start in super::clicks::poisson(*holes_hz, 0.0, seconds, gauss) {
                    let first = (start * rate_hz) as usize;
                    audio.iter_mut().skip(first).take((hole_s * rate_hz) as usize).for_each(|x| *x = 0.0);
                }
            }
            Self::DcOffset(offset) => audio.iter_mut().for_each(|x| *x += offset),
            Self::Hum(hum) => hum.apply(audio, rate_hz, gauss),
            Self::SoundCard(level) => {
                let amplitude = level.mean_square().sqrt();
                audio.iter_mut().for_each(|x| *x += amplitude * gauss.normal());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::mean_square;
    use approx::assert_abs_diff_eq;

    fn with(trap: Trap, mut audio: Vec<f64>) -> Vec<f64> {
        trap.apply(&mut audio, 8000.0, &mut Gauss::new(1, "trap"));
        audio
    }

    fn step(low: f64, high: f64) -> Vec<f64> {
        let sine = |i: usize| (TAU * 1000.3 * i as f64 / 8000.0).sin();
        (0..80_000).map(|i| sine(i) * if (24_000..32_000).contains(&i) { high } else { low }).collect()
    }

    /// A step of 20 dB is levelled out while it lasts. Then the envelope falls by e-folds from the loud sine's peak
    /// towards the soft one's rectified mean, 2/π of its amplitude, and the gain rises as much (derived).
    /// Tolerance: the envelope rides 3 % below the peak.
    #[test]
    fn agc_levels_steps_and_recovers() {
        let out = with(Trap::Agc(Agc { decay_s: 1.0, ..Agc::fast(0.1) }), step(0.01, 0.1));
        let db = |from: usize| 10.0 * mean_square(&out[from..from + 400]).log10();
        let envelope = |seconds: f64| {
            let soft = 0.01 * 2.0 / std::f64::consts::PI;
            soft + (0.1 - soft) * (-seconds).exp()
        };
        let middle = |from: usize| (from as f64 + 200.0 - 32_000.0) / 8000.0;
        let expected = 20.0 * (envelope(middle(32_100)) / envelope(middle(40_000))).log10();
        assert_abs_diff_eq!(db(20_000), db(30_000), epsilon = 0.5);
        assert_abs_diff_eq!(db(40_000) - db(32_100), expected, epsilon = 0.25);
        assert!(db(32_100) < db(20_000) - 17.0);
    }

    #[test]
    fn volume_clip_and_offset_do_what_they_say() {
        let out = with(Trap::Volume { at_s: 5.0, db: 6.0 }, vec![0.1; 80_000]);
        assert_eq!(out[39_999], 0.1);
        assert_abs_diff_eq!(20.0 * (out[40_000] / 0.1).log10(), 6.0, epsilon = 1e-9);
        let out = with(Trap::Clip { limit: 0.05 }, step(0.01, 0.1));
        assert_eq!(out.iter().fold(0.0f64, |m, x| m.max(x.abs())), 0.05);
        assert_eq!(with(Trap::DcOffset(-0.02), vec![0.0; 3]), vec![-0.02; 3]);
    }

    #[test]
    fn dropouts_are_holes() {
        let out = with(Trap::Dropouts { rate_hz: 2.0, hole_s: 0.02 }, vec![0.5; 80_000]);
        let gone = out.iter().filter(|&&x| x == 0.0).count() as f64;
        // 20 holes of 160 samples, Poisson: four standard deviations.
        assert_abs_diff_eq!(gone / 160.0, 20.0, epsilon = 4.0 * 20f64.sqrt());
    }

    /// Source: AES17-2015, 3.12: the level of a sine of amplitude a is 20·lg a.
    #[test]
    fn hum_has_the_levels_asked_for() {
        let out = with(Trap::Hum(Hum::new(50.0, &[Dbfs(-40.0), Dbfs(-50.0)])), vec![0.0; 80_000]);
        let power = Dbfs(-40.0).mean_square() + Dbfs(-50.0).mean_square();
        assert_abs_diff_eq!(mean_square(&out) / power, 1.0, epsilon = 1e-6);
    }

    /// Tolerance: four standard errors of a variance, √(2/n).
    #[test]
    fn a_sound_card_adds_its_noise() {
        let out = with(Trap::SoundCard(Dbfs(-80.0)), vec![0.0; 80_000]);
        let ratio = mean_square(&out) / Dbfs(-80.0).mean_square();
        assert_abs_diff_eq!(ratio, 1.0, epsilon = 4.0 * (2.0f64 / 80_000.0).sqrt());
    }
}
