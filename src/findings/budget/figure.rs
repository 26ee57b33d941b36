//! The figures of the budget: which device adds how much, before remedies and now.

use super::SLIVER;
use crate::contrast::comparison::ContrastResult;
use crate::findings::budget::result::{BudgetEntry, Stage};
use crate::findings::picture::{FigureKind, Picture};
use crate::labels::Present;
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{and_at_most, capital, count, label, percent};

/// A figure for each setting: before remedies and now, side by side. `contrasts` tell which devices have no part in
/// it.
pub fn figures(budget: &[BudgetEntry], contrasts: &[ContrastResult]) -> Vec<Picture> {
    let mut settings: Vec<Vec<&BudgetEntry>> = Vec::new();
    for entry in budget {
        match settings.iter_mut().find(|known| known[0].setting == entry.setting) {
            Some(known) => known.push(entry),
            None => settings.push(vec![entry]),
        }
    }
    settings.iter().map(|entries| budget_picture(entries, &left_out(entries, contrasts))).collect()
}

/// Devices of the setting that were compared and are not in the budget, those recorded together apart.
fn left_out<'a>(entries: &[&BudgetEntry], contrasts: &'a [ContrastResult]) -> Vec<&'a str> {
    let mut devices: Vec<&str> = Vec::new();
    for c in contrasts.iter().filter(|c| c.setting == entries[0].setting && !Present::is_of_several(&c.device)) {
        if !devices.contains(&c.device.as_str()) && !entries.iter().any(|entry| entry.device == c.device) {
            devices.push(&c.device);
        }
    }
    devices
}

fn budget_picture(entries: &[&BudgetEntry], left_out: &[&str]) -> Picture {
    let setting = &entries[0].setting;
    let of = |stage: Stage| entries.iter().filter(move |entry| entry.stage == stage);
    let stages: Vec<Stage> =
        [Stage::Before, Stage::Now].into_iter().filter(|stage| of(*stage).next().is_some()).collect();
    let with_ends = |value: f64, ci: Option<[f64; 2]>| ci.map(|[low, high]| (value, low, high));
    let part = |entry: &&BudgetEntry| BudgetPart {
        share: with_ends(entry.share, entry.share_ci),
        without: entry.without_db.and_then(|value| with_ends(value, entry.without_ci_db)),
    };
    let mut devices: Vec<&str> = Vec::new();
    for entry in entries {
        if !devices.contains(&entry.device.as_str()) {
            devices.push(&entry.device);
        }
    }
    let bar = |device: &str| BudgetBar {
        label: device.to_owned(),
        parts: stages
            .iter()
            .map(|stage| of(*stage).find(|e| e.device == device).map(part).unwrap_or_default())
            .collect(),
    };
    let share = |entry: &&BudgetEntry| percent(entry.share);
    let (before, now) = (of(Stage::Before).next(), of(Stage::Now).next());
    // Shares of what was counted are no shares of all.
    let of_all = match left_out {
        [] => "of all added power".to_owned(),
        _ => format!("of what {} add", count(devices.len(), "device", "devices")),
    };
    let title = match (before, now) {
        (Some(before), Some(now)) if before.device == now.device => {
            format!("{}: {} {of_all}, now {}", capital(&before.device), share(before), share(now))
        }
        (Some(before), Some(now)) => format!(
            "{} was {} {of_all}; now {} is {}",
            capital(&before.device),
            share(before),
            now.device,
            share(now)
        ),
        (first, second) => first
            .or(second)
            .map_or_else(String::new, |first| format!("{}: {} {of_all}", capital(&first.device), share(first))),
    };
    let subtitle = match left_out {
        [] => "Each device by itself; carriers included".to_owned(),
        some => format!(
            "Each device by itself; carriers included · not counted: {}",
            and_at_most(&some.iter().map(|device| label(device)).collect::<Vec<_>>(), MOST_NAMED)
        ),
    };
    let with = |stage: &Stage| if *stage == Stage::Now { "with the last remedies" } else { "without remedies" };
    let when: Vec<&str> = stages.iter().map(with).collect();
    Picture {
        file: format!("{setting}-budget.png"),
        kind: FigureKind::Budget,
        contrast: None,
        caption: format!(
            "Which device adds how much, {}: shares of the added power with their 95 % intervals.",
            when.join(" and ")
        ),
        drawing: Box::new(BudgetFigure {
            title,
            subtitle,
            stages: when.into_iter().map(capital).collect(),
            bars: devices.into_iter().map(bar).collect(),
        }),
    }
}

