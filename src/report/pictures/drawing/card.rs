//! All of a contrast on one page, made to be posted: finding, trust, the main figures, the pictures.

use std::path::Path;

use plotters::style::RGBColor;

use super::envelope::EnvelopeFigure;
use super::excess::ExcessFigure;
use super::intervals::IntervalsFigure;
use super::spectra::SpectraFigure;
use super::spectrogram::SpectrogramFigure;
use crate::findings::ladder::figure::LadderFigure;
use crate::plot::page::{self, Drawing, Drawn, Frame, HPos, Hand, Page, PlotError, Single, VPos};
use crate::plot::{letters, theme};

/// One contrast on one page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CardFigure {
    /// The finding; may take two lines.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// The two figures that matter, at most three: what, how much.
    pub facts: Vec<(String, String)>,
    /// What kind of noise it is, in a sentence.
    pub verdict: String,
    /// How far that can be trusted, in a sentence; empty where the verdict says it.
    pub trust: String,
    /// 0: sound, 1: doubtful, 2: void.
    pub trust_level: u8,
    /// What speaks against it.
    pub warnings: Vec<String>,
    /// Spectra.
    pub spectra: SpectraFigure,
    /// Excess by band.
    pub excess: ExcessFigure,
    /// Spectrograms.
    pub spectrogram: SpectrogramFigure,
    /// How it pulses.
    pub pulsing: Option<PulsingFigure>,
    /// What each remedy brought.
    pub ladder: Option<LadderFigure>,
    /// What made it.
    pub footer: String,
}

/// How noise pulses: by rates, or click by click.
#[derive(Debug, Clone, PartialEq)]
pub enum PulsingFigure {
    /// How strongly at each rate.
    Modulation(EnvelopeFigure),
    /// From one click to the next.
    Intervals(IntervalsFigure),
}

impl PulsingFigure {
    /// With another title.
    pub fn titled(self, title: &str) -> Self {
        let title = title.to_owned();
        match self {
            Self::Modulation(figure) => Self::Modulation(EnvelopeFigure { title, ..figure }),
            Self::Intervals(figure) => Self::Intervals(IntervalsFigure { title, ..figure }),
        }
    }

    fn paint(&self, page: &Page<'_>, frame: Frame) -> Drawn {
        match self {
            Self::Modulation(figure) => figure.paint(page, frame, &theme::PANEL),
            Self::Intervals(figure) => figure.paint(page, frame, &theme::PANEL),
        }
    }
}

const WIDTH: u32 = 1600;
const HEIGHT: u32 = 1360;
const GAP: f64 = 28.0;
const TITLE: f64 = 46.0;
const TEXT: f64 = 25.0;
/// Lines of the verdict, and of all warnings. Chosen: the pictures keep two thirds of the card.
const VERDICT_LINES: usize = 4;
const WARNING_LINES: usize = 4;
/// A verdict of at most so many lines is bold; chosen by eye.
const BOLD_LINES: usize = 3;
const MOST_FACTS: usize = 3;
const VOID: u8 = 2;

impl Drawing for CardFigure {
    /// Draws the card as a PNG of 1600 by 1360 pixels.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        page::write(file, WIDTH, HEIGHT, |page, whole| self.paint(page, whole.inset(44.0, 38.0)))
    }
}

