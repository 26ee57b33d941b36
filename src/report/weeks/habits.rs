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
/// What came new and was there on every day since, the last one too, is told after fewer days. Chosen: a week, so that
/// no day of the week explains it.
const EACH_DAY: usize = 7;
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
        words: hours_of(&found, raster, &recorded),
        share_in: found.share_in,
        share_out: found.share_out,
        chance,
    })
}

/// "18:45 to 19:00": the window without ends that were never recorded, and holes in it named.
fn hours_of(found: &Window, raster: &Raster, recorded: &Cells) -> String {
    let bins: Vec<usize> = (found.from..found.from + found.width).map(|bin| bin % BINS).collect();
    let held = bins.split(|bin| recorded[*bin] <= 0.0).filter(|held| !held.is_empty());
    // Of each stretch, when its recordings begin and end.
    let stretches: Vec<(String, String)> = held
        .map(|held| {
            let (first, last) = (held[0], held[held.len() - 1]);
            (hour(first, raster.reach[first].0), hour(last, raster.reach[last].1))
        })
        .collect();
    let holes: Vec<String> = stretches.windows(2).map(|pair| format!("{} to {}", pair[0].1, pair[1].0)).collect();
    let ends = stretches.first().zip(stretches.last());
    let words = ends.map_or_else(String::new, |(first, last)| format!("{} to {}", first.0, last.1));
    if holes.is_empty() { words } else { format!("{words} ({} not recorded)", and(&holes)) }
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
            let score = excess(inside, on_all, share);
            if share >= LEAST_SHARE && score > best.score {
                let outside = (on_all - inside) / (expected_all - held);
                best = Window { score, from, width, share_in: inside / held, share_out: outside };
            }
        }
    }
    best
}

/// How marked it is that a part, a share of all that was expected, has `inside` of all that was found; 0 where it has
/// no more than its share.
fn excess(inside: f64, on_all: f64, share: f64) -> f64 {
    let over = inside - on_all * share;
    // What is on all the time differs by rounding alone.
    if over <= 1e-6 * on_all || share >= 1.0 { 0.0 } else { over * over / (share * (1.0 - share)) }
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
    let kept = most_marked(&found.0, &found.1);
    let share = |wanted: bool| {
        let days = as_found.iter().zip(&civil).filter(|(number, _)| kept.contains(number) == wanted);
        let (on, recorded) = days.fold((0.0, 0.0), |(on, rec), (_, day)| (on + day.on, rec + day.recorded));
        if recorded > 0.0 { on / recorded } else { 0.0 }
    };
    Some(Tried { words: days_of(&kept), share_in: share(true), share_out: share(false), chance })
}

/// The days of the week in which `weighed` most exceeds what their part of `expected` gives, at most
/// [`MOST_WEEKDAYS`]: of each number of days those that exceed it most are best, so no others are tried.
fn most_marked(weighed: &[f64; 7], expected: &[f64; 7]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..7).filter(|day| weighed[*day] > 0.0 && expected[*day] > 0.0).collect();
    let rate = |day: &usize| weighed[*day] / expected[*day];
    order.sort_by(|a, b| rate(b).total_cmp(&rate(a)));
    let (on_all, expected_all): (f64, f64) = (weighed.iter().sum(), expected.iter().sum());
    let (mut inside, mut held, mut best) = (0.0, 0.0, (0.0, 0));
    for (at, day) in order.iter().enumerate().take(MOST_WEEKDAYS) {
        inside += weighed[*day];
        held += expected[*day];
        let score = excess(inside, on_all, held / expected_all);
        if score > best.0 {
            best = (score, at + 1);
        }
    }
    order.truncate(best.1);
    order.sort_unstable();
    order
}

