//! Power density slice by slice: the picture of a recording that all later stages work on.

use std::borrow::Cow;
use std::sync::Arc;

use realfft::num_complex::Complex32;

use super::frame::FramePlan;
use super::statistics::welch_dof;
use crate::signal::shelf::{Shelf, Values};

/// Length of a slice while the recording is short. A quarter of a second gives a 10 s recording 40 slices, enough
/// for an interval from their spread, and keeps a carrier that drifts 50 Hz a second within three bins. Chosen so.
pub const SLICE_S: f64 = 0.25;

/// Density, FS²/Hz, that only digital silence stays under: the noise of rounding to 24 bit is a hundred times
/// stronger. Chosen so.
pub(crate) const SILENCE: f32 = 1e-20;

/// Most slices kept. When a recording outgrows them neighbours are merged, so memory stays bounded. Chosen: two
/// minutes of quarters of a second; a few megabytes.
const MOST_SLICES: usize = 512;

/// Power density per slice and over all, FS²/Hz. Slices of digital silence are passed over.
#[derive(Debug, Clone, PartialEq)]
pub struct Slices {
    /// Values in a row.
    pub bins: usize,
    /// Width of a bin.
    pub bin_hz: f64,
    /// Distance in time of two rows.
    pub slice_s: f64,
    /// Frames averaged in a row.
    pub frames_per_slice: usize,
    /// Rows one after another, `bins` values each; none while they are away.
    density: Vec<f32>,
    /// The rows, once they were put on a shelf.
    away: Option<Values>,
    /// Mean over all frames of the recording, `bins` values.
    pub mean: Vec<f64>,
    /// How many frames that were.
    pub frames: usize,
    /// Share of the recording that was digital silence.
    pub silent_share: f64,
}

impl Slices {
    /// Number of rows.
    pub fn len(&self) -> usize {
        let values = self.away.as_ref().map_or(self.density.len(), Values::len);
        values.checked_div(self.bins).unwrap_or(0)
    }

    /// Whether there is no row: the recording was shorter than a frame.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Puts the rows on a shelf, from where [`Slices::here`] fetches them.
    pub fn put_on(&mut self, shelf: &Arc<Shelf>) {
        let mut values = Values::from(std::mem::take(&mut self.density));
        values.put_on(shelf);
        self.away = Some(values);
    }

    /// With its rows at hand.
    pub fn here(&self) -> Cow<'_, Self> {
        match &self.away {
            None => Cow::Borrowed(self),
            Some(values) => {
                let (density, mean) = (values.read().into_owned(), self.mean.clone());
                Cow::Owned(Self { density, mean, away: None, ..*self })
            }
        }
    }

    /// One row.
    pub fn row(&self, index: usize) -> &[f32] {
        &self.density[index * self.bins..(index + 1) * self.bins]
    }

    /// All rows in order of time.
    pub fn rows(&self) -> impl ExactSizeIterator<Item = &[f32]> {
        debug_assert!(self.away.is_none(), "fetched by `here` before");
        self.density.chunks_exact(self.bins.max(1))
    }

    /// How many independent powers one value of a row is the mean of.
    pub fn averages_per_slice(&self) -> f64 {
        welch_dof(self.frames_per_slice as f64) / 2.0
    }

    /// How many independent powers one value of the mean over the recording is the mean of.
    pub fn averages(&self) -> f64 {
        welch_dof(self.frames as f64) / 2.0
    }

    /// Lets go of the bins from `bins` on.
    pub fn keep(&mut self, bins: usize) {
        if bins < self.bins {
            for row in 0..self.len() {
                self.density.copy_within(row * self.bins..row * self.bins + bins, row * bins);
            }
            self.density.truncate(self.len() * bins);
            self.mean.truncate(bins);
            self.bins = bins;
        }
        self.density.shrink_to_fit();
        self.mean.shrink_to_fit();
    }

    /// The bin nearest to a frequency, within the spectrum.
    pub fn bin_of(&self, freq_hz: f64) -> usize {
        ((freq_hz / self.bin_hz).round().max(0.0) as usize).min(self.bins.saturating_sub(1))
    }
}

