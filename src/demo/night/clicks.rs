//! What of a night is over in a moment: the pulses of fences and of contacts that arc, and thunder; and the story of a
//! night that is full of both.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::{BAND, NightNoise, NightSending, NightSound, NightStation, NightStory, RATE_HZ};
use crate::demo::synth::{Gauss, Receiver, add_impulse};
use crate::units::Db;

/// A pulse as the receiver's filter leaves it is that long on each side (chosen: it rings no longer).
const REACH: usize = 500;
/// Phases and places between two samples in which it is held ready (chosen).
const PHASES: usize = 8;
const BETWEEN: usize = 4;
/// How far a fence's pulses stray from their beat, s, and the strengths of any from pulse to pulse, dB; standard
/// deviations. Invented: a steady clock; a spark is never twice the same.
const STRAYS_S: f64 = 0.0004;
const FENCE_SPREAD_DB: f64 = 0.5;
const ARC_SPREAD_DB: f64 = 1.5;
/// Strength of a lightning's strokes over the band, dB, mean and standard deviation; strokes of one, time between
/// them, and how long they take to die away. Published: three to four strokes, some 60 ms apart (common practice);
/// the strengths are invented.
const STROKE_DB: f64 = 14.0;
const STROKE_SPREAD_DB: f64 = 7.0;
const STROKES: f64 = 3.5;
const STROKES_APART_S: f64 = 0.06;
const DECAY_S: (f64, f64) = (0.1, 0.5);

/// Thunder within reach: strokes that come in flocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightThunder {
    /// Begin, seconds from the night's start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// Flashes a second at its height, in the middle.
    pub rate_hz: f64,
}

impl NightThunder {
    /// Begin, power over the band's and decay of each stroke, in order of time.
    pub(super) fn strokes(&self, gauss: &mut Gauss) -> Vec<Stroke> {
        let mut strokes = Vec::new();
        let mut at_s = self.start_s;
        while at_s < self.end_s {
            at_s += gauss.exponential(1.0 / self.rate_hz);
            let height = (std::f64::consts::PI * (at_s - self.start_s) / (self.end_s - self.start_s)).sin();
            if gauss.uniform() > height {
                continue;
            }
            let flash_db = STROKE_DB + STROKE_SPREAD_DB * gauss.normal();
            let count = gauss.exponential(STROKES).ceil() as usize;
            let mut stroke_s = at_s;
            for _ in 0..count {
                let power = Db(flash_db + 0.5 * STROKE_SPREAD_DB * gauss.normal()).ratio();
                strokes.push(Stroke { at_s: stroke_s, power, decay_s: gauss.between(DECAY_S.0, DECAY_S.1) });
                stroke_s += gauss.exponential(STROKES_APART_S);
            }
        }
        strokes.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        strokes
    }
}

/// One stroke of lightning.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stroke {
    pub at_s: f64,
    pub power: f64,
    pub decay_s: f64,
}

/// A pulse in all its phases and places, its envelope's largest power that of the band.
pub(super) struct PulseShapes {
    waves: Vec<Vec<f64>>,
}

impl PulseShapes {
    pub fn new(receiver: &Receiver) -> Self {
        let made = |phase: f64, between: f64| {
            let mut wave = vec![0.0; 4096];
            add_impulse(&mut wave, 2048.0 + between, 1.0, phase);
            receiver.filter(&wave)[2048 - REACH..2048 + REACH].to_vec()
        };
        let (across, along) = (made(0.0, 0.0), made(FRAC_PI_2, 0.0));
        let envelope = across.iter().zip(&along).map(|(a, b)| (a * a + b * b) / 2.0).fold(0.0, f64::max);
        let scale = (BAND.mean_square() / envelope).sqrt();
        let shapes = (0..PHASES * BETWEEN).map(|n| {
            let (phase, between) = ((n / BETWEEN) as f64 / PHASES as f64, (n % BETWEEN) as f64 / BETWEEN as f64);
            made(TAU * phase, between).into_iter().map(|x| x * scale).collect()
        });
        Self { waves: shapes.collect() }
    }
}

