//! The third invented recording: a night at the shed, with what came and went in it known to the sample.
//!
//! A thermostat that switches in cycles, a lamp, a charger, a pump for moments; and what is no episode: a sunrise, slow
//! fading, static crashes, a car that passes, stations. Made in blocks, so that eight hours need no memory. A noise has
//! the same power at the antenna as long as it is on, so how far it lifts the band depends on how the band stands.

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use super::DemoError;
use super::synth::{Gauss, Receiver, Scene, Station};
use crate::units::{Db, Dbfs};

const RATE_HZ: u32 = 8000;
/// The band's noise in the passband when nothing is on and nothing fades.
const BAND: Dbfs = Dbfs(-42.0);
/// Samples filtered at once (a power of two), and those on each side of them that are cut off again.
const BLOCK: usize = 1 << 18;
const MARGIN: usize = 2000;
/// Slow fading of the band: swing to each side and period.
const FADING_DB: f64 = 1.0;
const FADING_S: f64 = 420.0;
/// Static crashes: mean distance, height over the band, time of decay.
const CRASH_EVERY_S: f64 = 45.0;
const CRASH_DB: f64 = 14.0;
const CRASH_S: f64 = 0.15;
/// The passing car: how long it is near, its sparks a second.
const CAR_S: f64 = 6.0;
const CAR_SPARKS_HZ: f64 = 90.0;
/// Pulses of mains noise: twice a cycle, open for this share of the time.
const BUZZ_HZ: f64 = 100.0;
const BUZZ_OPEN: f64 = 0.35;

/// The kind of noise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NightSound {
    /// Steady.
    Hash,
    /// Pulses twice in each cycle of the mains.
    Buzz,
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
    /// How far it lifts the band's own noise when that does not fade, dB.
    pub excess_db: f64,
    /// Its kind.
    pub sound: NightSound,
}

/// A night's story: what happens when.
#[derive(Debug, Clone, PartialEq)]
pub struct NightStory {
    /// Length.
    pub seconds: f64,
    /// What comes and goes.
    pub noises: Vec<NightNoise>,
    /// When a station is heard: begin and end.
    pub stations: Vec<(f64, f64)>,
    /// When a car passes.
    pub cars: Vec<f64>,
    /// By how much the band rises towards the end, dB.
    pub sunrise_db: f64,
}

impl NightStory {
    /// Twenty-four minutes in which everything happens once, and the thermostat three times.
    pub fn short() -> Self {
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
                noise("lamp", 702.7, 180.0, 11.0, NightSound::Hash),
                noise("thermostat", 965.4, 90.0, 7.0, NightSound::Buzz),
                noise("pump", 1130.2, 25.0, 9.0, NightSound::Hash),
            ],
            stations: vec![(250.0, 340.0), (760.0, 800.0)],
            cars: vec![430.0, 1080.0],
            sunrise_db: 2.0,
        }
    }

    /// So many hours, at least three: a thermostat every 23 minutes, a lamp, a charger, a pump.
    pub fn long(hours: f64) -> Self {
        let seconds = hours * 3600.0;
        let noise = |name, start_s: f64, minutes: f64, excess_db, sound| NightNoise {
            name,
            start_s,
            end_s: start_s + 60.0 * minutes,
            excess_db,
            sound,
        };
        let cycles = ((seconds - 900.0) / 1380.0) as usize;
        let mut noises: Vec<NightNoise> = (0..cycles)
            .map(|n| noise("thermostat", 540.3 + 1380.0 * n as f64, 6.0, 6.5, NightSound::Buzz))
            .collect();
        noises.push(noise("lamp", 0.27 * seconds, 35.0, 11.0, NightSound::Hash));
        noises.push(noise("charger", 0.62 * seconds, 75.0, 5.0, NightSound::Hash));
        let pump = |n: usize| noise("pump", seconds * (0.105 + 0.21 * n as f64), 0.6, 9.0, NightSound::Hash);
        noises.extend((0..4).map(pump));
        noises.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let every =
            |step_s: f64, from_s: f64| (0..(seconds / step_s) as usize).map(move |n| from_s + step_s * n as f64);
        Self {
            seconds,
            noises,
            stations: every(2400.0, 300.0).map(|at| (at, at + 420.0)).collect(),
            cars: every(3300.0, 1000.0).collect(),
            sunrise_db: 6.0,
        }
    }

    /// The band's noise over [`BAND`] at some time, dB: fading, and the sunrise in the last third.
    fn band_db(&self, at_s: f64) -> f64 {
        let risen = ((at_s / self.seconds - 2.0 / 3.0) * 3.0).clamp(0.0, 1.0);
        let fading = FADING_DB * (std::f64::consts::TAU * at_s / FADING_S).sin();
        self.sunrise_db * risen * risen * (3.0 - 2.0 * risen) + fading
    }

    /// How far a noise lifts the level when it comes, dB, with all that is on then.
    pub fn jump_db(&self, noise: &NightNoise) -> f64 {
        let own = added(noise.excess_db);
        let others = self.noises.iter().filter(|other| *other != noise);
        let others = others.filter(|other| (other.start_s..other.end_s).contains(&noise.start_s));
        let before =
            Db(self.band_db(noise.start_s)).ratio() + others.map(|other| added(other.excess_db)).sum::<f64>();
        Db::from_ratio(1.0 + own / before).0
    }
}

