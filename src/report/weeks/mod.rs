//! Weeks of nights, from their reports alone: a calendar of the noise level, each source through the nights, what it
//! keeps to by the clock and the week, and what it goes with.
//!
//! `night`: what is taken from a report; `matching`: which sources are one; `grid`: the weeks as a raster; `habits`,
//! `conditions`: what is tried; `chance`: how likely it is by luck; `words`, `tables`, `calendar`: what is told of
//! it. Here: their order, and what counts once. Not here: where a report is read from (`stored`).

mod calendar;
mod chance;
pub mod conditions;
mod grid;
mod habits;
mod matching;
pub mod night;
pub mod result;
mod tables;
#[cfg(test)]
mod tests;
mod words;

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::findings::picture::FigureFile;
use crate::night::Clock;
use crate::report::contract::Tool;
use crate::signal::spectrum::statistics::{ends, median};
use chance::{TOLD_BELOW, holm, slope};
use conditions::{Conditions, Held};
use grid::{Cells, Raster, date, day_of, days_of};
use matching::Matched;
use night::{Heard, HeardSource, Minute, Night, Span, joined, told};
use result::{
    Coming, Condition, Gap, Habit, HabitKind, NightRead, NotUsed, Pairing, Turn, TurnKind, WeekSource, Weeks,
    WeeksFacts,
};

pub use tables::{COMINGS_CSV, MINUTES_CSV, comings_csv, write_minutes};
pub use words::{PICTURE, lines, markdown, page, picture, post};

/// A coming that goes on in the next night's recording is one, if no more than this lies between, s. Chosen: files
/// are changed in seconds.
const GOES_ON_S: f64 = 60.0;
/// Days with a level of their own for a trend: fewer minutes tell none. Chosen: an hour, where most days have less half
/// of what they have, ten minutes at least; as for habits (`grid`).
const LEAST_MINUTES: f64 = 60.0;
const FEWEST_MINUTES: f64 = 10.0;

/// Why reports make no weeks.
#[derive(Debug, thiserror::Error)]
pub enum WeeksError {
    /// None of them is a night's.
    #[error("not one report of a night could be used. Nothing was written.{0}")]
    Nothing(String),
    /// Several places.
    #[error(
        "the reports are of several stations ({0}), and a calendar is of one. Nothing was written.\n  try: name the \
         reports of one station; the tables of several can be put together"
    )]
    Stations(String),
}

/// What the weeks are made of, and what was found.
#[derive(Debug)]
pub struct Found {
    /// The result.
    pub weeks: Weeks,
    nights: Vec<Night>,
    /// Per source of the result: its spans, for minutes and picture.
    spans: Vec<Vec<Span>>,
    levels: BTreeMap<i64, [f32; grid::BINS]>,
}

/// The clock of most nights.
pub fn clock_of(nights: &[Night]) -> Clock {
    let count = |clock: Clock| nights.iter().filter(|night| night.clock == clock).count();
    // Of those that are equal the first: what is known before what is guessed.
    [Clock::Utc, Clock::Local, Clock::Mixed].into_iter().rev().max_by_key(|c| count(*c)).unwrap_or(Clock::Utc)
}

