//! Which jumps of a night's noise level belong together as a noise that came and went.
//!
//! A device switches: the level jumps within a second or two and keeps to its new place. Sunrise and fading take their
//! time, a static crash or a passing car does not stay: none of them is an episode. Not here: finding the jumps
//! (`change_points`), what kind of noise it was (`contrast`).

use super::change_points::{WILD_SIGMAS, cut};
use crate::spectrum::statistics::median;

/// Smallest jump that counts, dB, and in standard deviations of the level's scatter from step to step.
const LEAST_JUMP_DB: f64 = 1.0;
const LEAST_JUMP_SIGMAS: f64 = 3.0;
/// How much dearer than 2σ² ln n (the BIC-like penalty for a known σ) a change is: twice, since levels of a real band
/// are not independent from second to second (our own choice, found on simulated nights).
const DEARER: f64 = 2.0;
/// How far on each side of a jump the level is looked at, and how many values a slope needs.
const BESIDE_S: f64 = 12.0;
const LEAST_FOR_SLOPE: usize = 5;
/// A fall belongs to a rise if their powers differ by no more than this ratio; preferably by this one.
const SAME_POWER: f64 = 1.7;
const ALIKE_POWER: f64 = 1.35;
/// While a noise is there, more than this share of its power stands over the level before it: else it is gone, or the band
/// has moved too far to tell (our own choice).
const LEFT: f64 = 0.5;
/// A jump without its counterpart must be so large, dB: a band's own lurch is smaller (our own choice).
const LEAST_SINGLE_DB: f64 = 3.0;
/// It lasts as long as it is there; over within less time than this it was a lurch of the band (our own choice).
const LEAST_SINGLE_S: f64 = 60.0;
/// Values of the running median that tells whether the power keeps: single crashes and dips are passed over.
const KEPT_OVER: usize = 5;
/// Shortest episode: what lasts less is counted among pulses and crashes.
const LEAST_S: f64 = 5.0;
/// Shorter ones must come and go within three steps for the most part: a car that passes swells and fades.
const SHORT_S: f64 = 30.0;
const AT_ONCE: f64 = 0.6;

/// A level over time, at even steps; NaN where nothing was recorded.
#[derive(Debug, Clone, Copy)]
pub struct LevelSeries<'a> {
    /// dB.
    pub level_db: &'a [f64],
    /// Distance of two values.
    pub step_s: f64,
}

/// A stretch in which a noise was there, by its level alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Begin, seconds from the start of the series.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// How far the level jumped when it came (or fell when it went, if it was there from the beginning), dB.
    pub jump_db: f64,
    /// Whether it was there when the recording (or what follows a gap) began.
    pub from_before: bool,
    /// Whether it was there when the recording (or what precedes a gap) ended.
    pub until_after: bool,
}

/// An abrupt change of level.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Jump {
    at: usize,
    before_db: f64,
    after_db: f64,
}

impl Jump {
    /// What came (or, negative, went), in linear power.
    fn power(&self) -> f64 {
        power_of(self.after_db) - power_of(self.before_db)
    }

    fn size_db(&self) -> f64 {
        (self.after_db - self.before_db).abs()
    }
}

fn power_of(level_db: f64) -> f64 {
    10f64.powf(level_db / 10.0)
}

/// All stretches in order of their begin. Gaps (NaN) end what was going on.
pub fn stretches(series: LevelSeries<'_>) -> Vec<Stretch> {
    let mut found: Vec<Stretch> =
        recorded(series.level_db).into_iter().flat_map(|(from, to)| in_one_piece(series, from, to)).collect();
    found.retain(|stretch| stretch.end_s - stretch.start_s >= LEAST_S);
    found.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    found
}

/// Runs without NaN: (from, to).
fn recorded(levels: &[f64]) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut from = None;
    for (at, level) in levels.iter().enumerate() {
        match (level.is_nan(), from) {
            (false, None) => from = Some(at),
            (true, Some(begin)) => {
                runs.push((begin, at));
                from = None;
            }
            _ => {}
        }
    }
    runs.extend(from.map(|begin| (begin, levels.len())));
    runs
}

