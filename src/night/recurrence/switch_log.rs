//! A log of what was switched when, held against the episodes of a night: which entry explains which, how far the
//! log's clock is off, and how likely as good a fit is by chance. Here: reading the log; `explain` fits it.
//!
//! Not here: the episodes themselves (`episodes`), words.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::Offset;

use crate::labels::{compared_by, printable};
use crate::text::count;

/// One line of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Line in the file, from 1.
    pub line: u64,
    /// By the night's clock, from the night's origin.
    pub at_s: f64,
    /// What was switched, in the user's words.
    pub device: String,
    /// On, else off.
    pub on: bool,
}

/// A log is some kilobytes (chosen: a thousand times that); more is another file.
pub const MOST_BYTES: u64 = 1 << 20;
/// Entries that are held against a night. Chosen: one every few seconds of it; the fit tries each against each.
const MOST_ENTRIES: usize = 4000;

/// Why a log can't be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LogError {
    /// A row that is none: its line, and what is wrong.
    #[error("line {0}: {1}")]
    Row(u64, String),
    /// More than any log.
    #[error(
        "holds more than {MOST_ENTRIES} entries, which is no log of what was switched by hand; keep what can explain a noise"
    )]
    TooLong,
    /// Not one row.
    #[error("holds no entry; write one a line: time, device, on or off, such as 2026-03-14 21:30:00, pump, on")]
    Empty,
}

/// Forms of date and time that are read.
const FORMS: [&str; 4] = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M"];
/// Times of day without a date.
const HOURS: [&str; 2] = ["%H:%M:%S", "%H:%M"];
/// How long before the night's begin a time of day may lie; else it is the next day's. Chosen: a log is begun a
/// little early, not hours.
const BEFORE_S: i64 = 3600;

/// Reads a log: `time, device, on|off`, separated by commas or semicolons, with or without a line of titles; lines
/// that begin with # are comments. `origin`: when the night began, its clock taken as UTC. Times are that clock's;
/// a `Z` behind them means UTC, which is another only where the night's clock is local (`utc_is` then tells by how
/// much: night's clock less UTC, s). A time of day without a date is that of the night: the first one after an hour
/// before its begin.
///
/// # Errors
/// The first row that is none, with its line.
pub fn read(text: &str, origin: Timestamp, utc_is: f64) -> Result<Vec<Entry>, LogError> {
    let first = text.lines().find(|line| !line.trim().is_empty() && !line.starts_with('#')).unwrap_or_default();
    let delimiter = if first.contains(';') { b';' } else { b',' };
    let mut entries: Vec<Entry> = Vec::new();
    // A device is written now this way, now that: it is named as it was first.
    let mut devices: BTreeMap<String, String> = BTreeMap::new();
    let mut titles = true;
    // Line by line, so that the number told is the file's own whatever lines are empty or comments.
    for (line, entry) in (1u64..).zip(text.lines()) {
        let Some(row) = fields(entry, delimiter).filter(|_| !entry.trim_start().starts_with('#')) else { continue };
        let cells: Vec<&str> = row.iter().filter(|cell| !cell.is_empty()).collect();
        let is_title = titles && row.iter().next().is_some_and(|cell| !cell.contains(|c: char| c.is_ascii_digit()));
        titles = false;
        if cells.is_empty() || is_title {
            continue;
        }
        let [time, device, state] = cells.as_slice() else {
            let found = cells.len();
            return Err(LogError::Row(
                line,
                format!("{}, where there must be three: time, device, on or off", count(found, "field", "fields")),
            ));
        };
        let on = match state.to_lowercase().as_str() {
            "on" | "1" => true,
            "off" | "0" => false,
            other => return Err(LogError::Row(line, format!("'{}' is neither on nor off", printable(other)))),
        };
        let at_s = seconds(time, origin, utc_is).ok_or_else(|| {
            let time = printable(time);
            LogError::Row(line, format!("'{time}' is no time; write it such as 2026-03-14 21:30:00 or 21:30"))
        })?;
        if entries.len() == MOST_ENTRIES {
            return Err(LogError::TooLong);
        }
        let device = devices.entry(compared_by(device)).or_insert_with(|| printable(device)).clone();
        entries.push(Entry { line, at_s, device, on });
    }
    if entries.is_empty() {
        return Err(LogError::Empty);
    }
    entries.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    Ok(entries)
}

