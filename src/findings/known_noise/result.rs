//! Which known noise a comparison resembles, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

pub use crate::findings::known_noise::Compared;

/// The answer to which of several known noises this is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownNoise {
    /// "one"; "either" where several fit and can't be told apart; "none" of them; "not_told" where no noise was found that
    /// could be held against them.
    pub answer: String,
    /// Those it may be, best first; for "none" the nearest one.
    pub candidates: Vec<KnownCandidate>,
    /// Whether the noise is plain, even hash, which many devices make.
    pub plain: bool,
    /// How many known noises there were.
    pub held_against: usize,
}

impl KnownNoise {
    /// The one known noise that the comparison is taken for.
    pub fn one(&self) -> Option<&KnownCandidate> {
        self.candidates.first().filter(|_| self.answer == "one")
    }
}

/// A known noise, and how far this one resembles it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownCandidate {
    /// The device.
    pub name: String,
    /// exp(−d²/2), 0..1: 1 where nothing differs; 0.61 where the traits differ, on the whole, by once what they usually
    /// scatter when a device is heard again, 0.14 by twice, 0.01 by three times. Named from 0.25 on.
    pub resemblance: f64,
    /// What was compared.
    pub compared: Vec<Compared>,
}
