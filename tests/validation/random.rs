//! Choices for the bench, from a seed: the same seed makes the same cases.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A source of choices.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// Choices for one case of a run.
    pub fn new(seed: u64, index: u64, what: &str) -> Self {
        let mut mixed = seed ^ 0x9e37_79b9_7f4a_7c15u64.wrapping_mul(index + 1);
        what.bytes().for_each(|byte| mixed = (mixed ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        Self(ChaCha8Rng::seed_from_u64(mixed))
    }

    /// In 0..1.
    pub fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// In `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// In `low..high`, evenly on a logarithmic scale.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// One of these.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.0.next_u64() % from.len() as u64) as usize]
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.share() < probability
    }

    /// A seed for something else.
    pub fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }
}
