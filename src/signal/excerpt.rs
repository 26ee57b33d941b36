//! A few seconds of a recording in steps short enough to show single clicks, for the eye alone: no figure rests on
//! it.

use crate::signal::envelope::Pulse;
use crate::signal::shelf::Values;
use crate::signal::spectrum::{FramePlan, Stft};

/// Its length. Chosen: holds two clicks of a fence, one in 1.3 s, and shows ten a second apart.
const LONGEST_S: f64 = 3.0;
/// Distance of its moments. Chosen: about a picture's dot, and half the distance of clicks at the mains rate.
const STEP_S: f64 = 0.01;
/// Most frequencies kept: an SSB passband needs some 60. Chosen: bounds it to 150 kB at any sample rate.
const MOST_BINS: usize = 128;

/// Power density over a few seconds, moment by moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Excerpt {
    /// Where it begins, from the start of the recording.
    pub from_s: f64,
    /// Distance of two moments.
    pub step_s: f64,
    /// Values of a moment.
    pub bins: usize,
    /// Distance of two values.
    pub bin_hz: f64,
    /// FS²/Hz, moment by moment.
    pub density: Values,
}

impl Excerpt {
    /// The stretch of `samples` (from the recording's start) in which most of the pulses lie, of equals the first,
    /// up to a frequency. `None` where the samples are shorter than a frame.
    pub(super) fn of(samples: &[f32], sample_rate_hz: u32, pulses: &[Pulse], top_hz: f64) -> Option<Self> {
        let rate_hz = f64::from(sample_rate_hz);
        let hop = (STEP_S * rate_hz).round() as usize;
        if hop == 0 || samples.len() < 2 * hop {
            return None;
        }
        let from_s = busiest_s(pulses, samples.len() as f64 / rate_hz);
        let plan = FramePlan::new(sample_rate_hz, 2 * hop);
        let first = ((from_s * rate_hz) as usize).min(samples.len() - 2 * hop);
        let end = samples.len().min(first + (LONGEST_S * rate_hz) as usize + hop);
        let shown = ((top_hz / plan.bin_hz()).ceil() as usize + 1).clamp(1, plan.bins());
        let together = shown.div_ceil(MOST_BINS);
        let mut density = Vec::new();
        Stft::new(&plan).push(&samples[first..end], |spectrum| {
            let one: Vec<f32> = (0..shown).map(|k| plan.density(k, spectrum[k])).collect();
            density.extend(one.chunks(together).map(|some| some.iter().sum::<f32>() / some.len() as f32));
        });
        Some(Self {
            from_s: first as f64 / rate_hz,
            step_s: hop as f64 / rate_hz,
            bins: shown.div_ceil(together),
            bin_hz: plan.bin_hz() * together as f64,
            density: density.into(),
        })
    }

    /// Number of moments.
    pub fn moments(&self) -> usize {
        self.density.len().checked_div(self.bins).unwrap_or(0)
    }
}

/// Where the stretch with most pulses begins; a little before its first pulse.
fn busiest_s(pulses: &[Pulse], all_s: f64) -> f64 {
    let last_s = (all_s - LONGEST_S).max(0.0);
    let mut best = (0, 0.0);
    for (i, pulse) in pulses.iter().enumerate() {
        let from_s = (pulse.at_s - 0.1).clamp(0.0, last_s);
        let held = pulses[i..].iter().take_while(|p| p.at_s < from_s + LONGEST_S).count();
        if held > best.0 && pulse.at_s < all_s {
            best = (held, from_s);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A click of one sample at 5.00 s; by the definition of the Hann window only frames that hold it show it.
    #[test]
    fn a_click_stands_alone() {
        let mut samples = vec![0.0f32; 8 * 12_000];
        samples[5 * 12_000] = 0.5;
        let pulse = Pulse { at_s: 5.0, length_s: 0.001, energy: 1.0, peak: 1.0, peak_at_s: 5.0 };
        let excerpt = Excerpt::of(&samples, 12_000, &[pulse], 3000.0).unwrap();
        assert_eq!((excerpt.bins, excerpt.step_s), (61, 0.01));
        assert!((excerpt.from_s - 4.9).abs() < 1e-9, "{}", excerpt.from_s);
        let loud: Vec<usize> =
            (0..excerpt.moments()).filter(|row| excerpt.density.read()[row * 61 + 20] > 1e-12).collect();
        assert_eq!(loud, [9], "frames of 20 ms from 4.99 s have it in their middle; the next at their edges");
    }

    #[test]
    fn any_rate_and_length_is_bounded() {
        for rate in [1, 8_000, 48_000, 192_000] {
            for seconds in [0.0, 0.01, 0.5, 4.0] {
                let samples = vec![0.1f32; (f64::from(rate) * seconds) as usize];
                let held = Excerpt::of(&samples, rate, &[], 1e6).map_or(0, |e| e.density.len());
                assert!(held <= 310 * MOST_BINS, "{rate} {seconds} {held}");
            }
        }
    }

    #[test]
    fn most_pulses_are_shown() {
        let at = |at_s| Pulse { at_s, length_s: 0.001, energy: 1.0, peak: 1.0, peak_at_s: at_s };
        let pulses = [1.0, 9.0, 14.0, 15.0, 16.0, 25.0].map(at);
        assert!((busiest_s(&pulses, 32.0) - 13.9).abs() < 1e-9);
        assert_eq!(busiest_s(&pulses, 2.0), 0.0);
        assert_eq!(busiest_s(&[], 32.0), 0.0);
    }
}
