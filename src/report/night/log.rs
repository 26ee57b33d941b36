//! What a log of what was switched explains of a night; episodes without an entry first.

use crate::night::result::{EpisodeEdge, NO_EXPLANATION, NightFacts, SwitchLog};
use crate::report::contract::Report;
use crate::report::night::words::span;
use crate::text::{Document, Words, and, clock, count, label, percent};

pub(crate) fn write(doc: &mut Document, report: &Report, night: &NightFacts) {
    let Some(log) = &night.switch_log else { return };
    doc.heading(2, "What the log explains");
    doc.paragraph(fit(log));
    doc.list(unexplained(log, report));
    doc.list(explained(log, report));
    doc.list(unheard(log));
}

/// How the log fits as a whole.
fn fit(log: &SwitchLog) -> String {
    let entries = count(log.entries, "entry", "entries");
    let Some(offset_s) = log.offset_s else {
        return format!("None of the log's {entries} within the night stands near a start or end.");
    };
    let clocks = apart(offset_s);
    let rival = log.rival_offset_s.map_or_else(String::new, |other_s| {
        format!(" As many fit with {}: set the clocks alike to be sure.", apart(other_s))
    });
    let odds = match log.chance {
        None => "the night is too short to tell how much of that is chance".to_owned(),
        Some(chance) => {
            let weak =
                if chance > NO_EXPLANATION { ": that may be chance, so it explains nothing for sure" } else { "" };
            format!(
                "the same log at another time of the night fits as well in {} of the cases{weak}",
                percent(chance)
            )
        }
    };
    let matched = count(log.matches.len(), "start or end", "starts and ends");
    format!("The log's {entries} within the night explain {matched}, {clocks}; {odds}.{rival}")
}

fn apart(offset_s: f64) -> String {
    match offset_s.round() {
        ahead if ahead >= 1.0 => format!("the recordings' clock taken to be {} ahead of the log's", clock(ahead)),
        behind if behind <= -1.0 => {
            format!("the recordings' clock taken to be {} behind the log's", clock(-behind))
        }
        _ => "both clocks alike".to_owned(),
    }
}

fn unexplained(log: &SwitchLog, report: &Report) -> Vec<Words> {
    let items = log.unexplained.iter().filter_map(|&number| {
        let episode = report.episodes.get(number.checked_sub(1)?)?;
        Some(Words::strong("Not in the log:").then(format!(" {number}, {}.", span(episode, report.night.as_ref()))))
    });
    items.collect()
}

/// What the log switched and the night does not show, a line a device.
fn unheard(log: &SwitchLog) -> Vec<Words> {
    let mut devices: Vec<(&str, Vec<String>)> = Vec::new();
    for entry in &log.unheard {
        let switching = format!("{} in line {}", entry.switched, entry.line);
        match devices.iter_mut().find(|(device, _)| *device == entry.device) {
            Some((_, entries)) => entries.push(switching),
            None => devices.push((&entry.device, vec![switching])),
        }
    }
    let items = devices.iter().map(|(device, entries)| {
        Words::strong("In the log, and no noise that begins or ends with it:").then(format!(
            " {}, {}.",
            label(device),
            and(entries)
        ))
    });
    items.collect()
}

fn explained(log: &SwitchLog, report: &Report) -> Vec<String> {
    let numbers = (1..=report.episodes.len()).filter(|number| log.matches.iter().any(|one| one.episode == *number));
    numbers
        .map(|number| {
            let entries: Vec<String> = log
                .matches
                .iter()
                .filter(|one| one.episode == number)
                .map(|one| {
                    let (edge, switched) = match one.edge {
                        EpisodeEdge::Start => ("start", "on"),
                        EpisodeEdge::End => ("end", "off"),
                    };
                    let rest = match one.rest_s.round() {
                        0.0 => "to the second".to_owned(),
                        late if late > 0.0 => format!("{} later", clock(late)),
                        early => format!("{} earlier", clock(-early)),
                    };
                    format!("its {edge} is {} {switched} (line {}, {rest})", label(&one.device), one.line)
                })
                .collect();
            format!("{number}, {}: {}.", span(&report.episodes[number - 1], report.night.as_ref()), and(&entries))
        })
        .collect()
}
