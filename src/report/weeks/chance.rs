//! How likely is it by chance: draws that stop when enough is known, many tries minded, slopes of independent
//! nights. Arithmetic alone; what is drawn stands with each question.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::signal::spectrum::statistics::{median, normal_quantile};

/// A chance below this is told, once all that was tried is counted: the usual level (common practice).
pub(super) const TOLD_BELOW: f64 = 0.05;
/// Draws at most. Chosen: 1/5000 stays below 0.05 with 250 tried.
const MOST_DRAWS: u32 = 4999;
/// As many draws that come out no less than what was observed end it. Source: J. Besag, P. Clifford, Biometrika 78,
/// 301, 1991, who take 10 to 20.
const ENOUGH: u32 = 20;

/// Probability that a draw is no less than `observed`. Source: Besag and Clifford, as above: what was observed
/// counts as one of the draws, so that chance is never 0.
pub(super) fn drawn(observed: f64, seed: u64, mut draw: impl FnMut(&mut ChaCha8Rng) -> f64) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    // A draw that repeats what was observed adds in another order.
    let observed = observed - 1e-9 * observed.abs();
    let mut above = 0;
    for n in 1..=MOST_DRAWS {
        if draw(&mut rng) >= observed {
            above += 1;
            if above == ENOUGH {
                return f64::from(above) / f64::from(n);
            }
        }
    }
    f64::from(above + 1) / f64::from(MOST_DRAWS + 1)
}

/// Chances with all that was tried counted, each still true if any of the others is not. Source: S. Holm,
/// Scandinavian Journal of Statistics 6, 65, 1979.
pub(super) fn holm(alone: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..alone.len()).collect();
    order.sort_by(|a, b| alone[*a].total_cmp(&alone[*b]));
    let mut counted = vec![1.0; alone.len()];
    let mut least = 0f64;
    for (rank, at) in order.into_iter().enumerate() {
        least = least.max((alone.len() - rank) as f64 * alone[at]).min(1.0);
        counted[at] = least;
    }
    counted
}

/// A slope and its 95 % interval, per unit of x.
pub(super) struct Slope {
    pub(super) value: f64,
    pub(super) ci95: [f64; 2],
}

/// Fewer points tell no slope. Chosen: with four, the interval is that of all slopes.
const LEAST_POINTS: usize = 5;

/// The median of the slopes between all pairs of points, which a third of wild ones does not move.
///
/// Source: P. K. Sen, JASA 63, 1379, 1968, with its interval; where neighbours resemble each other, wider by what
/// K. H. Hamed and A. R. Rao, Journal of Hydrology 204, 182, 1998, found for the variance of Kendall's sum. `None`
/// of fewer than five points, or all at one x.
pub(super) fn slope(points: &[(f64, f64)]) -> Option<Slope> {
    let n = points.len();
    if n < LEAST_POINTS {
        return None;
    }
    let between = |(i, a): (usize, &(f64, f64))| {
        points[i + 1..].iter().filter(|b| b.0 != a.0).map(|b| (b.1 - a.1) / (b.0 - a.0)).collect::<Vec<f64>>()
    };
    let mut slopes: Vec<f64> = points.iter().enumerate().flat_map(between).filter(|s| s.is_finite()).collect();
    if slopes.len() < LEAST_POINTS {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    let value = median(&mut slopes.clone());
    let size = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let rest: Vec<f64> = points.iter().map(|p| p.1 - value * p.0).collect();
    let variance = (size(n as f64) - tied(points, |p| p.0) - tied(points, |p| p.1)) / 18.0;
    let reach = normal_quantile(0.975) * (variance * repeats(&rest)).max(0.0).sqrt();
    let pairs = slopes.len() as f64;
    let place = |at: f64| slopes[at.round_ties_even().clamp(0.0, pairs - 1.0) as usize];
    Some(Slope { value, ci95: [place((pairs - reach) / 2.0 - 1.0), place((pairs + reach) / 2.0)] })
}

/// What ties take off the variance of Kendall's sum.
fn tied(points: &[(f64, f64)], of: fn(&(f64, f64)) -> f64) -> f64 {
    let mut values: Vec<f64> = points.iter().map(of).collect();
    values.sort_by(f64::total_cmp);
    let size = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    values.chunk_by(|a, b| a == b).map(|same| size(same.len() as f64)).sum()
}

/// By how much the variance of Kendall's sum grows where neighbours resemble each other, at least 1: Hamed and Rao's
/// sum over the autocorrelation of ranks, as far as it is significant.
fn repeats(rest: &[f64]) -> f64 {
    let n = rest.len();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| rest[*a].total_cmp(&rest[*b]));
    let mut ranks = vec![0.0; n];
    for (rank, at) in order.into_iter().enumerate() {
        ranks[at] = rank as f64;
    }
    let size = n as f64;
    let significant = normal_quantile(0.975) / size.sqrt();
    // Beyond a quarter of the points too few pairs are left (common practice: Box and Jenkins).
    let sum: f64 = correlations(&ranks, n / 4)
        .iter()
        .enumerate()
        .take_while(|(_, r)| **r > significant)
        .map(|(lag, r)| {
            let k = lag as f64 + 1.0;
            (size - k) * (size - k - 1.0) * (size - k - 2.0) * r
        })
        .sum();
    1.0 + 2.0 / (size * (size - 1.0) * (size - 2.0)) * sum
}

