//! The one pass over a night's audio, in bounded memory: recordings become steps (the level) and rows (the
//! spectrum).
//!
//! Files in order of time are each looked at, divided, measured and put together again. A file whose stretches can
//! be gone to is shared out in chunks; any other is decoded by one thread while the others measure what it has
//! decoded. Either way rows are measured one by one and added in order.

pub mod clock;
pub mod faults;
pub mod look;
pub mod noise;
pub mod plan;
pub mod row;
pub mod store;
#[cfg(test)]
mod tests;
pub mod ticks;
pub mod timeline;

use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use crate::audio::{AudioError, ChannelChoice, Lost, Mono, Parts, ReadAccount};
use crate::labels::{Dated, Start};
use crate::night::pass::clock::StartFrom;
use crate::night::pass::look::Look;
use crate::night::pass::plan::{Grid, RecordingPlan};
use crate::night::pass::row::{Measured, RowMeter};
use crate::night::pass::store::Store;
use crate::night::pass::timeline::{LeftOut, Passage, Timeline};
use crate::signal::spectrum::Passband;
use crate::watch::{Stopped, Watch};

/// What the user may lay down.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NightSettings {
    /// Passband of all recordings, where it is not to be found from the sound.
    pub passband: Option<Passband>,
    /// Channel of recordings whose manifest names none.
    pub channel: ChannelChoice,
}

/// Why there is no timeline.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NightError {
    /// None of the files can be used.
    #[error("none of the recordings can be used{}", reasons(.left_out))]
    NothingUsable {
        /// Each file with its reason.
        left_out: Vec<LeftOut>,
    },
    /// The log of what was switched.
    #[error("the log: {0}")]
    Log(#[from] crate::night::recurrence::switch_log::LogError),
    /// Whoever watched ended it.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

fn reasons(left_out: &[LeftOut]) -> String {
    left_out.iter().map(|one| format!("\n  {}: {}", one.file, one.reason)).collect()
}

/// Chunks worked on before their rows are put together: enough for many cores, and what waits is small (spectra).
const CHUNKS_AT_ONCE: usize = 32;
/// Samples decoded ahead in a file that can only be read through (8 MiB; twice that is held).
const SAMPLES_AHEAD: usize = 1 << 21;

/// Who is told on the way how far the night was read: all of it so far, whenever some more was.
pub type SoFar<'a> = &'a mut dyn FnMut(&Timeline);

/// Goes through a night. The outcome is the same to the last bit on any number of threads (rayon's current pool).
///
/// # Errors
/// None of the files can be used, or `watch` ended it before anything was read. A single bad file is named in
/// [`Timeline::left_out`]. Ended later, the timeline is of what was read.
pub fn read_timeline(files: &[Dated], settings: &NightSettings, watch: &dyn Watch) -> Result<Timeline, NightError> {
    read_telling(files, settings, watch, &mut |_| {})
}

/// The same, and tells on the way.
///
/// # Errors
/// Those of [`read_timeline`].
pub fn read_telling(
    files: &[Dated],
    settings: &NightSettings,
    watch: &dyn Watch,
    so_far: SoFar<'_>,
) -> Result<Timeline, NightError> {
    go_through(files, settings, watch, so_far, Store::new(), Division::AsFileAllows)
}

/// How a file is read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Division {
    AsFileAllows,
    /// From start to end whatever it allows, for comparison.
    #[cfg(test)]
    ReadThrough,
}

#[cfg(test)]
pub(crate) fn timeline_read_through(files: &[Dated], settings: &NightSettings) -> Result<Timeline, NightError> {
    go_through(files, settings, &(), &mut |_| {}, Store::new(), Division::ReadThrough)
}

#[cfg(test)]
pub(crate) fn timeline_within(files: &[Dated], most_bytes: usize) -> Result<Timeline, NightError> {
    let store = Store::within(most_bytes);
    go_through(files, &NightSettings::default(), &(), &mut |_| {}, store, Division::AsFileAllows)
}

