//! Which jumps of a night's noise level belong together as a noise that came and went.
//!
//! A device switches: the level jumps within a second or two and keeps to its new place. Sunrise and fading take
//! their time, a static crash or a passing car does not stay: none of them is an episode. Not here: finding the
//! jumps (`jumps`), what kind of noise it was (`contrast`).

pub mod change_points;
pub mod jumps;
pub mod pairing;
pub mod runs;

use crate::night::episodes::jumps::{BESIDE_S, Jump, jumps};
use crate::night::episodes::pairing::{Candidate, best_pairs};
use crate::signal::spectrum::statistics::median;
use crate::units::ratio_of_db;

pub use crate::night::episodes::jumps::LevelSeries;

/// Least jump of a noise at its begin or its end, dB. Smaller ones serve to tell what went while a louder noise
/// was there. Chosen: what an evening's fading does within seconds is less.
const LEAST_JUMP_DB: f64 = 1.0;
/// A fall belongs to a rise if their powers differ by no more than this ratio. Chosen: a device that warms up, and
/// a band that moves, change it by less.
const SAME_POWER: f64 = 2.0;
/// What came and what went may differ by this share of it, beyond what the levels' scatter explains: a device warms
/// up (our own choice).
const WARMING: f64 = 0.05;
/// A rise and a fall are rather left alone than paired if their powers lie further apart than this many standard
/// deviations. Chosen: beyond chance even in a night with hundreds of pairs.
const MOST_SIGMAS: f64 = 4.0;
/// Of two falls that fit alike the earlier is the likelier; this much (in the logarithm of a likelihood) for each
/// e-fold of the time from a minute on (chosen).
const PER_E_FOLD: f64 = 0.5;
const A_MINUTE_S: f64 = 60.0;
/// While a noise is there, more than this share of its power stands over the level before it: else it is gone, or
/// the band has moved too far to tell (chosen).
const LEFT: f64 = 0.5;
/// A jump without its counterpart must be so large, dB: a band's own lurch is smaller (chosen).
const LEAST_SINGLE_DB: f64 = 3.0;
/// It lasts as long as it is there; over within less time than this it was a lurch of the band (chosen).
const LEAST_SINGLE_S: f64 = 60.0;
/// Values of the running median that tells whether the power keeps: crashes and dips are passed over, and what is
/// left at the edges of a noise that was taken off, which among words are known to a few seconds only (chosen).
const KEPT_OVER: usize = 11;
/// Shortest episode (chosen): what lasts less is counted among pulses and crashes.
const LEAST_S: f64 = 5.0;
/// Shorter ones must come and go within three steps for the most part (chosen): a car that passes swells and
/// fades.
const SHORT_S: f64 = 30.0;
const AT_ONCE: f64 = 0.6;
/// Values left out beside an edge, and fewest that tell a level. Chosen: an edge is placed to a second or two.
const CLEAR: usize = 3;

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

/// All stretches in order of their begin. Gaps (NaN) end what was going on.
pub fn stretches(series: LevelSeries<'_>) -> Vec<Stretch> {
    let mut found = Vec::new();
    for (from, to) in recorded(series.level_db) {
        let part = Unbroken::of(series.part(from..to));
        found.extend(part.stretches().into_iter().map(|(start, end, jump_db)| Stretch {
            start_s: (from + start) as f64 * series.step_s,
            end_s: (from + end) as f64 * series.step_s,
            jump_db,
            from_before: start == 0,
            until_after: from + end == to,
        }));
    }
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

/// A part of the night without a gap.
struct Unbroken<'a> {
    series: LevelSeries<'a>,
    /// Linear power, by the pauses of a voice.
    powers: Vec<f64>,
    rises: Vec<Jump>,
    falls: Vec<Jump>,
}

impl<'a> Unbroken<'a> {
    fn of(series: LevelSeries<'a>) -> Self {
        let powers = series.of_pauses().into_iter().map(ratio_of_db).collect();
        let (rises, falls) = jumps(&series).into_iter().partition(|jump| jump.power() > 0.0);
        Self { series, powers, rises, falls }
    }

