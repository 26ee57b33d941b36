//! What a log of what was switched explains of a night; episodes without an entry first.

use crate::night::result::{EpisodeEdge, NO_EXPLANATION, NightFacts, SwitchLog};
use crate::report::contract::Report;
use crate::report::night::words::span;
use crate::text::{Document, Words, and, and_at_most, clock, count, each_once, label, percent};

/// Devices named in a sentence. Chosen: a line.
const MOST_DEVICES: usize = 4;

pub(crate) fn write(doc: &mut Document, report: &Report, night: &NightFacts) {
    let Some(log) = &night.switch_log else { return };
    doc.heading(2, "What the log explains");
    doc.paragraph(fit(log));
    doc.list(unexplained(log, report));
    doc.list(explained(log, report));
    doc.list(unheard(log));
}

/// "The log explains 5 of 6: pump and lamp." `None` without a log, or where nothing came that it could explain.
pub(crate) fn verdict(report: &Report, night: &NightFacts) -> Option<String> {
    let log = night.switch_log.as_ref().filter(|log| log.entries > 0)?;
    let all = report.episodes.len();
    let explained = all.checked_sub(log.unexplained.len()).filter(|_| all > 0)?;
    Some(match log.chance {
        Some(_) if log.explains() => format!("The log explains {explained} of {all}: {}.", devices(log)),
        Some(chance) => {
            format!("The log fits {explained} of {all}, as it may by chance ({}).", percent(chance))
        }
        None => format!("The log explains none of {all}."),
    })
}

/// What the log names of all that it explains.
pub(crate) fn devices(log: &SwitchLog) -> String {
    and_at_most(&each_once(log.matches.iter().map(|one| label(&one.device))), MOST_DEVICES)
}

/// How the log fits as a whole.
fn fit(log: &SwitchLog) -> String {
    let entries = count(log.entries, "entry", "entries");
    let (Some(offset_s), Some(chance)) = (log.offset_s, log.chance) else {
        return format!("None of the log's {entries} within the night stands near a start or end.");
    };
    let clocks = apart(offset_s);
    let rival = log.rival_offset_s.map_or_else(String::new, |other_s| {
        format!(" As many fit with {}: set the clocks alike to be sure.", apart(other_s))
    });
    let weak = if chance > NO_EXPLANATION { ": that may be chance, so it explains nothing for sure" } else { "" };
    let odds = format!("the same switchings at other times fit as well in {} of the cases{weak}", percent(chance));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::sample_night;

    /// Of the sample's five episodes the log explains the second and the third.
    #[test]
    fn the_verdict_is_a_line() {
        let mut report = sample_night();
        let told = |report: &Report| verdict(report, report.night.as_ref().unwrap());
        assert_eq!(told(&report).unwrap(), "The log explains 2 of 5: pump and lamp.");
        let mut log = |change: &dyn Fn(&mut SwitchLog)| {
            change(report.night.as_mut().unwrap().switch_log.as_mut().unwrap());
            told(&report)
        };
        assert_eq!(log(&|log| log.chance = Some(0.2)).unwrap(), "The log fits 2 of 5, as it may by chance (20 %).");
        let none = |log: &mut SwitchLog| {
            (log.chance, log.offset_s) = (None, None);
            log.matches.clear();
        };
        assert_eq!(log(&none).unwrap(), "The log explains none of 5.");
        // A warning tells that the log lies elsewhere.
        assert_eq!(log(&|log| log.entries = 0), None);
    }
}
