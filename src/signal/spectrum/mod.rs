//! Where the power of a recording lies in frequency: density, floor, passband, lines.
//!
//! All power densities are one-sided, in FS²/Hz with full scale ±1, so their sum times the bin width is the mean
//! square.

pub mod drift;
pub mod floor;
pub mod frame;
pub mod keying;
pub mod kurtosis;
pub mod lines;
pub mod mixed_down;
pub mod passband;
pub mod pitch;
pub mod ridge;
pub mod slices;
pub mod standing;
pub mod statistics;
pub mod tone;
pub mod twin;
pub mod warbling;
pub mod window;

pub use floor::{frequency_floor, median_over_slices};
pub use frame::{FramePlan, Stft, frame_len};
pub use keying::{Looked, is_keyed};
pub use kurtosis::{kurtosis_sd, spectral_kurtosis};
pub use lines::{FALSE_ALARM_PER_RECORDING, GUARD_BINS, LEAST_RATIO, Line, LineSearch};
pub use mixed_down::MixedDown;
pub use passband::{Passband, find_passband};
pub use pitch::{Motion, Pitch};
pub use slices::{SLICE_S, Slices, SlicesBuilder};
pub use standing::{Seen, Standing, standing, stands_apart};
pub use tone::{Tone, refine_tone};
pub use twin::TwinFrames;
pub use warbling::WarblingSearch;
pub use window::{HANN_ENBW_BINS, hann};
