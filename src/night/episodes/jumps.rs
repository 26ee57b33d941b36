//! Where a night's noise level jumps, by how much, and how surely.
//!
//! Not here: the cut itself (`change_points`), which jumps belong together (`pairing`, `episodes`).

use std::ops::Range;

use super::change_points::{WILD_SIGMAS, Weighing, cut};
use crate::signal::spectrum::statistics::{SD_OF_MEDIAN, median, quantile};
use crate::units::ratio_of_db;

/// Smallest jump that is looked at, dB, and in standard deviations of the level's scatter from step to step.
/// Chosen: below what an episode needs, so that weak falls are seen too; three standard deviations are common
/// practice.
const LEAST_JUMP_DB: f64 = 0.7;
const LEAST_JUMP_SIGMAS: f64 = 3.0;
/// How much dearer than 2σ² ln n (the BIC-like penalty for a known σ) a change is: twice, since levels of a real
/// band are not independent from second to second (chosen on simulated nights).
const DEARER: f64 = 2.0;
/// A value that a voice may have lifted scatters by this many times the usual, and says little more than that the
/// level is no higher: beyond so many of these standard deviations above a level it counts the same however far it
/// lies (our own choice, found on simulated nights).
const LIFTED_SCATTER: f64 = 4.0;
const LIFTED_SIGMAS: f64 = 2.25;
/// Steps to each side among which a pause of a voice is looked for, and which of them counts as one. Chosen: a
/// speaker breathes every few seconds; the lowest quarter stands between the words.
const PAUSE_STEPS: usize = 4;
const PAUSE_QUANTILE: f64 = 0.25;
/// Fewest differences that tell how a level scatters, and the least it does. Chosen: some three minutes give a
/// median to a tenth; in 8 kHz chance alone makes 0.05 dB from second to second (radiometer equation).
const LEAST_FOR_SCATTER: usize = 200;
const LEAST_SCATTER_DB: f64 = 0.05;
/// How far on each side of a jump the level is looked at, and how many values a slope needs. Chosen: long against
/// a step, short against what the band takes to move; five values give a slope that one can't spoil.
pub(super) const BESIDE_S: f64 = 12.0;
const LEAST_FOR_SLOPE: usize = 5;
/// How much more a level carried to the edge by a slope of medians scatters than a mean of as many values: twice
/// for the edge of a straight line (mathematics), a quarter for the medians (chosen).
const AT_EDGE: f64 = 2.5;
/// What a level beside a jump is off by at least, dB, for the band moves; and where a voice lifted most of its
/// values (our own choices).
pub(crate) const LEAST_SD_DB: f64 = 0.1;
pub(crate) const LIFTED_SD_DB: f64 = 0.4;

/// A level over time, at even steps; NaN where nothing was recorded.
#[derive(Debug, Clone, Copy)]
pub struct LevelSeries<'a> {
    /// dB.
    pub level_db: &'a [f64],
    /// Where something moves over the noise (a voice) that may have lifted the level, as long as the levels; or
    /// empty.
    pub lifted: &'a [bool],
    /// Distance of two values.
    pub step_s: f64,
}

impl LevelSeries<'_> {
    /// Part of it.
    pub fn part(&self, range: Range<usize>) -> Self {
        let lifted = self.lifted.get(range.clone()).unwrap_or_default();
        Self { level_db: &self.level_db[range], lifted, step_s: self.step_s }
    }

    fn is_lifted(&self, at: usize) -> bool {
        self.lifted.get(at).copied().unwrap_or(false)
    }

    /// The level as the pauses of a voice tell it: where it may be lifted, it is no more than the lower quarter of
    /// those beside it.
    pub fn of_pauses(&self) -> Vec<f64> {
        let levels = self.level_db;
        let beside = |at: usize| {
            let near = at.saturating_sub(PAUSE_STEPS)..(at + PAUSE_STEPS + 1).min(levels.len());
            let mut beside: Vec<f64> = levels[near].iter().copied().filter(|level| !level.is_nan()).collect();
            quantile(&mut beside, PAUSE_QUANTILE)
        };
        let pause = |at: usize| match levels[at] {
            level if self.is_lifted(at) && !level.is_nan() => level.min(beside(at)),
            level => level,
        };
        (0..levels.len()).map(pause).collect()
    }
}

/// An abrupt change of level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Jump {
    /// First value of the new level.
    pub at: usize,
    pub before_db: f64,
    pub after_db: f64,
    /// Standard deviation of what came or went, in linear power.
    pub power_sd: f64,
}

impl Jump {
    /// What came (or, negative, went), in linear power.
    pub fn power(&self) -> f64 {
        ratio_of_db(self.after_db) - ratio_of_db(self.before_db)
    }

    pub fn size_db(&self) -> f64 {
        (self.after_db - self.before_db).abs()
    }
}

