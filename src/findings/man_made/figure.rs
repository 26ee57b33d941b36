//! The figure of the station's noise, off and on and of all settings together, against the curves of published
//! man-made noise over frequency. The curves stand apart, each for its kind of place: medians of several sources do
//! not add.

use plotters::prelude::Color;

use crate::findings::man_made::p372::Category;
use crate::findings::man_made::result::{NoiseLevel, StationNoise};
use crate::findings::picture::{FigureKind, Picture};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::dots::{Dot, Shape};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, PlotError, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Points of a curve.
const POINTS: u32 = 60;

/// `None` where no setting was compared.
pub fn figures(stations: &[StationNoise]) -> Option<Picture> {
    Some(Picture {
        file: "man-made-noise.png".to_owned(),
        kind: FigureKind::ManMadeNoise,
        contrast: None,
        caption: "The station's noise against the man-made noise of ITU-R P.372, each kind of place by itself."
            .to_owned(),
        drawing: Box::new(figure(stations)?),
    })
}

fn figure(stations: &[StationNoise]) -> Option<ManMadeFigure> {
    let first = stations.first()?;
    let short_wave = stations.iter().all(|s| (1.0..=30.0).contains(&s.freq_mhz));
    let span_mhz: (f64, f64) = if short_wave { (1.0, 30.0) } else { (0.3, 250.0) };
    let curves = Category::ALL.into_iter().map(|category| {
        let (upper, lower) = category.deciles_db();
        ManMadeCurve {
            label: category.word().to_owned(),
            points: points(category, span_mhz),
            spread_db: (lower, upper),
            is_nearest: category == first.off.nearest,
        }
    });
    let mut levels = Vec::new();
    let mut loudest_names = Vec::new();
    for station in stations {
        levels.push(level(&station.off, station.freq_mhz, false));
        let loudest = station.on.iter().max_by(|a, b| a.noise_figure_db.total_cmp(&b.noise_figure_db));
        if let Some(on) = loudest {
            levels.push(level(on, station.freq_mhz, true));
            loudest_names.extend(on.device.clone());
        }
    }
    loudest_names.dedup();
    let on_words = match loudest_names.as_slice() {
        [only] => format!("{only} on"),
        _ => "loudest device on".to_owned(),
    };
    let over = first.off.over_median_db;
    let side = if over < 0.0 { "below" } else { "above" };
    Some(ManMadeFigure {
        title: format!(
            "Everything off: {:.1} dB {side} the median of {} places",
            over.abs(),
            first.off.nearest.word()
        ),
        // Source: IEEE Trans. EMC 61(2), 337, 2019; Sensors 24(21), 6832, 2024.
        subtitle: "External noise figure against ITU-R P.372, whose curves rest on measurements of the 1960s and \
                   70s: towns are louder today"
            .to_owned(),
        curves: curves.collect(),
        levels,
        on_words,
    })
}

fn points(category: Category, (low, high): (f64, f64)) -> Vec<(f64, f64)> {
    let at = |i: u32| low * (high / low).powf(f64::from(i) / f64::from(POINTS));
    (0..=POINTS).map(at).filter_map(|mhz| Some((mhz, category.median_db(mhz.clamp(low, high))?))).collect()
}

fn level(level: &NoiseLevel, freq_mhz: f64, is_on: bool) -> ManMadeLevel {
    let [low, high] = level.noise_figure_ci_db;
    ManMadeLevel { freq_mhz, figure: (level.noise_figure_db, low, high), is_on }
}

/// Levels of one station on the curves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ManMadeFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// The curves, from loud to quiet.
    pub curves: Vec<ManMadeCurve>,
    /// The station's levels.
    pub levels: Vec<ManMadeLevel>,
    /// What the levels with a device on are called.
    pub on_words: String,
}

/// One kind of place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ManMadeCurve {
    /// Its name.
    pub label: String,
    /// Frequency (MHz) and median noise figure (dB), by rising frequency.
    pub points: Vec<(f64, f64)>,
    /// How far its spread reaches below and above the median, dB.
    pub spread_db: (f64, f64),
    /// Whether its spread is shown over all frequencies: the one the station is compared with.
    pub is_nearest: bool,
}

/// One level.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ManMadeLevel {
    /// Frequency, MHz.
    pub freq_mhz: f64,
    /// Noise figure with its interval, dB.
    pub figure: (f64, f64, f64),
    /// Whether a device is on.
    pub is_on: bool,
}

