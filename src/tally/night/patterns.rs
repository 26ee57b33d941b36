//! How the noises of a night came and went, and what a log of what was switched explains, in the contract's words.
//!
//! Not here: periods and matches themselves (`night::pattern`, `night::explain`).

use super::runs::Spotted;
use crate::health::Trust;
use crate::night::explain::{Edge, explain};
use crate::night::pattern::{Pattern, Period, Span, pattern};
use crate::night::switch_log::Entry;
use crate::report::contract::{ContrastResult, LogMatch, NightPattern, SwitchLog};

/// Entries this long before or after the night, s, may still belong to it: clocks are off.
const BESIDE_NIGHT_S: f64 = 600.0;

/// A night shorter than this is mostly what clocks may be off: shifting the log against it tells nothing of chance.
const LEAST_NIGHT_S: f64 = 7200.0;

/// A pattern for each kind of noise that was there more than once, in the order in which they first came. Comparisons that
/// are void tell no kind and are left out.
pub(super) fn patterns(spotted: &[Spotted], contrasts: &[ContrastResult], searched_s: f64) -> Vec<NightPattern> {
    let mut kinds: Vec<(&str, Vec<usize>)> = Vec::new();
    for (at, contrast) in contrasts.iter().enumerate().filter(|(_, contrast)| contrast.trust != Trust::Void) {
        match kinds.iter_mut().find(|(kind, _)| *kind == contrast.character) {
            Some((_, places)) => places.push(at),
            None => kinds.push((&contrast.character, vec![at])),
        }
    }
    let several =
        kinds.into_iter().filter(|(kind, places)| places.len() > 1 && !matches!(*kind, "none" | "unclear"));
    several
        .filter_map(|(kind, places)| {
            let spans: Vec<Span> = places.iter().map(|&at| span(&spotted[at])).collect();
            pattern(&spans, searched_s).map(|found| told(kind, &places, &found))
        })
        .collect()
}

fn span(one: &Spotted) -> Span {
    Span { start_s: one.start_s, end_s: one.end_s, start_seen: !one.from_before, end_seen: !one.until_after }
}

fn told(kind: &str, places: &[usize], found: &Pattern) -> NightPattern {
    let even = match &found.period {
        Period::Even(even) => Some(even),
        Period::TooFew(_) | Period::Chance(_) => None,
    };
    let (word, chance) = match &found.period {
        Period::Even(even) => ("even", Some(even.chance)),
        Period::Chance(chance) => ("chance", Some(*chance)),
        Period::TooFew(_) => ("too_few", None),
    };
    NightPattern {
        kind: kind.to_owned(),
        episodes: places.iter().map(|at| at + 1).collect(),
        total_s: found.total_s,
        duty: found.duty,
        length_s: found.length_s.map(|length| length.0),
        length_sd_s: found.length_s.map(|length| length.1),
        told: word.to_owned(),
        period_s: even.map(|even| even.period_s),
        period_ci_s: even.map(|even| [even.period_s - even.reach_s, even.period_s + even.reach_s]),
        missed: even.map(|even| even.missed),
        chance,
    }
}

/// Which entries explain which starts and ends.
pub(super) fn switch_log(spotted: &[Spotted], entries: &[Entry], night_s: f64) -> SwitchLog {
    let within = |entry: &&Entry| (-BESIDE_NIGHT_S..=night_s + BESIDE_NIGHT_S).contains(&entry.at_s);
    let entries: Vec<Entry> = entries.iter().filter(within).cloned().collect();
    let mut edges: Vec<Edge> = Vec::new();
    for (episode, one) in spotted.iter().enumerate() {
        edges.extend((!one.from_before).then_some(Edge { episode, at_s: one.start_s, came: true }));
        edges.extend((!one.until_after).then_some(Edge { episode, at_s: one.end_s, came: false }));
    }
    edges.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let explained = explain(&edges, &entries, night_s);
    let matches: Vec<LogMatch> = explained
        .iter()
        .flat_map(|explained| &explained.matches)
        .map(|one| LogMatch {
            episode: edges[one.edge].episode + 1,
            edge: if edges[one.edge].came { "start" } else { "end" }.to_owned(),
            device: entries[one.entry].device.clone(),
            line: entries[one.entry].line,
            rest_s: one.rest_s,
        })
        .collect();
    SwitchLog {
        entries: entries.len(),
        offset_s: explained.as_ref().map(|explained| explained.offset_s),
        rival_offset_s: explained.as_ref().and_then(|explained| explained.rival_s),
        chance: explained.as_ref().filter(|_| night_s >= LEAST_NIGHT_S).map(|explained| explained.chance),
        unexplained: (1..=spotted.len())
            .filter(|number| matches.iter().all(|one| one.episode != *number))
            .collect(),
        matches,
    }
}
