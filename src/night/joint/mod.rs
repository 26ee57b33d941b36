//! What each noise adds by itself, in linear power: the level of a stretch is the quiet band and the sum of the
//! noises that are on, P(t) = Q(t) + Σ p, with a band that moves slowly and noises that keep their power.
//!
//! The band is a random walk over cells of some seconds, as quick as the quiet of the run shows it; the powers come
//! out of all edges together, with their uncertainty (`solve`). Where noises come and go (`episodes`) is given.

mod solve;
#[cfg(test)]
mod tests;

use self::solve::{Cell, Solution, solve};
use crate::night::Timeline;
use crate::night::compared::pieces::{GUARD_S, guarded};
use crate::night::episodes::jumps::LIFTED_SD_DB;
use crate::night::episodes::runs::{Levels, Run, Spotted};
use crate::signal::spectrum::statistics::{SD_OF_MEDIAN, mean, median};
use crate::units::ratio_of_db;

/// Length of a cell next to an edge, s: several levels, and the band has hardly moved. Chosen.
const CELL_S: f64 = 12.0;
/// Further from any edge cells are longer, by this ratio from one to the next, up to this length. Chosen: only what
/// lies beside an edge tells of it.
const LONGER: f64 = 1.5;
const LONGEST_S: f64 = 60.0;
/// Quiet on each side of noises that overlap that is taken in with them, s. Chosen: some cells.
const MARGIN_S: f64 = 150.0;
/// How much more a median scatters than a mean: √(π/2) (mathematics).
const MEDIAN_COST: f64 = 1.2533;
/// What a cell's level is off by at least, dB (chosen: as steady as a receiver is).
const LEAST_SD_DB: f64 = 0.03;
/// How far the band moves in the length of a cell where the run has too little quiet to tell, and at least, dB.
/// Chosen: an evening's fading, and what a band at rest does.
const USUAL_MOTION_DB: f64 = 0.25;
const LEAST_MOTION_DB: f64 = 0.05;
const LEAST_PAIRS: usize = 20;
/// Powers that differ by less than so many standard deviations are as good as the same (common practice).
const NEAR_SIGMAS: f64 = 2.0;
/// Relative value of a dB: ln 10 / 10 (mathematics).
const PER_DB: f64 = std::f64::consts::LN_10 / 10.0;

/// The levels of all runs, explained.
pub(crate) struct Joint {
    groups: Vec<Group>,
}

/// Noises that overlap, and the quiet beside them.
struct Group {
    /// Places of the episodes.
    members: Vec<usize>,
    cells: Vec<Span>,
    /// Their powers and the band of each cell.
    solution: Solution,
}

/// Begin and end of a cell.
#[derive(Debug, Clone, Copy)]
struct Span {
    from_s: f64,
    to_s: f64,
}

/// A ratio or a power with the standard deviation of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ratio {
    pub value: f64,
    pub sd_ln: f64,
}

impl Joint {
    /// Explains the levels by what was spotted. What stands in lines alone has no part in it.
    pub fn of(night: &Timeline, runs: &[Run], spotted: &[Spotted]) -> Self {
        let mut groups = Vec::new();
        for (at, run) in runs.iter().enumerate() {
            let mut own: Vec<usize> = (0..spotted.len())
                .filter(|&place| spotted[place].run == at && spotted[place].jump_db.is_some())
                .collect();
            own.sort_by(|&a, &b| spotted[a].start_s.total_cmp(&spotted[b].start_s).then(a.cmp(&b)));
            if own.is_empty() {
                continue;
            }
            let levels = RunLevels::of(night, run);
            let motion = levels.motion(&own.iter().map(|&place| spotted[place]).collect::<Vec<_>>());
            for members in overlapping(&own, spotted) {
                groups.extend(levels.group(members, spotted, &own, motion));
            }
        }
        Self { groups }
    }

