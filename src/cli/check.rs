//! `check`: what would spoil the comparison; writes nothing.

use super::Exit;
use super::args::CheckArgs;
use super::console::Console;
use super::session::{exit, measure};
use crate::health::{Trust, Warning};
use crate::report;
use crate::report::contract::{ContrastResult, RecordingResult, Report};
use crate::session::Session;
use crate::units::counted;

/// Runs the command.
pub fn run(args: &CheckArgs, console: &Console) -> anyhow::Result<Exit> {
    let session = Session::read(&args.dir)?;
    let tally = measure(session, &args.wishes.wishes(), console)?;
    let text = if args.json { report::json(&tally.report) } else { findings(&tally.report) };
    console.result(&text)?;
    Ok(exit(&tally))
}

fn findings(report: &Report) -> String {
    let mut text = format!("{}\n\n", report.session.title);
    report.recordings.iter().for_each(|recording| text.push_str(&of_recording(recording)));
    for left_out in &report.left_out {
        text.push_str(&format!("{}  LEFT OUT\n    {}\n", left_out.file, left_out.reason));
    }
    text.push('\n');
    report.contrasts.iter().for_each(|contrast| text.push_str(&of_contrast(contrast)));
    if !report.warnings.is_empty() {
        text.push_str("\nThe session:\n");
        text.push_str(&listed(&report.warnings));
    }
    text
}

fn of_recording(recording: &RecordingResult) -> String {
    let what = [Some(recording.state.clone()), recording.device.clone(), recording.remedy.clone()];
    let what: Vec<String> = what.into_iter().flatten().collect();
    let level = recording.level_db.map_or_else(|| "silent".to_owned(), |level| format!("{level:.1} dBFS"));
    format!(
        "{}  {}  {:.1} s, {level}\n{}",
        recording.file,
        what.join(", "),
        recording.duration_s,
        listed(&recording.warnings)
    )
}

fn of_contrast(contrast: &ContrastResult) -> String {
    let remedy = contrast.remedy.as_ref().map_or_else(String::new, |remedy| format!(", {remedy}"));
    let trust = match contrast.trust {
        Trust::Sound => "fit to be compared",
        Trust::Doubtful => "doubtful",
        Trust::Void => "void",
    };
    let limit = contrast
        .detection_limit_db
        .map_or_else(String::new, |limit| format!("; an excess of {limit:.1} dB or more would be noticed"));
    format!(
        "{}{remedy}: {} against {}: {trust}{limit}\n{}",
        contrast.device,
        counted(contrast.on.len(), "on recording"),
        counted(contrast.off.len(), "off recording"),
        listed(&contrast.warnings)
    )
}

fn listed(warnings: &[Warning]) -> String {
    warnings.iter().map(|warning| format!("    ! {}\n", warning.message)).collect()
}
