//! Which parts of the night's audio are held against each other for an episode: itself, and the quiet beside it.
//!
//! Just inside its ends, against what lies just before and just after it: each end is a comparison of neighbours,
//! so a band that drifts or fades meanwhile hardly counts. Lines alone are compared at one end: those of begin and end,
//! between which they drifted, would make no family together. Where other noises come and go, only such parts are
//! compared as have the same ones going on. Not here: reading them (`listen`).

use crate::night::Timeline;
use crate::night::clicks::ON_BEAT_S;
use crate::night::episodes::runs::{Run, Spotted};
use crate::signal::health::SHORTEST_S;

/// Most of an episode that is listened to, and of the quiet on each side. Chosen: intervals of some tenths of a
/// dB, and the quiet still near enough that the band has not moved.
const MOST_ON_S: f64 = 60.0;
const MOST_OFF_S: f64 = 30.0;
/// Left out at the edges: a change is placed to a second or two. In a short stretch less, a sixth of it (chosen).
pub(crate) const GUARD_S: f64 = 2.0;
/// How far from an episode of clicks its quiet may lie (chosen: a voice that passes is over by then).
const NEAR_S: f64 = 600.0;
/// How far from the episode a part without it may lie where none beside it will do. Chosen: the band has not moved
/// out of recognition.
const REACH_S: f64 = 600.0;

/// What a noise whose power is not known counts for, over the quiet band's: 20 dB. Chosen: it is rather avoided.
const UNKNOWN_POWER: f64 = 100.0;

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
    /// Without it: just before, just after, where nothing better is at hand elsewhere.
    pub off: Vec<Piece>,
    /// The episode.
    pub on: Vec<Piece>,
    /// Places of the episodes that go on in all of these parts.
    pub beside: Vec<usize>,
    /// Places of those that go on in one side alone: there are no parts without that.
    pub unmatched: Vec<usize>,
}

/// A stretch without an edge.
struct Segment {
    span_s: (f64, f64),
    pieces: Vec<Piece>,
    /// Which of the other episodes go on.
    state: Vec<bool>,
}

impl Segment {
    fn seconds(&self) -> f64 {
        self.pieces.iter().map(Piece::seconds).sum()
    }
}

fn in_state<'a>(segments: &'a [Segment], state: &'a [bool]) -> impl Iterator<Item = &'a Segment> {
    segments.iter().filter(move |one| one.state == state)
}

