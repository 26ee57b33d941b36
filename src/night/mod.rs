//! A night of recordings: what came and went when, with episodes judged by the same code as a session's comparisons.

pub mod change_points;
pub mod episodes;
