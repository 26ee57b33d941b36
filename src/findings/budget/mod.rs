//! Which device adds how much to the noise of all, before remedies and now, and whether devices recorded together
//! add up.
//!
//! [`select`] takes the comparisons, [`shares`] is the arithmetic; `result`, `section`, `digest` and `figure` are
//! what is told of it in the JSON, the report, the post and the picture.

pub(crate) mod digest;
pub mod figure;
pub mod result;
pub(crate) mod section;
pub mod select;
pub mod shares;

pub(crate) use digest::digest;
pub(crate) use figure::figures;
pub(crate) use section::{largest_share, section};
pub use select::{names_several, of};
