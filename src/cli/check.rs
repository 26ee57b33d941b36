//! `check`: what would spoil the comparison; writes nothing.

use std::path::PathBuf;

use clap::Args;

use super::Exit;
use super::options::{WishArgs, outside};
use super::output::Console;
use super::session::{exit, measure};
use crate::contrast::comparison::ContrastResult;
use crate::labels::Session;
use crate::report;
use crate::report::contract::Report;
use crate::signal::recording_result::RecordingResult;
use crate::text::{Column, Document, List, Mark, Plain, Table, count, plain};

/// `check`
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Folder of recordings
    pub dir: PathBuf,
    /// Print the machine-readable result instead of words
    #[arg(long)]
    pub json: bool,
    /// Let the manifest name recordings outside DIR, such as ../off.wav
    #[arg(long)]
    pub allow_outside: bool,
    /// How to measure.
    #[command(flatten)]
    pub wishes: WishArgs,
}

/// Runs the command.
pub fn run(args: &CheckArgs, console: &Console) -> anyhow::Result<Exit> {
    let session = Session::read_from(&args.dir, outside(args.allow_outside))?;
    let run = measure(session, &args.wishes.wishes(), console)?;
    let text = if args.json { report::json(&run.report) } else { findings(&run.report) };
    console.result(&text)?;
    Ok(exit(&run))
}

fn findings(report: &Report) -> String {
    let mut doc = Document::default();
    doc.lead(format!("{}:", count(report.recordings.len(), "recording", "recordings")));
    doc.table(recordings(&report.recordings));
    if report.tells_nothing() {
        doc.paragraph(report::nothing_compared(report));
    } else if !report.contrasts.is_empty() {
        doc.lead(format!("{}:", count(report.contrasts.len(), "comparison", "comparisons")));
        doc.table(contrasts(report));
    }
    let alerts = |lines: Vec<String>| List::new(Mark::Alert, lines.into_iter().map(Into::into).collect());
    let remarks = remarks(report);
    if remarks.is_empty() {
        doc.paragraph("Nothing was found that would spoil a comparison.");
    } else {
        doc.lead("Mind:");
        doc.list(alerts(remarks));
    }
    let safety = crate::report::findings::safety_lines(report);
    if !safety.is_empty() {
        doc.lead("Before you try it:");
        doc.list(alerts(safety));
    }
    format!("{}\n\n{}", report.session.title, plain(&doc, Plain::TERMINAL))
}

fn recordings(recordings: &[RecordingResult]) -> Table {
    let [text, number] = [Column::text(""), Column::number("")];
    let mut table = Table::new([text.clone(), text.clone(), text, number.clone(), number]);
    recordings.iter().for_each(|recording| table.row(recording_row(recording)));
    table
}

fn contrasts(report: &Report) -> Table {
    let [text, number] = [Column::text(""), Column::number("")];
    let mut table = Table::new([text.clone(), text.clone(), number.clone(), number, text.clone(), text]);
    let comparisons = report.comparisons();
    let several = comparisons.are_of_several_settings();
    let setting = |c: &ContrastResult| if several { comparisons.setting_name(&c.setting) } else { String::new() };
    report.contrasts.iter().for_each(|contrast| table.row(contrast_row(contrast, setting(contrast))));
    table
}

fn recording_row(recording: &RecordingResult) -> [String; 5] {
    [
        recording.file.clone(),
        recording.state.map_or_else(String::new, |state| state.to_string()),
        named(recording.device.as_deref().unwrap_or_default(), recording.remedy.as_deref()),
        format!("{:.1} s", recording.duration_s),
        recording.level_db.map_or_else(|| "silent".to_owned(), |level| format!("{level:.1} dBFS")),
    ]
}

fn contrast_row(contrast: &ContrastResult, setting: String) -> [String; 6] {
    [
        named(&contrast.device, contrast.remedy.as_deref()),
        setting,
        format!("{} on", contrast.on.len()),
        format!("{} off", contrast.off.len()),
        contrast.trust.word().to_owned(),
        contrast.detection_limit_db.filter(|limit| limit.is_finite() && !contrast.is_void()).map_or_else(
            String::new,
            |limit| match contrast.is_too_wide() {
                true => "can't tell: takes or moments differ too much".to_owned(),
                false => format!("would show a rise of {limit:.1} dB"),
            },
        ),
    ]
}

fn named(device: &str, remedy: Option<&str>) -> String {
    remedy.map_or_else(|| device.to_owned(), |remedy| format!("{device}, {remedy}"))
}

/// What speaks against recordings, comparisons and the session, each thing once.
fn remarks(report: &Report) -> Vec<String> {
    let left_out = report.left_out.iter().map(|one| format!("{} (left out): {}", one.file, one.reason));
    let mut found: Vec<String> = left_out.collect();
    for recording in &report.recordings {
        found.extend(recording.warnings.iter().map(|warning| format!("{}: {}", recording.file, warning.message)));
    }
    let mut of_contrasts: Vec<(&str, Vec<String>)> = Vec::new();
    for contrast in &report.contrasts {
        let name = named(&contrast.device, contrast.remedy.as_deref());
        for warning in &contrast.warnings {
            match of_contrasts.iter_mut().find(|(message, _)| *message == warning.message) {
                Some((_, names)) => names.push(name.clone()),
                None => of_contrasts.push((&warning.message, vec![name.clone()])),
            }
        }
    }
    for (message, names) in of_contrasts {
        // A recording's own fault, named once more where it matters.
        if !found.iter().any(|known| known == message) {
            let whose =
                if names.len() > 2 { count(names.len(), "comparison", "comparisons") } else { names.join("; ") };
            found.push(format!("{whose}: {message}"));
        }
    }
    found.extend(report.warnings.iter().map(|warning| warning.message.clone()));
    found
}
