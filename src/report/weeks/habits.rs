//! Whether a source keeps to a time of day or to days of the week, came new or went for good: each against the times
//! that were recorded, with a chance. Not here: how many were tried (`chance::holm`).

use rand::RngExt;
use rand::seq::SliceRandom;

use super::chance::drawn;
use super::grid::{BINS, Cells, Raster, day_of, hour, sum, weekday, weekday_name};
use super::night::Span;
use crate::text::and;

/// Days on which a source must have been on to have a habit. Chosen: three agree by luck.
pub(super) const LEAST_DAYS_ON: usize = 4;
/// Civil days recorded for a habit by the day of the week. Chosen: each day of the week twice.
const LEAST_CIVIL_DAYS: usize = 14;
/// Days from first to last sighting of what may be told to have gone. Chosen with the bench of weeks, seeds 1 to 40:
/// what comes in a spell of some days has not gone for good when it ends.
const LEAST_SPAN: usize = 12;
/// Share of the days in between on which it must have been heard. Chosen so, too: what comes now and then, as with
/// weather, may come again.
const LEAST_PRESENCE: f64 = 0.7;
/// It must stay away so many times as long as ever before, and so large a share of the days it was about. Chosen with
/// simulated months in which nothing went or came new: of a hundred, two are told of one (the bench of weeks).
const LONGER: usize = 4;
const AWAY_SHARE: f64 = 0.4;
/// Variance over mean of how often it came a day: what comes at random at an even rate has 1. Chosen so, too: what
/// comes in spells or in flocks has more, and may come again.
const MOST_DISPERSION: f64 = 1.2;
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
            // What is on all the time differs by rounding alone.
            if over <= 1e-6 * on_all || !(LEAST_SHARE..1.0).contains(&share) {
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
/// How long it was on each civil day, over what its hours lead to expect of what was recorded then, as the square
/// root, so that a long day does not outweigh all others (M. S. Bartlett, Biometrics 3, 39, 1947, for counts); chance
/// is how often the days of the week differ as much once whole days are dealt anew (a permutation test: common
/// practice).
pub(super) fn day_of_week(raster: &Raster, on: &[Cells], seed: u64) -> Option<Tried> {
    if days_on(on) < LEAST_DAYS_ON {
        return None;
    }
    let profile = raster.profile(on);
    // A row holds the afternoon of its day and the morning of the next.
    let mut civil: Vec<Civil> = Vec::new();
    for ((day, recorded), on) in raster.days.iter().zip(&raster.recorded).zip(on) {
        for half in 0..2 {
            let date = day + half as i64;
            if civil.last().is_none_or(|last| last.date != date) {
                civil.push(Civil { date, ..Civil::default() });
            }
            let Some(last) = civil.last_mut() else { continue };
            for bin in half * BINS / 2..(half + 1) * BINS / 2 {
                last.on += on[bin];
                last.expected += profile[bin] * recorded[bin];
                last.recorded += recorded[bin];
            }
        }
    }
    civil.retain(|day| day.expected > 0.0);
    if civil.len() < LEAST_CIVIL_DAYS {
        return None;
    }
    let mut weekdays: Vec<usize> = civil.iter().map(|day| weekday(day.date)).collect();
    let all: f64 = civil.iter().map(|day| day.expected).sum();
    let mean = civil.iter().map(Civil::weighed).sum::<f64>() / all;
    let sums = |weekdays: &[usize]| {
        let (mut weighed, mut expected) = ([0.0; 7], [0.0; 7]);
        for (number, day) in weekdays.iter().zip(&civil) {
            weighed[*number] += day.weighed();
            expected[*number] += day.expected;
        }
        (weighed, expected)
    };
    let differ = |(weighed, expected): &([f64; 7], [f64; 7])| -> f64 {
        let parts = weighed.iter().zip(expected).filter(|(_, expected)| **expected > 0.0);
        parts.map(|(weighed, expected)| (weighed - mean * expected).powi(2) / expected).sum()
    };
    let found = sums(&weekdays);
    let as_found = weekdays.clone();
    let chance = drawn(differ(&found), seed, |rng| {
        weekdays.shuffle(rng);
        differ(&sums(&weekdays))
    });
    let window = scan(&found.0, &found.1, MOST_WEEKDAYS);
    let share = |wanted: bool| {
        let inside = |number: usize| (number + 7 - window.from) % 7 < window.width;
        let days = as_found.iter().zip(&civil).filter(|(number, _)| inside(**number) == wanted);
        let (on, recorded) = days.fold((0.0, 0.0), |(on, rec), (_, day)| (on + day.on, rec + day.recorded));
        if recorded > 0.0 { on / recorded } else { 0.0 }
    };
    let names: Vec<String> = (0..window.width).map(|i| weekday_name((window.from + i) % 7).to_owned()).collect();
    let words = match names.as_slice() {
        [first, _, .., last] if names.len() > 2 => format!("{first} to {last}"),
        _ => and(&names),
    };
    Some(Tried { words, share_in: share(true), share_out: share(false), chance })
}

/// A civil day, in seconds.
#[derive(Default)]
struct Civil {
    date: i64,
    on: f64,
    expected: f64,
    recorded: f64,
}

impl Civil {
    /// Root of on over expected, with the weight of what was expected.
    fn weighed(&self) -> f64 {
        (self.on * self.expected).sqrt()
    }
}

/// A first or last time that was tried: how many days were without it, and the chance.
pub(super) struct TriedTurn {
    pub(super) days_without: usize,
    pub(super) chance: f64,
}

/// How often it came each day; a day that it only went on through counts once.
pub(super) fn comings(raster: &Raster, on: &[Cells], spans: &[Span]) -> Vec<f64> {
    let mut counts = vec![0.0; raster.len()];
    for span in spans {
        if let Ok(row) = raster.days.binary_search(&day_of(span.0)) {
            counts[row] += 1.0;
        }
    }
    for (count, cells) in counts.iter_mut().zip(on) {
        *count = if sum(cells) > 0.0 { f64::max(*count, 1.0) } else { 0.0 };
    }
    counts
}

/// Whether it went for good; with `reversed`, whether it came new. `counts`: how often it came each day. `None` where
/// it came on too few days.
///
/// Chance that what comes as often from its first day on stays away from its last one to the end. Source: A. R.
/// Solow, Ecology 74, 962, 1993: (last/all) to the number of sightings after the first. That holds for what comes at
/// random at an even rate; of anything else nothing is told.
pub(super) fn gone(counts: &[f64], reversed: bool) -> Option<TriedTurn> {
    let mut days: Vec<f64> = counts.to_vec();
    if reversed {
        days.reverse();
    }
    let (first, last) = (days.iter().position(|n| *n > 0.0)?, days.iter().rposition(|n| *n > 0.0)?);
    if days.iter().filter(|n| **n > 0.0).count() < LEAST_DAYS_ON {
        return None;
    }
    let between = &days[first..=last];
    let longest = between.split(|n| *n > 0.0).map(<[f64]>::len).max().unwrap_or(0);
    let days_without = days.len() - 1 - last;
    // Else it came in one spell, or stayed away as long before.
    let is_spell = first > LONGER * longest && between.len() < 2 * (first + days_without);
    let size = between.len() as f64;
    let away = days_without > LONGER * longest && days_without as f64 >= AWAY_SHARE * size;
    let present = between.iter().filter(|n| **n > 0.0).count() as f64 / size;
    if between.len() < LEAST_SPAN || present < LEAST_PRESENCE || !away || is_spell {
        return None;
    }
    let all: f64 = between.iter().sum();
    let variance = between.iter().map(|n| (n - all / size).powi(2)).sum::<f64>() / (size - 1.0);
    let (seen, whole) = ((last - first) as f64, (days.len() - 1 - first) as f64);
    let is_even = variance <= MOST_DISPERSION * all / size;
    is_even.then(|| TriedTurn { days_without, chance: (seen / whole).powf(all - 1.0) })
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
        let mut on: Vec<f64> = (0..30).map(|day| if day < 18 { 1.0 } else { 0.0 }).collect();
        let turn = gone(&on, false).unwrap();
        assert!((turn.chance - (17f64 / 29.0).powi(17)).abs() < 1e-12);
        assert_eq!(turn.days_without, 12);
        assert!(gone(&on, true).is_none());
        // What was there now and then, or in one spell, may come again.
        on.iter_mut().enumerate().for_each(|(day, n)| *n = if day % 5 == 0 && day < 18 { 5.0 } else { 0.0 });
        assert!(gone(&on, false).is_none());
        on.iter_mut().enumerate().for_each(|(day, n)| *n = if day < 8 { 5.0 } else { 0.0 });
        assert!(gone(&on, false).is_none());
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
