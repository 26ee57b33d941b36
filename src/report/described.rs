//! Recordings described one by one: the report to read, the table for a spreadsheet, the lines on the terminal.

use serde::Serialize;

use crate::findings::description::result::Described;
use crate::findings::description::words::{sentences, table};
use crate::findings::picture::FigureFile;
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::signal::recording_result::RecordingResult;
use crate::text::csv::Figure;
use crate::text::{Document, List, Mark, Plain, Words, each_once, label, plain};

/// So many recordings are told in sentences on the terminal; of more, the table tells. Chosen: a screen or two.
const TOLD: usize = 6;

/// The report to read.
pub(crate) fn brief(report: &Report) -> Document {
    let mut doc = Document::default();
    doc.heading(1, label(&report.session.title));
    doc.paragraph(NOTES.one_recording.as_str());
    if report.described.len() > 1 {
        doc.table(table(&report.described, &report.recordings));
    }
    for (found, recording) in each(report) {
        if report.described.len() > 1 {
            doc.heading(2, label(&recording.file));
        }
        card_of(report, recording).into_iter().for_each(|card| doc.picture(card));
        doc.list(sentences(found, report.session.mains_hz));
        doc.list(warnings(recording));
        doc.paragraph(Words::strong("Next take:").then(format!(" {}", found.next_take)));
    }
    let spoilt = report.left_out.iter().map(|one| format!("{} (left out): {}", label(&one.file), one.reason));
    doc.list(alerts(spoilt.chain(report.warnings.iter().map(|warning| warning.message.clone()))));
    doc
}

/// What is printed.
pub fn terminal(report: &Report) -> String {
    let report = &report.published();
    let mut doc = Document::default();
    if report.described.len() > 1 {
        doc.table(table(&report.described, &report.recordings));
    }
    let told = if report.described.len() > TOLD { 0 } else { TOLD };
    for (found, recording) in each(report).take(told) {
        doc.lead(format!("{}:", label(&recording.file)));
        let mut list: Vec<String> = sentences(found, report.session.mains_hz);
        list.push(format!("Next take: {}", found.next_take));
        doc.list(list);
        doc.list(warnings(recording));
    }
    let mut remarks: Vec<String> =
        report.left_out.iter().map(|one| format!("{} (left out): {}", label(&one.file), one.reason)).collect();
    remarks.extend(report.warnings.iter().map(|warning| warning.message.clone()));
    if told == 0 {
        doc.paragraph(
            "By itself, or with --out, each is told in full, with what speaks against it and the take to record next.",
        );
    }
    doc.list(alerts(remarks.into_iter()));
    plain(&doc, Plain::TERMINAL)
}

fn each(report: &Report) -> impl Iterator<Item = (&Described, &RecordingResult)> {
    let recording = |found: &&Described| report.recordings.iter().find(|r| r.id == found.recording);
    report.described.iter().filter_map(move |found| Some((found, recording(&found)?)))
}

fn card_of<'a>(report: &'a Report, recording: &RecordingResult) -> Option<&'a FigureFile> {
    report.figures.iter().find(|figure| figure.file.starts_with(&format!("{}-", recording.id)))
}

fn warnings(recording: &RecordingResult) -> List {
    alerts(recording.warnings.iter().map(|warning| warning.message.clone()))
}

fn alerts(lines: impl Iterator<Item = String>) -> List {
    List::new(Mark::Alert, each_once(lines).into_iter().map(Words::from).collect())
}

/// A recording a row.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn described_csv(report: &Report) -> Result<String, csv::Error> {
    let report = &report.published();
    crate::text::csv::table(each(report).map(|(found, recording)| {
        let published = found.noise.as_ref().and_then(|noise| noise.published.as_ref());
        let kinds: Vec<&str> = found.parts.iter().map(|part| part.character.code()).collect();
        Row {
            recording: &found.recording,
            file: &recording.file,
            duration_s: recording.duration_s.into(),
            level_db: recording.level_db.into(),
            floor_db_per_hz: recording.floor_db_per_hz.into(),
            noise_dbm: found.noise.as_ref().map(|noise| noise.noise_dbm).into(),
            over_median_db: published.map(|p| p.over_median_db).into(),
            nearest: published.map(|p| p.nearest.word()),
            kinds: kinds.join(" "),
            confidence: found.parts.first().map(|part| part.confidence).into(),
            mains_rate_hz: found.mains_rate_hz.into(),
            pulsing_depth: found.pulsing_depth.into(),
            pulse_rate_hz: found.pulse_rate_hz.into(),
            pulse_period_s: found.pulse_period_s.into(),
            carriers: found.carriers.len(),
            comb_spacing_hz: found.comb.as_ref().map(|comb| comb.spacing_hz).into(),
            stations: found.stations,
            warnings: each_once(recording.warnings.iter().map(|warning| warning.code.word())).join(" "),
        }
    }))
}

#[derive(Default, Serialize)]
struct Row<'a> {
    recording: &'a str,
    file: &'a str,
    duration_s: Figure,
    level_db: Figure,
    floor_db_per_hz: Figure,
    noise_dbm: Figure,
    over_median_db: Figure,
    nearest: Option<&'a str>,
    kinds: String,
    confidence: Figure,
    mains_rate_hz: Figure,
    pulsing_depth: Figure,
    pulse_rate_hz: Figure,
    pulse_period_s: Figure,
    carriers: usize,
    comb_spacing_hz: Figure,
    stations: usize,
    warnings: String,
}
