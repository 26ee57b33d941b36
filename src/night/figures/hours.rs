//! The time axis of a night: hours of the day, and long gaps between recordings drawn short.
//! Not here: what is drawn over it (`timeline`, `waterfall`, `on_times`).

use jiff::tz::Offset;

use crate::night::{Clock, Timeline};
use crate::plot::axis::Axis;
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, HPos, Hand, Page, VPos};
use crate::plot::theme::{self, Sizes};

/// A gap longer than this share of all that is recorded is drawn as a break of [`BREAK_SHARE`]. Chosen by eye: a
/// shorter gap is worth its true width.
const LONG_SHARE: f64 = 0.08;
const BREAK_SHARE: f64 = 0.02;
/// Some three hundred years: no night is longer. Chosen: it keeps hostile dates from the arithmetic.
const LONGEST_S: f64 = 1e10;
/// Distances of ticks, s. Chosen: those that clocks and calendars show.
const STEPS_S: [f64; 16] = [
    10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10_800.0, 21_600.0, 43_200.0, 86_400.0,
    172_800.0, 604_800.0,
];

/// What is recorded when, and which hours of the day that is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hours {
    /// Begin and end of each stretch without a gap, seconds from the night's start, in order and apart.
    pub recorded_s: Vec<(f64, f64)>,
    /// Time of day at the night's start, seconds from midnight.
    pub starts_at_s: f64,
    /// The days on which something is recorded, in order.
    pub days: Vec<HoursDay>,
    /// "UTC" or the like.
    pub clock: String,
}

/// A day of the axis.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct HoursDay {
    /// Days since the one the night starts on.
    pub number: u64,
    /// As it is written at midnight where the night is longer than a day: "15 Mar".
    pub short: String,
    /// As it is written below a stretch that follows a long gap, with the year where there are several.
    pub full: String,
}

/// A stretch and where it lies on the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Placed {
    from_s: f64,
    to_s: f64,
    at: f64,
    /// Whether the gap before it is drawn short; the first one has none.
    breaks: bool,
}

/// The axis worked out: seconds recorded, with gaps.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Laid {
    stretches: Vec<Placed>,
    /// Length of the axis.
    pub length: f64,
}

impl Hours {
    /// Where everything lies; `None` where nothing is recorded.
    pub(crate) fn lay(&self) -> Option<Laid> {
        let drawable = |(from, to): &(f64, f64)| from.abs() <= LONGEST_S && to.abs() <= LONGEST_S && to > from;
        let recorded: Vec<(f64, f64)> = self.recorded_s.iter().copied().filter(drawable).collect();
        let all_s: f64 = recorded.iter().map(|(from, to)| to - from).sum();
        let mut stretches: Vec<Placed> = Vec::new();
        for (from_s, to_s) in recorded {
            let gap_s = stretches.last().map_or(0.0, |last| (from_s - last.to_s).max(0.0));
            let breaks = gap_s > LONG_SHARE * all_s;
            let drawn = if breaks { BREAK_SHARE * all_s } else { gap_s };
            let at = stretches.last().map_or(0.0, |last| last.at + last.to_s - last.from_s + drawn);
            stretches.push(Placed { from_s, to_s, at, breaks });
        }
        let last = stretches.last()?;
        let length = last.at + last.to_s - last.from_s;
        Some(Laid { stretches, length })
    }

    /// The axis with at most about `most` ticks at round times of day.
    pub(crate) fn axis(&self, laid: &Laid, most: usize) -> Axis {
        let step_s = STEPS_S.into_iter().find(|step| laid.length / step <= most as f64).unwrap_or(STEPS_S[15]);
        let mut ticks: Vec<(f64, String)> = Vec::new();
        for stretch in &laid.stretches {
            let mut number = ((stretch.from_s + self.starts_at_s) / step_s).ceil();
            while number * step_s - self.starts_at_s <= stretch.to_s {
                let at_s = number * step_s - self.starts_at_s;
                let place = stretch.at + at_s - stretch.from_s;
                // Beyond a break the next tick may lie too close to the last one before it.
                if ticks.last().is_none_or(|last| place - last.0 >= 0.7 * step_s) {
                    ticks.push((place, self.word(number * step_s, step_s, laid.is_long())));
                }
                number += 1.0;
            }
        }
        let caption = if self.below(laid).is_empty() { self.caption() } else { String::new() };
        Axis { lo: 0.0, hi: laid.length, ticks, caption }
    }

    fn caption(&self) -> String {
        format!("Time of day ({})", self.clock)
    }

