//! The beat of pulses: whether some of them stand on an even lattice in time, though others are missing or stand
//! between, and how long its period is. Not here: whether a device makes them (`contrast::character`).

use serde::{Deserialize, Serialize};
use statrs::distribution::{Binomial, DiscreteCDF};
use statrs::function::factorial::ln_binomial;

use super::pulses::{Pulse, Pulses};
use crate::signal::spectrum::statistics::student_975;
use crate::units::Estimate;

/// Pulses that make a beat, at least. Mathematics: two place the lattice, and a third falls on it too easily.
const LEAST_HITS: usize = 4;
/// Share of the lattice's places at which a pulse is seen, at least. Chosen: of a weak beat four in ten may drown;
/// with fewer than half, pulses of twice the rate would do as well.
const LEAST_SHARE: f64 = 0.6;
/// How far a pulse may stand from its place: seconds, or a share of the period; each is tried. Measured (fences in
/// the recordings hf-01 to hf-13): what noise does to the place of a pulse of 20 dB, of one shorter than a
/// millisecond and of one of some. Chosen: what a relay strays, and a worn contact. From the narrowest on.
const REACHES: [(f64, f64); 4] = [(0.001, 0.0), (0.003, 0.0), (0.003, 0.04), (0.003, 0.1)];
/// Shortest period that is looked for: one that is shorter joins to one pulse.
const SHORTEST_S: f64 = 0.008;
/// Pulses that may stand between two neighbours of the lattice, and the factor by which the sets of the strongest
/// grow. Chosen: each step more is tried at the price of more that chance may bring.
const BETWEEN: usize = 3;
const SETS_GROW: f64 = 1.4;
/// Pulses looked at, the first ones. Chosen: bounds the time it takes; a beat a second is followed for six minutes.
const MOST: usize = 400;
/// A lattice is given up when of so many places or more fewer than this share is held. Chosen: spares time.
const GIVE_UP: (usize, f64) = (12, 0.4);
/// A place is known no better than this, s. Mathematics: the sampling of the envelope, some 3 kHz, as a standard
/// deviation (a third of a millisecond over √12).
const LEAST_SD_S: f64 = 0.0001;
/// Chance up to which a beat is believed. Chosen as that of pulses; pulses at random have one so sure once in some
/// hundred recordings, those of stations and static in the recordings hf-01 to hf-13 never.
const BELIEVED: f64 = 0.04;
/// Longest pulse that beats. Source: EN 60335-2-76 (electric fences), as tabled in a trade journal.
const SHORT_S: f64 = 0.01;
/// Pulsing faster than this is heard as a tone of the noise, not as clicks. Common practice: the ear joins pulses
/// to a tone from some 20 to 50 a second on.
pub(crate) const FASTER_THAN_CLICKS_HZ: f64 = 40.0;
/// A beat this near to a whole number of a buzz's periods is of its own tops. Chosen: the periods of both are known
/// to a thousandth, and a fence falls there by chance once in ten.
const WHOLE_PERIODS: f64 = 0.05;
/// Chance up to which it is kept: a beat of the other state that is only half sure speaks against a device's.
const KEPT: f64 = 1.0;

/// An even lattice on which pulses stand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Beat {
    /// From one to the next.
    pub period_s: f64,
    /// Half its 95 % interval, from how far the pulses stray.
    pub period_ci_s: f64,
    /// Standard deviation of the pulses from their places.
    pub jitter_s: f64,
    /// Pulses on the lattice.
    pub hits: usize,
    /// Places of the lattice within the recording.
    pub places: usize,
    /// Expected number of lattices so full that pulses at random make (at most this).
    pub chance: f64,
    /// Mean energy of a pulse on it, FS²·s.
    pub energy: f64,
    /// Largest power of a typical pulse on it, FS² (their mean).
    pub peak: f64,
    /// Mean length of a pulse on it: energy over peak.
    pub width_s: f64,
}

impl Beat {
    /// The surest beat among these pulses. Sets of the strongest ones are looked at by themselves, so that weaker
    /// ones (static, a station) don't hide it.
    pub fn find(pulses: &Pulses) -> Option<Self> {
        Self::within(&REACHES, pulses)
    }

    /// The same of a clock: one whose pulses stray from their places by a hundredth of the period and less.
    pub fn of_clock(pulses: &Pulses) -> Option<Self> {
        Self::within(&REACHES[..3], pulses)
    }

