//! What the bare samples of a step tell: its mean square, its peak, clipped samples, holes.
//!
//! The same marks as `health::samples` has for a short recording, looked for block by block so that it costs next
//! to nothing.

use crate::signal::health::samples::{FULL_SCALE, HOLE_S};
use crate::wide::wide;

/// Sums side by side, so that the processor adds several at once. Chosen: the width of common vector units for
/// 32-bit numbers.
const LANES: usize = 8;

/// What was found in a stretch of samples.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Faults {
    /// Mean square, FS².
    pub mean_square: f32,
    /// Largest magnitude.
    pub peak: f32,
    /// Samples at full scale.
    pub clipped: u32,
    /// Samples in holes.
    pub hole: u32,
}

/// Looks at `samples[from..to]`; a hole is followed beyond, to know its length, and counted within. `peaks` becomes
/// the largest magnitude of each `length` samples, a multiple of eight.
pub(crate) fn look(
    samples: &[f32],
    (from, to): (usize, usize),
    rate_hz: f64,
    length: usize,
    peaks: &mut Vec<f32>,
) -> Faults {
    let to = to.min(samples.len());
    // A run as long as a hole holds at least one whole block of half that length.
    let hole = (HOLE_S * rate_hz).ceil() as usize;
    let block = (hole / 2 / LANES).max(1) * LANES;
    let mut found = Faults::default();
    let mut counted_to = from;
    for start in (from..to).step_by(block) {
        let piece = &samples[start..(start + block).min(to)];
        let flat = piece[0];
        // Nearly every block is told by its last sample already.
        if piece[piece.len() - 1] == flat && start >= counted_to && piece.iter().all(|&x| x == flat) {
            let before = samples[..start].iter().rev().take_while(|&&x| x == flat).count();
            let after = samples[start..].iter().take_while(|&&x| x == flat).count();
            counted_to = start + after;
            if before + after >= hole {
                found.hole += (after.min(to - start) + before.min(start - from)) as u32;
            }
        }
    }
    let mut lanes = Lanes::new();
    peaks.clear();
    wide(|| samples[from..to].chunks(length).for_each(|piece| peaks.push(lanes.take(piece))));
    found.mean_square = (lanes.sum() / (to - from).max(1) as f64) as f32;
    found.peak = peaks.iter().copied().fold(0.0, larger);
    if found.peak >= FULL_SCALE {
        found.clipped = samples[from..to].iter().filter(|x| x.abs() >= FULL_SCALE).count() as u32;
    }
    found
}

/// The larger of two: one instruction, as there are no NaNs here.
#[inline(always)]
fn larger(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

/// Sums of squares of every eighth sample, from the first on, from the second on …
struct Lanes {
    squares: [f32; LANES],
}

impl Lanes {
    fn new() -> Self {
        Self { squares: [0.0; LANES] }
    }

    /// Takes samples, whole eights of them unless they are the last; the largest magnitude among them.
    #[inline(always)]
    fn take(&mut self, samples: &[f32]) -> f32 {
        let mut most = [0f32; LANES];
        let (whole, rest) = samples.as_chunks::<LANES>();
        for piece in whole {
            for (k, &x) in piece.iter().enumerate() {
                most[k] = larger(most[k], x.abs());
                self.squares[k] += x * x;
            }
        }
        for (k, &x) in rest.iter().enumerate() {
            most[k] = larger(most[k], x.abs());
            self.squares[k] += x * x;
        }
        let [a, b, c, d, e, f, g, h] = most;
        larger(larger(larger(a, e), larger(b, f)), larger(larger(c, g), larger(d, h)))
    }

    fn sum(&self) -> f64 {
        self.squares.iter().map(|&sum| f64::from(sum)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_counted_where_they_begin() {
        let mut samples: Vec<f32> = (0..12_000).map(|n| 0.5 * (n as f32 * 0.7).sin()).collect();
        samples[2000..2100].fill(0.0);
        samples[7990..8200].fill(0.1);
        samples[500..503].fill(-1.0);
        let mut peaks = Vec::new();
        let first = look(&samples, (0, 6000), 12_000.0, 32, &mut peaks);
        assert_eq!((first.peak, first.clipped, first.hole), (1.0, 3, 100));
        assert_eq!(peaks.len(), 6000usize.div_ceil(32));
        assert_eq!((peaks[500 / 32], peaks[2050 / 32]), (1.0, 0.0));
        let second = look(&samples, (6000, 8000), 12_000.0, 32, &mut peaks);
        assert_eq!((second.clipped, second.hole), (0, 10));
        let third = look(&samples, (8000, 12_000), 12_000.0, 32, &mut peaks);
        assert_eq!(third.hole, 200);
        assert!((second.mean_square - 0.125).abs() < 0.001);
    }

    #[test]
    fn short_runs_are_no_holes() {
        let samples: Vec<f32> = (0..12_000).map(|n| if n % 58 < 29 { 0.1 } else { -0.1 }).collect();
        let mut peaks = Vec::new();
        assert_eq!(look(&samples, (0, 12_000), 12_000.0, 32, &mut peaks).hole, 0);
        assert_eq!(look(&[0.0; 12_000], (0, 12_000), 12_000.0, 32, &mut peaks).hole, 12_000);
    }
}