/// Chooses the parts for the episode at `place` among all. `power`: an episode's own power over the quiet band's
/// beside it, where that is known.
pub(crate) fn choose(
    night: &Timeline,
    runs: &[Run],
    all: &[Spotted],
    power: &dyn Fn(usize) -> Option<f64>,
    place: usize,
) -> Sides {
    let own = all[place];
    let run = &runs[own.run];
    let others: Vec<usize> = (0..all.len()).filter(|&k| k != place && all[k].run == own.run).collect();
    let (on, off): (Vec<Segment>, Vec<Segment>) = segments(night, run, all, &others, own)
        .into_iter()
        .partition(|one| one.span_s.0 >= own.start_s && one.span_s.1 <= own.end_s);
    let is_before = |one: &Segment| one.span_s.1 == own.start_s && !own.from_before;
    let is_after = |one: &Segment| one.span_s.0 == own.end_s && !own.until_after;
    let seconds = |state: &[bool]| in_state(&on, state).map(Segment::seconds).sum::<f64>();
    // What limits a comparison: the level that the noise stands upon, and the time there is of either side.
    let cost = |one: &Segment| {
        let upon = others.iter().zip(&one.state).filter(|(_, on)| **on).filter_map(|(&k, _)| power(k)).sum::<f64>();
        let [on_s, off_s] = [seconds(&one.state).min(MOST_ON_S), one.seconds().min(MOST_OFF_S)];
        (1.0 + upon) * (1.0 / on_s + 1.0 / off_s).sqrt()
    };
    let is_alike = |one: &&Segment| !one.pieces.is_empty() && seconds(&one.state) > 0.0;
    let cheapest = |a: &&Segment, b: &&Segment| cost(a).total_cmp(&cost(b));
    let beside = |one: &&Segment| is_before(one) || is_after(one);
    let far_s = |one: &Segment| {
        in_state(&on, &one.state)
            .map(|on| (one.span_s.0 - on.span_s.1).max(on.span_s.0 - one.span_s.1))
            .fold(f64::INFINITY, f64::min)
    };
    let near = |one: &&Segment| far_s(one) <= REACH_S;
    let best = off
        .iter()
        .filter(beside)
        .filter(is_alike)
        .min_by(cheapest)
        .or_else(|| off.iter().filter(is_alike).filter(near).min_by(|a, b| far_s(a).total_cmp(&far_s(b))));
    let names = |state: &[bool]| -> Vec<usize> {
        others.iter().zip(state).filter(|(_, on)| **on).map(|(&k, _)| k).collect()
    };
    if let Some(best) = best {
        let state = &best.state;
        let alike: Vec<Piece> = in_state(&on, state).flat_map(|one| one.pieces.clone()).collect();
        let of = |is_it: &dyn Fn(&Segment) -> bool| -> Vec<Piece> {
            off.iter().filter(|one| is_it(one) && one.state == *state).flat_map(|one| one.pieces.clone()).collect()
        };
        let mut last: Vec<Piece> = of(&is_before).last().copied().into_iter().collect();
        let mut first: Vec<Piece> = of(&is_after).first().copied().into_iter().collect();
        if last.is_empty() && first.is_empty() {
            let side = if best.span_s.1 <= own.end_s { &mut last } else { &mut first };
            side.extend(best.pieces.first());
        }
        let is_lines = own.jump_db.is_none() && !own.of_clicks;
        let most_s = if is_lines { 2.0 * MOST_OFF_S } else { MOST_OFF_S };
        last.iter_mut().for_each(|p| p.from_s = p.from_s.max(p.to_s - most_s));
        first.iter_mut().for_each(|p| p.to_s = p.to_s.min(p.from_s + most_s));
        if is_lines {
            keep_one_end(&mut last, &mut first);
        }
        let on = near_the_edges(&alike, !last.is_empty(), !first.is_empty());
        let off = last.into_iter().chain(first).collect();
        let (off, on) = if is_lines { (halved(off), halved(on)) } else { (off, on) };
        return Sides { off, on, beside: names(state), unmatched: vec![] };
    }
    // None with the same others: those with which least comes or goes beside it.
    let pairs = off.iter().filter(beside).flat_map(|off| on.iter().map(move |on| (off, on)));
    let differ = |off: &Segment, on: &Segment| -> Vec<bool> {
        off.state.iter().zip(&on.state).map(|(off, on)| off != on).collect()
    };
    let rest = |(off, on): &(&Segment, &Segment)| {
        let of = |k: usize| if all[k].jump_db.is_some() { power(k).unwrap_or(UNKNOWN_POWER) } else { 0.0 };
        names(&differ(off, on)).into_iter().map(of).sum::<f64>()
    };
    let told = pairs.filter(|(off, on)| !off.pieces.is_empty() && !on.pieces.is_empty());
    if let Some((off, on)) = told.min_by(|a, b| rest(a).total_cmp(&rest(b))) {
        let both: Vec<bool> = off.state.iter().zip(&on.state).map(|(off, on)| *off && *on).collect();
        let (before, after) = (is_before(off), is_after(off));
        return Sides {
            off: near_the_edges(&off.pieces, after, before),
            on: near_the_edges(&on.pieces, before, after),
            beside: names(&both),
            unmatched: names(&differ(off, on)),
        };
    }
    let all: Vec<Piece> = on.iter().flat_map(|one| one.pieces.clone()).collect();
    Sides { on: near_the_edges(&all, true, true), ..Sides::default() }
}