/// Power over the band's that lifts it by so much.
fn added(excess_db: f64) -> f64 {
    Db(excess_db).ratio() - 1.0
}

/// Writes a night into `dir` as 16-bit WAV of 8 kHz, in files named by their start in UTC. `spans`: begin and end of each,
/// seconds from the night's start. Returns the files.
///
/// # Errors
/// A file that can't be written.
pub fn write_night(
    dir: &Path,
    story: &NightStory,
    spans: &[(f64, f64)],
    seed: u64,
) -> Result<Vec<PathBuf>, DemoError> {
    let folder = |cause| DemoError::Folder { dir: dir.to_owned(), cause };
    std::fs::create_dir_all(dir).map_err(folder)?;
    let mut files = Vec::new();
    let mut open: Vec<Writing> = Vec::new();
    for &(from_s, to_s) in spans {
        let path = dir.join(file_name(from_s));
        open.push(Writing::begin(&path, sample_at(from_s), sample_at(to_s))?);
        files.push(path);
    }
    let mut making = Making::new(story, seed);
    let mut at = 0u64;
    while at < sample_at(story.seconds) {
        let block = making.next_block();
        for one in &mut open {
            one.take(at, &block)?;
        }
        at += block.len() as u64;
    }
    open.into_iter().try_for_each(Writing::end)?;
    Ok(files)
}

fn sample_at(at_s: f64) -> u64 {
    (at_s * f64::from(RATE_HZ)).round() as u64
}

/// "shed-2026-03-14T21-30-00Z.wav": the night begins at half past nine.
fn file_name(from_s: f64) -> String {
    let start = jiff::civil::date(2026, 3, 14).at(21, 30, 0, 0);
    let at = start.checked_add(jiff::Span::new().seconds(from_s.round() as i64)).unwrap_or(start);
    format!("shed-{}.wav", at.strftime("%Y-%m-%dT%H-%M-%SZ"))
}

/// A file being written: the samples from `from` to `to`.
struct Writing {
    path: PathBuf,
    from: u64,
    to: u64,
    wav: hound::WavWriter<BufWriter<File>>,
}

impl Writing {
    fn begin(path: &Path, from: u64, to: u64) -> Result<Self, DemoError> {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: RATE_HZ,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let wav = hound::WavWriter::create(path, spec).map_err(failed(path))?;
        Ok(Self { path: path.to_owned(), from, to, wav })
    }

    /// Writes those of some samples that are its own; `at`: number of the first.
    fn take(&mut self, at: u64, samples: &[f64]) -> Result<(), DemoError> {
        let place = |sample: u64| (sample.max(at) - at).min(samples.len() as u64) as usize;
        for &x in &samples[place(self.from)..place(self.to)] {
            let value = (x * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16;
            self.wav.write_sample(value).map_err(failed(&self.path))?;
        }
        Ok(())
    }

    fn end(self) -> Result<(), DemoError> {
        self.wav.finalize().map_err(failed(&self.path))
    }
}

fn failed(path: &Path) -> impl Fn(hound::Error) -> DemoError + '_ {
    |cause| DemoError::Recording { file: path.to_owned(), cause }
}

/// The night as a stream of blocks.
struct Making<'a> {
    story: &'a NightStory,
    receiver: Receiver,
    gauss: Gauss,
    crashes: Gauss,
    sparks: Gauss,
    /// Unfiltered samples: margin, block, margin.
    raw: Vec<f64>,
    /// Time of the next sample to make.
    made: u64,
    crash: f64,
    /// White noise of this amplitude has the band's level behind the filter.
    scale: f64,
    /// A station's voice, over and over.
    voice: Vec<f64>,
}

