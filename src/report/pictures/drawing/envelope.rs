//! How the noise pulses: the modulation spectrum of its envelope, device off and on.

use plotters::prelude::Color;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Modulation spectra.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EnvelopeFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Device off: modulation frequency (Hz) and amplitude relative to the envelope's mean (0..2).
    pub off: Vec<(f64, f64)>,
    /// Device on.
    pub on: Vec<(f64, f64)>,
    /// Modulation frequencies (Hz) worth naming, with their words; important ones first.
    pub marks: Vec<(f64, String)>,
    /// The amplitude above which a modulation counts.
    pub threshold: Option<f64>,
}

const LABEL_ROWS: usize = 2;

impl Single for EnvelopeFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        let Some((to, top)) = self.extent() else {
            return page.no_data(frame, "no envelope to show", sizes);
        };
        let all = self.axes(page, frame, to, top, LABEL_ROWS, sizes);
        let rows = chart::rows_taken(&self.seats(&all, LABEL_ROWS, sizes));
        let chart = self.axes(page, frame, to, top, rows, sizes);
        chart.grid()?;
        if let Some(threshold) = self.threshold() {
            chart.dashes(&[(0.0, threshold), (to, threshold)], theme::SOFT_INK, 2.0)?;
        }
        chart.curve(&self.off, theme::OFF, sizes.curve)?;
        chart.curve(&self.on, theme::ON, sizes.curve * 1.4)?;
        self.names(page, &chart, rows, sizes)
    }
}

impl EnvelopeFigure {
    fn axes<'p, 'a>(
        &self,
        page: &'p Page<'a>,
        frame: Frame,
        to: f64,
        top: f64,
        rows: usize,
        sizes: &Sizes,
    ) -> Chart<'p, 'a> {
        let height = frame.height() - chart::room_below(sizes);
        let head = (row_height(sizes) * rows as f64 + sizes.text * 0.5).min(height * 0.5);
        let high = top * (1.0 + head / (height - head).max(1.0));
        let x = Axis::frequency(0.0, to, chart::ticks_across(frame.width(), sizes), "Rate of the pulses");
        let caption =
            if sizes.is_panel() { "Swing (± % of mean)" } else { "Swing of the power (± % of its mean)" };
        let mut y = Axis::new(0.0, 100.0 * high, chart::ticks_down(height, sizes), caption);
        (y.hi, y.ticks) = (high, y.ticks.into_iter().map(|(at, words)| (at / 100.0, words)).collect());
        Chart::inside(page, frame, x, y, sizes)
    }

    fn threshold(&self) -> Option<f64> {
        self.threshold.filter(|threshold| axis::is_sound(*threshold) && *threshold > 0.0)
    }

    /// The highest modulation frequency and the largest amplitude. Amplitudes of small modulation are shown against
    /// a scale that keeps them small: at least 0.1, or three thresholds.
    fn extent(&self) -> Option<(f64, f64)> {
        let sound = |(f, a): &&(f64, f64)| axis::is_sound(*f) && *f >= 0.0 && axis::is_sound(*a);
        let shown: Vec<_> = self.off.iter().chain(&self.on).filter(sound).collect();
        let to = shown.iter().map(|(f, _)| *f).reduce(f64::max)?;
        let least = self.threshold().map_or(0.1, |threshold| (3.0 * threshold).max(0.05));
        let top = shown.iter().map(|(_, a)| *a).fold(least, f64::max);
        // The axis ends on a round number, so that its last tick stands.
        Some((if to > 0.0 { (to / 10.0).ceil() * 10.0 } else { 500.0 }, top * 1.04))
    }

    /// Height of the higher curve around a frequency.
    fn height_at(&self, freq_hz: f64, reach_hz: f64) -> f64 {
        let near = |(f, _): &&(f64, f64)| (f - freq_hz).abs() <= reach_hz;
        let values = self.off.iter().chain(&self.on).filter(near).map(|(_, a)| *a);
        values.filter(|a| axis::is_sound(*a)).fold(0.0, f64::max)
    }

    /// Marks that lie on the axis.
    fn shown_marks(&self, chart: &Chart<'_, '_>) -> Vec<&(f64, String)> {
        self.marks.iter().filter(|(f, _)| (chart.x.lo..=chart.x.hi).contains(f)).collect()
    }

    fn seats(&self, chart: &Chart<'_, '_>, rows: usize, sizes: &Sizes) -> Vec<Option<chart::Seat>> {
        let width = |words: &str| letters::width(words, label_size(sizes), false);
        let wish = |(f, words): &(f64, String)| Wish { x: chart.place(*f, 0.0).0, width: width(words) };
        let wishes: Vec<Wish> = self.shown_marks(chart).into_iter().map(wish).collect();
        chart::seat(&wishes, (chart.plot.left + 4.0, chart.plot.right), rows, sizes.text * 0.5)
    }

    fn names(&self, page: &Page<'_>, chart: &Chart<'_, '_>, rows: usize, sizes: &Sizes) -> Drawn {
        let reach = (chart.x.hi - chart.x.lo) * 0.006;
        let base = chart.plot.top + row_height(sizes) * rows as f64;
        let hand = Hand::plain(label_size(sizes), theme::INK);
        for ((freq, words), seat) in self.shown_marks(chart).into_iter().zip(self.seats(chart, rows, sizes)) {
            if let Some(seat) = seat {
                let tip = chart.place(*freq, self.height_at(*freq, reach));
                let foot = base - row_height(sizes) * seat.row as f64;
                page.hairline((tip.0, foot + 4.0), (tip.0, tip.1 - 5.0), theme::RULE)?;
                page.text(words, (seat.middle, foot), hand, HPos::Center, VPos::Bottom)?;
            }
        }
        Ok(())
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        for (curve, colour, words) in [(&self.on, theme::ON, "on"), (&self.off, theme::OFF, "off")] {
            // One recording needs no name.
            if !curve.is_empty() && !self.off.is_empty() {
                entries.push((Mark::Curve(colour.to_rgba()), words.to_owned()));
            }
        }
        if self.threshold().is_some() {
            entries.push((Mark::Dashes(theme::SOFT_INK.to_rgba()), "threshold".to_owned()));
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