    /// Begin, end and jump of each.
    fn stretches(&self) -> Vec<(usize, usize, f64)> {
        let (mut pairs, alone) = self.pairs();
        self.recross(&mut pairs);
        let mut found: Vec<(usize, usize, f64)> = self
            .paired(&pairs)
            .iter()
            .filter(|(rise, fall)| rise.size_db().max(fall.size_db()) >= LEAST_JUMP_DB)
            .filter(|(rise, fall)| self.is_abrupt(rise.at, fall.at))
            .map(|(rise, fall)| (rise.at, fall.at, rise.size_db()))
            .collect();
        let is_large = |jump: &&Jump| jump.size_db() >= LEAST_SINGLE_DB;
        let only_came = self.rises.iter().zip(&pairs).filter(|(_, fall)| fall.is_none()).map(|(rise, _)| rise);
        let only_came = only_came.filter(is_large).map(|rise| (rise.at, alone.kept_from(rise), rise.size_db()));
        let only_went = (0..self.falls.len()).filter(|at| !pairs.contains(&Some(*at))).map(|at| &self.falls[at]);
        let only_went = only_went.filter(is_large).map(|fall| (alone.kept_until(fall), fall.at, fall.size_db()));
        let least = (LEAST_SINGLE_S / self.series.step_s).ceil() as usize;
        found.extend(only_came.chain(only_went).filter(|(start, end, _)| end - start >= least));
        found
    }

    /// For each rise its fall, and what is left without them. A noise during which another one goes is seen to keep
    /// only once that one is known: hence in rounds.
    fn pairs(&self) -> (Vec<Option<usize>>, Alone) {
        let mut pairs = vec![None; self.rises.len()];
        loop {
            let alone = Alone::beside(&self.powers, &self.paired(&pairs));
            let more = best_pairs(self.rises.len(), self.falls.len(), &self.candidates(&pairs, &alone));
            if more.iter().all(Option::is_none) {
                return (pairs, alone);
            }
            pairs.iter_mut().zip(more).for_each(|(pair, more)| *pair = pair.or(more));
        }
    }

    /// Where two overlap and nothing else comes or goes meanwhile, the level that is left once one is gone tells
    /// which it was, over longer than the falls do: that of the first alone, or that of what the second added.
    fn recross(&self, pairs: &mut [Option<usize>]) {
        let beside = (BESIDE_S / self.series.step_s).ceil() as usize;
        let typical = |from: usize, to: usize| {
            let inside = from + CLEAR..to.min(self.powers.len()).saturating_sub(CLEAR);
            (inside.len() >= CLEAR).then(|| median(&mut self.powers[inside].to_vec()))
        };
        for (i, j) in (0..self.rises.len()).flat_map(|j| (0..j).map(move |i| (i, j))) {
            let (Some(own), Some(other)) = (pairs[i], pairs[j]) else { continue };
            let (a, b) = (self.rises[i].at, self.rises[j].at);
            let (c, d) = (self.falls[own.min(other)].at, self.falls[own.max(other)].at);
            let edges = self.rises.iter().chain(&self.falls).filter(|jump| jump.at > a && jump.at < d);
            if b >= c || edges.count() != 2 {
                continue;
            }
            let quiet = typical(a.saturating_sub(beside), a).zip(typical(d, d + beside));
            let plateaus = typical(a, b).zip(typical(b, c)).zip(typical(c, d));
            let (Some((before, after)), Some(((first, both), last))) = (quiet, plateaus) else { continue };
            let (first_alone, second) = (first - before, both - first);
            let [is_first, is_second] = [first_alone, second].map(|power| (last - after - power).abs());
            let margin = 2.0 * WARMING * first_alone.max(second);
            let (now, instead) = if own > other { (is_first, is_second) } else { (is_second, is_first) };
            if now > 2.0 * instead + margin {
                pairs.swap(i, j);
            }
        }
    }

    fn paired(&self, pairs: &[Option<usize>]) -> Vec<(&Jump, &Jump)> {
        let both = |(rise, fall): (_, &Option<usize>)| fall.map(|fall| (rise, &self.falls[fall]));
        self.rises.iter().zip(pairs).filter_map(both).collect()
    }

