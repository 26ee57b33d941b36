//! Hours of recordings, as one file or a hundred, become one [`Timeline`]: the noise level second by second, spectra
//! every ten seconds, and when each recording began; and the stretches in which a noise came and went.
//!
//! One pass over the audio in bounded memory, a long file divided among the cores inside itself. Every row of a recording is
//! measured on its own, from its own samples, so the timeline is the same to the last bit on any number of threads.
//! Not here: what kind of noise an episode was (`contrast`), reports: `run::night` joins them.

pub mod bytes;
pub mod cache;
pub mod change_points;
pub mod clock;
pub mod compare;
pub mod digest;
pub mod drawing;
pub mod episodes;
pub mod explain;
pub mod faults;
pub mod jumps;
pub mod lines;
pub mod listen;
pub mod look;
pub mod motion;
pub mod noise;
pub mod on_times_words;
pub mod pairing;
pub mod pattern;
pub mod patterns;
pub mod pictures;
pub mod pieces;
pub mod plan;
pub mod read;
pub mod result;
pub mod results;
pub mod row;
pub mod runs;
pub mod section;
pub mod section_carriers;
pub mod section_patterns;
pub mod standing;
pub mod store;
pub mod swing;
pub mod switch_log;
#[cfg(test)]
mod tests;
pub mod timeline;
pub mod words;

pub use cache::Cache;
pub use clock::{Clock, Join, StartFrom};
pub use plan::Grid;
pub use read::{NightError, NightSettings, Watch, timeline, timeline_with};
pub use timeline::{LeftOut, Minute, Passage, Row, RowEnvelope, Step, Timeline};