    fn within(reaches: &[(f64, f64)], pulses: &Pulses) -> Option<Self> {
        let looked_at = &pulses.kept[..pulses.kept.len().min(MOST)];
        let end_s = if looked_at.len() < pulses.kept.len() { looked_at.last()?.at_s } else { pulses.seconds };
        let mut by_strength: Vec<Pulse> = looked_at.to_vec();
        by_strength.sort_by(|a, b| b.peak.total_cmp(&a.peak));
        let mut sizes = Vec::new();
        let mut size = LEAST_HITS;
        while size < by_strength.len() {
            sizes.push(size);
            size = (size as f64 * SETS_GROW).ceil() as usize;
        }
        sizes.extend((by_strength.len() >= LEAST_HITS).then_some(by_strength.len()));
        let ways = (sizes.len() * reaches.len()) as f64;
        let best = sizes
            .iter()
            .filter_map(|&size| {
                let mut set = by_strength[..size].to_vec();
                set.sort_by(|a, b| a.peak_at_s.total_cmp(&b.peak_at_s));
                Set { pulses: &set, end_s, reaches, ways }.best()
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))?
            .1;
        (best.chance < KEPT).then_some(best)
    }

    /// Beats a second.
    pub fn rate_hz(&self) -> f64 {
        1.0 / self.period_s
    }

    /// Whether it is there for certain.
    pub fn is_believed(&self) -> bool {
        self.chance < BELIEVED
    }

    /// Whether its pulses are short enough to beat.
    pub fn is_short(&self) -> bool {
        self.width_s <= SHORT_S
    }

    /// Whether it is heard as clicks, not as a tone.
    pub fn is_slow(&self) -> bool {
        self.rate_hz() < FASTER_THAN_CLICKS_HZ
    }

    /// Whether it is of the tops of noise that pulses at this rate.
    pub fn is_of_rate(&self, rate_hz: f64) -> bool {
        let periods = self.period_s * rate_hz;
        (periods - periods.round()).abs() < WHOLE_PERIODS
    }

    /// Whether this is the beat of another recording too, or a multiple or part of it: the difference is within
    /// what both periods are known to.
    pub fn is_of(&self, other: &Self) -> bool {
        let near = |times: f64| {
            let apart = (self.period_s - times * other.period_s).abs();
            apart <= (self.period_ci_s.hypot(times * other.period_ci_s)).max(SAME * self.period_s)
        };
        [1.0, 2.0, 0.5].into_iter().any(near)
    }

    /// The same with a period that a longer look told, where this one is it or a multiple of it.
    pub fn told_by(self, longer: Estimate) -> Self {
        let times = (self.period_s / longer.value).round();
        if times < 1.0 || (self.period_s - times * longer.value).abs() > SAME * self.period_s {
            return self;
        }
        let period_ci_s = (longer.ci95.1 - longer.ci95.0) / 2.0;
        Self { period_s: longer.value, period_ci_s, places: self.places * times as usize, ..self }
    }
}

/// Two periods nearer to each other than this are one. Chosen: what the clock of a fence wanders within minutes.
const SAME: f64 = 0.002;

/// Pulses in order of time.
struct Set<'a> {
    pulses: &'a [Pulse],
    end_s: f64,
    reaches: &'a [(f64, f64)],
    /// In how many ways a beat is looked for.
    ways: f64,
}

