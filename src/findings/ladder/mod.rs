//! Remedies of one device in order: what is left after each, what each step bought, what choke theory makes of the
//! ferrites, which carriers stayed, what came to light and what is new.
//!
//! [`rungs`] takes the comparisons and joins what the others find: `step` (by [`steps`]), `choke_steps` (by
//! [`choke`]), `followed` (by [`tracks`]), `appeared` (by [`unmasked`]) and `notes`. `result`, `table`, `section`,
//! `digest` and `figure` are what is told of it in the JSON, the report, the post and the picture.

pub(crate) mod appeared;
pub mod choke;
pub(crate) mod choke_steps;
pub(crate) mod digest;
pub mod figure;
pub mod figure_carriers;
pub(crate) mod followed;
pub(crate) mod notes;
pub mod result;
pub mod rungs;
pub(crate) mod section;
pub(crate) mod step;
pub mod steps;
pub(crate) mod table;
pub mod tracks;
pub mod unmasked;

pub use figure::figure;
pub use rungs::of;
