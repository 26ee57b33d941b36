//! The sheet for a neighbour: half a page without a technical word, friendly, without blame. Not here: the facts for
//! a form.

use super::facts::LINE;
use super::{Handout, PROSE, Subject, explained, open_episodes, without_since};
use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::thing;
use crate::night::result::NightFacts;
use crate::report::contract::Report;
use crate::text::{Document, List, Mark, Words, count, each_once, full_sentence, label, number};

/// Minutes from which a stretch of time is told in hours. Chosen: two hours read as such.
const HOURS_FROM_MIN: f64 = 90.0;

/// The sheet.
pub(super) fn sheet(handout: &Handout) -> Document {
    let (case, prose) = (&handout.case, &PROSE.neighbour);
    let mut doc = Document::default();
    doc.heading(1, prose.title.as_str());
    doc.paragraph(prose.greeting.as_str());
    let since = case.since.as_deref().map(|since| format!(" Since {} a", without_since(since)));
    let since = since.unwrap_or_else(|| " A".to_owned());
    let drowned = format!("{since} noise has been covering them. It sounds like {}.", sounds(handout));
    let found = match handout.subject() {
        Subject::Device(c) if c.is_unspoilt() => format!(
            "I have tried it out: the noise is there while {} is on, and gone when it is off.",
            thing(&c.device)
        ),
        Subject::Device(c) => {
            format!(
                "It seems to come from {}, but I am not sure yet and would like to try again.",
                thing(&c.device)
            )
        }
        Subject::Night(night) => comes_and_goes(handout.report(), night),
    };
    let times =
        case.times.as_deref().map_or_else(String::new, |times| format!(" When: {}", full_sentence(&label(times))));
    doc.paragraph(format!("{}{drowned} {found}{times}", prose.hobby));
    doc.paragraph(prose.no_blame.as_str());
    doc.lead(prose.helps_head.as_str());
    let is_known = matches!(handout.subject(), Subject::Device(c) if c.is_unspoilt());
    let search = (!is_known).then_some(&prose.search);
    doc.list(List::new(
        Mark::Dash,
        search.into_iter().chain(&prose.helps).map(|line| line.as_str().into()).collect(),
    ));
    doc.lead(prose.care_head.as_str());
    doc.list(List::new(Mark::Dash, prose.care.iter().map(|line| line.as_str().into()).collect()));
    doc.paragraph(prose.close.as_str());
    let or_line = |words: &Option<String>| words.as_deref().map_or_else(|| Words::blank(LINE), |w| label(w).into());
    doc.lines(vec![or_line(&case.name), or_line(&case.contact)]);
    doc
}

fn word(kind: Character) -> &'static str {
    PROSE.neighbour.sound.of(kind)
}

/// What one comparison sounds like: a mixture by its parts.
fn heard(c: &ContrastResult) -> String {
    match c.character {
        Character::Mixed if !c.parts.is_empty() => {
            let parts = each_once(c.parts.iter().map(|part| word(part.character).to_owned()));
            parts.join(", with ")
        }
        kind => word(kind).to_owned(),
    }
}

fn sounds(handout: &Handout) -> String {
    match handout.subject() {
        Subject::Device(c) => heard(c),
        Subject::Night(night) => {
            let kinds = open_episodes(handout.report(), night).map(|e| &e.contrast);
            let kinds = each_once(kinds.filter(|c| !c.is_void()).map(heard));
            match kinds.as_slice() {
                [] => word(Character::Unclear).to_owned(),
                [one] => one.clone(),
                [one, other, ..] => format!("{one}, at other times like {other}"),
            }
        }
    }
}

/// "It comes and goes: in 8 hours of listening I heard it 5 times, from under a minute to 3 minutes each."
fn comes_and_goes(report: &Report, night: &NightFacts) -> String {
    let minutes = |seconds: f64| match seconds / 60.0 {
        short if short < 0.75 => "under a minute".to_owned(),
        short if short < HOURS_FROM_MIN => count(short.round() as usize, "minute", "minutes"),
        long => format!("{} hours", number(long / 60.0, 0)),
    };
    let lengths: Vec<f64> = open_episodes(report, night).map(|e| e.end_s - e.start_s).collect();
    let shortest = minutes(lengths.iter().copied().fold(f64::INFINITY, f64::min));
    let longest = minutes(lengths.iter().copied().fold(0.0, f64::max));
    let each = if shortest == longest {
        format!("{longest} each time")
    } else {
        format!("{shortest} to {longest} each time")
    };
    let times = match lengths.len() {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    };
    let each = if lengths.len() == 1 { format!("for {longest}") } else { each };
    let own = if explained(night).is_some() { " What I switched on myself is not counted." } else { "" };
    format!(
        "It comes and goes: in {} of listening I heard it {times}, {each}.{own} I don't know yet where it comes from, \
         it may well be from my own house.",
        minutes(night.recorded_s)
    )
}
