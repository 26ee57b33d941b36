//! How far a carrier may lie from its place, and how probable that is: the dial's last digit (rounded, so uniform),
//! the tone's pitch, and a family that drifts between recordings. How much a supply drifts is found out, not
//! assumed: several are tried. The dial's last digit is always taken for rounded: were less of it tried, carriers
//! that happen to lie near would be picked and the others lost.

use super::{Carrier, Listening};

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
