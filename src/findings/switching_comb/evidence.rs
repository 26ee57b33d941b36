//! How much the carriers speak for a spacing: the odds of a family against carriers anywhere.
//!
//! Carriers anywhere stand at any distance from the places of a family with the same density, 1/spacing. Of a
//! family's carriers a share stands at its places, but for the errors of dial, pitch and drift (`fitting`), and
//! the others anywhere. The ratio of both densities, averaged over what isn't known (share, spacing, offset,
//! drift), is the evidence (Bayes' rule; any handbook). Two spacings are to each other as their evidence: a
//! submultiple has less by about 2 to the power of the members, a spacing that needs its carriers displaced by just
//! the right errors less as well.
//!
//! Of carriers anywhere the mean of the evidence is 1, whatever was searched through, so that it exceeds x with a
//! probability of 1/x at the most (Markov's inequality; "e-value" of Vovk and Wang, Annals of Statistics 49, 2021;
//! from memory). The mean is made by rare great values, though: that bound is far too high (see [`EXCEEDED`]).

use super::fitting::{Error, Placed, Places, Through};
use super::search::{Field, missing};
use super::{LEAST_MEMBERS, SPACING_HZ};

/// Random carriers' evidence exceeds x with a probability below this over x. Of 10 000 simulated evenings of 4 to
/// 20 random carriers it was above 1 in 71, above 3 in 25, above 10 in 7, above 30 in 2: 0.007 over x. Fourfold,
/// for carriers that are not as evenly spread as those.
pub const EXCEEDED: f64 = 0.03;

/// Spacing and offset are averaged over so many standard deviations to both sides, in so many steps. Mathematics:
/// beyond lies 0.05 % of a normal distribution. Chosen: steps of a third of a standard deviation, over which it is
/// smooth.
const AVERAGED_SD: f64 = 3.5;
const STEPS: i32 = 10;
/// Shares of members with their weights: the integral from 0 to 1 by Gauss's rule of five points (Abramowitz and
/// Stegun, table 25.4, moved to 0..1).
const SHARES: [(f64, f64); 5] = [
    (0.046_910_077, 0.118_463_443),
    (0.230_765_345, 0.239_314_335),
    (0.5, 0.284_444_444),
    (0.769_234_655, 0.239_314_335),
    (0.953_089_923, 0.118_463_443),
];

/// A spacing with the carriers it explains.
#[derive(Debug, Clone)]
pub struct Explained {
    /// By least squares.
    pub places: Places,
    /// Which choice of errors.
    pub choice: usize,
    /// Carriers at its places.
    pub members: Vec<Placed>,
    /// Standard deviation of the spacing if the errors are as chosen, Hz.
    pub spacing_sd_hz: f64,
    /// Natural logarithm of the evidence.
    pub ln_evidence: f64,
}

impl Explained {
    /// The carriers as a family about places that are known nearly. `None` where too few belong.
    pub fn new(field: &Field<'_>, near: Places, choice: usize) -> Option<Self> {
        let errors = &field.choices[choice];
        let (places, members) = near.fitted(field.carriers, errors)?;
        if members.len() < LEAST_MEMBERS || !SPACING_HZ.contains(&places.spacing_hz) {
            return None;
        }
        let spread = Spread::new(&places, &members, errors);
        let near: Vec<Near> = members.iter().map(|m| spread.near(field, &places, m, errors[m.carrier])).collect();
        let others = field.carriers.len() - members.len();
        let average = average(&near, spread.level_sd_hz.is_some(), others);
        // Spacings are as likely on a logarithmic scale, offsets anywhere; with and without an offset, and all
        // choices of drift, alike.
        let range = (SPACING_HZ.end() / SPACING_HZ.start()).ln();
        let spacing = spread.spacing_sd_hz / (places.spacing_hz * range);
        let offset = spread.level_sd_hz.map_or(1.0, |level_sd_hz| level_sd_hz / places.spacing_hz);
        let prior = spacing * offset / (2.0 * field.choices.len() as f64);
        let ln_evidence = (average * prior).ln() + ln_silence(field, &places, &members, errors);
        Some(Self { places, choice, members, spacing_sd_hz: spread.spacing_sd_hz, ln_evidence })
    }

