//! One take: a fixed time of the stream into a file, with live figures and reasons to stop.
//!
//! The file bears a hidden name until it is whole, and its header is brought up to date every second: whatever
//! happens, it can be read as far as it goes. Not here: its final name and its labels (`ledger`), asking the user
//! (`cli`).

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use jiff::Timestamp;

use super::pump::{Flow, Pump};
use crate::audio::{AudioError, ChannelChoice, Mono};
use crate::signal::health::samples::{CLIPPED_SAMPLES, FULL_SCALE, SILENT};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::signal::spectrum::statistics::steady_level;
use crate::units::{Db, Dbfs};
use crate::warning::Warning;

/// Time between two looks at the live figures, s (chosen: steady to read, quick to follow a knob).
const SLICE_S: f64 = 0.25;
/// As long as nothing comes, the take waits; this long, the source is taken to be gone, s. Chosen: far longer than
/// any buffer holds back what is recorded.
const STALLED_S: u64 = 5;
/// After this much silence no take will come of it, s (chosen).
const SILENT_S: f64 = 3.0;
/// From this length of a take on, s, the rate at which samples come is compared with the one named, and must agree
/// within this share (chosen: sound cards err by far less, and the next usual rate differs by 8 %).
const RATE_TOLD_S: f64 = 10.0;
const RATE_TOLERANCE: f64 = 0.03;

/// Where a take stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Live {
    /// Still to go, s.
    pub left_s: f64,
    /// Level of the last quarter second.
    pub level: Dbfs,
    /// From the highest sample of the take to full scale.
    pub head_room: Db,
    /// The level noise keeps to in most of the take.
    pub noise: Dbfs,
    /// The same over that of the last off take.
    pub over_off: Option<Db>,
    /// Whether tops are being cut off.
    pub is_clipped: bool,
}

/// Why a take ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Ended {
    /// As planned.
    Whole,
    /// By the user.
    Stopped,
    /// Nothing to hear.
    Silent,
    /// No more sound: why.
    NoMore(String),
}

/// A take on disk under its hidden name.
#[derive(Debug)]
pub struct Recorded {
    /// Where.
    pub path: PathBuf,
    /// When it began; `None` for sound that was not made now.
    pub started: Option<Timestamp>,
    /// Its length, s.
    pub seconds: f64,
    /// Why it ended.
    pub ended: Ended,
    /// Its last live figures; `None` where it holds no quarter second.
    pub live: Option<Live>,
    /// What the stream itself says against it, each with what to do.
    pub remarks: Vec<String>,
}

impl Recorded {
    /// Whether there is anything to hear in it, for a quarter second at least.
    pub fn is_sound(&self) -> bool {
        self.live.is_some_and(|live| live.noise >= SILENT)
    }
}

/// A take that could not be written.
#[derive(Debug, thiserror::Error)]
#[error(
    "{path}: the take can't be written: {why}\n  try: make room on the disk, then start again; earlier takes are \
     safe"
)]
pub struct NotWritten {
    path: String,
    why: String,
}

/// The hidden name of a take that is not whole yet.
pub fn hidden_name(file: &str) -> String {
    format!(".{file}{HIDDEN}")
}

/// Ends the hidden name.
pub(super) const HIDDEN: &str = ".part";

