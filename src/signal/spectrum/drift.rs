//! Lines that drift too fast to stand out of the mean spectrum: sums along slanted paths through the slices.

use super::slices::Slices;
use super::statistics::line_threshold;

/// Fastest drift looked for. Chosen: a carrier that fast stays within three bins in a slice (`slices`), with a
/// little room over 50 Hz/s.
const FASTEST_HZ_PER_S: f64 = 55.0;
/// Length of the stretch that is summed along a straight path: a drifting carrier is straight for about this long.
/// Chosen so.
const STRETCH_S: f64 = 8.0;
/// False-alarm probability for each stretch; small, since a recording has many and paths cross. Chosen so; the
/// validation bench's part `lines` holds the sum to the stated probability.
const FALSE_ALARM: f64 = 1e-4;
/// Most that a moment counts for, times the floor. Chosen: what a line rarely has in a single slice.
const STRONGEST: f32 = 8.0;

/// A straight path: at slice `row` the line stands at `bin + slope·(slice − row)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Path {
    /// Slice in the middle of the stretch.
    pub row: usize,
    /// Its bin there.
    pub bin: f64,
    /// Bins a slice.
    pub slope: f64,
}

/// The strongest slanted path whose mean power stands above what noise does, or `None`.
///
/// `white`: slices divided by the floor, row by row, `width` bins each, known lines set to 1.
pub fn strongest_path(slices: &Slices, white: &[f32], width: usize) -> Option<Path> {
    let rows = white.len().checked_div(width)?;
    let stretch = ((STRETCH_S / slices.slice_s).round() as usize).clamp(8, 64).min(rows);
    if stretch < 8 || width < 8 {
        return None;
    }
    let steepest = (FASTEST_HZ_PER_S * slices.slice_s / slices.bin_hz).min(4.0);
    // A step of one bin over the whole stretch.
    let slopes = (steepest * (stretch - 1) as f64).floor() as isize;
    let cells = (2 * slopes + 1) as f64 * width as f64;
    let threshold = line_threshold(slices.averages_per_slice() * stretch as f64, cells, FALSE_ALARM);
    let least = (threshold * stretch as f64 * (1.0 - 1e-6)) as f32;
    // One strong moment (a click) is no path.
    let white: Vec<f32> = white.iter().map(|value| value.min(STRONGEST)).collect();
    let mut best: Option<(f32, Path)> = None;
    let mut first = 0;
    loop {
        for shift in -slopes..=slopes {
            // Less than one bin over the stretch is no drift: the mean spectrum sees those lines better.
            if shift.abs() < 2 {
                continue;
            }
            let slope = shift as f64 / (stretch - 1) as f64;
            let (sums, origin) = sums_along(&white[first * width..(first + stretch) * width], width, slope);
            // Most slopes have nothing at all: seen at once, many sums side by side.
            if !sums.chunks(64).any(|some| some.iter().fold(false, |any, &sum| any | (sum > least))) {
                continue;
            }
            for (k, sum) in sums.into_iter().enumerate() {
                let mean = sum / stretch as f32;
                if mean as f64 > threshold && best.is_none_or(|(old, _)| mean > old) {
                    let middle = (stretch - 1) as f64 / 2.0;
                    let bin = k as f64 - origin as f64 + slope * middle;
                    best = Some((mean, Path { row: first + stretch / 2, bin, slope }));
                }
            }
        }
        if first + stretch >= rows {
            break;
        }
        first = (first + stretch / 2).min(rows - stretch);
    }
    best.map(|(_, path)| path)
}

/// Sum over the rows of a stretch along paths of one slope, for every starting bin at which the whole path lies
/// inside: index `k` stands for a path that starts at bin `k − origin`.
fn sums_along(stretch: &[f32], width: usize, slope: f64) -> (Vec<f32>, isize) {
    let rows = stretch.len() / width;
    let total = (slope * (rows - 1) as f64).round() as isize;
    let span = width as isize - total.abs();
    if span <= 0 {
        return (Vec::new(), 0);
    }
    let start = if total < 0 { -total } else { 0 };
    let mut sums = vec![0f32; span as usize];
    let along = |row: usize| {
        let from = (start + (slope * row as f64).round() as isize) as usize;
        &stretch[row * width + from..][..span as usize]
    };
    // Four rows at a time, added one after the other as if they were taken singly: the sums are read and written a
    // quarter as often.
    let mut row = 0;
    while row + 4 <= rows {
        let [a, b, c, d] = [0, 1, 2, 3].map(|n| along(row + n));
        for ((((sum, a), b), c), d) in sums.iter_mut().zip(a).zip(b).zip(c).zip(d) {
            *sum = *sum + a + b + c + d;
        }
        row += 4;
    }
    for row in row..rows {
        sums.iter_mut().zip(along(row)).for_each(|(sum, value)| *sum += value);
    }
    (sums, -start)
}