    /// Rises and falls that may belong together, of those that have no counterpart yet.
    fn candidates(&self, pairs: &[Option<usize>], alone: &Alone) -> Vec<Candidate> {
        let mut found = Vec::new();
        for (rise_at, rise) in self.rises.iter().enumerate().filter(|(at, _)| pairs[*at].is_none()) {
            let kept_until = alone.kept_from(rise) + KEPT_OVER;
            let first = self.falls.partition_point(|fall| fall.at <= rise.at);
            for (fall_at, fall) in self.falls.iter().enumerate().skip(first) {
                if fall.at > kept_until {
                    break;
                }
                if pairs.contains(&Some(fall_at)) {
                    continue;
                }
                let (came, went) = (rise.power(), -fall.power());
                if (came / went).ln().abs() > SAME_POWER.ln() {
                    continue;
                }
                let sd = rise.power_sd.hypot(fall.power_sd).hypot(WARMING * came.max(went));
                let seconds = (fall.at - rise.at) as f64 * self.series.step_s;
                let gain = 0.5 * (MOST_SIGMAS.powi(2) - ((came - went) / sd).powi(2))
                    - PER_E_FOLD * (seconds / A_MINUTE_S).ln_1p();
                if gain > 0.0 {
                    found.push(Candidate { rise: rise_at, fall: fall_at, gain });
                }
            }
        }
        found
    }

    /// Whether a short stretch comes and goes at once; a long one may take its time.
    fn is_abrupt(&self, start: usize, end: usize) -> bool {
        let (levels, step_s) = (self.series.level_db, self.series.step_s);
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
}

/// The power that is left once that of all noises that were seen to come and go is taken off: in it another one can
/// be followed past them. Single crashes and dips are passed over.
struct Alone {
    powers: Vec<f64>,
}

impl Alone {
    fn beside(powers: &[f64], paired: &[(&Jump, &Jump)]) -> Self {
        let mut powers = powers.to_vec();
        for (rise, fall) in paired {
            let own = (rise.power() - fall.power()) / 2.0;
            powers[rise.at..fall.at].iter_mut().for_each(|power| *power -= own);
        }
        Self { powers: running_median(&powers, KEPT_OVER) }
    }

    /// Past the last place at which what came is still there.
    fn kept_from(&self, rise: &Jump) -> usize {
        let before = self.typical(rise.at.saturating_sub(KEPT_OVER), rise.at);
        let there = before + LEFT * rise.power();
        // The first few are smeared.
        let first = (rise.at + KEPT_OVER).min(self.powers.len());
        first + self.powers[first..].iter().take_while(|power| **power >= there).count()
    }

    /// The first place from which on what went was there.
    fn kept_until(&self, fall: &Jump) -> usize {
        let after = self.typical(fall.at, (fall.at + KEPT_OVER).min(self.powers.len()));
        let there = after - LEFT * fall.power();
        let last = fall.at.saturating_sub(KEPT_OVER);
        last - self.powers[..last].iter().rev().take_while(|power| **power >= there).count()
    }

