//! Single lines in a recording: found at a stated false-alarm probability, followed where they drift, and told from
//! stations that key or hop.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::drift::Paths;
use super::passband::Passband;
use super::ridge::Ridge;
use super::slices::Slices;
use super::statistics::{ends, line_threshold, mean, mean_power_quantile, median, quantile};
use crate::units::in_db;

/// Bins left out on each side of a line when noise is measured. Mathematics: the Hann window's main lobe (two bins)
/// and one for the place.
pub const GUARD_BINS: f64 = 3.0;
/// What stands so many times over the floor, or over what another recording has at its place, stands out (ratio of
/// powers): 3 dB. Chosen: a doubling; less and a station that fades by 3 dB is the device's, more and lines in both
/// states are missed.
pub const STANDS_OUT: f64 = 2.0;
/// Probability that plain noise shows a line anywhere in the passband of one recording. Chosen: three in a thousand
/// recordings; the validation bench's part `lines` holds it.
pub const FALSE_ALARM_PER_RECORDING: f64 = 0.003;

/// Most lines looked for in one recording; a spectrum with more is no longer a matter of single lines. Chosen: one
/// every 30 Hz of an SSB passband; bounds the time.
const MOST_LINES: usize = 80;
/// Most drifting lines looked for. Chosen: bounds the time; each takes a search over all slopes.
const MOST_DRIFTING: usize = 12;
/// Half the width of the neighbourhood whose lower quantile is the local level of the mean spectrum: of a family of
/// lines 60 Hz apart more than half of it is filled. Chosen: the lower third is then free of them.
const LOCAL_HALF_HZ: f64 = 120.0;
const LOCAL_QUANTILE: f64 = 0.3;
/// Fewer bins than this on one side of a peak tell nothing of the local level there. Chosen: a quantile of fewer is
/// a single bin.
const LEAST_BESIDE: usize = 6;
/// Least share of its surroundings' power that a line has in its main lobe. Chosen: a line alone has nearly all of
/// it, noise alone five parts of thirteen.
const LEAST_NARROWNESS: f64 = 0.6;
/// The same of its next neighbourhood, for one that is even and stands in a crowd. Chosen: noise alone has five
/// parts of nine; two lines 30 Hz apart part so.
const LEAST_PROMINENCE: f64 = 0.7;
/// A line weaker than this over the local level is not called however long the recording: ripple of a filter is not
/// a line. Chosen: 1 dB, the ripple of usual filters (common practice).
pub const LEAST_RATIO: f64 = 1.25;
/// A line stands in a stretch when it has at least this share of its own mean power there. Chosen: 5 dB down, a
/// fade that is no pause.
const STANDS_AT: f64 = 0.3;
/// What stands in a smaller share of the stretches is no line but a passing sound, such as a voice's harmonics.
/// Chosen: below the half of the time that a keyed station is on.
const LEAST_PRESENCE: f64 = 0.4;
/// The same for a line found along a slanted path, of which there are very many to choose from. Chosen so; the
/// validation bench's part `lines` holds it.
const LEAST_DRIFTING_PRESENCE: f64 = 0.75;
/// A bin counts for the level of its slice up to so many times its usual power: a strong line is not the level.
/// Chosen: 9 dB; noise alone gets there in 3 of 10 000 bins (mathematics: e⁻⁸).
const LIFTED_AT_MOST: f32 = 8.0;
/// A median needs so many times the values of a mean for the same spread. Mathematics: π/2 for normal values.
const MEDIANS_COST: f64 = 1.57;
/// Bins on each side of a standing line in which a drifting one that crosses it is not looked at. Chosen: the main
/// lobe of both.
const HELD_BINS: usize = 4;
/// A line that moved by so many bins over the recording is followed again along its own straight line, at most so
/// often, and as long as the power found grows by this factor. Chosen: the width of the main lobe; bounds
/// the time; a tenth of a dB.
const DRIFTS_BINS: f64 = 4.0;
const STRAIGHTENED: usize = 4;
const MORE_POWER: f64 = 1.03;
/// Least share of stretches in which a device's carrier stands; stations key and pause. Chosen: a keyed station is
/// on about half of the time (common practice), and noise takes a few stretches from a weak carrier; held by the
/// validation bench.
const STEADY_PRESENCE: f64 = 0.85;
/// Least median over mean of its power, slice by slice: a few crashes make a peak in the mean only. Chosen: a
/// steady line in noise has 0.7 to 1 (mathematics: ln 2 for noise alone); held by the validation bench.
const STEADY_TYPICAL: f64 = 0.4;
/// Largest relative variance of a steady line's power beyond what the noise under it causes. Chosen: fading as of a
/// distant station has 1 (mathematics: exponential powers), a steady one 0; held by the validation bench.
const STEADY_VARIANCE: f64 = 0.35;

