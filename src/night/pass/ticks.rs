//! Moments of a row that stand out of the noise for some milliseconds, with quiet around them: clicks, and whatever
//! else is as short. Found in the samples themselves, for a spectrum's frame is a hundred times as long.
//!
//! Not here: whose they are (`night::clicks`). A static crash, a syllable and the tops of a buzz lift what is beside
//! them as well, and are passed over; a carrier that stands over the noise is taken out first.

use crate::signal::spectrum::statistics::{SD_OF_MEDIAN, quantile_scaled};
use crate::wide::wide;

/// Length of a block, of which the largest sample counts. Chosen: a little longer than a click in a voice channel
/// rings, short enough that the gaps of a buzz hold whole blocks.
const BLOCK_S: f64 = 0.0027;
/// Standard deviations of the noise that a click's largest sample stands over it. Chosen: plain noise in a voice
/// channel does so a few times a minute, which no beat minds.
const SIGMAS: f32 = 4.7;
/// Blocks to each side among which it is the largest: two clicks lie no nearer (20 ms). Chosen as the fastest that
/// are heard as clicks and not as a tone, some 40 a second (common practice).
const ALONE_BLOCKS: usize = 8;
/// Blocks to each side that are looked at for quiet, those nearest left out (8 ms: the ringing of an SSB filter), and
/// how many of them may stand higher than so many standard deviations. Chosen: of plain noise one in thirty does; a
/// buzz lifts every second one, a crash or a syllable all.
const AROUND_BLOCKS: usize = 12;
const RINGING_BLOCKS: usize = 3;
const LIFTED_SIGMAS: f32 = 3.0;
const MOST_LIFTED: usize = 3;
/// Most clicks kept of a step, the strongest. Chosen: more tell nothing more of their rate.
pub(crate) const MOST_IN_A_STEP: usize = 12;
/// The quieter quarter of the blocks of plain noise stays below so many standard deviations of it; where it does not,
/// something stands over the noise that does not pause, such as a carrier. Mathematics: a block of a voice channel
/// has some 13 independent samples, so 1.6; the rest is room for noise outside of the passband.
const STEADY_SIGMAS: f32 = 2.2;
const NOISE_QUARTER_SIGMAS: f32 = 1.63;
/// Coefficients of the filter that takes out what stands still: some carriers, or a carrier and the shape of the
/// rest. Chosen.
const ORDER: usize = 8;
/// The filter takes spectra to be at least this share of the noise's density everywhere: it must not lift what the
/// receiver's filter holds down. Chosen.
const LEAST_SHARE: f64 = 0.1;
/// Of so many samples or blocks one tells how they are spread. Chosen: spares time.
const ONE_IN: usize = 4;

/// A moment that stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    /// Sample of the row.
    pub at: usize,
    /// Its magnitude in standard deviations of the noise around it.
    pub sigmas: f32,
}

/// Samples a block.
pub(crate) fn block_len(rate_hz: f64) -> usize {
    ((BLOCK_S * rate_hz) as usize / 8).max(1) * 8
}

/// What of a step is known from its spectra.
pub(crate) struct StepNoise<'a> {
    /// Noise power in the passband, FS².
    pub power: f32,
    /// Squared magnitudes of its frames, their sum, from 0 Hz on, in any unit.
    pub sum: &'a [f32],
    /// Of these, the noise's own in a bin.
    pub noise_in_bin: f64,
}

/// Looks for them, step by step through a row.
pub(crate) struct TickMeter {
    /// Samples a block.
    block: usize,
    /// Cosine of the angle of each bin kept in a sample.
    cosines: Vec<f64>,
    /// Of a frame, kept or not.
    all_bins: usize,
    /// Largest magnitude of each block of the row so far, in standard deviations of its step's noise.
    blocks: Vec<f32>,
    /// Each step looked at: first sample, first block, and whether the filter was used.
    steps: Vec<(usize, usize)>,
    /// Magnitudes of the filtered samples.
    filtered: Vec<f32>,
    scratch: Vec<f32>,
}

