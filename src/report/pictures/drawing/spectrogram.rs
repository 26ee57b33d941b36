//! Power density over time and frequency, device off beside on, in one colour scale.

use std::path::Path;

use plotters::style::RGBColor;

use super::spectra::shown_frequencies;
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::letters;
use crate::plot::page::{self, Drawing, Drawn, Frame, HPos, Hand, Page, PlotError, VPos};
use crate::plot::theme::{self, Sizes};

/// Two spectrograms side by side.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpectrogramFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Device off.
    pub off: Image,
    /// Device on.
    pub on: Image,
    /// The common passband.
    pub passband_hz: (f64, f64),
}

/// A spectrogram's cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Image {
    /// Moments, from the first.
    pub rows: usize,
    /// Frequencies, rising.
    pub cols: usize,
    /// Power density, dBFS in 1 Hz: `rows` times `cols` values, moment by moment. What is missing counts as not known.
    pub db: Vec<f32>,
    /// Time from the start of the first row to the end of the last, seconds.
    pub duration_s: f64,
    /// Frequencies of the first and the last column, Hz.
    pub freq_hz: (f64, f64),
}

/// A moment that is not known: between the scale and the ground.
pub(crate) const UNKNOWN: RGBColor = theme::GRID;

impl Drawing for SpectrogramFigure {
    /// Draws the figure as a PNG of 1200 by 800 pixels.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        page::write(file, 1200, 800, |page, whole| self.paint(page, whole.inset(34.0, 32.0), &theme::SINGLE))
    }
}

