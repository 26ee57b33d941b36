//! The figure of a device over the dial: a column a band, a dot with its interval for each remedy.

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::contrast::Character;
use crate::findings::bands::result::{BandPoint, DeviceBands};
use crate::findings::bands::words::mhz;
use crate::findings::names::slug;
use crate::findings::picture::{FigureKind, Picture};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::dots::{Dot, SHAPES};
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, label, signed};

/// Devices whose figure is drawn. Chosen: of more, the tables tell.
const MOST_DEVICES: usize = 4;
/// Bands drawn. Chosen: more would have no room for their frequency.
const MOST_BANDS: usize = 16;
/// Dots with their figure beside them. Chosen: of more, the figures would touch.
const MOST_FIGURES: usize = 12;
/// Remedies drawn: as many as have a colour.
const MOST_STEPS: usize = theme::STEPS.len();

/// A figure a device.
pub(crate) fn figures(bands: &[DeviceBands]) -> Vec<Picture> {
    // Of many devices those whose bands differ. Carriers alone have no interval, and a figure of their own.
    let few = bands.len() <= MOST_DEVICES;
    let is_noise = |point: &BandPoint| point.character != Character::None && !point.character.is_lines();
    let shown = bands.iter().filter(|one| one.worst.is_some() || (few && one.points.iter().any(is_noise)));
    shown.take(MOST_DEVICES).enumerate().map(|(place, one)| picture(place, one)).collect()
}

fn picture(place: usize, bands: &DeviceBands) -> Picture {
    let name = capital(&label(&bands.device));
    let at = |setting: &Option<String>| {
        let point = bands.first(setting.as_deref()?)?;
        Some(format!("{} MHz ({} dB)", mhz(point.dial_khz), signed(point.value_db()?, 1)))
    };
    let title = match (at(&bands.worst), at(&bands.best)) {
        (Some(worst), Some(best)) => format!("{name}: worst at {worst}, best at {best}"),
        _ => format!("{name}: no band stands out for certain"),
    };
    let mut steps: Vec<BandStep> = Vec::new();
    let mut dials: Vec<(&str, f64)> = Vec::new();
    for point in &bands.points {
        if !dials.iter().any(|(setting, _)| *setting == point.setting) {
            dials.push((&point.setting, point.dial_khz));
        }
        let words = point.remedy.as_deref().map_or_else(|| "no remedy".to_owned(), label);
        let column = dials.iter().position(|(setting, _)| *setting == point.setting).unwrap_or_default();
        let dot = BandDot::of(column, point);
        match steps.iter_mut().find(|step| step.label == words) {
            Some(step) => step.dots.extend(dot),
            None => steps.push(BandStep { label: words, dots: dot.into_iter().collect() }),
        }
    }
    steps.sort_by_key(|step| step.label != "no remedy");
    Picture {
        file: format!("bands{}-{}bands.png", place + 1, slug(&bands.device)),
        kind: FigureKind::Bands,
        contrast: None,
        caption: format!("{name} over the dial: what it adds on each band, with its 95 % interval."),
        drawing: Box::new(BandsFigure {
            title,
            subtitle: "On against off at each dial; carriers in all where the noise is carriers".to_owned(),
            dials: dials.into_iter().map(|(_, khz)| mhz(khz)).collect(),
            steps,
        }),
    }
}

/// A device over the dial.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BandsFigure {
    /// The finding.
    pub title: String,
    /// What is shown.
    pub subtitle: String,
    /// The dials, MHz, rising.
    pub dials: Vec<String>,
    /// Without remedy, then with each.
    pub steps: Vec<BandStep>,
}

/// One remedy over the dial.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BandStep {
    /// "no remedy", or the remedy.
    pub label: String,
    /// What is left on each band.
    pub dots: Vec<BandDot>,
}

/// One comparison.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BandDot {
    /// Place among the dials.
    pub column: usize,
    /// Excess with its 95 % interval (NaN where it has none), dB.
    pub value: (f64, f64, f64),
    /// Whether it may be off.
    pub doubtful: bool,
}

impl BandDot {
    fn of(column: usize, point: &BandPoint) -> Option<Self> {
        let value = point.value_db()?;
        let own = point.excess_ci_db.filter(|_| !point.character.is_lines());
        let [low, high] = own.unwrap_or([f64::NAN; 2]);
        Some(Self { column, value: (value, low, high), doubtful: point.trust.is_doubtful() })
    }
}

