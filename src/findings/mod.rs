//! What several comparisons together tell: what each remedy bought, what choke theory makes of it, what came to light
//! and what is new, which device adds how much, which spacing explains carriers all over the dial, what the noise
//! costs a listener, how the station stands against published noise, and whether the receiver follows its input.
//!
//! Works on figures, in plain numbers: knows nothing of files, labels or words. Not here: a single comparison
//! (`contrast`), joining figures with labels (`tally`), sentences (`report`).

pub mod anchor;
pub mod budget;
pub mod draws;
pub mod figure_file;
pub mod known_noise;
pub mod ladder;
pub mod listening;
pub mod man_made;
pub mod receiver_check;
pub mod supply;
pub mod switching_comb;
pub mod target;
