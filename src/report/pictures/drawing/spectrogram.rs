//! Power density over time and frequency, device off beside on, in one colour scale and one scale of time.

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::image::{Image, UNKNOWN, colour_bar, shown_frequencies};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Page, PlotError, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Two spectrograms side by side.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpectrogramFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Device off; nothing where one recording is shown by itself.
    pub off: Take,
    /// Device on.
    pub on: Take,
    /// The common passband.
    pub passband_hz: (f64, f64),
}

/// One recording, or a part of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Take {
    /// Which: its file, and the part.
    pub words: String,
    /// Its cells.
    pub image: Image,
}

impl Take {
    fn seconds(&self) -> Option<f64> {
        let known = axis::is_sound(self.image.duration_s) && self.image.duration_s > 0.0;
        (known && self.image.rows > 0).then_some(self.image.duration_s)
    }
}

/// The shorter of two takes is no narrower than this share of the longer one; where it would be, both are as wide.
/// Chosen: a panel still has room for its words.
const NARROWEST: f64 = 0.3;

/// The scale begins at most so far below the middle of the noise, dB. Chosen by eye: single clicks stand out of
/// what short frames scatter by.
const BELOW_NOISE_DB: f64 = 8.0;

/// Widths of the two in equal seconds a dot.
fn shares(off: &Take, on: &Take) -> [f64; 2] {
    match (off.seconds(), on.seconds()) {
        (Some(a), Some(b)) if a.min(b) >= NARROWEST * a.max(b) => [a, b],
        _ => [1.0, 1.0],
    }
}

impl Single for SpectrogramFigure {
    fn height(&self) -> u32 {
        800
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let highest = self.off.image.freq_hz.1.max(self.on.image.freq_hz.1);
        let span = shown_frequencies(self.passband_hz, highest);
        let Some(range) = self.range(span) else {
            return page.no_data(frame, "no spectrogram to show", sizes);
        };
        let height = frame.height() - chart::room_below(sizes) - sizes.text * 1.6;
        let y = Axis::frequency(span.0, span.1, chart::ticks_down(height, sizes), "Audio frequency");
        let bar_words = Axis::new(range.0, range.1, chart::ticks_down(height, sizes), "dBFS in 1 Hz");
        let bar_width = sizes.text * 1.1;
        let bar_room = bar_width + sizes.text * 0.9 + chart::room_left(&bar_words, sizes);
        let plots = Frame::new(
            frame.left + chart::room_left(&y, sizes),
            frame.top + sizes.text * 1.5,
            frame.right - bar_room,
            frame.bottom - chart::room_below(sizes),
        );
        let look = Look { y, range, sizes: *sizes };
        let alone = self.off.image.rows == 0 && self.off.words.is_empty();
        let halves = match alone {
            true => vec![plots; 2],
            false => plots.columns(&shares(&self.off, &self.on), sizes.text * 1.2),
        };
        let takes = [("off", theme::OFF, &self.off, halves[0]), ("on", theme::ON, &self.on, halves[1])];
        for (name, colour, take, half) in takes.into_iter().skip(usize::from(alone)) {
            let name = if alone { "" } else { name };
            let chart = self.half(page, &take.image, half, &look)?;
            let at = (chart.plot.left, chart.plot.top - sizes.text * 0.4);
            page.text(name, at, Hand::bold(sizes.text, colour), HPos::Left, VPos::Bottom)?;
            let left = at.0 + letters::width(name, sizes.text, true) + sizes.text * 0.5;
            let room = chart.plot.right - left;
            let hand = Hand::plain(sizes.text * 0.9, theme::SOFT_INK);
            if letters::width(&take.words, hand.size, false) <= room || !sizes.is_panel() {
                let words = letters::cut(&take.words, hand.size, false, room);
                page.text(&words, (left, at.1), hand, HPos::Left, VPos::Bottom)?;
            }
            if half == halves[0] {
                chart.grid_down(false)?;
            }
        }
        let bar = Frame {
            left: plots.right + sizes.text * 0.9,
            right: plots.right + sizes.text * 0.9 + bar_width,
            ..plots
        };
        colour_bar(page, bar, &bar_words, sizes)
    }
}

impl SpectrogramFigure {
    /// The levels the scale spans, in the frequencies shown: from what is quiet in the quieter image to what is
    /// loud in the louder, no less than 20 dB, on whole decibels.
    fn range(&self, span: (f64, f64)) -> Option<(f64, f64)> {
        let inside = if self.passband_hz.0 < self.passband_hz.1 { self.passband_hz } else { span };
        let quiet = [&self.off, &self.on].into_iter().filter_map(|Take { image, .. }| {
            // Single short frames scatter far below the noise they are of: that would use up the colours.
            let middle = image.quantile(inside, 0.5)? - BELOW_NOISE_DB;
            Some(image.quantile(inside, 0.02)?.max(middle))
        });
        let loud = [&self.off, &self.on].into_iter().filter_map(|Take { image, .. }| image.quantile(span, 0.998));
        let low = quiet.reduce(f64::min)?.floor();
        let high = loud.reduce(f64::max)?.ceil();
        Some((low, high.max(low + 20.0)))
    }

    /// One of the two: image, edges of the passband, time.
    fn half<'p, 'a>(
        &self,
        page: &'p Page<'a>,
        image: &Image,
        plot: Frame,
        look: &Look,
    ) -> Result<Chart<'p, 'a>, PlotError> {
        let plot = Frame::new(plot.left.round(), plot.top.round(), plot.right.round(), plot.bottom.round());
        page.fill(plot, UNKNOWN)?;
        let (width, height) = (plot.width().max(0.0) as u32, plot.height().max(0.0) as u32);
        match image.dots((width as usize, height as usize), (look.y.lo, look.y.hi), look.range) {
            Some(rgb) => page.image((plot.left, plot.top), (width, height), rgb)?,
            None => page.no_data(plot, "no data", &look.sizes)?,
        }
        let seconds =
            if axis::is_sound(image.duration_s) && image.duration_s > 0.0 { image.duration_s } else { 1.0 };
        let (count, caption) = in_words(seconds);
        let x = Axis::new(0.0, count, chart::ticks_across(plot.width(), &look.sizes), caption);
        let mut chart = Chart::over(page, plot, x, look.y.clone(), &look.sizes);
        // The next half begins with a 0 of its own.
        chart.keep_words_left_of(plot.right + look.sizes.text * 0.25);
        for edge in [self.passband_hz.0, self.passband_hz.1] {
            chart.dashes(&[(chart.x.lo, edge), (chart.x.hi, edge)], theme::INK, 1.4)?;
        }
        chart.grid_across(false)?;
        Ok(chart)
    }
}

/// A time in the unit that suits it, with the axis' caption.
fn in_words(seconds: f64) -> (f64, &'static str) {
    match seconds {
        ..600.0 => (seconds, "Time (s)"),
        ..10_800.0 => (seconds / 60.0, "Time (min)"),
        _ => (seconds / 3600.0, "Time (h)"),
    }
}

/// What both halves share.
struct Look {
    y: Axis,
    range: (f64, f64),
    sizes: Sizes,
}
