//! What Gaussian noise does to estimates: degrees of freedom, biases, thresholds. Each with its source.

use statrs::distribution::{ContinuousCDF, Gamma, Normal};

/// Equivalent degrees of freedom of the mean of `frames` Hann frames at half overlap: 36K²/(19K − 1).
///
/// Source: D. B. Percival, A. T. Walden, Spectral Analysis for Physical Applications, 1993, § 6.17 (from memory),
/// with the Hann window's overlap correlation of 1/6.
pub fn welch_dof(frames: f64) -> f64 {
    if frames <= 1.0 { 2.0 * frames.max(0.0) } else { 36.0 * frames * frames / (19.0 * frames - 1.0) }
}

/// Quantile `q` of the mean of `averages` (may be fractional) independent exponential powers of mean 1.
pub fn mean_power_quantile(averages: f64, q: f64) -> f64 {
    gamma(averages).inverse_cdf(q)
}

/// Median over mean of such a mean of powers: ln 2 for one, towards 1 for many.
pub fn median_over_mean(averages: f64) -> f64 {
    mean_power_quantile(averages, 0.5)
}

/// The factor over the mean that the mean of `averages` powers exceeds in any of `cells` cells with probability
/// `false_alarm` altogether. Source: J. D. Scargle, ApJ 263, 835, 1982, for one periodogram; for an average the
/// same with the gamma distribution.
pub fn line_threshold(averages: f64, cells: f64, false_alarm: f64) -> f64 {
    // 1 − (1 − p)^(1/N), written so that small probabilities keep their digits.
    let each = -((-false_alarm).ln_1p() / cells.max(1.0)).exp_m1();
    gamma_upper_quantile(averages, each)
}

/// Quantile of the standard normal distribution.
pub fn normal_quantile(q: f64) -> f64 {
    Normal::standard().inverse_cdf(q)
}

/// Probability that a standard normal value lies below `z`.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// Two-sided 95 % quantile of Student's distribution.
pub fn student_975(dof: f64) -> f64 {
    statrs::distribution::StudentsT::new(0.0, 1.0, dof.max(1.0))
        .expect("location 0, scale 1 and dof of at least 1 are valid")
        .inverse_cdf(0.975)
}

/// Standard deviation of a normal spread over the median of its magnitudes: 1/0.6745 (mathematics).
pub const SD_OF_MEDIAN: f64 = 1.4826;

