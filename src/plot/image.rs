//! Power density over time and frequency as cells: which are shown, their dots, the bar of their colours.

use plotters::style::RGBColor;

use crate::plot::axis::{self, Axis};
use crate::plot::page::{Drawn, Frame, HPos, Hand, Page, VPos};
use crate::plot::theme::{self, Sizes};
use crate::plot::{chart, letters};

/// A spectrogram's cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Image {
    /// Moments, from the first.
    pub rows: usize,
    /// Frequencies, rising.
    pub cols: usize,
    /// Power density, dBFS in 1 Hz: `rows` times `cols` values, moment by moment. What is missing counts as not
    /// known.
    pub db: Vec<f32>,
    /// Time from the start of the first row to the end of the last, seconds.
    pub duration_s: f64,
    /// Frequencies of the first and the last column, Hz.
    pub freq_hz: (f64, f64),
}

/// A moment that is not known: between the scale and the ground.
pub(crate) const UNKNOWN: RGBColor = theme::GRID;

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

    /// Its beginning, so many seconds of it.
    pub fn first(mut self, seconds: f64) -> Self {
        let rows = ((seconds / self.duration_s * self.rows as f64).round() as usize).clamp(1, self.rows.max(1));
        if rows < self.rows {
            self.duration_s *= rows as f64 / self.rows as f64;
            self.db.truncate(rows * self.cols);
            self.rows = rows;
        }
        self
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

    /// RGB dots, time to the right and frequency upwards. Where several cells fall on a dot their mean power is
    /// shown.
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

/// The frequencies to show around a passband when data reach up to `highest`.
pub(crate) fn shown_frequencies((from, to): (f64, f64), highest: f64) -> (f64, f64) {
    if !(from < to && axis::is_sound(to)) {
        return (0.0, if highest > 0.0 { highest } else { 1000.0 });
    }
    let margin = (to - from) * 0.14;
    let left = if from - margin * 3.0 > 0.0 { from - margin } else { 0.0 };
    let right = to + margin;
    (left, if highest > left { right.min(highest) } else { right })
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

    #[test]
    fn frequencies_shown_follow_the_passband() {
        assert_eq!(shown_frequencies((300.0, 2700.0), 6000.0), (0.0, 3036.0));
        assert_eq!(shown_frequencies((600.0, 800.0), 6000.0), (572.0, 828.0));
        assert_eq!(shown_frequencies((20.0, 24000.0), 24000.0), (0.0, 24000.0));
        assert_eq!(shown_frequencies((f64::NAN, 1.0), 0.0), (0.0, 1000.0));
    }
}
