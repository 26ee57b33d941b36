//! `check`: what would spoil the comparison; writes nothing.

use super::Exit;
use super::args::CheckArgs;
use super::layout::{table, wrapped};
use super::output::Console;
use super::session::{exit, measure};
use crate::contrast::comparison::ContrastResult;
use crate::labels::Session;
use crate::report;
use crate::report::contract::Report;
use crate::signal::recording_result::RecordingResult;
use crate::units::counted;

/// Runs the command.
pub fn run(args: &CheckArgs, console: &Console) -> anyhow::Result<Exit> {
    let session = Session::read(&args.dir)?;
    let run = measure(session, &args.wishes.wishes(), console)?;
    let text = if args.json { report::json(&run.report) } else { findings(&run.report) };
    console.result(&text)?;
    Ok(exit(&run))
}

fn findings(report: &Report) -> String {
    let recordings: Vec<Vec<String>> = report.recordings.iter().map(recording_row).collect();
    let contrasts: Vec<Vec<String>> = report.contrasts.iter().map(contrast_row).collect();
    let mut text = format!("{}\n\n", report.session.title);
    text.push_str(&format!("{}:\n", counted(recordings.len(), "recording")));
    text.push_str(&table(&recordings, &[3, 4]));
    if contrasts.is_empty() {
        text.push_str("\nNothing to compare: no on recording has an off recording of the same setting.\n");
    } else {
        text.push_str(&format!("\n{}:\n", counted(contrasts.len(), "comparison")));
        text.push_str(&table(&contrasts, &[1, 2]));
    }
    let remarks = remarks(report);
    if remarks.is_empty() {
        text.push_str("\nNothing was found that would spoil a comparison.\n");
    } else {
        text.push_str("\nMind:\n");
        remarks.iter().for_each(|remark| text.push_str(&wrapped("  ! ", remark)));
    }
    let safety = crate::report::terminal::safety_lines(report);
    if !safety.is_empty() {
        text.push_str("\nBefore you try it:\n");
        safety.iter().for_each(|line| text.push_str(&wrapped("  ! ", line)));
    }
    text
}

fn recording_row(recording: &RecordingResult) -> Vec<String> {
    vec![
        recording.file.clone(),
        recording.state.to_string(),
        named(recording.device.as_deref().unwrap_or_default(), recording.remedy.as_deref()),
        format!("{:.1} s", recording.duration_s),
        recording.level_db.map_or_else(|| "silent".to_owned(), |level| format!("{level:.1} dBFS")),
    ]
}

fn contrast_row(contrast: &ContrastResult) -> Vec<String> {
    vec![
        named(&contrast.device, contrast.remedy.as_deref()),
        format!("{} on", contrast.on.len()),
        format!("{} off", contrast.off.len()),
        contrast.trust.word().to_owned(),
        contrast
            .detection_limit_db
            .filter(|limit| limit.is_finite() && !contrast.is_void())
            .map_or_else(String::new, |limit| format!("would show a rise of {limit:.1} dB")),
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
            let whose = if names.len() > 2 { counted(names.len(), "comparison") } else { names.join("; ") };
            found.push(format!("{whose}: {message}"));
        }
    }
    found.extend(report.warnings.iter().map(|warning| warning.message.clone()));
    found
}
