//! The third invented recording: a night at the shed, with what came and went in it known to the sample.
//!
//! A thermostat that switches in cycles, a lamp, a charger, a pump for moments, devices that stand in lines alone;
//! and what is no episode: a sunrise, slow fading, static crashes, a car that passes, stations. A noise has the
//! same power at the antenna as long as it is on, so how far it lifts the band depends on how the band stands.

mod clicks;
mod making;
mod tones;

use super::synth::Gauss;
use crate::units::{Db, Dbfs};

pub use clicks::NightThunder;
pub use making::write_night;

/// As in the other evenings.
const RATE_HZ: u32 = 8000;
/// The band's noise in the passband when nothing is on and nothing fades. Invented: a recorder set well, with room
/// above.
const BAND: Dbfs = Dbfs(-42.0);
/// Slow fading of the band: swing to each side and period. Invented: slower and less than any noise comes or goes.
const FADING_DB: f64 = 1.0;
const FADING_S: f64 = 420.0;
/// Period of a band's slow swing. Invented: propagation changes over hours.
const SWING_S: f64 = 3.2 * 3600.0;
/// What lengths are parts of in a night of noises that overlap. Invented.
const SCENE_S: f64 = 1560.0;

/// The kind of noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NightSound {
    /// Steady.
    Hash,
    /// Pulses twice in each cycle of the mains.
    Buzz,
    /// One carrier, at first a little off this frequency. No noise.
    Carrier {
        /// Where it comes to rest.
        freq_hz: f64,
    },
    /// Carriers at one spacing all over the passband, equally strong. No noise.
    Comb {
        /// Their distance.
        spacing_hz: f64,
    },
    /// Pulses of an electric fence. They lift no noise; the excess is that of their peak.
    Fence {
        /// From one to the next.
        period_s: f64,
    },
    /// Pulses of a contact that arcs, at random; the excess is that of their peak.
    Arcing {
        /// So many a second on average.
        rate_hz: f64,
    },
}

impl NightSound {
    /// Whether it stands in lines alone, and lifts no noise between them.
    pub fn is_lines(self) -> bool {
        matches!(self, Self::Carrier { .. } | Self::Comb { .. })
    }

    /// Whether it stands in pulses, and lifts no noise between them.
    pub fn is_clicks(self) -> bool {
        matches!(self, Self::Fence { .. } | Self::Arcing { .. })
    }

    /// Whether it lifts the noise itself.
    pub fn lifts_noise(self) -> bool {
        !self.is_lines() && !self.is_clicks()
    }
}

/// A noise that comes and goes.
#[derive(Debug, Clone, PartialEq)]
pub struct NightNoise {
    /// What it is.
    pub name: &'static str,
    /// Begin, seconds from the night's start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// How far it lifts the power in the passband over the band's own noise when that does not fade, dB.
    pub excess_db: f64,
    /// Its kind.
    pub sound: NightSound,
}

/// What a station sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NightSending {
    /// A voice without a carrier.
    Voice,
    /// A carrier keyed in Morse.
    Keyed,
    /// A carrier that fades.
    Fading,
    /// A steady carrier with a voice upon it (amplitude modulation).
    Voiced,
}

/// A station that is heard for a while: no episode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightStation {
    /// Begin, seconds from the night's start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// What it sends.
    pub sending: NightSending,
}

/// A night's story: what happens when.
#[derive(Debug, Clone, PartialEq)]
pub struct NightStory {
    /// Length.
    pub seconds: f64,
    /// What comes and goes.
    pub noises: Vec<NightNoise>,
    /// When stations are heard.
    pub stations: Vec<NightStation>,
    /// When a car passes.
    pub cars: Vec<f64>,
    /// When there is thunder.
    pub thunder: Vec<NightThunder>,
    /// By how much the band rises towards the end, dB.
    pub sunrise_db: f64,
    /// How far it moves to each side over hours, dB.
    pub swing_db: f64,
}

impl NightStory {
    /// Twenty-four minutes in which noises of all kinds come once, and the thermostat three times, at last while the
    /// lamp is on; then a fence.
    pub fn short() -> Self {
        let voice = |start_s, end_s| NightStation { start_s, end_s, sending: NightSending::Voice };
        let noise = |name, start_s: f64, seconds: f64, excess_db, sound| NightNoise {
            name,
            start_s,
            end_s: start_s + seconds,
            excess_db,
            sound,
        };
        Self {
            seconds: 1440.0,
            noises: vec![
                noise("thermostat", 125.4, 90.0, 7.0, NightSound::Buzz),
                noise("thermostat", 545.4, 90.0, 7.0, NightSound::Buzz),
                noise("lamp", 702.7, 330.0, 11.0, NightSound::Hash),
                noise("thermostat", 965.4, 90.0, 7.0, NightSound::Buzz),
                noise("pump", 1130.2, 25.0, 9.0, NightSound::Hash),
                noise("fence", 1186.8, 190.0, 17.0, NightSound::Fence { period_s: 1.27 }),
            ],
            stations: vec![voice(250.0, 340.0), voice(760.0, 800.0)],
            cars: vec![430.0, 1080.0],
            thunder: vec![],
            sunrise_db: 2.0,
            swing_db: 0.0,
        }
    }

