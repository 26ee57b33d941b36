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

/// Slices in which slanted paths are looked for, one after another.
pub struct Paths {
    /// Divided by the floor, row by row, `width` bins each.
    white: Vec<f32>,
    width: usize,
    /// Rows of a stretch, and of all; slopes on either side.
    stretch: usize,
    rows: usize,
    slopes: isize,
    /// Sums and means above these are no chance.
    least: f32,
    threshold: f64,
    /// Stretches and slopes whose strongest path stands above it, once they were looked through. What is blanked only
    /// takes away, so no other ever does.
    standing: Option<Vec<Standing>>,
}

/// The strongest path of a stretch and slope.
struct Standing {
    first: usize,
    shift: isize,
    mean: f32,
    path: Path,
    /// Whether something was blanked since.
    stale: bool,
}

impl Paths {
    /// `white`: slices divided by the floor, row by row, `width` bins each.
    pub fn new(slices: &Slices, mut white: Vec<f32>, width: usize) -> Self {
        // One strong moment (a click) is no path.
        white.iter_mut().for_each(|value| *value = value.min(STRONGEST));
        let rows = white.len().checked_div(width).unwrap_or(0);
        let stretch = ((STRETCH_S / slices.slice_s).round() as usize).clamp(8, 64).min(rows);
        let steepest = (FASTEST_HZ_PER_S * slices.slice_s / slices.bin_hz).min(4.0);
        // A step of one bin over the whole stretch.
        let slopes = (steepest * stretch.saturating_sub(1) as f64).floor() as isize;
        let cells = (2 * slopes + 1) as f64 * width as f64;
        let threshold = line_threshold(slices.averages_per_slice() * stretch as f64, cells, FALSE_ALARM);
        let least = (threshold * stretch as f64 * (1.0 - 1e-6)) as f32;
        Self { white, width, stretch, rows, slopes, least, threshold, standing: None }
    }

    /// Takes out what stands about a bin of a row: it is a line that is known, or no path.
    pub fn blank(&mut self, row: usize, middle: isize) {
        let bins = (middle - 4).max(0)..(middle + 5).min(self.width as isize);
        for k in bins {
            let value = &mut self.white[row * self.width + k as usize];
            *value = value.min(1.0);
        }
        self.standing.iter_mut().flatten().for_each(|one| one.stale = true);
    }

    /// The strongest slanted path whose mean power stands above what noise does, or `None`.
    pub fn strongest(&mut self) -> Option<Path> {
        let mut standing = self.standing.take().unwrap_or_else(|| self.all());
        let found = loop {
            // The first of equals, as if all were looked through in order.
            let strongest =
                (0..standing.len()).rev().max_by(|&a, &b| standing[a].mean.total_cmp(&standing[b].mean));
            let Some(at) = strongest else { break None };
            let Standing { first, shift, path, stale, .. } = standing[at];
            if !stale {
                break Some(path);
            }
            match self.along(first, shift) {
                Some(again) => standing[at] = again,
                None => drop(standing.remove(at)),
            }
        };
        self.standing = Some(standing);
        found
    }

    fn all(&self) -> Vec<Standing> {
        if self.stretch < 8 || self.width < 8 {
            return Vec::new();
        }
        let last = self.rows - self.stretch;
        let firsts = (0..last).step_by(self.stretch / 2).chain([last]);
        // Less than one bin over the stretch is no drift: the mean spectrum sees those lines better.
        let shifts = || (-self.slopes..=self.slopes).filter(|shift| shift.abs() >= 2);
        firsts.flat_map(|first| shifts().filter_map(move |shift| self.along(first, shift))).collect()
    }

    /// The strongest path of a stretch and slope, if it stands.
    fn along(&self, first: usize, shift: isize) -> Option<Standing> {
        let Self { width, stretch, .. } = *self;
        let slope = shift as f64 / (stretch - 1) as f64;
        let (sums, origin) = sums_along(&self.white[first * width..(first + stretch) * width], width, slope);
        // Most slopes have nothing at all: seen at once, many sums side by side.
        if !sums.chunks(64).any(|some| some.iter().fold(false, |any, &sum| any | (sum > self.least))) {
            return None;
        }
        let (k, sum) = sums.into_iter().enumerate().rev().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let mean = sum / stretch as f32;
        let middle = (stretch - 1) as f64 / 2.0;
        let bin = k as f64 - origin as f64 + slope * middle;
        (f64::from(mean) > self.threshold).then_some(Standing {
            first,
            shift,
            mean,
            path: Path { row: first + stretch / 2, bin, slope },
            stale: false,
        })
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::spectrum::{FramePlan, SlicesBuilder};

    /// Source: every path looked for anew after each was taken out.
    #[test]
    fn what_was_found_once_is_what_is_found_anew() {
        let plan = FramePlan::for_rate(12_000);
        let slices = SlicesBuilder::new(&plan).finish();
        let (width, rows) = (120, 90);
        let mut state = 5u32;
        let mut white: Vec<f32> = (0..width * rows)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                0.5 + (state >> 8) as f32 / (1 << 24) as f32
            })
            .collect();
        for (bin, slope, power) in [(20.0, 0.4, 3.0), (100.0, -0.7, 4.0), (60.0, 0.1, 2.5)] {
            (0..rows).for_each(|row| white[row * width + (bin + slope * row as f64).round() as usize] += power);
        }
        let mut paths = Paths::new(&slices, white, width);
        let mut found = 0;
        while let Some(path) = paths.strongest() {
            let anew = Paths::new(&slices, paths.white.clone(), width).strongest();
            assert_eq!(Some(path), anew);
            for row in 0..rows {
                let bin = path.bin + path.slope * (row as f64 - path.row as f64);
                paths.blank(row, bin.round() as isize);
            }
            found += 1;
        }
        assert!(found >= 3, "{found}");
        assert_eq!(Paths::new(&slices, paths.white.clone(), width).strongest(), None);
    }
}
