//! On against off: how much noise the device adds, of what kind, and how far to believe it.
//!
//! Works on measurements and never opens a file; labels only tell [`planned`] which recordings to compare, and
//! [`comparison`] what to call them. Character is judged on the *added* power (on minus off, in linear power),
//! never on the raw `on` recording.

mod added_lines;
mod bootstrap;
mod cells;
mod character;
mod cluster;
mod comb;
pub mod comparison;
pub mod comparisons;
pub mod contrast_result;
pub(crate) mod excess;
mod impulsive;
pub mod known_noise;
mod pair;
pub mod planned;
pub mod questions;
mod receiver;
mod skirts;
mod surge;
mod take_scatter;
mod traits;
mod trust;
mod uncounted;
mod visitor;
mod wander;
pub(crate) mod words;

pub use added_lines::{DeviceLine, LineChanges, UNMOVED_HZ, WARMS_UP_HZ};
pub(crate) use character::buzz::{multiple_of_mains, other_mains_hz};
pub use character::{BLIND_DB, Character, Doubt, Part, Verdict};
pub use cluster::Cluster;
pub(crate) use comb::LEAST_RESIDUAL_HZ;
pub use comb::{Comb, find_comb};
pub use comparisons::Comparisons;
pub use excess::{Band, Change, Excess, planned_limit_db};
pub use impulsive::Impulsive;
pub use pair::{At, Contrast, ContrastSettings, Figures, contrast, contrast_in_time};
pub use questions::{Certainty, loudest};
pub use receiver::{CORRECTED_BELOW_DB, LEAST_MARGIN_DB, ReceiverNoise, background_correction, noise_over};
pub(crate) use take_scatter::Cholesky;
pub use take_scatter::{TakeLevel, TakeScatter};
pub use traits::{Level, Rate, Ticks, Traits};
pub use uncounted::Uncounted;