    /// Where which day begins, to be written below the hours; none where no long gap leads into another day.
    fn below(&self, laid: &Laid) -> Vec<(f64, &str)> {
        let number = |at_s: f64| ((at_s + self.starts_at_s) / 86_400.0).floor().max(0.0) as u64;
        let Some(first) = laid.stretches.first() else { return Vec::new() };
        let begins = laid
            .stretches
            .iter()
            .filter(|stretch| stretch.breaks)
            .map(|stretch| (stretch.at, number(stretch.from_s)));
        let mut days: Vec<(f64, u64)> = vec![(first.at, number(first.from_s))];
        for (at, day) in begins {
            if days.last().is_none_or(|last| last.1 != day) {
                days.push((at, day));
            }
        }
        let named = days.iter().filter_map(|(at, day)| Some((*at, self.day(*day)?.full.as_str())));
        if days.len() > 1 { named.collect() } else { Vec::new() }
    }

    /// More room below the axis than any other axis takes.
    pub(crate) fn more_room_below(&self, laid: &Laid, sizes: &Sizes) -> f64 {
        if self.below(laid).is_empty() { 0.0 } else { sizes.text * 1.25 }
    }

    /// Writes the days below the hours, and below them what the axis shows; nothing where the axis itself says it.
    pub(crate) fn write_days(&self, page: &Page<'_>, chart: &Chart<'_, '_>, laid: &Laid, sizes: &Sizes) -> Drawn {
        let days = self.below(laid);
        if days.is_empty() {
            return Ok(());
        }
        let (size, plot, hand) = (sizes.text, chart.plot, Hand::plain(sizes.text, theme::SOFT_INK));
        let width = |words: &str| letters::width(words, size, false);
        let place = |at: f64| chart.place(at, chart.y.lo).0;
        let wishes: Vec<Wish> = days
            .iter()
            .map(|(at, words)| Wish { x: place(*at) + size * 0.25 + width(words) / 2.0, width: width(words) })
            .collect();
        for ((at, words), seat) in days.iter().zip(chart::seat(&wishes, (plot.left, plot.right), 1, size * 0.5)) {
            let Some(seat) = seat else { continue };
            let (x, top) = (place(*at), plot.bottom + size * 1.75);
            page.hairline((x, top), (x, top + size), theme::RULE)?;
            page.text(words, (seat.middle, top), hand, HPos::Center, VPos::Top)?;
        }
        let caption = letters::cut(&self.caption(), size, false, plot.width() + size * 4.0);
        let middle = (plot.left + plot.right) / 2.0;
        page.text(&caption, (middle, plot.bottom + size * 3.0), hand, HPos::Center, VPos::Top)
    }

    fn day(&self, number: u64) -> Option<&HoursDay> {
        self.days.binary_search_by_key(&number, |day| day.number).ok().map(|at| &self.days[at])
    }

    /// "22:00", "22:00:30", or the day at midnight.
    fn word(&self, since_midnight_s: f64, step_s: f64, is_long: bool) -> String {
        let whole = since_midnight_s.round().max(0.0) as u64;
        let (day, second) = (whole / 86_400, whole % 86_400);
        if let Some(day) = self.day(day).filter(|_| second == 0 && is_long) {
            return day.short.clone();
        }
        let (hour, minute) = (second / 3600, second / 60 % 60);
        if step_s < 60.0 {
            format!("{hour:02}:{minute:02}:{:02}", second % 60)
        } else {
            format!("{hour:02}:{minute:02}")
        }
    }
}

impl Laid {
    /// Where a time lies on the axis; one in a gap at the gap's place.
    pub fn place(&self, at_s: f64) -> f64 {
        let mut before = 0.0;
        for stretch in &self.stretches {
            if at_s < stretch.from_s {
                return (stretch.at - (stretch.from_s - at_s)).max(before);
            }
            before = stretch.at + (at_s.min(stretch.to_s) - stretch.from_s);
            if at_s <= stretch.to_s {
                return before;
            }
        }
        before
    }

    /// Whether it is longer than a day, gaps included.
    fn is_long(&self) -> bool {
        let ends = self.stretches.first().zip(self.stretches.last());
        ends.is_some_and(|(first, last)| last.to_s - first.from_s > 86_400.0)
    }

    /// Whether anything was recorded at a time.
    pub fn holds(&self, at_s: f64) -> bool {
        self.stretches.iter().any(|stretch| (stretch.from_s..=stretch.to_s).contains(&at_s))
    }

    /// Gaps on the axis: begin and end.
    pub fn gaps(&self) -> Vec<(f64, f64)> {
        let end = |one: &Placed| one.at + one.to_s - one.from_s;
        self.stretches.windows(2).map(|pair| (end(&pair[0]), pair[1].at)).filter(|(from, to)| to > from).collect()
    }
}