/// Devices left out that are named. Chosen: what fits in two lines.
const MOST_NAMED: usize = 4;
/// Devices drawn; the rest would be slivers.
const MOST_BARS: usize = 12;

/// A budget.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BudgetFigure {
    /// The finding.
    pub title: String,
    /// Which setting, what is shown.
    pub subtitle: String,
    /// When: without remedies, with the last ones.
    pub stages: Vec<String>,
    /// Devices, largest share first.
    pub bars: Vec<BudgetBar>,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BudgetBar {
    /// The device.
    pub label: String,
    /// Its part in each stage.
    pub parts: Vec<BudgetPart>,
}

/// One device in one stage.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BudgetPart {
    /// Share of the added power with its 95 % interval, 0..1.
    pub share: Option<(f64, f64, f64)>,
    /// How much quieter the band would be without it, dB, with its 95 % interval.
    pub without: Option<(f64, f64, f64)>,
}

impl Single for BudgetFigure {
    fn height(&self) -> u32 {
        500 + 72 * (self.rows().len().clamp(4, MOST_BARS) as u32 - 4)
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let rows = self.rows();
        if rows.is_empty() || self.stages.is_empty() {
            return page.no_data(frame, "no devices to show", sizes);
        }
        let labels =
            rows.iter().map(|b| letters::width(&b.label, sizes.text, false)).fold(sizes.text * 4.0, f64::max);
        let labels = labels.min(frame.width() * 0.28);
        let left = frame.left + labels + sizes.text * 0.6;
        let panels = Frame { left, ..frame }.columns(&vec![1.0; self.stages.len()], sizes.text * 1.2);
        for (stage, (words, panel)) in self.stages.iter().zip(&panels).enumerate() {
            let title = Hand::bold(sizes.text, theme::INK);
            let cut = letters::cut(words, sizes.text, true, panel.width());
            page.text(&cut, (panel.left, panel.top + sizes.text * 0.2), title, HPos::Left, VPos::Top)?;
            let panel = Frame { top: panel.top + sizes.text * 1.4, ..*panel };
            self.stage(page, panel, &rows, stage, sizes)?;
        }
        for (i, row) in rows.iter().enumerate() {
            let height =
                (frame.bottom - chart::room_below(sizes) - frame.top - sizes.text * 1.4) / rows.len() as f64;
            let y = frame.top + sizes.text * 1.4 + height * (i as f64 + 0.5);
            let soft = if row.parts.is_empty() { theme::SOFT_INK } else { theme::INK };
            let lines = letters::wrap(&row.label, sizes.text, false, labels, 2);
            let first = y - (lines.len() as f64 - 1.0) * sizes.text * letters::LEADING / 2.0;
            for (n, line) in lines.iter().enumerate() {
                let at = (frame.left + labels, first + n as f64 * sizes.text * letters::LEADING);
                page.text(line, at, Hand::plain(sizes.text, soft), HPos::Right, VPos::Center)?;
            }
        }
        Ok(())
    }
}

impl BudgetBar {
    fn is_sliver(&self) -> bool {
        let mut shares = self.parts.iter().filter_map(|part| sound(part.share)).peekable();
        shares.peek().is_some() && shares.all(|share| share.0 < SLIVER)
    }
}

impl BudgetFigure {
    /// Devices, those with next to nothing as one row at the end.
    fn rows(&self) -> Vec<BudgetBar> {
        let (slivers, mut rows): (Vec<&BudgetBar>, Vec<&BudgetBar>) = self.bars.iter().partition(|b| b.is_sliver());
        match slivers.as_slice() {
            [] | [_] => return self.bars.iter().take(MOST_BARS).cloned().collect(),
            _ => rows.truncate(MOST_BARS - 1),
        }
        let folded = BudgetBar { label: format!("{} more: under 1 % each", slivers.len()), parts: Vec::new() };
        rows.into_iter().cloned().chain([folded]).collect()
    }