fn go_through(
    files: &[Dated],
    settings: &NightSettings,
    watch: &dyn Watch,
    so_far: SoFar<'_>,
    mut store: Store,
    division: Division,
) -> Result<Timeline, NightError> {
    let opened: Vec<Result<Opened, LeftOut>> = files.par_iter().map(|file| Opened::new(file, settings)).collect();
    let mut left_out = Vec::new();
    let mut night: Vec<Opened> =
        opened.into_iter().filter_map(|one| one.map_err(|out| left_out.push(out)).ok()).collect();
    night.sort_by_key(|one| one.start.at);
    let progress =
        Progress { watch, done_ms: AtomicU64::new(0), all_s: night.iter().map(|one| one.length_s).sum() };
    let mut zoned = Vec::new();
    let mut unread_s = 0.0;
    // Each is let go of once it was read.
    for one in night {
        if watch.is_stopped() {
            unread_s += one.length_s;
            continue;
        }
        let mut telling =
            Telling { zoned: one.start.zoned, is_wanted: watch.wants_to_know(), so_far: &mut *so_far };
        match one.read(settings, &progress, &mut store, &mut telling, division) {
            Ok(()) => zoned.push(one.start.zoned),
            Err(_) if watch.is_stopped() => unread_s += one.length_s,
            Err(reason) => left_out.push(LeftOut { file: one.dated.file.clone(), reason }),
        }
        if watch.is_stopped() {
            unread_s += store.passages.last().map_or(0.0, |last| (one.length_s - last.duration_s).max(0.0));
        }
    }
    let timeline = Timeline::of(store.passages, &zoned);
    match timeline {
        Some(timeline) => Ok(Timeline { left_out, unread_s, ..timeline }),
        None if watch.is_stopped() => Err(Stopped.into()),
        None => Err(NightError::NothingUsable { left_out }),
    }
}

/// Tells what was read so far.
struct Telling<'a> {
    /// Whether the start of the recording in hand has a zone.
    zoned: bool,
    is_wanted: bool,
    so_far: SoFar<'a>,
}

impl Telling<'_> {
    /// `seconds`: how much of the recording in hand was read.
    fn tell(&mut self, store: &mut Store, seconds: f64) {
        if let Some(passage) = store.passages.last_mut() {
            passage.duration_s = seconds;
        }
        if !self.is_wanted {
            return;
        }
        if let Some(timeline) = Timeline::of(std::mem::take(&mut store.passages), &[self.zoned]) {
            (self.so_far)(&timeline);
            store.passages = timeline.passages;
        }
    }
}

struct Progress<'a> {
    watch: &'a dyn Watch,
    done_ms: AtomicU64,
    all_s: f64,
}

impl Progress<'_> {
    fn add(&self, seconds: f64, file: &str) {
        let new = (seconds * 1e3) as u64;
        let done = self.done_ms.fetch_add(new, Ordering::Relaxed) + new;
        self.watch.heard(done as f64 / 1e3, self.all_s, file);
    }
}

/// A file of the night, looked at from outside.
struct Opened<'a> {
    dated: &'a Dated,
    parts: Parts,
    start: Start,
    from: StartFrom,
    /// By its header, else a guess.
    length_s: f64,
}

impl<'a> Opened<'a> {
    fn new(dated: &'a Dated, settings: &NightSettings) -> Result<Self, LeftOut> {
        let left_out = |reason: String| LeftOut { file: dated.file.clone(), reason };
        let channel = match &dated.channel {
            Some(words) => words.parse().map_err(|error| left_out(in_one_line(&format!("{error}"))))?,
            None => settings.channel,
        };
        let parts = Parts::open(&dated.path, channel).map_err(|error| left_out(reason(&error)))?;
        let rate_hz = f64::from(parts.facts().sample_rate_hz);
        if let Some(passband) = settings.passband.filter(|passband| passband.high_hz > rate_hz / 2.0) {
            return Err(left_out(format!(
                "the passband asked for reaches {:.0} Hz, beyond half of its {rate_hz:.0} samples a second",
                passband.high_hz
            )));
        }
        let by_frames = parts.frames().map(|frames| frames as f64 / rate_hz);
        let length_s = by_frames.or(parts.facts().promised_s).unwrap_or(0.0);
        let (start, from) = clock::start(dated, parts.facts().started.as_deref(), length_s).map_err(left_out)?;
        Ok(Self { dated, parts, start, from, length_s })
    }

    /// Adds all of it to the store, or nothing and says why.
    fn read(
        &self,
        settings: &NightSettings,
        progress: &Progress,
        store: &mut Store,
        telling: &mut Telling<'_>,
        division: Division,
    ) -> Result<(), String> {
        let grid = Grid::new(self.parts.facts().sample_rate_hz);
        let look = Look::at(&self.parts, grid.rate_hz, self.length_s, settings.passband)
            .map_err(|error| reason(&error))?;
        let look = look.ok_or("there is nothing to hear in it, or it is too short to have a spectrum")?;
        let plan = RecordingPlan::new(grid, &look);
        store.begin(self.passage(&plan));
        let reading = Reading { opened: self, plan: &plan, progress };
        let account = match self.parts.frames().filter(|_| division == Division::AsFileAllows) {
            Some(frames) => reading.in_chunks(frames, store, telling),
            None => reading.read_through(store, telling),
        };
        let account = account.map_err(|error| reason(&error));
        let passage = store.passages.last_mut();
        match (account, passage) {
            (Ok(account), Some(passage)) if !passage.rows.is_empty() => {
                passage.duration_s = account.frames as f64 / f64::from(grid.rate_hz);
                passage.account = account;
                // There may be ten thousand.
                passage.steps.shrink_to_fit();
                passage.rows.shrink_to_fit();
                passage.ticks.shrink_to_fit();
                Ok(())
            }
            (account, _) => {
                store.give_up();
                account.and(Err("it is too short to have a spectrum".into()))
            }
        }
    }

