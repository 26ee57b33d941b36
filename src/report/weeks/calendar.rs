//! The calendar: days from left to right, the hours that were recorded downwards, the noise level as colour; below it, in the same
//! days and hours, a lane for each of the sources that were there most.

use std::ops::Range;

use plotters::prelude::Color;
use plotters::style::RGBColor;

use super::grid::{BINS, date, hour};
use crate::plot::axis::Axis;
use crate::plot::chart;
use crate::plot::image::{UNKNOWN, colour_bar};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Sources with a lane of their own. Chosen: as many as there are colours, and as a screen holds.
pub(super) const MOST_LANES: usize = theme::STEPS.len();
/// Height of the level's panel and of a lane, pixels. Chosen by eye.
const PANEL: f64 = 330.0;
const LANE: f64 = 96.0;
/// Air between two of them. Chosen by eye.
const APART: f64 = 14.0;
/// Room to the left, for hours and names, and to the right, for the scale and what is told of a source. Chosen by
/// eye.
const LEFT: f64 = 118.0;
const RIGHT: f64 = 236.0;
/// Days as wide as a break in the calendar. Chosen by eye.
const BREAK: usize = 2;
/// A gap of more days than this and than all that is recorded is drawn as a break. Chosen: a shorter one is worth
/// its width.
const LONG_GAP: i64 = 10;
/// The hours are named so many half hours apart: the first step that makes no more than so many parts. Chosen by eye.
const HOUR_STEPS: [usize; 4] = [2, 4, 6, 12];
const MOST_PARTS: usize = 6;
/// Type of a note that has more than three lines, in parts of the usual. Chosen: a fourth line fits.
const SMALLER: f64 = 0.8;
/// Seconds from noon to noon.
const DAY_S: f64 = 86_400.0;

/// Weeks of nights as a picture.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct CalendarFigure {
    /// The finding.
    pub(super) title: String,
    /// From when to when, and by which clock.
    pub(super) subtitle: String,
    /// Days that something is known of, with the level of each half hour from noon, dBFS; NaN where none is. In
    /// order.
    pub(super) days: Vec<(i64, [f32; BINS])>,
    /// The sources.
    pub(super) lanes: Vec<Lane>,
}

/// One source.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Lane {
    /// "w1".
    pub(super) id: String,
    /// "buzz".
    pub(super) kind: String,
    /// What it keeps to.
    pub(super) note: String,
    /// When it was on, as the figure counts time: seconds since 1970 less half a day.
    pub(super) spans: Vec<(f64, f64)>,
}

impl Single for CalendarFigure {
    fn height(&self) -> u32 {
        (280.0 + PANEL + (LANE + APART) * self.lanes.len().min(MOST_LANES) as f64) as u32
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let columns = columns(&self.days);
        let is_gap =
            |day: &Option<i64>| day.is_none_or(|day| self.days.binary_search_by_key(&day, |d| d.0).is_err());
        let mut legend = vec![(Mark::Area(UNKNOWN.to_rgba()), "not recorded".to_owned())];
        if columns.iter().any(|day| day.is_none()) {
            legend.push((Mark::Dashes(theme::RULE.to_rgba()), "a longer gap".to_owned()));
        }
        let frame = page.legend(frame, &legend, sizes)?;
        let range = self.range();
        let (Some(range), false) = (range, columns.iter().all(is_gap)) else {
            return page.no_data(frame, "no minute with a level", sizes);
        };
        let plot = Frame::new(
            (frame.left + LEFT).round(),
            (frame.top + sizes.text * 0.5).round(),
            (frame.right - RIGHT).round(),
            (frame.top + sizes.text * 0.5 + PANEL).round(),
        );
        let days = Days { columns: &columns, plot, bins: self.bins() };
        let scale = |level: f32| {
            let place = (f64::from(level) - range.0) / (range.1 - range.0) * theme::SCALE_STEPS as f64;
            theme::scale()[(place.max(0.0) as usize).min(theme::SCALE_STEPS - 1)]
        };
        days.image(page, plot, |day, bin| match self.level(day, bin) {
            Some(level) => scale(level),
            None => UNKNOWN,
        })?;
        days.hours(page, plot, sizes, true)?;
        let bar = Frame { left: plot.right + sizes.text * 0.9, right: plot.right + sizes.text * 2.0, ..plot };
        let words = Axis::new(range.0, range.1, chart::ticks_down(PANEL, sizes), "dBFS, stations left out");
        colour_bar(page, bar, &words, sizes)?;
        let mut bottom = plot.bottom;
        for (lane, colour) in self.lanes.iter().zip(theme::STEPS) {
            let plot = Frame { top: bottom + APART, bottom: bottom + APART + LANE, ..plot };
            self.lane(page, &days, plot, (lane, colour), sizes)?;
            bottom = plot.bottom;
        }
        days.dates(page, Frame { bottom, ..plot }, sizes)
    }
}

