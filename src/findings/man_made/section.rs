//! The section on the station's noise against published noise.

use crate::findings::man_made::result::{NoiseLevel, StationNoise};
use crate::findings::man_made::words::{on_words, station};
use crate::findings::picture::{FigureFile, FigureKind};
use crate::report::prose::PROSE;
use crate::text::{Column, Document, Table, Words, db, interval, label, number};

/// A line for the report's head, setting by setting.
pub(crate) fn verdicts(stations: &[StationNoise]) -> Vec<Words> {
    let told = |noise| Words::strong("Against published noise:").then(" ").then(station(noise));
    stations.iter().map(told).collect()
}

/// Nothing where no setting was compared.
pub(crate) fn section(doc: &mut Document, stations: &[StationNoise], figures: &[FigureFile]) {
    if !stations.is_empty() {
        doc.heading(2, "Against published noise");
        stations.iter().for_each(|noise| published(doc, noise));
        figures.iter().filter(|f| f.kind == FigureKind::ManMadeNoise).for_each(|f| doc.picture(f));
    }
}

fn published(doc: &mut Document, noise: &StationNoise) {
    doc.paragraph(format!(
        "Setting {}: {} MHz, antenna: {}, losses of {} taken off, calibration good to ±{}.",
        label(&noise.setting),
        number(noise.freq_mhz, 3),
        label(&noise.antenna_type),
        db(noise.antenna_loss_db),
        db(noise.tolerance_db)
    ));
    let bandwidth = format!("{} Hz", number(noise.bandwidth_hz, 0));
    let mut levels = Table::new([
        Column::text("What was on"),
        Column::number("Noise at the receiver, dBm"),
        Column::number("External noise figure, dB"),
        Column::text("Nearest places"),
        Column::number("Over their median, dB"),
        Column::text("Against their spread"),
    ]);
    let row = |level: &NoiseLevel| {
        let what = if level.device.is_some() { on_words(level) } else { "everything off".to_owned() };
        [
            what,
            format!("{} in {bandwidth}", number(level.noise_dbm, 1)),
            format!("{} ({})", number(level.noise_figure_db, 1), interval(level.noise_figure_ci_db)),
            level.nearest.word().to_owned(),
            number(level.over_median_db, 1),
            level.standing.word().to_owned(),
        ]
    };
    std::iter::once(&noise.off).chain(&noise.on).for_each(|level| levels.row(row(level)));
    doc.table(levels);
    let mut table = Table::new([
        Column::text("Places (ITU-R P.372)"),
        Column::number("Median noise figure here, dB"),
        Column::number("Deciles in time, dB"),
        Column::number("Decile from place to place, dB"),
        Column::number("Eight of ten lie between, dB"),
    ]);
    for c in &noise.categories {
        let borrowed = if c.own_spread { "" } else { " (of rural places)" };
        table.row([
            c.category.word().to_owned(),
            number(c.median_db, 1),
            format!("{} to +{}{borrowed}", number(-c.lower_decile_db, 1), number(c.upper_decile_db, 1)),
            format!("±{}{borrowed}", number(c.location_decile_db, 1)),
            format!(
                "{} to {}",
                number(c.median_db - c.spread_lower_db, 1),
                number(c.median_db + c.spread_upper_db, 1)
            ),
        ]);
    }
    doc.table(table);
    // Our own words: names of fields stand in them as code.
    let mut told: Vec<Words> = noise.notes.iter().map(|note| Words::prose(note)).collect();
    if noise.categories.iter().any(|c| !c.own_spread) {
        told.push(PROSE.notes.borrowed_spread.as_str().into());
    }
    told.push(PROSE.notes.many_places.as_str().into());
    doc.list(told);
}
