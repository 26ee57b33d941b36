//! The station's noise against published noise: a sentence without markup, the section, the line of the digest.

use crate::contrast::comparisons::setting_name;
use crate::findings::man_made::p372::Standing;
use crate::findings::man_made::result::{NoiseLevel, StationNoise};
use crate::labels::Setting;
use crate::notes::NOTES;
use crate::text::{Column, Document, Table, Words, db, interval, label, number, signed};

/// Where the station stands against published noise: everything off, then the loudest device.
pub(crate) fn station(noise: &StationNoise) -> String {
    let mut text = format!(
        "With everything off the noise at {} MHz {}.",
        number(noise.freq_mhz, 3),
        stands(&noise.off, noise)
    );
    let loudest = noise.on.iter().max_by(|a, b| a.noise_figure_db.total_cmp(&b.noise_figure_db));
    if let Some(on) = loudest.filter(|on| on.noise_figure_db > noise.off.noise_figure_db) {
        text += &format!(" With the {} on, the noise {}.", on_words(on), stands(on, noise));
    }
    text
}

/// "drill charger (remedy: porch socket)".
pub(crate) fn on_words(level: &NoiseLevel) -> String {
    let remedy = level.remedy.as_deref().map_or_else(String::new, |r| format!(" (remedy: {})", label(r)));
    format!("{}{remedy}", label(level.device.as_deref().unwrap_or("device")))
}

/// "(external noise figure 49.9 dB, 46.9 to 52.9) is 0.8 dB above the median of residential places, within …".
fn stands(level: &NoiseLevel, noise: &StationNoise) -> String {
    let category = noise.categories.iter().find(|c| c.category == level.nearest);
    let spread = category.map_or_else(String::new, |c| {
        format!(" ({} below it to {} above)", db(c.spread_lower_db), db(c.spread_upper_db))
    });
    let over = level.over_median_db;
    let side = if over < 0.0 { "below" } else { "above" };
    let standing = match level.standing {
        Standing::Within => format!("within their usual spread{spread}"),
        Standing::Above => format!("louder than nine in ten of them{spread}"),
        Standing::Below => format!("quieter than nine in ten of them{spread}"),
        Standing::Borderline => {
            format!("at the edge of their usual spread{spread}, too near to it for this calibration to tell")
        }
    };
    format!(
        "(external noise figure {}, {}) is {} {side} the median of {} places in ITU-R P.372, {standing}",
        db(level.noise_figure_db),
        interval(level.noise_figure_ci_db),
        db(over.abs()),
        level.nearest.word()
    )
}

/// A line for the report's head: everything off, in the first setting that could be compared.
pub(crate) fn verdict(stations: &[StationNoise]) -> Option<Words> {
    let noise = stations.first()?;
    let (off, over) = (&noise.off, noise.off.over_median_db);
    let said = format!(
        "all off, the noise at {} MHz is {} {} the median of {} places (ITU-R P.372)",
        number(noise.freq_mhz, 1),
        db(over.abs()),
        if over < 0.0 { "below" } else { "above" },
        off.nearest.word()
    );
    let within = match off.standing {
        Standing::Within => ", as usual there",
        Standing::Above => ", louder than nine in ten of them",
        Standing::Below => ", quieter than nine in ten of them",
        Standing::Borderline => ", at the edge of what is usual there",
    };
    Some(Words::strong("Against published noise:").then(format!(" {said}{within}.")))
}

/// Nothing where no setting was compared.
pub(crate) fn section(doc: &mut Document, stations: &[StationNoise], settings: &[Setting]) {
    if !stations.is_empty() {
        doc.heading(2, "Against published noise");
        stations.iter().for_each(|noise| published(doc, noise, settings));
    }
}

fn published(doc: &mut Document, noise: &StationNoise, settings: &[Setting]) {
    doc.paragraph(format!(
        "At {}: {} MHz, antenna: {}, losses of {} taken off, calibration good to ±{}.",
        setting_name(settings, &noise.setting),
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
    let mut items: Vec<Words> = noise.notes.iter().map(|note| Words::prose(note)).collect();
    if noise.categories.iter().any(|c| !c.own_spread) {
        items.push(NOTES.borrowed_spread.as_str().into());
    }
    items.push(NOTES.many_places.as_str().into());
    doc.list(items);
}

/// Everything off, in the first setting that could be compared.
pub(crate) fn digest(stations: &[StationNoise]) -> Option<String> {
    let noise = stations.first()?;
    Some(format!(
        "All off: Fa {} dB +/-{}, {} dB over {} median (ITU-R P.372)",
        number(noise.off.noise_figure_db, 1),
        number(noise.tolerance_db, 0),
        signed(noise.off.over_median_db, 1),
        noise.off.nearest.word()
    ))
}
