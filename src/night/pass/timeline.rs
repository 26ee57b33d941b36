//! What is known of a night: recordings in order of time, each with its steps (the level) and rows (the spectrum).
//!
//! Times are seconds from the start of the first recording; all powers linear, FS² or FS²/Hz with full scale ±1.
//! Not here: how they are measured (`row`), how rows are kept within bounds (`store`).

use std::collections::BTreeMap;
use std::path::PathBuf;

use jiff::{SignedDuration, Timestamp};

use super::clock::{Clock, Join, StartFrom};
use super::plan::Grid;
use crate::audio::{ReadAccount, StreamFacts};
use crate::signal::spectrum::Passband;
use crate::signal::spectrum::statistics::quantile;
use crate::units::Db;

/// Recorders name files by the second and take a moment to begin the next one: nothing is said of joins this close.
/// Chosen.
pub(super) const JOIN_S: f64 = 3.0;

/// A night.
#[derive(Debug, Clone)]
pub struct Timeline {
    /// When its first recording began: what times in seconds count from.
    pub origin: Timestamp,
    /// What kind of time that is.
    pub clock: Clock,
    /// The recordings, in order of their start.
    pub passages: Vec<Passage>,
    /// Gaps and overlaps between them.
    pub joins: Vec<Join>,
    /// Files that gave nothing.
    pub left_out: Vec<LeftOut>,
    /// How much was not read, since whoever watched wanted an end.
    pub unread_s: f64,
}

impl Timeline {
    /// Of recordings in order of their start; `None` if there are none.
    pub(super) fn of(mut passages: Vec<Passage>, zoned: &[bool]) -> Option<Self> {
        let origin = passages.first()?.started;
        for passage in &mut passages {
            passage.start_s = passage.started.duration_since(origin).as_secs_f64();
        }
        let joins = joins(&passages);
        let clock = Clock::of(zoned.iter().copied());
        Some(Self { origin, clock, passages, joins, left_out: Vec::new(), unread_s: 0.0 })
    }
}

/// A file that could not be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Its name.
    pub file: String,
    /// Why, and what to do.
    pub reason: String,
}

/// One recording of the night.
#[derive(Debug, Clone)]
pub struct Passage {
    /// Its name, relative to the folder asked for.
    pub file: String,
    /// Where to open it again.
    pub path: PathBuf,
    /// When it began.
    pub started: Timestamp,
    /// The same from the night's origin.
    pub start_s: f64,
    /// What tells its start.
    pub start_from: StartFrom,
    /// How long it is, by the samples that could be read.
    pub duration_s: f64,
    /// What its file tells.
    pub facts: StreamFacts,
    /// What was lost in reading it.
    pub account: ReadAccount,
    /// How it was cut.
    pub grid: Grid,
    /// The receiver's passband, the same for all of it.
    pub passband: Passband,
    /// Values of a row's spectrum, from 0 Hz on.
    pub bins: usize,
    /// Their width.
    pub bin_hz: f64,
    /// Levels, [`Grid::step_s`] apart; what could not be read stands as silence.
    pub steps: Vec<Step>,
    /// Spectra in order of time.
    pub rows: Vec<Row>,
    /// Clicks and what is as short, in order of time.
    pub ticks: Vec<Tick>,
}

/// A moment that stands out of the noise, with quiet around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tick {
    /// When, in 4096ths of a second from the recording's start (twelve days fit).
    pub at: u32,
    /// Its largest sample in standard deviations of the noise around it.
    pub sigmas: f32,
}

impl Tick {
    /// Ticks of its clock in a second.
    pub(crate) const PER_S: f64 = 4096.0;

    /// Seconds from the recording's start.
    pub fn at_s(&self) -> f64 {
        f64::from(self.at) / Self::PER_S
    }
}

/// Levels of just under a second.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Step {
    /// Noise power in the passband, lines, stations and pulses kept out; 0 where there was only silence.
    pub noise: f32,
    /// Power in the passband, all of it.
    pub total: f32,
    /// Mean square of the samples, in and out of the passband.
    pub level: f32,
    /// Samples at full scale.
    pub clipped: u32,
    /// Samples in holes (runs of equal samples of 5 ms or more).
    pub hole: u32,
    /// Share of the frames that the noise was taken from; the rest held a click, a crash, a syllable.
    pub quiet_share: f32,
}

/// Power in the passband from which on a step is called busy, over its noise: a steady line 2 dB down is below it.
/// Chosen: so that the level's own scatter is not taken for a station.
const BUSY_DB: f64 = 2.0;
/// A step of which a smaller share is quiet has something over its noise that moves (chosen: in plain noise the share
/// is 1 in nearly all steps).
const STILL_SHARE: f32 = 0.75;

impl Step {
    /// Noise power, FS²; `None` for silence and for what could not be read.
    pub fn noise_power(&self) -> Option<f64> {
        (self.noise > 0.0).then_some(f64::from(self.noise))
    }

    /// What stands over the noise (stations, lines, clicks), as a ratio to it; `None` for silence.
    pub fn signal_over_noise(&self) -> Option<f64> {
        Some((f64::from(self.total) / self.noise_power()? - 1.0).max(0.0))
    }

