//! What a remedy bought: in excess, which is what the ear gets, and in the device's own added power, which is what a
//! choke or a filter acts on. Not here: order and names of the steps (`rungs`), what a choke should do (`choke`).

use crate::findings::draws::{DRAWS, Draws, middle_95, sd};
use crate::units::{Estimate, SIGMAS_OF_95, in_db, ratio_of_db};

/// The direct comparison may differ from the two excesses' difference by this much (or by their intervals, where
/// these are narrower) before it is not believed: the cells left free of lines differ a little between the
/// comparisons, dB. Chosen: about what a band's motion between takes makes of two differences.
const AGREES_WITHIN_DB: f64 = 0.5;
/// No interval is narrower than a receiver's gain is steady between two recordings (common practice), dB.
const LEAST_REACH_DB: f64 = 0.05;

/// What the step from one rung to the next took away. Positive is better.
#[derive(Debug, Clone, PartialEq)]
pub struct Bought {
    /// Of the excess, dB with its 95 % interval.
    pub excess: Estimate,
    /// Whether the interval comes from the direct comparison of the two on states.
    pub direct: bool,
    /// Of the device's own power.
    pub attenuation: Option<Attenuation>,
    /// Standard deviation of the off level that both excesses stand over, as far as it can be told, dB.
    pub shared_db: f64,
}

/// By how much the device's own added power (on less off) fell, dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attenuation {
    /// Best value; `None` where nothing is left that could be measured, so that only a least value is known.
    pub value: Option<f64>,
    /// Lower end of the 95 % interval; with `value` missing, what it is at least.
    pub low: f64,
    /// Upper end; `None` where what is left can't be told from nothing.
    pub high: Option<f64>,
}

/// What the step bought: `before` and `after` are the excesses, dB with their 95 % intervals.
///
/// Both excesses stand over the same off recordings, whose errors cancel in the difference. `direct`: the noise of
/// the earlier on state over that of the later one, compared as on over off is, where that comparison is sound (one
/// setting, one gain, off recordings that agree); its interval is then used. Without it, or where it does not agree
/// with the difference, the two intervals add in quadrature, which is too wide rather than too narrow.
pub fn bought(before: &Estimate, after: &Estimate, direct: Option<Estimate>) -> Bought {
    let value = before.value - after.value;
    let quadrature = (
        (before.value - before.ci95.0).hypot(after.ci95.1 - after.value),
        (before.ci95.1 - before.value).hypot(after.value - after.ci95.0),
    );
    let apart = |d: &Estimate| (d.value - value).abs();
    let reach = quadrature.0.max(quadrature.1);
    let direct = direct.filter(|d| apart(d) <= reach.min(AGREES_WITHIN_DB));
    let ci95 = match &direct {
        Some(d) => {
            let half = |end: f64| (end - d.value).abs().max(LEAST_REACH_DB).hypot(apart(d));
            (value - half(d.ci95.0), value + half(d.ci95.1))
        }
        None => (value - quadrature.0, value + quadrature.1),
    };
    let excess = Estimate { value, ci95 };
    let shared_db = shared_sd(before, after, direct.as_ref().map(|_| &excess));
    Bought { excess, direct: direct.is_some(), attenuation: attenuation(before, after, shared_db), shared_db }
}

/// Standard deviation of what both excesses share, the off level, dB: from var(a − b) = var a + var b − 2·shared.
fn shared_sd(a: &Estimate, b: &Estimate, difference: Option<&Estimate>) -> f64 {
    let Some(difference) = difference else { return 0.0 };
    let shared = (sd(a).powi(2) + sd(b).powi(2) - sd(difference).powi(2)) / 2.0;
    shared.clamp(0.0, sd(a).min(sd(b)).powi(2)).sqrt()
}

