//! Spectral kurtosis: does the power of a bin scatter from slice to slice as Gaussian noise does? Noise gives 1, a
//! steady carrier less, what comes and goes (keying, speech, clicks) more.
//!
//! Source: G. M. Nita, D. E. Gary, MNRAS 406, L60, 2010 (estimator for M spectra, each the mean of N) and PASP 122,
//! 595, 2010 (its variance for Gaussian noise).

use super::slices::Slices;

/// Spectral kurtosis of every bin, `slices.bins` values: (MN + 1)/(M − 1) · (M·S₂/S₁² − 1) over the M rows, each
/// the mean of N independent powers. Empty for fewer than 8 rows; NaN for a bin without power.
pub fn spectral_kurtosis(slices: &Slices) -> Vec<f64> {
    let m = slices.len() as f64;
    if slices.len() < 8 {
        return Vec::new();
    }
    let (mut sum, mut squares) = (vec![0f64; slices.bins], vec![0f64; slices.bins]);
    for row in slices.rows() {
        for ((sum, square), &value) in sum.iter_mut().zip(&mut squares).zip(row) {
            *sum += value as f64;
            *square += (value as f64).powi(2);
        }
    }
    let n = slices.averages_per_slice();
    sum.iter().zip(&squares).map(|(s1, s2)| (m * n + 1.0) / (m - 1.0) * (m * s2 / (s1 * s1) - 1.0)).collect()
}

/// Standard deviation of the spectral kurtosis of Gaussian noise over `spectra` (M), each the mean of `averages`
/// (N) independent powers: √(2N(N + 1)M² / ((M − 1)(MN + 3)(MN + 2))).
pub fn kurtosis_sd(spectra: f64, averages: f64) -> f64 {
    let (m, n) = (spectra, averages);
    (2.0 * n * (n + 1.0) * m * m / ((m - 1.0) * (m * n + 3.0) * (m * n + 2.0))).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::{Clicks, Receiver, Scene, Station};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::{Db, Dbfs};
    use approx::assert_abs_diff_eq;

    /// Source: Nita & Gary, PASP 122, 595, 2010: variances for M = 64 and 128 with N = 1, and M = 64 with N = 4;
    /// agreed with a simulation in NumPy 2.4.6 to 0.7 %.
    #[test]
    fn variance_for_gaussian_noise() {
        for (m, n, variance) in [(64.0, 1.0, 0.05881), (128.0, 1.0, 0.03030), (64.0, 4.0, 0.03892)] {
            assert_abs_diff_eq!(kurtosis_sd(m, n).powi(2), variance, epsilon = 1e-5);
        }
    }

    fn sound(scene: Scene) -> Measurement {
        let take = scene.seed(5).render(30.0);
        Measurement::of_samples(12_000, &take.samples, &MeasureSettings::default())
    }

    fn quiet() -> Scene {
        Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0))
    }

    /// Source: the same paper: expectation 1 for Gaussian noise, whose estimates over many bins scatter by the
    /// square root of its variance. Tolerance: three standard errors of the mean, and of the scatter of some 400
    /// bins; 5 % are added to the latter since half-overlapped frames are not quite independent.
    #[test]
    fn gaussian_noise_has_expectation_and_scatter_as_published() {
        let m = sound(quiet());
        let all = spectral_kurtosis(&m.slices);
        let bins: Vec<f64> = m.clean_bins().into_iter().map(|k| all[k]).collect();
        let sd = kurtosis_sd(m.slices.len() as f64, m.slices.averages_per_slice());
        let count = bins.len() as f64;
        let mean = bins.iter().sum::<f64>() / count;
        assert_abs_diff_eq!(mean, 1.0, epsilon = 3.0 * sd / count.sqrt() + 0.02);
        let scatter = (bins.iter().map(|sk| (sk - mean).powi(2)).sum::<f64>() / count).sqrt();
        assert_abs_diff_eq!(scatter / sd, 1.0, epsilon = 0.05 + 3.0 / (2.0 * count).sqrt());
    }

    /// Source: the same paper: below 1 for a steady carrier, above 1 for pulses.
    #[test]
    fn a_carrier_lies_below_and_clicks_above() {
        let carrier = sound(quiet().station(Station::carrier(1500.0), Db(0.0)));
        let at = spectral_kurtosis(&carrier.slices)[carrier.slices.bin_of(1500.0)];
        assert!(at < 0.1, "{at}");
        let clicks = sound(quiet().device(Clicks::poisson(1.0), Db(6.0)));
        let at = spectral_kurtosis(&clicks.slices)[clicks.slices.bin_of(1500.0)];
        assert!(at > 2.0, "{at}");
    }
}
