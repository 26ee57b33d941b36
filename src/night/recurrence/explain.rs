//! Which entry of a switch log explains which episode: one offset of the log's clock for the whole night, found
//! with the matches, and the chance that a log without any relation fits as well.
//!
//! Not here: reading a log (`switch_log`), words.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;

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
/// Nothing is told nearer than starts and ends are found, s (the guide `night`: "good to a second or two").
const EDGE_S: f64 = 2.0;
/// Logs without any relation by which chance is reckoned. Chosen: with the log as it stands a thousand, so that
/// chance is told to a thousandth.
const DEALT: u32 = 999;

/// Fixed, so that a night is told the same each time.
const SEED: u64 = 1;

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
    /// Probability that a log of no relation to the night explains as many edges, as nearly.
    pub chance: f64,
}

/// Fits a log to edges, both in order of time; `night_s`: length of the night. `None` where nothing fits at all.
///
/// Chance is that of a log dealt anew: the times from one entry to the next change places, those on among themselves
/// and those off among themselves, and the whole is turned by any amount within the night. That keeps what is even
/// about the log and how long its devices are on, and breaks its relation to the night. The search for the offset is
/// made again each time, so that it is paid for. A log fits as well that explains more edges, or as many as nearly
/// (`misfit`). So a short night can tell chance too, if several entries agree. The probability is (1 + hits)/(1 +
/// dealt) (B. V. North et al., Am. J. Hum. Genet. 71, 439, 2002); dealing intervals anew is common practice.
pub fn explain(edges: &[Edge], entries: &[Entry], night_s: f64) -> Option<Explained> {
    let switched: Vec<(f64, bool)> = entries.iter().map(|entry| (entry.at_s, entry.on)).collect();
    let best = best_offset(edges, &switched, |_| true);
    if best.matches.is_empty() {
        return None;
    }
    let rival = best_offset(edges, &switched, |offset_s| (offset_s - best.offset_s).abs() > WITHIN_S);
    let rival_s = (rival.matches.len() >= best.matches.len()).then_some(rival.offset_s);
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let hits = (0..DEALT).filter(|&i| {
        let turned_s = night_s * (f64::from(i) + 0.5) / f64::from(DEALT);
        let other = best_offset(edges, &dealt(&switched, night_s, turned_s, &mut rng), |_| true);
        other.is_as_good_as(&best)
    });
    let chance = (1.0 + hits.count() as f64) / (1.0 + f64::from(DEALT));
    // Refined by what it matched; the median passes over a stray match.
    let mut rests: Vec<f64> = best.matches.iter().map(|m| m.rest_s).collect();
    let refined = best.offset_s + median(&mut rests);
    let again = matches_at(edges, &switched, refined);
    let (offset_s, matches) =
        if again.len() >= best.matches.len() { (refined, again) } else { (best.offset_s, best.matches) };
    Some(Explained { offset_s, rival_s, matches, chance })
}

/// A log with the same times from entry to entry in another order, turned.
fn dealt(switched: &[(f64, bool)], night_s: f64, turned_s: f64, rng: &mut ChaCha8Rng) -> Vec<(f64, bool)> {
    let mut round: Vec<(f64, bool)> = switched.iter().map(|&(at_s, on)| (at_s.rem_euclid(night_s), on)).collect();
    round.sort_by(|a, b| a.0.total_cmp(&b.0));
    let next = |i: usize| round.get(i + 1).map_or_else(|| round[0].0 + night_s, |next| next.0);
    let mut gaps = [true, false].map(|on| {
        let of: Vec<f64> = (0..round.len()).filter(|&i| round[i].1 == on).map(|i| next(i) - round[i].0).collect();
        of
    });
    gaps.iter_mut().for_each(|gaps| gaps.shuffle(rng));
    let mut at_s = round.first().map_or(0.0, |first| first.0) + turned_s;
    let mut moved: Vec<(f64, bool)> = Vec::with_capacity(round.len());
    for &(_, on) in &round {
        moved.push((at_s.rem_euclid(night_s), on));
        at_s += gaps[usize::from(!on)].pop().unwrap_or(0.0);
    }
    moved.sort_by(|a, b| a.0.total_cmp(&b.0));
    moved
}

struct Best {
    offset_s: f64,
    matches: Vec<Match>,
    misfit: f64,
}

impl Best {
    fn is_as_good_as(&self, other: &Self) -> bool {
        let (here, there) = (self.matches.len(), other.matches.len());
        here > there || (here == there && self.misfit <= other.misfit)
    }
}