/// A single line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Frequency; in the middle of the recording if it drifts.
    pub freq_hz: f64,
    /// Drift by a straight line through its places.
    pub drift_hz_per_s: f64,
    /// Lowest and highest frequency it visited.
    pub span_hz: (f64, f64),
    /// Mean square while it stands, FS².
    pub power: f64,
    /// Noise density around it, FS²/Hz.
    pub floor: f64,
    /// Share of the stretches in which it stands.
    pub presence: f64,
    /// Whether it stands throughout at an even level, as a device's carrier does and a keyed station does not.
    pub steady: bool,
    /// Whether it was shown to stand at every moment, not only as far as can be told.
    pub shown: bool,
    /// Standard deviation over mean of its power from stretch to stretch, beyond noise.
    pub unevenness: f64,
    /// Whether it carries sidebands at the mains rates.
    pub mains_sidebands: bool,
    /// Whether it rises and falls together with a line near it, as those of a station do that keys evenly.
    pub beats: bool,
    /// Whether its pitch runs to and fro over its span at an even rate.
    #[serde(default)]
    pub warbles: bool,
}

impl Line {
    /// Carrier over noise density, dB-Hz.
    pub fn cnr_db_hz(&self) -> f64 {
        in_db(self.power / self.floor)
    }
}

/// Where and how to look.
pub struct LineSearch<'a> {
    /// The recording.
    pub slices: &'a Slices,
    /// Noise floor per bin, FS²/Hz.
    pub floor: &'a [f64],
    /// Median over slices per bin, FS²/Hz.
    pub medians: &'a [f64],
    /// Where to look.
    pub passband: Passband,
    /// Mains frequency, for sidebands.
    pub mains_hz: f64,
}