impl Set<'_> {
    /// The best beat, with the figure that tells it: the logarithm of its chance, and of the ways to hold so many
    /// of its places. By chance alone half the period, with one stray pulse on it, would be as good.
    fn best(&self) -> Option<(f64, Beat)> {
        let neighbours: Vec<(usize, usize, f64)> = (0..self.pulses.len())
            .flat_map(|first| {
                (1..=BETWEEN + 1).filter_map(move |step| {
                    let next = self.pulses.get(first + step)?;
                    Some((first, step, next.peak_at_s - self.pulses[first].peak_at_s))
                })
            })
            .filter(|&(.., period_s)| (SHORTEST_S..=self.end_s / (LEAST_HITS - 1) as f64).contains(&period_s))
            .collect();
        let mut best: Option<(f64, Beat)> = None;
        // Two pulses that find no third at the widest reach find none at a narrower one.
        let mut barren = vec![false; neighbours.len()];
        for &(least_s, share) in self.reaches.iter().rev() {
            // What is a step of a lattice that was followed would be followed to the same one.
            let mut followed = vec![false; self.pulses.len() * (BETWEEN + 1)];
            let mut of_reach: Option<(f64, Beat)> = None;
            for (&(first, step, period_s), barren) in neighbours.iter().zip(&mut barren) {
                if *barren || followed[first * (BETWEEN + 1) + step - 1] {
                    continue;
                }
                let reach_s = least_s.max(share * period_s);
                let lattice = self.lattice(first, period_s, reach_s);
                *barren = lattice.held.len() <= 2;
                if lattice.is_given_up {
                    continue;
                }
                for (from, step) in lattice.steps() {
                    followed[from * (BETWEEN + 1) + step - 1] = true;
                }
                let beat = lattice.beat(self, reach_s, neighbours.len() as f64 * self.ways);
                of_reach = of_reach.into_iter().chain(beat).min_by(|a, b| a.0.total_cmp(&b.0));
            }
            // Of equals that of the narrower reach.
            best = of_reach.into_iter().chain(best).min_by(|a, b| a.0.total_cmp(&b.0));
        }
        best
    }

    /// Follows the lattice that begins at a pulse with this period both ways, its period learnt on the way.
    fn lattice(&self, first: usize, period_s: f64, reach_s: f64) -> Lattice {
        let origin_s = self.pulses[first].peak_at_s;
        let mut lattice = Lattice { origin_s, period_s, ..Lattice::default() };
        lattice.take(0.0, first, self.pulses);
        let mut passed = 1;
        for way in [1.0, -1.0] {
            let (mut place, mut after) = (way, first);
            loop {
                let at_s = lattice.place_s(place);
                if !(0.0..=self.end_s).contains(&at_s) || lattice.period_s < SHORTEST_S {
                    break;
                }
                after = self.first_from(at_s, after);
                let near = |&n: &usize| (self.pulses[n].peak_at_s - at_s).abs() <= reach_s;
                if let Some(found) = self.nearest(at_s, after).filter(near) {
                    lattice.take(place, found, self.pulses);
                }
                passed += 1;
                if passed >= GIVE_UP.0 && (lattice.held.len() as f64) < GIVE_UP.1 * passed as f64 {
                    lattice.is_given_up = true;
                    return lattice;
                }
                place += way;
            }
        }
        lattice
    }

    /// The first pulse not before a moment, looked for from one near it.
    fn first_from(&self, at_s: f64, near: usize) -> usize {
        let mut found = near;
        while self.pulses.get(found).is_some_and(|pulse| pulse.peak_at_s < at_s) {
            found += 1;
        }
        while found > 0 && self.pulses[found - 1].peak_at_s >= at_s {
            found -= 1;
        }
        found
    }

    /// The pulse nearest to a moment; `after`: the first one not before it.
    fn nearest(&self, at_s: f64, after: usize) -> Option<usize> {
        [after.checked_sub(1), Some(after)].into_iter().flatten().filter(|&n| n < self.pulses.len()).min_by(
            |&a, &b| {
                let apart = |n: usize| (self.pulses[n].peak_at_s - at_s).abs();
                apart(a).total_cmp(&apart(b))
            },
        )
    }
}

/// A lattice while it is followed: the straight line of times over places by least squares.
#[derive(Default)]
struct Lattice {
    origin_s: f64,
    /// Time of place 0 after `origin_s`, and the period.
    start_s: f64,
    period_s: f64,
    /// Place and pulse of each hit.
    held: Vec<(f64, usize)>,
    sum_places: f64,
    sum_times: f64,
    sum_squares: f64,
    sum_products: f64,
    /// Whether too few of its places are held.
    is_given_up: bool,
}

impl Lattice {
    fn place_s(&self, place: f64) -> f64 {
        self.origin_s + self.start_s + place * self.period_s
    }

    fn take(&mut self, place: f64, pulse: usize, pulses: &[Pulse]) {
        let time = pulses[pulse].peak_at_s - self.origin_s;
        self.held.push((place, pulse));
        self.sum_places += place;
        self.sum_times += time;
        self.sum_squares += place * place;
        self.sum_products += place * time;
        if self.held.len() > 1 {
            let n = self.held.len() as f64;
            self.period_s = (self.sum_products - self.sum_places * self.sum_times / n) / self.spread();
            self.start_s = (self.sum_times - self.period_s * self.sum_places) / n;
        }
    }