/// Frequencies marked on the axis, MHz.
const MARKED_MHZ: [f64; 13] = [0.3, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 14.0, 20.0, 30.0, 100.0, 250.0];

impl Single for ManMadeFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        let levels: Vec<&ManMadeLevel> = self.levels.iter().filter(|level| level.is_sound()).collect();
        let curves: Vec<ManMadeCurve> = self.curves.iter().map(ManMadeCurve::sound).collect();
        if levels.is_empty() || curves.iter().all(|curve| curve.points.len() < 2) {
            return page.no_data(frame, "no calibrated level to show", sizes);
        }
        let names = curves.iter().map(|curve| letters::width(&curve.label, sizes.text, true)).fold(0.0, f64::max);
        let strokes = STROKES_APART * sizes.text * curves.len() as f64;
        let height = frame.height() - chart::room_below(sizes);
        let y = decibels(&curves, &levels, chart::ticks_down(height, sizes));
        let x = frequencies(&curves, &levels);
        let plot = Frame::new(
            (frame.left + chart::room_left(&y, sizes)).round(),
            (frame.top + sizes.text * 0.45).round(),
            (frame.right - names.min(frame.width() * 0.25) - strokes - sizes.text * 1.2).round(),
            (frame.bottom - chart::room_below(sizes)).round(),
        );
        let chart = Chart::over(page, plot, x, y, sizes);
        for curve in curves.iter().filter(|curve| curve.is_nearest) {
            band(page, &chart, curve)?;
        }
        chart.grid_down(true)?;
        chart.grid_across(false)?;
        curves.iter().try_for_each(|curve| median(&chart, curve, sizes))?;
        places(page, &chart, &curves, frame.right, sizes)?;
        levels.iter().try_for_each(|level| mark(&chart, level, sizes))?;
        let mut named: Vec<Frame> = Vec::new();
        for is_on in [true, false] {
            if let Some(level) = levels.iter().find(|level| level.is_on == is_on) {
                named.extend(self.name(page, &chart, (level, &curves), &named, sizes)?);
            }
        }
        Ok(())
    }
}

impl ManMadeFigure {
    /// A level's words beside it, its name over its figure, where they hide least of the curves.
    fn name(
        &self,
        page: &Page<'_>,
        chart: &Chart<'_, '_>,
        (level, curves): (&ManMadeLevel, &[ManMadeCurve]),
        named: &[Frame],
        sizes: &Sizes,
    ) -> Result<Option<Frame>, PlotError> {
        let what = if level.is_on { &self.on_words } else { "everything off" };
        let name = letters::cut(what, sizes.text, true, chart.plot.width() * 0.4);
        let figure = axis::decibels(level.figure.0);
        let width = letters::width(&name, sizes.text, true).max(letters::width(&figure, sizes.text, true));
        let (row, pad) = (sizes.text * 1.1, 4.0);
        let (x, y) = chart.place(level.freq_mhz.log10(), level.figure.0);
        let away = sizes.text * 1.1;
        let boxes = [0.0, -1.6, 1.6, -2.8, 2.8].into_iter().flat_map(|down| {
            let middle = y + down * sizes.text;
            [x + away, x - away - width]
                .map(|left| Frame::new(left - pad, middle - row - pad, left + width + pad, middle + row + pad))
        });
        let plot = chart.plot;
        let fits = |b: &Frame| {
            b.left >= plot.left && b.right <= plot.right && b.top >= plot.top && b.bottom <= plot.bottom
        };
        let points: Vec<(f64, f64)> =
            curves.iter().flat_map(|c| &c.points).map(|p| chart.place(p.0.log10(), p.1)).collect();
        let others: Vec<(f64, f64)> =
            self.levels.iter().map(|l| chart.place(l.freq_mhz.max(1e-9).log10(), l.figure.0)).collect();
        let hidden = |b: &Frame| {
            let holds = |p: &&(f64, f64)| (b.left..=b.right).contains(&p.0) && (b.top..=b.bottom).contains(&p.1);
            let touches = |other: &&Frame| {
                b.left < other.right && other.left < b.right && b.top < other.bottom && other.top < b.bottom
            };
            // The way from the dot counts too: a far name could be another's.
            let away = ((b.top + b.bottom) / 2.0 - y).abs() / sizes.text * 4.0;
            let hidden = points.iter().filter(holds).count() + 100 * others.iter().filter(holds).count();
            hidden + 1000 * named.iter().filter(touches).count() + away as usize
        };
        let Some(best) = boxes.filter(fits).min_by_key(hidden) else { return Ok(None) };
        let (at, side) =
            if best.left > x { (best.left + pad, HPos::Left) } else { (best.right - pad, HPos::Right) };
        let middle = (best.top + best.bottom) / 2.0;
        for (words, y) in [(name, middle - row / 2.0), (figure, middle + row / 2.0)] {
            let width = letters::width(&words, sizes.text, true);
            let left = if matches!(side, HPos::Left) { at } else { at - width };
            let ground = Frame::new(left - pad, y - row / 2.0, left + width + pad, y + row / 2.0);
            page.fill(ground, theme::GROUND.mix(0.7))?;
            page.text(&words, (at, y), Hand::bold(sizes.text, colour_of(level)), side, VPos::Center)?;
        }
        Ok(Some(best))
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if let Some(nearest) = self.curves.iter().find(|curve| curve.is_nearest) {
            entries.push((Mark::Area(BAND.to_rgba()), format!("8 of 10 {} places", nearest.label)));
        }
        if self.curves.iter().any(|curve| !curve.is_nearest) {
            entries.push((
                Mark::Dot(theme::SOFT_INK.to_rgba()),
                "median and 8 of 10 places, at the right end".to_owned(),
            ));
        }
        entries
    }
}

