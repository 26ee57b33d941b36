//! At the bench: which takes to record, in which order and how long, and recording them one by one.
//!
//! The plan is data made of a few words; the test sheet prints it, the recorder walks through it. Each take is whole on
//! disk, and named in the manifest, before the next begins. Not here: asking and telling the user (`cli`), what the
//! recordings show (`tally`).

mod cautions;
mod plan;
mod sheet;

pub use cautions::cautions;
pub use plan::{DeviceWords, Plan, PlanError, PlanWords, Take};
pub use sheet::{Paper, sheet};

/// Name of the plan in the folder of recordings.
pub const PLAN: &str = "plan.toml";
