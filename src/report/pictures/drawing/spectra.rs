//! Power density over frequency, device off and on, with the excess as a bracket and marked lines.

use plotters::prelude::Color;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart, Seat, Wish};
use crate::plot::image::shown_frequencies;
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Two spectra over each other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpectraFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Device off: frequency (Hz) and power density (dBFS in 1 Hz), by rising frequency; empty where one recording
    /// is shown by itself.
    pub off: Vec<(f64, f64)>,
    /// Device on.
    pub on: Vec<(f64, f64)>,
    /// The noise floor in the passband, dBFS in 1 Hz, of the quieter state: the axis ends a little below.
    pub floor: Option<f64>,
    /// The excess, shown where it is what the whole passband has.
    pub bracket: Option<Bracket>,
    /// The common passband; what lies outside is hardly shown.
    pub passband_hz: (f64, f64),
    /// Single lines; labels of strong ones come first where room is short.
    pub lines: Vec<MarkedLine>,
}

/// From one level to another at one frequency.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bracket {
    /// Where it stands.
    pub freq_hz: f64,
    /// Level with the device off, dBFS in 1 Hz.
    pub off: f64,
    /// Level with the device on.
    pub on: f64,
    /// The difference in words.
    pub words: String,
}

/// A single line with its mark.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedLine {
    /// Frequency.
    pub freq_hz: f64,
    /// Height of its peak in the spectrum, dBFS in 1 Hz.
    pub level: f64,
    /// In which state it stands.
    pub kind: LineKind,
    /// Words beside the mark, if any.
    pub label: Option<String>,
}

/// In which states a line stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// Only with the device on.
    Added,
    /// Only with the device off.
    Lost,
    /// In both; the comparison leans on it.
    Both,
    /// In both, left out of all figures.
    Station,
}

const LABEL_ROWS: usize = 3;
/// The axis ends so far below the noise floor, dB. Chosen: the noise's own scatter is seen, the filter's skirt is
/// not.
const BELOW_FLOOR_DB: f64 = 10.0;
/// Where the names of the curves may stand, and their width, as shares of the passband. Chosen by eye.
const STATES_AT: [f64; 6] = [0.92, 0.86, 0.8, 0.72, 0.64, 0.56];
const STATE_SHARE: f64 = 0.045;
/// What is shown beside the passband, as a share of its width. Chosen: its edges are seen to be edges.
const BESIDE: f64 = 0.02;

impl Single for SpectraFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        let Some(levels) = self.levels() else {
            return page.no_data(frame, "no spectrum to show", sizes);
        };
        let all = self.axes(page, frame, levels, LABEL_ROWS, sizes);
        let rows = chart::rows_taken(&self.seats(&all, LABEL_ROWS, sizes));
        let chart = self.axes(page, frame, levels, rows, sizes);
        chart.shade_outside(self.passband_hz)?;
        chart.grid()?;
        chart.curve(&self.on, theme::ON.mix(0.85), sizes.curve)?;
        chart.curve(&self.off, theme::OFF.mix(0.85), sizes.curve)?;
        self.states(&chart, sizes)?;
        self.bracket(&chart, sizes)?;
        self.marks(page, &chart, rows, sizes)
    }
}

impl SpectraFigure {
    /// Lowest and highest level worth showing: all peaks, and a little below the noise floor.
    fn levels(&self) -> Option<(f64, f64)> {
        let (from, to) = self.frequencies();
        let finite = |(f, y): &&(f64, f64)| (from..=to).contains(f) && axis::is_sound(*y);
        let shown = || self.off.iter().chain(&self.on).filter(finite).map(|(_, y)| *y);
        let lines = self.by_importance().into_iter().map(|line| line.level);
        let top = shown().chain(lines).reduce(f64::max)?;
        let mut levels: Vec<f64> = shown().collect();
        // Without a floor, the level that nine tenths of the quieter curve keep above.
        let tenth = || {
            levels.sort_unstable_by(f64::total_cmp);
            levels.get(levels.len() / 10).copied()
        };
        let floor = self.floor.filter(|floor| axis::is_sound(*floor) && *floor < top).or_else(tenth)?;
        // The other state may lie far lower.
        let middle = |curve: &Vec<(f64, f64)>| {
            let mut levels: Vec<f64> = curve.iter().filter(finite).map(|(_, y)| *y).collect();
            levels.sort_unstable_by(f64::total_cmp);
            levels.get(levels.len() / 2).copied()
        };
        let far = |middle: &f64| *middle < floor - BELOW_FLOOR_DB / 2.0;
        let floor = [&self.off, &self.on].into_iter().filter_map(middle).filter(far).fold(floor, f64::min);
        Some((floor - BELOW_FLOOR_DB, top.max(floor + BELOW_FLOOR_DB / 2.0) + 1.5))
    }