/// Columns: a day, or `None` for a part of a break.
fn columns(days: &[(i64, [f32; BINS])]) -> Vec<Option<i64>> {
    let mut all: Vec<Option<i64>> = Vec::new();
    for (at, (day, _)) in days.iter().enumerate() {
        if let Some((before, _)) = at.checked_sub(1).map(|at| days[at]) {
            let gap = day.saturating_sub(before) - 1;
            if gap > LONG_GAP.max(days.len() as i64) {
                all.extend([None; BREAK]);
            } else {
                all.extend((before + 1..*day).map(Some));
            }
        }
        all.push(Some(*day));
    }
    all
}

impl CalendarFigure {
    /// Levels that the colours span: all but the wildest.
    fn range(&self) -> Option<(f64, f64)> {
        let mut all: Vec<f32> = self.days.iter().flat_map(|day| day.1).filter(|level| level.abs() < 1e4).collect();
        if all.is_empty() {
            return None;
        }
        all.sort_by(f32::total_cmp);
        let at = |share: f64| f64::from(all[((all.len() - 1) as f64 * share).round() as usize]);
        let low = at(0.01).floor();
        Some((low, at(0.99).ceil().max(low + 6.0)))
    }

    /// The half hours from noon that were recorded on any day, rounded out to hours.
    fn bins(&self) -> Range<usize> {
        let is_recorded = |bin: &usize| self.days.iter().any(|day| day.1[*bin].is_finite());
        let first = (0..BINS).find(is_recorded).unwrap_or(0);
        let last = (0..BINS).rfind(is_recorded).unwrap_or(BINS - 1);
        first / 2 * 2..(last / 2 + 1) * 2
    }

    fn level(&self, day: i64, bin: usize) -> Option<f32> {
        let at = self.days.binary_search_by_key(&day, |day| day.0).ok()?;
        Some(self.days[at].1[bin]).filter(|level| level.is_finite())
    }

    fn lane(
        &self,
        page: &Page<'_>,
        days: &Days<'_>,
        plot: Frame,
        (lane, colour): (&Lane, RGBColor),
        sizes: &Sizes,
    ) -> Drawn {
        days.image(page, plot, |day, bin| match self.level(day, bin) {
            Some(_) => theme::GROUND,
            None => UNKNOWN,
        })?;
        for span in &lane.spans {
            days.bars(*span).try_for_each(|(left, right, from, to)| {
                let y = |share: f64| plot.top + share * plot.height();
                // What is short must still be seen.
                let (from, to) = (y(from), y(to));
                let air = ((2.0 - (to - from)) / 2.0).max(0.0);
                page.fill(Frame::new(left, from - air, right, to + air), colour)
            })?;
        }
        days.hours(page, plot, sizes, false)?;
        let right = plot.left - sizes.text * 0.5;
        let middle = (plot.top + plot.bottom) / 2.0;
        let hand = Hand::bold(sizes.text, colour);
        page.text(&lane.id, (right, middle - sizes.text * 0.6), hand, HPos::Right, VPos::Center)?;
        let kind = letters::cut(&lane.kind, sizes.text, false, LEFT - sizes.text * 0.5);
        let hand = Hand::plain(sizes.text, theme::SOFT_INK);
        page.text(&kind, (right, middle + sizes.text * 0.6), hand, HPos::Right, VPos::Center)?;
        let room = RIGHT - sizes.text * 0.7;
        let is_long = letters::wrap(&lane.note, sizes.text, false, room, 4).len() > 3;
        let size = if is_long { sizes.text * SMALLER } else { sizes.text };
        let lines = letters::wrap(&lane.note, size, false, room, if is_long { 4 } else { 3 });
        let high = size * letters::LEADING;
        for (at, line) in lines.iter().enumerate() {
            let y = middle + high * (at as f64 - (lines.len() - 1) as f64 / 2.0);
            let hand = Hand::plain(size, theme::INK);
            page.text(line, (plot.right + sizes.text * 0.7, y), hand, HPos::Left, VPos::Center)?;
        }
        Ok(())
    }
}

/// The days across.
struct Days<'a> {
    columns: &'a [Option<i64>],
    plot: Frame,
    /// Half hours from noon that are drawn.
    bins: Range<usize>,
}

