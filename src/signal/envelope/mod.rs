//! How the noise power in the passband moves in time: buzz at the mains rate, clicks, slow changes; and how it is
//! distributed.
//!
//! The power envelope is made from the very frames the spectrum is made of: passband bins are transformed back at a
//! lower rate and overlap-added, so no second pass over the samples is needed and lines can be left out bin by bin.

pub mod apd;
pub mod at_once;
pub mod baseband;
pub mod beat;
pub mod modulation;
pub mod pulses;
pub mod summary;

pub use apd::{AmplitudeDistribution, GaussianPart, lowest_mean};
pub use at_once::AtOnce;
pub use baseband::EnvelopeSource;
pub use beat::Beat;
pub use modulation::{Modulation, RateLine};
pub use pulses::{Pulse, Pulses};
pub use summary::{Capped, Envelope, EnvelopeBuilder};
