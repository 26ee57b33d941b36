//! The pipelines: a session's (a pair of files is a session of two), a night's, that of recordings described one by
//! one, those from reports. Each joins the rooms before it and decides nothing about noise itself.

pub mod compare;
pub mod describe;
pub mod handout;
pub mod measuring;
pub mod night;
pub mod session;
pub mod weeks;

pub use describe::DescribeRun;
pub use measuring::Wishes;
pub use night::{Night, NightWishes};
pub use session::SessionRun;
