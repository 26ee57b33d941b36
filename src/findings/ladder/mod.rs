//! Remedies of one device in order: what is left after each and what each step bought.

pub mod appeared;
pub mod choke;
pub mod choke_steps;
pub mod drawing;
pub mod drawing_carriers;
pub mod figure;
pub mod followed;
pub mod gather;
pub mod notes;
pub mod result;
pub mod section;
pub mod step;
pub mod steps;
pub mod table;
pub mod tracks;
pub mod unmasked;