    /// Bars of one stage, each with its figure behind.
    fn stage(&self, page: &Page<'_>, panel: Frame, rows: &[BudgetBar], stage: usize, sizes: &Sizes) -> Drawn {
        let part = |row: &BudgetBar| row.parts.get(stage).copied();
        let alone = self.stages.len() == 1;
        let width = |row: &BudgetBar| {
            let Some(part) = part(row) else { return 0.0 };
            let without = letters::width(&without_words(&part, alone), sizes.text * 0.9, false);
            letters::width(&value_words(&part, alone), sizes.text, true).max(without)
        };
        let words = rows.iter().map(width).fold(0.0, f64::max);
        let plot = Frame::new(
            panel.left,
            panel.top,
            panel.right - words.min(panel.width() * 0.5) - sizes.text * 0.6,
            panel.bottom - chart::room_below(sizes),
        );
        let ticks = chart::ticks_across(plot.width(), sizes);
        let x = Axis::new(0.0, 100.0, ticks, if alone { "Share of the added power (%)" } else { "Share (%)" });
        let y = Axis { lo: 0.0, hi: rows.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        chart.grid_across(true)?;
        for (i, row) in rows.iter().enumerate() {
            let middle = rows.len() as f64 - i as f64 - 0.5;
            let y = chart.place(0.0, middle).1;
            let Some(part) = part(row) else { continue };
            draw_bar(page, &chart, &part, middle, sizes)?;
            let at = (plot.right + sizes.text * 0.6, y - sizes.text * 0.62);
            page.text(
                &value_words(&part, alone),
                at,
                Hand::bold(sizes.text, theme::INK),
                HPos::Left,
                VPos::Center,
            )?;
            let at = (at.0, y + sizes.text * 0.62);
            let soft = Hand::plain(sizes.text * 0.9, theme::SOFT_INK);
            page.text(&without_words(&part, alone), at, soft, HPos::Left, VPos::Center)?;
        }
        page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::INK)
    }
}

fn sound(value: Option<(f64, f64, f64)>) -> Option<(f64, f64, f64)> {
    value.filter(|v| axis::is_sound(v.0) && axis::is_sound(v.1) && axis::is_sound(v.2))
}

fn draw_bar(page: &Page<'_>, chart: &Chart<'_, '_>, part: &BudgetPart, middle: f64, sizes: &Sizes) -> Drawn {
    let Some((value, low, high)) = sound(part.share) else { return Ok(()) };
    let percent = |share: f64| (100.0 * share).clamp(0.0, 100.0);
    chart.bar((0.0, percent(value)), (middle - 0.3, middle + 0.3), theme::tint(theme::ON, 0.6))?;
    let (left, y) = chart.place(percent(low), middle);
    let right = chart.place(percent(high), middle).0;
    page.curve(&[(left, y), (right, y)], theme::INK, 2.0)?;
    let cap = sizes.text * 0.25;
    [left, right].iter().try_for_each(|&x| page.curve(&[(x, y - cap), (x, y + cap)], theme::INK, 2.0))
}

/// "78 %", with its interval where there is room; "under 1 %".
fn value_words(part: &BudgetPart, alone: bool) -> String {
    match sound(part.share) {
        None => "–".to_owned(),
        Some((value, low, high)) if alone && value >= SLIVER => {
            format!("{} ({} to {})", percent(value), percent(low), percent(high))
        }
        Some((value, ..)) => percent(value),
    }
}

fn without_words(part: &BudgetPart, alone: bool) -> String {
    let share = sound(part.share).filter(|share| share.0 >= SLIVER);
    match sound(part.without).filter(|_| share.is_some()) {
        None => String::new(),
        Some((value, ..)) if alone => format!("without it {} quieter", axis::decibels(value)),
        Some((value, ..)) => format!("{} without it", axis::decibels(-value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slivers_share_a_row() {
        let bar = |share: f64| BudgetBar {
            label: "x".into(),
            parts: vec![BudgetPart { share: Some((share, share, share)), without: None }],
        };
        let figure = |shares: &[f64]| BudgetFigure {
            bars: shares.iter().map(|share| bar(*share)).collect(),
            ..BudgetFigure::default()
        };
        let rows = figure(&[0.6, 0.39, 0.005, 0.003, 0.002]).rows();
        assert_eq!((rows.len(), rows[2].label.as_str()), (3, "3 more: under 1 % each"));
        assert_eq!(figure(&[0.99, 0.005]).rows().len(), 2);
        assert_eq!(value_words(&figure(&[0.004]).bars[0].parts[0], true), "under 1 %");
    }
}
