//! Following a line through the slices, so that a drifting carrier is one line and its level is taken where it is.

use super::slices::Slices;
use super::statistics::median;

/// Bins on each side that hold the power of a line: the Hann window's main lobe. Mathematics: F. J. Harris, Proc.
/// IEEE 66, 1978 (from memory).
pub const MAIN_LOBE_BINS: isize = 2;
/// How far on each side the surroundings of a line are looked at. Chosen: eight bins beside the main lobe's five.
const AROUND_BINS: isize = 6;
/// The same for what parts two lines in a crowd. Chosen: two bins on either side of the main lobe.
const FLANK_BINS: isize = 4;
/// Share of the distance between where the line was expected and where it was seen that is believed at once.
/// Chosen: noise moves a weak peak by a bin, a drift at the fastest looked for by three a slice; less and it is
/// lost, more and it strays.
const FOLLOW: f64 = 0.35;

/// One line through all slices in which it lies within the passband.
#[derive(Debug, Clone)]
pub struct Ridge {
    /// Index of each slice looked at.
    pub rows: Vec<usize>,
    /// Where the line stands in it, in bins (fractional).
    pub place: Vec<f64>,
    /// Power above the floor within the main lobe, FS²; noise makes it negative now and then.
    pub power: Vec<f64>,
    /// Power that the floor has within the main lobe, FS².
    pub floor: Vec<f64>,
    /// Share of the power above the floor within ± `AROUND_BINS` that lies in the main lobe: by the means or the
    /// medians over slices, whichever is more. A station beside a carrier that keys is in the mean only.
    pub narrowness: f64,
    /// The same within ± `FLANK_BINS`.
    pub prominence: f64,
}

impl Ridge {
    /// Follows a line. `expected(row)` is the place in bins where it should be; what it is seen to be off is taken
    /// over bit by bit. `floor`: density per bin, FS²/Hz. `range`: the passband's bins. `held`: bins that another
    /// line holds; slices in which the line crosses them are left out.
    pub fn follow(
        slices: &Slices,
        floor: &[f64],
        range: &std::ops::Range<usize>,
        held: &[bool],
        expected: impl Fn(usize) -> f64,
        start: usize,
    ) -> Self {
        let mut places = vec![f64::NAN; slices.len()];
        for direction in [1isize, -1] {
            let (mut offset, mut row) = (0.0, start as isize);
            while (0..slices.len() as isize).contains(&row) {
                let wanted = expected(row as usize) + offset;
                if held.get(wanted.round().max(0.0) as usize).is_some_and(|held| *held) {
                    row += direction;
                    continue;
                }
                let Some((seen, belief)) = peak_near(slices.row(row as usize), floor, range, wanted) else { break };
                offset += FOLLOW * belief * (seen - wanted);
                places[row as usize] = wanted + belief * (seen - wanted);
                row += direction;
            }
        }
        Self::along(slices, floor, range, &places)
    }

    fn along(slices: &Slices, floor: &[f64], range: &std::ops::Range<usize>, places: &[f64]) -> Self {
        let mut ridge =
            Self { rows: vec![], place: vec![], power: vec![], floor: vec![], narrowness: 1.0, prominence: 1.0 };
        let (mut near, mut flanks, mut around) = (Vec::new(), Vec::new(), Vec::new());
        for (index, &place) in places.iter().enumerate().filter(|(_, place)| !place.is_nan()) {
            let row = slices.row(index);
            let middle = place.round() as isize;
            let sum = |half: isize| -> (f64, f64) {
                (middle - half..=middle + half)
                    .filter(|&k| k >= 0 && range.contains(&(k as usize)))
                    .map(|k| (row[k as usize] as f64, floor[k as usize]))
                    .fold((0.0, 0.0), |(all, noise), (value, floor)| (all + value, noise + floor))
            };
            let (lobe, lobe_floor) = sum(MAIN_LOBE_BINS);
            let (flank, flank_floor) = sum(FLANK_BINS);
            let (wide, wide_floor) = sum(AROUND_BINS);
            near.push(lobe - lobe_floor);
            flanks.push(flank - flank_floor);
            around.push(wide - wide_floor);
            ridge.rows.push(index);
            ridge.place.push(place);
            ridge.power.push((lobe - lobe_floor) * slices.bin_hz);
            ridge.floor.push(lobe_floor * slices.bin_hz);
        }
        ridge.prominence = share_of(&mut near, &mut flanks);
        ridge.narrowness = share_of(&mut near, &mut around);
        ridge
    }

    /// Power found in all its slices together, FS².
    pub fn total(&self) -> f64 {
        self.power.iter().sum()
    }

    /// Straight line through the places by least squares, weighted by power: (bins at the middle of all `slices`
    /// rows, bins a row).
    pub fn straight(&self, all_rows: usize) -> (f64, f64) {
        let middle = (all_rows as f64 - 1.0) / 2.0;
        let (mut s, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for ((&row, &y), (&power, &floor)) in
            self.rows.iter().zip(&self.place).zip(self.power.iter().zip(&self.floor))
        {
            let x = row as f64 - middle;
            let snr = (power / floor.max(f64::MIN_POSITIVE)).clamp(0.0, 1e3);
            let weight = snr / (1.0 + snr);
            s += weight;
            sx += weight * x;
            sy += weight * y;
            sxx += weight * x * x;
            sxy += weight * x * y;
        }
        let spread = s * sxx - sx * sx;
        if s <= 0.0 {
            return (self.place.first().copied().unwrap_or(0.0), 0.0);
        }
        if spread <= 1e-9 * s * s {
            return (sy / s, 0.0);
        }
        let slope = (s * sxy - sx * sy) / spread;
        ((sy - slope * sx) / s, slope)
    }
}

/// What the powers of one width have of those of a greater one: by the means or the medians, whichever is more.
fn share_of(inner: &mut [f64], all: &mut [f64]) -> f64 {
    let mean = inner.iter().sum::<f64>() / all.iter().sum::<f64>();
    let shares = [mean, median(inner) / median(all)].into_iter().filter(|share| share.is_finite() && *share > 0.0);
    shares.reduce(f64::max).unwrap_or(1.0)
}

/// The centre of the strongest peak within two bins of `wanted`, and how far to believe it (0 noise … 1 strong).
/// `None` where `wanted` has left the passband.
fn peak_near(row: &[f32], floor: &[f64], range: &std::ops::Range<usize>, wanted: f64) -> Option<(f64, f64)> {
    let middle = wanted.round();
    if middle < range.start as f64 || middle >= range.end as f64 {
        return None;
    }
    let middle = middle as usize;
    let (from, to) = (middle.saturating_sub(2).max(range.start), (middle + 2).min(range.end - 1));
    let over = |k: usize| row[k] as f64 - floor[k];
    let peak = (from..=to).max_by(|&a, &b| over(a).total_cmp(&over(b)))?;
    let (mut sum, mut moment) = (0.0, 0.0);
    for k in peak.saturating_sub(1).max(range.start)..=(peak + 1).min(range.end - 1) {
        let power = over(k).max(0.0);
        sum += power;
        moment += power * k as f64;
    }
    let snr = sum / (3.0 * floor[peak].max(f64::MIN_POSITIVE));
    let belief = (snr - 0.7).max(0.0) / (1.0 + snr);
    Some((if sum > 0.0 { moment / sum } else { wanted }, belief))
}
