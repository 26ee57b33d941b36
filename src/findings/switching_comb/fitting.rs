//! Which carriers stand at the places of a family, and the family by least squares through them.
//!
//! The spacing is by regression of the carriers on their harmonic numbers, through zero or with an offset. How far
//! a carrier may lie from its place, and how probable that is, follows from the dial's last digit (rounded, so
//! uniform), the tone's pitch, and a family that drifts between recordings. How much a supply drifts is found out,
//! not assumed: several are tried. The dial's last digit is always taken for rounded: were less of it tried,
//! carriers that happen to lie near would be picked and the others lost.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::findings::switching_comb::{Carrier, Listening};

/// The line itself is off by a part of what its carriers may be. Chosen: the line's own error is smaller than its
/// carriers', but not nothing.
pub const LINE_ERROR: f64 = 1.2;
/// Times that carriers are gathered about the line through those gathered before. Chosen: time against a set that
/// may still change.
pub const ROUNDS: usize = 3;

/// A carrier at a place of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Index of the carrier.
    pub carrier: usize,
    /// Which of the frequencies it may have, Hz.
    pub rf_hz: f64,
    /// Number of the place, a whole one.
    pub number: f64,
}

/// The places of a family: every spacing from an origin on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Places {
    /// Distance of neighbours, Hz.
    pub spacing_hz: f64,
    /// Place of number 0, Hz; 0 for [`Through::Zero`].
    pub origin_hz: f64,
    /// Whether the origin is zero.
    pub through: Through,
}

impl Places {
    /// Number of the nearest place, and how far above it a frequency stands, Hz.
    pub fn nearest(&self, rf_hz: f64) -> (f64, f64) {
        let number = ((rf_hz - self.origin_hz) / self.spacing_hz).round();
        (number, rf_hz - self.origin_hz - number * self.spacing_hz)
    }

    /// The places by least squares through the carriers that stand near, and those carriers.
    pub fn fitted(mut self, carriers: &[Carrier], errors: &[Error]) -> Option<(Self, Vec<Placed>)> {
        let mut members = self.members(carriers, errors, 2.0 * LINE_ERROR);
        for _ in 0..ROUNDS {
            let line = line(&members, &self, errors)?;
            self.spacing_hz = line.spacing_hz;
            self.origin_hz += line.offset_hz;
            members = self.members(carriers, errors, LINE_ERROR);
        }
        Some((self, members))
    }

    /// Carriers within so many times their greatest error of a place, one at each.
    fn members(&self, carriers: &[Carrier], errors: &[Error], times: f64) -> Vec<Placed> {
        let distance = |hz: f64| self.nearest(hz).1.abs();
        let mut found: Vec<Placed> = Vec::new();
        for (carrier, (one, error)) in carriers.iter().zip(errors).enumerate() {
            let by_distance = |a: &f64, b: &f64| distance(*a).total_cmp(&distance(*b));
            let Some(rf_hz) = one.places_hz.iter().copied().min_by(by_distance) else { continue };
            let number = self.nearest(rf_hz).0;
            let is_multiple = self.through == Through::Offset || number >= 1.0;
            let tells = 4.0 * error.reach_hz() <= self.spacing_hz;
            if distance(rf_hz) > times * error.reach_hz() || !tells || !is_multiple {
                continue;
            }
            let placed = Placed { carrier, rf_hz, number };
            match found.iter_mut().find(|known| known.number == number) {
                Some(known) if distance(known.rf_hz) > distance(rf_hz) => *known = placed,
                Some(_) => {}
                None => found.push(placed),
            }
        }
        found
    }
}

/// Least squares through members, the offset counted from the origin of `places`.
pub fn line(members: &[Placed], places: &Places, errors: &[Error]) -> Option<Line> {
    let point = |m: &Placed| (m.number, m.rf_hz - places.origin_hz, errors[m.carrier].sd_hz());
    regress(&members.iter().map(point).collect::<Vec<_>>(), places.through)
}

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

/// Pitch, beat oscillator and what else makes a labelled dial wrong by a little, however many digits it has. Common
/// practice: dials step by 10 Hz.
pub const LEAST_HZ: f64 = 10.0;
/// Its standard deviation, if anything up to it is as likely. Mathematics: 10 Hz/√3, rounded up.
pub const LEAST_SD_HZ: f64 = 6.0;
/// Relative drift between recordings, standard deviations; the steps of our own choice. A warming supply drifts by
/// some parts in 10⁵.
const RELATIVE: [f64; 4] = [0.0, 5e-6, 1.5e-5, 4.5e-5];

/// What a carrier's frequency may be wrong by: the sum of a rounding error, uniform within ± `rounding_hz`, and of
/// one with the standard deviation `other_sd_hz` and a parabola for its density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Error {
    rounding_hz: f64,
    other_sd_hz: f64,
}

impl Error {
    /// Half of the parabola's width.
    fn soft_hz(&self) -> f64 {
        5f64.sqrt() * self.other_sd_hz
    }

    /// No error is greater.
    pub fn reach_hz(&self) -> f64 {
        self.rounding_hz + self.soft_hz()
    }

    /// Its standard deviation.
    pub fn sd_hz(&self) -> f64 {
        (self.rounding_hz / 3f64.sqrt()).hypot(self.other_sd_hz)
    }

    /// Probability density, per Hz: the parabola's distribution at both ends of the uniform one (Epanechnikov's
    /// kernel, ¾·(1 − x²), integrated).
    #[inline]
    pub fn density(&self, error_hz: f64) -> f64 {
        let below = |hz: f64| {
            let x = (hz / self.soft_hz()).clamp(-1.0, 1.0);
            0.75 * x - 0.25 * x * x * x
        };
        (below(error_hz + self.rounding_hz) - below(error_hz - self.rounding_hz)) / (2.0 * self.rounding_hz)
    }
}

/// The error of every carrier, by one choice.
pub type Errors = Vec<Error>;

/// All choices of which the reach differs by more than a tenth anywhere, the narrowest first.
pub fn choices(carriers: &[Carrier], listenings: &[Listening]) -> Vec<Errors> {
    let mut found: Vec<Errors> = Vec::new();
    for relative in RELATIVE {
        let of = |carrier: &Carrier| Error {
            rounding_hz: listenings[carrier.listening].half_step_hz.max(0.5),
            other_sd_hz: LEAST_SD_HZ.hypot(relative * carrier.places_hz[0]),
        };
        let errors: Errors = carriers.iter().map(of).collect();
        let differs = |known: &Errors| {
            known.iter().zip(&errors).any(|(a, b)| (a.reach_hz() / b.reach_hz() - 1.0).abs() > 0.1)
        };
        if found.iter().all(differs) {
            found.push(errors);
        }
    }
    found
}
