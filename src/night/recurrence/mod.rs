//! What a log of what was switched explains of a night, in the contract's words; when a noise comes back (`pattern`).
//!
//! Not here: the matches themselves (`explain`), which episodes are one noise (`sources`).

pub mod explain;
pub mod pattern;
pub mod switch_log;

use crate::labels::State;
use crate::night::compared::Compared;
use crate::night::recurrence::explain::{Edge, explain};
use crate::night::recurrence::switch_log::Entry;
use crate::night::result::{EpisodeEdge, LogEntry, LogMatch, SwitchLog};

/// Entries this long before or after the night, s, may still belong to it: clocks are off. Chosen: as much as
/// `explain` allows them.
const BESIDE_NIGHT_S: f64 = 600.0;

/// Whether an entry may belong to the night.
pub(crate) fn is_within(entry: &Entry, night_s: f64) -> bool {
    (-BESIDE_NIGHT_S..=night_s + BESIDE_NIGHT_S).contains(&entry.at_s)
}

/// Which entries explain which starts and ends.
pub(crate) fn held_against(episodes: &[Compared], entries: &[Entry], night_s: f64) -> SwitchLog {
    let entries: Vec<Entry> = entries.iter().filter(|entry| is_within(entry, night_s)).cloned().collect();
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
        chance: explained.as_ref().map(|explained| explained.chance),
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