/// Mean of values; NaN for none.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Standard deviation with n − 1; 0 for fewer than two.
pub fn standard_deviation(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let mean = mean(values);
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

/// The least and the greatest of some values, in this order; the other way round for none.
pub fn ends(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    values.into_iter().fold((f64::MAX, f64::MIN), |(low, high), value| (low.min(value), high.max(value)))
}

/// Median of values, which are put in another order; NaN for none. The mean of the middle two where they are even.
pub fn median(values: &mut [f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return f64::NAN;
    }
    let (below, middle, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return *middle;
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (lower + *middle) / 2.0
}

/// Quantile by linear interpolation between order statistics of values, which are put in another order; NaN for
/// none.
pub fn quantile(values: &mut [f64], q: f64) -> f64 {
    interpolated(neighbours(values, q, f64::total_cmp), |value| value)
}

/// The same of what `scale`, which grows with the values, makes of them: it is asked for the two that count alone.
pub fn quantile_scaled(values: &mut [f32], q: f64, scale: impl Fn(f32) -> f64) -> f64 {
    interpolated(neighbours(values, q, f32::total_cmp), scale)
}

/// The order statistics on either side of a quantile, and how far it lies from the first towards the second (0..1);
/// the second is missing where the first is the last of all.
fn neighbours<T: Copy>(
    values: &mut [T],
    q: f64,
    order: impl Fn(&T, &T) -> std::cmp::Ordering + Copy,
) -> Option<(T, Option<T>, f64)> {
    if values.is_empty() {
        return None;
    }
    let place = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let (_, low, above) = values.select_nth_unstable_by(place.floor() as usize, order);
    Some((*low, above.iter().copied().min_by(order), place.fract()))
}

fn interpolated<T: Copy>(neighbours: Option<(T, Option<T>, f64)>, scale: impl Fn(T) -> f64) -> f64 {
    match neighbours {
        None => f64::NAN,
        Some((low, Some(high), part)) if part > 0.0 => scale(low) * (1.0 - part) + scale(high) * part,
        Some((low, ..)) => scale(low),
    }
}

/// The level that most of some powers keep to, whatever lifts up to half of them (speech, crashes): the mean of
/// those within 2.5 standard deviations of the densest half. NaN for none.
///
/// Source: P. J. Rousseeuw, J. Amer. Statist. Assoc. 79, 871–880, 1984 (least trimmed squares with one reweighting;
/// from memory). For normal values it scatters a few per cent more than the mean.
pub fn steady_level(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    steady_level_of_sorted(&sorted)
}

/// The same of values that rise already.
pub fn steady_level_of_sorted(sorted: &[f64]) -> f64 {
    let n = sorted.len();
    if n < 4 {
        return median(&mut sorted.to_vec());
    }
    let half = n / 2 + 1;
    let (mut sum, mut squares) = sorted[..half].iter().fold((0.0, 0.0), |(s, q), v| (s + v, q + v * v));
    let h = half as f64;
    let mut best = (f64::INFINITY, 0.0);
    for start in 0..=n - half {
        if start > 0 {
            let (out, new) = (sorted[start - 1], sorted[start + half - 1]);
            sum += new - out;
            squares += new * new - out * out;
        }
        let variance = squares / h - (sum / h).powi(2);
        if variance < best.0 {
            best = (variance, sum / h);
        }
    }
    // The central half of a normal distribution has a standard deviation of 0.378 of the whole; few values make the
    // densest half look denser still (factor found by simulation, 10 to 100 values).
    let spread = best.0.max(0.0).sqrt() / 0.378 * (1.0 + 4.0 / n as f64);
    let kept = |v: &f64| (*v - best.1).abs() <= 2.5 * spread.max(1e-12 * best.1.abs());
    // They stand together.
    let from = sorted.partition_point(|v| *v < best.1 && !kept(v));
    let count = sorted[from..].partition_point(kept);
    let sum = sorted[from..from + count].iter().sum::<f64>();
    if count == 0 { best.1 } else { sum / count as f64 }
}

fn gamma(averages: f64) -> Gamma {
    let shape = averages.max(1e-3);
    Gamma::new(shape, shape).expect("shape and rate are positive and finite")
}

/// The value exceeded with probability `upper`, found by bisection on the survival function: the library's quantile
/// of 1 − p loses all digits where p is below 1e-12.
fn gamma_upper_quantile(averages: f64, upper: f64) -> f64 {
    let gamma = gamma(averages);
    let (mut low, mut high) = (0.0, 2.0);
    while gamma.sf(high) > upper {
        high *= 2.0;
    }
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if gamma.sf(middle) > upper { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: formula of Percival & Walden 1993, § 6.17 (from memory), agreed with a Monte Carlo run in NumPy
    /// 2.4.6 (13.36 ± 0.06 for 7 frames, 58.80 ± 0.24 for 31).
    #[test]
    fn degrees_of_freedom_of_half_overlapped_hann() {
        for (frames, dof) in
            [(1.0, 2.0), (3.0, 5.786), (7.0, 13.363_6), (31.0, 58.836_7), (63.0, 119.47), (127.0, 240.73)]
        {
            assert_abs_diff_eq!(welch_dof(frames), dof, epsilon = 0.01);
        }
    }

    /// Source: gamma quantiles of SciPy 1.17.1.
    #[test]
    fn median_bias_of_averages() {
        for (averages, ratio) in [
            (1.0, std::f64::consts::LN_2),
            (2.0, 0.8392),
            (4.0, 0.9180),
            (8.0, 0.9587),
            (16.0, 0.9792),
            (64.0, 0.9948),
        ] {
            assert_abs_diff_eq!(median_over_mean(averages), ratio, epsilon = 1e-4);
        }
        assert_abs_diff_eq!(mean_power_quantile(16.0, 0.10), 0.6960, epsilon = 1e-4);
        assert_abs_diff_eq!(mean_power_quantile(64.0, 0.25), 0.9131, epsilon = 1e-4);
    }

    /// Source: J. D. Scargle, ApJ 263, 835, 1982 (single periodogram); SciPy 1.17.1's gamma quantiles (averages).
    #[test]
    fn line_thresholds() {
        for (averages, cells, p, threshold) in [
            (1.0, 400.0, 0.1, 8.242),
            (1.0, 400.0, 0.01, 10.592),
            (1.0, 400.0, 0.001, 12.899),
            (1.0, 2048.0, 0.01, 12.225),
            (4.0, 400.0, 0.01, 4.394),
            (16.0, 400.0, 0.01, 2.348),
            (127.0, 400.0, 0.01, 1.401),
        ] {
            assert_abs_diff_eq!(line_threshold(averages, cells, p), threshold, epsilon = 1e-3);
        }
    }

    /// The defining property: untouched by what lifts fewer than half of the values, and the mean where nothing
    /// does.
    #[test]
    fn the_steady_level_passes_over_what_lifts_the_minority() {
        let mut values: Vec<f64> =
            (0..61).map(|k| 1.0 + 0.02 * normal_quantile((f64::from(k) + 0.5) / 61.0)).collect();
        assert_abs_diff_eq!(steady_level(&values), 1.0, epsilon = 1e-3);
        values.iter_mut().step_by(3).for_each(|v| *v *= 2.0);
        values.iter_mut().skip(1).step_by(9).for_each(|v| *v *= 1.3);
        assert_abs_diff_eq!(steady_level(&values), 1.0, epsilon = 0.01);
        assert!(steady_level(&[]).is_nan());
        assert_eq!(steady_level(&[2.0; 9]), 2.0);
    }

    #[test]
    fn medians_and_quantiles_of_few_values() {
        assert!(median(&mut []).is_nan());
        assert_eq!(median(&mut [3.0]), 3.0);
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), 2.5);
        assert_eq!(quantile(&mut [4.0, 1.0, 3.0, 2.0], 0.25), 1.75);
    }
}
