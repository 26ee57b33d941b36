//! Clicks that keep a beat: found minute by minute, followed pulse by pulse to where they begin and end.

use rayon::prelude::*;
use statrs::distribution::{Binomial, DiscreteCDF};

use super::{Click, RunClicks, Stretch, within};
use crate::signal::envelope::{Beat, Pulse, Pulses};
use crate::signal::spectrum::statistics::student_975;
use crate::units::Estimate;

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
/// A window's beat is one that is followed already if their periods, or one and a multiple of the other, differ by no
/// more (chosen: a window knows its period ten times as well). Up to below this multiple: windows are too short for
/// higher ones.
const SAME: f64 = 0.002;
const MOST_MULTIPLE: f64 = 6.5;
/// A pulse stands this near to its place; further from the last one seen, by this share of the time since then.
/// Chosen: what noise does to the place of a weak pulse, and more than a clock wanders within a minute.
pub(crate) const ON_BEAT_S: f64 = 0.004;
const WANDERS: f64 = 0.0001;
/// A beat whose pulses stray further than so much, or so large a share of its period, is chance's among many pulses
/// (chosen: a fence's clock strays by a millisecond, most often less).
const MOST_STRAY: (f64, f64) = (0.0025, 0.01);
/// Share of its places that a beat holds where nothing hides them, and where a voice, static or the like may. Chosen:
/// of weak pulses one in five drowns; beside a voice most do. Half or twice as much makes no difference (bench of
/// nights, seeds 201 to 204).
const HELD_OPEN: f64 = 0.8;
const HELD_HIDDEN: f64 = 0.15;
/// Share of the places that clicks of other origin hold: by their number within so many seconds, and at least.
/// Chosen: contacts that arc change within a minute; a single click must not count for much.
const OTHERS_WITHIN_S: f64 = 20.0;
const LEAST_BY_CHANCE: f64 = 0.02;
/// A beat is given up where it is e to so many times less likely to go on than to have ended before, or after so
/// long without a pulse, for then its place is no longer known (chosen: nine empty places in the open).
const GIVE_UP: f64 = 14.0;
const LOST_S: f64 = 60.0;
/// After empty places a beat goes on where that is e to so many times likelier than that it had ended before (chosen:
/// one click after one empty place will do where there are few others, of contacts that arc it takes more).
const GOES_ON: f64 = 2.0;
/// An end is unsure as far as e to so many speaks no stronger against it (chosen: twenty to one, the usual level).
const UNSURE: f64 = 3.0;
/// Its last pulses tell where the next one is due (chosen: half a minute of them).
const LAST: usize = 32;
/// Two stretches of one beat are one if what lies between is this short, or for the most part hidden, and their
/// periods differ by no more. Chosen: a passing voice or a lamp that is on for half an hour doesn't make two fences of
/// one; two fences differ by more.
const BETWEEN_S: f64 = 90.0;
const HIDDEN_SHARE: f64 = 0.5;
const MOST_HIDDEN_S: f64 = 2400.0;
const ONE_PERIOD: f64 = 0.0005;
/// Shortest stretch (chosen).
const LEAST_S: f64 = 30.0;

/// A beat followed to both ends.
#[derive(Debug, Clone)]
struct Followed {
    /// Place and time of each of its clicks, in order.
    held: Vec<(f64, f64)>,
    period: Estimate,
    /// The first and the last click that may be its own as well.
    perhaps_s: [f64; 2],
}

/// A window's beat.
struct Seed {
    period: Estimate,
    jitter_s: f64,
    chance: f64,
    /// A click that is on it.
    first: Click,
}

