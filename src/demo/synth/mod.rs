//! Receiver audio made by formula, seeded, with every power in it known: for the demo and for tests against truth.
//!
//! A noise is made as it stands at the antenna, goes through the [`Receiver`]'s passband, and is scaled to a stated
//! power behind it. A [`Scene`] mixes them into a [`Take`], which carries its [`TakeTruth`]. Not here: any
//! measurement the product itself makes.

mod band;
mod buzz;
mod carriers;
mod clicks;
mod device;
mod gauss;
mod hash;
mod morse;
mod passband;
mod scene;
mod source;
mod station;
mod trap;
mod truth;

pub use band::{Crashes, Fading};
pub use buzz::{Buzz, Pulse};
pub use carriers::{Carrier, Carriers};
pub(crate) use clicks::add_impulse;
pub use clicks::{Clicks, Timing};
pub use device::Device;
pub use gauss::Gauss;
pub use hash::Hash;
pub use passband::{Grid, Receiver, mean_square};
pub use scene::{Scaling, Scene, Take};
pub use station::{Mode, Station};
pub use trap::{Agc, Hum, Trap};
pub use truth::{Kind, LineTruth, Part, Role, TakeTruth};
