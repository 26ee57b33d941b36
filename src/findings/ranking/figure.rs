//! The figure of many devices: a row each, the loudest first, as dot and whisker.

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::contrast::Comparisons;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::kind_word;
use crate::findings::picture::{FigureKind, Picture};
use crate::findings::ranking::result::{RankedDevice, Ranking, Recorded};
use crate::labels::tells_fixed_gain;
use crate::plot::axis;
use crate::plot::dots::{Dot, Shape};
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, PlotError, Single, VPos};
use crate::plot::rows::{self, MOST_ROWS, Rows, Whiskered};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, label, signed};
use crate::warning::Code;

/// A figure for each setting with many devices.
pub(crate) fn figures(rankings: &[Ranking], comparisons: Comparisons<'_>) -> Vec<Picture> {
    rankings.iter().map(|ranking| of_setting(ranking, comparisons)).collect()
}

fn of_setting(ranking: &Ranking, comparisons: Comparisons<'_>) -> Picture {
    let contrast = |device: &RankedDevice| device.contrast.as_deref().and_then(|id| comparisons.contrast(id));
    // An AGC that was on would hide steady noise, and look like nothing.
    let known = comparisons.setting(&ranking.setting);
    let gain_unknown = !known.and_then(|s| s.gain.as_deref()).is_some_and(tells_fixed_gain)
        && ranking
            .devices
            .iter()
            .any(|device| contrast(device).is_none_or(|c| c.warnings.iter().any(|w| w.code == Code::GainUnknown)));
    let rows: Vec<RankingRow> = ranking.devices.iter().map(|device| row(device, contrast(device))).collect();
    let place = [
        known.and_then(|s| s.dial_khz).map(|khz| format!("{khz} kHz")),
        known.and_then(|s| s.mode).map(|m| m.to_string()),
    ];
    let all_but = ranking.devices.iter().any(|d| d.recorded != Recorded::Alone);
    let how = if all_but { "What each device alone does to the noise" } else { "Each device by itself" };
    let all_takes = if all_but { ", from its own takes and those of all but it" } else { "" };
    let all = ranking
        .all_on_db
        .zip(ranking.sum_db)
        .map(|(all, sum)| format!("all on {} dB, their sum {} dB", signed(all, 1), signed(sum, 1)));
    let provided = gain_unknown.then(|| "if AGC was off (the labels don't say)".to_owned());
    let subtitle: Vec<String> =
        std::iter::once(how.to_owned()).chain(place.into_iter().flatten()).chain(all).chain(provided).collect();
    let of = rows.len();
    Picture {
        file: format!("{}-ranking.png", ranking.setting),
        kind: FigureKind::Ranking,
        contrast: None,
        caption: format!(
            "{of} devices, the loudest first: what each adds by itself{all_takes}, with its 95 % interval; what lies \
             in the grey would not have been noticed."
        ),
        drawing: Box::new(RankingFigure {
            title: title(&rows),
            subtitle: subtitle.join(" · "),
            axis: "Noise, on above off (dB)".to_owned(),
            kinds: ["adds noise".to_owned(), others(&rows).to_owned()],
            rows,
        }),
    }
}

/// What the rows that add no noise are called.
fn others(rows: &[RankingRow]) -> &'static str {
    let has = |is_hidden: bool| rows.iter().any(|row| !row.is_added && row.is_hidden == is_hidden);
    match (has(false), has(true)) {
        (_, false) => "adds nothing that shows",
        (false, true) => "can't be told beside the others",
        (true, true) => "adds nothing that shows, or can't be told",
    }
}

