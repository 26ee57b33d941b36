//! The door: a file becomes an open recording, or an error that names it; its frames become one channel.
//! Not here: what containers look like (`header`, `packets`), how the channel is chosen (`channel`).

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::channel::{self, ChannelChoice, Fold};
use super::guard::guarded;
use super::{
    AudioError, HIGHEST_RATE_HZ, LOWEST_RATE_HZ, MAX_CHANNELS, Problem, Source, StreamFacts, header, packets,
};

/// What of a recording is not in what was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Lost {
    /// Nothing that is known of; a recorder may never have written how long the recording is.
    #[default]
    Nothing,
    /// The file holds less than its header promises, or pieces of it are damaged.
    Part,
    /// The disk, or the decoder, failed on the way: what lies behind is not known.
    Rest,
}

/// What happened while a recording was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadAccount {
    /// Frames given out.
    pub frames: u64,
    /// Plain words: why the recording is shorter than promised, or that its sizes never were written.
    pub cut_short: Option<String>,
    /// Whether some of the recording is missing, as far as that can be told.
    pub lost: Lost,
    /// "mono", "left", "right", "channel 3", "mean of both", "mean of 3 channels"; in brackets what speaks against
    /// it.
    pub channel_used: String,
    /// The channels that carry nothing: "left", or, of channels averaged, "right (silent at 12 s)".
    pub dead_channel: Option<String>,
    /// Samples that were no numbers (NaN, infinite, or larger than any sound could be), replaced by 0.
    pub not_a_number: u64,
}

/// A float sample this far above full scale is damage: its square would not be a finite f32 sum any more.
pub const BEYOND_SENSE: f32 = 1e10;

/// Seconds at the start that [`ChannelChoice::Auto`] looks at (chosen) …
const PEEK_S: usize = 5;
/// … and the most samples held for it, of all channels together (4 MiB).
const PEEK_SAMPLES: usize = 1 << 20;

/// An open recording, read from start to end.
pub struct Mono {
    path: PathBuf,
    facts: StreamFacts,
    channel: ChannelChoice,
    /// Whether its samples must be looked at for what is no number.
    is_float: bool,
    /// None once its end, or an error, is reached.
    source: Option<Box<dyn Source>>,
    /// The block in hand, interleaved; the first is as long as choosing the channel needs. Of one channel it is the
    /// caller's own, with what stood in it before.
    frames: Vec<f32>,
    before: usize,
    /// Where in it begins what was read last and not looked at yet.
    fresh: usize,
    fold: Option<Fold>,
    watch: Watch,
    account: ReadAccount,
    /// Where this reading begins, frames from the start of the recording.
    start: u64,
    /// Frames before the place asked for, to be read and thrown away.
    skip: u64,
    /// Frames still to give out.
    left: u64,
    /// Of these, frames whose faults are counted: what overlaps with the next part is counted there.
    own_left: u64,
}