/// Chooses the parts for an episode of clicks. Where the level stands matters little to it, and much whether a voice
/// or a crash hides them: the clearest parts inside, and the clearest near by, without any other noise.
pub(crate) fn choose_clear(
    night: &Timeline,
    runs: &[Run],
    all: &[Spotted],
    power: &dyn Fn(usize) -> Option<f64>,
    place: usize,
) -> Sides {
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
    let mut inside = pieces(own.start_s + GUARD_S, own.end_s - GUARD_S);
    if let Some(beat) = own.beat {
        // Beside a station the quietest part may be one in which they drown.
        inside.sort_by_key(|piece| std::cmp::Reverse(pairs_on_beat(night, piece, beat.value)));
    }
    let before =
        pieces(own.start_s - GUARD_S - NEAR_S, own.start_s - GUARD_S).into_iter().filter(|_| !own.from_before);
    let after = pieces(own.end_s + GUARD_S, own.end_s + GUARD_S + NEAR_S).into_iter().filter(|_| !own.until_after);
    let off = before.take(1).chain(after.take(1)).collect();
    let mut sides = Sides { off, on: inside.into_iter().take(2).collect(), ..Sides::default() };
    if sides.off.is_empty() || sides.on.is_empty() {
        return choose(night, runs, all, power, place);
    }
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

/// Clicks of a part that another follows after one period.
fn pairs_on_beat(night: &Timeline, piece: &Piece, period_s: f64) -> usize {
    let clicks: Vec<f64> = night.passages[piece.passage]
        .timed_ticks()
        .map(|(at_s, _)| at_s)
        .filter(|at_s| (piece.from_s..piece.to_s).contains(at_s))
        .collect();
    let is_near = |at_s: f64| {
        let place = clicks.partition_point(|click| *click < at_s - ON_BEAT_S);
        clicks.get(place).is_some_and(|click| *click < at_s + ON_BEAT_S)
    };
    clicks.iter().filter(|at_s| is_near(*at_s + period_s)).count()
}

/// The run, cut where any episode comes or goes.
fn segments(night: &Timeline, run: &Run, all: &[Spotted], others: &[usize], own: Spotted) -> Vec<Segment> {
    let mut edges: Vec<f64> = others.iter().flat_map(|&k| [all[k].start_s, all[k].end_s]).collect();
    edges.extend([run.span_s.0, run.span_s.1, own.start_s, own.end_s]);
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    let segment = |pair: &[f64]| {
        let (span_s, middle_s) = ((pair[0], pair[1]), (pair[0] + pair[1]) / 2.0);
        let state = others.iter().map(|&k| (all[k].start_s..all[k].end_s).contains(&middle_s)).collect();
        Segment { span_s, pieces: recorded(night, run, guarded(span_s)), state }
    };
    edges.windows(2).map(segment).collect()
}

/// A stretch without what is left out at its edges.
pub(crate) fn guarded((from, to): (f64, f64)) -> (f64, f64) {
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

/// Of the quiet before and after the longer; of equal ones that after, for what has warmed up stands stiller.
fn keep_one_end(before: &mut Vec<Piece>, after: &mut Vec<Piece>) {
    let seconds = |side: &[Piece]| side.iter().map(Piece::seconds).sum::<f64>();
    if seconds(before) > seconds(after) { after.clear() } else { before.clear() }
}

/// Each part that is long enough in two: what stands in both is no passing sound.
fn halved(pieces: Vec<Piece>) -> Vec<Piece> {
    let halves = |piece: Piece| {
        let middle_s = (piece.from_s + piece.to_s) / 2.0;
        match piece.seconds() >= MOST_OFF_S {
            true => vec![Piece { to_s: middle_s, ..piece }, Piece { from_s: middle_s, ..piece }],
            false => vec![piece],
        }
    };
    pieces.into_iter().flat_map(halves).collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(from_s: f64, to_s: f64) -> Piece {
        Piece { passage: 0, from_s, to_s }
    }

    #[test]
    fn lines_are_compared_at_one_end() {
        for (before, after, kept) in [
            (vec![piece(0.0, 60.0)], vec![piece(300.0, 310.0)], [1, 0]),
            (vec![piece(0.0, 60.0)], vec![piece(300.0, 360.0)], [0, 1]),
            (vec![], vec![piece(300.0, 310.0)], [0, 1]),
        ] {
            let (mut before, mut after) = (before, after);
            keep_one_end(&mut before, &mut after);
            assert_eq!([before.len(), after.len()], kept);
        }
        assert_eq!(
            halved(vec![piece(0.0, 60.0), piece(70.0, 90.0)]),
            [piece(0.0, 30.0), piece(30.0, 60.0), piece(70.0, 90.0)]
        );
    }
}
