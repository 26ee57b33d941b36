//! Clicks that keep a beat: found minute by minute, followed pulse by pulse to where they begin and end.

use super::{Click, RunClicks, Stretch};
use crate::signal::envelope::{Beat, Pulse, Pulses};

/// A beat is looked for in stretches of this length, each half over the next: a fence's 0.7 to 1.6 s make enough
/// pulses for a beat, and it may come in the middle of one (chosen).
const WINDOW_S: f64 = 40.0;
/// Pulses of a window looked at, the strongest. Chosen: bounds the time; twice a second is faster than any fence.
const MOST: usize = 100;
/// Pulses on a beat, and the chance up to which it is believed here. Chosen: a week has thirty thousand windows.
const LEAST_HITS: usize = 9;
const MOST_CHANCE: f64 = 1e-6;
/// Slower beats are none of a device that clicks (chosen: a window holds enough of faster ones).
const SLOWEST_S: f64 = 5.0;
/// Two windows' beats are one if their periods differ by no more (chosen: the clock of a fence wanders less).
const SAME: f64 = 0.005;
/// Multiples up to below this are taken for the same beat of which pulses are missing. Chosen: the windows are too
/// short for higher ones.
const MOST_MULTIPLE: f64 = 6.5;
/// A pulse stands this near to its place; further from the last one seen, by this share of the time since then.
/// Chosen: what noise does to the place of a weak pulse, and what a clock wanders.
const REACH_S: f64 = 0.004;
/// A beat whose pulses stray further than so much, or so large a share of its period, is chance's among many pulses
/// (chosen: a fence's clock strays by a millisecond, most often less).
const MOST_STRAY: (f64, f64) = (0.0025, 0.01);
/// At its first and last pulse as many more stand within so many places of those that nothing hides, and within so
/// many of all. Chosen: contacts that arc beside it hold one place in seven to thirty by chance, and count as hiding;
/// a voice leaves every other pulse to be seen.
const AT_AN_END: (usize, f64, f64) = (4, 7.5, 15.0);
const WANDERS: f64 = 0.0005;
/// A beat has ended where so many places that nothing hides are empty (chosen: of weak pulses two or three in a row
/// drown).
const MOST_EMPTY: usize = 8;
/// Nor is it followed through a time without any pulse that is longer than this, however much is hidden (chosen:
/// after it the place is no longer known well enough).
const LOST_S: f64 = 60.0;
/// Two stretches of one beat are one if what lies between is this short, or for the most part hidden. Chosen: a
/// passing voice or a lamp that is on for half an hour doesn't make two fences of one.
const BETWEEN_S: f64 = 90.0;
const HIDDEN_SHARE: f64 = 0.5;
const MOST_HIDDEN_S: f64 = 2400.0;
/// Shortest stretch, and share of its places that nothing hides that must be held (chosen).
const LEAST_S: f64 = 30.0;
const LEAST_HELD: f64 = 0.5;

/// A beat followed to both ends.
#[derive(Debug, Clone)]
struct Followed {
    start_s: f64,
    end_s: f64,
    period_s: f64,
    /// Times of its clicks.
    held: Vec<f64>,
    /// Places that nothing hides, these and empty ones.
    open: usize,
}

/// All stretches with a beat, and the clicks that are on none of them.
pub(super) fn beats(run: &RunClicks) -> (Vec<Stretch>, Vec<Click>) {
    let mut found: Vec<Followed> = Vec::new();
    let windows = (2.0 * run.seconds / WINDOW_S).ceil() as usize;
    for from_s in (0..windows).map(|n| n as f64 * WINDOW_S / 2.0) {
        let clicks = run.within(from_s, from_s + WINDOW_S);
        let Some((beat, first)) = beat_of(clicks, from_s) else { continue };
        // Every third pulse of a beat keeps a beat too.
        let known = |one: &&Followed| {
            one.start_s <= first.at_s && one.end_s >= first.at_s && is_same(one.period_s, beat.period_s)
        };
        if found.iter().rev().find(known).is_none() {
            found.push(follow(run, &beat, first));
        }
    }
    found.retain(|one| one.held.len() as f64 >= LEAST_HELD * one.open as f64);
    found.sort_by(|a, b| a.start_s.total_cmp(&b.start_s).then(a.period_s.total_cmp(&b.period_s)));
    let mut joined: Vec<Followed> = Vec::new();
    for one in found {
        match joined.iter_mut().rev().find(|earlier| is_one(run, earlier, &one)) {
            Some(earlier) => {
                if one.held.len() > earlier.held.len() {
                    earlier.period_s = one.period_s;
                }
                earlier.held.extend(one.held);
                earlier.end_s = earlier.end_s.max(one.end_s);
            }
            None => joined.push(one),
        }
    }
    joined.retain(|one| one.end_s - one.start_s >= LEAST_S && one.held.len() >= LEAST_HITS);
    let mut held: Vec<f64> = joined.iter().flat_map(|one| one.held.iter().copied()).collect();
    held.sort_by(f64::total_cmp);
    let is_other = |click: &&Click| held.binary_search_by(|at_s| at_s.total_cmp(&click.at_s)).is_err();
    let others = run.clicks.iter().filter(is_other).copied().collect();
    let stretch = |one: Followed| Stretch { start_s: one.start_s, end_s: one.end_s, period_s: one.period_s };
    (joined.into_iter().map(stretch).collect(), others)
}