impl Single for BandsFigure {
    fn height(&self) -> u32 {
        640
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        if self.sound().next().is_none() {
            return page.no_data(frame, "nothing was measured at any dial", sizes);
        }
        let (low, high) = self.decibels();
        let height = frame.height() - chart::room_below(sizes);
        let y = Axis::new(low, high, chart::ticks_down(height, sizes), "On above off (dB)");
        let columns = self.dials.len().min(MOST_BANDS);
        let ticks = self.dials.iter().take(columns).enumerate();
        let x = Axis {
            lo: -0.5,
            hi: columns as f64 - 0.5,
            ticks: ticks.map(|(i, mhz)| (i as f64, mhz.clone())).collect(),
            caption: "Dial (MHz, not to scale)".to_owned(),
        };
        let plot = Frame::new(
            (frame.left + chart::room_left(&y, sizes)).round(),
            (frame.top + sizes.text * 0.45).round(),
            (frame.right - sizes.text * 0.6).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        let chart = Chart::over(page, plot, x, y, sizes);
        chart.grid_down(true)?;
        chart.grid_across(false)?;
        let zero = chart.place(0.0, 0.0).1;
        page.hairline((plot.left, zero), (plot.right, zero), theme::INK)?;
        let of = self.steps.len().min(MOST_STEPS);
        // Room for the figures beside them.
        let apart = (plot.width() / columns as f64 * 0.66 / of as f64).min(sizes.text * 4.0);
        for (number, step) in self.steps.iter().take(MOST_STEPS).enumerate() {
            let aside = apart * (number as f64 - (of as f64 - 1.0) / 2.0);
            for dot in step.dots.iter().filter(|dot| dot.column < columns) {
                let look = look(number, dot, sizes);
                look.upright(&chart, dot.column as f64, dot.value, aside)?;
                if self.sound().count() <= MOST_FIGURES && axis::is_sound(dot.value.0) {
                    let (x, y) = chart.place(dot.column as f64, dot.value.0);
                    let at = (x + aside + look.radius * 2.2, y);
                    let hand = Hand::plain(sizes.text * 0.9, theme::INK);
                    page.text(&signed(dot.value.0, 1), at, hand, HPos::Left, VPos::Center)?;
                }
            }
        }
        Ok(())
    }
}

impl BandsFigure {
    fn sound(&self) -> impl Iterator<Item = &BandDot> + '_ {
        let here = |dot: &&BandDot| axis::is_sound(dot.value.0) && dot.column < self.dials.len().min(MOST_BANDS);
        self.steps.iter().take(MOST_STEPS).flat_map(|step| &step.dots).filter(here)
    }

    /// Zero, every value and, as far as they keep the values readable, the intervals.
    fn decibels(&self) -> (f64, f64) {
        let low = self.sound().map(|dot| dot.value.0).fold(-0.5, f64::min);
        let high = self.sound().map(|dot| dot.value.0).fold(3.0, f64::max);
        let beyond = (high - low) * 0.4;
        let ends = self.sound().flat_map(|dot| [dot.value.1, dot.value.2]).filter(|end| axis::is_sound(*end));
        let (low, high) = ends
            .map(|end| end.clamp(low - beyond, high + beyond))
            .fold((low, high), |(low, high), end| (low.min(end), high.max(end)));
        let margin = (high - low) * 0.04;
        (low - margin, high + margin)
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let steps = self.steps.iter().take(MOST_STEPS).enumerate();
        let mut entries: Vec<(Mark, String)> =
            steps.map(|(i, step)| (Mark::Dot(theme::STEPS[i].to_rgba()), step.label.clone())).collect();
        if self.sound().any(|dot| dot.doubtful) {
            entries.push((Mark::HollowDot(theme::ON.to_rgba()), "doubtful".to_owned()));
        }
        entries
    }
}

fn look(number: usize, dot: &BandDot, sizes: &Sizes) -> Dot<RGBColor> {
    let (shape, colour) = (SHAPES[number % SHAPES.len()], theme::STEPS[number % MOST_STEPS]);
    Dot { shape, radius: sizes.text * 0.32, colour, hollow: dot.doubtful }
}