impl Mono {
    /// Opens a recording.
    ///
    /// # Errors
    /// Not there, not readable, no audio known here, a coding not decoded, a rate or a header beyond sense, or no
    /// such channel. What only shows while reading (no samples, damage) is an error of [`Mono::read_block`].
    pub fn open(path: &Path, channel: ChannelChoice) -> Result<Self, AudioError> {
        let fail = |problem| AudioError::new(path, problem);
        let (facts, source) = guarded(|| open_source(path)).map_err(fail)?;
        if !(LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(&facts.sample_rate_hz) {
            return Err(fail(Problem::RateOutside { rate_hz: facts.sample_rate_hz }));
        }
        // Checks the choice; the look at the samples follows with the first block.
        if let ChannelChoice::Index(_) = channel {
            channel::decide(channel, facts.channels, &[]).map_err(fail)?;
        }
        Ok(Self {
            path: path.into(),
            facts,
            channel,
            is_float: source.is_float(),
            source: Some(source),
            frames: Vec::new(),
            before: 0,
            fresh: 0,
            fold: None,
            watch: Watch::default(),
            account: ReadAccount::default(),
            start: 0,
            skip: 0,
            left: u64::MAX,
            own_left: u64::MAX,
        })
    }

    /// Confines a recording just opened to `frames` frames from `start` on, read by a fold that is settled already.
    /// Faults are counted in the first `own` of them.
    pub(super) fn confine(&mut self, fold: Fold, start: u64, frames: u64, own: u64) -> Result<(), AudioError> {
        let reached = match &mut self.source {
            Some(source) if start > 0 => guarded(|| source.go_to(start)),
            _ => Ok(None),
        };
        let at = match reached {
            Ok(at) => at.unwrap_or(0),
            Err(problem) => {
                self.source = None;
                return Err(AudioError::new(&self.path, problem));
            }
        };
        self.fold = Some(fold);
        (self.start, self.skip, self.left, self.own_left) = (start, start.saturating_sub(at), frames, own);
        Ok(())
    }

    /// Frames in all, if any of them can be gone to.
    pub(super) fn divisible(&self) -> Option<u64> {
        self.source.as_ref().and_then(|source| source.divisible())
    }

    /// What was found out by the time the first block was read.
    pub(super) fn settled(self) -> (StreamFacts, Option<Fold>) {
        (self.facts, self.fold)
    }

    /// What is known about the stream.
    pub fn facts(&self) -> &StreamFacts {
        &self.facts
    }

    /// Appends the next block (some thousand samples, f32, full scale ±1) to `out`; `false` at the end.
    ///
    /// The first block of a file of several channels is the 5 s that [`ChannelChoice::Auto`] looked at.
    /// Float files may hold more than full scale; it is passed as it is.
    ///
    /// # Errors
    /// Nothing could be decoded, or the decoder failed. After an error there is nothing more to read.
    pub fn read_block(&mut self, out: &mut Vec<f32>) -> Result<bool, AudioError> {
        let done = self.next_block(out);
        if done.is_err() {
            self.source = None;
        }
        done.map_err(|problem| AudioError::new(&self.path, problem))
    }

    /// What happened; valid after [`Mono::read_block`] returned `false`.
    pub fn account(&self) -> ReadAccount {
        self.account.clone()
    }

    fn next_block(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem> {
        let is_mono = self.count() == 1;
        self.frames.clear();
        if is_mono {
            std::mem::swap(&mut self.frames, out);
        }
        self.before = self.frames.len();
        let filled = self.fill_block();
        if filled.is_err() {
            self.frames.truncate(self.before);
        }
        let held = self.frames.len() - self.before;
        if is_mono {
            std::mem::swap(&mut self.frames, out);
        }
        filled?;
        if held == 0 {
            return self.close();
        }
        let fold = match self.fold.take() {
            Some(fold) => fold,
            None => channel::decide(self.channel, self.facts.channels, &self.frames)?,
        };
        if !is_mono {
            fold.fold(&self.frames, self.count(), out);
        }
        if let Some(averaged) = fold.averaged() {
            self.watch.look(averaged, &self.frames, self.count(), self.facts.sample_rate_hz);
        }
        self.account.frames += (held / self.count()) as u64;
        self.fold = Some(fold);
        Ok(true)
    }

    /// Appends frames until there are enough, or no more.
    fn fill_block(&mut self) -> Result<(), Problem> {
        self.fresh = self.before;
        let wanted = if self.fold.is_none() && self.channel == ChannelChoice::Auto && self.count() > 1 {
            (PEEK_S * self.facts.sample_rate_hz as usize * self.count()).min(PEEK_SAMPLES)
        } else {
            1
        };
        while self.frames.len() < self.before + wanted && self.fill()? {
            self.trim();
        }
        self.trim();
        Ok(())
    }

    fn count(&self) -> usize {
        usize::from(self.facts.channels)
    }

    /// Appends the source's next frames; `false` at its end, which after good frames may be damage.
    fn fill(&mut self) -> Result<bool, Problem> {
        let Some(source) = &mut self.source else { return Ok(false) };
        let from = self.frames.len();
        let frames = &mut self.frames;
        #[cfg(debug_assertions)]
        let read = crate::disk::fault::read(self.start + self.account.frames)
            .map_err(Problem::from)
            .and_then(|()| guarded(|| source.next_frames(frames)));
        #[cfg(not(debug_assertions))]
        let read = guarded(|| source.next_frames(frames));
        let read_so_far = self.frames.len() - self.before;
        let whole = read_so_far - read_so_far % self.count();
        self.frames.truncate(self.before + whole);
        self.fresh = from;
        match read {
            Ok(more) => {
                if !more && let Some(source) = self.source.take() {
                    self.account.cut_short = source.cut_short();
                    self.account.lost = if source.lacks() { Lost::Part } else { Lost::Nothing };
                }
                Ok(more)
            }
            Err(problem) if self.account.frames > 0 || whole > 0 => {
                let good_s = (self.start + self.account.frames) as f64 + (whole / self.count()) as f64;
                let good_s = good_s / f64::from(self.facts.sample_rate_hz);
                self.account.cut_short = Some(broken_off(good_s, self.facts.promised_s, &problem));
                self.account.lost = Lost::Rest;
                self.source = None;
                Ok(false)
            }
            Err(problem) => Err(problem),
        }
    }

    /// Cuts what the last filling brought to the frames asked for, and replaces what is no number in it.
    fn trim(&mut self) {
        let (from, count) = (std::mem::replace(&mut self.fresh, self.frames.len()), self.count());
        if self.skip > 0 {
            let dropped = (((self.frames.len() - from) / count) as u64).min(self.skip);
            self.frames.drain(from..from + dropped as usize * count);
            self.skip -= dropped;
        }
        let kept = (((self.frames.len() - from) / count) as u64).min(self.left);
        self.frames.truncate(from + kept as usize * count);
        let own = kept.min(self.own_left);
        if self.is_float {
            let (counted, overlap) = self.frames[from..].split_at_mut(own as usize * count);
            self.account.not_a_number += silence_what_is_no_number(counted);
            silence_what_is_no_number(overlap);
        }
        self.own_left -= own;
        self.left -= kept;
        if self.left == 0 {
            self.source = None;
        }
        self.fresh = self.frames.len();
    }

    fn close(&mut self) -> Result<bool, Problem> {
        match &self.fold {
            Some(fold) => {
                self.account.channel_used.clone_from(&fold.words);
                self.account.dead_channel = fold.dead.clone().or_else(|| self.watch.in_words(self.count()));
                Ok(false)
            }
            None => {
                let why = self.account.cut_short.take().unwrap_or_else(|| "not one whole sample in it".into());
                Err(Problem::NoSamples { why })
            }
        }
    }
}

/// What is said of a recording whose good part ends in damage.
fn broken_off(good_s: f64, promised_s: Option<f64>, problem: &Problem) -> String {
    let of = promised_s.filter(|&all| all > good_s).map_or(String::new(), |all| format!(" of {all:.1} s"));
    let why = match problem {
        Problem::Damaged { why } | Problem::Unreadable { why } => why.as_str(),
        _ => "the decoder failed",
    };
    format!("only the first {good_s:.1} s{of} could be read ({why})")
}

/// Replaces NaN, infinities and what lies beyond sense by 0; returns how many.
fn silence_what_is_no_number(samples: &mut [f32]) -> u64 {
    // The comparison is false for NaN. Counting first keeps the common case a read without branches.
    let makes_sense = |x: f32| x.abs() <= BEYOND_SENSE;
    let bad = samples.iter().filter(|&&x| !makes_sense(x)).count();
    if bad > 0 {
        samples.iter_mut().filter(|x| !makes_sense(**x)).for_each(|x| *x = 0.0);
    }
    bad as u64
}

/// One frame in this many is enough for a power; a prime, so that no frame rhythm of a coding falls in with it.
const WATCH_EVERY: usize = 7;

/// Watches averaged channels for one that falls silent on the way: the mean drops by 6 dB there, and nothing on the
/// air has changed.
#[derive(Default)]
struct Watch {
    frames: u64,
    /// The first channel that fell silent, and when.
    silent: Option<(usize, f64)>,
    /// Sum and sum of squares of each channel over the second in hand.
    sums: Vec<(f64, f64)>,
    second: u64,
    looked_at: u64,
}

impl Watch {
    fn look(&mut self, averaged: &[usize], frames: &[f32], count: usize, rate: u32) {
        if self.silent.is_some() {
            return;
        }
        self.sums.resize(count, (0.0, 0.0));
        for frame in frames.chunks_exact(count).step_by(WATCH_EVERY) {
            for ((sum, squares), &x) in self.sums.iter_mut().zip(frame) {
                let x = f64::from(x);
                *sum += x;
                *squares += x * x;
            }
        }
        let held = (frames.len() / count) as u64;
        self.looked_at += held.div_ceil(WATCH_EVERY as u64);
        self.second += held;
        self.frames += held;
        if self.second >= u64::from(rate) {
            let n = self.looked_at as f64;
            let power: Vec<f64> = self.sums.iter().map(|(sum, squares)| squares / n - (sum / n).powi(2)).collect();
            let loudest = averaged.iter().map(|&c| power[c]).fold(0.0, f64::max);
            let silent = averaged.iter().find(|&&c| loudest > 0.0 && channel::is_dead(power[c], loudest));
            self.silent = silent.map(|&c| (c, (self.frames - self.second) as f64 / f64::from(rate)));
            self.sums.fill((0.0, 0.0));
            (self.second, self.looked_at) = (0, 0);
        }
    }

    fn in_words(&self, count: usize) -> Option<String> {
        self.silent.map(|(c, at_s)| format!("{} (silent at {at_s:.0} s)", channel::name(c, count)))
    }
}

fn open_source(path: &Path) -> Result<(StreamFacts, Box<dyn Source>), Problem> {
    let facts = match std::fs::metadata(path) {
        Err(_) if std::fs::symlink_metadata(path).is_ok_and(|link| link.is_symlink()) => {
            return Err(Problem::DeadLink);
        }
        facts => facts?,
    };
    if facts.is_dir() {
        return Err(Problem::IsFolder);
    }
    if !facts.is_file() {
        return Err(Problem::NotAFile);
    }
    if facts.len() == 0 {
        return Err(Problem::Empty);
    }
    let mut file = File::open(path)?;
    let mut magic = Vec::with_capacity(64);
    (&mut file).take(64).read_to_end(&mut magic)?;
    let (facts, source) = match header::Kind::of(&magic) {
        Some(kind) => header::open(kind, file, facts.len())?,
        None => packets::open(path, file, &magic)?,
    };
    if facts.channels == 0 || facts.channels > MAX_CHANNELS {
        return Err(Problem::AbsurdHeader { what: format!("{} channels", facts.channels) });
    }
    Ok((facts, source))
}