    /// The passband with a little beside it, as far as there are data; without a passband, all.
    fn frequencies(&self) -> (f64, f64) {
        let known =
            |curve: &Vec<(f64, f64)>| curve.iter().map(|(f, _)| *f).filter(|f| axis::is_sound(*f)).reduce(f64::max);
        let highest = [&self.off, &self.on].into_iter().filter_map(known).fold(0.0, f64::max);
        let (from, to) = self.passband_hz;
        if !(from < to && axis::is_sound(from) && axis::is_sound(to)) {
            return shown_frequencies(self.passband_hz, highest);
        }
        let margin = (to - from) * BESIDE;
        let right = to + margin;
        ((from - margin).max(0.0), if highest > from { right.min(highest) } else { right })
    }

    /// "on" above the one curve and "off" below the other, near their right end: grey does not tell them apart.
    fn states(&self, chart: &Chart<'_, '_>, sizes: &Sizes) -> Drawn {
        if self.off.is_empty() {
            return Ok(());
        }
        let (from, to) =
            if self.passband_hz.0 < self.passband_hz.1 { self.passband_hz } else { self.frequencies() };
        let lines = self.by_importance();
        // The first place from the right that no line crosses.
        let is_clear = |share: &f64| {
            let hz = from + share * (to - from);
            lines.iter().all(|line| (line.freq_hz - hz).abs() > STATE_SHARE * (to - from))
        };
        let share = STATES_AT.into_iter().find(is_clear).unwrap_or(STATES_AT[0]);
        let (left, right) = ((share - STATE_SHARE / 2.0), (share + STATE_SHARE / 2.0));
        let (left, right) = (from + left * (to - from), from + right * (to - from));
        let level = |curve: &[(f64, f64)], pick: fn(f64, f64) -> f64| {
            let close = curve.iter().filter(|(f, y)| (left..right).contains(f) && axis::is_sound(*y));
            close.map(|(_, y)| *y).reduce(pick)
        };
        let x = chart.place((left + right) / 2.0, chart.y.lo).0;
        // The device that makes less noise gets its words the other way round.
        let (on, off) = (level(&self.on, f64::max), level(&self.off, f64::max));
        let is_louder = on >= off;
        for (curve, colour, word, is_above) in
            [(&self.on, theme::ON, "on", is_louder), (&self.off, theme::OFF, "off", !is_louder)]
        {
            let (pick, side, by) = if is_above {
                (f64::max as fn(f64, f64) -> f64, VPos::Bottom, -0.3)
            } else {
                (f64::min as _, VPos::Top, 0.3)
            };
            if let Some(level) = level(curve, pick) {
                let y = chart.place(chart.x.lo, level).1 + by * sizes.text;
                // Over the numbers of the axis it could not be read.
                let at = (x, if is_above { y } else { y.min(chart.plot.bottom - 1.2 * sizes.text) });
                chart.page.text(word, at, Hand::bold(sizes.text, colour), HPos::Center, side)?;
            }
        }
        Ok(())
    }

    /// The excess from curve to curve; nothing where it would be too small to see.
    fn bracket(&self, chart: &Chart<'_, '_>, sizes: &Sizes) -> Drawn {
        let Some(bracket) = &self.bracket else { return Ok(()) };
        let Bracket { freq_hz, off, on, words } = bracket;
        if ![*freq_hz, *off, *on].iter().all(|value| axis::is_sound(*value)) {
            return Ok(());
        }
        let ((x, low), high) = (chart.place(*freq_hz, *off), chart.place(*freq_hz, *on).1);
        if (low - high).abs() < sizes.text * 1.6 {
            return Ok(());
        }
        let (half, page) = (sizes.text * 0.3, chart.page);
        for y in [low, high] {
            page.curve(&[(x - half, y), (x + half, y)], theme::INK, 2.2)?;
        }
        page.curve(&[(x, low), (x, high)], theme::INK, 2.2)?;
        let width = letters::width(words, sizes.text, true);
        let is_right = x + sizes.text * 0.5 + width > chart.plot.right;
        let (at, side) =
            if is_right { (x - sizes.text * 0.5, HPos::Right) } else { (x + sizes.text * 0.5, HPos::Left) };
        let middle = (low + high) / 2.0;
        let left = if is_right { at - width } else { at };
        let ground =
            Frame::new(left - 3.0, middle - sizes.text * 0.55, left + width + 3.0, middle + sizes.text * 0.55);
        page.fill(ground, theme::GROUND.mix(0.8))?;
        page.text(words, (at, middle), Hand::bold(sizes.text, theme::INK), side, VPos::Center)
    }

    fn axes<'p, 'a>(
        &self,
        page: &'p Page<'a>,
        frame: Frame,
        (low, high): (f64, f64),
        rows: usize,
        sizes: &Sizes,
    ) -> Chart<'p, 'a> {
        let height = frame.height() - chart::room_below(sizes);
        // Labels stand above the highest peak: the axis goes on as far as their rows need.
        let head = (row_height(sizes) * rows as f64 + sizes.text * 1.1).min(height * 0.45);
        let high = high + (high - low) * head / (height - head).max(1.0);
        let caption = if sizes.is_panel() { "dBFS in 1 Hz" } else { "Power density (dBFS in 1 Hz)" };
        let (from, to) = self.frequencies();
        let x = Axis::frequency(from, to, chart::ticks_across(frame.width(), sizes), "Audio frequency");
        let y = Axis::new(low, high, chart::ticks_down(height, sizes), caption);
        Chart::inside(page, frame, x, y, sizes)
    }

