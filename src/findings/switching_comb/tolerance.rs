//! How far a carrier may lie from its place: the dial's digits, the tone's pitch, and a family that drifts between
//! recordings. How much of it is needed is found out, not assumed: the search tries several.

use super::{Carrier, Listening};

/// Pitch, beat oscillator and what else makes a labelled dial wrong by a little, however many digits it has.
pub const LEAST_HZ: f64 = 10.0;
/// How much of the dial's last digit is used.
const OF_DIAL_HZ: [f64; 4] = [0.0, 40.0, 150.0, f64::INFINITY];
/// Relative drift between recordings; the steps of our own choice. A warming supply drifts by some parts in 10⁵.
const RELATIVE: [f64; 4] = [0.0, 3e-6, 2e-5, 1e-4];

/// Tolerance of every carrier, Hz, by one choice.
pub type Tolerances = Vec<f64>;

/// All choices that differ by more than a tenth anywhere.
pub fn choices(carriers: &[Carrier], listenings: &[Listening]) -> Vec<Tolerances> {
    let mut found: Vec<Tolerances> = Vec::new();
    for relative in RELATIVE {
        for most_hz in OF_DIAL_HZ {
            let of = |carrier: &Carrier| {
                let dial_hz = listenings[carrier.listening].half_step_hz.min(most_hz);
                LEAST_HZ + dial_hz + relative * carrier.places_hz[0].abs()
            };
            let tolerances: Tolerances = carriers.iter().map(of).collect();
            let differs =
                |known: &Tolerances| known.iter().zip(&tolerances).any(|(a, b)| (a / b - 1.0).abs() > 0.1);
            if found.iter().all(differs) {
                found.push(tolerances);
            }
        }
    }
    found
}
