//! One device's noise of any kind, so that a scene can take them all. How each sounds: `hash`, `buzz`, `clicks`,
//! `carriers`.

use super::buzz::Buzz;
use super::carriers::{Carrier, Carriers};
use super::clicks::Clicks;
use super::hash::Hash;
use super::source::Source;
use super::truth::Kind;

/// A device's noise of one kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Device {
    /// Steady broadband noise.
    Hash(Hash),
    /// Noise pulsing at a rate.
    Buzz(Buzz),
    /// Clicks.
    Clicks(Clicks),
    /// Carriers.
    Carriers(Carriers),
}

impl From<Hash> for Device {
    fn from(hash: Hash) -> Self {
        Self::Hash(hash)
    }
}

impl From<Buzz> for Device {
    fn from(buzz: Buzz) -> Self {
        Self::Buzz(buzz)
    }
}

impl From<Clicks> for Device {
    fn from(clicks: Clicks) -> Self {
        Self::Clicks(clicks)
    }
}

impl From<Carriers> for Device {
    fn from(carriers: Carriers) -> Self {
        Self::Carriers(carriers)
    }
}

impl From<Carrier> for Device {
    fn from(carrier: Carrier) -> Self {
        Self::Carriers(Carriers::new([carrier]))
    }
}

impl Device {
    /// What makes its waveform, and its kind.
    pub(super) fn source(&self) -> (&dyn Source, Kind) {
        match self {
            Self::Hash(hash) => (hash, Kind::Hash),
            Self::Buzz(buzz) => (buzz, Kind::Buzz),
            Self::Clicks(clicks) => (clicks, Kind::Clicks),
            Self::Carriers(carriers) => (carriers, Kind::Carriers),
        }
    }
}
