//! The figure of many devices: a row each, the loudest first, as dot and whisker.

use std::path::Path;

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::contrast::Comparisons;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::kind_word;
use crate::findings::budget::names_several;
use crate::findings::picture::{FigureKind, Picture};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::dots::{Dot, Shape};
use crate::plot::letters;
use crate::plot::page::{self, Drawing, Drawn, Frame, HPos, Hand, Mark, Page, PlotError, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, label, signed};
use crate::warning::Code;

/// From so many devices on their order is drawn. Chosen: fewer are seen in the budget.
const LEAST_DEVICES: usize = 5;

/// A figure for each setting with many devices.
pub(crate) fn figures(comparisons: Comparisons<'_>) -> Vec<Picture> {
    let mut settings: Vec<&str> = Vec::new();
    for c in comparisons.contrasts {
        if !settings.contains(&c.setting.as_str()) {
            settings.push(&c.setting);
        }
    }
    settings.into_iter().filter_map(|setting| of_setting(comparisons, setting)).collect()
}

/// Of each device the comparison without remedy, else its first.
fn of_setting(comparisons: Comparisons<'_>, setting: &str) -> Option<Picture> {
    let mut firsts: Vec<&ContrastResult> = Vec::new();
    for c in comparisons.contrasts.iter().filter(|c| c.setting == setting && !names_several(&c.device)) {
        match firsts.iter_mut().find(|known| known.device == c.device) {
            Some(known) if known.remedy.is_some() && c.remedy.is_none() => *known = c,
            Some(_) => {}
            None => firsts.push(c),
        }
    }
    if firsts.len() < LEAST_DEVICES {
        return None;
    }
    // An AGC that was on would hide steady noise, and look like nothing.
    let gain_unknown = firsts.iter().any(|c| c.warnings.iter().any(|w| w.code == Code::GainUnknown));
    let mut rows: Vec<RankingRow> = firsts.into_iter().map(row).collect();
    let key = |row: &RankingRow| row.added.map_or(f64::NEG_INFINITY, |added| added.0);
    // What adds nothing stands below what adds something, however the figures scatter.
    rows.sort_by(|a, b| b.is_added.cmp(&a.is_added).then(key(b).total_cmp(&key(a))));
    let known = comparisons.setting(setting);
    let place = [
        known.and_then(|s| s.dial_khz).map(|khz| format!("{khz} kHz")),
        known.and_then(|s| s.mode).map(|m| m.to_string()),
    ];
    let place: Vec<String> = place.into_iter().flatten().collect();
    let provided: Vec<String> =
        gain_unknown.then(|| "if AGC was off (the labels don't say)".to_owned()).into_iter().collect();
    let of = rows.len();
    Some(Picture {
        file: format!("{setting}-ranking.png"),
        kind: FigureKind::Ranking,
        contrast: None,
        caption: format!(
            "{of} devices, the loudest first: what each adds by itself, with its 95 % interval; what lies \
             in the grey would not have been noticed."
        ),
        drawing: Box::new(RankingFigure {
            title: title(&rows),
            subtitle: [vec!["Each device by itself".to_owned()], place, provided].concat().join(" · "),
            rows,
        }),
    })
}

fn row(c: &ContrastResult) -> RankingRow {
    let lines = c.character.is_lines() || c.is_lines_only();
    let whole = c.total_db().filter(|_| lines).map(|total| (total, f64::NAN, f64::NAN));
    let noise = c.excess_db.zip(c.excess_ci_db).filter(|_| !c.is_void() && !c.is_too_wide());
    let added = whole.or(noise.map(|(excess, [low, high])| (excess, low, high)));
    let clicks = c.counts_clicks();
    let is_added = !c.is_void() && (lines || clicks || c.change().is_up());
    let kind = label(kind_word(c.character));
    let doubt = if c.is_doubtful() { ", doubtful" } else { "" };
    let limit = c.detection_limit_db.filter(|_| !c.is_void());
    RankingRow {
        label: capital(&label(&c.device)),
        note: match (c.is_void(), added, limit) {
            (true, ..) => "void".to_owned(),
            (_, None, _) => format!("not measurable{doubt}"),
            (_, Some(added), _) if is_added => format!("{} dB, {kind}{doubt}", signed(added.0, 1)),
            (_, Some(added), _) if c.change().is_down() => format!("{} dB, quieter{doubt}", signed(added.0, 1)),
            (_, _, Some(limit)) => format!("nothing; {} would show{doubt}", axis::decibels(limit)),
            (_, _, None) => format!("nothing found{doubt}"),
        },
        added,
        is_added,
        with_lines: lines,
        limit_db: limit,
        doubtful: c.is_doubtful(),
    }
}

