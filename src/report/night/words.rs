//! A night's table of minutes, and how an episode is spoken of: when it was stands for what was on.

use jiff::Unit;
use jiff::civil::DateTime;
use serde::Serialize;

use crate::night::result::{Episode, NightFacts};
use crate::report::contract::Report;
use crate::text::and;
use crate::text::csv::{Figure, table};

/// The night minute by minute as a table.
pub const TIMELINE_CSV: &str = "timeline.csv";

#[derive(Default, Serialize)]
struct MinuteRow {
    time: String,
    at_s: Figure,
    noise_10_dbfs: Figure,
    noise_median_dbfs: Figure,
    noise_90_dbfs: Figure,
    busy_share: Figure,
    clipped_samples: u64,
    holes_s: Figure,
    episodes: String,
}

/// A minute a row: time, noise level, how much stood over it, and the numbers of the episodes that reach into it.
/// Minutes without sound are left out.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn timeline_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let numbers = |at_s: f64| {
        let inside = |(_, e): &(usize, &Episode)| e.start_s < at_s + 60.0 && e.end_s > at_s;
        let inside = report.episodes.iter().enumerate().filter(inside);
        inside.map(|(at, _)| (at + 1).to_string()).collect::<Vec<_>>().join(" ")
    };
    let minutes = report.night.iter().flat_map(|night| night.minutes.iter().map(move |minute| (night, minute)));
    table(minutes.map(|(night, minute)| MinuteRow {
        time: time_of(night, minute.at_s),
        at_s: minute.at_s.into(),
        noise_10_dbfs: minute.low_dbfs.into(),
        noise_median_dbfs: minute.median_dbfs.into(),
        noise_90_dbfs: minute.high_dbfs.into(),
        busy_share: minute.busy_share.into(),
        clipped_samples: minute.clipped,
        holes_s: minute.hole_s.into(),
        episodes: numbers(minute.at_s),
    }))
}

/// Time of day as the night's start has it, with `Z` or without.
pub(crate) fn time_of(night: &NightFacts, at_s: f64) -> String {
    let zone = if night.start.ends_with('Z') { "Z" } else { "" };
    let start = night.start.trim_end_matches('Z').parse::<DateTime>();
    let at = start.ok().and_then(|start| start.checked_add(jiff::Span::new().seconds(at_s.round() as i64)).ok());
    at.map_or_else(String::new, |at| format!("{at}{zone}"))
}

/// Longer episodes are told to the minute. Chosen: a few seconds of ten minutes are no use to a reader.
const BY_MINUTES_S: f64 = 600.0;

/// "from 22:10 to 22:40", with seconds where it is short, with the date where the night is longer than a day; "or
/// earlier", "or later" where an end is hidden.
pub fn span(episode: &Episode, night: Option<&NightFacts>) -> String {
    let seconds = episode.end_s - episode.start_s < BY_MINUTES_S;
    let dated = night.is_some_and(|night| night.duration_s >= 86_400.0);
    let told = |at: &Option<String>| at.as_deref().map(|at| if seconds { at.to_owned() } else { to_minute(at) });
    let [start, end] = [(told(&episode.start), episode.start_s), (told(&episode.end), episode.end_s)];
    let day = |at: &Option<String>| at.as_deref().and_then(|at| at.split_once('T')).map(|at| at.0.to_owned());
    let new_day = episode.from_before && !episode.until_after || day(&start.0) != day(&end.0);
    let start = hours(start.0.as_deref(), start.1, seconds, dated);
    let end = hours(end.0.as_deref(), end.1, seconds, dated && new_day);
    let start = if episode.start_unsure_s.is_some() { format!("{start} or earlier") } else { start };
    let end = if episode.end_unsure_s.is_some() { format!("{end} or later") } else { end };
    match (episode.from_before, episode.until_after) {
        (false, false) => format!("from {start} to {end}"),
        (true, false) => format!("until {end}"),
        (false, true) => format!("from {start} on"),
        (true, true) => format!("from {start} to {end}, all of the recording"),
    }
}

/// RFC 3339 to the nearest minute; what is no time stays as it is.
fn to_minute(at: &str) -> String {
    let zone = if at.ends_with('Z') { "Z" } else { "" };
    let time = at.trim_end_matches('Z').parse::<DateTime>().and_then(|time| time.round(Unit::Minute));
    time.map_or_else(|_| at.to_owned(), |time| format!("{time}{zone}"))
}

/// "22:10 to 22:40": the same without its first word, for a list of times.
pub(crate) fn between(episode: &Episode, night: Option<&NightFacts>) -> String {
    let span = span(episode, night);
    span.strip_prefix("from ").map_or_else(|| span.clone(), str::to_owned)
}

/// The time of day out of RFC 3339; failing that, seconds from the beginning.
pub fn hours(at: Option<&str>, at_s: f64, seconds: bool, dated: bool) -> String {
    let parted =
        at.and_then(|at| at.split_once('T')).filter(|(_, time)| time.is_char_boundary(8) && time.len() >= 8);
    let Some((date, time)) = parted else { return format!("{at_s:.0} s") };
    let time = if seconds { &time[..8] } else { &time[..5] };
    if dated { format!("{date} {time}") } else { time.to_owned() }
}

/// A void comparison.
pub fn void(when: &str, why: &str) -> String {
    format!(
        "The noise level says that something was there {when}, but the comparison is void{why}: of what kind it was, \
         and by how much it rose, can't be told."
    )
}

/// Of the usual advice what can be done in a night.
pub fn steps(mut steps: Vec<String>) -> Option<String> {
    const AT_THE_BENCH: [&str; 2] =
        ["record off and on in turn, several times", "record at least 20 s of each state"];
    steps.retain(|step| !AT_THE_BENCH.contains(&step.as_str()));
    for step in &mut steps {
        *step = step.replace(" and touch no control between off and on", " and touch no control");
    }
    let sure = if steps.is_empty() { String::new() } else { format!("{}, and ", and(&steps)) };
    Some(format!("{sure}when the culprit is found, record it off and on in turn"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::sample_night;

    /// By hand: 49 min 59 s, which ends a second before 00:20; and one that ends after midnight only as told.
    #[test]
    fn hours_and_minutes_are_rounded_and_seconds_stand() {
        let mut night = sample_night();
        let told = |night: &Report, from: &str, to: &str, length_s: f64| {
            let (start, end) = (Some(from.to_owned()), Some(to.to_owned()));
            let episode = Episode {
                start,
                end,
                start_s: 0.0,
                end_s: length_s,
                from_before: false,
                ..night.episodes[1].clone()
            };
            between(&episode, night.night.as_ref())
        };
        let [eve, midnight] = ["2026-03-14T23:30:00", "2026-03-15T00:19:59"];
        assert_eq!(told(&night, eve, midnight, 2999.0), "23:30 to 00:20");
        assert_eq!(told(&night, "2026-03-14T23:30:29Z", "2026-03-14T23:40:30Z", 601.0), "23:30 to 23:41");
        assert_eq!(told(&night, "2026-03-14T23:30:29", "2026-03-14T23:39:59", 570.0), "23:30:29 to 23:39:59");
        night.night.as_mut().unwrap().duration_s = 90_000.0;
        let late = told(&night, eve, "2026-03-14T23:59:40", 1780.0);
        assert_eq!(late, "2026-03-14 23:30 to 2026-03-15 00:00");
        assert_eq!(told(&night, eve, "2026-03-14T23:50:00", 1200.0), "2026-03-14 23:30 to 23:50");
    }
}
