//! A recording whose stretches can be read independently of each other, so that several cores share one long file.
//!
//! What is decided by the beginning of a recording, its channel, is settled once and the same for every stretch; a
//! stretch then gives the very samples that reading from the start gives there.
//! Not here: how a place is found (`raw`, `packets`), what is measured.

use std::path::{Path, PathBuf};

use super::channel::{ChannelChoice, Fold};
use super::{AudioError, Mono, Problem, StreamFacts};

/// A recording looked at and closed again; its stretches are opened one by one.
#[derive(Debug, Clone)]
pub struct Parts {
    path: PathBuf,
    facts: StreamFacts,
    channel: ChannelChoice,
    fold: Fold,
    frames: Option<u64>,
}

impl Parts {
    /// Looks at a recording: its header, and the first seconds where the channel is to be chosen by them.
    ///
    /// # Errors
    /// Those of [`Mono::open`] and of its first block.
    pub fn open(path: &Path, channel: ChannelChoice) -> Result<Self, AudioError> {
        let mut mono = Mono::open(path, channel)?;
        // Before reading: a source read to its end is gone.
        let divisible = mono.divisible();
        let mut first = Vec::new();
        mono.read_block(&mut first)?;
        let (facts, fold) = mono.settled();
        let none = || AudioError::new(path, Problem::NoSamples { why: "not one whole sample in it".into() });
        Ok(Self { path: path.into(), facts, channel, fold: fold.ok_or_else(none)?, frames: divisible })
    }

    /// What is known about the stream.
    pub fn facts(&self) -> &StreamFacts {
        &self.facts
    }

    /// Frames in all, where every stretch can be gone to (plain samples, FLAC with a length in its header); `None`
    /// where a stretch is only reached by reading all before it. A file that is cut off may hold less.
    pub fn frames(&self) -> Option<u64> {
        self.frames
    }

    /// Opens the stretch of `frames` frames from frame `start` on; the file's end cuts it short.
    ///
    /// `own`: how many of its frames, from its start, count in [`ReadAccount::not_a_number`]; the rest overlaps
    /// with the next stretch. `ReadAccount::frames` counts the frames given out. A stretch that begins behind the
    /// end is empty, or an error here.
    ///
    /// # Errors
    /// The file can't be opened any more, or its damage keeps the place from being found.
    ///
    /// [`ReadAccount::not_a_number`]: super::ReadAccount::not_a_number
    pub fn stretch(&self, start: u64, frames: u64, own: u64) -> Result<Mono, AudioError> {
        let mut mono = Mono::open(&self.path, self.channel)?;
        mono.confine(self.fold.clone(), start, frames, own)?;
        Ok(mono)
    }
}
