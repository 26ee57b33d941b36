//! How far apart neighbouring carriers stood, where no spacing explains them all: what can be said of a supply that
//! wanders.
//!
//! While a supply wanders, its harmonic k moves k times as far, so that carriers recorded at other times fit no
//! spacing. Neighbours recorded soon after each other still stand about one spacing apart. Whether as many of the
//! distances are alike by chance is told by drawing: from carriers that stand anywhere, as dense as these, and
//! where the dial went by a plan also from carriers anywhere in its passbands (equal steps make distances alike by
//! themselves); the commoner of both counts. Not here: naming a spacing.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, DiscreteCDF};

use super::finer::is_planned;
use super::fitting::{Through, regress};
use super::{Carrier, LEAST_MEMBERS, Listening};
use crate::signal::spectrum::statistics::ends;

/// Carriers farther apart are no neighbours. Supplies switch at some 18 to 150 kHz (common practice).
const NEIGHBOURS_HZ: std::ops::RangeInclusive<f64> = 12_000.0..=200_000.0;
/// Neighbours are recorded within so much of the whole time. Chosen: a supply wanders less in it than in all.
const TOGETHER: f64 = 0.25;
/// The greatest of distances that are alike, over the least. Chosen: wider than a supply wanders (some percent).
const ALIKE: f64 = 1.08;
/// Distances that may be one spacing, too, over those that are alike. Chosen: below half as much again, beyond
/// which a harmonic between may be missing.
const ABOUT: f64 = 1.3;
/// So many of all distances must be alike for a range of the spacing: of few it is not known which are one spacing.
/// Chosen: with less, the range missed the truth of the bench of combs (seed 1).
const MOST_OF: f64 = 0.6;
/// Half of the widest range of the spacing that is told, relative. Chosen: nothing is learnt from more.
const LEARNT: f64 = 0.15;
/// Draws of random carriers. Mathematics: 1 in 1000 is known to a third from so many.
const DRAWS: u32 = 4_000;
const SEED: u64 = 20_260_314;
/// Distances are said to be alike where random carriers would have as many less often than this. Chosen: a range
/// is a hint, no name of a spacing, which is only given below a tenth of it.
pub const SAID_BELOW: f64 = 0.01;

/// Distances of neighbours that are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbours {
    /// The least and the greatest of them, Hz.
    pub apart_hz: (f64, f64),
    /// Where the spacing lay, Hz, with what the supply moved from one neighbour to the next taken out; `None` where
    /// nothing tells how much that was.
    pub spacing_hz: Option<(f64, f64)>,
    /// How many distances.
    pub pairs: usize,
    /// Of how many between neighbours recorded near to each other in time.
    pub of: usize,
    /// How often random carriers have distances as much alike.
    pub chance: f64,
}

/// A carrier as it is placed or drawn.
#[derive(Clone, Copy)]
struct Place {
    rf_hz: f64,
    at: f64,
    passband_hz: (f64, f64),
}

/// What neighbours tell, if less than [`SAID_BELOW`] is chance.
pub fn neighbours(carriers: &[Carrier], listenings: &[Listening]) -> Option<Neighbours> {
    let places: Vec<Place> = carriers
        .iter()
        .filter_map(|carrier| {
            let one = &listenings[carrier.listening];
            let ([rf_hz], [passband_hz]) = (carrier.places_hz.as_slice(), one.heard_hz.as_slice()) else {
                return None;
            };
            Some(Place { rf_hz: *rf_hz, at: one.at, passband_hz: *passband_hz })
        })
        .collect();
    let (first, last) = ends(places.iter().map(|place| place.at));
    let within = TOGETHER * (last - first).max(0.0);
    let gaps = distances(&places, within);
    if gaps.len() < LEAST_MEMBERS {
        return None;
    }
    let mean_hz = gaps.iter().map(|gap| gap - NEIGHBOURS_HZ.start()).sum::<f64>() / gaps.len() as f64;
    // Distances nearer than a dial tells are as good as equal.
    let least_hz = listenings.iter().map(|one| 2.0 * one.half_step_hz).fold(20.0, f64::max);
    let scan = Scan { mean_hz, least_hz };
    let (found, range) = scan.likest(gaps.clone())?;
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let is_planned = is_planned(listenings);
    let mut as_rare = [0_u32; 2];
    for _ in 0..DRAWS {
        let anywhere = (0..gaps.len()).map(|_| scan.draw(&mut rng)).collect();
        let mut drawn = vec![anywhere];
        if is_planned {
            let in_passband = |place: &Place| {
                let (low, high) = place.passband_hz;
                Place { rf_hz: low + (high - low) * share(&mut rng), ..*place }
            };
            drawn.push(distances(&places.iter().map(in_passband).collect::<Vec<_>>(), within));
        }
        for (count, gaps) in as_rare.iter_mut().zip(drawn) {
            *count += u32::from(scan.likest(gaps).is_some_and(|(rare, _)| rare <= found));
        }
    }
    let chance = f64::from(as_rare[0].max(as_rare[1]) + 1) / f64::from(DRAWS + 1);
    let is_alike = |gap: &&f64| (range.0..=range.1).contains(*gap);
    // Of another stretch the supply may have moved more: wider than what is alike.
    let about = range.0 / ABOUT..=range.1 * ABOUT;
    let about: Vec<_> = pairs(&places, within).into_iter().filter(|pair| about.contains(&pair.1)).collect();
    let alike = gaps.iter().filter(is_alike).count();
    (chance < SAID_BELOW).then(|| Neighbours {
        apart_hz: range,
        spacing_hz: spacing(&about).filter(|_| alike as f64 >= MOST_OF * gaps.len() as f64),
        pairs: alike,
        of: gaps.len(),
        chance,
    })
}

