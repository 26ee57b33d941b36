//! All of a contrast on one page, made to be posted: finding, trust, the main figures, the pictures.

use std::path::Path;

use plotters::style::RGBColor;

use super::envelope::EnvelopeFigure;
use super::excess::ExcessFigure;
use super::spectra::SpectraFigure;
use super::spectrogram::SpectrogramFigure;
use crate::findings::ladder::figure::LadderFigure;
use crate::plot::page::{self, Drawing, Drawn, Frame, HPos, Hand, Page, PlotError, VPos};
use crate::plot::{letters, theme};

/// One contrast on one page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CardFigure {
    /// The finding; may take two lines.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Four to eight figures: what, how much.
    pub facts: Vec<(String, String)>,
    /// What kind of noise it is, in a sentence.
    pub verdict: String,
    /// How far that can be trusted, in a sentence.
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
    pub envelope: Option<EnvelopeFigure>,
    /// What each remedy brought.
    pub ladder: Option<LadderFigure>,
    /// What made it.
    pub footer: String,
}

const WIDTH: u32 = 1600;
const HEIGHT: u32 = 1360;
const GAP: f64 = 28.0;
const TITLE: f64 = 46.0;
const TEXT: f64 = 25.0;
const MOST_WARNINGS: usize = 3;
const MOST_FACTS: usize = 8;
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
        for words in letters::wrap(&self.verdict, TEXT + 2.0, true, room, 3) {
            line(&words, Hand::bold(TEXT + 2.0, theme::INK))?;
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

    fn warning_lines(&self, room: f64) -> Vec<String> {
        let shown = if self.warnings.len() > MOST_WARNINGS { MOST_WARNINGS - 1 } else { MOST_WARNINGS };
        // A lone warning may take two lines, so that what to do about it is not cut.
        let rows = if self.warnings.len() == 1 { 2 } else { 1 };
        let mut lines: Vec<String> = self
            .warnings
            .iter()
            .take(shown)
            .flat_map(|warning| letters::wrap(&format!("• {warning}"), TEXT - 2.0, false, room, rows))
            .collect();
        if self.warnings.len() > shown {
            lines.push(format!("• and {} more warnings, see the report", self.warnings.len() - shown));
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
        // An excess that means nothing is not shown: figures on a posted picture travel without their caveats.
        if self.trust_level >= VOID {
            return self.spectra.paint(page, frame, &theme::PANEL);
        }
        let columns = frame.columns(&[1.45, 1.0], GAP);
        self.spectra.paint(page, columns[0], &theme::PANEL)?;
        self.excess.paint(page, columns[1], &theme::PANEL)
    }

    fn lower(&self, page: &Page<'_>, frame: Frame) -> Drawn {
        let shares: &[f64] = match (&self.envelope, &self.ladder) {
            (Some(_), Some(_)) => &[1.15, 0.9, 0.95],
            (None, None) => &[1.0],
            _ => &[1.45, 1.0],
        };
        let columns = frame.columns(shares, GAP);
        self.spectrogram.paint(page, columns[0], &theme::PANEL)?;
        if let Some(envelope) = &self.envelope {
            envelope.paint(page, columns[1], &theme::PANEL)?;
        }
        if let Some(ladder) = &self.ladder {
            ladder.paint(page, columns[columns.len() - 1], &theme::PANEL)?;
        }
        Ok(())
    }
}