impl TickMeter {
    /// `bins`: how many are kept of a frame of `frame` samples.
    pub fn new(rate_hz: f64, frame: usize, bins: usize) -> Self {
        let angle = std::f64::consts::TAU / frame as f64;
        Self {
            block: block_len(rate_hz),
            all_bins: frame / 2 + 1,
            cosines: (0..bins).map(|k| (k as f64 * angle).cos()).collect(),
            blocks: Vec::new(),
            steps: Vec::new(),
            filtered: Vec::new(),
            scratch: Vec::new(),
        }
    }

    /// Begins a row.
    pub fn begin(&mut self) {
        self.blocks.clear();
        self.steps.clear();
    }

    /// Takes the step of `samples[from..to]`: `peaks` are the largest magnitudes of its blocks; `noise` is `None` for
    /// silence.
    pub fn add(
        &mut self,
        samples: &[f32],
        (from, to): (usize, usize),
        peaks: &[f32],
        noise: Option<&StepNoise<'_>>,
    ) {
        self.steps.push((from, self.blocks.len()));
        let Some(noise) = noise else {
            self.blocks.resize(self.blocks.len() + peaks.len(), 0.0);
            return;
        };
        let mut sigma = noise.power.sqrt();
        let most = peaks.iter().fold(0f32, |most, &peak| if peak > most { peak } else { most });
        if most > SIGMAS * sigma {
            let mut some: Vec<f32> = std::mem::take(&mut self.scratch);
            some.clear();
            some.extend(peaks.iter().step_by(ONE_IN));
            let place = some.len() / 4;
            let quarter = *some.select_nth_unstable_by(place, f32::total_cmp).1;
            self.scratch = some;
            if quarter > STEADY_SIGMAS * sigma {
                return self.add_filtered(samples, (from, to), noise);
            }
            sigma = sigma.max(quarter / NOISE_QUARTER_SIGMAS);
        }
        self.blocks.extend(peaks.iter().map(|peak| peak / sigma));
    }

    /// The same of what a filter leaves that takes out all that stands still.
    fn add_filtered(&mut self, samples: &[f32], (from, to): (usize, usize), noise: &StepNoise<'_>) {
        let weights = predictor(self.autocorrelation(noise));
        let from = from.max(ORDER);
        self.filtered.clear();
        self.filtered.extend_from_slice(&samples[from..to]);
        wide(|| {
            for (lag, weight) in (1..).zip(&weights) {
                let past = &samples[from - lag..to - lag];
                self.filtered.iter_mut().zip(past).for_each(|(left, x)| *left -= x * weight);
            }
            self.filtered.iter_mut().for_each(|left| *left = left.abs());
        });
        self.scratch.clear();
        self.scratch.extend(self.filtered.iter().step_by(ONE_IN));
        let sigma = SD_OF_MEDIAN as f32 * quantile_scaled(&mut self.scratch, 0.5, f64::from) as f32;
        let scale = if sigma > 0.0 { 1.0 / sigma } else { 0.0 };
        let largest = |block: &[f32]| block.iter().fold(0f32, |most, &x| if x > most { x } else { most }) * scale;
        self.blocks.extend(self.filtered.chunks(self.block).map(largest));
    }

    /// Of the samples, from the mean spectrum (the theorem of Wiener and Khinchin).
    fn autocorrelation(&self, noise: &StepNoise<'_>) -> [f64; ORDER + 1] {
        let mut sums = [0.0; ORDER + 1];
        // The same at all frequencies, kept or not, is alike in no two samples.
        sums[0] = LEAST_SHARE * noise.noise_in_bin * self.all_bins as f64;
        for (&power, &cosine) in noise.sum.iter().zip(&self.cosines) {
            let power = f64::from(power);
            // cos kφ = 2 cos φ cos (k−1)φ − cos (k−2)φ.
            let (mut before, mut now) = (cosine, 1.0);
            for sum in &mut sums {
                *sum += power * now;
                (before, now) = (now, 2.0 * cosine * now - before);
            }
        }
        sums
    }

