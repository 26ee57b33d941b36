//! Hours of recordings, as one file or a hundred, become one [`Timeline`]: the noise level second by second, spectra
//! every ten seconds, and when each recording began; and the stretches in which a noise came and went.
//!
//! One pass over the audio in bounded memory, a long file divided among the cores inside itself. Every row of a recording is
//! measured on its own, from its own samples, so the timeline is the same to the last bit on any number of threads.
//! Not here: what kind of noise an episode was (`contrast`), reports: `tally::night` joins them.

mod bytes;
mod cache;
pub mod change_points;
mod clock;
pub mod episodes;
pub mod explain;
mod faults;
mod jumps;
pub mod lines;
mod look;
mod noise;
mod pairing;
pub mod pattern;
mod plan;
mod read;
mod row;
mod store;
mod swing;
pub mod switch_log;
#[cfg(test)]
mod tests;
mod timeline;

pub use cache::Cache;
pub use clock::{Clock, Join, StartFrom};
pub use plan::Grid;
pub use read::{NightError, NightSettings, Watch, timeline, timeline_with};
pub use timeline::{LeftOut, Minute, Passage, Row, RowEnvelope, Step, Timeline};
