//! Remedies of one device in order: what is left after each and what each step bought.

pub mod appeared;
pub mod choke;
pub mod choke_steps;
pub mod figure;
pub mod figure_carriers;
pub mod followed;
pub mod notes;
pub mod result;
pub mod rungs;
pub mod section;
pub mod step;
pub mod steps;
pub mod table;
pub mod tracks;
pub mod unmasked;
