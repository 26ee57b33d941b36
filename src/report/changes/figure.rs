//! The figure of then and now: a row a device, two dots with their intervals and a stroke from one to the other.

use plotters::prelude::Color;
use plotters::style::RGBColor;

use super::result::{Change, Shows};
use crate::plot::axis;
use crate::plot::dots::{Dot, Shape};
use crate::plot::page::{Drawn, Frame, Hand, Mark, Page, Single};
use crate::plot::rows::{self, MOST_ROWS, Rows, Whiskered};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, label, signed};

/// Height of a row, pixels. Chosen by eye: two dots with their whiskers one above the other, with air.
const ROW: u32 = 62;
/// How far then stands above the middle of its row and now below it, of the row's height. Chosen by eye.
const APART: f64 = 0.17;
/// Then. Chosen: now is the colour of a device that is on.
const THEN: RGBColor = theme::SOFT_INK;

/// Devices, then and now.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct ChangesFigure {
    /// The finding.
    pub(super) title: String,
    /// Which evenings.
    pub(super) subtitle: String,
    /// The devices.
    pub(super) rows: Vec<Row>,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Row {
    label: String,
    note: String,
    then: Option<Whiskered>,
    between: Vec<f64>,
    now: Option<Whiskered>,
    is_called: bool,
    doubtful: bool,
}

impl Row {
    pub(super) fn of(change: &Change, setting: Option<&str>) -> Self {
        let whiskered = |value: Option<f64>, ci: Option<[f64; 2]>| {
            let [low, high] = ci.unwrap_or([f64::NAN; 2]);
            value.map(|value| (value, low, high))
        };
        let steps = match (&change.then_remedy, &change.now_remedy) {
            (None, None) => String::new(),
            (then, now) if then == now => format!(", {}", label(now.as_deref().unwrap_or_default())),
            (then, now) => {
                let word = |remedy: &Option<String>| remedy.as_deref().map_or("no remedy".to_owned(), label);
                format!(", {} → {}", word(then), word(now))
            }
        };
        let place = setting.map_or_else(String::new, |words| format!(" ({words})"));
        let inner = change.series.len().saturating_sub(1);
        Self {
            label: format!("{}{steps}{place}", capital(&label(&change.device))),
            note: match (change.shows, change.change_db) {
                (Shows::NotTold, _) | (_, None) => "can't be told".to_owned(),
                (Shows::NoChange, _) => change.news_of_carriers().unwrap_or("no change shown").to_owned(),
                (_, Some(db)) => {
                    format!("{} dB{}", signed(db, 1), if change.trust.is_doubtful() { ", doubtful" } else { "" })
                }
            },
            then: whiskered(change.then_db, change.then_ci_db),
            between: change.series[..inner].iter().skip(1).filter_map(|e| e.excess_db).collect(),
            now: whiskered(change.now_db, change.now_ci_db),
            is_called: matches!(change.shows, Shows::Less | Shows::More),
            doubtful: !change.trust.is_unspoilt(),
        }
    }
}

impl Single for ChangesFigure {
    fn height(&self) -> u32 {
        330 + ROW * self.rows.len().clamp(2, MOST_ROWS) as u32
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        if self.rows.is_empty() {
            return page.no_data(frame, "no device is in two of the reports", sizes);
        }
        let shown = &self.rows[..self.rows.len().min(MOST_ROWS)];
        let texts: Vec<(&str, &str)> = shown.iter().map(|row| (row.label.as_str(), row.note.as_str())).collect();
        let values: Vec<Whiskered> = shown.iter().flat_map(|row| [row.then, row.now]).flatten().collect();
        let across = (rows::decibels(&values, std::iter::empty()), "Noise, on above off (dB)");
        let rows = Rows::of(page, frame, &texts, (0.36, 0.3), across, sizes);
        rows.grid()?;
        for (i, row) in shown.iter().enumerate() {
            if i > 0 {
                let (plot, y) = (rows.chart.plot, rows.chart.place(0.0, rows.middle(i) + 0.5).1);
                page.hairline((plot.left, y), (plot.right, y), theme::GRID)?;
            }
            row.paint(page, &rows, i, sizes)?;
        }
        rows.edge()
    }
}

impl ChangesFigure {
    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = vec![
            (Mark::Dot(THEN.to_rgba()), "then".to_owned()),
            (Mark::Dot(theme::ON.to_rgba()), "now, with 95 % intervals".to_owned()),
        ];
        if self.rows.iter().any(|row| row.doubtful) {
            entries.push((Mark::HollowDot(theme::ON.to_rgba()), "doubtful".to_owned()));
        }
        if self.rows.iter().any(|row| !row.between.is_empty()) {
            entries.push((Mark::Cross(THEN.to_rgba()), "in between".to_owned()));
        }
        entries
    }
}

impl Row {
    fn paint(&self, page: &Page<'_>, rows: &Rows<'_, '_>, place: usize, sizes: &Sizes) -> Drawn {
        let (chart, middle) = (&rows.chart, rows.middle(place));
        let ink = if self.is_called { theme::INK } else { theme::SOFT_INK };
        let name = Hand::plain(sizes.text, theme::INK);
        let note = Hand { bold: self.is_called && !self.doubtful, ..Hand::plain(sizes.text, ink) };
        rows.words(place, (&self.label, name), (&self.note, note))?;
        let heights = [(self.then, middle + APART), (self.now, middle - APART)];
        if let [(Some(then), above), (Some(now), below)] = heights
            && axis::is_sound(then.0)
            && axis::is_sound(now.0)
        {
            page.curve(&[chart.place(then.0, above), chart.place(now.0, below)], theme::RULE, 2.0)?;
        }
        for value in self.between.iter().filter(|value| axis::is_sound(**value)) {
            page.cross(chart.place(*value, middle), sizes.text * 0.25, THEN)?;
        }
        for ((value, at), colour) in heights.into_iter().zip([THEN, theme::ON]) {
            let dot = Dot { shape: Shape::Disc, radius: sizes.text * 0.3, colour, hollow: self.doubtful };
            value.map_or(Ok(()), |value| dot.level(chart, value, at))?;
        }
        Ok(())
    }
}