    /// What stands out of the row, in order of time, and of each step the strongest.
    pub fn finish(&mut self, samples: &[f32]) -> Vec<Found> {
        let mut found: Vec<Found> = Vec::new();
        let ends = self.steps.iter().skip(1).map(|step| step.1).chain([self.blocks.len()]);
        for (&(from, first), end) in self.steps.iter().zip(ends) {
            let begin = found.len();
            let standing = (first..end).filter(|&n| self.blocks[n] > SIGMAS && self.is_alone(n));
            found.extend(standing.map(|n| {
                let start = from + (n - first) * self.block;
                let piece = &samples[start.min(samples.len())..(start + self.block).min(samples.len())];
                let top = piece.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
                Found { at: start + top.map_or(0, |top| top.0), sigmas: self.blocks[n] }
            }));
            if found.len() - begin > MOST_IN_A_STEP {
                found[begin..].sort_by(|a, b| b.sigmas.total_cmp(&a.sigmas));
                found.truncate(begin + MOST_IN_A_STEP);
                found[begin..].sort_by_key(|one| one.at);
            }
        }
        found
    }

    /// Whether a block is the largest nearby and has quiet around it.
    fn is_alone(&self, n: usize) -> bool {
        let blocks = &self.blocks;
        let beside = |reach: usize| (n.saturating_sub(reach), (n + reach + 1).min(blocks.len()));
        let (from, to) = beside(ALONE_BLOCKS);
        if blocks[from..n].iter().any(|&other| other > blocks[n])
            || blocks[n + 1..to].iter().any(|&other| other >= blocks[n])
        {
            return false;
        }
        let (from, to) = beside(AROUND_BLOCKS);
        let (before, after) = (n.saturating_sub(RINGING_BLOCKS), (n + RINGING_BLOCKS + 1).min(blocks.len()));
        let around = blocks[from..before.max(from)].iter().chain(&blocks[after.min(to)..to]);
        around.filter(|&&other| other > LIFTED_SIGMAS).count() <= MOST_LIFTED
    }
}

/// Weights by which the samples before one predict it best, the latest first: the recursion of N. Levinson and J.
/// Durbin (J. Makhoul, Proceedings of the IEEE 63, 1975; from memory).
fn predictor(correlation: [f64; ORDER + 1]) -> [f32; ORDER] {
    let mut weights = [0.0; ORDER];
    let mut error = correlation[0];
    for order in 0..ORDER {
        if error <= 0.0 {
            break;
        }
        let known: f64 = (0..order).map(|k| weights[k] * correlation[order - k]).sum();
        let reflected = (correlation[order + 1] - known) / error;
        let before = weights;
        weights[order] = reflected;
        (0..order).for_each(|k| weights[k] = before[k] - reflected * before[order - 1 - k]);
        error *= 1.0 - reflected * reflected;
    }
    weights.map(|weight| weight as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// By construction: a process that is 1.2 times its last value less half of the one before, and new noise, is
    /// predicted by these weights. Its autocorrelation follows from the equations of G. U. Yule and G. Walker.
    #[test]
    fn the_predictor_finds_what_made_the_process() {
        let (a, b) = (1.2, -0.5);
        let mut correlation = [1.0, a / (1.0 - b), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        (2..=ORDER).for_each(|k| correlation[k] = a * correlation[k - 1] + b * correlation[k - 2]);
        let weights = predictor(correlation);
        assert_abs_diff_eq!(weights[0], 1.2, epsilon = 1e-6);
        assert_abs_diff_eq!(weights[1], -0.5, epsilon = 1e-6);
        weights[2..].iter().for_each(|&weight| assert_abs_diff_eq!(weight, 0.0, epsilon = 1e-6));
    }
}