/// "Monday to Wednesday and Saturday": days from Monday as 0, in order, three or more in a row from the first to the
/// last, also over the end of the week.
fn days_of(kept: &[usize]) -> String {
    // Told from the first day behind one that is not kept.
    let first = (0..7).find(|day| kept.contains(day) && !kept.contains(&((day + 6) % 7))).unwrap_or(0);
    let week: Vec<Option<usize>> =
        (first..first + 7).map(|day| Some(day % 7).filter(|day| kept.contains(day))).collect();
    let runs = week.split(Option::is_none).map(|run| run.iter().flatten().copied().collect::<Vec<usize>>());
    let words = runs.flat_map(|run| match run.as_slice() {
        [first, _, .., last] => vec![format!("{} to {}", weekday_name(*first), weekday_name(*last))],
        days => days.iter().map(|day| weekday_name(*day).to_owned()).collect(),
    });
    and(&words.collect::<Vec<_>>())
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
    let each_day = reversed && first == 0 && longest == 0;
    let least = if each_day { EACH_DAY } else { LEAST_SPAN };
    if between.len() < least || present < LEAST_PRESENCE || !away || is_spell {
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
        let all: Vec<Span> = (0..days).map(|day| whole(20_000 + day as i64)).collect();
        Raster::of(&all)
    }

    /// From noon to noon, s since 1970.
    fn whole(day: i64) -> Span {
        (day as f64 * 86_400.0 + 43_200.0, day as f64 * 86_400.0 + 129_600.0)
    }

    /// Source: Solow 1993: sightings on days 0 to 17 of 0 to 29: (17/29)^17.
    #[test]
    fn what_stays_away_is_told_by_the_published_chance() {
        let mut on: Vec<f64> = (0..30).map(|day| if day < 18 { 1.0 } else { 0.0 }).collect();
        let turn = gone(&on, false).unwrap();
        assert!((turn.chance - (17f64 / 29.0).powi(17)).abs() < 1e-12);
        assert_eq!(turn.days_without, 12);
        assert!(gone(&on, true).is_none());
        // There on each of the last 7 of 16 days, and on none before: (6/15)^6.
        let new: Vec<f64> = (0..16).map(|day| if day < 9 { 0.0 } else { 1.0 }).collect();
        let turn = gone(&new, true).unwrap();
        assert!((turn.chance - 0.4f64.powi(6)).abs() < 1e-12 && turn.days_without == 9);
        assert!(gone(&new[..15], true).is_none(), "six days are no week");
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

    /// Cells of what was on between two times of some days, in hours from the day's midnight.
    fn on(raster: &Raster, from_h: f64, to_h: f64, is_on: impl Fn(usize) -> bool) -> Vec<Cells> {
        let days = raster.days.iter().filter(|day| is_on(weekday(**day)));
        raster.cells(days.map(|day| {
            let midnight = *day as f64 * 86_400.0;
            (midnight + from_h * 3600.0, midnight + to_h * 3600.0)
        }))
    }

    /// Recorded from 18:45 to 20:00 each evening: no habit reaches into other hours.
    #[test]
    fn a_habit_keeps_to_the_hours_that_were_recorded() {
        let spans = |from_h: f64, to_h: f64| {
            (20_000..20_028).map(move |day| {
                let midnight = f64::from(day) * 86_400.0;
                (midnight + from_h * 3600.0, midnight + to_h * 3600.0)
            })
        };
        let raster = Raster::of(&spans(18.75, 20.0).collect::<Vec<_>>());
        let clicks = on(&raster, 18.77, 18.88, |_| true);
        assert_eq!(time_of_day(&raster, &clicks, 1).unwrap().words, "18:45 to 19:00");
        let last = on(&raster, 19.6, 19.9, |_| true);
        assert_eq!(time_of_day(&raster, &last, 1).unwrap().words, "19:30 to 20:00");
        // With a hole from 20:00 to 22:15, on to both sides of it.
        let mut both: Vec<Span> = spans(18.75, 20.0).chain(spans(22.25, 27.0)).collect();
        both.sort_by(|a, b| a.0.total_cmp(&b.0));
        let raster = Raster::of(&both);
        let round = on(&raster, 19.5, 22.5, |_| true);
        let words = time_of_day(&raster, &round, 1).unwrap().words;
        assert_eq!(words, "19:30 to 22:30 (20:00 to 22:15 not recorded)");
    }

    #[test]
    fn a_habit_names_no_day_without_the_noise() {
        let raster = raster(28);
        let words = |days: &'static [usize]| {
            let on = on(&raster, 19.5, 19.7, |day| days.contains(&day));
            let found = day_of_week(&raster, &on, 1).unwrap();
            assert!(found.share_out == 0.0 && found.chance < 0.01, "{days:?} {}", found.chance);
            found.words
        };
        assert_eq!(words(&[1, 3]), "Tuesday and Thursday");
        assert_eq!(words(&[1, 5]), "Tuesday and Saturday");
        assert_eq!(words(&[6, 0, 1]), "Sunday to Tuesday");
        assert_eq!(words(&[0, 1, 2, 5]), "Monday to Wednesday and Saturday");
        // Wednesdays never recorded: nothing is said of them.
        let recorded: Vec<Span> =
            raster.days.iter().filter(|day| weekday(**day) != 2).map(|day| evening(*day)).collect();
        let raster = Raster::of(&recorded);
        let on = on(&raster, 19.5, 19.7, |day| [1, 3].contains(&day));
        assert_eq!(day_of_week(&raster, &on, 1).unwrap().words, "Tuesday and Thursday");
    }

    /// From six to midnight, s since 1970.
    fn evening(day: i64) -> Span {
        let midnight = day as f64 * 86_400.0;
        (midnight + 64_800.0, midnight + 86_400.0)
    }
}
