//! How the station's noise, off and with each device on, stands against the man-made noise that ITU-R P.372
//! publishes for each kind of place.
//!
//! [`station`] takes the comparisons, [`p372`] is the Recommendation; `result`, `words`, `section`, `digest` and
//! `figure` are what is told of it in the JSON, the report, the post and the picture.

pub(crate) mod digest;
pub mod figure;
pub mod p372;
pub mod result;
pub(crate) mod section;
pub mod station;
pub(crate) mod words;

pub(crate) use digest::digest;
pub(crate) use figure::figures;
pub(crate) use section::{section, verdicts};
pub use station::of;