    /// Lines that can be shown: added before lost before both, strong before weak.
    fn by_importance(&self) -> Vec<&MarkedLine> {
        let (from, to) = self.frequencies();
        let shown = |line: &&MarkedLine| (from..=to).contains(&line.freq_hz) && axis::is_sound(line.level);
        let mut lines: Vec<&MarkedLine> = self.lines.iter().filter(shown).collect();
        lines.sort_by(|a, b| (a.kind as u8).cmp(&(b.kind as u8)).then(b.level.total_cmp(&a.level)));
        lines
    }

    /// Lines that carry words, important ones first.
    fn named(&self) -> Vec<(&MarkedLine, &str)> {
        self.by_importance().into_iter().filter_map(|line| Some((line, line.label.as_deref()?))).collect()
    }

    fn seats(&self, chart: &Chart<'_, '_>, rows: usize, sizes: &Sizes) -> Vec<Option<Seat>> {
        let wish = |(line, words): (&MarkedLine, &str)| Wish {
            x: chart.place(line.freq_hz, line.level).0,
            width: letters::width(words, label_size(sizes), false),
        };
        let wishes: Vec<Wish> = self.named().into_iter().map(wish).collect();
        chart::seat(&wishes, (chart.plot.left + 4.0, chart.plot.right), rows, sizes.text * 0.5)
    }

    fn marks(&self, page: &Page<'_>, chart: &Chart<'_, '_>, rows: usize, sizes: &Sizes) -> Drawn {
        let wedge = sizes.text * 0.6;
        let tip = |line: &MarkedLine| {
            let (x, y) = chart.place(line.freq_hz, line.level);
            (x, y - sizes.text * 0.22)
        };
        let lines = self.by_importance();
        // Rows are counted up from just above the highest mark.
        let highest = lines.iter().map(|line| tip(line).1).fold(chart.plot.bottom, f64::min);
        let base = (highest - wedge - sizes.text * 0.35).max(chart.plot.top + row_height(sizes) * rows as f64);
        let hand = Hand::plain(label_size(sizes), theme::INK);
        for ((line, words), seat) in self.named().into_iter().zip(self.seats(chart, rows, sizes)) {
            if let Some(Seat { row, middle }) = seat {
                let (x, y) = tip(line);
                let foot = base - row_height(sizes) * row as f64;
                page.hairline((x, foot + 4.0), (x, y - wedge), theme::RULE)?;
                page.text(words, (middle, foot), hand, HPos::Center, VPos::Bottom)?;
            }
        }
        lines.iter().rev().try_for_each(|line| match line.kind {
            LineKind::Added => page.wedge(tip(line), wedge, theme::ON, false),
            LineKind::Lost => page.wedge(tip(line), wedge, theme::OFF, true),
            LineKind::Both => page.wedge(tip(line), wedge, theme::SOFT_INK, false),
            LineKind::Station => page.wedge(tip(line), wedge, theme::SOFT_INK, true),
        })
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        // One recording needs no name.
        let alone = self.off.is_empty();
        if !self.on.is_empty() && !alone {
            entries.push((Mark::Curve(theme::ON.to_rgba()), "on".to_owned()));
        }
        if !alone {
            entries.push((Mark::Curve(theme::OFF.to_rgba()), "off".to_owned()));
        }
        let lines = self.by_importance();
        let marks = [
            (LineKind::Added, Mark::Wedge(theme::ON.to_rgba()), if alone { "carrier" } else { "line added" }),
            (LineKind::Lost, Mark::HollowWedge(theme::OFF.to_rgba()), "line lost"),
            (LineKind::Both, Mark::Wedge(theme::SOFT_INK.to_rgba()), "line in both, reference"),
            (
                LineKind::Station,
                Mark::HollowWedge(theme::SOFT_INK.to_rgba()),
                if alone { "station" } else { "station, not counted" },
            ),
        ];
        for (kind, mark, words) in marks {
            let count = lines.iter().filter(|line| line.kind == kind).count();
            if count > 0 {
                entries.push((mark, if count == 1 { words.to_owned() } else { format!("{words} ({count})") }));
            }
        }
        entries
    }
}

fn row_height(sizes: &Sizes) -> f64 {
    sizes.text * 1.18
}

fn label_size(sizes: &Sizes) -> f64 {
    sizes.text * 0.92
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_outside_the_passband_does_not_flatten_the_picture() {
        let curve = (0..600).map(|i| (f64::from(i * 10), if i < 270 { -60.0 } else { -250.0 })).collect();
        let figure = SpectraFigure { off: curve, passband_hz: (300.0, 2690.0), ..SpectraFigure::default() };
        let (low, high) = figure.levels().expect("there are data");
        assert!(low >= -60.0 - BELOW_FLOOR_DB && high < -50.0, "{low} {high}");
    }
}