/// Distances of carriers next to each other that were recorded within this time.
fn distances(places: &[Place], within: f64) -> Vec<f64> {
    pairs(places, within).into_iter().map(|pair| pair.1).collect()
}

/// The same with where the lower one stands, and the frequency times the time from the lower one to the upper.
fn pairs(places: &[Place], within: f64) -> Vec<(f64, f64, f64)> {
    let mut places = places.to_vec();
    places.sort_by(|a, b| a.rf_hz.total_cmp(&b.rf_hz));
    let near = places.windows(2).filter(|pair| (pair[1].at - pair[0].at).abs() <= within);
    let pair =
        |pair: &[Place]| (pair[0].rf_hz, pair[1].rf_hz - pair[0].rf_hz, pair[1].rf_hz * (pair[1].at - pair[0].at));
    near.map(pair).filter(|pair| NEIGHBOURS_HZ.contains(&pair.1)).collect()
}

/// Where the spacing lay. What a supply moves from one neighbour to the next adds to all distances of a stretch
/// that was tuned through in one direction: as much as frequency times time, times a rate that nobody knows.
/// Stretches are taken for independent, so that their scatter tells how much that is: the mean of their middles,
/// weighted by the inverse square of frequency times time, with its 95 % interval (a random effect; any handbook of
/// statistics). `None` with one stretch, or where nothing is learnt.
fn spacing(pairs: &[(f64, f64, f64)]) -> Option<(f64, f64)> {
    let mut stretches: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut at_hz = 0.0;
    for &(low_hz, hz, along) in pairs {
        let is_next = |stretch: &Vec<(f64, f64)>| {
            low_hz - at_hz <= *NEIGHBOURS_HZ.end() && stretch.last().is_some_and(|last| last.1 * along > 0.0)
        };
        match stretches.last_mut().filter(|stretch| is_next(stretch)) {
            Some(stretch) => stretch.push((hz, along)),
            None => stretches.push(vec![(hz, along)]),
        }
        at_hz = low_hz + hz;
    }
    let points: Vec<(f64, f64, f64)> = stretches
        .iter()
        .map(|stretch| {
            let mean = |of: &dyn Fn(&(f64, f64)) -> f64| stretch.iter().map(of).sum::<f64>() / stretch.len() as f64;
            (1.0, mean(&|pair| pair.0), mean(&|pair| pair.1.abs()))
        })
        .filter(|point| point.2 > 0.0)
        .collect();
    // A line through zero over one number is a weighted mean.
    let mean = regress(&points, Through::Zero)?;
    let half_hz = mean.t95 * mean.spacing_sd_hz;
    (half_hz < LEARNT * mean.spacing_hz).then_some((mean.spacing_hz - half_hz, mean.spacing_hz + half_hz))
}

/// In 0..1.
fn share(rng: &mut ChaCha8Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// Looks for distances that are alike among those of carriers this dense.
struct Scan {
    mean_hz: f64,
    least_hz: f64,
}

impl Scan {
    /// How many distances are below, of carriers that stand anywhere: an exponential distribution (Poisson's
    /// process; any handbook).
    fn below(&self, hz: f64) -> f64 {
        1.0 - (-(hz - NEIGHBOURS_HZ.start()).max(0.0) / self.mean_hz).exp()
    }

    fn draw(&self, rng: &mut ChaCha8Rng) -> f64 {
        let most = self.below(*NEIGHBOURS_HZ.end());
        NEIGHBOURS_HZ.start() - self.mean_hz * (1.0 - most * share(rng)).ln()
    }

    /// The rarest range of distances: how probable it is that as many fall into it, and the range.
    fn likest(&self, mut gaps: Vec<f64>) -> Option<(f64, (f64, f64))> {
        gaps.sort_by(f64::total_cmp);
        let mut best: Option<(f64, (f64, f64))> = None;
        let all = self.below(*NEIGHBOURS_HZ.end());
        for (from, &low) in gaps.iter().enumerate() {
            for (to, &high) in gaps.iter().enumerate().skip(from + LEAST_MEMBERS - 1) {
                if high > ALIKE * low {
                    break;
                }
                let spare_hz = (self.least_hz - (high - low)).max(0.0) / 2.0;
                let share = (self.below(high + spare_hz) - self.below(low - spare_hz)) / all;
                let count = (to - from + 1) as u64;
                let rare = Binomial::new(share.clamp(0.0, 1.0), gaps.len() as u64).map_or(1.0, |b| b.sf(count - 1));
                if best.is_none_or(|(rarest, _)| rare < rarest) {
                    best = Some((rare, (low, high)));
                }
            }
        }
        best
    }
}
