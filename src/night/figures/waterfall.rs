//! The spectrum of a whole night at one glance: time from left to right, frequency upwards, episodes marked above.

use plotters::prelude::Color;

use super::hours::Hours;
use super::timeline::{MarkedEpisode, lane, mark};
use crate::night::{Passage, Timeline};
use crate::plot::axis::Axis;
use crate::plot::chart::{self, Chart};
use crate::plot::image::{Image, UNKNOWN, colour_bar, shown_frequencies};
use crate::plot::page::{Drawn, Frame, Mark, Page, Single};
use crate::plot::theme::{self, Sizes};
use crate::units::DbfsPerHz;

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

impl Single for WaterfallFigure {
    fn height(&self) -> u32 {
        760
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
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

impl WaterfallFigure {
    /// Moments an image should have: about one a dot (chosen).
    pub const MOMENTS: usize = 1000;

    /// Where on the time axis a time lies, as a share of its length; `None` where nothing is recorded at all.
    pub fn shares(hours: &Hours) -> Option<impl Fn(f64) -> f64 + use<>> {
        let laid = hours.lay()?;
        Some(move |at_s| laid.place(at_s) / laid.length)
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if !self.episodes.is_empty() {
            entries.push((Mark::Area(theme::ON.to_rgba()), "episode".to_owned()));
        }
        let is_unknown = |row: &[f32]| row.iter().all(|db| db.is_nan());
        if self.image.cols > 0 && self.image.db.chunks_exact(self.image.cols).any(is_unknown) {
            entries.push((Mark::Area(UNKNOWN.to_rgba()), "not recorded, or where two files meet".to_owned()));
        }
        if self.passband_hz.0 < self.passband_hz.1 {
            entries.push((Mark::Dashes(theme::INK.to_rgba()), "passband".to_owned()));
        }
        entries
    }
}

/// Bins of the waterfall at most: about one a dot (chosen).
const MOST_BINS: usize = 600;

impl WaterfallFigure {
    /// The rows' spectra on an even raster of the time axis; where several fall into one cell, their mean power.
    pub(crate) fn image(night: &Timeline, hours: &Hours) -> Image {
        let Some(share_of) = Self::shares(hours) else { return Image::default() };
        let top_hz = night.passages.iter().map(|p| (p.bins - 1) as f64 * p.bin_hz).fold(0.0, f64::max);
        let finest_hz = night.passages.iter().map(|p| p.bin_hz).fold(0.0, f64::max);
        let cols = ((top_hz / finest_hz) as usize + 1).clamp(2, MOST_BINS);
        let col_hz = top_hz / (cols - 1) as f64;
        let rows = Self::MOMENTS;
        let mut power = vec![0f32; rows * cols];
        let mut weight = vec![0f32; rows * cols];
        for passage in &night.passages {
            for (from, to, spectrum) in moments(passage, col_hz, cols) {
                let place = |at_s: f64| share_of(at_s) * rows as f64;
                // At least the raster's moment in which its middle lies.
                let first = place(from).round().min(place((from + to) / 2.0).floor()).max(0.0) as usize;
                let last = (place(to).round() as usize).max(first + 1).min(rows);
                for row in first.min(rows)..last {
                    for (col, value) in spectrum.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
                        power[row * cols + col] += value;
                        weight[row * cols + col] += 1.0;
                    }
                }
            }
        }
        let level = |(power, weight): (&f32, &f32)| match *weight > 0.0 {
            true => DbfsPerHz::from_density(f64::from(power / weight)).0 as f32,
            false => f32::NAN,
        };
        Image {
            rows,
            cols,
            db: power.iter().zip(&weight).map(level).collect(),
            duration_s: night.duration_s(),
            freq_hz: (0.0, top_hz),
        }
    }
}

/// Begin, end and spectrum of each row in columns of `col_hz`; NaN where its recording has none.
fn moments(passage: &Passage, col_hz: f64, cols: usize) -> impl Iterator<Item = (f64, f64, Vec<f32>)> {
    let sounding = passage.rows.iter().filter(|row| row.sounding > 0);
    sounding.map(move |row| {
        let (from, length) = passage.row_time(row);
        let mut sums = vec![(0f32, 0u16); cols];
        for (bin, value) in row.density.iter().enumerate() {
            let col = (bin as f64 * passage.bin_hz / col_hz).round() as usize;
            if let Some(sum) = sums.get_mut(col) {
                *sum = (sum.0 + value, sum.1 + 1);
            }
        }
        let spectrum = sums.into_iter().map(|(sum, n)| if n > 0 { sum / f32::from(n) } else { f32::NAN }).collect();
        (from, from + length, spectrum)
    })
}
