//! How far a device stands above the noise, band by band, with intervals: without remedy and after each, in one
//! picture.

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::dots::{Dot, SHAPES, Shape};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Excess by band.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExcessFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// The device without remedy, then after each, in order.
    pub steps: Vec<ExcessStep>,
    /// The smallest excess that would have been called, dB.
    pub detection_limit_db: Option<f64>,
    /// The common passband.
    pub passband_hz: (f64, f64),
}

/// One step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExcessStep {
    /// "no remedy", or the remedy.
    pub label: String,
    /// Middle of the band (Hz), excess (dB), lower and upper end of its 95 % interval (dB); by rising frequency.
    pub bands: Vec<(f64, f64, f64, f64)>,
    /// Excess of the whole passband with its interval, dB.
    pub overall: Option<(f64, f64, f64)>,
    /// Excess with all that the device adds, dB, where that is lines in the main.
    pub with_lines_db: Option<f64>,
    /// Whether its figures may be off.
    pub doubtful: bool,
}

/// The axis spans no less than this on either side of 0, or twice as much on one side, dB. Chosen: half an S-unit
/// (IARU Region 1, R.1), so that what hardly anybody hears looks small.
const LEAST_SPAN_DB: f64 = 3.0;
/// Of the other side so much is shown, dB. Chosen: 0 is seen not to be the end.
const LEAST_SIDE_DB: f64 = 1.0;
/// Steps drawn. Chosen: as many as have a colour; more would hide each other.
const MOST_STEPS: usize = theme::STEPS.len();
/// Of the width, at most so much goes to the names of the steps. Chosen by eye.
const NAMES_SHARE: f64 = 0.27;

impl Single for ExcessFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let shown = self.shown(sizes);
        let frame = page.legend(frame, &self.legend(&shown, sizes), sizes)?;
        if shown.is_empty() {
            return page.no_data(frame, "no excess to show", sizes);
        }
        let (low, high) = self.decibels(&shown);
        let (from, to) = self.frequencies(&shown);
        let height = frame.height() - chart::room_below(sizes);
        let y = Axis::new(low, high, chart::ticks_down(height, sizes), "On above off (dB)");
        let names = names_width(&shown, frame, sizes);
        let plot = Frame::new(
            (frame.left + chart::room_left(&y, sizes)).round(),
            (frame.top + sizes.text * 0.45).round(),
            (frame.right - names - sizes.text * 0.6).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        let x = Axis::frequency(from, to, chart::ticks_across(plot.width(), sizes), "Audio frequency");
        let chart = Chart::over(page, plot, x, y, sizes);
        if let Some(limit) = self.limit() {
            chart.bar((from, to), (-limit, limit), theme::SHADE)?;
        }
        chart.grid_down(true)?;
        chart.grid_across(false)?;
        let zero = chart.place(from, 0.0).1;
        page.hairline((plot.left, zero), (plot.right, zero), theme::INK)?;
        for (i, one) in shown.iter().enumerate().rev() {
            one.paint(&chart, (i, shown.len()), sizes)?;
        }
        if sizes.is_panel() { Ok(()) } else { self.names(page, &chart, &shown, frame.right, sizes) }
    }
}

/// A step with its looks.
struct Shown<'a> {
    step: &'a ExcessStep,
    shape: Shape,
    colour: RGBColor,
}

impl ExcessFigure {
    fn limit(&self) -> Option<f64> {
        self.detection_limit_db.filter(|limit| axis::is_sound(*limit) && *limit > 0.0)
    }