    /// What is known of it before it is read.
    fn passage(&self, plan: &RecordingPlan) -> Passage {
        Passage {
            file: self.dated.file.clone(),
            path: self.dated.path.clone(),
            started: self.start.at,
            start_s: 0.0,
            start_from: self.from,
            duration_s: 0.0,
            facts: self.parts.facts().clone(),
            account: ReadAccount::default(),
            grid: plan.grid,
            passband: plan.passband,
            bins: plan.bins,
            bin_hz: plan.frames.bin_hz(),
            steps: Vec::new(),
            rows: Vec::new(),
            ticks: Vec::new(),
        }
    }
}

fn reason(error: &AudioError) -> String {
    in_one_line(&error.problem.to_string())
}

fn in_one_line(words: &str) -> String {
    words.replace("\n  try: ", "; try: ").replace('\n', " ")
}

/// One file being read.
struct Reading<'a> {
    opened: &'a Opened<'a>,
    plan: &'a RecordingPlan,
    progress: &'a Progress<'a>,
}

/// A chunk measured.
struct Chunk {
    /// Rows with their place in the recording.
    rows: Vec<(u32, Measured)>,
    /// Of the samples that are its own.
    account: ReadAccount,
    error: Option<AudioError>,
    /// Whether it was not read, since whoever watches wanted an end.
    stopped: bool,
}

impl Reading<'_> {
    /// Shares the file out; the account is of all of it.
    fn in_chunks(
        &self,
        frames: u64,
        store: &mut Store,
        telling: &mut Telling<'_>,
    ) -> Result<ReadAccount, AudioError> {
        let count = usize::try_from(frames.div_ceil(self.plan.grid.chunk_samples())).unwrap_or(usize::MAX);
        let mut account = ReadAccount::default();
        let mut error = None;
        for first in (0..count).step_by(CHUNKS_AT_ONCE) {
            let places = first..count.min(first.saturating_add(CHUNKS_AT_ONCE));
            let chunks: Vec<Chunk> = places
                .into_par_iter()
                .map_init(|| RowMeter::new(self.plan), |meter, place| self.chunk(meter, place, place + 1 == count))
                .collect();
            let before = account.frames;
            // Of those begun when it was stopped some lie behind others that were not.
            let is_read = |chunk: &Chunk| !chunk.stopped;
            for chunk in chunks.into_iter().take_while(is_read) {
                add(&mut account, chunk.account);
                error = error.or(chunk.error);
                chunk.rows.into_iter().for_each(|(place, row)| store.add(place, row));
            }
            // A header that promises a year must not be believed for a year.
            if account.frames == before || self.progress.watch.is_stopped() {
                break;
            }
            telling.tell(store, account.frames as f64 / f64::from(self.plan.grid.rate_hz));
        }
        if account.frames == 0
            && let Some(error) = error
        {
            return Err(error);
        }
        let rate_hz = f64::from(self.plan.grid.rate_hz);
        let (has_s, promised_s) = (account.frames as f64 / rate_hz, frames as f64 / rate_hz);
        if account.frames < frames && !self.progress.watch.is_stopped() {
            let why = error.map_or_else(String::new, |error| format!(" ({error})"));
            account.lost = if why.is_empty() { account.lost.max(Lost::Part) } else { Lost::Rest };
            account.cut_short =
                Some(format!("only {has_s:.1} s of the {promised_s:.1} s its header promises could be read{why}"));
        }
        Ok(account)
    }

    fn chunk(&self, meter: &mut RowMeter, place: usize, last: bool) -> Chunk {
        let grid = &self.plan.grid;
        let length = grid.chunk_samples();
        // The last one reads whatever there is: only at its end a file tells what it lacks.
        let (frames, own) = if last { (u64::MAX, u64::MAX) } else { (length + grid.overlap() as u64, length) };
        let mut chunk = Chunk { rows: Vec::new(), account: ReadAccount::default(), error: None, stopped: false };
        if self.progress.watch.is_stopped() {
            chunk.stopped = true;
            return chunk;
        }
        let rows_before = place as u64 * length / grid.row_samples() as u64;
        match self.opened.parts.stretch(place as u64 * length, frames, own) {
            Ok(mut audio) => {
                let rows_wanted = if last { usize::MAX } else { (length / grid.row_samples() as u64) as usize };
                let rows = &mut chunk.rows;
                let mut row = rows_before as u32;
                let read = self.rows(&mut audio, rows_wanted, |samples| {
                    rows.extend(meter.measure(samples).map(|measured| (row, measured)));
                    row += 1;
                });
                chunk.error = read.err();
                chunk.account = audio.account();
                chunk.account.frames = chunk.account.frames.min(own);
            }
            Err(error) => chunk.error = Some(error),
        }
        self.progress.add(chunk.account.frames as f64 / f64::from(grid.rate_hz), &self.opened.dated.file);
        chunk
    }

    /// Reads rows one after another: the samples of each with those it shares with the next.
    fn rows(&self, audio: &mut Mono, wanted: usize, mut each: impl FnMut(&[f32])) -> Result<(), AudioError> {
        let grid = &self.plan.grid;
        let whole = grid.row_samples() + grid.overlap();
        let mut samples = Vec::with_capacity(whole + grid.row_samples() / 8);
        let mut more = true;
        let mut given = 0;
        while given < wanted {
            while more && samples.len() < whole {
                more = audio.read_block(&mut samples)?;
            }
            each(&samples[..whole.min(samples.len())]);
            given += 1;
            if !more && samples.len() <= whole {
                break;
            }
            samples.drain(..grid.row_samples().min(samples.len()));
        }
        // To its end, so that the account is complete.
        while more {
            samples.clear();
            more = audio.read_block(&mut samples)?;
        }
        Ok(())
    }

    /// One thread decodes while the others measure.
    fn read_through(&self, store: &mut Store, telling: &mut Telling<'_>) -> Result<ReadAccount, AudioError> {
        let grid = &self.plan.grid;
        let rate_hz = f64::from(grid.rate_hz);
        let at_once = (SAMPLES_AHEAD / grid.row_samples()).max(1);
        let mut audio = self.opened.parts.stretch(0, u64::MAX, u64::MAX)?;
        let mut ahead = Ahead { carried: Vec::new(), more: true };
        let mut rows = ahead.take(&mut audio, grid, at_once)?;
        let mut place = 0u32;
        while rows.count > 0 && !self.progress.watch.is_stopped() {
            let (next, measured) = rayon::join(
                || ahead.take(&mut audio, grid, at_once),
                || -> Vec<Option<Measured>> {
                    (0..rows.count)
                        .into_par_iter()
                        .map_init(|| RowMeter::new(self.plan), |meter, n| meter.measure(rows.row(grid, n)))
                        .collect()
                },
            );
            for (place, row) in (place..).zip(measured) {
                row.into_iter().for_each(|row| store.add(place, row));
            }
            place += rows.count as u32;
            self.progress.add(rows.count as f64 * grid.row_s(), &self.opened.dated.file);
            rows = next?;
            telling.tell(store, f64::from(place) * grid.row_s());
        }
        let mut account = audio.account();
        // Stopped, it was decoded further than it was measured.
        if account.frames == 0 || self.progress.watch.is_stopped() {
            account.frames = (f64::from(place) * grid.row_s() * rate_hz) as u64;
        }
        Ok(account)
    }
}

