//! How far the device stands above the noise, band by band, with intervals.

use std::path::Path;

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::page::{self, Drawing, Drawn, Frame, Mark, Page, PlotError};
use crate::plot::theme::{self, Sizes};

/// How much ink the band of the overall interval has: bars show through.
const OVERALL_TINT: f64 = 0.12;

/// Excess by band.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExcessFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// Middle of the band (Hz), excess (dB), lower and upper end of its 95 % interval (dB); by rising frequency.
    pub bands: Vec<(f64, f64, f64, f64)>,
    /// Excess of the whole passband with its interval, dB.
    pub overall: Option<(f64, f64, f64)>,
    /// The smallest excess that would have been called, dB.
    pub detection_limit_db: Option<f64>,
    /// The common passband.
    pub passband_hz: (f64, f64),
}

impl Drawing for ExcessFigure {
    /// Draws the figure as a PNG of 1200 by 700 pixels.
    fn draw(&self, file: &Path) -> Result<(), PlotError> {
        page::write(file, 1200, 700, |page, whole| self.paint(page, whole.inset(34.0, 32.0), &theme::SINGLE))
    }
}

impl ExcessFigure {
    /// Draws into a frame of a page.
    pub(crate) fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(sizes), sizes)?;
        let bands = self.edges();
        if bands.is_empty() && self.overall().is_none() {
            return page.no_data(frame, "no excess to show", sizes);
        }
        let (low, high) = self.decibels();
        let (from, to) = self.frequencies(&bands);
        let height = frame.height() - chart::room_below(sizes);
        let x = Axis::frequency(from, to, chart::ticks_across(frame.width(), sizes), "Audio frequency");
        let y = Axis::new(low, high, chart::ticks_down(height, sizes), "On above off (dB)");
        let chart = Chart::inside(page, frame, x, y, sizes);
        chart.shade_outside(self.passband_hz)?;
        if let Some(limit) = self.limit() {
            chart.bar((from, to), (-limit, limit), theme::SHADE)?;
        }
        chart.grid_down(true)?;
        chart.grid_across(false)?;
        self.bars(page, &chart, &bands, sizes)?;
        self.overall_line(&chart, sizes)?;
        let zero = chart.place(from, 0.0).1;
        page.hairline((chart.plot.left, zero), (chart.plot.right, zero), theme::INK)
    }

    fn limit(&self) -> Option<f64> {
        self.detection_limit_db.filter(|limit| axis::is_sound(*limit) && *limit > 0.0)
    }

    fn overall(&self) -> Option<(f64, f64, f64)> {
        self.overall.filter(|overall| axis::is_sound(overall.0))
    }

    /// Bands that have a value, each with its lower and upper edge: half-way to its neighbours.
    fn edges(&self) -> Vec<(f64, f64, (f64, f64, f64))> {
        let sound: Vec<_> =
            self.bands.iter().filter(|band| axis::is_sound(band.0) && axis::is_sound(band.1)).collect();
        let lone = if self.passband_hz.1 > self.passband_hz.0 {
            (self.passband_hz.1 - self.passband_hz.0) / 2.0
        } else {
            50.0
        };
        (0..sound.len())
            .map(|i| {
                let middle = sound[i].0;
                let before = i.checked_sub(1).map(|i| (middle - sound[i].0) / 2.0);
                let after = sound.get(i + 1).map(|next| (next.0 - middle) / 2.0);
                let down = before.or(after).unwrap_or(lone);
                let up = after.or(before).unwrap_or(lone);
                (middle - down, middle + up, (sound[i].1, sound[i].2, sound[i].3))
            })
            .collect()
    }

    /// The passband with a small margin, or what the bands span.
    fn frequencies(&self, bands: &[(f64, f64, (f64, f64, f64))]) -> (f64, f64) {
        let from = bands.iter().map(|band| band.0).fold(self.passband_hz.0, f64::min);
        let to = bands.iter().map(|band| band.1).fold(self.passband_hz.1, f64::max);
        let margin = (to - from) * 0.02;
        ((from - margin).max(0.0), to + margin)
    }

    /// Zero, every value and, as far as they keep the values readable, the intervals.
    fn decibels(&self) -> (f64, f64) {
        let values = self.bands.iter().map(|band| (band.1, band.2, band.3)).chain(self.overall);
        let values: Vec<_> = values.filter(|value| axis::is_sound(value.0)).collect();
        let limit = self.limit().unwrap_or(0.0);
        let low = values.iter().map(|value| value.0).fold(-limit, f64::min);
        let high = values.iter().map(|value| value.0).fold(limit, f64::max);
        let beyond = ((high - low) * 0.6).max(3.0);
        let ends = values.iter().flat_map(|value| [value.1, value.2]).filter(|end| axis::is_sound(*end));
        let ends: Vec<f64> = ends.map(|end| end.clamp(low - beyond, high + beyond)).collect();
        let low = ends.iter().copied().fold(low, f64::min);
        let high = ends.iter().copied().fold(high, f64::max);
        let margin = ((high - low) * 0.06).max(0.3);
        (if low < 0.0 { low - margin } else { 0.0 }, if high > 0.0 { high + margin } else { 0.0 })
    }

    fn bars(
        &self,
        page: &Page<'_>,
        chart: &Chart<'_, '_>,
        bands: &[(f64, f64, (f64, f64, f64))],
        sizes: &Sizes,
    ) -> Drawn {
        let a_pixel = (chart.x.hi - chart.x.lo) / chart.plot.width();
        let many = bands.len() as f64 > chart.plot.width() / 8.0;
        for (from, to, (value, lo, hi)) in bands {
            let gap = if many { 0.0 } else { a_pixel };
            chart.bar((from + gap, to - gap), (0.0, *value), bar_colour(*value))?;
            if !many && axis::is_sound(*lo) && axis::is_sound(*hi) {
                self.whisker(page, chart, (from + to) / 2.0, (*lo, *hi), sizes)?;
            }
        }
        Ok(())
    }

    /// The interval as an upright stroke; an arrow where it goes on beyond the axis.
    fn whisker(
        &self,
        page: &Page<'_>,
        chart: &Chart<'_, '_>,
        middle: f64,
        (lo, hi): (f64, f64),
        sizes: &Sizes,
    ) -> Drawn {
        let (x, low) = chart.place(middle, lo);
        let high = chart.place(middle, hi).1;
        page.curve(&[(x, low), (x, high)], theme::INK, 2.0)?;
        let half = sizes.text * 0.2;
        for (beyond, y, outward) in [(lo < chart.y.lo, low, -1.0), (hi > chart.y.hi, high, 1.0)] {
            if beyond {
                let foot = y + outward * half * 2.0;
                page.shape(&[(x, y), (x - half, foot), (x + half, foot)], theme::INK)?;
            } else {
                page.curve(&[(x - half, y), (x + half, y)], theme::INK, 2.0)?;
            }
        }
        Ok(())
    }

    fn overall_line(&self, chart: &Chart<'_, '_>, sizes: &Sizes) -> Drawn {
        let Some((value, lo, hi)) = self.overall() else { return Ok(()) };
        let (from, to) =
            if self.passband_hz.0 < self.passband_hz.1 { self.passband_hz } else { (chart.x.lo, chart.x.hi) };
        if axis::is_sound(lo) && axis::is_sound(hi) {
            chart.bar((from, to), (lo, hi), theme::INK.mix(OVERALL_TINT))?;
        }
        chart.dashes(&[(from, value), (to, value)], theme::INK, sizes.curve * 1.1)
    }

    fn legend(&self, sizes: &Sizes) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if let Some(overall) = self.overall() {
            let words = if sizes.is_panel() { "all: " } else { "whole passband " };
            let words = format!("{words}{}", axis::estimate(overall));
            entries.push((Mark::Dashes(theme::INK.to_rgba()), words));
            if axis::is_sound(overall.1) && axis::is_sound(overall.2) {
                let words = if sizes.is_panel() { "its interval" } else { "its 95 % interval" };
                entries.push((Mark::Area(theme::INK.mix(OVERALL_TINT)), words.to_owned()));
            }
        }
        if !sizes.is_panel() && !self.bands.is_empty() {
            entries.push((Mark::Area(bar_colour(1.0).to_rgba()), "by band, with 95 % interval".to_owned()));
        }
        if let Some(limit) = self.limit() {
            let words = format!("not detectable (±{})", axis::decibels(limit));
            entries.push((Mark::Area(theme::SHADE.to_rgba()), words));
        }
        entries
    }
}

/// Louder with the device on, or quieter.
fn bar_colour(value: f64) -> RGBColor {
    if value >= 0.0 { theme::tint(theme::ON, 0.55) } else { theme::tint(theme::OFF, 0.55) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_huge_interval_does_not_flatten_the_bars() {
        let bands = vec![(500.0, 3.0, -400.0, 600.0), (600.0, 4.0, 3.0, 5.0), (700.0, f64::NAN, 0.0, 0.0)];
        let figure = ExcessFigure { bands, passband_hz: (450.0, 650.0), ..ExcessFigure::default() };
        let (low, high) = figure.decibels();
        assert!(low > -5.0 && high < 9.0, "{low} {high}");
        assert_eq!(figure.edges().len(), 2);
        assert_eq!((figure.edges()[0].0, figure.edges()[1].1), (450.0, 650.0));
    }
}