/// The pulses of a device.
pub(super) struct PulseTrain {
    /// Time, amplitude (1 has the band's power) and phase of each, in order.
    pulses: Vec<(f64, f64, usize)>,
}

impl PulseTrain {
    /// `None` for a device that does not click. `part`: names its chance.
    pub fn of(noise: &NightNoise, seed: u64, part: &str) -> Option<Self> {
        let mut gauss = Gauss::new(seed, part);
        let (mut times, mut at_s) = (Vec::new(), noise.start_s);
        let spread_db = match noise.sound {
            NightSound::Fence { period_s } => {
                while at_s < noise.end_s {
                    times.push(at_s + STRAYS_S * gauss.normal());
                    at_s += period_s;
                }
                FENCE_SPREAD_DB
            }
            NightSound::Arcing { rate_hz } => {
                while at_s < noise.end_s {
                    times.push(at_s);
                    at_s += gauss.exponential(1.0 / rate_hz);
                }
                ARC_SPREAD_DB
            }
            NightSound::Hash | NightSound::Buzz | NightSound::Carrier { .. } | NightSound::Comb { .. } => {
                return None;
            }
        };
        let pulses = times.into_iter().map(|at_s| {
            let level = Db(noise.excess_db + spread_db * gauss.normal());
            (at_s, level.ratio().sqrt(), (gauss.uniform() * PHASES as f64) as usize % PHASES)
        });
        Some(Self { pulses: pulses.collect() })
    }

    /// Adds them to samples of which the first has the number `first`.
    pub fn add(&self, first: u64, samples: &mut [f64], shapes: &PulseShapes) {
        let rate_hz = f64::from(RATE_HZ);
        let reach_s = REACH as f64 / rate_hz;
        let (from_s, to_s) = (first as f64 / rate_hz, (first as f64 + samples.len() as f64) / rate_hz);
        let begin = self.pulses.partition_point(|pulse| pulse.0 < from_s - reach_s);
        for &(at_s, amplitude, phase) in self.pulses[begin..].iter().take_while(|pulse| pulse.0 < to_s + reach_s) {
            let at = at_s * rate_hz - first as f64;
            let between = ((at - at.floor()) * BETWEEN as f64) as usize % BETWEEN;
            let wave = &shapes.waves[phase * BETWEEN + between];
            let start = at.floor() as i64 - REACH as i64;
            for (n, x) in wave.iter().enumerate() {
                let slot = usize::try_from(start + n as i64).ok().and_then(|place| samples.get_mut(place));
                slot.into_iter().for_each(|slot| *slot += amplitude * x);
            }
        }
    }
}

impl NightStory {
    /// So many hours, at least three, of fences and a thermostat that arcs, between thunder, other noises and
    /// stations. When each comes, and so what overlaps, hangs on the seed.
    pub fn clicking(hours: f64, seed: u64) -> Self {
        let seconds = hours * 3600.0;
        let mut gauss = Gauss::new(seed, "clicking story");
        let mut story = Self::thundering(hours, seed);
        let mut noise = |name, start_s: f64, minutes: f64, excess_db, sound| {
            let end_s = start_s + 60.0 * minutes;
            if end_s < seconds - 60.0 {
                story.noises.push(NightNoise { name, start_s, end_s, excess_db, sound });
            }
        };
        let mut at_s = 300.0;
        while at_s < seconds {
            let minutes = gauss.between(10.0, 30.0);
            let sound = NightSound::Fence { period_s: gauss.between(0.7, 1.6) };
            noise("fence", at_s, minutes, 15.0, sound);
            at_s += 60.0 * minutes + gauss.between(300.0, 900.0);
        }
        let mut at_s = 700.0 + gauss.between(0.0, 900.0);
        while at_s < seconds {
            noise(
                "arcing",
                at_s,
                gauss.between(2.0, 6.0),
                17.0,
                NightSound::Arcing { rate_hz: gauss.between(2.0, 8.0) },
            );
            at_s += gauss.between(1500.0, 2500.0);
        }
        story.noises.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        story
    }