    /// Neighbouring places that are both held: the earlier pulse, and how many
    /// pulses on the later one is.
    fn steps(&self) -> Vec<(usize, usize)> {
        let mut held = self.held.clone();
        held.sort_by(|a, b| a.0.total_cmp(&b.0));
        let steps = held.windows(2).filter(|pair| pair[1].0 - pair[0].0 == 1.0);
        let steps = steps.filter_map(|pair| Some((pair[0].1, pair[1].1.checked_sub(pair[0].1)?)));
        steps.filter(|(_, step)| (1..=BETWEEN + 1).contains(step)).collect()
    }

    /// Sum of squares of the places about their mean.
    fn spread(&self) -> f64 {
        self.sum_squares - self.sum_places.powi(2) / self.held.len() as f64
    }

    /// As a beat, where it is full enough. `tries`: how many were looked at.
    fn beat(self, set: &Set<'_>, reach_s: f64, tries: f64) -> Option<(f64, Beat)> {
        let hits = self.held.len();
        let begin_s = self.origin_s + self.start_s;
        let within = ((set.end_s - begin_s) / self.period_s).floor() + (begin_s / self.period_s).floor() + 1.0;
        let places = (within.max(0.0) as usize).max(hits);
        if hits < LEAST_HITS || (hits as f64) < LEAST_SHARE * places as f64 || self.period_s < SHORTEST_S {
            return None;
        }
        // Two pulses place the lattice; each other one stands within reach of a place by chance with this
        // probability. A lattice is come upon from each pair of neighbours in it.
        let by_chance = (2.0 * reach_s / self.period_s).min(1.0);
        let others = Binomial::new(by_chance, (set.pulses.len() - 2) as u64).ok()?;
        let n = hits as f64;
        let tries = tries / (n - 1.0);
        let tail = others.sf((hits - 3) as u64);
        // Where the tail is too small for a float, its bound by H. Chernoff (Annals of Mathematical Statistics 23,
        // 1952; from memory).
        let ln_tail = if tail > 0.0 {
            tail.ln()
        } else {
            let (expected, more) = ((set.pulses.len() - 2) as f64 * by_chance, n - 2.0);
            more - expected + more * (expected / more).ln()
        };
        let told_by = ln_tail + tries.ln() + ln_binomial(places as u64, hits as u64);
        let strays = |&(place, pulse): &(f64, usize)| (set.pulses[pulse].peak_at_s - self.place_s(place)).powi(2);
        let jitter_s = (self.held.iter().map(strays).sum::<f64>() / (n - 2.0)).sqrt();
        let mean =
            |of: &dyn Fn(&Pulse) -> f64| self.held.iter().map(|held| of(&set.pulses[held.1])).sum::<f64>() / n;
        let beat = Beat {
            period_s: self.period_s,
            period_ci_s: student_975(n - 2.0) * jitter_s.max(LEAST_SD_S) / self.spread().sqrt(),
            jitter_s,
            hits,
            places,
            chance: tail * tries,
            energy: mean(&|pulse| pulse.energy),
            peak: mean(&|pulse| pulse.peak),
            width_s: mean(&Pulse::width_s),
        };
        Some((told_by, beat))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Uniform numbers, 0..1, the same every time (xorshift, G. Marsaglia, Journal of Statistical Software 8(14),
    /// 2003).
    fn random(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        move || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1u64 << 53) as f64
        }
    }

    fn pulses(mut times: Vec<(f64, f64)>, seconds: f64) -> Pulses {
        times.sort_by(|a, b| a.0.total_cmp(&b.0));
        let kept: Vec<Pulse> = times
            .into_iter()
            .map(|(at_s, peak)| Pulse { at_s, length_s: 0.001, energy: 0.001 * peak, peak, peak_at_s: at_s })
            .collect();
        Pulses { count: kept.len(), energy: 0.0, seconds, kept }
    }

    /// By construction: a pulse a second, heard for longer as one each half second, and another clock.
    #[test]
    fn a_longer_look_tells_a_period_and_its_multiples() {
        let each_second = (0..20).map(|n| (0.3 + f64::from(n), 1.0)).collect();
        let found = Beat::find(&pulses(each_second, 21.0)).expect("a beat");
        let longer = |value: f64| Estimate { value, ci95: (value - 2e-4, value + 2e-4) };
        let told = found.told_by(longer(0.5001));
        assert_eq!((told.period_s, told.places), (0.5001, 2 * found.places));
        assert_abs_diff_eq!(told.period_ci_s, 2e-4, epsilon = 1e-9);
        assert_eq!(found.told_by(longer(0.7)), found);
    }

