//! Seeded draws of normal variates and quantiles of what was made of them: intervals of figures that are no plain
//! sums.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::signal::spectrum::statistics::{normal_quantile, quantile};
use crate::units::{Estimate, SIGMAS_OF_95};

/// So many draws place the ends of a 95 % interval to about 2 % of its length. Mathematics: the end at 2.5 % of n
/// draws scatters by √(0.025·0.975/n)/0.058 standard deviations, here 0.042 of a length of 3.92. Chosen: below the
/// digits printed.
pub(crate) const DRAWS: usize = 4000;
/// The same input gives the same bytes: the seed is fixed, never the clock's.
const SEED: u64 = 0x6c61_6464_6572;

/// A source of standard normal values.
pub(crate) struct Draws(ChaCha8Rng);

impl Draws {
    pub fn new() -> Self {
        Self(ChaCha8Rng::seed_from_u64(SEED))
    }

    /// One of many sources, for simulations.
    #[cfg(test)]
    pub fn seeded(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A standard normal value.
    pub fn next(&mut self) -> f64 {
        // The middle of one of 2⁵³ equal parts of 0..1: never 0, never 1.
        let uniform = ((self.0.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64;
        normal_quantile(uniform)
    }

    /// A value drawn from an estimate: a half of a normal distribution on each side.
    pub fn from(&mut self, estimate: &Estimate) -> f64 {
        let z = self.next();
        let (low, high) = sides(estimate);
        estimate.value + z * if z < 0.0 { low } else { high }
    }
}

/// Standard deviations below and above the value.
fn sides(estimate: &Estimate) -> (f64, f64) {
    ((estimate.value - estimate.ci95.0) / SIGMAS_OF_95, (estimate.ci95.1 - estimate.value) / SIGMAS_OF_95)
}

/// Standard deviation of an estimate: half its 95 % interval over 1.96.
pub(crate) fn sd(estimate: &Estimate) -> f64 {
    (estimate.ci95.1 - estimate.ci95.0).abs() / 2.0 / SIGMAS_OF_95
}

/// A value with the middle 95 % of what was drawn for it.
pub(crate) fn estimate(value: f64, drawn: &mut [f64]) -> Estimate {
    let (low, high) = middle_95(drawn);
    Estimate { value, ci95: (low.min(value), high.max(value)) }
}

/// The middle 95 % of drawn values; infinite ones count where they lie.
pub(crate) fn middle_95(values: &mut [f64]) -> (f64, f64) {
    // An interpolation between a number and infinity is infinite, and between infinities not a number.
    values.iter_mut().for_each(|v| *v = v.clamp(-1e12, 1e12));
    let ends = (quantile(values, 0.025), quantile(values, 0.975));
    let open = |v: f64| if v.abs() >= 1e11 { v.signum() * f64::INFINITY } else { v };
    (open(ends.0), open(ends.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: the standard normal distribution: mean 0, variance 1, 95 % within ±1.96 (any table).
    /// Tolerance: four standard errors of 4000 draws.
    #[test]
    fn draws_are_normal() {
        let mut draws = Draws::new();
        let mut values: Vec<f64> = (0..DRAWS).map(|_| draws.next()).collect();
        let mean = values.iter().sum::<f64>() / DRAWS as f64;
        let variance = values.iter().map(|v| v * v).sum::<f64>() / DRAWS as f64;
        assert_abs_diff_eq!(mean, 0.0, epsilon = 0.064);
        assert_abs_diff_eq!(variance, 1.0, epsilon = 0.09);
        let (low, high) = middle_95(&mut values);
        assert_abs_diff_eq!(low, -1.96, epsilon = 0.17);
        assert_abs_diff_eq!(high, 1.96, epsilon = 0.17);
    }

    #[test]
    fn infinite_values_count_where_they_lie() {
        let mut values: Vec<f64> = (0..100).map(f64::from).collect();
        values[90..].fill(f64::INFINITY);
        let (low, high) = middle_95(&mut values);
        assert_abs_diff_eq!(low, 2.475, epsilon = 0.6);
        assert_eq!(high, f64::INFINITY);
    }
}
