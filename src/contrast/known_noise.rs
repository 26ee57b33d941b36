//! What a comparison says of known noises, as `report.json` has it. Not here: how it is found
//! (`findings::known_noise`).

use serde::{Deserialize, Serialize};

/// Which of several known noises a comparison resembles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// One of them.
    One,
    /// Several fit and can't be told apart.
    Either,
    /// None of them.
    None,
    /// No noise was found that could be held against them.
    NotTold,
}

/// The answer to which of several known noises this is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownNoise {
    /// Which.
    pub answer: Answer,
    /// Those it may be, best first; for "none" the nearest one.
    pub candidates: Vec<KnownCandidate>,
    /// Whether the noise is plain, even hash, which many devices make.
    pub plain: bool,
    /// How many known noises there were.
    pub held_against: usize,
    /// Where none is named: those whose strongest carrier stood where the strongest one stands now.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub same_carrier: Vec<SameCarrier>,
}

impl KnownNoise {
    /// The one known noise that the comparison is taken for.
    pub fn one(&self) -> Option<&KnownCandidate> {
        self.candidates.first().filter(|_| self.answer == Answer::One)
    }
}

/// A known noise whose strongest carrier stood where the strongest one stands now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SameCarrier {
    /// The device.
    pub name: String,
    /// Where it stands now, audio frequency.
    pub hz: f64,
}

/// A known noise, and how far this one resembles it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownCandidate {
    /// The device.
    pub name: String,
    /// exp(−d²/2), 0..1: 1 where nothing differs; 0.61 where the traits differ, on the whole, by once what they
    /// usually scatter when a device is heard again, 0.14 by twice, 0.01 by three times. Named from 0.25 on.
    pub resemblance: f64,
    /// What was compared.
    pub compared: Vec<Compared>,
}

/// A trait that was compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "trait")]
pub enum Compared {
    /// Shape over the passband: typical difference of the two.
    Shape {
        /// Root of the mean of the squares over the parts of the passband, dB of where most power is.
        differ_db: f64,
    },
    /// Depth of the pulsing at the mains rates: largest difference (1: full swing).
    Pulsing {
        /// Of a relative amplitude.
        differ: f64,
    },
    /// Clicks a second: now and then.
    Clicks {
        /// Of the one to tell.
        per_s: f64,
        /// Of the known one.
        known_per_s: f64,
    },
    /// Clicks that keep a beat: its period now and then, with half the 95 % interval.
    Beat {
        /// Of the one to tell.
        period_s: f64,
        /// Half its 95 % interval.
        period_ci_s: f64,
        /// Of the known one.
        known_period_s: f64,
        /// Half its 95 % interval.
        known_period_ci_s: f64,
    },
    /// Carriers, by the power that stands at places both have, 0..1.
    Carriers {
        /// 1: all of it.
        shared: f64,
    },
    /// Carriers of the known one that would be heard now, and are not where they stood.
    CarriersGone {
        /// How many.
        count: usize,
        /// Where the strongest stood, audio frequency.
        known_hz: f64,
    },
    /// Carriers that would have been heard of the known one, and were not there.
    CarriersNew {
        /// How many.
        count: usize,
        /// Where the strongest stands, audio frequency.
        hz: f64,
    },
    /// Spacing of combs: now and then.
    Spacing {
        /// Of the one to tell.
        hz: f64,
        /// Of the known one.
        known_hz: f64,
    },
}