    /// So many hours, at least three: a thermostat every 23 minutes, a lamp, a charger, a pump, a panel and a plug
    /// that stand in lines alone, and stations. When each comes, and so what overlaps, hangs on the seed.
    pub fn long(hours: f64, seed: u64) -> Self {
        let seconds = hours * 3600.0;
        let mut gauss = Gauss::new(seed, "story");
        let mut noises = Vec::new();
        let mut noise = |name, start_s: f64, minutes: f64, excess_db, sound| {
            noises.push(NightNoise { name, start_s, end_s: start_s + 60.0 * minutes, excess_db, sound });
        };
        let mut about = |share: f64| seconds * (share + gauss.between(-0.03, 0.03));
        let first_s = 540.3 + about(0.0).abs();
        for n in 0..((seconds - first_s - 360.0) / 1380.0) as usize {
            noise("thermostat", first_s + 1380.0 * n as f64, 6.0, 6.5, NightSound::Buzz);
        }
        noise("lamp", about(0.27), 35.0, 11.0, NightSound::Hash);
        noise("charger", about(0.62), 75.0, 5.0, NightSound::Hash);
        for n in 0..4 {
            noise("pump", about(0.105 + 0.21 * f64::from(n)), 0.6, 9.0, NightSound::Hash);
        }
        noise("panel", about(0.16), 20.0, 6.0, NightSound::Comb { spacing_hz: 133.0 });
        noise("panel", about(0.30), 12.0, 13.0, NightSound::Comb { spacing_hz: 133.0 });
        noise("plug", about(0.45), 20.0, 4.5, NightSound::Carrier { freq_hz: 1240.0 });
        noise("panel", about(0.66), 8.0, 7.0, NightSound::Comb { spacing_hz: 133.0 });
        noise("plug", about(0.86), 30.0, 7.0, NightSound::Carrier { freq_hz: 1240.0 });
        let station = |start_s: f64, minutes: f64, sending| NightStation {
            start_s,
            end_s: start_s + 60.0 * minutes,
            sending,
        };
        let mut stations = vec![
            station(about(0.09), 15.0, NightSending::Keyed),
            station(about(0.22), 25.0, NightSending::Fading),
            station(about(0.39), 25.0, NightSending::Voiced),
            station(about(0.57), 20.0, NightSending::Fading),
            station(about(0.80), 12.0, NightSending::Keyed),
            station(about(0.93), 20.0, NightSending::Voiced),
        ];
        let voices = 300.0 + about(0.0).abs();
        let every =
            |step_s: f64, from_s: f64| (0..(seconds / step_s) as usize).map(move |n| from_s + step_s * n as f64);
        stations.extend(every(2400.0, voices).map(|at_s| station(at_s, 7.0, NightSending::Voice)));
        noises.retain(|noise| noise.start_s < seconds - 60.0);
        noises.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let cars = every(3300.0, 1000.0).collect();
        Self { seconds, noises, stations, cars, thunder: vec![], sunrise_db: 6.0, swing_db: 0.0 }
    }

    /// So many hours of devices of 2 to 15 dB, each always as strong, of which every second coming overlaps another
    /// one's (every third time two others'), over a band that moves by ±3 dB in hours. What meets what, where in
    /// it, and for how long hangs on the seed.
    pub fn overlapping(hours: f64, seed: u64) -> Self {
        let seconds = hours * 3600.0;
        let mut gauss = Gauss::new(seed, "overlap");
        let mut devices = [
            ("charger", 2.2, 4.5, NightSound::Hash),
            ("lamp", 6.0, 9.0, NightSound::Hash),
            ("heater", 11.0, 15.0, NightSound::Hash),
            ("thermostat", 3.0, 6.0, NightSound::Buzz),
            ("dimmer", 9.0, 13.0, NightSound::Buzz),
            ("plug", 5.0, 9.0, NightSound::Carrier { freq_hz: 1240.0 }),
        ]
        .map(|(name, low, high, sound)| (name, gauss.between(low, high), sound));
        let mut noises = Vec::new();
        let mut at_s = 300.0;
        for scene in 0.. {
            let together = [1, 2, 1, 1, 2, 1, 3, 1, 1, 2, 1][scene % 11];
            let length_s = gauss.between(0.25, 0.7) * SCENE_S * if together == 1 { 0.5 } else { 1.0 };
            if at_s + 1.3 * length_s > seconds - 300.0 {
                break;
            }
            // Any of the devices in any order (Fisher, Yates).
            for last in (1..devices.len()).rev() {
                devices.swap(last, ((last + 1) as f64 * gauss.uniform()) as usize);
            }
            let mut end_s: f64 = at_s;
            for (nth, (name, excess_db, sound)) in devices.into_iter().take(together).enumerate() {
                let start_s = at_s + length_s * if nth == 0 { 0.0 } else { gauss.between(0.1, 0.8) };
                let share = if nth == 0 { 1.0 } else { gauss.between(0.2, 0.8) };
                let noise = NightNoise { name, start_s, end_s: start_s + share * length_s, excess_db, sound };
                end_s = end_s.max(noise.end_s);
                noises.push(noise);
            }
            at_s = end_s + gauss.between(120.0, 420.0);
        }
        noises.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        Self { seconds, noises, stations: vec![], cars: vec![], thunder: vec![], sunrise_db: 0.0, swing_db: 3.0 }
    }

