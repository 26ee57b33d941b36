//! Whether a source keeps to a time of day or to days of the week, came new or went for good: each against the times
//! that were recorded, with a chance. Not here: how many were tried (`chance::holm`).

use rand::RngExt;
use rand::seq::SliceRandom;

use super::chance::{drawn, memory};
use super::grid::{BINS, Cells, Raster, hour, sum, weekday, weekday_name};
use crate::text::and;

/// Days on which a source must have been on to have a habit. Chosen: three agree by luck.
pub(super) const LEAST_DAYS_ON: usize = 4;
/// Civil days recorded for a habit by the day of the week. Chosen: each day of the week twice.
const LEAST_CIVIL_DAYS: usize = 14;
/// The longest time of day that is a habit, half hours. Chosen: half of the day.
const WIDEST: usize = BINS / 2;
/// The most days of the week that are one. Chosen: the work days.
const MOST_WEEKDAYS: usize = 5;
/// A time of day with less recorded tells nothing, as a share of all that was (chosen).
const LEAST_SHARE: f64 = 0.01;

/// A habit that was tried, told or not.
pub(super) struct Tried {
    pub(super) words: String,
    pub(super) share_in: f64,
    pub(super) share_out: f64,
    pub(super) chance: f64,
}

/// On how many days it was on.
pub(super) fn days_on(on: &[Cells]) -> usize {
    on.iter().filter(|cells| sum(cells) > 0.0).count()
}

/// The time of day that it keeps to. `None` where it came on too few days.
///
/// The window of the day in which it is on most, against the rest, is sought by a scan; chance is how often it is as
/// marked once each day's comings are turned by an amount of their own within what was recorded that day. So what
/// comes in cycles or in flocks through a night, or fills it, has no habit unless the nights agree.
///
/// Source: M. Kulldorff, Communications in Statistics 26, 1481, 1997, for the scan (the score in place of the
/// likelihood ratio); turning a series by random amounts ("toroidal shift") is common practice.
pub(super) fn time_of_day(raster: &Raster, on: &[Cells], seed: u64) -> Option<Tried> {
    if days_on(on) < LEAST_DAYS_ON {
        return None;
    }
    let mut recorded = [0.0; BINS];
    for cells in &raster.recorded {
        (0..BINS).for_each(|bin| recorded[bin] += cells[bin]);
    }
    // Of each day that it was on: the cells recorded, and the share of each that it was on.
    let days: Vec<(Vec<usize>, Vec<f64>, &Cells)> = raster
        .recorded
        .iter()
        .zip(on)
        .filter(|(_, on)| sum(on) > 0.0)
        .map(|(recorded, on)| {
            let cells: Vec<usize> = (0..BINS).filter(|bin| recorded[*bin] > 0.0).collect();
            let shares = cells.iter().map(|bin| on[*bin] / recorded[*bin]).collect();
            (cells, shares, recorded)
        })
        .collect();
    let found = scan(&totals(on), &recorded, WIDEST);
    let chance = drawn(found.score, seed, |rng| {
        let mut turned = [0.0; BINS];
        for (cells, shares, recorded) in &days {
            let by = rng.random_range(0..cells.len());
            for (at, bin) in cells.iter().enumerate() {
                turned[*bin] += shares[(at + by) % cells.len()] * recorded[*bin];
            }
        }
        scan(&turned, &recorded, WIDEST).score
    });
    Some(Tried {
        words: format!("{} to {}", hour(found.from), hour(found.from + found.width)),
        share_in: found.share_in,
        share_out: found.share_out,
        chance,
    })
}

fn totals(on: &[Cells]) -> Cells {
    std::array::from_fn(|bin| on.iter().map(|cells| cells[bin]).sum())
}

#[derive(Clone, Copy, Default)]
struct Window {
    score: f64,
    from: usize,
    width: usize,
    share_in: f64,
    share_out: f64,
}

/// The window of a circle of parts in which `on` most exceeds what its part of `expected` gives.
fn scan<const N: usize>(on: &[f64; N], expected: &[f64; N], widest: usize) -> Window {
    let (on_all, expected_all): (f64, f64) = (on.iter().sum(), expected.iter().sum());
    let mut best = Window::default();
    for from in 0..N {
        let (mut inside, mut held) = (0.0, 0.0);
        for width in 1..=widest {
            let part = (from + width - 1) % N;
            inside += on[part];
            held += expected[part];
            let share = held / expected_all;
            let over = inside - on_all * share;
            if over <= 0.0 || share < LEAST_SHARE || share >= 1.0 {
                continue;
            }
            let score = over * over / (share * (1.0 - share));
            if score > best.score {
                let outside = (on_all - inside) / (expected_all - held);
                best = Window { score, from, width, share_in: inside / held, share_out: outside };
            }
        }
    }
    best
}

