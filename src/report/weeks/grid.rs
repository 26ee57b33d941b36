//! The weeks as a raster: a row from noon to noon, so that a night stays whole, in half hours. What was recorded,
//! and how long each source was on, in seconds a cell.

use std::ops::Range;

use jiff::Timestamp;
use jiff::civil::{Date, Weekday};
use jiff::tz::Offset;

use super::night::Span;
use crate::signal::spectrum::statistics::median;

/// Half hours of a day. Chosen: fine enough for the hours of a household, coarse enough that a month fills them.
pub(super) const BINS: usize = 48;
/// A bin, s.
pub(super) const BIN_S: f64 = 86_400.0 / BINS as f64;
/// From midnight to noon, s.
const NOON_S: f64 = 43_200.0;
/// Days with less recorded tell nothing of whether a source comes, s. Chosen: an hour; where most days have less, half
/// of what they have, since nights at one time of day can be held against each other however short; but so much that
/// a noise can come and be found.
const LEAST_S: f64 = 3600.0;
pub(super) const SHORTEST_S: f64 = 600.0;

/// Seconds in each half hour from noon.
pub(super) type Cells = [f64; BINS];

/// The days with enough recorded, in order.
pub(super) struct Raster {
    /// Days since 1970, each from its noon.
    pub(super) days: Vec<i64>,
    /// What was recorded.
    pub(super) recorded: Vec<Cells>,
    /// When, in each half hour, recordings begin and end, s from its begin: the earliest and the latest of all days.
    pub(super) reach: [(f64, f64); BINS],
    /// All days with a recording, however short.
    pub(super) every: Vec<i64>,
    /// What is enough, s.
    pub(super) least_s: f64,
}

impl Raster {
    pub(super) fn of(recorded: &[Span]) -> Self {
        let mut all: Vec<(i64, Cells)> = Vec::new();
        let mut reach = [(BIN_S, 0f64); BINS];
        for span in recorded {
            spread(*span, |day, bin, seconds| {
                let begin = (day as f64 * BINS as f64 + bin as f64) * BIN_S + NOON_S;
                let (from, to) = ((span.0 - begin).max(0.0), (span.1 - begin).min(BIN_S));
                reach[bin] = (reach[bin].0.min(from), reach[bin].1.max(to));
                if all.last().is_none_or(|last| last.0 < day) {
                    all.push((day, [0.0; BINS]));
                }
                // Spans are in order: no earlier day comes again.
                if let Some(last) = all.last_mut() {
                    last.1[bin] += seconds;
                }
            });
        }
        let every = all.iter().map(|(day, _)| *day).collect();
        let mut lengths: Vec<f64> = all.iter().map(|(_, cells)| sum(cells)).collect();
        let usual_s = if lengths.is_empty() { 0.0 } else { median(&mut lengths) };
        let least_s = (usual_s / 2.0).clamp(SHORTEST_S, LEAST_S);
        all.retain(|(_, cells)| sum(cells) >= least_s);
        let (days, recorded) = all.into_iter().unzip();
        Self { days, recorded, reach, every, least_s }
    }

    /// Some of the days.
    pub(super) fn part(&self, rows: Range<usize>) -> Self {
        Self {
            days: self.days[rows.clone()].to_vec(),
            recorded: self.recorded[rows].to_vec(),
            every: self.every.clone(),
            ..*self
        }
    }

    pub(super) fn len(&self) -> usize {
        self.days.len()
    }

    /// Seconds of some spans in each cell of the raster.
    pub(super) fn cells(&self, spans: impl IntoIterator<Item = Span>) -> Vec<Cells> {
        let mut cells = vec![[0.0; BINS]; self.len()];
        for span in spans {
            spread(span, |day, bin, seconds| {
                if let Ok(row) = self.days.binary_search(&day) {
                    let most = self.recorded[row][bin];
                    cells[row][bin] = (cells[row][bin] + seconds).min(most);
                }
            });
        }
        cells
    }

    /// Share of what was recorded in each half hour of the day, over all days, that a source was on.
    pub(super) fn profile(&self, on: &[Cells]) -> Cells {
        std::array::from_fn(|bin| {
            let sum = |cells: &[Cells]| cells.iter().map(|row| row[bin]).sum::<f64>();
            let recorded = sum(&self.recorded);
            if recorded > 0.0 { sum(on) / recorded } else { 0.0 }
        })
    }
}

