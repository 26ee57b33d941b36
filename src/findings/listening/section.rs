//! Sections on what the noise means to a listener: its cost, published noise, the target. Sentences: `report::listening`.

use crate::findings::figure_file::FigureKind;
use crate::findings::listening::result::AnchorKind;
use crate::findings::listening::result::{ListeningCost, NoiseLevel, SignalNeeded, StationNoise, TargetResult};
pub(crate) use crate::findings::listening::words::heard;
use crate::findings::listening::words::{aim, cost_of, on_words, station, target, watts_with_interval};
use crate::findings::target::judge::Outcome;
use crate::report::contract::Report;
use crate::report::csv_tables::trust_name;
use crate::text::{Column, Document, Table, Words, db, interval, label, number};

/// Lines for the report's head.
pub(crate) fn verdicts(report: &Report) -> Vec<Words> {
    let listening = &report.listening;
    let headed = |head: &str, text: String| Words::strong(head).then(" ").then(text);
    let mut told: Vec<Words> = listening.target.iter().map(|t| headed("Quiet enough?", target(t))).collect();
    let stations = listening.station_noise.iter();
    told.extend(stations.map(|noise| headed("Against published noise:", station(noise))));
    told
}

pub(crate) fn write(doc: &mut Document, report: &Report) {
    costs(doc, report);
    let listening = &report.listening;
    if !listening.station_noise.is_empty() {
        doc.heading(2, "Against published noise");
        listening.station_noise.iter().for_each(|noise| published(doc, noise));
        report.figures.iter().filter(|f| f.kind == FigureKind::ManMadeNoise).for_each(|f| doc.picture(f));
    }
    if let Some(target) = &listening.target {
        quiet_enough(doc, target);
    }
}

fn costs(doc: &mut Document, report: &Report) {
    let listening = &report.listening;
    if listening.costs.is_empty() && listening.not_told.is_empty() {
        return;
    }
    doc.heading(2, "What it costs a listener");
    let mut table = Table::new([
        Column::text("Device"),
        Column::text("Remedy"),
        Column::number("SNR lost by speech (2500 Hz), dB"),
        Column::number("SNR lost by Morse (500 Hz), dB"),
        Column::number("100 W is heard as"),
        Column::number("Between clicks, dB"),
        Column::number("Strongest carrier over the noise in 500 Hz, dB"),
        Column::text("Speech needs, off / on"),
        Column::text("Morse needs, off / on"),
        Column::text("Trust"),
    ]);
    for c in &report.contrasts {
        let Some(cost) = cost_of(report, &c.id) else { continue };
        let needed = cost.signal_needed.as_ref();
        let s = |pick: fn(&SignalNeeded) -> [&String; 2]| {
            needed.map_or_else(String::new, |n| pick(n).map(|s| label(s)).join(" / "))
        };
        table.row([
            label(&c.device),
            c.remedy.as_deref().map_or_else(|| "none".to_owned(), label),
            with_ends(cost.snr_loss_2500_db, cost.snr_loss_2500_ci_db),
            narrow(cost),
            cost.heard_100_w_as_w
                .map_or_else(|| "no sure loss".to_owned(), |w| watts_with_interval(w, cost.heard_100_w_as_ci_w)),
            cost.between_clicks_db.map_or_else(String::new, |v| number(v, 1)),
            cost.carrier_over_500_hz_db.map_or_else(String::new, |v| number(v, 1)),
            s(|n| [&n.speech_off_s, &n.speech_on_s]),
            s(|n| [&n.morse_off_s, &n.morse_on_s]),
            trust_name(c.trust).to_owned(),
        ]);
    }
    doc.table(table);
    doc.list(notes(report));
}

fn with_ends(value: Option<f64>, ci: Option<[f64; 2]>) -> String {
    match (value, ci) {
        (Some(value), Some(ci)) => format!("{} ({})", number(value, 1), interval(ci)),
        _ => "–".to_owned(),
    }
}

/// Best to worst place where they surely differ, else one figure for all.
fn narrow(cost: &ListeningCost) -> String {
    let (Some(best), Some(worst)) = (cost.snr_loss_500_best_db, cost.snr_loss_500_worst_db) else {
        return "–".to_owned();
    };
    let at = |hz: Option<f64>| hz.map_or_else(String::new, |hz| format!(" near {} Hz", number(hz, 0)));
    let differ = cost.snr_loss_500_worst_ci_db.zip(cost.snr_loss_500_best_ci_db).is_some_and(|(w, b)| w[0] > b[1]);
    if differ {
        let (best_hz, worst_hz) = (at(cost.snr_loss_500_best_hz), at(cost.snr_loss_500_worst_hz));
        return format!("{}{best_hz} to {}{worst_hz}", number(best, 1), number(worst, 1));
    }
    format!("{} anywhere", number((best + worst) / 2.0, 1))
}