    fn typical(&self, from: usize, to: usize) -> f64 {
        median(&mut self.powers[from..to].to_vec())
    }
}

fn running_median(values: &[f64], width: usize) -> Vec<f64> {
    let half = width / 2;
    (0..values.len())
        .map(|k| median(&mut values[k.saturating_sub(half)..(k + half + 1).min(values.len())].to_vec()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::Rng;
    use rand::SeedableRng;

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
        stretches(LevelSeries { level_db: levels, lifted: &[], step_s: 1.0 })
    }

    #[test]
    fn sunrise_fading_and_crashes_are_no_episodes() {
        for seed in 0..10 {
            assert_eq!(found(&hour(seed, |_| 0.0)), [], "seed {seed}");
        }
    }

    /// A car: sparks that swell and fade within some ten seconds. And a lurch of 2.5 dB that sinks back within half
    /// a minute.
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

    /// Two noises of nearly one power, one within the other's end, and a third, as strong, later in the louder one.
    #[test]
    fn noises_that_overlap_keep_their_own_ends() {
        let spans = [(400.0, 760.0, 3.5), (736.0, 2800.0, 11.6), (1780.0, 2140.0, 3.5), (2500.0, 3100.0, 2.2)];
        let on = |t: f64| -> f64 {
            spans.iter().filter(|(from, to, _)| (*from..*to).contains(&t)).map(|(_, _, power)| power).sum()
        };
        for seed in 0..10 {
            let found = found(&hour(seed, on));
            let strong = found.iter().filter(|stretch| stretch.jump_db > 2.0);
            let ends: Vec<_> = strong.map(|s| (s.start_s, s.end_s)).collect();
            for (from, to, _) in &spans[..2] {
                let is_it = |(a, b): &(f64, f64)| (a - from).abs() <= 2.0 && (b - to).abs() <= 2.0;
                assert!(ends.iter().any(is_it), "seed {seed}: {from} to {to} of {found:?}");
            }
            let made = |s: &Stretch| {
                spans.iter().any(|(from, to, _)| (s.start_s - from).abs() <= 6.0 && (s.end_s - to).abs() <= 6.0)
            };
            assert!(found.iter().all(made), "seed {seed}: {found:?}");
        }
    }

    /// A noise of 12 dB for a quarter of an hour, and six minutes into it one that lifts the level by another 2.3 dB
    /// and outlasts it by a minute (powers by hand: 10^1.2 − 1 = 14.85; 15.85·(10^0.23 − 1) = 11.07).
    #[test]
    fn a_noise_that_outlasts_a_louder_one_keeps_its_begin() {
        let spans = [(900.0, 1800.0, 14.85), (1260.0, 1860.0, 11.07)];
        let on = |t: f64| -> f64 {
            spans.iter().filter(|(from, to, _)| (*from..*to).contains(&t)).map(|(_, _, power)| power).sum()
        };
        for seed in 0..10 {
            let found = found(&hour(seed, on));
            let ends: Vec<_> = found.iter().map(|s| (s.start_s, s.end_s)).collect();
            for (from, to, _) in spans {
                let is_it = |(a, b): &(f64, f64)| (a - from).abs() <= 3.0 && (b - to).abs() <= 3.0;
                assert!(ends.iter().any(is_it), "seed {seed}: {from} to {to} of {found:?}");
            }
            assert_eq!(found.len(), 2, "seed {seed}: {found:?}");
        }
    }

    /// A voice that speaks for some two fifths of the time, in words of up to two seconds, and lifts the level by
    /// up to 8 dB. Tolerance: where words follow each other without a pause nothing tells the edge.
    #[test]
    fn a_voice_hardly_moves_the_edges() {
        let mut within_two_seconds = 0;
        for seed in 0..10 {
            let mut levels = hour(seed, |t| if (1000.0..1360.0).contains(&t) { 3.5 } else { 0.0 });
            let mut lifted = vec![false; levels.len()];
            let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed + 100);
            let mut uniform = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
            let mut speaks_until = 0.0;
            for t in 900..1420 {
                if f64::from(t) >= speaks_until && uniform() < 0.3 {
                    speaks_until = f64::from(t) + 0.5 + uniform();
                }
                lifted[t as usize] = true;
                if f64::from(t) < speaks_until {
                    levels[t as usize] += 1.0 + 7.0 * uniform();
                }
            }
            let found = stretches(LevelSeries { level_db: &levels, lifted: &lifted, step_s: 1.0 });
            assert_eq!(found.len(), 1, "seed {seed}: {found:?}");
            for off in [found[0].start_s - 1000.0, found[0].end_s - 1360.0] {
                assert_abs_diff_eq!(off, 0.0, epsilon = 5.0);
                within_two_seconds += usize::from(off.abs() <= 2.0);
            }
        }
        assert!(within_two_seconds >= 17, "{within_two_seconds} of 20");
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
        assert!(stretches(LevelSeries { level_db: &[], lifted: &[], step_s: 1.0 }).is_empty());
        assert!(stretches(LevelSeries { level_db: &[f64::NAN; 9], lifted: &[], step_s: 1.0 }).is_empty());
    }
}