    /// Steps that have something to draw: all, or the first and the last ones. A panel shows the first: the ladder
    /// stands beside it.
    fn shown(&self, sizes: &Sizes) -> Vec<Shown<'_>> {
        let sound: Vec<&ExcessStep> = self.steps.iter().filter(|step| step.has_something()).collect();
        let most = if sizes.is_panel() { 1 } else { MOST_STEPS };
        let left_out = sound.len().saturating_sub(most);
        let kept = sound.iter().enumerate().filter(|(i, _)| *i == 0 || *i > left_out);
        let looks = (0..).map(|i| (SHAPES[i % SHAPES.len()], theme::STEPS[i % MOST_STEPS]));
        kept.take(most).zip(looks).map(|((_, step), (shape, colour))| Shown { step, shape, colour }).collect()
    }

    /// The passband with a small margin, or what the bands span.
    fn frequencies(&self, shown: &[Shown<'_>]) -> (f64, f64) {
        let (low, high) = self.passband_hz;
        let middles = shown.iter().flat_map(|one| one.step.sound_bands()).map(|band| band.0);
        let passband = [low, high].into_iter().filter(|_| low < high);
        let all: Vec<f64> = middles.chain(passband).filter(|hz| axis::is_sound(*hz)).collect();
        let from = all.iter().copied().fold(f64::INFINITY, f64::min);
        let to = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let margin = ((to - from) * 0.02).max(1.0);
        ((from - margin).max(0.0), to + margin)
    }

    /// Zero, three decibels on either side, every value and, as far as they keep the values readable, the
    /// intervals.
    fn decibels(&self, shown: &[Shown<'_>]) -> (f64, f64) {
        let overall = |one: &Shown<'_>| {
            let all = one.step.with_lines_db.map(|db| (db, db, db));
            one.step.overall.into_iter().chain(all).collect::<Vec<_>>()
        };
        let bands = shown.iter().flat_map(|one| one.step.sound_bands()).map(|band| (band.1, band.2, band.3));
        let values: Vec<(f64, f64, f64)> =
            bands.chain(shown.iter().flat_map(overall)).filter(|value| axis::is_sound(value.0)).collect();
        let least = self.limit().unwrap_or(0.0).max(LEAST_SIDE_DB);
        let low = values.iter().map(|value| value.0).fold(0.0, f64::min);
        let high = values.iter().map(|value| value.0).fold(0.0, f64::max);
        // What one side has more than its three decibels, the other may have less.
        let side = |other: f64| (2.0 * LEAST_SPAN_DB - other).clamp(0.0, LEAST_SPAN_DB).max(least);
        let (low, high) = (low.min(-side(high)), high.max(side(-low)));
        let beyond = ((high - low) * 0.6).max(3.0);
        let ends = values.iter().flat_map(|value| [value.1, value.2]).filter(|end| axis::is_sound(*end));
        let ends: Vec<f64> = ends.map(|end| end.clamp(low - beyond, high + beyond)).collect();
        let low = ends.iter().copied().fold(low, f64::min);
        let high = ends.iter().copied().fold(high, f64::max);
        let margin = (high - low) * 0.04;
        (low - margin, high + margin)
    }

    /// The name and the figure of each step at its height, behind the passband.
    fn names(
        &self,
        page: &Page<'_>,
        chart: &Chart<'_, '_>,
        shown: &[Shown<'_>],
        right: f64,
        sizes: &Sizes,
    ) -> Drawn {
        let blocks: Vec<Block> =
            shown.iter().map(|one| one.block(right - name_left(chart, sizes), sizes)).collect();
        let wishes: Vec<f64> = shown.iter().map(|one| chart.place(chart.x.lo, one.step.level()).1).collect();
        let rows = blocks.iter().map(|block| block.lines.len()).max().unwrap_or(1) as f64;
        let row = sizes.text * 1.08;
        let room = (chart.plot.top + row * rows / 2.0, chart.plot.bottom - row * rows / 2.0);
        let heights = chart::stacked(&wishes, row * rows + sizes.text * 0.35, room);
        let left = name_left(chart, sizes);
        for ((one, block), middle) in shown.iter().zip(&blocks).zip(heights) {
            let first = middle - row * (block.lines.len() as f64 - 1.0) / 2.0;
            one.dot(sizes).draw(page, (left - sizes.text * 0.62, first))?;
            for (i, line) in block.lines.iter().enumerate() {
                let hand = match i + 1 > block.words {
                    true => Hand::bold(sizes.text, theme::INK),
                    false => Hand::plain(sizes.text, theme::INK),
                };
                page.text(line, (left, first + row * i as f64), hand, HPos::Left, VPos::Center)?;
            }
        }
        Ok(())
    }

    fn legend(&self, shown: &[Shown<'_>], sizes: &Sizes) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if let Some(one) = shown.first() {
            let words = if sizes.is_panel() { "by band, 95 %" } else { "bands, with their 95 % intervals" };
            entries.push((Mark::Dot(one.colour.to_rgba()), words.to_owned()));
        }
        if !sizes.is_panel() && shown.iter().any(|one| one.step.overall().is_some()) {
            entries.push((Mark::Dashes(theme::SOFT_INK.to_rgba()), "the whole passband".to_owned()));
        }
        if let Some(one) = shown.iter().find(|one| one.step.with_lines_db.is_some()) {
            entries.push((Mark::Curve(one.colour.to_rgba()), "with its carriers".to_owned()));
        }
        if let Some(limit) = self.limit() {
            let words = if sizes.is_panel() { "not noticed" } else { "too little to be noticed" };
            entries.push((Mark::Area(theme::SHADE.to_rgba()), format!("{words} (±{})", axis::decibels(limit))));
        }
        entries
    }
}

/// Words of a step: lines of its name, then its figure.
struct Block {
    lines: Vec<String>,
    words: usize,
}

fn name_left(chart: &Chart<'_, '_>, sizes: &Sizes) -> f64 {
    chart.plot.right + sizes.text * 1.6
}

fn names_width(shown: &[Shown<'_>], frame: Frame, sizes: &Sizes) -> f64 {
    if sizes.is_panel() {
        return 0.0;
    }
    let width = |one: &Shown<'_>| {
        let figure = letters::width(&one.figure(), sizes.text, true);
        letters::width(&one.step.label, sizes.text, false).max(figure)
    };
    let widest = shown.iter().map(width).fold(0.0, f64::max);
    widest.min(frame.width() * NAMES_SHARE) + sizes.text * 1.1
}

impl ExcessStep {
    fn sound_bands(&self) -> impl Iterator<Item = (f64, f64, f64, f64)> + '_ {
        self.bands.iter().copied().filter(|band| axis::is_sound(band.0) && axis::is_sound(band.1))
    }

    fn overall(&self) -> Option<(f64, f64, f64)> {
        self.overall.filter(|overall| axis::is_sound(overall.0))
    }

    fn has_something(&self) -> bool {
        self.overall().is_some() || self.sound_bands().next().is_some()
    }

    /// Where its name stands: at its whole excess, else at the last band.
    fn level(&self) -> f64 {
        let last = || self.sound_bands().last().map_or(0.0, |band| band.1);
        self.overall().map_or_else(last, |overall| overall.0)
    }
}