impl Found {
    /// Puts nights together, whatever their order. `left_out`: what could not be read.
    ///
    /// # Errors
    /// [`WeeksError`].
    pub fn of(
        nights: Vec<Night>,
        conditions: Option<&Conditions>,
        mut left_out: Vec<NotUsed>,
    ) -> Result<Self, WeeksError> {
        let clock = clock_of(&nights);
        let (mut nights, others): (Vec<Night>, Vec<Night>) = nights.into_iter().partition(|n| n.clock == clock);
        left_out.extend(others.into_iter().map(|night| NotUsed {
            why: format!(
                "its times are {}, those of most nights {}: what time of day they have in common can't be told",
                clock_word(night.clock),
                clock_word(clock)
            ),
            name: night.name,
        }));
        if nights.is_empty() {
            let named = left_out.iter().map(|one| format!("\n  {}: {}", one.name, one.why)).collect();
            return Err(WeeksError::Nothing(named));
        }
        let stations = crate::text::each_once(nights.iter().filter_map(|night| night.station.clone()));
        if stations.len() > 1 {
            return Err(WeeksError::Stations(crate::text::and_at_most(&stations, 5)));
        }
        nights.sort_by(|a, b| a.start().total_cmp(&b.start()).then_with(|| a.name.cmp(&b.name)));
        let mut notes = Vec::new();
        let read = count_once(&mut nights, clock, &mut notes);
        let all = joined(nights.iter().flat_map(|night| night.recorded.clone()).collect());
        let (from, until) = (all.first().map_or(0.0, |s| s.0), all.last().map_or(0.0, |s| s.1));
        let searched = nights.iter().filter(|night| night.tells_sources).flat_map(|night| night.recorded.clone());
        let searched = joined(searched.collect());
        let raster = Raster::of(&searched);
        let (matched, untold) = matching::matched(&nights);
        let conditions = conditions.map(|table| table.clone().until(until));
        let held = conditions.as_ref().map_or(Vec::new(), |table| conditions::held(table, &raster, &searched));
        let tried: Vec<TriedSource> = matched
            .par_iter()
            .enumerate()
            .map(|(at, one)| TriedSource::of(at as u64, one, &nights, &raster, &held))
            .collect();
        let alone: Vec<f64> = tried.iter().flat_map(TriedSource::chances).collect();
        let mut counted = holm(&alone).into_iter();
        let searched_s: f64 = searched.iter().map(|span| span.1 - span.0).sum();
        let mut sources = Vec::new();
        for (at, (one, tried)) in matched.iter().zip(&tried).enumerate() {
            let mut source = source(at, one, tried, &nights, (clock, searched_s));
            tried.told(&mut source, &mut counted, conditions.as_ref(), &held);
            sources.push(source);
        }
        let spans: Vec<Vec<Span>> = tried.iter().map(|one| one.spans.clone()).collect();
        let levels = levels(&nights, &joined(spans.iter().flatten().copied().collect()));
        let trend = quiet_trend(&levels, &nights);
        let station = stations.into_iter().next();
        let whole = Raster::of(&all);
        notes.extend(too_short(&whole));
        notes.extend(further_notes(&nights, untold, clock, (from, until)));
        let conditions = conditions.iter().flat_map(|table| &table.words).zip(&held).map(|((word, _), held)| {
            let (with_s, without_s) = (held.with_s, held.without_s);
            Condition { word: word.clone(), with_s, without_s, why_not: held.why_not.clone() }
        });
        let facts = WeeksFacts {
            from: told(from, clock),
            until: told(until, clock),
            clock,
            station,
            recorded_s: all.iter().map(|span| span.1 - span.0).sum(),
            days: whole.len(),
            nights: read,
            gaps: gaps(&whole.every),
            quiet_trend_db_per_week: trend.as_ref().map(|trend| trend.value),
            quiet_trend_ci_db_per_week: trend.map(|trend| trend.ci95),
            sources,
            conditions: conditions.collect(),
            tried: alone.len(),
            left_out,
            notes,
        };
        let weeks = Weeks { schema: 1, tool: Tool::this(), weeks: facts, figures: Vec::new() };
        let levels = levels.into_iter().map(|(day, bins)| (day, bins.map(|level| level.all))).collect();
        Ok(Self { weeks, nights, spans, levels })
    }
}

impl Weeks {
    /// Figures rounded to what they are worth, no absolute path in any text; see
    /// [`Report::published`](crate::report::contract::Report::published).
    #[must_use]
    pub fn published(&self) -> Self {
        super::publish::published(self)
    }

    /// As indented JSON with a line feed at the end.
    pub fn json(&self) -> String {
        super::publish::text(&self.published())
    }

