//! Cutting samples into windowed frames and transforming them: the one hot loop of the program.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};

use super::window::hann;
use crate::wide::wide;

/// Widest bin: narrow enough to tell carriers from hash and mains sidebands from their carrier. Chosen: the
/// sidebands nearest to a carrier stand 50 Hz away, eight bins.
const WIDEST_BIN_HZ: f64 = 6.0;

/// Frames of samples taken in at a time. Chosen: they stay in the processor's cache.
const FRAMES_AT_ONCE: usize = 4;

/// Frame length for a sample rate: the power of two that makes bins at most 6 Hz wide.
pub fn frame_len(sample_rate_hz: u32) -> usize {
    ((sample_rate_hz as f64 / WIDEST_BIN_HZ).ceil() as usize).next_power_of_two()
}

/// A transform planned once and shared: window, length, scaling.
#[derive(Clone)]
pub struct FramePlan {
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Samples in a frame; frames overlap by half.
    pub len: usize,
    window: Arc<[f32]>,
    fft: Arc<dyn RealToComplex<f32>>,
    power_scale: f64,
}

impl FramePlan {
    /// A plan for frames of `len` samples (even, not 0).
    pub fn new(sample_rate_hz: u32, len: usize) -> Self {
        let window = hann(len);
        let squares: f64 = window.iter().map(|&w| (w as f64).powi(2)).sum();
        Self {
            sample_rate_hz,
            len,
            fft: RealFftPlanner::new().plan_fft_forward(len),
            power_scale: 2.0 / (sample_rate_hz as f64 * squares),
            window: window.into(),
        }
    }

    /// The plan this program measures recordings with.
    pub fn for_rate(sample_rate_hz: u32) -> Self {
        Self::new(sample_rate_hz, frame_len(sample_rate_hz))
    }

    /// Distance between the starts of two frames, in samples.
    pub fn hop(&self) -> usize {
        self.len / 2
    }

    /// The same in seconds.
    pub fn hop_s(&self) -> f64 {
        self.hop() as f64 / self.sample_rate_hz as f64
    }

    /// Number of bins, both ends included.
    pub fn bins(&self) -> usize {
        self.len / 2 + 1
    }

    /// Width of a bin.
    pub fn bin_hz(&self) -> f64 {
        self.sample_rate_hz as f64 / self.len as f64
    }

    /// One-sided power density of one transformed frame in bin `k`, FS²/Hz. The first and the last bin have no
    /// mirror image and are not doubled.
    pub fn density(&self, k: usize, value: Complex32) -> f32 {
        let doubled = value.norm_sqr() * self.power_scale as f32;
        if k == 0 || k == self.len / 2 { doubled / 2.0 } else { doubled }
    }

    /// Adds the density of every bin of a frame to `sums`, `bins` values each.
    pub fn add_density(&self, spectrum: &[Complex32], sums: &mut [f32]) {
        let ends = [0, self.len / 2].map(|k| (k, sums[k] + self.density(k, spectrum[k])));
        let scale = self.power_scale as f32;
        wide(|| {
            for (sum, value) in sums.iter_mut().zip(spectrum) {
                *sum += value.norm_sqr() * scale;
            }
        });
        ends.into_iter().for_each(|(k, sum)| sums[k] = sum);
    }
}

/// Frames of a stream of samples, half overlapped, transformed one after another.
pub struct Stft {
    plan: FramePlan,
    pending: Vec<f32>,
    frame: Vec<f32>,
    spectrum: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl Stft {
    /// A stream at its beginning.
    pub fn new(plan: &FramePlan) -> Self {
        Self {
            pending: Vec::with_capacity((FRAMES_AT_ONCE + 1) * plan.len),
            frame: plan.fft.make_input_vec(),
            spectrum: plan.fft.make_output_vec(),
            scratch: plan.fft.make_scratch_vec(),
            plan: plan.clone(),
        }
    }

    /// Takes samples and hands every frame they complete to `each`, as its spectrum (`bins` values, not scaled:
    /// see [`FramePlan::density`]).
    pub fn push(&mut self, samples: &[f32], mut each: impl FnMut(&[Complex32])) {
        let (len, hop) = (self.plan.len, self.plan.hop());
        let mut pending = std::mem::take(&mut self.pending);
        // A few frames at a time: however much comes at once, no more than that is copied.
        for samples in samples.chunks(FRAMES_AT_ONCE * len) {
            pending.extend_from_slice(samples);
            let mut start = 0;
            while start + len <= pending.len() {
                each(self.transform(&pending[start..start + len]));
                start += hop;
            }
            pending.drain(..start);
        }
        self.pending = pending;
    }

    /// The spectrum of one frame that lies ready, apart from the stream.
    ///
    /// `samples`: as many as a frame has; of fewer the rest is what the last frame left, of more none is looked at.
    pub fn transform(&mut self, samples: &[f32]) -> &[Complex32] {
        wide(|| {
            for ((out, &x), &w) in self.frame.iter_mut().zip(samples).zip(self.plan.window.iter()) {
                *out = x * w;
            }
        });
        self.plan
            .fft
            .process_with_scratch(&mut self.frame, &mut self.spectrum, &mut self.scratch)
            .expect("frame, spectrum and scratch were made by this plan");
        &self.spectrum
    }
}