impl Days<'_> {
    fn width(&self) -> f64 {
        self.plot.width() / self.columns.len().max(1) as f64
    }

    fn x(&self, column: usize) -> f64 {
        (self.plot.left + self.width() * column as f64).round()
    }

    /// The colour of each cell as dots; where several days fall on one dot, the first.
    fn image(&self, page: &Page<'_>, plot: Frame, colour: impl Fn(i64, usize) -> RGBColor) -> Drawn {
        let (width, height) = (plot.width() as usize, plot.height() as usize);
        let mut rgb = Vec::with_capacity(width * height * 3);
        let column = |x: usize| {
            let at = (x as f64 + 0.5) / width as f64 * self.columns.len() as f64;
            self.columns[(at as usize).min(self.columns.len() - 1)]
        };
        // Every cell is asked once a dot across, not once a dot.
        let rows: Vec<Vec<RGBColor>> = self
            .bins
            .clone()
            .map(|bin| (0..width).map(|x| column(x).map_or(theme::GROUND, |day| colour(day, bin))).collect())
            .collect();
        for y in 0..height {
            let row = (y * rows.len() / height.max(1)).min(rows.len() - 1);
            rows[row].iter().for_each(|RGBColor(r, g, b)| rgb.extend([*r, *g, *b]));
        }
        page.image((plot.left, plot.top), (width as u32, height as u32), rgb)?;
        for (at, _) in self.columns.iter().enumerate().filter(|(_, day)| day.is_none()).step_by(BREAK) {
            let x = self.x(at) + self.width() * BREAK as f64 / 2.0;
            page.dashes(&[(x, plot.top), (x, plot.bottom)], theme::RULE, 1.4)?;
        }
        Ok(())
    }

    /// Left and right, and begin and end as shares of the hours drawn, for each day that a span touches.
    fn bars(&self, (from, to): (f64, f64)) -> impl Iterator<Item = (f64, f64, f64, f64)> {
        let day = |at: f64| (at / DAY_S).floor() as i64;
        let here = move |at: &(usize, &Option<i64>)| at.1.is_some_and(|d| d >= day(from) && d <= day(to));
        self.columns.iter().enumerate().filter(here).map(move |(at, column)| {
            let begin = column.unwrap_or(0) as f64 * DAY_S;
            let (first, drawn) = (self.bins.start as f64, self.bins.len() as f64);
            let share = |at: f64| (((at - begin) / DAY_S * BINS as f64 - first) / drawn).clamp(0.0, 1.0);
            (self.x(at), self.x(at + 1).max(self.x(at) + 1.0), share(from), share(to))
        })
    }

    /// Whole hours.
    fn hours(&self, page: &Page<'_>, plot: Frame, sizes: &Sizes, named: bool) -> Drawn {
        let Range { start, end } = self.bins;
        let is_wide = |step: &usize| self.bins.len() <= MOST_PARTS * step;
        let step = HOUR_STEPS.into_iter().find(is_wide).unwrap_or(BINS / 4);
        for bin in (start.next_multiple_of(step)..=end).step_by(step) {
            let y = plot.top + plot.height() * (bin - start) as f64 / self.bins.len() as f64;
            let is_edge = bin == start || bin == end;
            if !is_edge {
                page.hairline((plot.left, y), (plot.right, y), theme::RULE)?;
            }
            if named {
                let hand = Hand::plain(sizes.text, theme::SOFT_INK);
                page.text(&hour(bin, 0.0), (plot.left - sizes.text * 0.4, y), hand, HPos::Right, VPos::Center)?;
            }
        }
        Ok(())
    }

    /// Dates below: the first day of each month or week, or each day, as there is room.
    fn dates(&self, page: &Page<'_>, plot: Frame, sizes: &Sizes) -> Drawn {
        let room = sizes.text * 4.2;
        let days = || self.columns.iter().enumerate().filter_map(|(at, day)| Some((at, (*day)?)));
        let wide = |most: f64| self.width() * most >= room;
        let is_named = |day: i64, first: bool| match () {
            () if wide(1.0) => true,
            () if wide(7.0) => super::grid::weekday(day) == 0,
            () => date(day).day() == 1,
        } || first;
        let (mut last, mut year) = (f64::NEG_INFINITY, None);
        let mut after_break = true;
        for (at, day) in days() {
            let first = std::mem::replace(&mut after_break, self.columns.get(at + 1) == Some(&None));
            let x = self.x(at);
            if !is_named(day, first) || x - last < room {
                continue;
            }
            let date = date(day);
            let form = if year.is_some_and(|year| year != date.year()) { "%-d %b %Y" } else { "%-d %b" };
            (last, year) = (x, Some(date.year()));
            page.hairline((x, plot.bottom), (x, plot.bottom + sizes.text * 0.3), theme::RULE)?;
            let hand = Hand::plain(sizes.text, theme::SOFT_INK);
            let words = date.strftime(form).to_string();
            page.text(&words, (x, plot.bottom + sizes.text * 0.45), hand, HPos::Left, VPos::Top)?;
        }
        Ok(())
    }
}
