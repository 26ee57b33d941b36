//! The spacing by regression of the carriers on their harmonic numbers, through zero or with an offset.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Whether the line through the carriers is to pass through zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Through {
    /// Carriers are multiples of the spacing.
    Zero,
    /// They stand at a constant distance from the multiples.
    Offset,
}

/// Carriers as a line over their harmonic numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Slope, Hz.
    pub spacing_hz: f64,
    /// Its standard deviation.
    pub spacing_sd_hz: f64,
    /// Value at number 0, Hz; 0 for [`Through::Zero`].
    pub offset_hz: f64,
    /// Its standard deviation; 0 for [`Through::Zero`].
    pub offset_sd_hz: f64,
    /// Standard deviation of the carriers about the line, Hz, at the mean weight.
    pub residual_sd_hz: f64,
    /// Factor of a 95 % interval: Student's t at the degrees of freedom left.
    pub t95: f64,
    /// Each carrier above the line, Hz.
    pub residuals_hz: Vec<f64>,
}

/// Least squares of `points` = (harmonic number, frequency in Hz, tolerance in Hz), each weighted by the inverse
/// square of its tolerance. `None` where no degree of freedom is left or all numbers are the same.
///
/// Source: regression through the origin, σ = s/√Σk², and ordinary regression (derived; any handbook of
/// statistics).
pub fn regress(points: &[(f64, f64, f64)], through: Through) -> Option<Line> {
    let free = points.len().checked_sub(1 + usize::from(through == Through::Offset)).filter(|free| *free > 0)?;
    let weight = |tolerance: f64| 1.0 / (tolerance * tolerance);
    let sum = |of: &dyn Fn(f64, f64) -> f64| points.iter().map(|p| weight(p.2) * of(p.0, p.1)).sum::<f64>();
    let weights = sum(&|_, _| 1.0);
    // Numbers are counted from their middle, so that sums of large squares are not subtracted from each other.
    let (middle, mean_hz) = match through {
        Through::Zero => (0.0, 0.0),
        Through::Offset => (sum(&|k, _| k) / weights, sum(&|_, f| f) / weights),
    };
    let spread = sum(&|k, _| (k - middle).powi(2));
    if spread <= 0.0 || !spread.is_finite() {
        return None;
    }
    let spacing_hz = sum(&|k, f| (k - middle) * (f - mean_hz)) / spread;
    let offset_hz = mean_hz - middle * spacing_hz;
    let residuals_hz: Vec<f64> = points.iter().map(|p| p.1 - mean_hz - (p.0 - middle) * spacing_hz).collect();
    let squares: f64 = points.iter().zip(&residuals_hz).map(|(p, r)| weight(p.2) * r * r).sum();
    let variance = squares / free as f64;
    let offset_variance = match through {
        Through::Zero => 0.0,
        Through::Offset => variance * (1.0 / weights + middle * middle / spread),
    };
    Some(Line {
        spacing_hz,
        spacing_sd_hz: (variance / spread).sqrt(),
        offset_hz,
        offset_sd_hz: offset_variance.sqrt(),
        residual_sd_hz: (variance * points.len() as f64 / weights).sqrt(),
        t95: StudentsT::new(0.0, 1.0, free as f64).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975)),
        residuals_hz,
    })
}
