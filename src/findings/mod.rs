//! What several comparisons together tell: what each remedy bought, what choke theory makes of it, what came to light
//! and what is new, which device adds how much, which spacing explains carriers all over the dial, what the noise
//! costs a listener, how the station stands against published noise, and whether the receiver follows its input.
//!
//! Works on figures, in plain numbers: knows nothing of files, labels or words. Not here: a single comparison
//! (`contrast`), joining figures with labels (`tally`), sentences (`report`).

mod budget;
mod carriers;
mod choke;
mod draws;
pub mod known_noise;
pub mod man_made;
pub mod receiver_check;
mod steps;
pub mod supply;
pub mod switching_comb;
pub mod target;
mod unmasked;
pub mod weak_signal;

pub use budget::{Balance, Contribution, Share, Together, balance, shares};
pub use carriers::{Seen, Track, level_sd_db, tracks};
pub use choke::{ChokeFit, ChokeStep, ChokeVerdict, Forecast, insertion_loss_db, windings_worth};
pub use steps::{Attenuation, Bought, attenuation, bought};
pub use unmasked::{Floor, Origin, line_origin, noise_origin};
