//! A night as sound: in blocks, so that eight hours need no memory, into files.
//!
//! Not here: what happens when (`super`), the waves of what stands in lines and of stations (`tones`).

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use super::clicks::{PulseShapes, PulseTrain, Stroke};
use super::tones::{DeviceTones, StationWave};
use super::{BAND, NightSound, NightStory, RATE_HZ, added, sample_at};
use crate::audio::{AudioError, Problem};
use crate::demo::DemoError;
use crate::demo::synth::{Gauss, Receiver};
use crate::units::Db;

/// Samples filtered at once (a power of two), and those on each side of them that are cut off again. Chosen: half
/// a minute, some megabytes; and a margin longer than the filter rings.
const BLOCK: usize = 1 << 18;
const MARGIN: usize = 2000;
/// Static crashes: mean distance, height over the band, time of decay. Invented: far thunderstorms.
const CRASH_EVERY_S: f64 = 45.0;
const CRASH_DB: f64 = 14.0;
const CRASH_S: f64 = 0.15;
/// The passing car: how long it is near, its sparks a second. Invented.
const CAR_S: f64 = 6.0;
const CAR_SPARKS_HZ: f64 = 90.0;
/// Pulses of mains noise: twice a cycle, open for this share of the time. At 50 Hz mains; the share is invented.
const BUZZ_HZ: f64 = 100.0;
const BUZZ_OPEN: f64 = 0.35;

/// Writes a night into `dir` as 16-bit WAV of 8 kHz, in files named by their start in UTC. `spans`: begin and end
/// of each, seconds from the night's start; `is_stopped` is asked every half minute of it. Returns the files.
///
/// # Errors
/// A file that can't be written; [`DemoError::Stopped`].
pub fn write_night(
    dir: &Path,
    story: &NightStory,
    spans: &[(f64, f64)],
    seed: u64,
    is_stopped: &dyn Fn() -> bool,
) -> Result<Vec<PathBuf>, DemoError> {
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
        if is_stopped() {
            return Err(DemoError::Stopped);
        }
        let block = making.next_block();
        for one in &mut open {
            one.take(at, &block)?;
        }
        at += block.len() as u64;
    }
    open.into_iter().try_for_each(Writing::end)?;
    Ok(files)
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
        let new = crate::disk::create(path).map_err(|e| failed(path)(e.into()))?;
        let wav = hound::WavWriter::new(BufWriter::new(new), spec).map_err(failed(path))?;
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
    |e| AudioError::new(path, Problem::NotWritten { why: e.to_string() }).into()
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
    /// One for each station of the story.
    stations: Vec<StationWave>,
    /// One for each device of the story that stands in lines.
    tones: Vec<DeviceTones>,
    /// One for each device of the story that clicks.
    clicks: Vec<PulseTrain>,
    shapes: PulseShapes,
    /// Strokes of lightning to come, the next one last; and those that die away.
    strokes: Vec<Stroke>,
    dying: Vec<Stroke>,
}

impl<'a> Making<'a> {
    fn new(story: &'a NightStory, seed: u64) -> Self {
        let receiver = Receiver::ssb(RATE_HZ);
        let scale = (BAND.mean_square() / receiver.noise_gain(|_| 1.0)).sqrt();
        let named = story.noises.iter().enumerate();
        let clicks = named.filter_map(|(n, noise)| PulseTrain::of(noise, seed, &format!("clicks {n}")));
        let mut lightning = Gauss::new(seed, "lightning");
        let mut strokes: Vec<Stroke> =
            story.thunder.iter().flat_map(|thunder| thunder.strokes(&mut lightning)).collect();
        strokes.sort_by(|a, b| b.at_s.total_cmp(&a.at_s));
        let mut making = Self {
            story,
            gauss: Gauss::new(seed, "night"),
            crashes: Gauss::new(seed, "crashes"),
            sparks: Gauss::new(seed, "sparks"),
            raw: Vec::with_capacity(BLOCK),
            made: 0,
            crash: 0.0,
            scale,
            stations: StationWave::of_all(&story.stations, &receiver, seed),
            tones: story.noises.iter().filter_map(DeviceTones::of).collect(),
            clicks: clicks.collect(),
            shapes: PulseShapes::new(&receiver),
            strokes,
            dying: Vec::new(),
            receiver,
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
        self.stations.iter().for_each(|station| station.add(first, &mut block));
        self.tones.iter().for_each(|tones| tones.add(first, &mut block));
        self.clicks.iter().for_each(|clicks| clicks.add(first, &mut block, &self.shapes));
        block
    }

    /// Appends unfiltered samples. All noises but lines are Gaussian and of the band's shape, so one stream serves:
    /// its power is the sum of theirs.
    fn make(&mut self, count: usize) {
        let rate_hz = f64::from(RATE_HZ);
        let (mut band, mut on) = (0.0, (0.0, 0.0));
        for n in 0..count {
            let at_s = self.made as f64 / rate_hz;
            // Slow things are worked out every 4 ms.
            if n % 32 == 0 {
                band = Db(self.story.band_db(at_s)).ratio();
                on = self.on(at_s);
                on.0 += self.thunder(at_s);
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
                _ => {}
            }
        }
        sum
    }

    /// Power of the strokes that die away, over the band's.
    fn thunder(&mut self, at_s: f64) -> f64 {
        while self.strokes.last().is_some_and(|stroke| stroke.at_s <= at_s) {
            self.dying.extend(self.strokes.pop());
        }
        let left = |stroke: &Stroke| stroke.power * (-(at_s - stroke.at_s) / stroke.decay_s).exp();
        self.dying.retain(|stroke| left(stroke) > 0.001);
        self.dying.iter().map(left).sum()
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
