//! One row: some ten seconds of samples become steps and a mean spectrum.
//!
//! A row is measured from its own samples alone; which thread does it, and after which other row, makes no
//! difference.

use realfft::num_complex::Complex32;

use super::faults;
use super::plan::RecordingPlan;
use super::ticks::{Found, StepNoise, TickMeter, block_len};
use super::timeline::Step;
use crate::signal::spectrum::TwinFrames;
use crate::signal::spectrum::slices::SILENCE;
use crate::wide::wide;

/// A row measured.
pub(crate) struct Measured {
    pub steps: Vec<Step>,
    /// Mean density of the frames that are no silence, FS²/Hz.
    pub density: Box<[f32]>,
    /// How many frames that were, and all.
    pub sounding: u32,
    pub frames: u32,
    /// Clicks, and what is as short, in order of time.
    pub ticks: Vec<Found>,
}

/// Measures rows; lends its scratch from one to the next.
pub(crate) struct RowMeter<'a> {
    plan: &'a RecordingPlan,
    twins: TwinFrames,
    /// Squared magnitudes of the frames of two steps.
    powers: Vec<f32>,
    /// Their sums over the passband.
    bands: Vec<f32>,
    mean: Vec<f32>,
    sum: Vec<f32>,
    row: Vec<f32>,
    scratch: Vec<f32>,
    ordered: Vec<u32>,
    /// Largest magnitudes of a step's blocks.
    peaks: Vec<f32>,
    ticks: TickMeter,
}

impl<'a> RowMeter<'a> {
    pub fn new(plan: &'a RecordingPlan) -> Self {
        Self {
            twins: plan.twins.clone(),
            powers: vec![0.0; 2 * plan.grid.frames_per_step * plan.bins],
            bands: Vec::new(),
            mean: vec![0.0; plan.band.len()],
            sum: vec![0.0; plan.bins],
            row: vec![0.0; plan.bins],
            scratch: Vec::new(),
            ordered: Vec::new(),
            peaks: Vec::new(),
            ticks: TickMeter::new(f64::from(plan.grid.rate_hz), plan.frames.len, plan.bins),
            plan,
        }
    }

    /// Measures a row from its samples and those its last frame shares with the next row. Fewer than a row's at the
    /// end of a recording; `None` where they do not make one frame.
    pub fn measure(&mut self, samples: &[f32]) -> Option<Measured> {
        let grid = &self.plan.grid;
        let frames = grid.frames_in(samples.len()).min(grid.frames_per_row());
        if frames == 0 {
            return None;
        }
        self.row.fill(0.0);
        self.ticks.begin();
        let mut steps = Vec::with_capacity(frames.div_ceil(grid.frames_per_step));
        let mut sounding = 0;
        for first in (0..frames).step_by(grid.frames_per_step) {
            let count = grid.frames_per_step.min(frames - first);
            // Two steps at once: their frames can be paired.
            let held = first % (2 * grid.frames_per_step);
            if held == 0 {
                self.transform(samples, first, (2 * grid.frames_per_step).min(frames - first));
            }
            let (step, sound) = self.step(samples, (first, count), held);
            sounding += sound;
            // A short rest at the end of a recording has no level of its own worth having.
            if 2 * count >= grid.frames_per_step || steps.is_empty() {
                steps.push(step);
            }
        }
        let scale = self.density_scale() / sounding.max(1) as f32;
        let mut density: Box<[f32]> = self.row.iter().map(|&sum| sum * scale).collect();
        // The first bin has no mirror image.
        density[0] /= 2.0;
        if let Some(last) = density.get_mut(self.plan.frames.len / 2) {
            *last /= 2.0;
        }
        let ticks = self.ticks.finish(samples);
        Some(Measured { steps, density, sounding, frames: frames as u32, ticks })
    }

    /// One-sided density, FS²/Hz, of a squared magnitude of 1.
    fn density_scale(&self) -> f32 {
        self.plan.frames.density(1, Complex32::new(1.0, 0.0))
    }