    /// Whether something over its noise moves within it, such as a voice; a steady carrier lifts all frames alike.
    pub fn holds_more(&self) -> bool {
        self.quiet_share < STILL_SHARE
    }

    /// Whether stations, lines or clicks lift the passband clearly above its noise.
    pub fn is_busy(&self) -> bool {
        self.signal_over_noise().is_some_and(|ratio| ratio > Db(BUSY_DB).ratio() - 1.0)
    }
}

/// A mean spectrum of some ten seconds, or of several such in a long night.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Place in the recording: [`Grid::row_s`] times this is its start.
    pub first: u32,
    /// Frames in it; in a long night of short recordings, in those that follow as well.
    pub frames: u32,
    /// Of these, frames that are no digital silence: the ones in the mean.
    pub sounding: u32,
    /// Mean density, FS²/Hz.
    pub density: Box<[f32]>,
}

/// Noise levels of one minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Minute {
    /// Its start, a whole minute from the origin.
    pub at_s: f64,
    /// Steps in it that are no silence.
    pub steps: usize,
    /// Noise power that 10 %, half and 90 % of the steps stay under, FS².
    pub noise: [f64; 3],
    /// Share of the steps in which something stands over the noise.
    pub busy_share: f64,
    /// Samples at full scale.
    pub clipped: u64,
    /// Seconds in holes.
    pub hole_s: f64,
}

impl Timeline {
    /// Time of day, RFC 3339 to the second; without a zone where nothing tells it.
    pub fn time_of(&self, at_s: f64) -> String {
        let after = SignedDuration::try_from_secs_f64(at_s.round()).unwrap_or_default();
        let at = self.origin.checked_add(after).unwrap_or(self.origin);
        let at = Timestamp::from_second(at.as_second()).unwrap_or(at).to_string();
        match self.clock {
            Clock::Local => at.trim_end_matches('Z').to_owned(),
            Clock::Utc | Clock::Mixed => at,
        }
    }

    /// Length from the first start to the last end.
    pub fn duration_s(&self) -> f64 {
        self.passages.iter().map(|passage| passage.start_s + passage.duration_s).fold(0.0, f64::max)
    }

    /// The night by minutes that hold any sound, in order of time. A step belongs to the minute its middle lies in.
    pub fn minutes(&self) -> Vec<Minute> {
        let mut minutes: BTreeMap<u64, Gathered> = BTreeMap::new();
        for passage in &self.passages {
            let rate_hz = f64::from(passage.grid.rate_hz);
            for (at_s, step) in passage.timed_steps() {
                let minute = minutes.entry(((at_s + passage.grid.step_s() / 2.0) / 60.0) as u64).or_default();
                minute.noise.extend(step.noise_power());
                minute.busy += usize::from(step.is_busy());
                minute.clipped += u64::from(step.clipped);
                minute.hole_s += f64::from(step.hole) / rate_hz;
            }
        }
        minutes.into_iter().filter_map(|(number, gathered)| gathered.minute(number)).collect()
    }
}

/// Gaps and overlaps of recordings in order of their start.
pub(crate) fn joins(passages: &[Passage]) -> Vec<Join> {
    let mut end_s = f64::NEG_INFINITY;
    let mut found = Vec::new();
    for (at, passage) in passages.iter().enumerate() {
        let gap_s = passage.start_s - end_s;
        if at > 0 && gap_s.abs() > JOIN_S {
            found.push(Join { at, file: passage.file.clone(), gap_s });
        }
        end_s = end_s.max(passage.start_s + passage.duration_s);
    }
    found
}

#[derive(Default)]
struct Gathered {
    noise: Vec<f64>,
    busy: usize,
    clipped: u64,
    hole_s: f64,
}

impl Gathered {
    fn minute(mut self, number: u64) -> Option<Minute> {
        let steps = self.noise.len();
        (steps > 0).then(|| Minute {
            at_s: 60.0 * number as f64,
            steps,
            noise: [0.1, 0.5, 0.9].map(|q| quantile(&mut self.noise, q)),
            busy_share: self.busy as f64 / steps as f64,
            clipped: self.clipped,
            hole_s: self.hole_s,
        })
    }
}

impl Passage {
    /// Each step with its start from the night's origin.
    pub fn timed_steps(&self) -> impl ExactSizeIterator<Item = (f64, &Step)> {
        let step_s = self.grid.step_s();
        self.steps.iter().enumerate().map(move |(n, step)| (self.start_s + n as f64 * step_s, step))
    }

    /// Each click with its time from the night's origin.
    pub fn timed_ticks(&self) -> impl Iterator<Item = (f64, &Tick)> {
        self.ticks.iter().map(|tick| (self.start_s + tick.at_s(), tick))
    }

    /// Start of a row from the night's origin, and its length.
    pub fn row_time(&self, row: &Row) -> (f64, f64) {
        (self.start_s + f64::from(row.first) * self.grid.row_s(), self.grid.seconds(row.frames as usize))
    }
}