    /// Whether every report was used.
    pub fn is_whole(&self) -> bool {
        self.weeks.left_out.is_empty()
    }

    /// Names the picture beside the report.
    pub fn illustrated(&mut self, figure: FigureFile) {
        self.figures = vec![figure];
    }
}

fn clock_word(clock: Clock) -> &'static str {
    match clock {
        Clock::Utc => "UTC",
        Clock::Local => "the recorder's clock",
        Clock::Mixed => "UTC, in part guessed",
    }
}

/// Takes from each night what an earlier one has, and tells what each adds.
fn count_once(nights: &mut [Night], clock: Clock, notes: &mut Vec<String>) -> Vec<NightRead> {
    let (mut taken, mut read) = (Vec::<Span>::new(), Vec::new());
    let mut twice = Vec::new();
    for night in nights {
        let (from, until) = (night.start(), night.end());
        let length = |night: &Night| night.recorded.iter().map(|span| span.1 - span.0).sum::<f64>();
        let before = length(night);
        night.without(&taken);
        let recorded_s = length(night);
        if before - recorded_s > GOES_ON_S {
            twice.push(format!("{} ({})", night.name, crate::text::clock(before - recorded_s)));
        }
        taken.extend(night.recorded.iter().copied());
        taken = joined(taken);
        read.push(NightRead {
            name: night.name.clone(),
            from: told(from, clock),
            until: told(until, clock),
            recorded_s,
            tells_sources: night.tells_sources,
        });
    }
    if !twice.is_empty() {
        notes.push(format!(
            "Hours that an earlier report has already count once: {}",
            crate::text::and_at_most(&twice, 5)
        ));
    }
    read
}

/// What was tried of one source.
struct TriedSource {
    spans: Vec<Span>,
    days: usize,
    habits: Vec<(HabitKind, habits::Tried)>,
    turns: Vec<(TurnKind, habits::TriedTurn)>,
    /// With the place of the condition.
    pairs: Vec<(usize, conditions::TriedPair)>,
}

impl TriedSource {
    fn of(at: u64, matched: &Matched, nights: &[Night], raster: &Raster, held: &[Held]) -> Self {
        let spans = joined(heard(matched, nights).map(|(_, _, heard)| heard.span).collect());
        let on = raster.cells(spans.iter().copied());
        // A number of its own for each try, the same whatever runs beside it.
        let seed = |kind: u64| (at << 16) + kind;
        let is_enough = habits::days_on(&on) >= habits::LEAST_DAYS_ON;
        let habits = [
            (HabitKind::TimeOfDay, habits::time_of_day(raster, &on, seed(1))),
            (HabitKind::DayOfWeek, habits::day_of_week(raster, &on, seed(2))),
        ];
        let counts = habits::comings(raster, &on, &spans);
        let turns = [(TurnKind::CameNew, true), (TurnKind::WentForGood, false)]
            .map(|(kind, reversed)| (kind, habits::gone(&counts, reversed)));
        let turned = |at: usize| turns[at].1.as_ref().is_some_and(|turn| turn.chance < TOLD_BELOW);
        let from = turned(0).then(|| counts.iter().position(|n| *n > 0.0)).flatten().unwrap_or(0);
        let until = turned(1).then(|| counts.iter().rposition(|n| *n > 0.0)).flatten();
        let rows = from..until.map_or(raster.len(), |last| last + 1);
        let pair = |(place, held): (usize, &Held)| {
            let pair = (is_enough && held.why_not.is_none())
                .then(|| conditions::together(raster, &on, held, rows.clone(), seed(3 + place as u64)))?;
            Some((place, pair))
        };
        Self {
            days: days_of(&spans),
            habits: habits.into_iter().filter_map(|(kind, tried)| Some((kind, tried?))).collect(),
            pairs: held.iter().enumerate().filter_map(pair).collect(),
            turns: turns.into_iter().filter_map(|(kind, tried)| Some((kind, tried?))).collect(),
            spans,
        }
    }