impl<'a> Making<'a> {
    fn new(story: &'a NightStory, seed: u64) -> Self {
        let receiver = Receiver::ssb(RATE_HZ);
        let scale = (BAND.mean_square() / receiver.noise_gain(|_| 1.0)).sqrt();
        let voice = Scene::new(receiver.clone())
            .band_noise(Dbfs(BAND.0 - 60.0))
            .station(Station::voice(140.0), Db(72.0))
            .seed(seed)
            .render(20.0);
        let mut making = Self {
            story,
            receiver,
            gauss: Gauss::new(seed, "night"),
            crashes: Gauss::new(seed, "crashes"),
            sparks: Gauss::new(seed, "sparks"),
            raw: Vec::with_capacity(BLOCK),
            made: 0,
            crash: 0.0,
            scale,
            voice: voice.samples.iter().map(|&x| f64::from(x)).collect(),
        };
        // Before the first sample there is only the band.
        making.raw = making.gauss.white(MARGIN).iter().map(|x| x * scale).collect();
        making
    }

    /// The next samples as recorded.
    fn next_block(&mut self) -> Vec<f64> {
        self.make(BLOCK - self.raw.len());
        let first = self.made - (BLOCK - MARGIN) as u64;
        let filtered = self.receiver.filter(&self.raw);
        let mut block = filtered[MARGIN..BLOCK - MARGIN].to_vec();
        self.raw.drain(..BLOCK - 2 * MARGIN);
        for &(from_s, to_s) in &self.story.stations {
            for (n, x) in block.iter_mut().enumerate() {
                let at = first + n as u64;
                if (sample_at(from_s)..sample_at(to_s)).contains(&at) {
                    *x += self.voice[(at % self.voice.len() as u64) as usize];
                }
            }
        }
        block
    }

    /// Appends unfiltered samples. All noises are Gaussian and of the band's shape, so one stream serves: its power is
    /// the sum of theirs.
    fn make(&mut self, count: usize) {
        let rate_hz = f64::from(RATE_HZ);
        let (mut band, mut on) = (0.0, (0.0, 0.0));
        for n in 0..count {
            let at_s = self.made as f64 / rate_hz;
            // Slow things are worked out every 4 ms.
            if n % 32 == 0 {
                band = Db(self.story.band_db(at_s)).ratio();
                on = self.on(at_s);
            }
            let pulse = (at_s * BUZZ_HZ).fract() < BUZZ_OPEN;
            let buzz = if pulse { on.1 / BUZZ_OPEN } else { 0.0 };
            self.crash *= (-1.0 / (CRASH_S * rate_hz)).exp();
            if self.crashes.uniform() < 1.0 / (CRASH_EVERY_S * rate_hz) {
                self.crash = Db(CRASH_DB).ratio();
            }
            let mut x = self.gauss.normal() * (band + on.0 + buzz + self.crash).sqrt() * self.scale;
            x += self.spark(at_s);
            self.raw.push(x);
            self.made += 1;
        }
    }

    /// Powers of hash and of buzz over the band's.
    fn on(&self, at_s: f64) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for noise in self.story.noises.iter().filter(|noise| (noise.start_s..noise.end_s).contains(&at_s)) {
            match noise.sound {
                NightSound::Hash => sum.0 += added(noise.excess_db),
                NightSound::Buzz => sum.1 += added(noise.excess_db),
            }
        }
        sum
    }

    /// A spark of a passing car: louder the nearer it is.
    fn spark(&mut self, at_s: f64) -> f64 {
        let near = |car: &f64| (-0.5 * ((at_s - car) / (CAR_S / 2.0)).powi(2)).exp();
        let nearest =
            self.story.cars.iter().filter(|car| (at_s - **car).abs() < 2.0 * CAR_S).map(near).fold(0.0, f64::max);
        if nearest > 0.0 && self.sparks.uniform() < CAR_SPARKS_HZ / f64::from(RATE_HZ) {
            return 40.0 * self.scale * nearest * self.sparks.normal();
        }
        0.0
    }
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
            sunrise_db: 0.0,
        };
        assert!((story.jump_db(&story.noises[0]) - 3.0103).abs() < 1e-3);
        assert!((story.jump_db(&story.noises[1]) - 1.7609).abs() < 1e-3);
    }
}