/// Distance of the strokes beside the names, em. Chosen by eye.
const STROKES_APART: f64 = 0.75;

fn colour_of(level: &ManMadeLevel) -> plotters::style::RGBColor {
    if level.is_on { theme::ON } else { theme::OFF }
}

/// The spread of the nearest curve.
const BAND: plotters::style::RGBColor = theme::SHADE;

impl ManMadeLevel {
    fn is_sound(&self) -> bool {
        let (value, low, high) = self.figure;
        self.freq_mhz > 0.0 && [self.freq_mhz, value, low, high].iter().all(|v| axis::is_sound(*v))
    }
}

impl ManMadeCurve {
    /// Without what can't be drawn.
    fn sound(&self) -> Self {
        let points =
            self.points.iter().copied().filter(|p| p.0 > 0.0 && axis::is_sound(p.0) && axis::is_sound(p.1));
        Self { points: points.collect(), ..self.clone() }
    }
}

/// All curves with their spread, and every level with its interval.
fn decibels(curves: &[ManMadeCurve], levels: &[&ManMadeLevel], most: usize) -> Axis {
    let reach = |curve: &ManMadeCurve, level: f64| {
        let (below, above) = curve.spread_db;
        [level - below, level + above].map(|end| if axis::is_sound(end) { end } else { level })
    };
    let of_curves = curves.iter().flat_map(|curve| curve.points.iter().flat_map(|p| reach(curve, p.1)));
    let of_levels = levels.iter().flat_map(|level| [level.figure.1, level.figure.2]);
    let (low, high) =
        of_curves.chain(of_levels).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let margin = (high - low) * 0.02;
    Axis::new(low - margin, high + margin, most, "External noise figure (dB)")
}

/// On a logarithmic scale: the axis counts powers of ten of a MHz.
fn frequencies(curves: &[ManMadeCurve], levels: &[&ManMadeLevel]) -> Axis {
    let all =
        curves.iter().flat_map(|curve| curve.points.iter().map(|p| p.0)).chain(levels.iter().map(|l| l.freq_mhz));
    let (low, high) = all.fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
    let (lo, hi) = (low.log10(), high.log10().max(low.log10() + 0.1));
    let tick = |mhz: f64| (mhz.log10(), axis::number(mhz, if mhz < 1.0 { 1 } else { 0 }));
    let within = |mhz: &f64| (lo - 1e-9..=hi + 1e-9).contains(&mhz.log10());
    Axis {
        lo,
        hi,
        ticks: MARKED_MHZ.into_iter().filter(within).map(tick).collect(),
        caption: "Frequency (MHz)".to_owned(),
    }
}