    /// The case that the spread of all gaps gets wrong: a pulse each 1.27 s, two of them missing, and one burst of
    /// static of fifteen pulses within half a second, as strong as they. The truth is by construction.
    #[test]
    fn a_beat_outlives_missing_pulses_and_a_burst_of_static() {
        let mut uniform = random(1);
        let mut times: Vec<(f64, f64)> = (0..15)
            .filter(|k| *k != 4 && *k != 9)
            .map(|k| (0.4 + 1.27 * f64::from(k) + 0.001 * (uniform() - 0.5), 1.0 + 0.3 * uniform()))
            .collect();
        times.extend((0..15).map(|_| (7.0 + 0.5 * uniform(), 1.0 + 0.3 * uniform())));
        let beat = Beat::find(&pulses(times, 20.0)).unwrap();
        assert_abs_diff_eq!(beat.period_s, 1.27, epsilon = beat.period_ci_s);
        assert!(beat.period_ci_s < 0.0002, "{beat:?}");
        assert!((13..=14).contains(&beat.hits) && (15..=16).contains(&beat.places), "{beat:?}");
    }

    /// A flood of weaker pulses does not hide six strong ones.
    #[test]
    fn strength_weighs() {
        let mut uniform = random(2);
        let mut times: Vec<(f64, f64)> = (0..6).map(|k| (0.3 + 1.1 * f64::from(k), 20.0)).collect();
        times.extend((0..80).map(|_| (7.0 * uniform(), 1.0 + uniform())));
        let beat = Beat::find(&pulses(times, 7.0)).unwrap();
        assert_abs_diff_eq!(beat.period_s, 1.1, epsilon = 1e-3);
    }

    /// Pulses at random, few and many, one of them of all strengths: at most one in some hundred sets beats. By
    /// construction the truth is none.
    #[test]
    fn pulses_at_random_have_no_beat() {
        let mut uniform = random(3);
        let mut found = 0;
        for set in 0..120 {
            let count = [6, 12, 25, 60][set % 4];
            let times = (0..count).map(|_| (10.0 * uniform(), uniform())).collect();
            found += usize::from(Beat::find(&pulses(times, 10.0)).is_some_and(|beat| beat.is_believed()));
        }
        assert!(found <= 3, "{found} of 120");
    }

    /// Half the 95 % interval holds the truth in 95 % of cases: a binomial count of 200 within three standard
    /// deviations (9.2) of 190.
    #[test]
    fn the_interval_of_the_period_holds_what_it_promises() {
        let mut uniform = random(4);
        let mut held = 0;
        for _ in 0..200 {
            let stray = |uniform: &mut dyn FnMut() -> f64| 0.002 * ((0..12).map(|_| uniform()).sum::<f64>() - 6.0);
            let times = (0..8).map(|k| (0.5 + 0.9 * f64::from(k) + 0.5 * stray(&mut uniform), 1.0)).collect();
            let beat = Beat::find(&pulses(times, 8.0)).unwrap();
            held += usize::from((beat.period_s - 0.9).abs() <= beat.period_ci_s);
        }
        assert!((181..=199).contains(&held), "{held} of 200");
    }

    /// A stray pulse half-way between two does not halve the period; nor do many pulses double it.
    #[test]
    fn the_period_is_neither_halved_nor_doubled() {
        let mut times: Vec<(f64, f64)> = (0..5).map(|k| (0.3 + 1.3 * f64::from(k), 1.0)).collect();
        times.push((0.95, 1.0));
        assert_abs_diff_eq!(Beat::find(&pulses(times, 6.6)).unwrap().period_s, 1.3, epsilon = 1e-6);
        let times = (0..390).filter(|k| k % 7 != 3).map(|k| (0.01 + 0.05 * f64::from(k), 1.0)).collect();
        assert_abs_diff_eq!(Beat::find(&pulses(times, 19.5)).unwrap().period_s, 0.05, epsilon = 1e-6);
    }

    #[test]
    fn nothing_has_no_beat() {
        assert_eq!(Beat::find(&Pulses::default()), None);
        assert_eq!(Beat::find(&pulses(vec![(1.0, 1.0); 9], 10.0)), None);
    }
}