    fn group(&self, episode: usize) -> Option<(&Group, usize)> {
        self.groups.iter().find_map(|group| {
            let at = group.members.iter().position(|&member| member == episode)?;
            Some((group, at))
        })
    }

    /// Power of an episode over that of the quiet band in these stretches; `None` where nothing tells it.
    pub fn own_over_quiet(&self, episode: usize, stretches: &[(f64, f64)]) -> Option<Ratio> {
        let (group, at) = self.group(episode)?;
        group.ratio(stretches, 0.0, |member| if member == at { 1.0 } else { 0.0 })
    }

    /// Level, with the noises that are on, over that of the quiet band in these stretches, beside an episode.
    pub fn level_over_quiet(&self, episode: usize, stretches: &[(f64, f64)], beside: &[usize]) -> Option<Ratio> {
        let (group, _) = self.group(episode)?;
        let is_on = |member: usize| if beside.contains(&group.members[member]) { 1.0 } else { 0.0 };
        group.ratio(stretches, 1.0, is_on)
    }

    /// Own power of an episode, FS²/Hz.
    pub fn power(&self, episode: usize) -> Option<Ratio> {
        let (group, at) = self.group(episode)?;
        let value = group.solution.powers[at];
        (value > 0.0).then(|| Ratio { value, sd_ln: group.solution.power_variance(at, at).sqrt() / value })
    }

    /// Whether other noises overlap an episode or nearly do.
    pub fn has_others(&self, episode: usize) -> bool {
        self.group(episode).is_none_or(|(group, _)| group.members.len() > 1)
    }

    /// Own power of an episode over that of the quiet band beside it, on the whole.
    pub fn power_over_quiet(&self, episode: usize) -> Option<f64> {
        let (group, at) = self.group(episode)?;
        Some(group.solution.powers[at] / mean(&group.solution.band))
    }

    /// An episode that overlaps this one and adds as much, so that the level does not tell which of the two went
    /// first; of several the nearest to it in power.
    pub fn rival(&self, episode: usize, spotted: &[Spotted]) -> Option<usize> {
        let (group, at) = self.group(episode)?;
        let apart = |other: usize| (group.solution.powers[at] - group.solution.powers[other]).abs();
        let own = spotted[episode];
        let is_rival = |&(other, &place): &(usize, &usize)| {
            let one = spotted[place];
            let overlap = other != at && one.start_s < own.end_s && one.end_s > own.start_s;
            let ends_seen = !own.until_after && !one.until_after;
            let found = &group.solution;
            let variance = found.power_variance(at, at) + found.power_variance(other, other)
                - 2.0 * found.power_variance(at, other);
            overlap && ends_seen && apart(other) < NEAR_SIGMAS * variance.max(0.0).sqrt()
        };
        let rivals = group.members.iter().enumerate().filter(is_rival);
        rivals.min_by(|a, b| apart(a.0).total_cmp(&apart(b.0))).map(|(_, &place)| place)
    }
}

impl Group {
    /// `band` + Σ part · p / Q, by the mean of Q over the cells that lie in some stretches.
    fn ratio(&self, stretches: &[(f64, f64)], band: f64, part: impl Fn(usize) -> f64) -> Option<Ratio> {
        let inside = |span: &Span| {
            let middle = (span.from_s + span.to_s) / 2.0;
            stretches.iter().any(|(from_s, to_s)| {
                (*from_s..=*to_s).contains(&middle) || (span.from_s..=span.to_s).contains(&((from_s + to_s) / 2.0))
            })
        };
        let weights: Vec<f64> =
            self.cells.iter().map(|s| if inside(s) { s.to_s - s.from_s } else { 0.0 }).collect();
        let total: f64 = weights.iter().sum();
        if total <= 0.0 {
            return None;
        }
        let weights: Vec<f64> = weights.iter().map(|weight| weight / total).collect();
        let quiet: f64 = weights.iter().zip(&self.solution.band).map(|(w, q)| w * q).sum();
        let parts: Vec<f64> = (0..self.members.len()).map(part).collect();
        let own: f64 = parts.iter().zip(&self.solution.powers).map(|(part, power)| part * power).sum();
        let value = band + own / quiet;
        // To first order: d(own/Q) = d own / Q − own dQ / Q².
        let of_powers: Vec<f64> = parts.iter().map(|part| part / quiet).collect();
        let of_band: Vec<f64> = weights.iter().map(|weight| -weight * own / (quiet * quiet)).collect();
        let variance = self.solution.variance(&of_band, &of_powers);
        let is_told = quiet > 0.0 && value > 0.0 && variance.is_finite();
        is_told.then(|| Ratio { value, sd_ln: variance.max(0.0).sqrt() / value })
    }
}

