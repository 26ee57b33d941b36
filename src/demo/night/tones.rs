//! What of a night is no noise: the lines of devices, and stations.

use std::f64::consts::TAU;
use std::rc::Rc;

use super::{BAND, NightNoise, NightSending, NightSound, NightStation, RATE_HZ, added, sample_at};
use crate::demo::synth::{Fading, Gauss, Receiver, Scene, Station, mean_square};
use crate::units::{Db, Dbfs};

/// Where a device's family of lines lies (chosen): well within the passband.
const LINES_HZ: (f64, f64) = (420.0, 2580.0);
/// A device that has just been switched on stands so far off and comes to rest in this time (its exponential's).
/// Invented.
const COLD_HZ: f64 = 12.0;
const WARM_S: f64 = 240.0;
/// Stations over the band's noise, mean power. Invented: a voice heard well, carriers heard.
const VOICE_SNR: Db = Db(12.0);
const CARRIER_SNR: Db = Db(5.0);
/// Words a minute and pitch of the keyed one. Invented: an ordinary pace and pitch.
const WPM: f64 = 18.0;
const KEYED_HZ: f64 = 720.0;
/// A carrier's fading to each side, and its period. Invented.
const FADING_DB: f64 = 6.0;
const FADING_S: f64 = 45.0;
/// Where the carriers of stations stand. Invented.
const CARRIER_HZ: f64 = 1010.0;
/// Standard deviation of the voice that modulates a carrier of 1: some 30 %, with tops of full modulation (common
/// practice).
const MODULATION: f64 = 0.3;
/// What is repeated over and over: whole cycles of the fading and of the carriers (chosen).
const LOOP_S: f64 = 90.0;

/// The lines of a device.
pub(super) struct DeviceTones {
    from: u64,
    to: u64,
    /// Where they come to rest.
    freqs_hz: Vec<f64>,
    /// Of each of them.
    amplitude: f64,
}

impl DeviceTones {
    /// `None` for a device that makes no lines.
    pub fn of(noise: &NightNoise) -> Option<Self> {
        let freqs_hz: Vec<f64> = match noise.sound {
            NightSound::Hash | NightSound::Buzz | NightSound::Fence { .. } | NightSound::Arcing { .. } => {
                return None;
            }
            NightSound::Carrier { freq_hz } => vec![freq_hz],
            NightSound::Comb { spacing_hz } => {
                let first = (LINES_HZ.0 / spacing_hz).ceil() as u32;
                let last = (LINES_HZ.1 / spacing_hz).floor() as u32;
                (first..=last).map(|n| spacing_hz * f64::from(n)).collect()
            }
        };
        let each = added(noise.excess_db) * BAND.mean_square() / freqs_hz.len() as f64;
        Some(Self {
            from: sample_at(noise.start_s),
            to: sample_at(noise.end_s),
            freqs_hz,
            amplitude: (2.0 * each).sqrt(),
        })
    }

    /// Adds them to samples of which the first has the number `first`.
    pub fn add(&self, first: u64, samples: &mut [f64]) {
        for (n, x) in own(samples, first, self.from, self.to) {
            let age_s = (n - self.from) as f64 / f64::from(RATE_HZ);
            // The integral of an offset that dies away: all lines drift alike.
            let drift = COLD_HZ * WARM_S * (1.0 - (-age_s / WARM_S).exp());
            for (k, freq_hz) in self.freqs_hz.iter().enumerate() {
                // Phases of no order, so that no pulses come of it (a quadratic law, Schroeder 1970, from memory).
                let phase = 0.5 * (k * k) as f64 / self.freqs_hz.len() as f64;
                *x += self.amplitude * (TAU * (freq_hz * age_s + drift + phase).fract()).sin();
            }
        }
    }
}

/// A station's sound, over and over.
pub(super) struct StationWave {
    from: u64,
    to: u64,
    wave: Rc<[f64]>,
}

impl StationWave {
    /// Those of a story.
    pub fn of_all(stations: &[NightStation], receiver: &Receiver, seed: u64) -> Vec<Self> {
        let mut made: Vec<(NightSending, Rc<[f64]>)> = Vec::new();
        let mut wave = |sending: NightSending| match made.iter().find(|(known, _)| *known == sending) {
            Some((_, wave)) => wave.clone(),
            None => {
                let wave: Rc<[f64]> = render(sending, receiver, seed).into();
                made.push((sending, wave.clone()));
                wave
            }
        };
        let span = |one: &NightStation| (sample_at(one.start_s), sample_at(one.end_s));
        stations.iter().map(|one| Self { from: span(one).0, to: span(one).1, wave: wave(one.sending) }).collect()
    }

    /// Adds it to samples of which the first has the number `first`.
    pub fn add(&self, first: u64, samples: &mut [f64]) {
        for (n, x) in own(samples, first, self.from, self.to) {
            *x += self.wave[(n % self.wave.len() as u64) as usize];
        }
    }
}

/// Those samples that lie from `from` to `to`, with their numbers.
fn own(samples: &mut [f64], first: u64, from: u64, to: u64) -> impl Iterator<Item = (u64, &mut f64)> {
    let place = |at: u64| (at.max(first) - first).min(samples.len() as u64) as usize;
    let (begin, end) = (place(from), place(to));
    samples[begin..end].iter_mut().enumerate().map(move |(n, x)| (first + (begin + n) as u64, x))
}

fn render(sending: NightSending, receiver: &Receiver, seed: u64) -> Vec<f64> {
    // Hardly any noise: the night has its own.
    let hushed = Dbfs(BAND.0 - 60.0);
    let alone = |station: Station, snr: Db, seconds: f64| -> Vec<f64> {
        let scene = Scene::new(receiver.clone()).band_noise(hushed).station(station, Db(snr.0 + 60.0)).seed(seed);
        scene.render(seconds).samples.iter().map(|&x| f64::from(x)).collect()
    };
    match sending {
        NightSending::Voice => alone(Station::voice(140.0), VOICE_SNR, 20.0),
        NightSending::Keyed => alone(Station::random_cw(WPM, KEYED_HZ), CARRIER_SNR, LOOP_S),
        NightSending::Fading => {
            alone(Station::carrier(CARRIER_HZ).fading(Fading::new(FADING_DB, FADING_S)), CARRIER_SNR, LOOP_S)
        }
        NightSending::Voiced => {
            let voice = alone(Station::voice(115.0), VOICE_SNR, LOOP_S);
            let sd = mean_square(&voice).sqrt();
            let amplitude = (2.0 * CARRIER_SNR.ratio() * BAND.mean_square()).sqrt();
            let phase = Gauss::new(seed, "voiced").uniform();
            let modulated = |(n, x): (usize, &f64)| {
                let swing = (MODULATION * x / sd).clamp(-1.0, 1.0);
                let turns = CARRIER_HZ * n as f64 / f64::from(RATE_HZ) + phase;
                amplitude * (1.0 + swing) * (TAU * turns.fract()).sin()
            };
            let wave: Vec<f64> = voice.iter().enumerate().map(modulated).collect();
            receiver.filter(&wave)
        }
    }
}
