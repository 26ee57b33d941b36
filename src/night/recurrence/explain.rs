//! Which entry of a switch log explains which episode: one offset of the log's clock for the whole night, found
//! with the matches, and the chance that a log without any relation fits as well.
//!
//! Not here: reading a log (`switch_log`), words.

use super::switch_log::Entry;
use crate::signal::spectrum::statistics::median;

/// How far clocks may be off, s: watches and recorders set by hand. Chosen.
const OFF_BY_S: f64 = 600.0;
/// How near, that offset taken off, an edge must lie to its entry, s: logs are kept to the minute. Chosen.
const WITHIN_S: f64 = 45.0;
/// What decides between offsets that explain as many edges: how far clocks usually are off, and entries beside what
/// they tell of, s (standard deviations; our own choice).
const USUALLY_OFF_S: f64 = 120.0;
const USUALLY_BESIDE_S: f64 = 15.0;
/// Shifts of the log against the night by which chance is reckoned. Chosen: with the log as it stands a thousand,
/// so that chance is told to a thousandth.
const SHIFTS: u32 = 999;

/// Begin or end of an episode that was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Place of the episode.
    pub episode: usize,
    /// From the night's origin.
    pub at_s: f64,
    /// A noise that came, else one that went.
    pub came: bool,
}

/// An edge with the entry that explains it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Match {
    /// Place among the edges.
    pub edge: usize,
    /// Place among the entries.
    pub entry: usize,
    /// Edge less entry, the common offset taken off, s.
    pub rest_s: f64,
}

/// How a log fits a night.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// How far the night's clock is ahead of the log's, s.
    pub offset_s: f64,
    /// Another offset that explains as many edges, as with a device that switches at even intervals.
    pub rival_s: Option<f64>,
    /// What fits, in order of time.
    pub matches: Vec<Match>,
    /// Probability that a log with the same entries at another time of the night fits as many edges.
    pub chance: f64,
}

/// Fits a log to edges, both in order of time; `night_s`: length of the night. `None` where nothing fits at all.
///
/// Chance is that of a circular shift of the log: it keeps how entries follow each other and breaks only their
/// relation to the night, and the search for the offset is made again each time, so that it is paid for. The
/// probability is (1 + hits)/(1 + shifts) (B. V. North et al., Am. J. Hum. Genet. 71, 439, 2002). The shifts are
/// evenly spaced and at least as large as clocks may be off.
pub fn explain(edges: &[Edge], entries: &[Entry], night_s: f64) -> Option<Explained> {
    let switched: Vec<(f64, bool)> = entries.iter().map(|entry| (entry.at_s, entry.on)).collect();
    let best = best_offset(edges, &switched, |_| true);
    if best.matches.is_empty() {
        return None;
    }
    let rival = best_offset(edges, &switched, |offset_s| (offset_s - best.offset_s).abs() > WITHIN_S);
    let rival_s = (rival.matches.len() >= best.matches.len()).then_some(rival.offset_s);
    // Refined by what it matched; the median passes over a stray match.
    let mut rests: Vec<f64> = best.matches.iter().map(|m| m.rest_s).collect();
    let refined = best.offset_s + median(&mut rests);
    let again = matches_at(edges, &switched, refined);
    let (offset_s, matches) =
        if again.len() >= best.matches.len() { (refined, again) } else { (best.offset_s, best.matches) };
    let least = 2.0 * OFF_BY_S;
    let chance = if night_s > 2.0 * least {
        let hits = (0..SHIFTS).filter(|&i| {
            let shift = least + (night_s - 2.0 * least) * (f64::from(i) + 0.5) / f64::from(SHIFTS);
            let mut moved: Vec<(f64, bool)> =
                switched.iter().map(|&(at, on)| ((at + shift).rem_euclid(night_s), on)).collect();
            moved.sort_by(|a, b| a.0.total_cmp(&b.0));
            best_offset(edges, &moved, |_| true).matches.len() >= matches.len()
        });
        (1.0 + hits.count() as f64) / (1.0 + f64::from(SHIFTS))
    } else {
        // Too short a night to shift anything in it: nothing is known of chance.
        1.0
    };
    Some(Explained { offset_s, rival_s, matches, chance })
}

struct Best {
    offset_s: f64,
    matches: Vec<Match>,
}