    /// Whether two are the same within what their errors leave open.
    pub fn is_same_spacing(&self, other: &Self) -> bool {
        let apart_hz = (self.places.spacing_hz - other.places.spacing_hz).abs();
        apart_hz <= AVERAGED_SD * (self.spacing_sd_hz + other.spacing_sd_hz)
    }
}

/// How well members fix the places, by the errors alone.
struct Spread {
    /// The number about which spacing and level are independent of each other: 0 without an offset.
    middle: f64,
    spacing_sd_hz: f64,
    /// Of the place of the middle number; none without an offset.
    level_sd_hz: Option<f64>,
}

impl Spread {
    fn new(places: &Places, members: &[Placed], errors: &[Error]) -> Self {
        let sum = |of: &dyn Fn(f64) -> f64| -> f64 {
            members.iter().map(|m| of(m.number) / errors[m.carrier].sd_hz().powi(2)).sum()
        };
        let weights = sum(&|_| 1.0);
        let is_free = places.through == Through::Offset;
        let middle = if is_free { sum(&|k| k) / weights } else { 0.0 };
        let spacing_sd_hz = sum(&|k| (k - middle).powi(2)).sqrt().recip();
        Self { middle, spacing_sd_hz, level_sd_hz: is_free.then(|| weights.sqrt().recip()) }
    }
}

/// A member as the average over what is not known sees it.
pub struct Near {
    /// How far it stands above its place, Hz.
    pub above_hz: f64,
    /// By how much a standard deviation of the spacing moves that place.
    pub turn_hz: f64,
    /// By how much one of the other unknown (the offset, or a drift) does; 0 where there is none.
    pub level_hz: f64,
    /// The odds gained by being at its place: the spacing over the places it may have.
    pub gain: f64,
    /// Its error.
    pub error: Error,
}

impl Spread {
    fn near(&self, field: &Field<'_>, places: &Places, m: &Placed, error: Error) -> Near {
        Near {
            above_hz: m.rf_hz - places.origin_hz - m.number * places.spacing_hz,
            turn_hz: (m.number - self.middle) * self.spacing_sd_hz,
            level_hz: self.level_sd_hz.unwrap_or(0.0),
            gain: places.spacing_hz / field.carriers[m.carrier].places_hz.len() as f64,
            error,
        }
    }
}

/// The integral of the odds over spacing and the other unknown, if there is one, in their standard deviations,
/// averaged over the share of members; beside these are so many `others`.
pub fn average(near: &[Near], has_level: bool, others: usize) -> f64 {
    let step = AVERAGED_SD / f64::from(STEPS);
    let levels = if has_level { -STEPS..=STEPS } else { 0..=0 };
    let cell = if has_level { step * step } else { step };
    let mut sums = SHARES.map(|_| 0.0);
    for level in levels {
        for turn in -STEPS..=STEPS {
            let mut odds = SHARES.map(|_| cell);
            for one in near {
                let moved_hz = f64::from(level) * step * one.level_hz + f64::from(turn) * step * one.turn_hz;
                let ratio = one.gain * one.error.density(one.above_hz - moved_hz);
                odds.iter_mut().zip(SHARES).for_each(|(odds, (share, _))| *odds *= 1.0 - share + share * ratio);
            }
            sums.iter_mut().zip(odds).for_each(|(sum, odds)| *sum += odds);
        }
    }
    sums.iter().zip(SHARES).map(|(sum, (share, weight))| sum * weight * (1.0 - share).powi(others as i32)).sum()
}

/// What silence at places listened to adds to the logarithm: x of them, with any share of audible harmonics as
/// likely as another, have the probability 1/(x + 1). What settings beside all places add, in favour, is left out.
fn ln_silence(field: &Field<'_>, places: &Places, members: &[Placed], errors: &[Error]) -> f64 {
    let numbers: Vec<i64> = members.iter().map(|m| m.number as i64).collect();
    let widest_hz = members.iter().map(|m| errors[m.carrier].reach_hz()).fold(0.0, f64::max);
    let silent = missing(field.listenings, (places.origin_hz, places.spacing_hz), &numbers, widest_hz).len();
    -((silent + 1) as f64).ln()
}