impl SpectrogramFigure {
    /// Draws into a frame of a page.
    pub(crate) fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let highest = self.off.freq_hz.1.max(self.on.freq_hz.1);
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
        let halves = plots.columns(&[1.0, 1.0], sizes.text * 1.2);
        for (name, colour, image, half) in
            [("off", theme::OFF, &self.off, halves[0]), ("on", theme::ON, &self.on, halves[1])]
        {
            let chart = self.half(page, image, half, &look)?;
            let at = (chart.plot.left, chart.plot.top - sizes.text * 0.4);
            page.text(name, at, Hand::bold(sizes.text, colour), HPos::Left, VPos::Bottom)?;
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

    /// The levels the scale spans, in the frequencies shown: from what is quiet in the quieter image to what is loud
    /// in the louder, no less than 20 dB, on whole decibels.
    fn range(&self, span: (f64, f64)) -> Option<(f64, f64)> {
        let inside = if self.passband_hz.0 < self.passband_hz.1 { self.passband_hz } else { span };
        let quiet = [&self.off, &self.on].into_iter().filter_map(|image| image.quantile(inside, 0.02));
        let loud = [&self.off, &self.on].into_iter().filter_map(|image| image.quantile(span, 0.998));
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

impl Image {
    /// The column whose frequency is nearest to `freq_hz`, fractional.
    fn column_of(&self, freq_hz: f64) -> f64 {
        let (from, to) = self.freq_hz;
        (freq_hz - from) / (to - from) * (self.cols.max(2) - 1) as f64
    }

    fn is_sound(&self) -> bool {
        let (from, to) = self.freq_hz;
        self.rows > 0
            && self.cols > 0
            && axis::is_sound(from)
            && axis::is_sound(to)
            && from < to
            && !self.db.is_empty()
    }

    /// The level below which this share of the finite cells between two frequencies lies.
    pub(crate) fn quantile(&self, (from, to): (f64, f64), share: f64) -> Option<f64> {
        if !self.is_sound() {
            return None;
        }
        let last = self.cols - 1;
        let first = self.column_of(from).ceil().clamp(0.0, last as f64) as usize;
        let end = self.column_of(to).floor().clamp(first as f64, last as f64) as usize;
        let rows = self.db.chunks_exact(self.cols).take(self.rows);
        let mut values: Vec<f32> = rows
            .flat_map(|row| &row[first..=end])
            .copied()
            .filter(|value| axis::is_sound(f64::from(*value)))
            .collect();
        let place = (values.len().checked_sub(1)? as f64 * share).round() as usize;
        let (_, value, _) = values.select_nth_unstable_by(place, f32::total_cmp);
        Some(f64::from(*value))
    }

    /// RGB dots, time to the right and frequency upwards. Where several cells fall on a dot their mean power is shown.
    pub(crate) fn dots(
        &self,
        (width, height): (usize, usize),
        span_hz: (f64, f64),
        range: (f64, f64),
    ) -> Option<Vec<u8>> {
        if !self.is_sound() || width == 0 || height == 0 {
            return None;
        }
        let frequencies = self.frequency_ranges(height, span_hz);
        let moments: Vec<(usize, usize)> = (0..width).map(|x| cells(x, width, self.rows)).collect();
        let mut rgb = vec![0u8; width * height * 3];
        let mut x = 0;
        // Neighbouring columns of dots often show the same moment: worked out once, then copied.
        while x < width {
            let same = moments[x..].iter().take_while(|moment| **moment == moments[x]).count();
            for (y, cols) in frequencies.iter().enumerate() {
                let colour = cols.map_or(UNKNOWN, |cols| colour_of(self.mean_level(moments[x], cols), range));
                let at = (y * width + x) * 3;
                for dot in rgb[at..at + same * 3].chunks_exact_mut(3) {
                    dot.copy_from_slice(&[colour.0, colour.1, colour.2]);
                }
            }
            x += same;
        }
        Some(rgb)
    }

    /// Which columns each row of dots shows, from the top; none beyond the image's frequencies.
    fn frequency_ranges(&self, height: usize, (lo, hi): (f64, f64)) -> Vec<Option<(usize, usize)>> {
        let step = (hi - lo) / height as f64;
        (0..height)
            .map(|y| {
                let top = self.column_of(hi - step * y as f64) + 0.5;
                let bottom = self.column_of(hi - step * (y + 1) as f64) + 0.5;
                let (first, end) = (bottom.floor(), top.ceil());
                if top <= 0.0 || bottom >= self.cols as f64 {
                    return None;
                }
                // Fewer columns than dots: the one under the dot's middle.
                if top - bottom < 1.0 {
                    let middle = ((top + bottom) / 2.0).floor().clamp(0.0, self.cols as f64 - 1.0) as usize;
                    return Some((middle, middle + 1));
                }
                let first = first.max(0.0) as usize;
                Some((first, (end as usize).clamp(first + 1, self.cols)))
            })
            .collect()
    }

    fn mean_level(&self, rows: (usize, usize), cols: (usize, usize)) -> Option<f64> {
        let known = |row: usize| {
            (cols.0..cols.1).filter_map(move |col| self.db.get(row * self.cols + col)).filter(|db| !db.is_nan())
        };
        let mut count = 0u32;
        let mut power = 0.0f64;
        let mut only = f64::NAN;
        for db in (rows.0..rows.1).flat_map(known) {
            count += 1;
            only = f64::from(*db);
            power += f64::from((db * (std::f32::consts::LOG2_10 / 10.0)).exp2());
        }
        match count {
            0 => None,
            1 => Some(only),
            _ => Some(10.0 * (power / f64::from(count)).log10()),
        }
    }
}

/// The cells of `from` that dot `i` of `to` covers: at least one.
fn cells(i: usize, to: usize, from: usize) -> (usize, usize) {
    let first = i * from / to;
    (first, ((i + 1) * from / to).max(first + 1))
}

fn colour_of(level: Option<f64>, (low, high): (f64, f64)) -> RGBColor {
    let Some(level) = level else { return UNKNOWN };
    let place = (level - low) / (high - low) * theme::SCALE_STEPS as f64;
    theme::scale()[(place.max(0.0) as usize).min(theme::SCALE_STEPS - 1)]
}

pub(crate) fn colour_bar(page: &Page<'_>, bar: Frame, words: &Axis, sizes: &Sizes) -> Drawn {
    let step = bar.height() / theme::SCALE_STEPS as f64;
    for (i, colour) in theme::scale().iter().rev().enumerate() {
        let top = (bar.top + step * i as f64).round();
        let bottom = (bar.top + step * (i + 1) as f64).round();
        page.fill(Frame { top, bottom, ..bar }, *colour)?;
    }
    let outline = [
        (bar.left, bar.top),
        (bar.right, bar.top),
        (bar.right, bar.bottom),
        (bar.left, bar.bottom),
        (bar.left, bar.top),
    ];
    page.curve(&outline, theme::RULE, 1.0)?;
    let hand = Hand::plain(sizes.text, theme::SOFT_INK);
    for (value, label) in &words.ticks {
        let y = bar.bottom - (value - words.lo) / (words.hi - words.lo) * bar.height();
        page.hairline((bar.right, y), (bar.right + sizes.text * 0.25, y), theme::RULE)?;
        page.text(label, (bar.right + sizes.text * 0.45, y), hand, HPos::Left, VPos::Center)?;
    }
    let x = bar.right + chart::room_left(words, sizes) - sizes.text * 0.1;
    let caption = letters::cut(&words.caption, sizes.text, false, bar.height());
    page.text_up(&caption, (x, (bar.top + bar.bottom) / 2.0), hand)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(rows: usize, cols: usize) -> Image {
        let db = (0..rows * cols).map(|i| (i % cols) as f32 - 100.0).collect();
        Image { rows, cols, db, duration_s: 2.0, freq_hz: (0.0, 1000.0) }
    }

    #[test]
    fn quiet_is_light_and_low_frequencies_are_below() {
        let image = ramp(3, 101);
        let rgb = image.dots((30, 50), (0.0, 1000.0), (-100.0, 0.0)).expect("sound");
        let sum = |row: usize| rgb[row * 90..row * 90 + 3].iter().map(|v| u32::from(*v)).sum::<u32>();
        assert!(sum(49) > 700 && sum(0) < 200, "{} {}", sum(49), sum(0));
        assert_eq!(rgb[..87], rgb[3..90]);
    }

    /// Two cells of −10 and −20 dB on one dot: 10·log10((0.1 + 0.01) / 2), by hand.
    #[test]
    fn cells_on_one_dot_are_averaged_as_powers() {
        let image = Image { rows: 2, cols: 1, db: vec![-10.0, -20.0], duration_s: 1.0, freq_hz: (0.0, 1.0) };
        let mean = image.mean_level((0, 2), (0, 1)).expect("known");
        assert!((mean + 12.596).abs() < 0.001, "{mean}");
    }

    #[test]
    fn quantiles_stay_between_the_frequencies() {
        let image = ramp(4, 101);
        assert_eq!(image.quantile((0.0, 1000.0), 0.5), Some(-50.0));
        assert_eq!(image.quantile((200.0, 400.0), 0.0), Some(-80.0));
        assert_eq!(image.quantile((200.0, 400.0), 1.0), Some(-60.0));
        assert_eq!(Image::default().quantile((0.0, 1.0), 0.5), None);
    }

    #[test]
    fn every_cell_is_on_a_dot() {
        for (to, from) in [(7, 100), (100, 7), (1, 1), (5, 1)] {
            let ranges: Vec<_> = (0..to).map(|i| cells(i, to, from)).collect();
            assert_eq!((ranges[0].0, ranges[to - 1].1), (0, from));
            assert!(ranges.windows(2).all(|pair| pair[1].0 <= pair[0].1));
        }
    }
}