/// All stretches with a beat, and the clicks that are on none of them.
pub(super) fn beats(run: &RunClicks) -> (Vec<Stretch>, Vec<Click>) {
    let windows = (2.0 * run.seconds / WINDOW_S).ceil() as usize;
    let starts = || (0..windows).into_par_iter().map(|n| n as f64 * WINDOW_S / 2.0);
    let of_window = |from_s: f64| beat_of(run.within(from_s, from_s + WINDOW_S), from_s);
    let mut found: Vec<Followed> = Vec::new();
    follow_new(run, starts().filter_map(of_window).collect(), &mut found);
    // Few that are left of a beat tell it once its period is known; those of another may stand on its multiples.
    let free = on_none(run, &found);
    let again = |from_s: f64| {
        let is_beyond = |one: &&Followed| one.is_near(from_s, MOST_HIDDEN_S) && !one.is_near(from_s, 0.0);
        let clicks = within(&free, from_s, from_s + WINDOW_S);
        found.iter().filter(is_beyond).filter_map(|one| seed_of(clicks, one.period)).collect::<Vec<Seed>>()
    };
    let seeds = starts().flat_map_iter(again).collect();
    follow_new(run, seeds, &mut found);
    found.sort_by(|a, b| a.start_s().total_cmp(&b.start_s()).then(a.period.value.total_cmp(&b.period.value)));
    let mut joined: Vec<Followed> = Vec::new();
    for one in found {
        match joined.iter_mut().rev().find(|earlier| is_one(run, earlier, &one)) {
            Some(earlier) => {
                if one.held.len() > earlier.held.len() {
                    earlier.period = one.period;
                }
                earlier.held.extend(one.held);
                earlier.held.sort_by(|a, b| a.1.total_cmp(&b.1));
                earlier.held.dedup_by_key(|held| held.1);
                let [first_s, last_s] = earlier.perhaps_s;
                earlier.perhaps_s = [first_s.min(one.perhaps_s[0]), last_s.max(one.perhaps_s[1])];
            }
            None => joined.push(one),
        }
    }
    joined.retain(|one| one.end_s() - one.start_s() >= LEAST_S && one.held.len() >= LEAST_HITS);
    (joined.iter().map(|one| one.stretch(run)).collect(), on_none(run, &joined))
}

/// The clicks that are on none of some beats.
fn on_none(run: &RunClicks, beats: &[Followed]) -> Vec<Click> {
    let mut held: Vec<f64> = beats.iter().flat_map(|one| one.held.iter().map(|held| held.1)).collect();
    held.sort_by(f64::total_cmp);
    let is_free = |click: &&Click| held.binary_search_by(|at_s| at_s.total_cmp(&click.at_s)).is_err();
    run.clicks.iter().filter(is_free).copied().collect()
}

/// Follows each beat that is none of those found already, the surest first.
fn follow_new(run: &RunClicks, mut seeds: Vec<Seed>, found: &mut Vec<Followed>) {
    seeds.sort_by(|a, b| a.chance.total_cmp(&b.chance).then(a.first.at_s.total_cmp(&b.first.at_s)));
    for seed in seeds {
        // Where others hide some, every second or third click of a beat keeps a beat too.
        let is_known = |one: &Followed| {
            let is_multiple = seed.period.value > 1.5 * one.period.value;
            let within_s = if is_multiple { MOST_HIDDEN_S } else { 0.0 };
            one.is_near(seed.first.at_s, within_s) && is_same(one.period.value, seed.period.value)
        };
        if !found.iter().any(is_known) {
            found.push(follow(run, &seed));
        }
    }
}

/// Whether two periods are one, or one a multiple of the other.
fn is_same(a: f64, b: f64) -> bool {
    let ratio = a.max(b) / a.min(b);
    ratio < MOST_MULTIPLE && (ratio - ratio.round()).abs() <= SAME * ratio
}

/// Whether the later of two stretches goes on where the earlier one ended.
fn is_one(run: &RunClicks, earlier: &Followed, later: &Followed) -> bool {
    let gap_s = later.start_s() - earlier.end_s();
    let hidden = || gap_s < MOST_HIDDEN_S && run.hidden_share(earlier.end_s(), later.start_s()) >= HIDDEN_SHARE;
    let apart = (earlier.period.value - later.period.value).abs();
    apart <= ONE_PERIOD * earlier.period.value && (gap_s <= BETWEEN_S || hidden())
}

