//! Hours of recordings, as one file or a hundred, become one [`Timeline`]: the noise level second by second,
//! spectra every ten seconds, and when each recording began; then the stretches in which a noise came and went,
//! each compared with the quiet beside it.
//!
//! `pass`: audio becomes the timeline. `episodes`: where the level jumps, and which jumps are one noise. `lines`:
//! carriers through the night. `clicks`: what clicks and lifts no level. `joint`: what each noise adds by itself,
//! where others are on. `compared`: each episode against the quiet beside it. `sources`: which of them are one noise.
//! `recurrence`: what comes back evenly, and what a log of switching explains. `result`, `gather`: the typed result.
//! `figures`: what of it is drawn. Not here: what kind of noise an episode is (`contrast`); the order of the steps
//! (`run::night`); what is written of it (`report::night`).

pub(crate) mod clicks;
pub mod compared;
pub mod episodes;
pub mod figures;
pub mod gather;
mod joint;
pub mod lines;
pub mod pass;
pub mod recurrence;
pub mod result;
mod sources;

pub(crate) use pass::clock::start as start_of;
pub use pass::clock::{Clock, Join, StartFrom};
pub use pass::plan::Grid;
pub use pass::timeline::{LeftOut, Minute, Passage, Row, Step, Tick, Timeline};
pub use pass::{NightError, NightSettings, read_telling, read_timeline};
