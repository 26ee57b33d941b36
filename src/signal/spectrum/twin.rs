//! Powers of two frames at the price of one: their samples are the real and the imaginary part of one transform.
//! For hours of sound of which nothing but powers is wanted. Not here: spectra with their phases (`frame`).

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::frame::FramePlan;
use super::window::hann;
use crate::wide::wide;

/// Window, transform and room for two frames.
#[derive(Clone)]
pub struct TwinFrames {
    /// Half of it: the sums below hold twice each spectrum.
    window: Arc<[f32]>,
    fft: Arc<dyn Fft<f32>>,
    both: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl TwinFrames {
    /// For frames of this plan.
    pub fn new(plan: &FramePlan) -> Self {
        let fft = FftPlanner::new().plan_fft_forward(plan.len);
        Self {
            window: hann(plan.len).iter().map(|weight| weight / 2.0).collect(),
            both: vec![Complex32::ZERO; plan.len],
            scratch: vec![Complex32::ZERO; fft.get_inplace_scratch_len()],
            fft,
        }
    }

    /// Squared magnitudes of the windowed frames' spectra, from the first bin on, as many as there is room for
    /// (half a frame and one at most). `first`, `second`: as many samples as a frame has.
    ///
    /// With Z the transform of a + i·b, that of a is (Z(k) + Z*(−k))/2 and that of b (Z(k) − Z*(−k))/2i (mathematics:
    /// both are symmetric).
    pub fn powers(&mut self, [first, second]: [&[f32]; 2], [of_first, of_second]: [&mut [f32]; 2]) {
        wide(|| {
            let frames = first.iter().zip(second).zip(self.window.iter());
            for (slot, ((&a, &b), &weight)) in self.both.iter_mut().zip(frames) {
                *slot = Complex32::new(a * weight, b * weight);
            }
        });
        self.fft.process_with_scratch(&mut self.both, &mut self.scratch);
        let Some((&zero, others)) = self.both.split_first() else { return };
        let (Some((first, of_first)), Some((second, of_second))) =
            (of_first.split_first_mut(), of_second.split_first_mut())
        else {
            return;
        };
        (*first, *second) = parted(zero, zero);
        wide(|| {
            let mirrored = others.iter().zip(others.iter().rev());
            for ((first, second), (&at, &mirrored)) in of_first.iter_mut().zip(of_second).zip(mirrored) {
                (*first, *second) = parted(at, mirrored);
            }
        });
    }
}

/// Powers of the two spectra whose samples were transformed as one, from a bin and its mirror image.
#[inline(always)]
fn parted(at: Complex32, mirrored: Complex32) -> (f32, f32) {
    let (even, odd) = (at.re + mirrored.re, at.im - mirrored.im);
    let (other_even, other_odd) = (at.im + mirrored.im, at.re - mirrored.re);
    (even * even + odd * odd, other_even * other_even + other_odd * other_odd)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::spectrum::Stft;

    /// Source: each frame transformed by itself. Tolerance: rounding in f32, over the strongest bin.
    #[test]
    fn two_frames_at_once_are_what_each_is_alone() {
        let plan = FramePlan::for_rate(8000);
        let mut state = 3u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 24) as f32 - 0.5
        };
        let frames = [0, 1].map(|_| (0..plan.len).map(|_| noise()).collect::<Vec<f32>>());
        let mut found = [vec![0.0; plan.bins()], vec![0.0; plan.bins()]];
        let [first, second] = &mut found;
        TwinFrames::new(&plan).powers([&frames[0], &frames[1]], [first, second]);
        for (frame, found) in frames.iter().zip(&found) {
            let alone: Vec<f32> = Stft::new(&plan).transform(frame).iter().map(|value| value.norm_sqr()).collect();
            let strongest = alone.iter().fold(0.0, |most: f32, &power| most.max(power));
            for (k, (alone, found)) in alone.iter().zip(found).enumerate() {
                assert!((alone - found).abs() < 1e-5 * strongest, "{k}: {alone} {found}");
            }
        }
    }
}
