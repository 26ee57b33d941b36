//! The figures of the budget: which device adds how much, before remedies and now.

use std::path::Path;

use crate::findings::budget::result::{BudgetEntry, Stage};
use crate::findings::picture::{FigureKind, Picture};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::letters;
use crate::plot::page::{self, Drawing, Drawn, Frame, HPos, Hand, Page, PlotError, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::capital;

/// A figure for each setting and stage of the budget.
pub fn figures(budget: &[BudgetEntry]) -> Vec<Picture> {
    let mut groups: Vec<Vec<&BudgetEntry>> = Vec::new();
    for entry in budget {
        match groups.iter_mut().find(|g| g[0].setting == entry.setting && g[0].stage == entry.stage) {
            Some(group) => group.push(entry),
            None => groups.push(vec![entry]),
        }
    }
    groups.iter().map(|group| budget_picture(group)).collect()
}

fn budget_picture(group: &[&BudgetEntry]) -> Picture {
    let first = group[0];
    let when = if first.stage == Stage::Now { "with the last remedies" } else { "without remedies" };
    let with_ends = |value: f64, ci: Option<[f64; 2]>| ci.map(|[low, high]| (value, low, high));
    let bar = |entry: &&BudgetEntry| BudgetBar {
        label: entry.device.clone(),
        share: with_ends(entry.share, entry.share_ci),
        without: entry.without_db.and_then(|value| with_ends(value, entry.without_ci_db)),
    };
    Picture {
        file: format!("{}-{}-budget.png", first.setting, first.stage.word()),
        kind: FigureKind::Budget,
        contrast: None,
        caption: format!(
            "Which device adds how much, {when}: shares of the added power with their 95 % intervals."
        ),
        drawing: Box::new(BudgetFigure {
            title: format!("{}: {:.0} % of what all devices add", capital(&first.device), 100.0 * first.share),
            subtitle: format!("{}, each device by itself; carriers included", capital(when)),
            bars: group.iter().map(bar).collect(),
        }),
    }
}

/// Devices drawn; the rest would be slivers.
const MOST_BARS: usize = 12;

/// A budget.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BudgetFigure {
    /// The finding.
    pub title: String,
    /// Which setting, which stage.
    pub subtitle: String,
    /// Devices, largest share first.
    pub bars: Vec<BudgetBar>,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BudgetBar {
    /// The device.
    pub label: String,
    /// Share of the added power with its 95 % interval, 0..1.
    pub share: Option<(f64, f64, f64)>,
    /// How much quieter the band would be without it, dB, with its 95 % interval.
    pub without: Option<(f64, f64, f64)>,
}

impl Drawing for BudgetFigure {
    /// Draws the figure as a PNG 1200 pixels wide and 500 high, higher for more than four devices.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        let height = 500 + 72 * (self.bars.len().clamp(4, MOST_BARS) as u32 - 4);
        page::write(file, 1200, height, |page, whole| self.paint(page, whole.inset(34.0, 32.0), &theme::SINGLE))
    }
}

impl BudgetFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        if self.bars.is_empty() {
            return page.no_data(frame, "no devices to show", sizes);
        }
        let bars = &self.bars[..self.bars.len().min(MOST_BARS)];
        let labels =
            bars.iter().map(|b| letters::width(&b.label, sizes.text, false)).fold(sizes.text * 4.0, f64::max);
        let labels = labels.min(frame.width() * 0.28);
        let width = |bar: &BudgetBar| {
            let without = letters::width(&without_words(bar), sizes.text * 0.9, false);
            letters::width(&value_words(bar), sizes.text, true).max(without)
        };
        let words = bars.iter().map(width).fold(0.0, f64::max);
        let plot = Frame::new(
            frame.left + labels + sizes.text * 0.6,
            frame.top + sizes.text * 0.6,
            frame.right - words.min(frame.width() * 0.45) - sizes.text * 0.8,
            frame.bottom - chart::room_below(sizes),
        );
        let x = Axis::new(0.0, 100.0, chart::ticks_across(plot.width(), sizes), "Share of the added power (%)");
        let y = Axis { lo: 0.0, hi: bars.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        chart.grid_across(true)?;
        for (i, bar) in bars.iter().enumerate() {
            let middle = bars.len() as f64 - i as f64 - 0.5;
            let y = chart.place(0.0, middle).1;
            let label = letters::cut(&bar.label, sizes.text, false, labels);
            let at = (frame.left + labels, y);
            page.text(&label, at, Hand::plain(sizes.text, theme::INK), HPos::Right, VPos::Center)?;
            draw_bar(page, &chart, bar, middle, sizes)?;
            let at = (plot.right + sizes.text * 0.8, y - sizes.text * 0.62);
            page.text(&value_words(bar), at, Hand::bold(sizes.text, theme::INK), HPos::Left, VPos::Center)?;
            let at = (at.0, y + sizes.text * 0.62);
            let soft = Hand::plain(sizes.text * 0.9, theme::SOFT_INK);
            page.text(&without_words(bar), at, soft, HPos::Left, VPos::Center)?;
        }
        page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::INK)
    }
}

fn sound(value: Option<(f64, f64, f64)>) -> Option<(f64, f64, f64)> {
    value.filter(|v| axis::is_sound(v.0) && axis::is_sound(v.1) && axis::is_sound(v.2))
}

fn draw_bar(page: &Page<'_>, chart: &Chart<'_, '_>, bar: &BudgetBar, middle: f64, sizes: &Sizes) -> Drawn {
    let Some((value, low, high)) = sound(bar.share) else { return Ok(()) };
    let percent = |share: f64| (100.0 * share).clamp(0.0, 100.0);
    chart.bar((0.0, percent(value)), (middle - 0.3, middle + 0.3), theme::tint(theme::ON, 0.6))?;
    let (left, y) = chart.place(percent(low), middle);
    let right = chart.place(percent(high), middle).0;
    page.curve(&[(left, y), (right, y)], theme::INK, 2.0)?;
    let cap = sizes.text * 0.25;
    [left, right].iter().try_for_each(|&x| page.curve(&[(x, y - cap), (x, y + cap)], theme::INK, 2.0))
}

fn value_words(bar: &BudgetBar) -> String {
    sound(bar.share).map_or_else(
        || "no figure".to_owned(),
        |(v, low, high)| {
            format!(
                "{} % ({} to {} %)",
                axis::number(100.0 * v, 0),
                axis::number(100.0 * low, 0),
                axis::number(100.0 * high, 0)
            )
        },
    )
}

fn without_words(bar: &BudgetBar) -> String {
    sound(bar.without).map_or_else(String::new, |(v, ..)| format!("without it {} quieter", axis::decibels(v)))
}
