//! At the bench: which takes to record, in which order and how long, and recording them one by one.
//!
//! The plan is data made of a few words; the test sheet prints it, the recorder walks through it. Each take is
//! whole on disk, and named in the manifest, before the next begins. Not here: asking and telling the user (`cli`),
//! what the recordings show (`findings`).

#[cfg(feature = "capture-card")]
mod card;
mod ledger;
mod lock;
mod plan;
mod pump;
mod receiver_takes;
mod sheet;
mod source;
mod take;
mod walk;

#[cfg(feature = "capture-card")]
pub use card::{CardFacts, CardStream, cards, open_card};
pub use ledger::{Facts, Ledger, SET_ASIDE};
pub use lock::Lock;
pub use plan::{DeviceWords, Plan, PlanError, PlanWords, Take};
pub use pump::{Origin, Pump};
pub use receiver_takes::{CHECK_DIR, CHECK_S, CHECKS, CheckTake, check_label, check_takes};
pub use sheet::{Paper, sheet, walk_cautions};
pub use source::{RawFormat, SourceError, StreamFormat, open};
pub use take::{Ended, Live, NotWritten, Recorded, faults, hidden_name, noise_of, record};
pub use walk::Way;

/// Name of the plan in the folder of recordings.
pub const PLAN: &str = "plan.toml";