/// Whether two periods are one, or one a multiple of the other.
fn is_same(a: f64, b: f64) -> bool {
    let ratio = a.max(b) / a.min(b);
    ratio < MOST_MULTIPLE && (ratio - ratio.round()).abs() <= SAME * ratio
}

/// Whether the later of two stretches goes on where the earlier one ended.
fn is_one(run: &RunClicks, earlier: &Followed, later: &Followed) -> bool {
    let gap_s = later.start_s - earlier.end_s;
    let hidden = || gap_s < MOST_HIDDEN_S && run.hidden_share(earlier.end_s, later.start_s) >= HIDDEN_SHARE;
    let apart = (earlier.period_s - later.period_s).abs();
    apart <= SAME * earlier.period_s && (gap_s <= BETWEEN_S || hidden())
}

/// The beat of a window's clicks, with one that is on it.
fn beat_of(clicks: &[Click], from_s: f64) -> Option<(Beat, Click)> {
    if clicks.len() < LEAST_HITS {
        return None;
    }
    let mut strongest = clicks.to_vec();
    if strongest.len() > MOST {
        strongest.sort_by(|a, b| b.sigmas.total_cmp(&a.sigmas).then(a.at_s.total_cmp(&b.at_s)));
        strongest.truncate(MOST);
        strongest.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    }
    let kept: Vec<Pulse> = strongest.iter().map(|click| pulse(click, from_s)).collect();
    let beat = Beat::find(&Pulses { count: kept.len(), energy: 0.0, seconds: WINDOW_S, kept })?;
    let strays = beat.jitter_s > MOST_STRAY.0.max(MOST_STRAY.1 * beat.period_s);
    if strays || beat.hits < LEAST_HITS || beat.chance > MOST_CHANCE || beat.period_s > SLOWEST_S {
        return None;
    }
    // The one that most others stand on a lattice with.
    let reach_s = REACH_S.max(3.0 * beat.jitter_s);
    let held = |anchor: &Click| {
        strongest.iter().filter(|click| off_place(click.at_s - anchor.at_s, beat.period_s).abs() <= reach_s).count()
    };
    let anchor = strongest.iter().max_by_key(|click| held(click))?;
    Some((beat, *anchor))
}

fn pulse(click: &Click, from_s: f64) -> Pulse {
    let at_s = click.at_s - from_s;
    let peak = click.sigmas.powi(2);
    Pulse { at_s, length_s: REACH_S / 4.0, energy: peak * REACH_S / 4.0, peak, peak_at_s: at_s }
}

/// How far a time is from a whole number of periods.
fn off_place(seconds: f64, period_s: f64) -> f64 {
    seconds - period_s * (seconds / period_s).round()
}

/// Follows a beat both ways from one of its clicks to where it begins and ends.
fn follow(run: &RunClicks, beat: &Beat, from: Click) -> Followed {
    let reach_s = REACH_S.max(3.0 * beat.jitter_s);
    let mut found =
        Followed { start_s: from.at_s, end_s: from.at_s, period_s: beat.period_s, held: vec![from.at_s], open: 1 };
    // The earliest first.
    for way in [-1.0, 1.0] {
        let mut last_s = from.at_s;
        let (mut ahead, mut empty, mut unsure) = (1.0, 0, 0);
        loop {
            let since_s = ahead * beat.period_s;
            let at_s = last_s + way * since_s;
            if !(0.0..=run.seconds).contains(&at_s) || empty >= MOST_EMPTY || since_s > LOST_S {
                break;
            }
            let reach_s = (reach_s + WANDERS * since_s).min(beat.period_s / 4.0);
            let near = run.within(at_s - reach_s, at_s + reach_s);
            let nearest = near.iter().min_by(|a, b| (a.at_s - at_s).abs().total_cmp(&(b.at_s - at_s).abs()));
            match nearest {
                Some(click) => {
                    found.held.push(click.at_s);
                    found.open += 1 + unsure;
                    (last_s, ahead, empty, unsure) = (click.at_s, 1.0, 0, 0);
                }
                None => {
                    if !run.is_hidden(at_s) {
                        empty += 1;
                        unsure += 1;
                    }
                    ahead += 1.0;
                }
            }
        }
    }
    found.held.sort_by(f64::total_cmp);
    found.trim(run);
    found
}

impl Followed {
    /// Takes off pulses beyond its ends that fall into place by chance.
    fn trim(&mut self, run: &RunClicks) {
        let sparse = |a: f64, b: f64| {
            let places = (b - a) / self.period_s;
            places > AT_AN_END.2 || places * (1.0 - run.hidden_share(a, b)) > AT_AN_END.1
        };
        let all = std::mem::take(&mut self.held);
        let mut held = all.as_slice();
        while held.len() > AT_AN_END.0 && sparse(held[0], held[AT_AN_END.0]) {
            held = &held[1..];
        }
        while held.len() > AT_AN_END.0 && sparse(held[held.len() - 1 - AT_AN_END.0], held[held.len() - 1]) {
            held = &held[..held.len() - 1];
        }
        self.held = held.to_vec();
        if let [first, .., last] = held {
            (self.start_s, self.end_s) = (*first, *last);
        }
    }
}