    /// In the order in which [`Self::told`] takes them.
    fn chances(&self) -> Vec<f64> {
        let habits = self.habits.iter().map(|(_, tried)| tried.chance);
        let turns = self.turns.iter().map(|(_, tried)| tried.chance);
        habits.chain(turns).chain(self.pairs.iter().filter_map(|(_, pair)| pair.chance)).collect()
    }

    /// Adds what may be told once all that was tried is counted.
    fn told(
        &self,
        source: &mut WeekSource,
        counted: &mut impl Iterator<Item = f64>,
        table: Option<&Conditions>,
        held: &[Held],
    ) {
        let mut next = || counted.next().unwrap_or(1.0);
        for (kind, tried) in &self.habits {
            let chance = next();
            if chance < TOLD_BELOW && is_clear(tried.share_in, tried.share_out) {
                source.habits.push(Habit {
                    kind: *kind,
                    words: tried.words.clone(),
                    share_in: tried.share_in,
                    share_out: tried.share_out,
                    chance,
                    chance_alone: tried.chance,
                });
            }
        }
        for (kind, tried) in &self.turns {
            let chance = next();
            if chance < TOLD_BELOW {
                let at = if *kind == TurnKind::CameNew { &source.first } else { &source.last };
                source.turns.push(Turn {
                    kind: *kind,
                    at: at.clone(),
                    days_without: tried.days_without,
                    chance,
                    chance_alone: tried.chance,
                });
            }
        }
        for (place, pair) in &self.pairs {
            let chance = pair.chance.map(|_| next());
            // Of two opposites, the one that it goes with.
            let opposite = held[*place].opposite.filter(|_| pair.effect < 0.0);
            let pair = if opposite.is_some() { pair.turned() } else { *pair };
            let place = opposite.unwrap_or(*place);
            let more = pair.share_with.max(pair.share_without);
            source.conditions.push(Pairing {
                word: table.map_or_else(String::new, |table| table.words[place].0.clone()),
                share_with: pair.share_with,
                share_without: pair.share_without,
                days_with: pair.days[0].all,
                days_on_with: pair.days[0].on,
                days_on_without: pair.days[1].on,
                effect: pair.effect,
                effect_ci: pair.effect_ci,
                chance,
                chance_alone: pair.chance,
                told: chance.is_some_and(|chance| chance < TOLD_BELOW) && is_clear(more, more - pair.effect.abs()),
            });
        }
    }
}

/// Whether one share is worth telling beside another: half as much again. Chosen: less helps nobody to find a device,
/// and a timer that is left out three times needs no day of the week.
fn is_clear(more: f64, less: f64) -> bool {
    more > 0.0 && more >= 1.5 * less
}

/// All times that a source was heard, with the night and the source there.
fn heard<'a>(
    matched: &'a Matched,
    nights: &'a [Night],
) -> impl Iterator<Item = (&'a Night, &'a HeardSource, &'a Heard)> {
    matched.heard.iter().flat_map(|(night, at)| {
        let night = &nights[*night];
        let source = &night.sources[*at];
        source.comings.iter().map(move |heard| (night, source, heard))
    })
}