/// Adds frames up to slices.
#[derive(Clone)]
pub struct SlicesBuilder {
    plan: FramePlan,
    frames_per_slice: usize,
    rows: Vec<f32>,
    row: Vec<f32>,
    in_row: usize,
    sum: Vec<f64>,
    frames: usize,
    silent_frames: usize,
}

impl SlicesBuilder {
    /// An empty one for frames of this plan.
    pub fn new(plan: &FramePlan) -> Self {
        Self {
            frames_per_slice: ((SLICE_S / plan.hop_s()).round() as usize).max(1),
            rows: Vec::new(),
            row: vec![0.0; plan.bins()],
            in_row: 0,
            sum: vec![0.0; plan.bins()],
            frames: 0,
            silent_frames: 0,
            plan: plan.clone(),
        }
    }

    /// Adds one transformed frame.
    pub fn add(&mut self, spectrum: &[Complex32]) {
        self.plan.add_density(spectrum, &mut self.row);
        self.in_row += 1;
        if self.in_row == self.frames_per_slice {
            self.close_row();
        }
    }

    fn close_row(&mut self) {
        // Digital silence (a hole, a recorder's lead-in) is no noise of any level: it is passed over.
        if self.row.iter().all(|&value| value <= SILENCE) {
            self.silent_frames += self.in_row;
            self.row.fill(0.0);
            self.in_row = 0;
            return;
        }
        let count = self.in_row as f32;
        for (sum, &value) in self.sum.iter_mut().zip(&self.row) {
            *sum += value as f64;
        }
        self.frames += self.in_row;
        self.rows.extend(self.row.iter().map(|value| value / count));
        self.row.fill(0.0);
        self.in_row = 0;
        if self.rows.len() / self.plan.bins() > MOST_SLICES {
            self.merge_neighbours();
        }
    }

    fn merge_neighbours(&mut self) {
        let bins = self.plan.bins();
        let pairs = self.rows.len() / bins / 2;
        for pair in 0..pairs {
            for k in 0..bins {
                let (first, second) = (self.rows[2 * pair * bins + k], self.rows[(2 * pair + 1) * bins + k]);
                self.rows[pair * bins + k] = 0.5 * (first + second);
            }
        }
        // An odd row at the end becomes the beginning of the next slice.
        let odd = self.rows.len() / bins % 2 == 1;
        if odd {
            let count = self.frames_per_slice;
            let last = self.rows.len() - bins;
            for k in 0..bins {
                self.row[k] = self.rows[last + k] * count as f32;
                self.sum[k] -= self.row[k] as f64;
            }
            self.frames -= count;
            self.in_row = count;
        }
        self.rows.truncate(pairs * bins);
        self.frames_per_slice *= 2;
    }

    /// What was added. A last slice that is less than half full is left out of the rows (but not of the mean),
    /// unless it is the only one.
    pub fn finish(mut self) -> Slices {
        let bins = self.plan.bins();
        let only = self.rows.is_empty();
        if self.in_row > 0 {
            let keep = only || 2 * self.in_row >= self.frames_per_slice;
            let rows = self.rows.len();
            if only {
                self.frames_per_slice = self.in_row;
            }
            self.close_row();
            if !keep {
                self.rows.truncate(rows);
            }
        }
        let frames = self.frames.max(1) as f64;
        Slices {
            bins,
            bin_hz: self.plan.bin_hz(),
            slice_s: self.frames_per_slice as f64 * self.plan.hop_s(),
            frames_per_slice: self.frames_per_slice,
            density: self.rows,
            away: None,
            mean: self.sum.iter().map(|sum| sum / frames).collect(),
            frames: self.frames,
            silent_share: self.silent_frames as f64 / (self.silent_frames + self.frames).max(1) as f64,
        }
    }
}