/// Records `seconds` of the stream into `dir` under the hidden name of `file`. `last_off`: noise of the last off
/// take.
/// `is_stopped` is asked, and `show` told where it stands, some times a second.
///
/// # Errors
/// When the file can't be written; what was written of it is taken away.
pub fn record(
    pump: &mut Pump,
    dir: &Path,
    file: &str,
    seconds: f64,
    last_off: Option<Dbfs>,
    is_stopped: impl Fn() -> bool,
    mut show: impl FnMut(&Live),
) -> Result<Recorded, NotWritten> {
    let path = dir.join(hidden_name(file));
    let failed = |error: hound::Error| {
        let _ = std::fs::remove_file(&path);
        NotWritten { path: path.display().to_string(), why: error.to_string() }
    };
    let format = pump.format();
    let mut wav = hound::WavWriter::create(&path, format.wav_spec()).map_err(failed)?;
    let mut meter = Meter::new(format.rate_hz, usize::from(format.channels), last_off);
    let wanted = (seconds * f64::from(format.rate_hz)).round() as usize * usize::from(format.channels);
    let mut written = 0;
    let mut clock = ArrivalClock::default();
    let mut heard = Instant::now();
    pump.open();
    let started = Timestamp::now();
    let mut rest = Vec::new();
    let ended = loop {
        if is_stopped() {
            break Ended::Stopped;
        }
        match pump.next(Duration::from_millis(200)) {
            Flow::Samples(mut samples) => {
                heard = Instant::now();
                clock.came(samples.len() / usize::from(format.channels));
                rest = samples.split_off(samples.len().min(wanted - written));
                write(&mut wav, &samples).map_err(failed)?;
                written += samples.len();
                if meter.push(&samples) {
                    if let Some(live) = meter.live(seconds) {
                        show(&live);
                    }
                    if meter.whole_seconds() {
                        wav.flush().map_err(failed)?;
                    }
                }
                if meter.is_silent() {
                    break Ended::Silent;
                }
            }
            Flow::Nothing if heard.elapsed().as_secs() >= STALLED_S => {
                break Ended::NoMore(format!("no sound has come for {STALLED_S} s"));
            }
            Flow::Nothing => {}
            Flow::End(why) => break Ended::NoMore(why),
        }
        if written >= wanted {
            break Ended::Whole;
        }
    };
    let lost = pump.lost_frames();
    pump.close(rest);
    wav.finalize().map_err(failed)?;
    File::open(&path).and_then(|file| file.sync_all()).map_err(|e| failed(hound::Error::IoError(e)))?;
    let mut remarks = Vec::new();
    if lost > 0 {
        remarks.push(format!(
            "overrun: {:.2} s of sound were lost because the disk could not follow. Record it again with nothing \
             else running.",
            lost as f64 / f64::from(format.rate_hz)
        ));
    }
    if let (times @ 1.., name) = pump.losses() {
        remarks.push(format!(
            "overrun: {name} lost samples, {}. Record it again with nothing else running.",
            if times == 1 { "once".to_owned() } else { format!("{times} times") }
        ));
    }
    if !pump.is_at_speed() {
        remarks.extend(clock.remark(format.rate_hz));
    }
    let frames = written / usize::from(format.channels);
    Ok(Recorded {
        path,
        // A file read at speed was recorded some other time.
        started: (!pump.is_at_speed()).then_some(started),
        seconds: frames as f64 / f64::from(format.rate_hz),
        ended,
        live: meter.live(seconds),
        remarks,
    })
}

/// Samples as the file's format holds them.
fn write(wav: &mut hound::WavWriter<BufWriter<File>>, samples: &[f32]) -> Result<(), hound::Error> {
    let spec = wav.spec();
    for &x in samples {
        match (spec.sample_format, spec.bits_per_sample) {
            (hound::SampleFormat::Float, _) => wav.write_sample(x)?,
            // The casts turn NaN into 0 and hold what lies outside within the type.
            (_, 24) => wav.write_sample((x * 8_388_608.0).round().clamp(-8_388_608.0, 8_388_607.0) as i32)?,
            _ => wav.write_sample((x * 32_768.0).round() as i16)?,
        }
    }
    Ok(())
}

/// Measures a take as every recording is measured: what speaks against it, each with what to do.
///
/// # Errors
/// When the file can't be read.
pub fn faults(path: &Path, mains_hz: Option<f64>) -> Result<Vec<Warning>, AudioError> {
    let mut audio = Mono::open(path, ChannelChoice::Auto)?;
    let usual = MeasureSettings::default();
    let settings = MeasureSettings { mains_hz: mains_hz.unwrap_or(usual.mains_hz), ..usual };
    let rate_hz = audio.facts().sample_rate_hz;
    Ok(Measurement::stream(rate_hz, &settings, |out| audio.read_block(out))?.warnings)
}

/// The level noise keeps to in most of a take on disk, as the live figures have it; `None` where it is too short.
///
/// # Errors
/// When the file can't be read.
pub fn noise_of(path: &Path) -> Result<Option<Dbfs>, AudioError> {
    let mut audio = Mono::open(path, ChannelChoice::Auto)?;
    let mut meter = Meter::new(audio.facts().sample_rate_hz, 1, None);
    let mut block = Vec::new();
    let mut more = true;
    while more {
        block.clear();
        more = audio.read_block(&mut block)?;
        meter.push(&block);
    }
    Ok(meter.live(0.0).map(|live| live.noise))
}