    /// The same without anything that clicks.
    pub fn thundering(hours: f64, seed: u64) -> Self {
        let seconds = hours * 3600.0;
        let mut gauss = Gauss::new(seed, "thundering story");
        let mut noises = Vec::new();
        let mut noise = |name, start_s: f64, minutes: f64, excess_db, sound| {
            noises.push(NightNoise { name, start_s, end_s: start_s + 60.0 * minutes, excess_db, sound });
        };
        let every =
            |step_s: f64, from_s: f64| (0..(seconds / step_s) as usize).map(move |n| from_s + step_s * n as f64);
        every(2760.0, 600.0 + gauss.between(0.0, 900.0))
            .for_each(|at_s| noise("thermostat", at_s, 6.0, 6.5, NightSound::Buzz));
        every(7900.0, 2000.0 + gauss.between(0.0, 3000.0))
            .for_each(|at_s| noise("lamp", at_s, 20.0, 8.0, NightSound::Hash));
        noises.retain(|noise| noise.end_s < seconds - 60.0);
        let station = |start_s: f64, minutes: f64, sending| NightStation {
            start_s,
            end_s: start_s + 60.0 * minutes,
            sending,
        };
        let mut stations = Vec::new();
        for (step_s, minutes, sending) in [
            (2400.0, 7.0, NightSending::Voice),
            (5000.0, 14.0, NightSending::Keyed),
            (9000.0, 25.0, NightSending::Fading),
        ] {
            let from_s = 300.0 + gauss.between(0.0, 1500.0);
            stations.extend(every(step_s, from_s).map(|at_s| station(at_s, minutes, sending)));
        }
        let mut thunder = Vec::new();
        let mut at_s = gauss.between(300.0, 3000.0);
        while at_s < seconds {
            let minutes = gauss.between(3.0, 25.0);
            // From one in half a minute to one a second, evenly by ratio.
            let rate_hz = 0.03 * (gauss.uniform() * (1.0f64 / 0.03).ln()).exp();
            thunder.push(NightThunder { start_s: at_s, end_s: at_s + 60.0 * minutes, rate_hz });
            at_s += 60.0 * minutes + gauss.between(900.0, 3600.0);
        }
        Self {
            seconds,
            noises,
            stations,
            cars: every(3300.0, 1000.0).collect(),
            thunder,
            sunrise_db: 3.0,
            swing_db: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// By definition: the envelope of a pulse of 15 dB has 15 dB more power at its peak than the band. Its phases turn
    /// the wave and leave the envelope, so the largest sample of any is at most √2 of its root, and one comes near.
    #[test]
    fn a_pulse_has_the_peak_it_is_made_with() {
        let shapes = PulseShapes::new(&Receiver::ssb(RATE_HZ));
        let largest = shapes.waves.iter().flatten().fold(0.0f64, |most, x| most.max(x.abs()));
        assert_abs_diff_eq!(largest, (2.0 * BAND.mean_square()).sqrt(), epsilon = 0.05 * largest);
        let fence = NightNoise {
            name: "fence",
            start_s: 1.0,
            end_s: 5.0,
            excess_db: 15.0,
            sound: NightSound::Fence { period_s: 1.25 },
        };
        let train = PulseTrain::of(&fence, 1, "fence").unwrap();
        assert_eq!(train.pulses.len(), 4);
        let mut whole = vec![0.0; 6 * RATE_HZ as usize];
        train.add(0, &mut whole, &shapes);
        // In blocks it is the same.
        let mut blocks = vec![0.0; whole.len()];
        blocks.chunks_mut(1009).enumerate().for_each(|(n, block)| train.add(1009 * n as u64, block, &shapes));
        assert_eq!(whole, blocks);
    }
}