/// The fall of the device's own power between two excesses over one off level, 10·lg((eₐ − 1)/(e_b − 1)) with the
/// excesses as ratios of powers, dB.
///
/// `shared_db`: standard deviation of the off level both stand over. The interval comes from seeded draws. `None`
/// where the device can't be told from nothing beforehand (the interval of `before` reaches 0).
pub fn attenuation(before: &Estimate, after: &Estimate, shared_db: f64) -> Option<Attenuation> {
    if before.ci95.0 <= 0.0 {
        return None;
    }
    let own = |e: &Estimate| Estimate { value: e.value, ci95: narrowed(e, shared_db) };
    let (own_before, own_after) = (own(before), own(after));
    let mut draws = Draws::new();
    let mut values: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let off = shared_db * draws.next();
            fall(draws.from(&own_before) + off, draws.from(&own_after) + off)
        })
        .collect();
    let (low, high) = middle_95(&mut values);
    let can_tell = after.ci95.0 > 0.0 && high.is_finite();
    Some(Attenuation {
        value: can_tell.then(|| fall(before.value, after.value)),
        low,
        high: Some(high).filter(|_| can_tell),
    })
}

/// Fall of the added power between two excesses in dB; infinite where nothing is left.
fn fall(before_db: f64, after_db: f64) -> f64 {
    let added = |db: f64| (ratio_of_db(db) - 1.0).max(0.0);
    match (added(before_db), added(after_db)) {
        (0.0, 0.0) => 0.0,
        (before, after) => in_db(before / after),
    }
}

/// The interval without what is shared.
fn narrowed(e: &Estimate, shared_db: f64) -> (f64, f64) {
    let shared = SIGMAS_OF_95 * shared_db;
    let rest = |reach: f64| (reach * reach - shared * shared).max(0.0).sqrt();
    (e.value - rest(e.value - e.ci95.0), e.value + rest(e.ci95.1 - e.value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn around(value: f64, reach: f64) -> Estimate {
        Estimate { value, ci95: (value - reach, value + reach) }
    }

    /// Source: errors of independent differences add in quadrature (defining property): 0.3 and 0.4 give 0.5.
    #[test]
    fn without_a_direct_comparison_intervals_add_in_quadrature() {
        let bought = bought(&around(14.0, 0.3), &around(10.0, 0.4), None);
        assert!(!bought.direct);
        assert_abs_diff_eq!(bought.excess.value, 4.0, epsilon = 1e-12);
        assert_abs_diff_eq!(bought.excess.ci95.0, 3.5, epsilon = 1e-12);
        assert_abs_diff_eq!(bought.excess.ci95.1, 4.5, epsilon = 1e-12);
    }

    #[test]
    fn the_direct_comparison_narrows_the_interval_unless_it_disagrees() {
        let (before, after) = (around(14.0, 0.3), around(10.0, 0.3));
        let direct = bought(&before, &after, Some(around(4.01, 0.1)));
        assert!(direct.direct && direct.excess.ci95.1 - direct.excess.ci95.0 < 0.25);
        let other = bought(&before, &after, Some(around(5.0, 0.1)));
        assert!(!other.direct && other.excess.ci95.1 - other.excess.ci95.0 > 0.8);
    }

    /// Source: the definition, powers subtracted: an excess of 14 dB is 24.12 times the off power of added power,
    /// one of 3.0103 dB is once: 13.82 dB. Derived. Tolerance: the last digit.
    #[test]
    fn the_devices_own_power_falls_further_than_the_excess() {
        let at = attenuation(&around(14.0, 0.1), &around(3.0103, 0.1), 0.0).unwrap();
        assert_abs_diff_eq!(at.value.unwrap(), 13.824, epsilon = 0.002);
        // By error propagation: d(10 lg(e − 1)) = de·e/(e − 1): 0.104 and 0.2 dB of half intervals.
        let half = 0.104f64.hypot(0.2);
        assert_abs_diff_eq!(at.low, 13.824 - half, epsilon = 0.03);
        assert_abs_diff_eq!(at.high.unwrap(), 13.824 + half, epsilon = 0.03);
    }

    #[test]
    fn what_can_not_be_told_from_nothing_gives_a_least_value_or_none() {
        let at = attenuation(&around(10.0, 0.2), &around(0.05, 0.2), 0.0).unwrap();
        assert_eq!((at.value, at.high), (None, None));
        // The upper end of what is left, 0.25 dB, is 0.059 of the off power: 9 of it before gives 21.8 dB.
        assert_abs_diff_eq!(at.low, 21.8, epsilon = 0.4);
        assert_eq!(attenuation(&around(0.1, 0.2), &around(0.05, 0.2), 0.0), None);
    }
}