/// A day's cells added up.
pub(super) fn sum(cells: &Cells) -> f64 {
    cells.iter().sum()
}

/// Gives day, bin and seconds of each cell that a span touches. A span of more than some ten years is broken.
fn spread((from, to): Span, mut give: impl FnMut(i64, usize, f64)) {
    if !(from.is_finite() && to - from < 4000.0 * 86_400.0) {
        return;
    }
    let mut at = from;
    while at < to {
        let cell = ((at - NOON_S) / BIN_S).floor();
        let end = ((cell + 1.0) * BIN_S + NOON_S).min(to);
        let (day, bin) = ((cell / BINS as f64).floor(), cell.rem_euclid(BINS as f64));
        give(day as i64, (bin as usize).min(BINS - 1), end - at);
        at = if end > at { end } else { to };
    }
}

/// On how many days some spans lie.
pub(super) fn days_of(spans: &[Span]) -> usize {
    let mut days: Vec<i64> = Vec::new();
    spans.iter().for_each(|span| spread(*span, |day, _, _| days.push(day)));
    days.sort_unstable();
    days.dedup();
    days.len()
}

/// The day from noon to noon that a time lies in.
pub(super) fn day_of(at: f64) -> i64 {
    ((at - NOON_S) / 86_400.0).floor() as i64
}

/// Its date.
pub(super) fn date(day: i64) -> Date {
    Offset::UTC.to_datetime(Timestamp::from_second(day.saturating_mul(86_400)).unwrap_or_default()).date()
}

/// Day of the week of a civil day, from Monday as 0.
pub(super) fn weekday(civil: i64) -> usize {
    // 1 January 1970 was a Thursday.
    (civil + 3).rem_euclid(7) as usize
}

/// Its name.
pub(super) fn weekday_name(number: usize) -> &'static str {
    match Weekday::from_monday_zero_offset(number as i8).unwrap_or(Weekday::Monday) {
        Weekday::Monday => "Monday",
        Weekday::Tuesday => "Tuesday",
        Weekday::Wednesday => "Wednesday",
        Weekday::Thursday => "Thursday",
        Weekday::Friday => "Friday",
        Weekday::Saturday => "Saturday",
        Weekday::Sunday => "Sunday",
    }
}

/// "18:00" of a time in a half hour, s from its begin, to the minute.
pub(super) fn hour(bin: usize, after_s: f64) -> String {
    let minutes = (bin * 30 + 720 + (after_s / 60.0).round() as usize) % 1440;
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::weeks::night::seconds;

    #[test]
    fn a_night_is_one_row_and_its_seconds_are_all_there() {
        let at = |text| seconds(text).unwrap();
        let night = (at("2026-03-14T21:40:00Z"), at("2026-03-15T06:00:00Z"));
        let raster = Raster::of(&[night]);
        assert_eq!(raster.len(), 1);
        assert_eq!(date(raster.days[0]).to_string(), "2026-03-14");
        assert_eq!(sum(&raster.recorded[0]), 8.0 * 3600.0 + 1200.0);
        assert_eq!((raster.recorded[0][19], hour(19, 0.0)), (1200.0, "21:30".to_owned()));
        assert_eq!(hour(19, raster.reach[19].0), "21:40");
        assert_eq!(weekday_name(weekday(raster.days[0])), "Saturday");
        assert_eq!(Raster::of(&[(f64::NEG_INFINITY, 0.0), (0.0, 1e300)]).len(), 0);
    }

    /// By construction: ten nights of twenty minutes each are ten days; one of them beside nights of eight hours is
    /// none, but a day with a recording all the same.
    #[test]
    fn short_nights_count_where_most_are_short() {
        let night = |day: usize, seconds: f64| {
            let from = day as f64 * 86_400.0 + 77_400.0;
            (from, from + seconds)
        };
        let short = Raster::of(&(0..10).map(|day| night(day, 1200.0)).collect::<Vec<_>>());
        assert_eq!((short.len(), short.least_s), (10, 600.0));
        let mixed: Vec<Span> = (0..10).map(|day| night(day, if day == 4 { 1200.0 } else { 28_800.0 })).collect();
        let mixed = Raster::of(&mixed);
        assert_eq!((mixed.len(), mixed.every.len(), mixed.least_s), (9, 10, 3600.0));
        assert_eq!(days_of(&[night(1, 60.0), night(1, 600.0), night(3, 86_400.0)]), 3);
        assert_eq!(Raster::of(&[night(0, 500.0)]).len(), 0);
    }
}
