//! How the noise of one row moves in time: its modulation spectrum and its pulses, lines left out.
//!
//! The same envelope as a short recording's (`envelope`), made row by row from the row's own frames.

use realfft::num_complex::Complex32;

use super::timeline::RowEnvelope;
use crate::signal::envelope::{EnvelopeSource, Pulses, pulse_limit};
use crate::signal::spectrum::{FramePlan, Stft};

/// Stretches of the modulation spectrum, those of `envelope::modulation`.
const STRETCH_S: f64 = 2.0;
/// Highest rate kept, and what peaks near it need beside them.
const HIGHEST_HZ: f64 = 500.0;
/// Pulses are looked for in stretches of this length, each with its own limit.
const PULSE_STRETCH_S: f64 = 2.0;
/// Every so manieth value tells the quantiles well enough; an odd number, so that no regular pulsing falls in with it.
const SAMPLED_EVERY: usize = 5;

/// Gathers the envelope of one row after another.
pub(crate) struct Swing {
    pub source: EnvelopeSource,
    plan: FramePlan,
    stft: Stft,
    values: Vec<f32>,
    sampled: Vec<f32>,
    kept: usize,
}

impl Swing {
    /// `plan`: that of [`Swing::plan`], made once for all threads.
    pub fn new(source: &EnvelopeSource, plan: &FramePlan) -> Self {
        let kept = ((HIGHEST_HZ / Self::bin_hz(source)).ceil() as usize + 1).min(plan.bins());
        Self {
            source: source.clone(),
            stft: Stft::new(plan),
            plan: plan.clone(),
            values: Vec::new(),
            sampled: Vec::new(),
            kept,
        }
    }

    /// The transform of the modulation spectrum. (Its sample rate only scales densities, which are not used here.)
    pub fn plan(source: &EnvelopeSource) -> FramePlan {
        FramePlan::new(source.rate_hz().round() as u32, stretch_len(source))
    }

    /// Distance of two values of the modulation spectrum.
    pub fn bin_hz(source: &EnvelopeSource) -> f64 {
        source.rate_hz() / stretch_len(source) as f64
    }

    /// The envelope of a row's frames, each `source.bins()` values. `None` for a row too short for one stretch.
    pub fn measure(&mut self, frames: &[Complex32]) -> Option<RowEnvelope> {
        let width = self.source.bins().len();
        self.source.restart();
        self.values.clear();
        for frame in frames.chunks_exact(width) {
            self.source.push_bins(frame, &mut self.values, |_| ());
        }
        let (modulation, stretches) = self.modulation()?;
        let pulses = self.pulses();
        Some(RowEnvelope {
            modulation,
            stretches,
            pulses: pulses.count as u32,
            pulse_energy: pulses.energy as f32,
            seconds: pulses.seconds as f32,
        })
    }

    /// Mean over half-overlapped stretches of the squared relative amplitude, as `envelope::Modulation` has it.
    fn modulation(&mut self) -> Option<(Box<[f32]>, u32)> {
        let mut sum = vec![0f32; self.kept];
        let mut stretches = 0u32;
        let (len, hop) = (self.plan.len, self.plan.hop());
        let mut start = 0;
        while start + len <= self.values.len() {
            let spectrum = self.stft.transform(&self.values[start..start + len]);
            let mean = spectrum[0].re;
            if mean > 0.0 {
                stretches += 1;
                let scale = 4.0 / (mean * mean);
                for (sum, value) in sum.iter_mut().zip(spectrum) {
                    *sum += scale * value.norm_sqr();
                }
            }
            start += hop;
        }
        if stretches == 0 {
            return None;
        }
        sum.iter_mut().for_each(|value| *value /= stretches as f32);
        Some((sum.into(), stretches))
    }

    fn pulses(&mut self) -> Pulses {
        let rate_hz = self.source.rate_hz();
        let stretch = (PULSE_STRETCH_S * rate_hz) as usize;
        let mut pulses = Pulses::default();
        for (n, values) in self.values.chunks(stretch).enumerate() {
            // A short rest has no quantiles of its own.
            if 2 * values.len() < stretch && n > 0 {
                break;
            }
            self.sampled.clear();
            self.sampled.extend(values.iter().step_by(SAMPLED_EVERY));
            if let Some(limit) = limit(&mut self.sampled) {
                pulses.look_above(limit, values, rate_hz, (n * stretch) as f64 / rate_hz);
            }
        }
        pulses
    }
}

fn stretch_len(source: &EnvelopeSource) -> usize {
    ((STRETCH_S * source.rate_hz()) as usize).next_power_of_two()
}

/// (limit, typical power) from a stretch's values, which are put in another order. `None` for silence.
fn limit(values: &mut [f32]) -> Option<(f64, f64)> {
    let n = values.len();
    if n < 50 {
        return None;
    }
    let at = |q: f64| (q * (n - 1) as f64).round() as usize;
    let (lower, middle, upper) = values.select_nth_unstable_by(at(0.5), f32::total_cmp);
    let middle = *middle;
    let low = *lower.select_nth_unstable_by(at(0.1587), f32::total_cmp).1;
    let high = *upper.select_nth_unstable_by(at(0.75) - at(0.5) - 1, f32::total_cmp).1;
    (middle > 0.0).then(|| pulse_limit(low, middle, high))
}