/// The offset at which most edges have their entry; of several the likeliest, by what it and the rests are usually.
fn best_offset(edges: &[Edge], switched: &[(f64, bool)], wanted: impl Fn(f64) -> bool) -> Best {
    let mut best = Best { offset_s: 0.0, matches: Vec::new() };
    let mut least = f64::MAX;
    for edge in edges {
        for (at_s, on) in switched {
            let offset_s = edge.at_s - at_s;
            if *on != edge.came || offset_s.abs() > OFF_BY_S || !wanted(offset_s) {
                continue;
            }
            let matches = matches_at(edges, switched, offset_s);
            let rests: f64 = matches.iter().map(|m| (m.rest_s / USUALLY_BESIDE_S).powi(2)).sum();
            let left = rests + (offset_s / USUALLY_OFF_S).powi(2);
            if matches.len() > best.matches.len() || (matches.len() == best.matches.len() && left < least) {
                least = left;
                best = Best { offset_s, matches };
            }
        }
    }
    best
}

/// Each edge with the nearest entry of its kind that none before it took.
fn matches_at(edges: &[Edge], switched: &[(f64, bool)], offset_s: f64) -> Vec<Match> {
    let mut taken = vec![false; switched.len()];
    let mut found = Vec::new();
    for (edge, one) in edges.iter().enumerate() {
        let rest = |entry: usize| one.at_s - offset_s - switched[entry].0;
        let first = switched.partition_point(|(at, _)| *at < one.at_s - offset_s - WITHIN_S);
        let near = (first..switched.len())
            .take_while(|&entry| rest(entry) >= -WITHIN_S)
            .filter(|&entry| !taken[entry] && switched[entry].1 == one.came)
            .min_by(|&a, &b| rest(a).abs().total_cmp(&rest(b).abs()));
        if let Some(entry) = near {
            taken[entry] = true;
            found.push(Match { edge, entry, rest_s: rest(entry) });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(at_s: f64, device: &str, on: bool) -> Entry {
        Entry { line: 1, at_s, device: device.to_owned(), on }
    }

    fn edge(episode: usize, at_s: f64, came: bool) -> Edge {
        Edge { episode, at_s, came }
    }

    /// A clock 200 s behind, entries kept to the minute; one episode nobody wrote down, one entry that was not
    /// heard.
    #[test]
    fn a_clock_that_is_off_is_found_with_what_it_explains() {
        let entries = [
            entry(3600.0, "pump", true),
            entry(4800.0, "pump", false),
            entry(9000.0, "lamp", true),
            entry(12_000.0, "quiet box", true),
            entry(15_060.0, "lamp", false),
            entry(20_000.0, "pump", true),
            entry(21_200.0, "pump", false),
        ];
        let edges = [
            edge(0, 3810.0, true),
            edge(0, 4990.0, false),
            edge(1, 7000.0, true),
            edge(1, 7600.0, false),
            edge(2, 9205.0, true),
            edge(2, 15_250.0, false),
            edge(3, 20_195.0, true),
            edge(3, 21_410.0, false),
        ];
        let found = explain(&edges, &entries, 28_800.0).unwrap();
        assert!((found.offset_s - 200.0).abs() <= 10.0, "{found:?}");
        let explained: Vec<usize> = found.matches.iter().map(|m| m.edge).collect();
        assert_eq!(explained, [0, 1, 4, 5, 6, 7]);
        assert!(found.chance < 0.01, "{}", found.chance);
        assert!(found.matches.iter().all(|m| m.rest_s.abs() <= 15.0));
    }

    /// Of logs without any relation at most one in a hundred has a chance under 0.01, by definition of the test; of
    /// 60, more than four come by chance less than once in two hundred times.
    #[test]
    fn logs_without_relation_are_seldom_believed() {
        let mut state = 12_345u64;
        let mut share = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut times = |n: usize| {
            let mut times: Vec<f64> = (0..n).map(|_| 28_800.0 * share()).collect();
            times.sort_by(f64::total_cmp);
            times
        };
        let believed = (0..60)
            .filter(|_| {
                let entries: Vec<Entry> =
                    times(10).into_iter().enumerate().map(|(i, at)| entry(at, "x", i % 2 == 0)).collect();
                let edges: Vec<Edge> =
                    times(12).into_iter().enumerate().map(|(i, at)| edge(i / 2, at, i % 2 == 0)).collect();
                explain(&edges, &entries, 28_800.0).is_some_and(|found| found.chance < 0.01)
            })
            .count();
        assert!(believed <= 4, "{believed} of 60");
    }

    #[test]
    fn nothing_explains_nothing() {
        assert_eq!(explain(&[], &[entry(1.0, "pump", true)], 28_800.0), None);
        assert_eq!(explain(&[edge(0, 5000.0, true)], &[], 28_800.0), None);
        assert_eq!(explain(&[edge(0, 5000.0, true)], &[entry(5000.0, "pump", false)], 28_800.0), None);
        let short = explain(&[edge(0, 50.0, true)], &[entry(50.0, "pump", true)], 600.0).unwrap();
        assert_eq!(short.chance, 1.0, "too short a night to tell");
    }
}