impl LineSearch<'_> {
    /// All lines, strongest first.
    pub fn find(&self) -> Vec<Line> {
        let range = self.passband.bins(self.slices.bin_hz, self.slices.bins);
        if self.slices.is_empty() || range.len() < 16 {
            return Vec::new();
        }
        let mut taken: Vec<(Ridge, Line)> = Vec::new();
        for bin in self.peaks(&range) {
            self.take(&range, &mut taken, &[], |_| bin as f64, self.slices.len() / 2);
        }
        self.take_drifting(&range, &mut taken);
        let mut lines: Vec<Line> = taken.into_iter().map(|(_, line)| line).collect();
        lines.sort_by(|a, b| b.power.total_cmp(&a.power));
        lines.truncate(MOST_LINES);
        self.mark_sidebands(&mut lines);
        lines
    }

    /// Bins that stand above their neighbourhood, strongest first: in the mean spectrum, and in that of the medians
    /// over slices, in which a carrier stays among stations that key and hop.
    fn peaks(&self, range: &Range<usize>) -> Vec<usize> {
        let averages = self.slices.averages();
        let mut found = self.peaks_of(&self.slices.mean, averages, range);
        for (bin, ratio) in self.peaks_of(self.medians, averages / MEDIANS_COST, range) {
            if !found.iter().any(|(known, _)| known.abs_diff(bin) < HELD_BINS) {
                found.push((bin, ratio));
            }
        }
        found.sort_by(|a, b| b.1.total_cmp(&a.1));
        found.truncate(2 * MOST_LINES);
        found.into_iter().map(|(k, _)| k).collect()
    }

    /// The same in one spectrum whose values are means of so many independent powers, or scatter as such, with
    /// their height over the neighbourhood.
    fn peaks_of(&self, mean: &[f64], averages: f64, range: &Range<usize>) -> Vec<(usize, f64)> {
        let half = (LOCAL_HALF_HZ / self.slices.bin_hz).round() as usize;
        let cells = range.len() as f64;
        // The local level is itself an estimate, from about `half` values, whose quantile scatters.
        let uncertain = 1.0 + 2.0 / half as f64;
        let threshold =
            (1.0 + (line_threshold(averages, cells, FALSE_ALARM_PER_RECORDING) - 1.0) * uncertain).max(LEAST_RATIO);
        let bias = mean_power_quantile(averages, LOCAL_QUANTILE);
        let mut window = Vec::with_capacity(half);
        let mut side = |from: usize, to: usize| -> Option<f64> {
            window.clear();
            window.extend_from_slice(&mean[from.max(range.start)..to.min(range.end).max(from.max(range.start))]);
            (window.len() >= LEAST_BESIDE).then(|| quantile(&mut window, LOCAL_QUANTILE))
        };
        let mut found: Vec<(usize, f64)> = Vec::new();
        for k in range.clone() {
            let (left, right) = (mean[k.saturating_sub(1)], mean[(k + 1).min(mean.len() - 1)]);
            if mean[k] < left || mean[k] < right {
                continue;
            }
            // The higher of both sides: at the shoulder of a filter, or on a slope, one side lies low.
            let below = side(k.saturating_sub(half), k.saturating_sub(2));
            let above = side(k + 3, k + 1 + half);
            let Some(local) = below.into_iter().chain(above).reduce(f64::max) else { continue };
            let ratio = mean[k] * bias / local;
            if ratio > threshold {
                found.push((k, ratio));
            }
        }
        found
    }

    /// Follows a candidate and keeps it if it is a line of its own. `held`: bins of known lines, for a drifting one
    /// that crosses them; empty for one that stands.
    fn take(
        &self,
        range: &Range<usize>,
        taken: &mut Vec<(Ridge, Line)>,
        held: &[bool],
        expected: impl Fn(usize) -> f64,
        start: usize,
    ) {
        let first = Ridge::follow(self.slices, self.floor, range, held, expected, start);
        let ridge = self.straightened(first, range, held, start);
        if 3 * ridge.rows.len() < self.slices.len().min(24) || ridge.rows.len() < 2 && self.slices.len() > 1 {
            return;
        }
        if taken.iter().any(|(other, _)| runs_with(&ridge, other)) {
            return;
        }
        let line = self.describe(&ridge);
        // A path summed over slices is only believed if the line then really stands along it.
        let least = if !held.is_empty() { LEAST_DRIFTING_PRESENCE } else { LEAST_PRESENCE };
        let believable = line.presence >= least;
        let narrow = ridge.narrowness >= LEAST_NARROWNESS || (line.steady && ridge.prominence >= LEAST_PROMINENCE);
        if narrow && line.power > 0.0 && believable {
            taken.push((ridge, line));
        }
    }

    /// Follows a drifting line again along its own straight line, as long as more of its power is found that way: a
    /// fast one runs away from where it was first looked for.
    fn straightened(&self, mut ridge: Ridge, range: &Range<usize>, held: &[bool], start: usize) -> Ridge {
        let rows = self.slices.len();
        for _ in 0..STRAIGHTENED {
            let (middle, slope) = ridge.straight(rows);
            if (slope * rows as f64).abs() < DRIFTS_BINS {
                break;
            }
            let along = |row: usize| middle + slope * (row as f64 - (rows as f64 - 1.0) / 2.0);
            let again = Ridge::follow(self.slices, self.floor, range, held, along, start);
            if again.rows.len() < ridge.rows.len() || again.total() < MORE_POWER * ridge.total() {
                break;
            }
            ridge = again;
        }
        ridge
    }

    fn take_drifting(&self, range: &Range<usize>, taken: &mut Vec<(Ridge, Line)>) {
        // What a bin has most of the time, since a drifting line only passes through; not below the floor.
        let usual: Vec<f64> = range
            .clone()
            .map(|k| {
                let around = &self.medians[k.saturating_sub(2).max(range.start)..(k + 3).min(range.end)];
                self.floor[k].max(mean(around))
            })
            .collect();
        let width = range.len();
        let mut white: Vec<f32> = Vec::with_capacity(self.slices.len() * width);
        for row in self.slices.rows() {
            let begin = white.len();
            white
                .extend(row[range.clone()].iter().zip(&usual).map(|(&value, usual)| (value as f64 / usual) as f32));
            // What lifts all of the passband at once (a band that fades, a crash) is no line.
            let level = white[begin..].iter().map(|value| value.min(LIFTED_AT_MOST)).sum::<f32>() / width as f32;
            white[begin..].iter_mut().for_each(|value| *value /= level.max(1.0));
        }
        let mut paths = Paths::new(self.slices, white, width);
        let blank = |paths: &mut Paths, row: usize, place: f64| {
            paths.blank(row, place.round() as isize - range.start as isize);
        };
        // Whatever stands in the mean spectrum, kept as a line or not, is no drifting line.
        let mut held = vec![false; self.slices.bins];
        for bin in self.peaks(range) {
            (0..self.slices.len()).for_each(|row| blank(&mut paths, row, bin as f64));
            held[bin.saturating_sub(HELD_BINS)..(bin + HELD_BINS + 1).min(self.slices.bins)].fill(true);
        }
        for (ridge, _) in taken.iter() {
            ridge.rows.iter().zip(&ridge.place).for_each(|(&row, &place)| blank(&mut paths, row, place));
        }
        for _ in 0..MOST_DRIFTING {
            let Some(path) = paths.strongest() else { break };
            let expected = |row: usize| range.start as f64 + path.bin + path.slope * (row as f64 - path.row as f64);
            let known = taken.len();
            self.take(range, taken, &held, expected, path.row);
            for row in 0..self.slices.len() {
                blank(&mut paths, row, expected(row));
            }
            for (ridge, _) in &taken[known..] {
                ridge.rows.iter().zip(&ridge.place).for_each(|(&row, &place)| blank(&mut paths, row, place));
            }
        }
    }

    fn describe(&self, ridge: &Ridge) -> Line {
        let (middle, slope) = ridge.straight(self.slices.len());
        let stretches = Stretches::of(ridge, self.slices.averages_per_slice());
        let (low, high) = ends(ridge.place.iter().copied());
        let lobe_hz = (2 * super::ridge::MAIN_LOBE_BINS + 1) as f64 * self.slices.bin_hz;
        let floor = mean(&ridge.floor) / lobe_hz;
        Line {
            freq_hz: middle * self.slices.bin_hz,
            drift_hz_per_s: slope * self.slices.bin_hz / self.slices.slice_s,
            span_hz: (low * self.slices.bin_hz, high * self.slices.bin_hz),
            power: stretches.power,
            floor,
            presence: stretches.presence,
            steady: stretches.presence >= STEADY_PRESENCE
                && stretches.variance <= STEADY_VARIANCE
                && stretches.typical >= STEADY_TYPICAL,
            shown: false,
            unevenness: stretches.variance.max(0.0).sqrt(),
            mains_sidebands: false,
            beats: false,
            warbles: false,
        }
    }

    /// Marks lines that have company at the mains frequency or twice it on both sides.
    fn mark_sidebands(&self, lines: &mut [Line]) {
        let frequencies: Vec<(f64, f64)> = lines.iter().map(|line| (line.freq_hz, line.power)).collect();
        for line in lines.iter_mut() {
            let stands = |freq_hz: f64| {
                frequencies
                    .iter()
                    .any(|&(other, power)| (other - freq_hz).abs() < 0.6 * self.slices.bin_hz && power < line.power)
            };
            line.mains_sidebands = [self.mains_hz, 2.0 * self.mains_hz]
                .iter()
                .any(|rate| stands(line.freq_hz - rate) && stands(line.freq_hz + rate));
        }
    }
}