/// Autocorrelation at lags 1 to `most`; none of what does not vary.
fn correlations(values: &[f64], most: usize) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let product = |lag: usize| values.iter().zip(&values[lag..]).map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>();
    let whole = product(0);
    if whole <= 0.0 { Vec::new() } else { (1..=most).map(|lag| product(lag) / whole).collect() }
}

/// How many neighbours of a series tell no more than one: 1 + 2 Σ r over its first positive lags, at least 1. Source:
/// common practice for the mean of a series (the "integrated autocorrelation time").
pub(super) fn memory(values: &[f64]) -> f64 {
    let significant = 1.0 / (values.len().max(1) as f64).sqrt();
    let sum: f64 = correlations(values, values.len() / 3).into_iter().take_while(|r| *r > significant).sum();
    1.0 + 2.0 * sum
}

#[cfg(test)]
mod tests {
    use rand::RngExt;

    use super::*;

    /// Source: the definition, by hand: 0.01 × 4, 0.02 × 3, then 0.03 × 2 which may not fall below 0.06, then 0.5.
    #[test]
    fn holm_counts_all_that_was_tried() {
        let counted = holm(&[0.03, 0.01, 0.5, 0.02]);
        for (found, expected) in counted.iter().zip([0.06, 0.04, 0.5, 0.06]) {
            assert!((found - expected).abs() < 1e-12, "{counted:?}");
        }
    }

    /// Source: SciPy 1.10.1, `scipy.stats.theilslopes(y, x, 0.95)`. Tolerance: the digits written down.
    #[test]
    fn slopes_are_those_of_scipy() {
        let y = [2.1, 1.7, 3.4, 2.9, 9.0, 4.1, 4.4, 3.8, 5.2, 5.0];
        let points: Vec<(f64, f64)> = y.iter().enumerate().map(|(i, y)| (i as f64 + (i / 5) as f64, *y)).collect();
        let slope = slope(&points).unwrap();
        let expected = SCIPY_SLOPE;
        for (found, expected) in [slope.value, slope.ci95[0], slope.ci95[1]].iter().zip(expected) {
            assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        }
    }

    const SCIPY_SLOPE: [f64; 3] = [0.3, 0.175, 0.4375];

    #[test]
    fn a_chance_is_never_nothing_and_stops_early_where_it_is_large() {
        assert_eq!(drawn(2.0, 1, |rng| rng.random::<f64>()), 1.0 / 5000.0);
        assert_eq!(drawn(0.0, 1, |rng| rng.random::<f64>()), 1.0);
        let p = drawn(0.9, 1, |rng| rng.random::<f64>());
        assert!((0.05..0.2).contains(&p), "{p}");
    }
}
