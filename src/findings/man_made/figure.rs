//! The data of the figure on published noise, of all settings together. Not here: the table (`findings`), the ink.

use crate::findings::figure_file::FigureKind;
use crate::findings::listening::result::NoiseLevel;
use crate::findings::man_made::drawing::{ManMadeCurve, ManMadeFigure, ManMadeLevel};
use crate::findings::man_made::p372::Category;
use crate::report::contract::Report;
use crate::report::pictures::{Data, Picture};

/// Points of a curve.
const POINTS: u32 = 60;

/// `None` where no setting was compared.
pub(crate) fn picture(report: &Report) -> Option<Picture> {
    Some(Picture {
        file: "man-made-noise.png".to_owned(),
        kind: FigureKind::ManMadeNoise,
        contrast: None,
        caption: "The station's noise against the man-made noise of ITU-R P.372, each kind of place by itself."
            .to_owned(),
        data: Data::ManMade(figure(report)?),
    })
}

fn figure(report: &Report) -> Option<ManMadeFigure> {
    let stations = &report.listening.station_noise;
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
        subtitle: "External noise figure against the man-made noise of ITU-R P.372".to_owned(),
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