/// Abrupt changes among the cheapest cut's. Levels must be finite.
pub(crate) fn jumps(series: &LevelSeries<'_>) -> Vec<Jump> {
    let levels = series.level_db;
    let sigma = step_scatter(series);
    let penalty = DEARER * 2.0 * sigma * sigma * (levels.len().max(2) as f64).ln();
    let cut = cut(levels, penalty, |at| weighing(series.is_lifted(at), sigma));
    let beside = (BESIDE_S / series.step_s).ceil().max(2.0) as usize;
    let mut ends = cut.starts[1.min(cut.starts.len())..].to_vec();
    ends.push(levels.len());
    let mut found = Vec::new();
    for (k, &at) in cut.starts.iter().enumerate().skip(1) {
        // Not beyond the neighbouring changes: they have their own levels.
        let (first, last) = (cut.starts[k - 1].max(at.saturating_sub(beside)), ends[k].min(at + beside));
        let (before, after) = (Side::of(series, first..at, at), Side::of(series, at..last, at));
        let jump = Jump {
            at,
            before_db: before.level_db,
            after_db: after.level_db,
            power_sd: before.power_sd().hypot(after.power_sd()),
        };
        if jump.size_db() >= LEAST_JUMP_DB.max(LEAST_JUMP_SIGMAS * sigma) {
            found.push(jump);
        }
    }
    found
}

/// How a value counts in the cut.
fn weighing(is_lifted: bool, sigma: f64) -> Weighing {
    if !is_lifted {
        return Weighing::even(WILD_SIGMAS * sigma);
    }
    let wider = LIFTED_SCATTER * sigma;
    Weighing { weight: LIFTED_SCATTER.powi(-2), above: LIFTED_SIGMAS * wider, below: WILD_SIGMAS * wider }
}

/// Standard deviation of a level from one step to the next, from the typical difference of neighbours that nothing
/// lifts; not below a twentieth of a dB.
fn step_scatter(series: &LevelSeries<'_>) -> f64 {
    let levels = series.level_db;
    let differences = |which: &dyn Fn(usize) -> bool| -> Vec<f64> {
        (1..levels.len()).filter(|&k| which(k)).map(|k| (levels[k] - levels[k - 1]).abs()).collect()
    };
    let mut quiet = differences(&|k| !series.is_lifted(k) && !series.is_lifted(k - 1));
    if quiet.len() < LEAST_FOR_SCATTER.min(levels.len() / 4) {
        quiet = differences(&|_| true);
    }
    if quiet.is_empty() {
        return LEAST_SCATTER_DB;
    }
    (SD_OF_MEDIAN * median(&mut quiet) / std::f64::consts::SQRT_2).max(LEAST_SCATTER_DB)
}

/// The level on one side of a jump.
struct Side {
    level_db: f64,
    sd_db: f64,
}

impl Side {
    /// Along a straight line through the values of a range that single wild ones can't turn, carried to a place
    /// next to them: what drifts through a change of the cut does not jump there. Of values that may be lifted, the
    /// lower ones count.
    ///
    /// Source: H. Theil, 1950, P. K. Sen, JASA 63, 1379–1389, 1968 (median of the slopes of all pairs; from
    /// memory).
    fn of(series: &LevelSeries<'_>, range: Range<usize>, place: usize) -> Self {
        let levels = series.level_db;
        let mut places: Vec<usize> = range.clone().filter(|&k| !series.is_lifted(k)).collect();
        let mut least_db = LEAST_SD_DB;
        if 2 * places.len() < range.len() {
            let pause = quantile(&mut levels[range.clone()].to_vec(), PAUSE_QUANTILE);
            places = range.filter(|&k| !series.is_lifted(k) || levels[k] <= pause).collect();
            least_db = LIFTED_SD_DB;
        }
        let mut values: Vec<f64> = places.iter().map(|&k| levels[k]).collect();
        if places.len() >= LEAST_FOR_SLOPE {
            let mut slopes: Vec<f64> = (0..places.len())
                .flat_map(|a| (a + 1..places.len()).map(move |b| (a, b)))
                .map(|(a, b)| (values[b] - values[a]) / (places[b] - places[a]) as f64)
                .collect();
            let slope = median(&mut slopes);
            let edge = place as f64 - 0.5;
            for (value, &k) in values.iter_mut().zip(&places) {
                *value += slope * (edge - k as f64);
            }
        }
        let level_db = median(&mut values);
        let mut off: Vec<f64> = values.iter().map(|value| (value - level_db).abs()).collect();
        let scatter_db = AT_EDGE * SD_OF_MEDIAN * median(&mut off) / (values.len() as f64).sqrt();
        Self { level_db, sd_db: scatter_db.hypot(least_db) }
    }

    fn power_sd(&self) -> f64 {
        ratio_of_db(self.level_db) * std::f64::consts::LN_10 / 10.0 * self.sd_db
    }
}