/// Episodes, in order of their begin, by those that overlap or nearly do.
fn overlapping(own: &[usize], spotted: &[Spotted]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut until_s = f64::NEG_INFINITY;
    for &place in own {
        match groups.last_mut().filter(|_| spotted[place].start_s <= until_s + 2.0 * CELL_S) {
            Some(group) => group.push(place),
            None => groups.push(vec![place]),
        }
        until_s = until_s.max(spotted[place].end_s);
    }
    groups
}

/// Levels along a run.
struct RunLevels {
    from_s: f64,
    step_s: f64,
    level_db: Vec<f64>,
    lifted: Vec<bool>,
}

impl RunLevels {
    fn of(night: &Timeline, run: &Run) -> Self {
        let levels = Levels::of(night, run);
        let level_db = levels.of_pauses();
        Self { from_s: run.span_s.0, step_s: levels.step_s, level_db, lifted: levels.lifted }
    }

    /// Variance that the band's level gains a second, in parts of itself squared, by neighbouring cells of quiet.
    fn motion(&self, own: &[Spotted]) -> f64 {
        let steps = (CELL_S / self.step_s).round().max(1.0) as usize;
        let is_quiet = |from_s: f64, to_s: f64| {
            own.iter().all(|one| one.end_s + GUARD_S <= from_s || one.start_s - GUARD_S >= to_s)
        };
        let mut means = Vec::new();
        for (n, levels) in self.level_db.chunks_exact(steps).enumerate() {
            let from_s = self.from_s + (n * steps) as f64 * self.step_s;
            let is_so = is_quiet(from_s, from_s + CELL_S) && levels.iter().all(|level| level.is_finite());
            means.push(if is_so { median(&mut levels.to_vec()) } else { f64::NAN });
        }
        let pairs = means.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        let mut apart: Vec<f64> = pairs.filter(|apart| apart.is_finite()).collect();
        let motion_db = match apart.len() >= LEAST_PAIRS {
            true => (SD_OF_MEDIAN * median(&mut apart)).max(LEAST_MOTION_DB),
            false => USUAL_MOTION_DB,
        };
        (motion_db * PER_DB).powi(2) / CELL_S
    }

