//! How the noises of a night came back, and what a log of what was switched explains; episodes without an entry
//! first.

use crate::findings::picture::FigureKind;
use crate::night::figures::on_times::noise_words;
use crate::night::result::{EpisodeEdge, NightFacts, NightPattern, Regularity, SwitchLog};
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::night::words::span;
use crate::text::{Document, Words, and, capital, clock, count, label, number, percent, times};

/// The smallest chance that the draws can tell (`night::recurrence::pattern`: one of ten thousand).
const RAREST: f64 = 1e-4;
/// Lengths that scatter by less than this share of their mean are told as one. Chosen: with more scatter a mean
/// length says nothing.
const ALIKE: f64 = 0.3;
/// Chance above which a log that fits is no explanation. Common practice.
pub(crate) const NO_EXPLANATION: f64 = 0.05;

pub(crate) fn write(doc: &mut Document, report: &Report, night: &NightFacts) {
    if let Some(log) = &night.switch_log {
        doc.heading(2, "What the log explains");
        doc.paragraph(fit(log));
        doc.list(unexplained(log, report));
        doc.list(explained(log, report));
        doc.list(unheard(log));
    }
    let figures: Vec<_> = report.figures.iter().filter(|figure| figure.kind == FigureKind::OnTimes).collect();
    if !night.patterns.is_empty() || !figures.is_empty() {
        doc.heading(2, "How it came back");
        figures.into_iter().for_each(|figure| doc.picture(figure));
    }
    if !night.patterns.is_empty() {
        doc.list(night.patterns.iter().map(sentence).collect::<Vec<_>>());
        let by_name = night.patterns.iter().any(|pattern| pattern.known.is_some());
        doc.paragraph(if by_name { &*NOTES.night_resemblances } else { &*NOTES.night_kinds });
    }
}

/// The interval of a period: "give or take 0.4 s".
fn reach([low_s, high_s]: [f64; 2]) -> String {
    format!("give or take {}, 95 %", clock(((high_s - low_s) / 2.0).max(0.1)))
}

/// "once in 250"; the rarest that can be told as such.
fn rarely(chance: f64) -> String {
    let at_most = if chance <= RAREST { "at most " } else { "" };
    format!("{at_most}once in {}", number((1.0 / chance.max(RAREST)).round(), 0))
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

/// "Buzz came 3 times (1, 2 and 4): 4 min 30 s in all, 19 % of the time searched; …".
fn sentence(pattern: &NightPattern) -> String {
    let numbers: Vec<String> = pattern.episodes.iter().map(usize::to_string).collect();
    let mut text = format!(
        "{} came {} ({}): {} in all, {} of the time searched",
        capital(&noise_words(pattern)),
        times(pattern.episodes.len()),
        and(&numbers),
        clock(pattern.total_s),
        percent(pattern.duty)
    );
    if let (Some(mean_s), Some(sd_s)) = (pattern.length_s, pattern.length_sd_s)
        && sd_s < ALIKE * mean_s
    {
        let scatter = if sd_s < 1.0 { "less than a second".to_owned() } else { clock(sd_s) };
        text += &format!(", each about {} (they scatter by {scatter})", clock(mean_s));
    }
    text += &match (pattern.told, pattern.period_s, pattern.period_ci_s, pattern.chance) {
        (Regularity::Even, Some(period_s), Some(ends), chance) => format!(
            ". It comes back every {} ({}), as a thermostat or a timer does; chance is as even {}",
            clock(period_s),
            reach(ends),
            rarely(chance.unwrap_or(RAREST))
        ),
        (Regularity::Chance, _, _, Some(chance)) => {
            format!("; its times are no more even than chance (as even in {} of the cases)", percent(chance))
        }
        _ => "; too few repeats to name a period".to_owned(),
    };
    if let Some(missed) = pattern.missed.filter(|missed| *missed > 0) {
        text += &format!("; {} not seen", count(missed, "repeat in between was", "repeats in between were"));
    }
    text + "."
}
