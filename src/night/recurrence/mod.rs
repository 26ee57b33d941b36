//! How the noises of a night came and went, and what a log of what was switched explains, in the contract's words.
//!
//! Not here: periods and matches themselves (`pattern`, `explain`).

pub mod explain;
pub mod pattern;
pub mod switch_log;

use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::labels::State;
use crate::night::compared::Compared;
use crate::night::episodes::runs::Spotted;
use crate::night::recurrence::explain::{Edge, explain};
use crate::night::recurrence::pattern::{Pattern, Period, Span, pattern};
use crate::night::recurrence::switch_log::Entry;
use crate::night::result::{EpisodeEdge, LogEntry, LogMatch, NightPattern, Regularity, SwitchLog};

/// Entries this long before or after the night, s, may still belong to it: clocks are off. Chosen: as much as
/// `explain` allows them.
const BESIDE_NIGHT_S: f64 = 600.0;

/// A night shorter than this is mostly what clocks may be off: shifting the log against it tells nothing of
/// chance. Chosen: twelve times that.
const LEAST_NIGHT_S: f64 = 7200.0;

/// Episodes that are told together: what resembles one known noise, else what is of one kind.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group<'a> {
    /// The known noise it resembles; `None` where none was named or it resembles none.
    pub known: Option<&'a str>,
    /// Character; of a known noise that of most of its episodes. `None`: the comparisons are void and tell no kind.
    pub kind: Option<Character>,
    /// Places of its episodes.
    pub places: Vec<usize>,
}

/// All episodes by known noise and kind, in the order in which each first came.
pub(crate) fn groups<'a>(contrasts: impl Iterator<Item = &'a ContrastResult>) -> Vec<Group<'a>> {
    let mut groups: Vec<(Group<'a>, Vec<Character>)> = Vec::new();
    for (at, contrast) in contrasts.enumerate() {
        let character = (!contrast.is_void()).then_some(contrast.character);
        let known = character.and_then(|_| Some(contrast.known_noise.as_ref()?.one()?.name.as_str()));
        let same = |group: &Group| group.known == known && (known.is_some() || group.kind == character);
        match groups.iter_mut().find(|(group, _)| same(group)) {
            Some((group, kinds)) => {
                group.places.push(at);
                kinds.extend(character);
            }
            None => groups.push((Group { known, kind: character, places: vec![at] }, Vec::from_iter(character))),
        }
    }
    groups.into_iter().map(|(group, kinds)| Group { kind: most_frequent(&kinds), ..group }).collect()
}

/// Of equally frequent ones the first.
fn most_frequent(kinds: &[Character]) -> Option<Character> {
    let times = |kind: Character| kinds.iter().filter(|other| **other == kind).count();
    kinds.iter().copied().reduce(|best, kind| if times(kind) > times(best) { kind } else { best })
}

/// A pattern for each noise that was there more than once, in the order in which they first came. What tells no
/// kind is left out.
pub(crate) fn patterns(episodes: &[Compared], searched_s: f64) -> Vec<NightPattern> {
    groups(episodes.iter().map(|one| &one.contrast))
        .into_iter()
        .filter(|group| group.places.len() > 1)
        .filter_map(|group| {
            let kind = group.kind.filter(|kind| group.known.is_some() || kind.is_a_noise())?;
            let spans: Vec<Span> = group.places.iter().map(|&at| span(&episodes[at].spotted)).collect();
            pattern(&spans, searched_s).map(|found| result_of(kind, &group, &found))
        })
        .collect()
}

fn span(one: &Spotted) -> Span {
    Span { start_s: one.start_s, end_s: one.end_s, start_seen: !one.from_before, end_seen: !one.until_after }
}

fn result_of(kind: Character, group: &Group, found: &Pattern) -> NightPattern {
    let even = match &found.period {
        Period::Even(even) => Some(even),
        Period::TooFew(_) | Period::Chance(_) => None,
    };
    let (word, chance) = match &found.period {
        Period::Even(even) => (Regularity::Even, Some(even.chance)),
        Period::Chance(chance) => (Regularity::Chance, Some(*chance)),
        Period::TooFew(_) => (Regularity::TooFew, None),
    };
    NightPattern {
        kind,
        known: group.known.map(str::to_owned),
        episodes: group.places.iter().map(|at| at + 1).collect(),
        total_s: found.total_s,
        duty: found.duty,
        length_s: found.length_s.map(|length| length.0),
        length_sd_s: found.length_s.map(|length| length.1),
        told: word,
        period_s: even.map(|even| even.period_s),
        period_ci_s: even.map(|even| [even.period_s - even.reach_s, even.period_s + even.reach_s]),
        even_from_s: even.map(|even| even.first_s),
        missed: even.map(|even| even.missed),
        chance,
    }
}

/// Which entries explain which starts and ends.
pub(crate) fn held_against(episodes: &[Compared], entries: &[Entry], night_s: f64) -> SwitchLog {
    let within = |entry: &&Entry| (-BESIDE_NIGHT_S..=night_s + BESIDE_NIGHT_S).contains(&entry.at_s);
    let entries: Vec<Entry> = entries.iter().filter(within).cloned().collect();
    let mut edges: Vec<Edge> = Vec::new();
    for (episode, one) in episodes.iter().map(|one| &one.spotted).enumerate() {
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
            edge: if edges[one.edge].came { EpisodeEdge::Start } else { EpisodeEdge::End },
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
        unexplained: (1..=episodes.len())
            .filter(|number| matches.iter().all(|one| one.episode != *number))
            .collect(),
        unheard: entries
            .iter()
            .filter(|entry| matches.iter().all(|one| one.line != entry.line))
            .map(|entry| LogEntry {
                device: entry.device.clone(),
                switched: if entry.on { State::On } else { State::Off },
                line: entry.line,
            })
            .collect(),
        matches,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::known_noise::Answer;
    use crate::contrast::known_noise::KnownCandidate;
    use crate::contrast::known_noise::KnownNoise;
    use crate::report::sample_report;
    use crate::warning::Trust;

    fn episode(character: Character, trust: Trust, known: Option<(Answer, &str)>) -> ContrastResult {
        let known_noise = known.map(|(answer, name)| KnownNoise {
            answer,
            candidates: vec![KnownCandidate { name: name.into(), resemblance: 0.9, compared: Vec::new() }],
            plain: false,
            held_against: 2,
        });
        let base = sample_report().contrasts[0].clone();
        ContrastResult { character, trust, known_noise, ..base }
    }

    #[test]
    fn a_known_noise_goes_before_the_kind_and_void_tells_neither() {
        let contrasts = [
            episode(Character::Buzz, Trust::Sound, Some((Answer::One, "pump"))),
            episode(Character::Hash, Trust::Sound, None),
            episode(Character::Buzz, Trust::Sound, Some((Answer::None, "pump"))),
            episode(Character::Mixed, Trust::Doubtful, Some((Answer::One, "pump"))),
            episode(Character::Buzz, Trust::Void, Some((Answer::One, "pump"))),
            episode(Character::Mixed, Trust::Sound, Some((Answer::One, "pump"))),
            episode(Character::Hash, Trust::Sound, Some((Answer::Either, "pump"))),
        ];
        let told: Vec<_> = groups(contrasts.iter()).into_iter().map(|g| (g.known, g.kind, g.places)).collect();
        assert_eq!(
            told,
            [
                (Some("pump"), Some(Character::Mixed), vec![0, 3, 5]),
                (None, Some(Character::Hash), vec![1, 6]),
                (None, Some(Character::Buzz), vec![2]),
                (None, None, vec![4]),
            ]
        );
    }
}
