//! From results to words: Markdown, JSON, CSV, the post digest. Knows nothing of signal processing.
//!
//! Everything printed comes from [`contract::Report`], so the words can't say what the JSON does not. Each writer
//! first takes [`contract::Report::published`] (JSON, CSV: figures rounded) or [`contract::Report::readable`]
//! (texts, which round as they print); both cut absolute paths, in that one place.

pub mod contract;
pub mod csv_tables;
pub mod findings;
pub mod folder;
pub mod markdown;
pub mod night;
pub mod pictures;
pub mod post;
pub(crate) mod prose;
pub mod publish;
#[cfg(test)]
pub(crate) mod sample;
pub mod verdict;
pub mod words;

use std::path::Path;

use anyhow::Context;

pub use csv_tables::{contrasts_csv, lines_csv};
pub use folder::{check_folder, write_folder};
pub use markdown::markdown;
pub use post::POST_LIMIT;

#[cfg(test)]
pub(crate) use sample::sample_report;
pub use verdict::{episode_sentence, headline, sentence};

use crate::report::contract::Report;
use crate::report::night::words::{TIMELINE_CSV, timeline_csv};

/// The report to read.
pub const REPORT_MD: &str = "report.md";
/// The machine-readable result.
pub const REPORT_JSON: &str = "report.json";
/// The digest to paste into a forum.
pub const POST_TXT: &str = "post.txt";
/// The contrasts as a table.
pub const CONTRASTS_CSV: &str = "contrasts.csv";
/// Every line of every recording as a table.
pub const LINES_CSV: &str = "lines.csv";
/// Families of carriers over the dial as a table; only where there are any.
pub const COMBS_CSV: &str = "switching_combs.csv";

/// The machine-readable result, indented, with a line feed at the end; the same report gives the same bytes.
pub fn json(report: &Report) -> String {
    let mut text = serde_json::to_string_pretty(&report.published())
        .expect("structs of strings and numbers always serialise: no map with keys that are no strings");
    text.push('\n');
    text
}

/// The digest to paste into a forum, below [`POST_LIMIT`] characters: a session's or a night's.
pub fn post(report: &Report) -> String {
    let report = &report.readable();
    match &report.night {
        Some(facts) => night::digest::post(report, facts),
        None => post::of_session(report),
    }
}

/// Writes the texts into `dir`, which exists; the pictures are the caller's.
///
/// # Errors
/// A text that can't be written: the error names it.
pub fn write_texts(report: &Report, dir: &Path) -> anyhow::Result<()> {
    let texts = [
        (REPORT_MD, markdown(report)),
        (REPORT_JSON, json(report)),
        (POST_TXT, post(report)),
        (CONTRASTS_CSV, contrasts_csv(report).context(CONTRASTS_CSV)?),
        (LINES_CSV, lines_csv(report).context(LINES_CSV)?),
    ];
    for (name, text) in texts {
        std::fs::write(dir.join(name), text).with_context(|| format!("{name} could not be written"))?;
    }
    if !report.switching_combs.is_empty() {
        let text = crate::findings::switching_comb::rows::switching_combs_csv(&report.published().switching_combs)
            .context(COMBS_CSV)?;
        std::fs::write(dir.join(COMBS_CSV), text).with_context(|| format!("{COMBS_CSV} could not be written"))?;
    }
    Ok(())
}

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

#[cfg(test)]
mod tests {
    use super::sample::sample_report;
    use super::*;

    #[test]
    fn json_reads_back_as_what_was_published() {
        let report = sample_report();
        let text = json(&report);
        assert_eq!(serde_json::from_str::<Report>(&text).unwrap(), report.published());
        assert_eq!(text, json(&report), "the same bytes every time");
        assert!(text.ends_with("}\n"));
    }

    #[test]
    fn json_numbers_are_short_and_never_minus_zero() {
        let mut report = sample_report();
        report.contrasts[0].excess_db = Some(-0.000_1);
        report.contrasts[0].excess_ci_db = Some([0.1 + 0.2, f64::NAN]);
        let text = json(&report);
        let value: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(value["contrasts"][0]["excess_db"].to_string(), "0.0");
        assert!(value["contrasts"][0]["excess_ci_db"].is_null());
        let digits = |number: &str| number.split('.').nth(1).map_or(0, str::len);
        let numbers = text.split([' ', ',', '\n']).filter(|word| word.parse::<f64>().is_ok());
        let long: Vec<_> = numbers.filter(|word| digits(word) > 3 || *word == "-0.0").collect();
        assert_eq!(long, Vec::<&str>::new());
    }
}
