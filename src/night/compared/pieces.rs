//! Which parts of the night's audio are held against each other for an episode: itself, and the quiet beside it.
//!
//! Just inside its ends, against what lies just before and just after it: each end is a comparison of neighbours,
//! so a band that drifts or fades meanwhile hardly counts. Where other noises come and go, only such parts are
//! compared as have the same ones going on. Not here: reading them (`listen`).

use crate::night::Timeline;
use crate::night::episodes::runs::{Run, Spotted};
use crate::signal::health::SHORTEST_S;

/// Most of an episode that is listened to, and of the quiet on each side. Chosen: intervals of some tenths of a
/// dB, and the quiet still near enough that the band has not moved.
const MOST_ON_S: f64 = 60.0;
const MOST_OFF_S: f64 = 30.0;
/// Left out at the edges: a change is placed to a second or two. In a short stretch less, a sixth of it (chosen).
const GUARD_S: f64 = 2.0;
/// How far from an episode of clicks its quiet may lie (chosen: a voice that passes is over by then).
const NEAR_S: f64 = 600.0;

/// A part of one recording; seconds from the night's origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    /// Place of the recording in the timeline.
    pub passage: usize,
    /// Begin.
    pub from_s: f64,
    /// End.
    pub to_s: f64,
}

impl Piece {
    pub fn seconds(&self) -> f64 {
        self.to_s - self.from_s
    }
}

/// What is compared for one episode; a side may be empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Sides {
    /// Quiet: just before, just after.
    pub off: Vec<Piece>,
    /// The episode.
    pub on: Vec<Piece>,
}

/// Chooses the parts for the episode at `place` among all.
pub(crate) fn choose(night: &Timeline, runs: &[Run], all: &[Spotted], place: usize) -> Sides {
    let own = all[place];
    let run = &runs[own.run];
    let others: Vec<Spotted> =
        (0..all.len()).filter(|&k| k != place && all[k].run == own.run).map(|k| all[k]).collect();
    let mut edges: Vec<f64> = others.iter().flat_map(|other| [other.start_s, other.end_s]).collect();
    edges.extend([run.span_s.0, run.span_s.1]);
    edges.sort_by(f64::total_cmp);
    let going_on = |at_s: f64| -> Vec<bool> {
        others.iter().map(|other| (other.start_s..other.end_s).contains(&at_s)).collect()
    };
    let before_from = edges.iter().copied().rev().find(|&edge| edge < own.start_s);
    let after_to = edges.iter().copied().find(|&edge| edge > own.end_s);
    let before = before_from.filter(|_| !own.from_before).map(|from| (from, own.start_s));
    let after = after_to.filter(|_| !own.until_after).map(|to| (own.end_s, to));
    let within = within(&own, &edges);
    let on_with = |state: &[bool]| -> Vec<Piece> {
        within
            .iter()
            .filter(|span| going_on((span.0 + span.1) / 2.0) == state)
            .flat_map(|&span| recorded(night, run, guarded(span)))
            .collect()
    };
    let quiet = [before, after].map(|span| {
        let span = span?;
        let pieces = recorded(night, run, guarded(span));
        (!pieces.is_empty()).then(|| (pieces, going_on((span.0 + span.1) / 2.0)))
    });
    // The state of the other noises that more of the episode has in common with the quiet beside it.
    let seconds = |pieces: &[Piece]| pieces.iter().map(Piece::seconds).sum::<f64>();
    let best = quiet
        .iter()
        .flatten()
        .map(|(_, state)| (state, on_with(state)))
        .reduce(|best, next| if seconds(&next.1) > seconds(&best.1) { next } else { best });
    let Some((state, on)) = best else {
        let all: Vec<Piece> = within.iter().flat_map(|&span| recorded(night, run, guarded(span))).collect();
        return Sides { off: Vec::new(), on: near_the_edges(&all, true, true) };
    };
    let [before, after] = &quiet;
    let alike = |side: &Option<(Vec<Piece>, Vec<bool>)>| -> Vec<Piece> {
        side.iter().filter(|(_, other)| other == state).flat_map(|(pieces, _)| pieces.clone()).collect()
    };
    let last = alike(before).last().map(|p| Piece { from_s: p.from_s.max(p.to_s - MOST_OFF_S), ..*p });
    let first = alike(after).first().map(|p| Piece { to_s: p.to_s.min(p.from_s + MOST_OFF_S), ..*p });
    let on = near_the_edges(&on, last.is_some(), first.is_some());
    Sides { off: last.into_iter().chain(first).collect(), on }
}