/// What is told of a source without any chance.
fn source(
    at: usize,
    matched: &Matched,
    tried: &TriedSource,
    nights: &[Night],
    (clock, searched_s): (Clock, f64),
) -> WeekSource {
    let mut comings: Vec<(Span, Coming)> = Vec::new();
    let mut all: Vec<_> = heard(matched, nights).collect();
    all.sort_by(|a, b| a.2.span.0.total_cmp(&b.2.span.0));
    for (night, source, heard) in all {
        if let Some((span, last)) = comings.last_mut()
            && last.until_after
            && heard.from_before
            && heard.span.0 - span.1 <= GOES_ON_S
        {
            span.1 = span.1.max(heard.span.1);
            (last.end, last.until_after) = (told(span.1, clock), heard.until_after);
            continue;
        }
        let coming = Coming {
            report: night.name.clone(),
            source: source.id.clone(),
            start: told(heard.span.0, clock),
            end: told(heard.span.1, clock),
            from_before: heard.from_before,
            until_after: heard.until_after,
            excess_db: heard.excess_db,
            excess_ci_db: heard.excess_ci_db,
            trust: heard.trust,
        };
        comings.push((heard.span, coming));
    }
    let excesses: Vec<(f64, f64)> = matched
        .heard
        .iter()
        .filter_map(|(night, at)| Some((nights[*night].start() / WEEK_S, nights[*night].sources[*at].excess_db?)))
        .collect();
    let mut values: Vec<f64> = excesses.iter().map(|(_, db)| *db).collect();
    let range = ends(values.iter().copied());
    let is_any = !values.is_empty();
    let trend = slope(&excesses);
    let on_s: f64 = tried.spans.iter().map(|span| span.1 - span.0).sum();
    WeekSource {
        id: format!("w{}", at + 1),
        character: matched.character(nights),
        known: matched.known.clone(),
        plain: matched.is_plain(),
        may_be: matched.may_be.iter().map(|other| format!("w{}", other + 1)).collect(),
        first: comings.first().map_or_else(String::new, |(_, coming)| coming.start.clone()),
        last: comings.last().map_or_else(String::new, |(_, coming)| coming.end.clone()),
        days: tried.days,
        on_s,
        duty: if searched_s > 0.0 { on_s / searched_s } else { 0.0 },
        excess_db: is_any.then(|| median(&mut values)),
        excess_range_db: is_any.then_some(range.into()),
        excess_trend_db_per_week: trend.as_ref().map(|trend| trend.value),
        excess_trend_ci_db_per_week: trend.map(|trend| trend.ci95),
        comings: comings.into_iter().map(|(_, coming)| coming).collect(),
        habits: Vec::new(),
        turns: Vec::new(),
        conditions: Vec::new(),
    }
}

/// A week, s.
const WEEK_S: f64 = 7.0 * 86_400.0;

/// Levels of a half hour of a day.
#[derive(Clone, Copy)]
struct Level {
    /// Median of the minutes, dBFS; NaN where there are none.
    all: f32,
    /// The same of the minutes without a source.
    quiet: f32,
    minutes: usize,
}

/// Median of the minutes' medians in each half hour of each day.
fn levels(nights: &[Night], noisy: &[Span]) -> BTreeMap<i64, [Level; grid::BINS]> {
    let mut minutes: BTreeMap<i64, Vec<(usize, f64, bool)>> = BTreeMap::new();
    for minute in nights.iter().flat_map(|night| &night.minutes) {
        let day = day_of(minute.at);
        let bin = ((minute.at - 43_200.0).rem_euclid(86_400.0) / grid::BIN_S) as usize;
        let next = noisy.partition_point(|span| span.1 <= minute.at);
        let is_quiet = noisy.get(next).is_none_or(|span| span.0 >= minute.at + 60.0);
        minutes.entry(day).or_default().push((bin.min(grid::BINS - 1), f64::from(minute.median), is_quiet));
    }
    let of = |minutes: Vec<(usize, f64, bool)>| {
        std::array::from_fn(|bin| {
            let here = || minutes.iter().filter(|minute| minute.0 == bin);
            let mut all: Vec<f64> = here().map(|minute| minute.1).collect();
            let mut quiet: Vec<f64> = here().filter(|minute| minute.2).map(|minute| minute.1).collect();
            let count = quiet.len();
            Level { all: median(&mut all) as f32, quiet: median(&mut quiet) as f32, minutes: count }
        })
    };
    minutes.into_iter().map(|(day, minutes)| (day, of(minutes))).collect()
}

