//! The texts of a night's report: what goes into its folder, and what the terminal is told.

use std::path::Path;

use anyhow::Context;

use crate::night::result::NightFacts;
use crate::report::contract::Report;
use crate::report::markdown::{night_answer, night_line};
use crate::report::{POST_TXT, REPORT_JSON, REPORT_MD, json, markdown, post};

/// The night minute by minute as a table.
pub const TIMELINE_CSV: &str = "timeline.csv";

/// Episodes told on the terminal; all are in the report.
const MOST_LINES: usize = 20;

/// Writes the texts of a night into `dir`, which exists; the pictures are the caller's.
///
/// # Errors
/// A text that can't be written: the error names it.
pub fn write_night_texts(report: &Report, dir: &Path) -> anyhow::Result<()> {
    let timeline = timeline_csv(report).context(TIMELINE_CSV)?;
    let texts = [
        (REPORT_MD, markdown(report)),
        (REPORT_JSON, json(report)),
        (POST_TXT, post(report)),
        (TIMELINE_CSV, timeline),
    ];
    for (name, text) in texts {
        std::fs::write(dir.join(name), text).with_context(|| format!("{name} could not be written"))?;
    }
    Ok(())
}

/// What came and went, in lines for the terminal: the answer, then each episode. Empty for a report of no night.
pub fn night_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let Some(night) = &report.night else { return Vec::new() };
    let mut lines = vec![night_answer(report, night)];
    lines.extend(report.episodes.iter().take(MOST_LINES).map(|episode| {
        let known = crate::findings::known_noise::words::known_noise(&episode.contrast)
            .map_or_else(String::new, |known| format!(". {known}"));
        night_line(episode, report) + &known
    }));
    let more = report.episodes.len().saturating_sub(MOST_LINES);
    if more > 0 {
        lines.push(format!("... and {more} more in the report."));
    }
    lines
}

/// A minute a row: time, noise level, how much stood over it, and the numbers of the episodes that reach into it. Minutes
/// without sound are left out.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn timeline_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record([
        "time",
        "at_s",
        "noise_10_dbfs",
        "noise_median_dbfs",
        "noise_90_dbfs",
        "busy_share",
        "clipped_samples",
        "holes_s",
        "episodes",
    ])?;
    if let Some(night) = &report.night {
        for minute in &night.minutes {
            let inside =
                |e: &crate::night::result::Episode| e.start_s < minute.at_s + 60.0 && e.end_s > minute.at_s;
            let numbers = report.episodes.iter().enumerate().filter(|(_, e)| inside(e)).map(|(at, _)| at + 1);
            table.write_record([
                time_of(night, minute.at_s),
                minute.at_s.to_string(),
                minute.low_dbfs.to_string(),
                minute.median_dbfs.to_string(),
                minute.high_dbfs.to_string(),
                minute.busy_share.to_string(),
                minute.clipped.to_string(),
                minute.hole_s.to_string(),
                numbers.map(|n| n.to_string()).collect::<Vec<_>>().join(" "),
            ])?;
        }
    }
    crate::report::csv_tables::text_of(table)
}

/// Time of day as the night's start has it, with `Z` or without.
pub(crate) fn time_of(night: &NightFacts, at_s: f64) -> String {
    use jiff::civil::DateTime;
    let zone = if night.start.ends_with('Z') { "Z" } else { "" };
    let start = night.start.trim_end_matches('Z').parse::<DateTime>();
    let at = start.ok().and_then(|start| start.checked_add(jiff::Span::new().seconds(at_s as i64)).ok());
    at.map_or_else(String::new, |at| format!("{at}{zone}"))
}