/// What of a file was decoded and is in no row yet.
struct Ahead {
    carried: Vec<f32>,
    more: bool,
}

/// Rows that follow each other.
struct Rows {
    samples: Vec<f32>,
    count: usize,
}

impl Ahead {
    /// The samples of up to `most` rows; none at the end.
    fn take(&mut self, audio: &mut Mono, grid: &Grid, most: usize) -> Result<Rows, AudioError> {
        let row = grid.row_samples();
        let wanted = most * row + grid.overlap();
        let mut samples = Vec::with_capacity(wanted + row);
        samples.append(&mut self.carried);
        while self.more && samples.len() < wanted {
            self.more = audio.read_block(&mut samples)?;
        }
        // The last one may be short, but not shorter than a frame.
        let count = (0..most).take_while(|n| samples.len() >= n * row + grid.frame).count();
        self.carried.extend_from_slice(&samples[(count * row).min(samples.len())..]);
        Ok(Rows { samples, count })
    }
}

impl Rows {
    /// The samples of a row with those it shares with the next.
    fn row(&self, grid: &Grid, n: usize) -> &[f32] {
        let from = n * grid.row_samples();
        &self.samples[from..(from + grid.row_samples() + grid.overlap()).min(self.samples.len())]
    }
}

/// Adds the account of the next chunk.
fn add(all: &mut ReadAccount, next: ReadAccount) {
    all.frames += next.frames;
    all.not_a_number += next.not_a_number;
    all.lost = all.lost.max(next.lost);
    all.cut_short = all.cut_short.take().or(next.cut_short);
    all.dead_channel = all.dead_channel.take().or(next.dead_channel);
    if all.channel_used.is_empty() {
        all.channel_used = next.channel_used;
    }
}