impl Shown<'_> {
    fn dot(&self, sizes: &Sizes) -> Dot<RGBColor> {
        Dot { shape: self.shape, radius: sizes.text * 0.26, colour: self.colour, hollow: self.step.doubtful }
    }

    fn figure(&self) -> String {
        let doubt = if self.step.doubtful { ", doubtful" } else { "" };
        self.step.overall().map_or_else(String::new, |overall| format!("{}{doubt}", axis::estimate(overall)))
    }

    fn block(&self, room: f64, sizes: &Sizes) -> Block {
        let mut lines = letters::wrap(&self.step.label, sizes.text, false, room, 3);
        let words = lines.len();
        lines.extend(letters::wrap(&self.figure(), sizes.text, true, room, 2));
        Block { lines, words }
    }

    /// The whole excess as a line, the bands as dots; of several steps each stands a little aside.
    fn paint(&self, chart: &Chart<'_, '_>, (number, of): (usize, usize), sizes: &Sizes) -> Drawn {
        let whole = [chart.x.lo, chart.x.hi];
        if let Some(overall) = self.step.overall() {
            chart.dashes(&whole.map(|x| (x, overall.0)), self.colour, sizes.curve * 0.7)?;
        }
        if let Some(db) = self.step.with_lines_db.filter(|db| axis::is_sound(*db)) {
            chart.curve(&whole.map(|x| (x, db)), self.colour, sizes.curve)?;
            let at = (chart.plot.right - sizes.text * 0.4, chart.place(chart.x.hi, db).1 - sizes.text * 0.35);
            if !sizes.is_panel() {
                let which = if of > 1 { format!("{}: ", self.step.label) } else { String::new() };
                let sign = if db > 0.0 { "+" } else { "" };
                let words = format!("{which}with its carriers {sign}{}", axis::decibels(db));
                let words = letters::cut(&words, sizes.text, true, chart.plot.width());
                chart.page.text(&words, at, Hand::bold(sizes.text, theme::INK), HPos::Right, VPos::Bottom)?;
            }
        }
        let bands: Vec<(f64, f64, f64, f64)> = self.step.sound_bands().collect();
        let room = chart.plot.width() / bands.len().max(1) as f64;
        let dot = self.dot(sizes);
        let dot = Dot { radius: dot.radius.min(room * 0.45).max(1.5), ..dot };
        // Side by side within two thirds of the band's width.
        let apart = (room * 0.66 / of as f64).min(dot.radius * 2.2);
        let aside = apart * (number as f64 - (of as f64 - 1.0) / 2.0);
        bands.iter().try_for_each(|band| dot.upright(chart, band.0, (band.1, band.2, band.3), aside))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(bands: Vec<(f64, f64, f64, f64)>) -> ExcessFigure {
        let steps = vec![ExcessStep { bands, ..ExcessStep::default() }];
        ExcessFigure { steps, passband_hz: (450.0, 650.0), ..ExcessFigure::default() }
    }

    #[test]
    fn a_huge_interval_does_not_flatten_the_dots() {
        let figure = figure(vec![(500.0, 3.0, -400.0, 600.0), (600.0, 4.0, 3.0, 5.0), (700.0, f64::NAN, 0.0, 0.0)]);
        let shown = figure.shown(&theme::SINGLE);
        let (low, high) = figure.decibels(&shown);
        assert!(low > -9.0 && high < 12.0, "{low} {high}");
        assert_eq!(shown[0].step.sound_bands().count(), 2);
    }

    #[test]
    fn next_to_nothing_looks_like_nothing() {
        let figure = figure(vec![(500.0, 0.1, 0.0, 0.2), (600.0, -0.1, -0.2, 0.0)]);
        let (low, high) = figure.decibels(&figure.shown(&theme::SINGLE));
        assert!(low <= -LEAST_SPAN_DB && high >= LEAST_SPAN_DB);
    }

    #[test]
    fn of_many_steps_the_first_and_the_last_are_shown() {
        let step =
            |n: i32| ExcessStep { label: n.to_string(), overall: Some((1.0, 0.0, 2.0)), ..ExcessStep::default() };
        let figure = ExcessFigure { steps: (0..9).map(step).collect(), ..ExcessFigure::default() };
        let words = |sizes| figure.shown(sizes).iter().map(|one| one.step.label.clone()).collect::<String>();
        assert_eq!(words(&theme::SINGLE), "045678");
        assert_eq!(words(&theme::PANEL), "0");
    }
}
