//! Powers of two frames at the price of one: their samples are the real and the imaginary part of one transform.
//! For hours of sound of which nothing but powers is wanted. Not here: spectra with their phases (`frame`).

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::frame::FramePlan;
use super::window::hann;

/// Bins that are worked on at once. Chosen: one vector of every processor; twice as fast as bin by bin.
const LANES: usize = 4;

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
        let frames = first.iter().zip(second).zip(self.window.iter());
        for (slot, ((&a, &b), &weight)) in self.both.iter_mut().zip(frames) {
            *slot = Complex32::new(a * weight, b * weight);
        }
        self.fft.process_with_scratch(&mut self.both, &mut self.scratch);
        let bins = of_first.len().min(of_second.len());
        let Some((zero, others)) = self.both.split_first().filter(|_| bins > 0) else { return };
        (of_first[0], of_second[0]) = ((2.0 * zero.re).powi(2), (2.0 * zero.im).powi(2));
        let (first, first_rest) = of_first[1..bins].as_chunks_mut();
        let (second, second_rest) = of_second[1..bins].as_chunks_mut();
        let mut ends = others.as_chunks().0.iter().zip(others.as_rchunks().1.iter().rev());
        for ((first, second), (at, mirrored)) in first.iter_mut().zip(second).zip(&mut ends) {
            (*first, *second) = taken_apart(at, mirrored);
        }
        if let Some((at, mirrored)) = ends.next() {
            let (first, second) = taken_apart(at, mirrored);
            first_rest.copy_from_slice(&first[..first_rest.len()]);
            second_rest.copy_from_slice(&second[..second_rest.len()]);
        }
    }
}

/// Powers of both frames in bins that follow each other, from the transform there and, in the same order of samples,
/// at the frequencies below 0 Hz: the last of these belongs to the first bin.
fn taken_apart(at: &[Complex32; LANES], mirrored: &[Complex32; LANES]) -> ([f32; LANES], [f32; LANES]) {
    let mut mirrored = *mirrored;
    mirrored.reverse();
    let [(re, im), (other_re, other_im)] = [at, &mirrored].map(|z| (z.map(|z| z.re), z.map(|z| z.im)));
    let power = |even: f32, odd: f32| even * even + odd * odd;
    (
        std::array::from_fn(|n| power(re[n] + other_re[n], im[n] - other_im[n])),
        std::array::from_fn(|n| power(im[n] + other_im[n], re[n] - other_re[n])),
    )
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
