//! Half of a spacing that is named, or a third: how probable it is that it is the true one and that all that was
//! heard happened to be even.
//!
//! Of all its harmonics that might have been heard, as many as were heard are drawn; that only multiples of the
//! spacing named are among them has the odds C(whole, heard)/C(all, heard) (Fisher's hypergeometric distribution;
//! any handbook). What might have been heard depends on why the dial was set where it was. Who tunes by ear stops
//! where a carrier is: at any harmonic from the lowest to the highest frequency listened to; settings in vain tell
//! besides. Who goes by a plan of round frequencies hears what stands in those passbands, and a plan may pass every
//! other harmonic by.

use statrs::function::factorial::ln_binomial;

use super::Listening;
use super::fitting::Placed;
use super::search::places;

/// What spacings are divided by. Chosen: of a quarter and a fifth the odds are far smaller.
const DIVISORS: [i64; 2] = [2, 3];
/// Steps of a plan, Hz. Common practice: channels and segments of bands stand at multiples of these.
const PLANS_HZ: [f64; 4] = [5_000.0, 9_000.0, 12_500.0, 20_000.0];
/// Settings that make a plan. Mathematics: five more than the first stand at multiples of 5 kHz by chance, dialled
/// in whole kHz, in one of 3125 evenings.
const LEAST_PLANNED: usize = 6;

/// A part of a spacing with the probability that it is the true one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finer {
    /// What the spacing is divided by.
    pub divisor: i64,
    /// The probability, if the part and the whole were as likely before.
    pub chance: f64,
}

/// Half and a third of the spacing that explains these members; the spacing at a setting by `spacing`.
pub fn finer(
    listenings: &[Listening],
    members: &[Placed],
    origin_hz: f64,
    spacing: &dyn Fn(&Listening) -> f64,
) -> Vec<Finer> {
    let heard: Vec<i64> = members.iter().map(|m| m.number as i64).collect();
    let odds = |divisor: i64| {
        // In passbands: multiples of the whole spacing, and what lies between; those numbers told once.
        let mut numbers: Vec<i64> = heard.iter().map(|number| number * divisor).collect();
        for one in listenings {
            let part_hz = spacing(one) / divisor as f64;
            numbers.extend(places(one, (origin_hz, part_hz), f64::INFINITY).map(|place| place.0));
        }
        numbers.sort_unstable();
        numbers.dedup();
        let whole = numbers.iter().filter(|number| *number % divisor == 0).count();
        if is_planned(listenings) {
            return only_multiples(whole, numbers.len(), heard.len());
        }
        let silent = |count: usize| (count - heard.len()) as f64;
        let silence = (silent(whole) + 1.0) / (silent(numbers.len()) + 1.0);
        let edges = listenings.iter().flat_map(|one| one.heard_hz.iter().map(move |edge| (one, edge)));
        let steps = |one: &Listening, hz: f64| (hz - origin_hz) / spacing(one);
        let (first, last) = edges.fold((f64::MAX, f64::MIN), |(first, last), (one, &(low, high))| {
            (first.min(steps(one, low)), last.max(steps(one, high)))
        });
        let count = |by: f64| (last * by).floor() - (first * by).ceil() + 1.0;
        let (whole, all) = (count(1.0) as usize, count(divisor as f64) as usize);
        silence * only_multiples(whole.max(heard.len()), all, heard.len())
    };
    let chance = |odds: f64| odds / (1.0 + odds);
    DIVISORS.map(|divisor| Finer { divisor, chance: chance(odds(divisor)) }).into()
}

/// The probability that `heard` drawn from `all` are all among `whole` of them.
pub fn only_multiples(whole: usize, all: usize, heard: usize) -> f64 {
    (ln_binomial(whole as u64, heard as u64) - ln_binomial(all.max(whole) as u64, heard as u64)).exp()
}

/// Whether the dial was set to the steps of a plan, not where a carrier was heard: more coarsely than its digits.
pub fn is_planned(listenings: &[Listening]) -> bool {
    let Some(first) = listenings.first() else { return false };
    let mut dials: Vec<i64> = listenings.iter().map(|one| one.dial_hz.round() as i64).collect();
    dials.sort_unstable();
    dials.dedup();
    let is_step = |&plan_hz: &f64| {
        let steps = |one: &Listening| (one.dial_hz - first.dial_hz) / plan_hz;
        let is_coarse = listenings.iter().all(|one| plan_hz >= 8.0 * one.half_step_hz);
        is_coarse && listenings.iter().all(|one| (steps(one) - steps(one).round()).abs() * plan_hz < 1.0)
    };
    dials.len() >= LEAST_PLANNED && PLANS_HZ.iter().any(is_step)
}
