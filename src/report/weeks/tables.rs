//! Tables for a spreadsheet or a query: a row a source and coming, a row a minute. Station and report stand in each
//! row, so that the tables of many stations can be put together.

use std::io::{self, Write};

use serde::Serialize;

use super::night::told;
use super::{Found, Minute, clock_word};
use crate::contrast::Character;
use crate::text::csv::{Figure, table};
use crate::warning::Trust;

/// A row a source and coming.
pub const COMINGS_CSV: &str = "comings.csv";
/// A row a minute.
pub const MINUTES_CSV: &str = "minutes.csv";

#[derive(Default, Serialize)]
struct ComingRow<'a> {
    station: &'a str,
    report: &'a str,
    source: &'a str,
    source_of_report: &'a str,
    kind: Option<Character>,
    known_noise: Option<&'a str>,
    start: &'a str,
    end: &'a str,
    clock: &'a str,
    length_s: Figure,
    from_before: bool,
    until_after: bool,
    excess_db: Figure,
    excess_ci_low_db: Figure,
    excess_ci_high_db: Figure,
    trust: Option<Trust>,
}

/// A row a source and coming, in order of sources, then of time.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn comings_csv(found: &Found) -> Result<String, csv::Error> {
    let weeks = found.weeks.published().weeks;
    let rows = weeks.sources.iter().flat_map(|source| {
        source.comings.iter().map(|coming| {
            let at = |text: &str| super::night::seconds(text);
            ComingRow {
                station: weeks.station.as_deref().unwrap_or_default(),
                report: &coming.report,
                source: &source.id,
                source_of_report: &coming.source,
                kind: Some(source.character),
                known_noise: source.known.as_deref(),
                start: &coming.start,
                end: &coming.end,
                clock: clock_word(weeks.clock),
                length_s: at(&coming.end).zip(at(&coming.start)).map(|(end, start)| end - start).into(),
                from_before: coming.from_before,
                until_after: coming.until_after,
                excess_db: coming.excess_db.into(),
                excess_ci_low_db: coming.excess_ci_db.map(|ci| ci[0]).into(),
                excess_ci_high_db: coming.excess_ci_db.map(|ci| ci[1]).into(),
                trust: Some(coming.trust),
            }
        })
    });
    table(rows)
}

#[derive(Default, Serialize)]
struct MinuteRow<'a> {
    station: &'a str,
    report: &'a str,
    start: String,
    clock: &'a str,
    low_dbfs: Figure,
    median_dbfs: Figure,
    high_dbfs: Figure,
    busy_share: Figure,
    sources: String,
}

/// A row a minute in order of time, with the sources that were on, separated by blanks; night by night, so that a
/// year takes no more room than a night.
///
/// # Errors
/// If it can't be written.
pub fn write_minutes(found: &Found, mut out: impl Write) -> io::Result<()> {
    let weeks = &found.weeks.weeks;
    let hundredths = |db: f32| (f64::from(db) * 100.0).round() / 100.0 + 0.0;
    for (place, night) in found.nights.iter().enumerate() {
        let row = |minute: &Minute| MinuteRow {
            station: weeks.station.as_deref().unwrap_or_default(),
            report: &night.name,
            start: told(minute.at, weeks.clock),
            clock: clock_word(weeks.clock),
            low_dbfs: hundredths(minute.low).into(),
            median_dbfs: hundredths(minute.median).into(),
            high_dbfs: hundredths(minute.high).into(),
            busy_share: (f64::from((minute.busy * 1000.0).round()) / 1000.0).into(),
            sources: on_at(found, minute.at).join(" "),
        };
        let text = table(night.minutes.iter().map(row)).map_err(io::Error::other)?;
        let rows = if place == 0 { text.as_str() } else { text.split_once('\n').map_or("", |(_, rows)| rows) };
        out.write_all(rows.as_bytes())?;
    }
    Ok(())
}

/// The sources that were on in a minute.
fn on_at(found: &Found, at: f64) -> Vec<&str> {
    let is_on = |spans: &[super::Span]| {
        let next = spans.partition_point(|span| span.1 <= at);
        spans.get(next).is_some_and(|span| span.0 < at + 60.0)
    };
    let all = found.weeks.weeks.sources.iter().zip(&found.spans);
    all.filter(|(_, spans)| is_on(spans)).map(|(source, _)| source.id.as_str()).collect()
}
