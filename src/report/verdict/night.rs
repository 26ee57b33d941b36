//! The words for an episode of a night: when it was stands for what was on.

use crate::night::result::Episode;
use crate::report::contract::Report;
use crate::text::and;

/// Longer episodes are told to the minute.
const BY_MINUTES_S: f64 = 600.0;

/// "from 22:10 to 22:40", with seconds where it is short, with the date where the night is longer than a day.
pub fn span(episode: &Episode, report: &Report) -> String {
    let seconds = episode.end_s - episode.start_s < BY_MINUTES_S;
    let dated = report.night.as_ref().is_some_and(|night| night.duration_s >= 86_400.0);
    let [start, end] = [(&episode.start, episode.start_s), (&episode.end, episode.end_s)]
        .map(|(at, at_s)| hours(at.as_deref(), at_s, seconds, dated));
    match (episode.from_before, episode.until_after) {
        (false, false) => format!("from {start} to {end}"),
        (true, false) => format!("until {end}"),
        (false, true) => format!("from {start} on"),
        (true, true) => format!("from {start} to {end}, all of the recording"),
    }
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