/// Cheap figures while the take runs, of the loudest channel.
struct Meter {
    channels: usize,
    slice_frames: usize,
    last_off: Option<Dbfs>,
    /// Of each channel: sum and sum of squares of the slice in progress, mean squares of the whole ones.
    running: Vec<(f64, f64)>,
    slices: Vec<Vec<f64>>,
    frames: usize,
    all_frames: usize,
    rate_hz: f64,
    peak: f32,
    full_scale: u64,
}

impl Meter {
    fn new(rate_hz: u32, channels: usize, last_off: Option<Dbfs>) -> Self {
        Self {
            channels,
            slice_frames: (SLICE_S * f64::from(rate_hz)) as usize,
            last_off,
            running: vec![(0.0, 0.0); channels],
            slices: vec![Vec::new(); channels],
            frames: 0,
            all_frames: 0,
            rate_hz: f64::from(rate_hz),
            peak: 0.0,
            full_scale: 0,
        }
    }

    /// Takes whole frames; whether a slice was completed.
    fn push(&mut self, samples: &[f32]) -> bool {
        let mut is_new = false;
        for frame in samples.chunks_exact(self.channels) {
            for (sums, &x) in self.running.iter_mut().zip(frame) {
                sums.0 += f64::from(x);
                sums.1 += f64::from(x).powi(2);
                self.peak = self.peak.max(x.abs());
                self.full_scale += u64::from(x.abs() >= FULL_SCALE);
            }
            self.frames += 1;
            self.all_frames += 1;
            if self.frames == self.slice_frames {
                let n = self.frames as f64;
                for (sums, slices) in self.running.iter_mut().zip(&mut self.slices) {
                    slices.push((sums.1 / n - (sums.0 / n).powi(2)).max(0.0));
                    *sums = (0.0, 0.0);
                }
                self.frames = 0;
                is_new = true;
            }
        }
        is_new
    }

    fn loudest(&self) -> &[f64] {
        let sum = |slices: &&Vec<f64>| slices.iter().sum::<f64>();
        self.slices.iter().max_by(|a, b| sum(a).total_cmp(&sum(b))).map_or(&[], |slices| slices.as_slice())
    }

    fn whole_seconds(&self) -> bool {
        self.loudest().len().is_multiple_of((1.0 / SLICE_S) as usize)
    }

    fn is_silent(&self) -> bool {
        let slices = self.loudest();
        let is_quiet = |power: &f64| Dbfs::from_mean_square(*power) < SILENT;
        slices.len() as f64 * SLICE_S >= SILENT_S && slices.iter().all(is_quiet)
    }

    fn live(&self, seconds: f64) -> Option<Live> {
        let slices = self.loudest();
        let noise = Dbfs::from_mean_square(steady_level(slices));
        Some(Live {
            left_s: (seconds - self.all_frames as f64 / self.rate_hz).max(0.0),
            level: Dbfs::from_mean_square(*slices.last()?),
            head_room: Db(-20.0 * f64::from(self.peak).log10()),
            noise,
            over_off: self.last_off.map(|off| noise - off),
            is_clipped: self.full_scale >= CLIPPED_SAMPLES,
        })
    }
}

/// How fast samples come by the clock.
#[derive(Default)]
struct ArrivalClock {
    first: Option<Instant>,
    frames: usize,
    seconds: f64,
}

impl ArrivalClock {
    /// The first block only starts the clock: it may have waited in a pipe.
    fn came(&mut self, frames: usize) {
        match self.first {
            None => self.first = Some(Instant::now()),
            Some(first) => {
                self.frames += frames;
                self.seconds = first.elapsed().as_secs_f64();
            }
        }
    }

    fn remark(&self, rate_hz: u32) -> Option<String> {
        let came_hz = self.frames as f64 / self.seconds;
        let is_off = (came_hz / f64::from(rate_hz) - 1.0).abs() > RATE_TOLERANCE;
        (self.seconds >= RATE_TOLD_S && is_off).then(|| {
            format!(
                "wrong rate: {:.1} thousand samples came in a second, not {:.1}. Give the recorder's own rate \
                 with --rate and its channels with --channels; for a file add --at-speed.",
                came_hz / 1e3,
                f64::from(rate_hz) / 1e3
            )
        })
    }
}

#[cfg(test)]
#[path = "take_tests.rs"]
mod tests;