    /// Explains the level where some noises are, and beside them up to the next.
    fn group(&self, mut members: Vec<usize>, spotted: &[Spotted], own: &[usize], motion: f64) -> Option<Group> {
        let of = |place: &usize| spotted[*place];
        let first_s = members.iter().map(|m| of(m).start_s).fold(f64::MAX, f64::min);
        let last_s = members.iter().map(|m| of(m).end_s).fold(f64::MIN, f64::max);
        let others = || own.iter().filter(|place| !members.contains(place)).map(of);
        let from_s = others().map(|one| one.end_s).filter(|end_s| *end_s <= first_s).fold(self.from_s, f64::max);
        let end_s = self.from_s + self.level_db.len() as f64 * self.step_s;
        let to_s = others().map(|one| one.start_s).filter(|start_s| *start_s >= last_s).fold(end_s, f64::min);
        let mut edges: Vec<f64> = members.iter().flat_map(|m| [of(m).start_s, of(m).end_s]).collect();
        edges.extend([from_s.max(first_s - MARGIN_S), to_s.min(last_s + MARGIN_S)]);
        edges.sort_by(f64::total_cmp);
        let mut spans: Vec<Span> = Vec::new();
        let mut cells: Vec<Cell> = Vec::new();
        for pair in edges.windows(2) {
            for span in cut(pair[0], pair[1]) {
                let middle_s = (span.from_s + span.to_s) / 2.0;
                let is_on = |m: &usize| (of(m).start_s..of(m).end_s).contains(&middle_s);
                let Some((power, sd)) = self.level(span) else { continue };
                cells.push(Cell { at_s: middle_s, power, sd, on: members.iter().map(is_on).collect() });
                spans.push(span);
            }
        }
        // Nothing tells the power of what is on all the while, nor those of two that come and go together.
        let column = |at: usize| -> Vec<bool> { cells.iter().map(|cell| cell.on[at]).collect() };
        let columns: Vec<Vec<bool>> = (0..members.len()).map(column).collect();
        let is_told = |at: usize| {
            columns[at].iter().any(|on| *on)
                && columns[at].iter().any(|on| !on)
                && columns.iter().filter(|other| **other == columns[at]).count() == 1
        };
        let told: Vec<usize> = (0..members.len()).filter(|&at| is_told(at)).collect();
        members = told.iter().map(|&at| members[at]).collect();
        cells.iter_mut().for_each(|cell| cell.on = told.iter().map(|&at| cell.on[at]).collect());
        let solution = solve(&cells, members.len(), motion)?;
        Some(Group { members, cells: spans, solution })
    }

    /// Typical power of a cell and its standard deviation.
    fn level(&self, span: Span) -> Option<(f64, f64)> {
        let place = |at_s: f64| ((at_s - self.from_s) / self.step_s).round().max(0.0) as usize;
        let (from, to) = (place(span.from_s), place(span.to_s).min(self.level_db.len()));
        let places = (from.min(to)..to).filter(|&at| self.level_db[at].is_finite());
        let (still, lifted): (Vec<usize>, Vec<usize>) = places.partition(|&at| !self.lifted[at]);
        let (places, least_db) = match 2 * still.len() >= lifted.len() {
            true => (still, LEAST_SD_DB),
            false => (lifted, LIFTED_SD_DB),
        };
        if places.is_empty() {
            return None;
        }
        let mut levels: Vec<f64> = places.iter().map(|&at| self.level_db[at]).collect();
        let middle = median(&mut levels);
        let mut off: Vec<f64> = levels.iter().map(|level| (level - middle).abs()).collect();
        let scatter = MEDIAN_COST * SD_OF_MEDIAN * median(&mut off) / (levels.len() as f64).sqrt();
        let power = ratio_of_db(middle);
        Some((power, power * PER_DB * scatter.hypot(least_db)))
    }
}

/// A stretch between edges in cells, short ones at its ends.
fn cut(from_s: f64, to_s: f64) -> Vec<Span> {
    let (from_s, to_s) = guarded((from_s, to_s));
    let mut lengths: Vec<f64> = Vec::new();
    let (mut left_s, mut next_s) = (to_s - from_s, CELL_S);
    while left_s > 2.0 * next_s {
        lengths.push(next_s);
        left_s -= 2.0 * next_s;
        next_s = (LONGER * next_s).min(LONGEST_S);
    }
    let middle = (left_s > 0.0).then_some(left_s);
    let all: Vec<f64> = lengths.iter().copied().chain(middle).chain(lengths.iter().rev().copied()).collect();
    let mut at_s = from_s;
    let spans = all.into_iter().map(|length| {
        let span = Span { from_s: at_s, to_s: at_s + length };
        at_s += length;
        span
    });
    spans.collect()
}
