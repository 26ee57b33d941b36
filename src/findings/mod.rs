//! What several comparisons together tell: what each remedy bought, what choke theory makes of it, what came to light
//! and what is new, which device adds how much, which spacing explains carriers all over the dial, what the noise
//! costs a listener and how the station stands against published noise.
//!
//! Works on figures, in plain numbers: knows nothing of files, labels or words. Not here: a single comparison
//! (`contrast`), joining figures with labels (`tally`), sentences (`report`).

pub mod man_made;
pub mod supply;
pub mod switching_comb;
pub mod target;
pub mod weak_signal;