fn in_one_piece(series: LevelSeries<'_>, from: usize, to: usize) -> Vec<Stretch> {
    let levels = &series.level_db[from..to];
    let powers = running_median(levels, KEPT_OVER).iter().map(|level| power_of(*level)).collect::<Vec<_>>();
    let (rises, mut falls): (Vec<Jump>, Vec<Jump>) =
        jumps(levels, series.step_s).into_iter().partition(|jump| jump.power() > 0.0);
    let at_s = |index: usize| (from + index) as f64 * series.step_s;
    let mut found = Vec::new();
    for rise in rises {
        let is_there = |power: &&f64| **power >= power_of(rise.before_db) + LEFT * rise.power();
        let first = (rise.at + KEPT_OVER).min(levels.len());
        let kept_until = first + powers[first..].iter().take_while(is_there).count();
        let unlike = |fall: &Jump| (rise.power() / -fall.power()).ln().abs();
        let fall = (0..falls.len())
            .filter(|&k| (rise.at + 1..=kept_until + KEPT_OVER).contains(&falls[k].at))
            .filter(|&k| unlike(&falls[k]) <= SAME_POWER.ln())
            // The first that is alike enough; a device within another is hardly ever just as strong.
            .min_by(|&a, &b| {
                let alike = |k: usize| unlike(&falls[k]) <= ALIKE_POWER.ln();
                alike(b).cmp(&alike(a)).then(falls[a].at.cmp(&falls[b].at))
            })
            .map(|k| falls.remove(k));
        let end = match fall {
            Some(fall) => Some(fall.at).filter(|&end| is_abrupt(levels, rise.at, end, series.step_s)),
            None if rise.size_db() < LEAST_SINGLE_DB => None,
            None => Some(kept_until).filter(|&end| (end - rise.at) as f64 * series.step_s >= LEAST_SINGLE_S),
        };
        found.extend(end.map(|end| Stretch {
            start_s: at_s(rise.at),
            end_s: at_s(end),
            jump_db: rise.size_db(),
            from_before: false,
            until_after: fall.is_none() && end == levels.len(),
        }));
    }
    // Something went that was not seen to come.
    for fall in falls.into_iter().filter(|fall| fall.size_db() >= LEAST_SINGLE_DB) {
        let last = fall.at.saturating_sub(KEPT_OVER);
        let is_there = |power: &&f64| **power >= power_of(fall.after_db) - LEFT * fall.power();
        let kept = powers[..last].iter().rev().take_while(is_there).count();
        if ((fall.at - (last - kept)) as f64) * series.step_s < LEAST_SINGLE_S {
            continue;
        }
        found.push(Stretch {
            start_s: at_s(last - kept),
            end_s: at_s(fall.at),
            jump_db: fall.size_db(),
            from_before: last == kept,
            until_after: false,
        });
    }
    found
}

/// Whether a short stretch comes and goes at once; a long one may take its time.
fn is_abrupt(levels: &[f64], start: usize, end: usize, step_s: f64) -> bool {
    if (end - start) as f64 * step_s >= SHORT_S {
        return true;
    }
    let beside = (BESIDE_S / step_s).ceil() as usize;
    let typical = |from: usize, to: usize| median(&mut levels[from..to].to_vec());
    let inside = typical(start, end);
    let extreme = |from: usize, to: usize, pick: fn(f64, f64) -> f64| {
        levels[from.min(to)..to.min(levels.len())].iter().copied().reduce(pick).unwrap_or(f64::NAN)
    };
    let came = extreme(start, start + 2, f64::max) - extreme(start.saturating_sub(2), start, f64::min);
    let went = extreme(end.saturating_sub(2), end, f64::max) - extreme(end, end + 2, f64::min);
    let rise = inside - typical(start.saturating_sub(beside), start);
    let fall = inside - typical(end, (end + beside).min(levels.len()));
    came >= AT_ONCE * rise && went >= AT_ONCE * fall
}

fn running_median(values: &[f64], width: usize) -> Vec<f64> {
    let half = width / 2;
    (0..values.len())
        .map(|k| median(&mut values[k.saturating_sub(half)..(k + half + 1).min(values.len())].to_vec()))
        .collect()
}

/// Abrupt changes among the cheapest cut's.
fn jumps(levels: &[f64], step_s: f64) -> Vec<Jump> {
    let sigma = step_scatter(levels);
    let penalty = DEARER * 2.0 * sigma * sigma * (levels.len().max(2) as f64).ln();
    let cut = cut(levels, penalty, WILD_SIGMAS * sigma);
    let beside = (BESIDE_S / step_s).ceil().max(2.0) as usize;
    let mut ends = cut.starts[1.min(cut.starts.len())..].to_vec();
    ends.push(levels.len());
    let mut found = Vec::new();
    for (k, &at) in cut.starts.iter().enumerate().skip(1) {
        // Not beyond the neighbouring changes: they have their own levels.
        let (first, last) = (cut.starts[k - 1].max(at.saturating_sub(beside)), ends[k].min(at + beside));
        let (before_db, after_db) = (at_end(&levels[first..at], false), at_end(&levels[at..last], true));
        if (after_db - before_db).abs() >= LEAST_JUMP_DB.max(LEAST_JUMP_SIGMAS * sigma) {
            found.push(Jump { at, before_db, after_db });
        }
    }
    found
}

/// Standard deviation of a level from one step to the next, from the typical difference of neighbours; not below a
/// twentieth of a dB.
fn step_scatter(levels: &[f64]) -> f64 {
    let mut differences: Vec<f64> = levels.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    if differences.is_empty() {
        return 0.05;
    }
    (1.4826 * median(&mut differences) / std::f64::consts::SQRT_2).max(0.05)
}