    /// The band's noise over [`BAND`] at some time, dB: fading, swing, and the sunrise in the last third.
    fn band_db(&self, at_s: f64) -> f64 {
        let risen = ((at_s / self.seconds - 2.0 / 3.0) * 3.0).clamp(0.0, 1.0);
        let wave = |height: f64, period_s: f64| height * (std::f64::consts::TAU * at_s / period_s).sin();
        self.sunrise_db * risen * risen * (3.0 - 2.0 * risen)
            + wave(FADING_DB, FADING_S)
            + wave(self.swing_db, SWING_S)
    }

    /// How far a noise, alone, lifts the quiet band of these stretches (begin and end), dB; by seconds of them.
    pub fn quiet_excess_db(&self, noise: &NightNoise, stretches: &[[f64; 2]]) -> f64 {
        let seconds = stretches.iter().flat_map(|[from, to]| {
            let count = (to - from).ceil().max(1.0);
            (0..count as u32).map(move |n| from + (f64::from(n) + 0.5) * (to - from) / count)
        });
        let bands: Vec<f64> = seconds.map(|at_s| Db(self.band_db(at_s)).ratio()).collect();
        let band = bands.iter().sum::<f64>() / bands.len() as f64;
        Db::from_ratio(1.0 + added(noise.excess_db) / band).0
    }

    /// How far a noise lifts the level when it comes, dB, with all that is on then: the power in the passband if it
    /// stands in lines, else that of the noise between lines. Nothing for what clicks.
    pub fn jump_db(&self, noise: &NightNoise) -> f64 {
        self.step_db(noise, noise.start_s)
    }

    /// The same when it comes or when it goes, whichever is less.
    pub fn least_jump_db(&self, noise: &NightNoise) -> f64 {
        self.jump_db(noise).min(self.step_db(noise, noise.end_s))
    }

    fn step_db(&self, noise: &NightNoise, at_s: f64) -> f64 {
        let own = if noise.sound.is_clicks() { 0.0 } else { added(noise.excess_db) };
        let others = self.others_at(noise, at_s).map(|other| added(other.excess_db)).sum::<f64>();
        Db::from_ratio(1.0 + own / (Db(self.band_db(at_s)).ratio() + others)).0
    }

    /// Whether a louder noise is on when it comes or when it goes.
    pub fn is_under_a_louder_one(&self, noise: &NightNoise) -> bool {
        [noise.start_s, noise.end_s]
            .iter()
            .any(|&at_s| self.others_at(noise, at_s).any(|other| other.excess_db > noise.excess_db))
    }

    /// What lifts the noise at some time beside this one.
    fn others_at<'a>(&'a self, noise: &'a NightNoise, at_s: f64) -> impl Iterator<Item = &'a NightNoise> {
        let others = self.noises.iter().filter(move |other| *other != noise && other.sound.lifts_noise());
        others.filter(move |other| (other.start_s..other.end_s).contains(&at_s))
    }
}

/// Number of the sample at some time.
fn sample_at(at_s: f64) -> u64 {
    (at_s * f64::from(RATE_HZ)).round() as u64
}

/// Power over the band's that lifts it by so much.
fn added(excess_db: f64) -> f64 {
    Db(excess_db).ratio() - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 3.01 dB of added power is once the band's; upon a band that is as loud as that already it lifts by
    /// 10·lg(3/2) = 1.76 dB.
    #[test]
    fn the_jump_counts_what_is_on_already() {
        let noise =
            |start_s, end_s| NightNoise { name: "x", start_s, end_s, excess_db: 3.0103, sound: NightSound::Hash };
        let story = NightStory {
            seconds: 3.0 * FADING_S,
            noises: vec![noise(0.0, 500.0), noise(FADING_S, 450.0)],
            stations: vec![],
            cars: vec![],
            thunder: vec![],
            sunrise_db: 0.0,
            swing_db: 0.0,
        };
        assert!((story.jump_db(&story.noises[0]) - 3.0103).abs() < 1e-3);
        assert!((story.jump_db(&story.noises[1]) - 1.7609).abs() < 1e-3);
    }
}