/// The beat of a window's clicks.
fn beat_of(clicks: &[Click], from_s: f64) -> Option<Seed> {
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
    let beat = Beat::of_clock(&Pulses { count: kept.len(), energy: 0.0, seconds: WINDOW_S, kept })?;
    let strays = beat.jitter_s > MOST_STRAY.0.max(MOST_STRAY.1 * beat.period_s);
    if strays || beat.hits < LEAST_HITS || beat.chance > MOST_CHANCE || beat.period_s > SLOWEST_S {
        return None;
    }
    let (first, _) = anchor(&strongest, beat.period_s, ON_BEAT_S.max(3.0 * beat.jitter_s))?;
    let (period_s, sure_s) = (beat.period_s, beat.period_ci_s);
    let period = Estimate { value: period_s, ci95: (period_s - sure_s, period_s + sure_s) };
    Some(Seed { period, jitter_s: beat.jitter_s, chance: beat.chance, first })
}

/// The same where the period is known and only the place is not.
fn seed_of(clicks: &[Click], period: Estimate) -> Option<Seed> {
    let (first, hits) = anchor(clicks, period.value, ON_BEAT_S)?;
    let by_chance = (2.0 * ON_BEAT_S / period.value).min(1.0);
    let others = Binomial::new(by_chance, clicks.len() as u64 - 1).ok()?;
    let chance = clicks.len() as f64 * others.sf(hits.checked_sub(2)? as u64);
    (chance <= MOST_CHANCE).then_some(Seed { period, jitter_s: 0.0, chance, first })
}

/// The click that most others stand on a lattice with, and how many these are, itself included.
fn anchor(clicks: &[Click], period_s: f64, reach_s: f64) -> Option<(Click, usize)> {
    let held = |anchor: &Click| {
        clicks.iter().filter(|click| off_place(click.at_s - anchor.at_s, period_s).abs() <= reach_s).count()
    };
    clicks.iter().map(|click| (*click, held(click))).max_by_key(|(_, held)| *held)
}

fn pulse(click: &Click, from_s: f64) -> Pulse {
    let at_s = click.at_s - from_s;
    let peak = click.sigmas.powi(2);
    Pulse { at_s, length_s: ON_BEAT_S / 4.0, energy: peak * ON_BEAT_S / 4.0, peak, peak_at_s: at_s }
}

/// How far a time is from a whole number of periods.
fn off_place(seconds: f64, period_s: f64) -> f64 {
    seconds - period_s * (seconds / period_s).round()
}

/// Follows a beat both ways from one of its clicks to where it is most likely to begin and end: each place speaks for
/// or against it, by how often one is held while the beat is on, and by chance.
fn follow(run: &RunClicks, seed: &Seed) -> Followed {
    let period_s = seed.period.value;
    let mut found =
        Followed { held: vec![(0.0, seed.first.at_s)], period: seed.period, perhaps_s: [seed.first.at_s; 2] };
    // The later ones first: they tell the period well for the way back.
    for (way, end) in [(1.0, 1), (-1.0, 0)] {
        let mut held = found.held.clone();
        if way < 0.0 {
            held.reverse();
        }
        let (mut sum, mut best, mut until) = (0.0, 0.0, held.len());
        let mut place = held.last().map_or(0.0, |held| held.0);
        loop {
            place += way;
            let last_s = held.last().map_or(seed.first.at_s, |held| held.1);
            let at_s = due(&held[held.len().saturating_sub(LAST)..], place, period_s);
            let since_s = (at_s - last_s).abs();
            if !(0.0..=run.seconds).contains(&at_s) || since_s > LOST_S || sum < best - GIVE_UP {
                break;
            }
            if run.is_drowned(at_s) {
                continue;
            }
            let reach_s = (ON_BEAT_S.max(3.0 * seed.jitter_s) + WANDERS * since_s).min(period_s / 4.0);
            let usual = if run.is_hidden(at_s) { HELD_HIDDEN } else { HELD_OPEN };
            let chance = by_chance(run, at_s, reach_s, period_s);
            let near = run.within(at_s - reach_s, at_s + reach_s);
            let nearest = near.iter().min_by(|a, b| (a.at_s - at_s).abs().total_cmp(&(b.at_s - at_s).abs()));
            match nearest {
                Some(click) => {
                    held.push((place, click.at_s));
                    sum += (usual / chance).ln().max(0.0);
                }
                None => sum += ((1.0 - usual) / (1.0 - chance)).ln().min(0.0),
            }
            // After empty places it takes more than one that chance may have filled.
            let is_next = nearest.is_some() && (place - held[until - 1].0).abs() < 1.5;
            if is_next || sum >= best + GOES_ON {
                (best, until) = (sum, held.len());
            }
            if let Some(click) = nearest.filter(|_| sum >= best - UNSURE) {
                found.perhaps_s[end] = click.at_s;
            }
        }
        held.truncate(until);
        if way < 0.0 {
            held.reverse();
        }
        found.held = held;
    }
    if found.held.len() >= LEAST_HITS {
        found.period = Line::through(&found.held).slope(&found.held);
    }
    found
}