/// The days of the week that it keeps to. `None` where too little was recorded, or it came on too few days.
///
/// How long it was on each civil day, over what its hours lead to expect of what was recorded then; chance is how
/// often the days of the week differ as much once whole days are dealt anew (a permutation test: common practice).
pub(super) fn day_of_week(raster: &Raster, on: &[Cells], seed: u64) -> Option<Tried> {
    if days_on(on) < LEAST_DAYS_ON {
        return None;
    }
    let profile = raster.profile(on);
    // A row holds the afternoon of its day and the morning of the next.
    let mut civil: Vec<(i64, [f64; 3])> = Vec::new();
    for ((day, recorded), on) in raster.days.iter().zip(&raster.recorded).zip(on) {
        for half in 0..2 {
            let bins = half * BINS / 2..(half + 1) * BINS / 2;
            let add = bins.fold([0.0; 3], |[was, expected, all], bin| {
                [was + on[bin], expected + profile[bin] * recorded[bin], all + recorded[bin]]
            });
            let date = day + half as i64;
            match civil.last_mut() {
                Some(last) if last.0 == date => (0..3).for_each(|i| last.1[i] += add[i]),
                _ => civil.push((date, add)),
            }
        }
    }
    civil.retain(|(_, sums)| sums[2] > 0.0);
    if civil.len() < LEAST_CIVIL_DAYS {
        return None;
    }
    let mut weekdays: Vec<usize> = civil.iter().map(|(day, _)| weekday(*day)).collect();
    let sums = |weekdays: &[usize]| {
        let (mut was, mut expected, mut all) = ([0.0; 7], [0.0; 7], [0.0; 7]);
        for (number, (_, sums)) in weekdays.iter().zip(&civil) {
            was[*number] += sums[0];
            expected[*number] += sums[1];
            all[*number] += sums[2];
        }
        (was, expected, all)
    };
    let differ = |(was, expected, _): &([f64; 7], [f64; 7], [f64; 7])| -> f64 {
        let parts = was.iter().zip(expected).filter(|(_, expected)| **expected > 0.0);
        parts.map(|(was, expected)| (was - expected).powi(2) / expected).sum()
    };
    let found = sums(&weekdays);
    let chance = drawn(differ(&found), seed, |rng| {
        weekdays.shuffle(rng);
        differ(&sums(&weekdays))
    });
    let (was, expected, all) = found;
    let window = scan(&was, &expected, MOST_WEEKDAYS);
    let inside = |number: usize| (number + 7 - window.from) % 7 < window.width;
    let share = |wanted: bool| {
        let days = (0..7).filter(|number| inside(*number) == wanted);
        let (on, recorded) = days.fold((0.0, 0.0), |(on, rec), d| (on + was[d], rec + all[d]));
        if recorded > 0.0 { on / recorded } else { 0.0 }
    };
    let names: Vec<String> = (0..window.width).map(|i| weekday_name((window.from + i) % 7).to_owned()).collect();
    let words = match names.as_slice() {
        [first, _, .., last] if names.len() > 2 => format!("{first} to {last}"),
        _ => and(&names),
    };
    Some(Tried { words, share_in: share(true), share_out: share(false), chance })
}

/// A first or last time that was tried: the place of its day, how many days were without it, and the chance.
pub(super) struct TriedTurn {
    pub(super) days_without: usize,
    pub(super) chance: f64,
}

/// Whether it went for good; with `reversed`, whether it came new. `None` where it came on too few days.
///
/// Chance that what comes as often from its first day on stays away from its last one to the end. Source: A. R.
/// Solow, Ecology 74, 962, 1993: (last/all) to the number of sightings after the first. Days that only go on with a
/// spell before them are no sightings of their own: their number is divided by the memory of the days in between.
pub(super) fn gone(on: &[Cells], reversed: bool) -> Option<TriedTurn> {
    let mut days: Vec<bool> = on.iter().map(|cells| sum(cells) > 0.0).collect();
    if reversed {
        days.reverse();
    }
    let sightings = days.iter().filter(|on| **on).count();
    let (first, last) = (days.iter().position(|on| *on)?, days.iter().rposition(|on| *on)?);
    if sightings < LEAST_DAYS_ON {
        return None;
    }
    let between: Vec<f64> = days[first..=last].iter().map(|on| f64::from(u8::from(*on))).collect();
    let independent = (sightings - 1) as f64 / memory(&between);
    let (seen, all) = ((last - first) as f64, (days.len() - 1 - first) as f64);
    Some(TriedTurn { days_without: days.len() - 1 - last, chance: (seen / all).powf(independent) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster(days: usize) -> Raster {
        Raster { days: (20_000..20_000 + days as i64).collect(), recorded: vec![[1800.0; BINS]; days] }
    }

    /// Source: Solow 1993: sightings on days 0 to 17 of 0 to 29: (17/29)^17.
    #[test]
    fn what_stays_away_is_told_by_the_published_chance() {
        let on: Vec<Cells> = (0..30).map(|day| [if day < 18 { 60.0 } else { 0.0 }; BINS]).collect();
        let turn = gone(&on, false).unwrap();
        assert!((turn.chance - (17f64 / 29.0).powi(17)).abs() < 1e-12);
        assert_eq!(turn.days_without, 12);
        assert_eq!(gone(&on, true).unwrap().chance, 1.0);
    }

    #[test]
    fn hours_and_days_of_the_week_are_named() {
        let raster = raster(28);
        let lamp: Vec<Cells> = raster
            .days
            .iter()
            .map(|_| std::array::from_fn(|bin| if (12..20).contains(&bin) { 1800.0 } else { 0.0 }))
            .collect();
        let found = time_of_day(&raster, &lamp, 1).unwrap();
        assert_eq!(found.words, "18:00 to 22:00");
        assert!(found.chance < 0.001 && found.share_in == 1.0 && found.share_out == 0.0);
        // From Saturday midnight to Sunday midnight.
        let weekend: Vec<Cells> = raster
            .days
            .iter()
            .map(|day| {
                std::array::from_fn(|bin| {
                    let civil = day + i64::from(bin >= BINS / 2);
                    if weekday(civil) >= 5 { 900.0 } else { 0.0 }
                })
            })
            .collect();
        let found = day_of_week(&raster, &weekend, 1).unwrap();
        assert_eq!((found.words.as_str(), found.share_in, found.share_out), ("Saturday and Sunday", 0.5, 0.0));
        assert!(found.chance < 0.001, "{}", found.chance);
    }
}