/// Chooses the parts for an episode of clicks. Where the level stands matters little to it, and much whether a voice
/// or a crash hides them: the clearest parts inside, and the clearest near by, without any other noise.
pub(crate) fn choose_clear(night: &Timeline, runs: &[Run], all: &[Spotted], place: usize) -> Sides {
    let own = all[place];
    let run = &runs[own.run];
    let others = || all.iter().enumerate().filter(|&(k, one)| k != place && one.run == own.run).map(|(_, one)| one);
    let pieces = |from_s: f64, to_s: f64| -> Vec<Piece> {
        let (from_s, to_s) = (from_s.max(run.span_s.0), to_s.min(run.span_s.1));
        let count = ((to_s - from_s) / MOST_OFF_S).max(0.0) as usize;
        let mut pieces: Vec<Piece> = (0..count)
            .map(|n| from_s + n as f64 * MOST_OFF_S)
            .flat_map(|from_s| recorded(night, run, (from_s, from_s + MOST_OFF_S)))
            .filter(|piece| piece.seconds() > MOST_OFF_S / 2.0)
            .filter(|piece| !others().any(|one| one.start_s < piece.to_s && one.end_s > piece.from_s))
            .collect();
        // Those with the most quiet frames, the earliest first.
        let quiet = |piece: &Piece| (40.0 * quiet_share(night, piece)) as i64;
        pieces.sort_by_key(|piece| std::cmp::Reverse(quiet(piece)));
        pieces
    };
    let inside = pieces(own.start_s + GUARD_S, own.end_s - GUARD_S);
    let before =
        pieces(own.start_s - GUARD_S - NEAR_S, own.start_s - GUARD_S).into_iter().filter(|_| !own.from_before);
    let after = pieces(own.end_s + GUARD_S, own.end_s + GUARD_S + NEAR_S).into_iter().filter(|_| !own.until_after);
    let sides =
        Sides { off: before.take(1).chain(after.take(1)).collect(), on: inside.into_iter().take(2).collect() };
    if sides.off.is_empty() || sides.on.is_empty() {
        return choose(night, runs, all, place);
    }
    let mut sides = sides;
    sides.on.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    sides
}

/// Share of a part's frames that hold noise alone, 0..1.
fn quiet_share(night: &Timeline, piece: &Piece) -> f64 {
    let passage = &night.passages[piece.passage];
    let step_s = passage.grid.step_s();
    let place = |at_s: f64| (((at_s - passage.start_s) / step_s).max(0.0) as usize).min(passage.steps.len());
    let steps = &passage.steps[place(piece.from_s)..place(piece.to_s)];
    steps.iter().map(|step| f64::from(step.quiet_share)).sum::<f64>() / steps.len().max(1) as f64
}

/// An episode cut where other noises come and go in it.
fn within(own: &Spotted, edges: &[f64]) -> Vec<(f64, f64)> {
    let mut cuts = vec![own.start_s];
    cuts.extend(edges.iter().copied().filter(|&edge| edge > own.start_s && edge < own.end_s));
    cuts.push(own.end_s);
    cuts.windows(2).map(|pair| (pair[0], pair[1])).collect()
}

fn guarded((from, to): (f64, f64)) -> (f64, f64) {
    let guard = GUARD_S.min((to - from) / 6.0);
    (from + guard, to - guard)
}

/// The parts of a span that were recorded, each within one recording.
fn recorded(night: &Timeline, run: &Run, (from, to): (f64, f64)) -> Vec<Piece> {
    run.passages
        .iter()
        .map(|&at| {
            let passage = &night.passages[at];
            let end_s = passage.start_s + passage.duration_s;
            Piece { passage: at, from_s: from.max(passage.start_s), to_s: to.min(end_s) }
        })
        .filter(|piece| piece.seconds() >= SHORTEST_S)
        .collect()
}

/// All of some parts where they are short together; else what lies at their begin and their end, or only at the one
/// that has quiet beside it.
fn near_the_edges(pieces: &[Piece], first: bool, last: bool) -> Vec<Piece> {
    let all_s: f64 = pieces.iter().map(Piece::seconds).sum();
    if all_s <= MOST_ON_S {
        return pieces.to_vec();
    }
    let each_s = if first && last { MOST_ON_S / 2.0 } else { MOST_ON_S };
    let begin = pieces.first().filter(|_| first).map(|p| Piece { to_s: p.to_s.min(p.from_s + each_s), ..*p });
    let end = pieces.last().filter(|_| last).map(|p| Piece { from_s: p.from_s.max(p.to_s - each_s), ..*p });
    begin.into_iter().chain(end).collect()
}
