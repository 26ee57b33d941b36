//! Named rows with a note at the end of each, and a chart in decibels between: how wide each is. Not here: what stands
//! in the rows.

use super::axis::{self, Axis};
use super::chart::{self, Chart};
use super::letters;
use super::page::{Drawn, Frame, HPos, Hand, Page, VPos};
use super::theme::{self, Sizes};

/// Rows drawn; more would make the picture higher than a page of a forum. Chosen.
pub const MOST_ROWS: usize = 40;

/// A value, dB, and the ends of its interval; NaN where it has none.
pub type Whiskered = (f64, f64, f64);

/// Rows laid out, the first on top.
pub struct Rows<'a, 'b> {
    /// Across in dB; up, the middle of each row as [`Rows::middle`] has it.
    pub chart: Chart<'a, 'b>,
    page: &'a Page<'b>,
    count: usize,
    /// Room for names and for notes, pixels.
    room: (f64, f64),
    sizes: &'a Sizes,
}

impl<'a, 'b> Rows<'a, 'b> {
    /// Names and notes take what they need, but of the width at most these shares. `across`: from, to, dB.
    pub fn of(
        page: &'a Page<'b>,
        frame: Frame,
        texts: &[(&str, &str)],
        shares: (f64, f64),
        (across, caption): ((f64, f64), &str),
        sizes: &'a Sizes,
    ) -> Self {
        let widest = |words: &mut dyn Iterator<Item = &str>, bold| {
            words.map(|text| letters::width(text, sizes.text, bold)).fold(sizes.text * 3.0, f64::max)
        };
        let names = widest(&mut texts.iter().map(|text| text.0), false).min(frame.width() * shares.0);
        let notes = widest(&mut texts.iter().map(|text| text.1), true).min(frame.width() * shares.1);
        let plot = Frame::new(
            (frame.left + names + sizes.text * 0.7).round(),
            (frame.top + sizes.text * 0.4).round(),
            (frame.right - notes - sizes.text * 0.8).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        let x = Axis::new(across.0, across.1, chart::ticks_across(plot.width(), sizes), caption);
        let y = Axis { lo: 0.0, hi: texts.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        Self { chart, page, count: texts.len(), room: (names, notes), sizes }
    }

    /// Where a row stands, in units of rows from the foot.
    pub fn middle(&self, row: usize) -> f64 {
        (self.count - 1 - row) as f64 + 0.5
    }

    /// The grid, and a line at zero.
    pub fn grid(&self) -> Drawn {
        self.chart.grid_across(true)?;
        let (plot, zero) = (self.chart.plot, self.chart.place(0.0, 0.0).0);
        self.page.hairline((zero, plot.top), (zero, plot.bottom), theme::INK)
    }

    /// Name and note of a row, cut to their room.
    pub fn words(&self, row: usize, (name, name_hand): (&str, Hand), (note, note_hand): (&str, Hand)) -> Drawn {
        let (plot, y) = (self.chart.plot, self.chart.place(0.0, self.middle(row)).1);
        let cut = |text: &str, hand: &Hand, room| letters::cut(text, self.sizes.text, hand.bold, room);
        let at = (plot.left - self.sizes.text * 0.7, y);
        self.page.text(&cut(name, &name_hand, self.room.0), at, name_hand, HPos::Right, VPos::Center)?;
        let at = (plot.right + self.sizes.text * 0.8, y);
        self.page.text(&cut(note, &note_hand, self.room.1), at, note_hand, HPos::Left, VPos::Center)
    }

    /// The edge that the rows begin at, drawn last.
    pub fn edge(&self) -> Drawn {
        let plot = self.chart.plot;
        self.page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::RULE)
    }
}

/// Zero, every value and, as far as they keep the values readable, intervals and other ends.
pub fn decibels(values: &[Whiskered], others: impl Iterator<Item = f64>) -> (f64, f64) {
    let values = || values.iter().filter(|value| axis::is_sound(value.0));
    let low = values().map(|value| value.0).fold(-0.5, f64::min);
    let high = values().map(|value| value.0).fold(3.0, f64::max);
    let beyond = (high - low) * 0.4;
    let ends = values().flat_map(|value| [value.1, value.2]).chain(others);
    let ends: Vec<f64> =
        ends.filter(|end| axis::is_sound(*end)).map(|end| end.clamp(low - beyond, high + beyond)).collect();
    let (low, high) = ends.iter().fold((low, high), |(low, high), end| (low.min(*end), high.max(*end)));
    let margin = (high - low) * 0.03;
    (low - margin, high + margin)
}