/// `c`: its comparison by itself, where it has one.
fn row(device: &RankedDevice, c: Option<&ContrastResult>) -> RankingRow {
    let lines = c.map_or(device.character.is_lines(), |c| c.character.is_lines() || c.is_lines_only());
    let whole = device.total_excess_db.filter(|_| lines).map(|total| (total, f64::NAN, f64::NAN));
    let noise = device.excess_db.zip(device.excess_ci_db).map(|(excess, [low, high])| (excess, low, high));
    let is_void = device.trust.is_void();
    let added = whole.or(noise).filter(|_| !is_void);
    let kind = label(kind_word(device.character));
    let doubt = if device.trust.is_doubtful() { ", doubtful" } else { "" };
    let limit = device.detection_limit_db.filter(|_| !is_void);
    let is_added = device.adds && !is_void;
    RankingRow {
        label: capital(&label(&device.device)),
        note: match (is_void, added, limit) {
            (true, ..) => "void".to_owned(),
            (_, None, _) => format!("not measurable{doubt}"),
            (_, Some(added), _) if is_added => format!("{} dB, {kind}{doubt}", signed(added.0, 1)),
            (_, Some(added), _) if c.is_some_and(|c| c.change().is_down()) => {
                format!("{} dB, quieter{doubt}", signed(added.0, 1))
            }
            (_, _, Some(limit)) if device.is_hidden() => {
                let most = device.at_most_db().unwrap_or(limit);
                format!("can't be told: 0 to {}{doubt}", axis::decibels(most))
            }
            (_, _, Some(limit)) => format!("nothing; {} would show{doubt}", axis::decibels(limit)),
            (_, _, None) => format!("nothing found{doubt}"),
        },
        added,
        is_added,
        with_lines: lines,
        limit_db: limit,
        doubtful: device.trust.is_doubtful(),
        is_hidden: device.is_hidden(),
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
    let hidden = rows.iter().filter(|row| row.is_hidden).count();
    match quiet {
        0 if hidden > 0 => format!("{first}; of {hidden} of {of} it can't be told"),
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
    /// Caption of its axis.
    pub axis: String,
    /// What rows that add noise are called, and the others.
    pub kinds: [String; 2],
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
    pub added: Option<Whiskered>,
    /// Whether it adds anything that shows.
    pub is_added: bool,
    /// Whether its carriers are in it.
    pub with_lines: bool,
    /// The smallest excess that would have been noticed, dB.
    pub limit_db: Option<f64>,
    /// Whether its figures may be off.
    pub doubtful: bool,
    /// Whether much could hide beside the others.
    pub is_hidden: bool,
}

impl RankingRow {
    /// Whether it was measured and adds nothing.
    fn is_quiet(&self) -> bool {
        self.added.is_some() && !self.is_added && !self.doubtful && !self.is_hidden
    }
}

/// Height of a row, pixels. Chosen by eye: a line of text with air.
const ROW: u32 = 42;

impl Single for RankingFigure {
    fn height(&self) -> u32 {
        330 + ROW * self.rows.len().clamp(4, MOST_ROWS + 1) as u32
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        if self.rows.is_empty() {
            return page.no_data(frame, "no devices to show", sizes);
        }
        let shown = &self.rows[..self.rows.len().min(MOST_ROWS)];
        let left_out = self.rows.len() - shown.len();
        let frame = if left_out > 0 { self.rest(page, frame, left_out, sizes)? } else { frame };
        let texts: Vec<(&str, &str)> = shown.iter().map(|row| (row.label.as_str(), row.note.as_str())).collect();
        let values: Vec<Whiskered> = shown.iter().filter_map(|row| row.added).collect();
        let limits = shown.iter().filter_map(|row| row.limit_db).flat_map(|limit| [-limit, limit]);
        let across = (rows::decibels(&values, limits), self.axis.as_str());
        let rows = Rows::of(page, frame, &texts, (0.3, 0.34), across, sizes);
        for (i, row) in shown.iter().enumerate() {
            let middle = rows.middle(i);
            if let Some(limit) = row.limit_db.filter(|limit| axis::is_sound(*limit) && *limit > 0.0) {
                rows.chart.bar((-limit, limit), (middle - 0.5, middle + 0.5), theme::SHADE)?;
            }
        }
        rows.grid()?;
        for (i, row) in shown.iter().enumerate() {
            let (plot, y) = (rows.chart.plot, rows.chart.place(0.0, rows.middle(i)).1);
            let hand = Hand::plain(sizes.text, if row.is_added { theme::INK } else { theme::SOFT_INK });
            // Leads the eye from the name to the words at the other end.
            page.hairline((plot.left, y), (plot.right, y), theme::GRID)?;
            rows.words(i, (&row.label, hand), (&row.note, Hand { bold: row.is_added && !row.doubtful, ..hand }))?;
            if let Some(added) = row.added.filter(|added| axis::is_sound(added.0)) {
                dot(row, sizes).level(&rows.chart, added, rows.middle(i))?;
            }
        }
        rows.edge()
    }
}

impl RankingFigure {
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
            entries.push((Mark::Dot(theme::ON.to_rgba()), self.kinds[0].clone()));
        }
        if self.rows.iter().any(|row| row.added.is_some() && !row.is_added) {
            entries.push((Mark::Dot(QUIET.to_rgba()), self.kinds[1].clone()));
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