/// When a place is due, by the straight line through the last ones held; of few, by the period.
fn due(last: &[(f64, f64)], place: f64, period_s: f64) -> f64 {
    if last.len() < LEAST_HITS {
        return last.last().map_or(0.0, |held| held.1 + (place - held.0) * period_s);
    }
    Line::through(last).at(place)
}

/// The straight line of times over places that least squares lay.
struct Line {
    /// Mean place and mean time.
    middle: (f64, f64),
    slope: f64,
    /// Sum of the squared distances of the places from their mean.
    spread: f64,
}

impl Line {
    fn through(held: &[(f64, f64)]) -> Self {
        let mean = |of: fn(&(f64, f64)) -> f64| held.iter().map(of).sum::<f64>() / held.len() as f64;
        let middle = (mean(|held| held.0), mean(|held| held.1));
        let products: f64 = held.iter().map(|held| (held.0 - middle.0) * (held.1 - middle.1)).sum();
        let spread: f64 = held.iter().map(|held| (held.0 - middle.0).powi(2)).sum();
        Self { middle, slope: products / spread, spread }
    }

    fn at(&self, place: f64) -> f64 {
        self.middle.1 + (place - self.middle.0) * self.slope
    }

    /// The slope with its interval, by how far the times stray (mathematics: the variance of a slope).
    fn slope(&self, held: &[(f64, f64)]) -> Estimate {
        let free = held.len() as f64 - 2.0;
        let strays: f64 = held.iter().map(|held| (held.1 - self.at(held.0)).powi(2)).sum();
        let sure = student_975(free) * (strays / free / self.spread).sqrt();
        Estimate { value: self.slope, ci95: (self.slope - sure, self.slope + sure) }
    }
}

/// How likely a click of other origin stands at a place.
fn by_chance(run: &RunClicks, at_s: f64, reach_s: f64, period_s: f64) -> f64 {
    let near = run.within(at_s - OTHERS_WITHIN_S / 2.0, at_s + OTHERS_WITHIN_S / 2.0).len() as f64;
    let others = (near / OTHERS_WITHIN_S - 1.0 / period_s).max(0.0);
    (1.0 - (-2.0 * reach_s * others).exp()).clamp(LEAST_BY_CHANCE, 0.5)
}

impl Followed {
    fn start_s(&self) -> f64 {
        self.held.first().map_or(0.0, |held| held.1)
    }

    fn end_s(&self) -> f64 {
        self.held.last().map_or(0.0, |held| held.1)
    }

    /// Whether a time lies within it or no further from it.
    fn is_near(&self, at_s: f64, within_s: f64) -> bool {
        (self.start_s() - within_s..=self.end_s() + within_s).contains(&at_s)
    }

    fn stretch(&self, run: &RunClicks) -> Stretch {
        let until = |from_s: f64, way: f64| {
            let (mut at_s, mut against) = (from_s, 0.0);
            loop {
                at_s += way * self.period.value;
                against -= match (run.is_drowned(at_s), run.is_hidden(at_s)) {
                    (true, _) => 0.0,
                    (false, true) => (1.0 - HELD_HIDDEN).ln(),
                    (false, false) => (1.0 - HELD_OPEN).ln(),
                };
                if against > UNSURE || !(0.0..=run.seconds).contains(&at_s) {
                    return at_s;
                }
            }
        };
        let (earliest_s, latest_s) = (until(self.perhaps_s[0], -1.0), until(self.perhaps_s[1], 1.0));
        Stretch {
            start_s: self.start_s(),
            end_s: self.end_s(),
            period_s: self.period.value,
            beat: Some(self.period),
            unsure_s: [self.start_s() - earliest_s.min(self.start_s()), latest_s.max(self.end_s()) - self.end_s()],
        }
    }
}
