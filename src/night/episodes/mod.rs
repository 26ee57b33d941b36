//! Where the noise level of a night jumps, and which jumps are one noise that came and went.

pub mod change_points;
pub mod jumps;
pub mod pairing;
pub mod runs;
pub mod stretches;