impl CardFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame) -> Drawn {
        let rest = self.head(page, frame)?;
        let rest = self.judgement(page, rest)?;
        let rest = self.tiles(page, rest)?;
        let rest = self.foot(page, rest)?;
        let middle = rest.top + (rest.height() - GAP) * 0.53;
        self.upper(page, Frame { bottom: middle, ..rest })?;
        self.lower(page, Frame { top: middle + GAP, ..rest })
    }

    fn head(&self, page: &Page<'_>, frame: Frame) -> Result<Frame, PlotError> {
        let sizes = theme::Sizes { title: TITLE, subtitle: TEXT, text: TEXT, curve: 2.0, title_lines: 2 };
        page.heading(frame, &self.title, &self.subtitle, &sizes)
    }

    /// Verdict, trust and warnings beside a bar in the colour of the trust.
    fn judgement(&self, page: &Page<'_>, frame: Frame) -> Result<Frame, PlotError> {
        let left = frame.left + 26.0;
        let room = frame.right - left;
        let mut y = frame.top + 8.0;
        let top = y;
        let mut line = |text: &str, hand: Hand| -> Drawn {
            page.text(text, (left, y + 6.0), hand, HPos::Left, VPos::Top)?;
            y += hand.size * 1.34;
            Ok(())
        };
        let (size, lines) = whole(&self.verdict, TEXT + 2.0, room, VERDICT_LINES);
        // A whole paragraph of bold letters is hard to read.
        let bold = lines.len() <= BOLD_LINES;
        for words in lines {
            line(&words, Hand { bold, ..Hand::plain(size, theme::INK) })?;
        }
        for words in letters::wrap(&self.trust, TEXT, false, room, 2) {
            line(&words, Hand::plain(TEXT, theme::INK))?;
        }
        for warning in self.warning_lines(room) {
            line(&warning, Hand::plain(TEXT - 2.0, theme::SOFT_INK))?;
        }
        if y > top {
            page.fill(Frame::new(frame.left, top, frame.left + 9.0, y), self.trust_colour())?;
        }
        Ok(Frame { top: y + 20.0, ..frame })
    }

    /// Warnings in full, as many as find room, then how many more there are.
    fn warning_lines(&self, room: f64) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for (at, warning) in self.warnings.iter().enumerate() {
            let all = letters::wrap(&format!("• {warning}"), TEXT - 2.0, false, room, WARNING_LINES + 1);
            let is_last = at + 1 == self.warnings.len();
            if lines.len() + all.len() + usize::from(!is_last) > WARNING_LINES {
                let more = self.warnings.len() - at;
                let words = if at == 0 { "warnings" } else { "more warnings" };
                let words = if more == 1 { words.trim_end_matches('s') } else { words };
                lines.push(format!("• {more} {words}, see the report"));
                break;
            }
            lines.extend(all);
        }
        lines
    }

    fn trust_colour(&self) -> RGBColor {
        match self.trust_level {
            0 => theme::GOOD,
            1 => theme::CARE,
            _ => theme::ON,
        }
    }

    /// The figures in one row of tiles, or two.
    fn tiles(&self, page: &Page<'_>, frame: Frame) -> Result<Frame, PlotError> {
        let facts = &self.facts[..self.facts.len().min(MOST_FACTS)];
        if facts.is_empty() {
            return Ok(frame);
        }
        let a_row = if facts.len() <= 5 { facts.len() } else { facts.len().div_ceil(2) };
        let (height, gap) = (86.0, 14.0);
        let mut top = frame.top;
        for row in facts.chunks(a_row) {
            let columns = Frame { top, bottom: top + height, ..frame }.columns(&vec![1.0; a_row], gap);
            for ((label, value), tile) in row.iter().zip(columns) {
                page.fill(tile, theme::TILE)?;
                let inside = tile.inset(18.0, 14.0);
                let hand = Hand::plain(21.0, theme::SOFT_INK);
                let words = letters::cut(label, hand.size, false, inside.width());
                page.text(&words, (inside.left, inside.top), hand, HPos::Left, VPos::Top)?;
                let (size, lines) = page::fitting(value, 31.0, inside.width(), 1);
                let hand = Hand::bold(size, theme::INK);
                for words in lines {
                    page.text(&words, (inside.left, inside.bottom - 3.0), hand, HPos::Left, VPos::Bottom)?;
                }
            }
            top += height + gap;
        }
        Ok(Frame { top: top + 12.0, ..frame })
    }

    fn foot(&self, page: &Page<'_>, frame: Frame) -> Result<Frame, PlotError> {
        if self.footer.is_empty() {
            return Ok(frame);
        }
        let hand = Hand::plain(20.0, theme::SOFT_INK);
        let words = letters::cut(&self.footer, hand.size, false, frame.width());
        page.hairline((frame.left, frame.bottom - 26.0), (frame.right, frame.bottom - 26.0), theme::GRID)?;
        page.text(&words, (frame.left, frame.bottom), hand, HPos::Left, VPos::Bottom)?;
        Ok(Frame { bottom: frame.bottom - 44.0, ..frame })
    }

    fn upper(&self, page: &Page<'_>, frame: Frame) -> Drawn {
        // Of one recording there is none; and one that means nothing is not shown: figures on a posted picture
        // travel without their caveats.
        if self.trust_level >= VOID || self.excess.steps.is_empty() {
            return self.spectra.paint(page, frame, &theme::PANEL);
        }
        let columns = frame.columns(&[1.45, 1.0], GAP);
        self.spectra.paint(page, columns[0], &theme::PANEL)?;
        self.excess.paint(page, columns[1], &theme::PANEL)
    }

    fn lower(&self, page: &Page<'_>, frame: Frame) -> Drawn {
        let shares: &[f64] = match (&self.pulsing, &self.ladder) {
            (Some(_), Some(_)) => &[1.15, 0.9, 0.95],
            (None, None) => &[1.0],
            _ => &[1.45, 1.0],
        };
        let columns = frame.columns(shares, GAP);
        self.spectrogram.paint(page, columns[0], &theme::PANEL)?;
        if let Some(pulsing) = &self.pulsing {
            pulsing.paint(page, columns[1])?;
        }
        if let Some(ladder) = &self.ladder {
            ladder.paint(page, columns[columns.len() - 1], &theme::PANEL)?;
        }
        Ok(())
    }
}

/// A text of sentences in at most so many lines: in smaller letters where it must be, then without its last
/// sentences; never a sentence cut short, unless it is the only one.
fn whole(text: &str, size: f64, room: f64, lines: usize) -> (f64, Vec<String>) {
    let broken = |text: &str, share: f64| letters::wrap(text, size * share, true, room, lines + 1);
    let mut kept = text.to_owned();
    loop {
        for share in [1.0, 0.92, 0.84] {
            let all = broken(&kept, share);
            if all.len() <= lines && !all.iter().any(|line| line.ends_with('…')) {
                return (size * share, all);
            }
        }
        match kept.trim_end_matches('.').rfind(". ") {
            Some(end) => kept.truncate(end + 1),
            None => return (size * 0.84, letters::wrap(&kept, size * 0.84, true, room, lines)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sentence_is_cut() {
        let sentence = "With the pump on, the noise rises by 13.9 dB, as much as the neighbour's lamp did in May.";
        for count in 1..30 {
            let (_, lines) = whole(&vec![sentence; count].join(" "), 27.0, 1400.0, 4);
            assert!(lines.len() <= 4 && lines.last().is_some_and(|line| line.ends_with("May.")), "{lines:?}");
        }
    }

    #[test]
    fn warnings_stand_in_full_or_are_counted() {
        let long =
            "the level moves by ±3 dB over the whole passband at once: AGC at work, fading, or a voice. ".repeat(3);
        let card = CardFigure { warnings: vec!["short".into(), long, "one more".into()], ..CardFigure::default() };
        assert_eq!(card.warning_lines(900.0), ["• short", "• 2 more warnings, see the report"]);
    }
}