/// How unusual an offset and the rests are: squares over their usual spread.
fn misfit(matches: &[Match], offset_s: f64) -> f64 {
    let off = |by_s: f64, usually_s: f64| (by_s.abs().max(EDGE_S) / usually_s).powi(2);
    matches.iter().map(|m| off(m.rest_s, USUALLY_BESIDE_S)).sum::<f64>() + off(offset_s, USUALLY_OFF_S)
}

/// The offset at which most edges have their entry; of several the likeliest, by what it and the rests are usually.
fn best_offset(edges: &[Edge], switched: &[(f64, bool)], wanted: impl Fn(f64) -> bool) -> Best {
    let mut best = Best { offset_s: 0.0, matches: Vec::new(), misfit: f64::MAX };
    for edge in edges {
        for (at_s, on) in switched {
            let offset_s = edge.at_s - at_s;
            if *on != edge.came || offset_s.abs() > OFF_BY_S || !wanted(offset_s) {
                continue;
            }
            let matches = matches_at(edges, switched, offset_s);
            let misfit = misfit(&matches, offset_s);
            if matches.len() > best.matches.len() || (matches.len() == best.matches.len() && misfit < best.misfit) {
                best = Best { offset_s, matches, misfit };
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

    /// The smallest chance is a thousandth, and of logs without any relation at most one in a hundred may have one
    /// under 0.01, by definition of the test; of 60, more than four come by chance less than once in two hundred times.
    /// Twelve edges and ten entries, at random and on and off in turn; of an hour and of eight.
    #[test]
    fn logs_without_relation_are_seldom_believed() {
        let mut state = 12_345u64;
        let mut share = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        for night_s in [3600.0, 28_800.0] {
            let mut times = |n: usize| {
                let mut times: Vec<f64> = (0..n).map(|_| night_s * share()).collect();
                times.sort_by(f64::total_cmp);
                times
            };
            let believed = (0..60)
                .filter(|_| {
                    let entries: Vec<Entry> =
                        times(10).into_iter().enumerate().map(|(i, at)| entry(at, "x", i % 2 == 0)).collect();
                    let edges: Vec<Edge> =
                        times(12).into_iter().enumerate().map(|(i, at)| edge(i / 2, at, i % 2 == 0)).collect();
                    explain(&edges, &entries, night_s).is_some_and(|found| found.chance < 0.01)
                })
                .count();
            assert!(believed <= 4, "{night_s} s: {believed} of 60");
        }
    }

    /// Ten switchings of an hour, each within a second of its edge, the log's clock 20 s ahead; two entries that were
    /// not heard and an episode that is not in the log.
    #[test]
    fn an_hour_is_enough_where_ten_entries_agree() {
        let spans = [(300.0, 600.0), (1000.0, 1300.0), (1500.0, 1800.0), (2000.0, 2400.0), (2700.0, 3000.0)];
        let mut entries: Vec<Entry> = spans
            .iter()
            .flat_map(|&(on, off)| [entry(on + 20.0, "pump", true), entry(off + 20.0, "pump", false)])
            .chain([entry(2400.0, "heater", true), entry(2520.0, "heater", false)])
            .collect();
        entries.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let edges: Vec<Edge> = spans
            .iter()
            .chain(&[(3101.0, 3500.0)])
            .enumerate()
            .flat_map(|(i, &(from, to))| [edge(i, from + 1.0, true), edge(i, to, false)])
            .collect();
        let found = explain(&edges, &entries, 3600.0).unwrap();
        assert_eq!(found.matches.len(), 10);
        assert!(found.chance < 0.01, "{}", found.chance);
        // One on and one off of a length that any device may have: a clock ten minutes off would fit as well in a
        // third of all places in an hour (2 · 600 s of 3600 s).
        let one = [entry(900.0, "pump", true), entry(1200.0, "pump", false)];
        let far = [edge(0, 1500.0, true), edge(0, 1800.0, false)];
        let found = explain(&far, &one, 3600.0).unwrap();
        assert!((found.chance - 1.0 / 3.0).abs() < 0.01, "{}", found.chance);
    }

    #[test]
    fn nothing_explains_nothing() {
        assert_eq!(explain(&[], &[entry(1.0, "pump", true)], 28_800.0), None);
        assert_eq!(explain(&[edge(0, 5000.0, true)], &[], 28_800.0), None);
        assert_eq!(explain(&[edge(0, 5000.0, true)], &[entry(5000.0, "pump", false)], 28_800.0), None);
        // One entry at its very edge: within 2 s on either side an edge is no nearer (4 s of 600 s).
        let one = explain(&[edge(0, 50.0, true)], &[entry(50.0, "pump", true)], 600.0).unwrap();
        assert!((one.chance - 4.0 / 600.0).abs() < 0.0025, "{}", one.chance);
    }
}
