//! What each recording is: the labels of a folder of recordings, and which of them are compared.
//!
//! A folder with a `session.toml`, or with sensible file names, or both, becomes a [`Session`]: recordings with
//! labels, grouped into settings, and the list of contrasts to make. What was guessed is said. Not here: the sound
//! itself. No audio file is opened; only its name and its presence are looked at.

pub mod case;
mod dated;
mod draft;
mod error;
pub mod facts;
mod fields;
mod files;
mod group;
mod key;
mod label;
mod listening;
mod manifest;
mod misspelt;
mod names;
mod pair;
mod printable;
mod read;
mod single;
mod start;
#[cfg(test)]
mod tests;
mod together;

pub use dated::{Dated, DatedBy, dated_files};
pub use draft::{Draft, Made, draft};
pub use error::{Fault, SessionError};
pub use fields::{Fields, Guess, Mode, State};
pub use files::AUDIO_EXTENSIONS;
pub use key::words as compared_by;
pub use label::{Label, PlacePlan, Plan, ReceiverCheckLabel, Session, Setting, tells_agc, tells_fixed_gain};
pub use listening::{Antenna, Current, ListeningLabels, Polarity, SupplyLabel, Target};
pub(crate) use manifest::ATTENUATORS_DB;
pub(crate) use names::read_all as labels_in_names;
pub use printable::printable;
pub(crate) use printable::{escaped_json, quoted, shown, typed};
pub use read::Outside;
pub use single::{Single, Singles, single_files};
pub use start::Start;
pub use together::Present;

/// Name of the manifest in the folder of recordings.
pub const MANIFEST: &str = "session.toml";

/// Whether two labels mean the same: without regard to case, spaces and hyphens between letters.
pub fn same_words(a: &str, b: &str) -> bool {
    key::words(a) == key::words(b)
}
