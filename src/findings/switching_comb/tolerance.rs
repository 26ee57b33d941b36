//! How far a carrier may lie from its place: the dial's digits, the tone's pitch, and a family that drifts between
//! recordings. How much a supply drifts is found out, not assumed: the search tries several. The dial's last digit is
//! always taken for rounded: were less of it tried, carriers that happen to lie near would be picked and the others lost.

use super::{Carrier, Listening};

/// Pitch, beat oscillator and what else makes a labelled dial wrong by a little, however many digits it has.
pub const LEAST_HZ: f64 = 10.0;
/// Relative drift between recordings; the steps of our own choice. A warming supply drifts by some parts in 10⁵.
const RELATIVE: [f64; 4] = [0.0, 3e-6, 2e-5, 1e-4];

/// Tolerance of every carrier, Hz, by one choice.
pub type Tolerances = Vec<f64>;

/// All choices that differ by more than a tenth anywhere, the narrowest first.
pub fn choices(carriers: &[Carrier], listenings: &[Listening]) -> Vec<Tolerances> {
    let mut found: Vec<Tolerances> = Vec::new();
    for relative in RELATIVE {
        let of = |carrier: &Carrier| {
            LEAST_HZ + listenings[carrier.listening].half_step_hz + relative * carrier.places_hz[0].abs()
        };
        let tolerances: Tolerances = carriers.iter().map(of).collect();
        let differs = |known: &Tolerances| known.iter().zip(&tolerances).any(|(a, b)| (a / b - 1.0).abs() > 0.1);
        if found.iter().all(differs) {
            found.push(tolerances);
        }
    }
    found
}
