//! How a recording is cut, and what all its rows share: transform, passband, shape of the noise.
//!
//! A frame is that of the session's measurements (bins at most 6 Hz wide, half overlapped); frames make a step of
//! just under a second, ten steps a row, eight rows a chunk, which is what one thread takes at a time.

use std::ops::Range;

use super::look::Look;
use super::noise::NoiseLevel;
use crate::signal::spectrum::{FramePlan, Passband, TwinFrames};

/// Longest step. Chosen: people switch things to the second.
const STEP_S: f64 = 1.0;
/// Steps a row. Chosen: ten seconds show a weak line, and a night of them fits into memory.
const STEPS_PER_ROW: usize = 10;
/// Rows a chunk: some 75 s, long against the frame shared with the next one and short against an evening (chosen).
const ROWS_PER_CHUNK: usize = 8;
/// Spectra are kept, and shown, up to so many times the passband's upper edge: what lies beyond is the recorder's.
/// Chosen.
const KEPT_OVER_EDGE: f64 = 1.4;

/// How the samples of a recording are cut; all counts are in frames of the transform or in samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Samples a second.
    pub rate_hz: u32,
    /// Samples a frame.
    pub frame: usize,
    /// Samples from one frame to the next.
    pub hop: usize,
    /// Frames a step.
    pub frames_per_step: usize,
}

impl Grid {
    /// For a sample rate.
    pub fn new(rate_hz: u32) -> Self {
        let plan = FramePlan::for_rate(rate_hz);
        let frames_per_step = ((STEP_S / plan.hop_s()).floor() as usize).max(1);
        Self { rate_hz, frame: plan.len, hop: plan.hop(), frames_per_step }
    }

    /// Frames a row.
    pub fn frames_per_row(&self) -> usize {
        self.frames_per_step * STEPS_PER_ROW
    }

    /// Seconds from one step to the next.
    pub fn step_s(&self) -> f64 {
        self.seconds(self.frames_per_step)
    }

    /// Seconds from one row to the next, before any merging.
    pub fn row_s(&self) -> f64 {
        self.seconds(self.frames_per_row())
    }

    /// Seconds that this many frames lie apart.
    pub fn seconds(&self, frames: usize) -> f64 {
        (frames * self.hop) as f64 / f64::from(self.rate_hz)
    }

    /// Samples from the start of one row to that of the next.
    pub(crate) fn row_samples(&self) -> usize {
        self.frames_per_row() * self.hop
    }

    /// Samples of a row that belong to the next one as well: what its last frame needs.
    pub(crate) fn overlap(&self) -> usize {
        self.frame - self.hop
    }

    /// Samples from the start of one chunk to that of the next.
    pub(crate) fn chunk_samples(&self) -> u64 {
        (ROWS_PER_CHUNK * self.row_samples()) as u64
    }

    /// Frames that lie in this many samples.
    pub(crate) fn frames_in(&self, samples: usize) -> usize {
        if samples < self.frame { 0 } else { (samples - self.frame) / self.hop + 1 }
    }
}

/// What all rows of a recording share.
pub(crate) struct RecordingPlan {
    pub grid: Grid,
    pub frames: FramePlan,
    pub twins: TwinFrames,
    /// Bins kept in the rows.
    pub bins: usize,
    pub passband: Passband,
    /// Bins of the passband.
    pub band: Range<usize>,
    pub noise: NoiseLevel,
}

impl RecordingPlan {
    /// From a look at the recording.
    pub fn new(grid: Grid, look: &Look) -> Self {
        let frames = FramePlan::for_rate(grid.rate_hz);
        let highest_hz = KEPT_OVER_EDGE * look.passband.high_hz;
        let kept = ((highest_hz / frames.bin_hz()).ceil() as usize + 1).min(frames.bins());
        let band = look.passband.bins(frames.bin_hz(), kept);
        Self {
            grid,
            bins: kept,
            noise: NoiseLevel::new(&look.floor[band.clone()], frames.bin_hz(), grid.frames_per_step),
            passband: look.passband,
            band,
            twins: TwinFrames::new(&frames),
            frames,
        }
    }
}