/// Whether two ridges are the same line: side by side within the main lobe most of the time.
fn runs_with(a: &Ridge, b: &Ridge) -> bool {
    let mut beside = 0;
    let mut both = 0;
    let mut other = b.rows.iter().zip(&b.place).peekable();
    for (&row, &place) in a.rows.iter().zip(&a.place) {
        while other.next_if(|(other_row, _)| **other_row < row).is_some() {}
        if let Some(&(&other_row, &other_place)) = other.peek()
            && other_row == row
        {
            both += 1;
            beside += usize::from((place - other_place).abs() < 3.0);
        }
    }
    both > 0 && 2 * beside > both
}

/// A line's power in stretches long enough that noise hides little of it.
struct Stretches {
    power: f64,
    presence: f64,
    /// Relative variance beyond what noise causes.
    variance: f64,
    /// Median over mean of the power, slice by slice.
    typical: f64,
}

impl Stretches {
    fn of(ridge: &Ridge, averages_per_slice: f64) -> Self {
        let n = ridge.power.len();
        let mean = ridge.power.iter().sum::<f64>() / n as f64;
        let floor = ridge.floor.iter().sum::<f64>() / n as f64;
        let snr = (mean / floor.max(f64::MIN_POSITIVE)).max(1e-3);
        // Relative variance of one slice's line power from the noise beneath and beside it: five bins of which
        // about 2.6 are independent, and the cross term of line and noise.
        let noise = (1.0 / 2.6 + 2.0 * snr / 5.0 * 1.5) / (snr * snr * averages_per_slice);
        // So many slices together that noise alone moves the power by less than a quarter.
        let together = ((noise / 0.06).ceil() as usize).clamp(1, n.div_ceil(2));
        let groups: Vec<f64> =
            ridge.power.chunks(together).filter(|c| 2 * c.len() >= together).map(mean_of).collect();
        let standing: Vec<f64> = groups.iter().copied().filter(|&p| p > STANDS_AT * mean).collect();
        let power = if standing.is_empty() { mean } else { mean_of(&standing) };
        let all = mean_of(&groups);
        let spread = groups.iter().map(|p| (p - all).powi(2)).sum::<f64>() / (groups.len() as f64 - 1.0).max(1.0);
        let expected = noise / together as f64;
        let variance = if groups.len() < 3 { 0.0 } else { robust(spread / (all * all), &groups, all) - expected };
        let typical = median(&mut ridge.power.clone()) / mean.max(f64::MIN_POSITIVE);
        Self { power, presence: standing.len() as f64 / groups.len().max(1) as f64, variance, typical }
    }
}

/// The relative variance, or a robust one where a few stretches (a crash) make all of it.
fn robust(plain: f64, groups: &[f64], mean: f64) -> f64 {
    let mut sorted = groups.to_vec();
    let spread = (quantile(&mut sorted, 0.84) - quantile(&mut sorted, 0.16)) / 2.0;
    plain.min((1.5 * spread / mean).powi(2).max(0.25 * plain))
}

fn mean_of(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}
