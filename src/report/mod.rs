//! From results to words: Markdown, JSON, CSV, the post digest. Knows nothing of signal processing.
//!
//! Everything printed comes from [`contract::Report`], so the words can't say what the JSON does not. Each writer
//! first takes [`contract::Report::published`]: figures rounded to what they are worth, absolute paths cut, in that one
//! place.

mod brief;
pub mod changes;
pub mod contract;
pub mod csv_tables;
pub mod described;
mod details;
mod devices;
pub mod findings;
pub mod folder;
pub mod handout;
pub mod level;
pub mod night;
pub mod pictures;
pub mod post;
pub(crate) mod prose;
pub mod publish;
#[cfg(test)]
mod read_tests;
#[cfg(test)]
pub(crate) mod sample;
pub mod stored;
pub mod verdict;
pub mod weeks;
pub mod words;

use std::path::Path;

use anyhow::Context;

pub use brief::{nothing_compared, of_many_devices, of_no_comparison};
pub use csv_tables::{contrasts_csv, lines_csv};
pub use folder::{Kind, check_folder, write_folder};
pub use post::POST_LIMIT;

#[cfg(test)]
pub(crate) use sample::sample_report;
pub use verdict::{episode_sentence, headline, sentence};

use crate::disk;
use crate::report::contract::Report;
use crate::report::night::words::{TIMELINE_CSV, timeline_csv};
use crate::text::{self, Document, Words};

/// The report to read.
pub const REPORT_MD: &str = "report.md";
/// All that the report leaves out.
pub const DETAILS_MD: &str = "details.md";
/// Both, with the pictures inside, for a browser.
pub const REPORT_HTML: &str = "report.html";
/// The machine-readable result.
pub const REPORT_JSON: &str = "report.json";
/// The digest to paste into a forum.
pub const POST_TXT: &str = "post.txt";
/// The contrasts as a table.
pub const CONTRASTS_CSV: &str = "contrasts.csv";
/// Every line of every recording as a table.
pub const LINES_CSV: &str = "lines.csv";
/// Recordings described one by one as a table.
pub const DESCRIBED_CSV: &str = "described.csv";
/// Families of carriers over the dial as a table; only where there are any.
pub const COMBS_CSV: &str = "switching_combs.csv";

/// The machine-readable result, indented, with a line feed at the end; the same report gives the same bytes.
pub fn json(report: &Report) -> String {
    publish::text(&report.published())
}

/// The digest to paste into a forum, below [`POST_LIMIT`] characters: a session's or a night's.
pub fn post(report: &Report) -> String {
    let report = &report.published();
    match &report.night {
        Some(facts) => night::digest::post(report, facts),
        None => post::of_session(report),
    }
}

/// The short report as Markdown (CommonMark with tables): what people read to the end.
///
/// The same report gives the same bytes. Labels are escaped, so they can't break a table or become markup.
pub fn markdown(report: &Report) -> String {
    let (mut short, _) = documents(report);
    let rest = Words::from("Evidence, recordings and method: ").then(Words::code(DETAILS_MD));
    short.paragraph(rest.then(". All on one page: ").then(Words::code(REPORT_HTML)).then("."));
    text::markdown(&short)
}

/// All that the short report leaves out, as Markdown.
pub fn details_markdown(report: &Report) -> String {
    text::markdown(&documents(report).1)
}

/// Both in one page, with the pictures that stand in `dir`; needs nothing beside it.
pub fn page(report: &Report, dir: &Path) -> String {
    let mut text = String::new();
    let whole = page_in_pieces(report, dir, |piece| {
        text.push_str(piece);
        Ok::<(), std::convert::Infallible>(())
    });
    match whole {
        Ok(()) => text,
        Err(never) => match never {},
    }
}

fn page_in_pieces<E>(report: &Report, dir: &Path, give: impl FnMut(&str) -> Result<(), E>) -> Result<(), E> {
    let (short, details) = documents(report);
    let png = |file: &str| std::fs::read(dir.join(file)).ok();
    text::html(&text::Page { short: &short, details: &details, png: &png }, give)
}

/// The short report and the details, a session's or a night's: no picture stands in both.
fn documents(report: &Report) -> (Document, Document) {
    let mut report = report.published();
    let short = match &report.night {
        Some(facts) => night::brief::brief(&report, facts),
        None if !report.described.is_empty() => described::brief(&report),
        None => brief::brief(&report),
    };
    report.figures.retain(|figure| !short.has_picture(&figure.file));
    let details = match &report.night {
        Some(facts) => night::details::details(&report, facts),
        None => details::details(&report),
    };
    (short, details)
}

/// Writes the texts of a session into `dir`, where its pictures stand.
///
/// # Errors
/// A text that can't be written: the error names it.
pub fn write_texts(report: &Report, dir: &Path) -> anyhow::Result<()> {
    let contrasts = contrasts_csv(report).context(CONTRASTS_CSV)?;
    let lines = lines_csv(report).context(LINES_CSV)?;
    write(report, dir, &[(CONTRASTS_CSV, contrasts), (LINES_CSV, lines)])?;
    if !report.switching_combs.is_empty() {
        let text = crate::findings::switching_comb::rows::switching_combs_csv(&report.published().switching_combs)
            .context(COMBS_CSV)?;
        disk::write(&dir.join(COMBS_CSV), text).with_context(|| format!("{COMBS_CSV} could not be written"))?;
    }
    Ok(())
}

/// Writes the texts of a night into `dir`, where its pictures stand.
///
/// # Errors
/// A text that can't be written: the error names it.
pub fn write_night_texts(report: &Report, dir: &Path) -> anyhow::Result<()> {
    write(report, dir, &[(TIMELINE_CSV, timeline_csv(report).context(TIMELINE_CSV)?)])
}

/// Writes the texts of recordings described one by one into `dir`, where their pictures stand.
///
/// # Errors
/// A text that can't be written: the error names it.
pub fn write_described_texts(report: &Report, dir: &Path) -> anyhow::Result<()> {
    let table = described::described_csv(report).context(DESCRIBED_CSV)?;
    let texts = [
        (REPORT_MD, markdown(report)),
        (DETAILS_MD, details_markdown(report)),
        (REPORT_JSON, json(report)),
        (DESCRIBED_CSV, table),
    ];
    write_all(report, dir, texts.iter())
}

/// The texts that any report has, and these tables.
fn write(report: &Report, dir: &Path, tables: &[(&str, String)]) -> anyhow::Result<()> {
    let texts = [
        (REPORT_MD, markdown(report)),
        (DETAILS_MD, details_markdown(report)),
        (REPORT_JSON, json(report)),
        (POST_TXT, post(report)),
    ];
    write_all(report, dir, texts.iter().chain(tables))
}

/// These, and the page.
fn write_all<'a>(
    report: &Report,
    dir: &Path,
    texts: impl Iterator<Item = &'a (&'a str, String)>,
) -> anyhow::Result<()> {
    for (name, text) in texts {
        disk::write(&dir.join(name), text).with_context(|| format!("{name} could not be written"))?;
    }
    disk::create(&dir.join(REPORT_HTML))
        .and_then(|mut file| page_in_pieces(report, dir, |piece| disk::fill(&mut file, piece.as_bytes())))
        .with_context(|| format!("{REPORT_HTML} could not be written"))
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