/// What must be known to read the table, as far as it concerns this report.
fn notes(report: &Report) -> Vec<String> {
    let costs = &report.listening.costs;
    let mut told = Vec::new();
    if !costs.is_empty() {
        told.push(
            "As much as the noise rises in a signal's bandwidth, its SNR falls. Noise that is not even over the \
             passband costs a 500 Hz signal more in one place than in another."
                .to_owned(),
        );
    }
    if costs.iter().any(|c| c.carrier_over_500_hz_db.is_some()) {
        told.push("Carriers are not counted in: they cost only those who listen right beside them.".to_owned());
    }
    if costs.iter().any(|c| c.between_clicks_db.is_some()) {
        told.push(
            "Where the noise comes in clicks the loss is that of the mean power; between the clicks a signal loses \
             less. In 500 Hz it is not told: a narrow filter draws each click out."
                .to_owned(),
        );
    }
    if let Some(needed) = costs.iter().find_map(|c| c.signal_needed.as_ref()) {
        told.push(needs(needed));
    }
    told.extend(report.listening.not_told.iter().map(|why| format!("Not told: {}", lower(why))));
    told
}

fn needs(needed: &SignalNeeded) -> String {
    let anchor = if needed.anchor == AnchorKind::Dbm {
        format!("They hang on the power given as dbm and may all be off together by {}.", db(needed.tolerance_db))
    } else {
        format!(
            "They hang on the meter's reading alone and may all be off together by {} or more: real meters stray.",
            db(needed.tolerance_db)
        )
    };
    format!(
        "What a signal needs is its S value (6 dB a unit, IARU Region 1 recommendation R.1) for {} of SNR in 2500 Hz for \
         speech copied with ease, and {} in 500 Hz for Morse by ear: common practice, and ears differ. {anchor}",
        db(needed.speech_snr_db),
        db(needed.morse_snr_db)
    )
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
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
        told.push(
            "The Recommendation gives no spread for quiet rural places; that of rural places stands in for it, as in \
             the code ITU-R publishes."
                .into(),
        );
    }
    told.push(
        "The Recommendation speaks of many places over many hours; one evening at one place may lie anywhere in that \
         spread."
            .into(),
    );
    doc.list(told);
}

fn quiet_enough(doc: &mut Document, target: &TargetResult) {
    doc.heading(2, "Quiet enough?");
    doc.paragraph(format!("The aim: {}. Each device is judged after its last remedy.", aim(target)));
    let several = target.devices.iter().any(|d| d.setting != target.devices[0].setting);
    let mut table = Table::new([
        Column::text("Setting"),
        Column::text("Device"),
        Column::text("Last remedy"),
        Column::text("Aim"),
        Column::text("Why"),
    ]);
    for device in &target.devices {
        let met = device.outcome == Outcome::Met;
        table.row([
            if several { label(&device.setting).into() } else { Words::default() },
            label(&device.device).into(),
            device.remedy.as_deref().map_or_else(|| "none".to_owned(), label).into(),
            if met { device.outcome.word().into() } else { Words::strong(device.outcome.word()) },
            device.why.join("; ").into(),
        ]);
    }
    doc.table(table);
}

/// Words that only these sections use.
pub(crate) fn glossary(report: &Report) -> Vec<&'static str> {
    let mut told = Vec::new();
    if !report.listening.costs.is_empty() {
        told.push(
            "*100 W is heard as*: noise that is 3 dB louder costs a listener as much as if the other station had halved \
             its power.",
        );
    }
    if !report.listening.station_noise.is_empty() {
        told.push(
            "*External noise figure*: how many dB the noise that comes by the antenna lies above the thermal noise of a \
             resistor at 290 K (−174 dBm in 1 Hz).",
        );
        told.push(
            "*Published noise*: the lines are the medians of ITU-R P.372 for each kind of place, the band is the spread \
             of the nearest, the strokes at the left those of the others. The medians of several sources do not add.",
        );
    }
    told
}
