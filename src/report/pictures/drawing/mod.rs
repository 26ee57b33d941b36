//! The figures of one comparison.

pub mod apd;
pub mod card;
pub mod envelope;
pub mod excess;
pub mod intervals;
pub mod spectra;
pub mod spectrogram;
