//! The analysis window and its constants.

use std::f64::consts::TAU;

/// Equivalent noise bandwidth of the Hann window in bins. Source: F. J. Harris, Proc. IEEE 66(1), 1978, table 1.
pub const HANN_ENBW_BINS: f64 = 1.5;

/// The periodic Hann window of `len` points: two of them half a window apart add up to exactly 1 everywhere, which
/// is what lets the envelope be put together again from windowed frames.
pub fn hann(len: usize) -> Vec<f32> {
    (0..len).map(|n| (0.5 - 0.5 * (TAU * n as f64 / len as f64).cos()) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: G. Heinzel, A. Rüdiger, R. Schilling, 2002 (ENBW 1.5000); F. J. Harris, Proc. IEEE 66(1), 1978,
    /// table 1 (overlap correlation 16.7 % at 50 %, 65.9 % at 75 %). The windows are those SciPy 1.17.1 calls
    /// periodic. By definition: ENBW N·Σw²/(Σw)² bins, correlation Σw[n]·w[n+hop]/Σw².
    #[test]
    fn hann_constants() {
        let window = hann(1024);
        let sum: f64 = window.iter().map(|&w| f64::from(w)).sum();
        let product = |hop: usize| -> f64 {
            window.iter().zip(&window[hop..]).map(|(&a, &b)| f64::from(a) * f64::from(b)).sum()
        };
        assert_abs_diff_eq!(1024.0 * product(0) / (sum * sum), HANN_ENBW_BINS, epsilon = 1e-4);
        assert_abs_diff_eq!(product(512) / product(0), 0.1667, epsilon = 1e-3);
        assert_abs_diff_eq!(product(256) / product(0), 0.6592, epsilon = 1e-3);
    }

    /// Source: Heinzel et al., 2002: a tone half a bin off reads 1.4236 dB low.
    #[test]
    fn hann_scalloping() {
        let window = hann(1024);
        let response = |offset: f64| {
            let (re, im) = window.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, &w)| {
                let phase = TAU * offset * n as f64 / 1024.0;
                (re + w as f64 * phase.cos(), im + w as f64 * phase.sin())
            });
            re.hypot(im)
        };
        assert_abs_diff_eq!(20.0 * (response(0.5) / response(0.0)).log10(), -1.4236, epsilon = 1e-4);
    }

    #[test]
    fn half_overlapped_windows_add_to_one() {
        let window = hann(64);
        for n in 0..32 {
            assert_abs_diff_eq!(window[n] + window[n + 32], 1.0, epsilon = 1e-6);
        }
    }
}