    fn transform(&mut self, samples: &[f32], first: usize, count: usize) {
        let (plan, bins) = (self.plan, self.plan.bins);
        self.bands.clear();
        let frame = |n: usize| {
            // Of an odd number the last one is its own partner.
            let start = (first + n.min(count - 1)) * plan.grid.hop;
            &samples[start..start + plan.grid.frame]
        };
        for (pair, powers) in self.powers.chunks_exact_mut(2 * bins).take(count.div_ceil(2)).enumerate() {
            let (of_first, of_second) = powers.split_at_mut(bins);
            self.twins.powers([frame(2 * pair), frame(2 * pair + 1)], [&mut *of_first, &mut *of_second]);
            self.bands.extend([of_first, of_second].map(|powers| sum(&powers[plan.band.clone()])));
        }
    }

    /// The step of `count` frames from `first` on, of those just transformed from the `held`th on, and how many of
    /// them are no silence.
    fn step(&mut self, samples: &[f32], (first, count): (usize, usize), held: usize) -> (Step, u32) {
        let plan = self.plan;
        let (from, to) = (first * plan.grid.hop, (first + count) * plan.grid.hop);
        let rate_hz = f64::from(plan.grid.rate_hz);
        let faults = faults::look(samples, (from, to), rate_hz, block_len(rate_hz), &mut self.peaks);
        let scale = self.density_scale();
        let silent = SILENCE / scale * plan.band.len() as f32;
        self.scratch.clear();
        let bands = &self.bands[held..held + count];
        self.scratch.extend(bands.iter().filter(|&&power| power > silent));
        let sounding = self.scratch.len();
        let mut step = Step {
            noise: 0.0,
            total: 0.0,
            level: faults.mean_square,
            clipped: faults.clipped,
            hole: faults.hole,
            quiet_share: 0.0,
        };
        if sounding == 0 {
            self.ticks.add(samples, (from, to), &self.peaks, None);
            return (step, 0);
        }
        let quieter = *self.scratch.select_nth_unstable_by(sounding / 4, f32::total_cmp).1;
        // The frames of the noise first: mostly those are all there are, and their sum serves the row as well.
        self.sum.fill(0.0);
        let (mut kept, mut total) = (0, 0.0);
        let limit = plan.noise.lifted_at() * quieter;
        let powers = self.powers[held * plan.bins..].chunks_exact(plan.bins);
        let frames = || powers.clone().zip(bands).filter(|&(_, &band)| band > silent);
        for (powers, &band) in frames().filter(|&(_, &band)| band <= limit) {
            add(&mut self.sum, powers);
            total += band;
            kept += 1;
        }
        self.mean.copy_from_slice(&self.sum[plan.band.clone()]);
        for (powers, &band) in frames().filter(|&(_, &band)| band > limit) {
            add(&mut self.sum, powers);
            total += band;
        }
        add(&mut self.row, &self.sum);
        let each = scale / kept as f32;
        self.mean.iter_mut().for_each(|value| *value *= each);
        let bin_hz = plan.frames.bin_hz();
        step.noise = plan.noise.power(&self.mean, kept, &mut self.ordered) as f32;
        step.total = total / sounding as f32 * scale * bin_hz as f32;
        step.quiet_share = kept as f32 / sounding as f32;
        let in_bin = f64::from(step.noise) / (bin_hz * plan.band.len() as f64) / f64::from(scale) * sounding as f64;
        let noise = StepNoise { power: step.noise, sum: &self.sum, noise_in_bin: in_bin };
        self.ticks.add(samples, (from, to), &self.peaks, Some(&noise));
        (step, sounding as u32)
    }
}

fn add(sums: &mut [f32], values: &[f32]) {
    wide(|| {
        for (sum, value) in sums.iter_mut().zip(values) {
            *sum += value;
        }
    });
}

/// Sum in eight parts side by side, which the processor adds at once and which round less than one would.
fn sum(values: &[f32]) -> f32 {
    let mut parts = [0f32; 8];
    let (whole, rest) = values.as_chunks::<8>();
    wide(|| {
        for piece in whole {
            for (part, value) in parts.iter_mut().zip(piece) {
                *part += value;
            }
        }
    });
    parts.into_iter().sum::<f32>() + rest.iter().sum::<f32>()
}