fn band(page: &Page<'_>, chart: &Chart<'_, '_>, curve: &ManMadeCurve) -> Drawn {
    let at = |point: &(f64, f64), by: f64| chart.place(point.0.log10(), point.1 + by);
    let (below, above) = curve.spread_db;
    let mut outline: Vec<(f64, f64)> = curve.points.iter().map(|p| at(p, above)).collect();
    outline.extend(curve.points.iter().rev().map(|p| at(p, -below)));
    if outline.len() < 4 { Ok(()) } else { page.shape(&outline, BAND) }
}

fn median(chart: &Chart<'_, '_>, curve: &ManMadeCurve, sizes: &Sizes) -> Drawn {
    let points: Vec<(f64, f64)> = curve.points.iter().map(|p| (p.0.log10(), p.1)).collect();
    let colour = if curve.is_nearest { theme::INK } else { theme::SOFT_INK };
    chart.curve(&points, colour, if curve.is_nearest { sizes.curve * 1.3 } else { sizes.curve * 0.8 })
}

/// Behind the end of each curve the spread of its places, as a dot with a whisker, and its name at that height.
fn places(page: &Page<'_>, chart: &Chart<'_, '_>, curves: &[ManMadeCurve], right: f64, sizes: &Sizes) -> Drawn {
    let ended: Vec<(&ManMadeCurve, f64)> =
        curves.iter().filter_map(|curve| Some((curve, curve.points.last()?.1))).collect();
    let place = |level: f64| chart.place(chart.x.hi, level).1;
    let wishes: Vec<f64> = ended.iter().map(|(_, level)| place(*level)).collect();
    let room = (chart.plot.top + sizes.text * 0.5, chart.plot.bottom - sizes.text * 0.5);
    let heights = chart::stacked(&wishes, sizes.text * 1.05, room);
    let apart = sizes.text * STROKES_APART;
    let left = chart.plot.right + apart * (ended.len() as f64 + 0.6);
    for (i, ((curve, level), height)) in ended.iter().zip(heights).enumerate() {
        let (colour, x) = (
            if curve.is_nearest { theme::INK } else { theme::SOFT_INK },
            chart.plot.right + apart * (i as f64 + 0.7),
        );
        let (below, above) = curve.spread_db;
        let dot = Dot { shape: Shape::Disc, radius: sizes.text * 0.2, colour, hollow: false };
        dot.upright(chart, chart.x.hi, (*level, level - below, level + above), x - chart.plot.right)?;
        page.hairline((x + sizes.text * 0.3, place(*level)), (left - 4.0, place(*level)), theme::GRID)?;
        let hand = if curve.is_nearest { Hand::bold(sizes.text, colour) } else { Hand::plain(sizes.text, colour) };
        let words = letters::cut(&curve.label, sizes.text, curve.is_nearest, right - left);
        page.text(&words, (left, height), hand, HPos::Left, VPos::Center)?;
    }
    Ok(())
}

/// A level as a dot with its interval, hollow with everything off; off stands a little left of its frequency and on
/// a little right, so that neither hides the other.
fn mark(chart: &Chart<'_, '_>, level: &ManMadeLevel, sizes: &Sizes) -> Drawn {
    let radius = sizes.text * 0.32;
    let dot = Dot { shape: Shape::Disc, radius, colour: colour_of(level), hollow: !level.is_on };
    dot.upright(chart, level.freq_mhz.log10(), level.figure, if level.is_on { radius * 1.1 } else { -radius * 1.1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_marks_the_bands_it_holds() {
        let curve = ManMadeCurve { points: vec![(1.0, 70.0), (30.0, 30.0)], ..ManMadeCurve::default() };
        let words: Vec<String> = frequencies(&[curve], &[]).ticks.into_iter().map(|tick| tick.1).collect();
        assert_eq!(words, ["1", "2", "3", "5", "7", "10", "14", "20", "30"]);
    }

    #[test]
    fn what_is_no_number_is_left_out() {
        let level = |figure| ManMadeLevel { freq_mhz: 7.0, figure, is_on: false };
        assert!(level((40.0, 37.0, 43.0)).is_sound());
        assert!(!level((f64::NAN, 37.0, 43.0)).is_sound());
        assert!(!ManMadeLevel { freq_mhz: 0.0, ..level((40.0, 37.0, 43.0)) }.is_sound());
        let curve =
            ManMadeCurve { points: vec![(0.0, 1.0), (1.0, f64::NAN), (2.0, 3.0)], ..ManMadeCurve::default() };
        assert_eq!(curve.sound().points, [(2.0, 3.0)]);
    }
}