/// How the quiet level moves from day to day, once each half hour's own usual level is taken off.
fn quiet_trend(levels: &BTreeMap<i64, [Level; grid::BINS]>, nights: &[Night]) -> Option<chance::Slope> {
    if nights.iter().all(|night| night.minutes.is_empty()) {
        return None;
    }
    let usual: Cells = std::array::from_fn(|bin| {
        let mut there: Vec<f64> =
            levels.values().map(|bins| f64::from(bins[bin].quiet)).filter(|level| level.is_finite()).collect();
        median(&mut there)
    });
    let minutes = |bins: &[Level; grid::BINS]| bins.iter().map(|level| level.minutes).sum::<usize>() as f64;
    let mut each: Vec<f64> = levels.values().map(minutes).collect();
    let least = (median(&mut each) / 2.0).clamp(FEWEST_MINUTES, LEAST_MINUTES);
    let day = |(day, bins): (&i64, &[Level; grid::BINS])| {
        let over = bins.iter().zip(&usual).map(|(level, usual)| f64::from(level.quiet) - usual);
        let mut over: Vec<f64> = over.filter(|over| over.is_finite()).collect();
        (minutes(bins) >= least && !over.is_empty()).then(|| (*day as f64 / 7.0, median(&mut over)))
    };
    slope(&levels.iter().filter_map(day).collect::<Vec<_>>())
}

fn gaps(days: &[i64]) -> Vec<Gap> {
    let between = |pair: &[i64]| {
        let days = pair[1] - pair[0] - 1;
        (days > 0).then(|| Gap {
            from: date(pair[0] + 1).to_string(),
            until: date(pair[1] - 1).to_string(),
            days: u32::try_from(days).unwrap_or(u32::MAX),
        })
    };
    days.windows(2).filter_map(between).collect()
}

/// Days that are too short for habits.
fn too_short(raster: &Raster) -> Option<String> {
    let short = raster.every.len() - raster.len();
    let minutes = crate::text::number(raster.least_s / 60.0, 0);
    (short > 0 && raster.len() > 0).then(|| {
        let days = crate::text::count(short, "day", "days");
        format!("{days} with less than {minutes} min recorded tell nothing of habits")
    })
}

fn further_notes(nights: &[Night], untold: usize, clock: Clock, (from, until): Span) -> Vec<String> {
    let mut notes = Vec::new();
    let silent: Vec<String> = nights.iter().filter(|n| !n.tells_sources).map(|n| n.name.clone()).collect();
    if !silent.is_empty() {
        notes.push(format!(
            "{} made by a version that does not tell sources, so only the noise level counts: {}. The command night \
             makes them anew from the recordings",
            if silent.len() == 1 { "One report was" } else { "Some reports were" },
            crate::text::and_at_most(&silent, 5)
        ));
    }
    if untold > 0 {
        notes.push(format!(
            "{} of single nights had nothing to be known by again and stand in no list here",
            crate::text::count(untold, "source", "sources")
        ));
    }
    if clock == Clock::Mixed {
        notes.push(
            "Some recordings have no offset from UTC and were taken as UTC: times of day may be wrong".into(),
        );
    }
    if until - from > WEEK_S && clocks_may_change(from, until) {
        notes.push(match clock {
            Clock::Local => {
                "Clocks may have changed to or from summer time in these weeks. The recorder's is taken \
                             as it stands: an hour may be missing or there twice"
                    .into()
            }
            Clock::Utc | Clock::Mixed => {
                "Clocks may have changed to or from summer time in these weeks. Times here \
                             are UTC: what goes by the clock on the wall moved by an hour"
                    .into()
            }
        });
    }
    notes
}

/// Whether days lie in it on which clocks are changed somewhere: from 8 March to 7 April, from 24 September to 7
/// November (common practice: North America, Europe, Australia, New Zealand).
fn clocks_may_change(from: f64, until: f64) -> bool {
    let (first, last) = (day_of(from), day_of(until).min(day_of(from) + 366));
    (first..=last).any(|day| {
        let date = date(day);
        matches!((date.month(), date.day()), (3, 8..) | (4, ..8) | (9, 24..) | (10, _) | (11, ..8))
    })
}
