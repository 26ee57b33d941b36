//! Plain samples between two places of a file, read a block at a time.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

use super::pcm::{Coding, Order};
use super::{Problem, Source};

/// Bytes read at a time, about: some thousand samples (chosen).
const BLOCK_BYTES: usize = 64 * 1024;

/// Where the samples lie and what they are.
#[derive(Debug, Clone, Copy)]
pub(super) struct Samples {
    pub coding: Coding,
    pub order: Order,
    pub channels: u16,
    /// Byte of the first sample.
    pub at: u64,
    /// Bytes of samples.
    pub len: u64,
}

/// An open file of plain samples.
pub(super) struct Raw {
    file: File,
    samples: Samples,
    left: u64,
    block: Vec<u8>,
    cut_short: Option<String>,
    lacks: bool,
}

impl Raw {
    /// `cut_short`: what the header already told; `lacks`: that it promises more.
    pub fn new(mut file: File, samples: Samples, cut_short: Option<String>, lacks: bool) -> Result<Self, Problem> {
        file.seek(SeekFrom::Start(samples.at))?;
        Ok(Self { file, samples, left: samples.len, block: Vec::new(), cut_short, lacks })
    }

    fn frame_bytes(&self) -> u64 {
        self.samples.coding.width() as u64 * u64::from(self.samples.channels)
    }
}

impl Source for Raw {
    fn next_frames(&mut self, out: &mut Vec<f32>) -> Result<bool, Problem> {
        let frame = self.samples.coding.width() * usize::from(self.samples.channels);
        // At least one frame: 64 channels of 8 bytes are far below a block.
        let block = (BLOCK_BYTES / frame).max(1) * frame;
        self.block.clear();
        let wanted = self.left.min(block as u64);
        let got = (&mut self.file).take(wanted).read_to_end(&mut self.block)? as u64;
        self.left -= got;
        if got < wanted {
            self.left = 0;
            self.lacks = true;
            self.cut_short.get_or_insert_with(|| "the file became shorter while it was read".into());
        }
        self.block.truncate(self.block.len() / frame * frame);
        self.samples.coding.decode(self.samples.order, &self.block, out);
        Ok(!self.block.is_empty())
    }

    fn cut_short(&self) -> Option<String> {
        self.cut_short.clone()
    }

    fn lacks(&self) -> bool {
        self.lacks
    }

    fn is_float(&self) -> bool {
        matches!(self.samples.coding, Coding::F32 | Coding::F64)
    }

    fn divisible(&self) -> Option<u64> {
        Some(self.samples.len / self.frame_bytes())
    }

    fn go_to(&mut self, frame: u64) -> Result<Option<u64>, Problem> {
        let frame = frame.min(self.samples.len / self.frame_bytes());
        let past = frame * self.frame_bytes();
        self.file.seek(SeekFrom::Start(self.samples.at + past))?;
        self.left = self.samples.len - past;
        Ok(Some(frame))
    }
}