/// "Drill charger adds most (+13.9 dB); 7 of 12 add nothing that shows".
fn title(rows: &[RankingRow]) -> String {
    let of = rows.len();
    let quiet = rows.iter().filter(|row| row.is_quiet()).count();
    let Some((loudest, added)) = rows.iter().find_map(|row| Some((row, row.added.filter(|_| row.is_added)?)))
    else {
        return format!("None of {of} devices adds noise that shows");
    };
    let figure = format!("{} dB{}", signed(added.0, 1), if loudest.doubtful { ", doubtful" } else { "" });
    let first = format!("{} adds most ({figure})", loudest.label);
    match quiet {
        0 => format!("{first} of {of} devices"),
        1 => format!("{first}; 1 of {of} adds nothing that shows"),
        _ => format!("{first}; {quiet} of {of} add nothing that shows"),
    }
}

/// Devices in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RankingFigure {
    /// The finding.
    pub title: String,
    /// Which setting.
    pub subtitle: String,
    /// The devices, loudest first.
    pub rows: Vec<RankingRow>,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RankingRow {
    /// The device.
    pub label: String,
    /// What it adds, in words.
    pub note: String,
    /// The same with its 95 % interval (NaN where it has none), dB; none where it means nothing.
    pub added: Option<(f64, f64, f64)>,
    /// Whether it adds anything that shows.
    pub is_added: bool,
    /// Whether its carriers are in it.
    pub with_lines: bool,
    /// The smallest excess that would have been noticed, dB.
    pub limit_db: Option<f64>,
    /// Whether its figures may be off.
    pub doubtful: bool,
}

impl RankingRow {
    /// Whether it was measured and adds nothing.
    fn is_quiet(&self) -> bool {
        self.added.is_some() && !self.is_added && !self.doubtful
    }

    fn sound(&self) -> Option<(f64, f64, f64)> {
        self.added.filter(|added| axis::is_sound(added.0))
    }
}

/// Rows drawn; more would make the picture higher than a page of a forum. Chosen.
const MOST_ROWS: usize = 40;
/// Height of a row, pixels. Chosen by eye: a line of text with air.
const ROW: u32 = 42;

impl Drawing for RankingFigure {
    /// Draws the figure as a PNG 1200 pixels wide, higher for more devices.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        let height = 330 + ROW * self.rows.len().clamp(4, MOST_ROWS + 1) as u32;
        page::write(file, 1200, height, |page, whole| self.paint(page, whole.inset(34.0, 32.0), &theme::SINGLE))
    }
}

impl RankingFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        if self.rows.is_empty() {
            return page.no_data(frame, "no devices to show", sizes);
        }
        let shown = &self.rows[..self.rows.len().min(MOST_ROWS)];
        let left_out = self.rows.len() - shown.len();
        let frame = if left_out > 0 { self.rest(page, frame, left_out, sizes)? } else { frame };
        let widest = |of: fn(&RankingRow) -> &str, bold| {
            shown.iter().map(|row| letters::width(of(row), sizes.text, bold)).fold(sizes.text * 3.0, f64::max)
        };
        let labels = widest(|row| &row.label, false).min(frame.width() * 0.3);
        let notes = widest(|row| &row.note, true).min(frame.width() * 0.34);
        let plot = Frame::new(
            (frame.left + labels + sizes.text * 0.7).round(),
            (frame.top + sizes.text * 0.4).round(),
            (frame.right - notes - sizes.text * 0.8).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        let (low, high) = decibels(shown);
        let x = Axis::new(low, high, chart::ticks_across(plot.width(), sizes), "Noise, on above off (dB)");
        let y = Axis { lo: 0.0, hi: shown.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        for (i, row) in shown.iter().enumerate() {
            let foot = (shown.len() - 1 - i) as f64;
            if let Some(limit) = row.limit_db.filter(|limit| axis::is_sound(*limit) && *limit > 0.0) {
                chart.bar((-limit, limit), (foot, foot + 1.0), theme::SHADE)?;
            }
        }
        chart.grid_across(true)?;
        let zero = chart.place(0.0, 0.0).0;
        page.hairline((zero, plot.top), (zero, plot.bottom), theme::INK)?;
        for (i, row) in shown.iter().enumerate() {
            let middle = (shown.len() - 1 - i) as f64 + 0.5;
            let y = chart.place(0.0, middle).1;
            let name = letters::cut(&row.label, sizes.text, false, labels);
            let ink = if row.is_added { theme::INK } else { theme::SOFT_INK };
            // Leads the eye from the name to the words at the other end.
            page.hairline((plot.left, y), (plot.right, y), theme::GRID)?;
            let at = (plot.left - sizes.text * 0.7, y);
            page.text(&name, at, Hand::plain(sizes.text, ink), HPos::Right, VPos::Center)?;
            if let Some(added) = row.sound() {
                dot(row, sizes).level(&chart, added, middle)?;
            }
            let hand = Hand { bold: row.is_added && !row.doubtful, ..Hand::plain(sizes.text, ink) };
            let note = letters::cut(&row.note, sizes.text, hand.bold, notes);
            page.text(&note, (plot.right + sizes.text * 0.8, y), hand, HPos::Left, VPos::Center)?;
        }
        page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::RULE)
    }

    /// Says how many rows are not drawn, below the others.
    fn rest(&self, page: &Page<'_>, frame: Frame, left_out: usize, sizes: &Sizes) -> Result<Frame, PlotError> {
        let words = format!("and {left_out} quieter ones, in the report");
        let hand = Hand::plain(sizes.text, theme::SOFT_INK);
        page.text(&words, (frame.left, frame.bottom), hand, HPos::Left, VPos::Bottom)?;
        Ok(Frame { bottom: frame.bottom - sizes.text * 1.5, ..frame })
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if self.rows.iter().any(|row| row.is_added) {
            entries.push((Mark::Dot(theme::ON.to_rgba()), "adds noise".to_owned()));
        }
        if self.rows.iter().any(|row| row.added.is_some() && !row.is_added) {
            entries.push((Mark::Dot(QUIET.to_rgba()), "adds nothing that shows".to_owned()));
        }
        if self.rows.iter().any(|row| row.with_lines) {
            entries.push((Mark::Diamond(theme::ON.to_rgba()), "carriers, in all".to_owned()));
        }
        if self.rows.iter().any(|row| row.doubtful) {
            entries.push((Mark::HollowDot(theme::ON.to_rgba()), "doubtful".to_owned()));
        }
        if self.rows.iter().any(|row| row.limit_db.is_some()) {
            entries.push((Mark::Area(theme::SHADE.to_rgba()), "too little to be noticed".to_owned()));
        }
        entries
    }
}

