//! The pipelines: a session's, a night's. Each joins the rooms before it and decides nothing about noise itself.

pub mod night;
pub mod session;

pub use night::{Night, NightWishes};
pub(crate) use session::USUAL_MAINS_HZ;
pub use session::{Stopped, Tally, Watch, Wishes};