impl Hours {
    /// That of a night.
    pub(crate) fn of(night: &Timeline) -> Self {
        let mut recorded_s: Vec<(f64, f64)> = Vec::new();
        for passage in &night.passages {
            let (from, to) = (passage.start_s, passage.start_s + passage.duration_s);
            match recorded_s.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => recorded_s.push((from, to)),
            }
        }
        let origin = Offset::UTC.to_datetime(night.origin);
        let clock = match night.clock {
            Clock::Utc => "UTC",
            Clock::Local => "the recorder's clock",
            Clock::Mixed => "UTC, in part guessed",
        };
        let time = origin.time();
        let seconds = i32::from(time.hour()) * 3600 + i32::from(time.minute()) * 60 + i32::from(time.second());
        let days = days(&recorded_s, origin.date(), f64::from(seconds));
        Self { recorded_s, starts_at_s: f64::from(seconds), days, clock: clock.to_owned() }
    }
}

/// Days that are named on the time axis. Chosen: some ten years; beyond, names would not fit anyhow.
const MOST_DAYS: usize = 4000;

/// The days on which something is recorded, at most [`MOST_DAYS`]; `starts_at_s`: time of day of the night's start.
fn days(recorded_s: &[(f64, f64)], first: jiff::civil::Date, starts_at_s: f64) -> Vec<HoursDay> {
    let number = |at_s: f64| ((at_s + starts_at_s) / 86_400.0).floor().max(0.0) as u64;
    let mut numbers: Vec<u64> =
        recorded_s.iter().flat_map(|(from, to)| number(*from)..=number(*to)).take(MOST_DAYS).collect();
    numbers.dedup();
    let date = |number: u64| {
        let after = jiff::Span::new().try_days(i64::try_from(number).ok()?).ok()?;
        Some((number, first.checked_add(after).ok()?))
    };
    let dates: Vec<(u64, jiff::civil::Date)> = numbers.into_iter().filter_map(date).collect();
    let years = dates.iter().any(|(_, date)| date.year() != first.year());
    dates
        .iter()
        .map(|(number, date)| HoursDay {
            number: *number,
            short: date.strftime("%-d %b").to_string(),
            full: date.strftime(if years { "%-d %b %Y" } else { "%-d %b" }).to_string(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn night(recorded_s: Vec<(f64, f64)>) -> Hours {
        Hours {
            recorded_s,
            starts_at_s: 77_400.0,
            days: [(0, "14 Mar"), (1, "15 Mar"), (365, "14 Mar"), (366, "15 Mar")]
                .map(|(number, short)| HoursDay {
                    number,
                    short: short.into(),
                    full: format!("{short} {}", 2026 + number / 365),
                })
                .into(),
            clock: "UTC".into(),
        }
    }

    #[test]
    fn ticks_stand_at_round_hours() {
        let hours = night(vec![(0.0, 8.0 * 3600.0)]);
        let laid = hours.lay().unwrap();
        let axis = hours.axis(&laid, 9);
        let words: Vec<&str> = axis.ticks.iter().map(|(_, word)| word.as_str()).collect();
        assert_eq!(words, ["22:00", "23:00", "00:00", "01:00", "02:00", "03:00", "04:00", "05:00"]);
        assert_eq!(axis.ticks[0].0, 1800.0);
    }

    /// Two nights a year apart: each says its day, and midnight is named. A pause within a night needs no day.
    #[test]
    fn days_are_told_where_a_long_gap_leads_into_another() {
        let hour = 3600.0;
        let year = 365.0 * 86_400.0;
        let hours = night(vec![(0.0, 4.0 * hour), (year, year + 4.0 * hour)]);
        let laid = hours.lay().unwrap();
        let below: Vec<&str> = hours.below(&laid).iter().map(|(_, words)| *words).collect();
        assert_eq!(below, ["14 Mar 2026", "14 Mar 2027"]);
        assert_eq!(hours.below(&laid)[1].0, 4.0 * hour + 0.02 * 8.0 * hour);
        let axis = hours.axis(&laid, 9);
        assert_eq!(axis.ticks.iter().filter(|(_, word)| word == "15 Mar").count(), 2, "{:?}", axis.ticks);
        assert_eq!(axis.caption, "");
        let pause = night(vec![(0.0, hour), (1.5 * hour, 2.0 * hour)]);
        assert!(pause.below(&pause.lay().unwrap()).is_empty());
    }

    /// A gap of years takes a fiftieth; a short one its own length.
    #[test]
    fn long_gaps_are_drawn_short() {
        let laid = night(vec![(0.0, 100.0), (1e8, 1e8 + 100.0), (1e8 + 105.0, 1e8 + 200.0)]).lay().unwrap();
        assert!((laid.length - (295.0 + 5.0 + 0.02 * 295.0)).abs() < 1e-6, "{}", laid.length);
        assert!((laid.place(1e8 + 10.0) - 115.9).abs() < 1e-6);
        assert_eq!(laid.gaps().len(), 2);
        assert_eq!(night(Vec::new()).lay(), None);
        assert_eq!(night(vec![(0.0, f64::NAN)]).lay(), None);
    }
}