/// Level at the first or past the last of some values, along a straight line through them that single wild values
/// can't turn: what drifts through a change of the cut does not jump there.
///
/// Source: H. Theil, 1950, P. K. Sen, JASA 63, 1379–1389, 1968 (median of the slopes of all pairs; from memory).
fn at_end(levels: &[f64], first: bool) -> f64 {
    if levels.len() < LEAST_FOR_SLOPE {
        return median(&mut levels.to_vec());
    }
    let mut slopes: Vec<f64> = (0..levels.len())
        .flat_map(|a| (a + 1..levels.len()).map(move |b| (levels[b] - levels[a]) / (b - a) as f64))
        .collect();
    let slope = median(&mut slopes);
    let edge = if first { -0.5 } else { levels.len() as f64 - 0.5 };
    let mut carried: Vec<f64> =
        levels.iter().enumerate().map(|(k, level)| level + slope * (edge - k as f64)).collect();
    median(&mut carried)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::{Rng, SeedableRng};

    /// An hour at a second a step: noise of 0.15 dB, a slow sunrise of 6 dB, fading of ±1.5 dB in three minutes, a
    /// static crash now and then; and what `device` adds in linear power over the quiet band.
    fn hour(seed: u64, device: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut uniform = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        (0..3600)
            .map(|t| {
                let t = f64::from(t);
                let gauss = (-2.0 * uniform().max(1e-12).ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos();
                let band = 6.0 * t / 3600.0 + 1.5 * (std::f64::consts::TAU * t / 180.0).sin();
                let crash = if uniform() < 0.01 { 8.0 } else { 0.0 };
                10.0 * (10f64.powf(band / 10.0) + device(t)).log10() + 0.15 * gauss + crash
            })
            .collect()
    }

    fn found(levels: &[f64]) -> Vec<Stretch> {
        stretches(LevelSeries { level_db: levels, step_s: 1.0 })
    }

    #[test]
    fn sunrise_fading_and_crashes_are_no_episodes() {
        for seed in 0..10 {
            assert_eq!(found(&hour(seed, |_| 0.0)), [], "seed {seed}");
        }
    }

    /// A car: sparks that swell and fade within some ten seconds. And a lurch of 2.5 dB that sinks back within half a minute.
    #[test]
    fn a_passing_car_and_a_lurch_are_no_episodes() {
        for seed in 0..10 {
            let car = |t: f64| 15.0 * (-0.5 * ((t - 900.0) / 3.5).powi(2)).exp();
            let lurch = |t: f64| if t < 2000.0 { 0.0 } else { 0.8 * (-(t - 2000.0) / 15.0).exp() };
            assert_eq!(found(&hour(seed, |t| car(t) + lurch(t))), [], "seed {seed}");
        }
    }

    #[test]
    fn a_device_that_comes_and_goes_is_found_to_a_second_or_two() {
        let on = |t: f64| (600.0..1500.0).contains(&t) || (2400.0..2460.0).contains(&t);
        for seed in 0..10 {
            let found = found(&hour(seed, |t| if on(t) { 6.0 } else { 0.0 }));
            assert_eq!(found.len(), 2, "seed {seed}: {found:?}");
            for (stretch, (start, end)) in found.iter().zip([(600.0, 1500.0), (2400.0, 2460.0)]) {
                assert_abs_diff_eq!(stretch.start_s, start, epsilon = 2.0);
                assert_abs_diff_eq!(stretch.end_s, end, epsilon = 2.0);
                assert!(!stretch.from_before && !stretch.until_after);
            }
        }
    }

    #[test]
    fn one_device_within_another_is_two_stretches() {
        let first = |t: f64| if (500.0..3000.0).contains(&t) { 20.0 } else { 0.0 };
        let second = |t: f64| if (1200.0..1800.0).contains(&t) { 40.0 } else { 0.0 };
        let found = found(&hour(3, |t| first(t) + second(t)));
        let ends: Vec<_> = found.iter().map(|s| (s.start_s.round(), s.end_s.round())).collect();
        assert_eq!(ends, [(500.0, 3000.0), (1200.0, 1800.0)]);
    }

    #[test]
    fn what_was_there_at_the_beginning_or_the_end_is_open() {
        let found = found(&hour(4, |t| if !(400.0..3200.0).contains(&t) { 10.0 } else { 0.0 }));
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].from_before && found[1].until_after);
        assert_abs_diff_eq!(found[0].end_s, 400.0, epsilon = 2.0);
        assert_abs_diff_eq!(found[1].start_s, 3200.0, epsilon = 2.0);
    }

    #[test]
    fn a_gap_ends_what_was_going_on() {
        let mut levels = hour(5, |t| if (600.0..2400.0).contains(&t) { 10.0 } else { 0.0 });
        levels[1200..1300].fill(f64::NAN);
        let found = found(&levels);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].until_after && found[1].from_before);
        assert!(stretches(LevelSeries { level_db: &[], step_s: 1.0 }).is_empty());
        assert!(stretches(LevelSeries { level_db: &[f64::NAN; 9], step_s: 1.0 }).is_empty());
    }
}