/// What adds nothing.
const QUIET: RGBColor = theme::SOFT_INK;

fn dot(row: &RankingRow, sizes: &Sizes) -> Dot<RGBColor> {
    let (shape, colour) = match (row.is_added, row.with_lines) {
        (true, true) => (Shape::Diamond, theme::ON),
        (true, false) => (Shape::Disc, theme::ON),
        (false, _) => (Shape::Disc, QUIET),
    };
    Dot { shape, radius: sizes.text * 0.3, colour, hollow: row.doubtful }
}

/// Zero, every value and, as far as they keep the values readable, intervals and limits.
fn decibels(rows: &[RankingRow]) -> (f64, f64) {
    let values: Vec<(f64, f64, f64)> = rows.iter().filter_map(RankingRow::sound).collect();
    let low = values.iter().map(|value| value.0).fold(-0.5, f64::min);
    let high = values.iter().map(|value| value.0).fold(3.0, f64::max);
    let beyond = (high - low) * 0.4;
    let limits = rows.iter().filter_map(|row| row.limit_db).flat_map(|limit| [-limit, limit]);
    let ends = values.iter().flat_map(|value| [value.1, value.2]).chain(limits);
    let ends: Vec<f64> =
        ends.filter(|end| axis::is_sound(*end)).map(|end| end.clamp(low - beyond, high + beyond)).collect();
    let low = ends.iter().copied().fold(low, f64::min);
    let high = ends.iter().copied().fold(high, f64::max);
    let margin = (high - low) * 0.03;
    (low - margin, high + margin)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::Character;
    use crate::report::sample::contrast;

    fn many() -> Vec<ContrastResult> {
        let quiet = |id: &str, device: &str| {
            let mut one = contrast(id, device, None, Character::None, 0.1, &["r9"]);
            one.excess_ci_db = Some([-0.2, 0.4]);
            one.detection_limit_db = Some(0.5);
            one
        };
        let mut remedied = contrast("c5", "pump", Some("ferrite"), Character::Hash, 9.0, &["r8"]);
        remedied.remedy = Some("ferrite".into());
        vec![
            quiet("c1", "lamp"),
            remedied,
            contrast("c2", "pump", None, Character::Hash, 4.0, &["r3"]),
            quiet("c3", "clock"),
            contrast("c4", "charger", None, Character::Buzz, 14.0, &["r4"]),
            quiet("c6", "router"),
        ]
    }

    #[test]
    fn the_loudest_is_first_and_each_device_once() {
        let contrasts = many();
        let view = Comparisons { settings: &[], recordings: &[], contrasts: &contrasts };
        let found = figures(view);
        assert_eq!(found.len(), 1);
        assert!(found[0].caption.starts_with("5 devices"), "{}", found[0].caption);
        let mut rows: Vec<RankingRow> = contrasts.iter().filter(|c| c.remedy.is_none()).map(row).collect();
        rows.sort_by(|a, b| b.added.unwrap().0.total_cmp(&a.added.unwrap().0));
        assert_eq!(title(&rows), "Charger adds most (+14.0 dB); 3 of 5 add nothing that shows");
        assert_eq!(rows[4].note, "nothing; 0.5 dB would show");
        assert_eq!(title(&rows[2..]), "None of 3 devices adds noise that shows");
    }

    #[test]
    fn few_devices_and_several_at_once_make_no_ranking() {
        let mut contrasts = many();
        contrasts[0].device = "lamp + pump".into();
        let view = Comparisons { settings: &[], recordings: &[], contrasts: &contrasts };
        assert!(figures(view).is_empty());
    }
}