/// The fields of one line; `None` of an empty one.
fn fields(line: &str, delimiter: u8) -> Option<csv::StringRecord> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(delimiter)
        .from_reader(line.as_bytes());
    reader.records().next()?.ok()
}

/// Seconds from the night's origin.
fn seconds(time: &str, origin: Timestamp, utc_is: f64) -> Option<f64> {
    let (plain, utc) = match time.strip_suffix(['Z', 'z']) {
        Some(plain) => (plain.trim_end(), true),
        None => (time, false),
    };
    let plain = plain.replacen('T', " ", 1);
    let begin = Offset::UTC.to_datetime(origin);
    let at = FORMS.iter().find_map(|form| DateTime::strptime(form, &plain).ok()).or_else(|| {
        HOURS.iter().find_map(|form| Time::strptime(form, &plain).ok()).and_then(|t| on_day(begin, t))
    })?;
    let after = Offset::UTC.to_timestamp(at).ok()?.duration_since(origin).as_secs_f64();
    Some(after + if utc { utc_is } else { 0.0 })
}

/// The first such time of day after an hour before the night's begin.
fn on_day(begin: DateTime, time: Time) -> Option<DateTime> {
    let earliest = begin.checked_sub(jiff::Span::new().seconds(BEFORE_S)).ok()?;
    let day: Date = earliest.date();
    let at = day.to_datetime(time);
    if at < earliest { day.tomorrow().ok().map(|day| day.to_datetime(time)) } else { Some(at) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn origin() -> Timestamp {
        "2026-03-14T21:30:00Z".parse().unwrap()
    }

    #[test]
    fn a_device_is_the_same_however_it_is_written() {
        let entries =
            read("21:40, Pond pump, on\n21:50, pond-pump, off\n22:00, lamp, on\n", origin(), 0.0).unwrap();
        let devices: Vec<&str> = entries.iter().map(|entry| entry.device.as_str()).collect();
        assert_eq!(devices, ["Pond pump", "Pond pump", "lamp"]);
    }

    #[test]
    fn usual_forms_of_time_are_read() {
        let text = "time, device, state\n# the shed\n2026-03-14 21:40, pump, on\n2026-03-14T21:50:30, pump, OFF\n\
                    22:00, lamp, on\n14.03.2026 22:10:00, lamp, off\n01:30, fridge, on\n21:00, early, on\n2026-03-14T20:40:00Z, z, 1\n";
        let entries = read(text, origin(), 3600.0).unwrap();
        let of = |device: &str, on: bool| entries.iter().find(|e| e.device == device && e.on == on).unwrap().at_s;
        assert_eq!(of("pump", true), 600.0);
        assert_eq!(of("pump", false), 1230.0);
        assert_eq!(of("lamp", true), 1800.0);
        assert_eq!(of("lamp", false), 2400.0);
        assert_eq!(of("fridge", true), 4.0 * 3600.0, "after midnight");
        assert_eq!(of("early", true), -1800.0);
        assert_eq!(of("z", true), 600.0, "UTC, where the night's clock is an hour ahead");
        assert_eq!(read("21:40;pump, old;on\n", origin(), 0.0).unwrap()[0].device, "pump, old");
    }

    #[test]
    fn a_bad_row_is_told_with_its_line() {
        let said = |text: &str| read(text, origin(), 0.0).unwrap_err().to_string();
        assert_eq!(said("21:40, pump, on\n21:50, pump, dimmed\n"), "line 2: 'dimmed' is neither on nor off");
        assert!(said("21:40, pump, on\n\n25:10, pump, off\n").starts_with("line 3: '25:10' is no time"));
        assert!(said("21:40, pump\n").starts_with("line 1: 2 fields"));
        assert!(said("time,device,state\n").starts_with("holds no entry"));
        assert!(said("").starts_with("holds no entry"));
        assert_eq!(said("21:40, pump, \u{1b}[2J\n"), "line 1: '\\u{1b}[2j' is neither on nor off");
        assert!(said(&"21:40, pump, on\n".repeat(4001)).starts_with("holds more than 4000 entries"));
    }
}
