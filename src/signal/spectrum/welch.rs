//! Welch's estimate of one stretch of samples (P. D. Welch, IEEE Trans. AU-15(2), 70–73, 1967), for short records.

use super::frame::{FramePlan, Stft};
use super::window::{enbw_bins, hann};

/// What a bin of the estimate holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Power density, FS²/Hz: right for noise.
    Density,
    /// Power of a line in the bin's middle, FS²: right for tones.
    Power,
}

/// One-sided Welch estimate: Hann window, half overlap, mean over frames; no detrending.
///
/// Returns `plan.bins()` values in FS²/Hz or FS². `None` where there is less than one frame. NaN in gives NaN out.
pub fn welch(plan: &FramePlan, samples: &[f32], scale: Scale) -> Option<Vec<f64>> {
    let mut sum = vec![0f64; plan.bins()];
    let mut frames = 0usize;
    Stft::new(plan).push(samples, |spectrum| {
        frames += 1;
        for (k, (sum, &value)) in sum.iter_mut().zip(spectrum).enumerate() {
            *sum += plan.density(k, value) as f64;
        }
    });
    let factor = match scale {
        Scale::Density => 1.0,
        Scale::Power => enbw_bins(&hann(plan.len)) * plan.bin_hz(),
    };
    (frames > 0).then(|| sum.iter().map(|s| s / frames as f64 * factor).collect())
}
