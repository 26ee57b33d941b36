//! The spectrum of a whole night at one glance: time from left to right, frequency upwards, episodes marked above.

use std::path::Path;

use super::hours::Hours;
use super::timeline::{MarkedEpisode, lane, mark};
use crate::plot::axis::Axis;
use crate::plot::chart::{self, Chart};
use crate::plot::page::{self, Drawing, Drawn, Frame, Page, PlotError};
use crate::plot::theme::{self, Sizes};
use crate::report::pictures::drawing::spectra::shown_frequencies;
use crate::report::pictures::drawing::spectrogram::{Image, UNKNOWN, colour_bar};

/// A night's spectrum.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WaterfallFigure {
    /// The finding.
    pub title: String,
    /// What was recorded.
    pub subtitle: String,
    /// The time axis.
    pub hours: Hours,
    /// Power density; its moments lie evenly on the time axis, gaps included, and are not known in gaps.
    pub image: Image,
    /// The receiver's passband.
    pub passband_hz: (f64, f64),
    /// When noise was there.
    pub episodes: Vec<MarkedEpisode>,
}

impl Drawing for WaterfallFigure {
    /// Draws the figure as a PNG of 1200 by 760 pixels.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        page::write(file, 1200, 760, |page, whole| self.paint(page, whole.inset(34.0, 32.0), &theme::SINGLE))
    }
}

impl WaterfallFigure {
    /// Moments an image should have: about one a dot.
    pub const MOMENTS: usize = 1000;

    /// Where on the time axis a time lies, as a share of its length; `None` where nothing is recorded at all.
    pub fn shares(hours: &Hours) -> Option<impl Fn(f64) -> f64 + use<>> {
        let laid = hours.lay()?;
        Some(move |at_s| laid.place(at_s) / laid.length)
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let span = shown_frequencies(self.passband_hz, self.image.freq_hz.1);
        let inside = if self.passband_hz.0 < self.passband_hz.1 { self.passband_hz } else { span };
        let levels = (self.image.quantile(inside, 0.02), self.image.quantile(span, 0.995));
        let (Some(laid), (Some(low), Some(high))) = (self.hours.lay(), levels) else {
            return page.no_data(frame, "no spectrum to show", sizes);
        };
        let range = (low.floor(), high.ceil().max(low.floor() + 15.0));
        let frame = Frame { bottom: frame.bottom - self.hours.more_room_below(&laid, sizes), ..frame };
        let height = frame.height() - chart::room_below(sizes) - lane(sizes);
        let y = Axis::frequency(span.0, span.1, chart::ticks_down(height, sizes), "Audio frequency");
        let words = Axis::new(range.0, range.1, chart::ticks_down(height, sizes), "dBFS in 1 Hz");
        let bar_width = sizes.text * 1.1;
        let bar_room = bar_width + sizes.text * 0.9 + chart::room_left(&words, sizes);
        let plot = Frame::new(
            (frame.left + chart::room_left(&y, sizes)).round(),
            (frame.top + lane(sizes)).round(),
            (frame.right - bar_room).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        page.fill(plot, UNKNOWN)?;
        let size = (plot.width().max(0.0) as u32, plot.height().max(0.0) as u32);
        if let Some(rgb) = self.image.dots((size.0 as usize, size.1 as usize), (y.lo, y.hi), range) {
            page.image((plot.left, plot.top), size, rgb)?;
        }
        let x = self.hours.axis(&laid, chart::ticks_across(plot.width(), sizes));
        let chart = Chart::over(page, plot, x, y, sizes);
        for edge in [self.passband_hz.0, self.passband_hz.1] {
            chart.dashes(&[(chart.x.lo, edge), (chart.x.hi, edge)], theme::INK, 1.4)?;
        }
        mark(page, &chart, &laid, &self.episodes, sizes, false)?;
        chart.grid_down(false)?;
        chart.grid_across(false)?;
        self.hours.write_days(page, &chart, &laid, sizes)?;
        let bar =
            Frame { left: plot.right + sizes.text * 0.9, right: plot.right + sizes.text * 0.9 + bar_width, ..plot };
        colour_bar(page, bar, &words, sizes)
    }
}
