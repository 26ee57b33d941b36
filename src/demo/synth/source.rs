//! What every kind of noise hands to the scene: its waveform at the antenna, and what is known of it beforehand.

use super::passband::{Grid, Receiver};

/// A waveform before the receiver's filter, in a scale of its own; the scene scales it to the level asked for.
pub(super) struct Antenna {
    /// All samples of the grid.
    pub wave: Vec<f64>,
    /// Mean square after the receiver's filter over an ensemble of such takes; `None` where only this realisation
    /// can be measured (clicks) or where it has no randomness of power (carriers).
    pub expected: Option<f64>,
    /// Its carriers.
    pub lines: Vec<Line>,
    /// Times of its pulses, seconds from the take's start; none outside the take.
    pub pulses_s: Vec<f64>,
}

/// One carrier of a waveform, in the waveform's own scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    /// Frequency at the take's first sample.
    pub start_hz: f64,
    /// Frequency at its last.
    pub end_hz: f64,
    /// Mean frequency over the take.
    pub mean_hz: f64,
    /// Peak amplitude of the carrier itself, without sidebands, before the filter.
    pub amplitude: f64,
}

impl Antenna {
    /// A wave without carriers, pulses or an ensemble power known beforehand.
    pub fn plain(wave: Vec<f64>) -> Self {
        Self { wave, expected: None, lines: Vec::new(), pulses_s: Vec::new() }
    }
}

/// Something that can be heard at the antenna.
pub(super) trait Source {
    /// Its waveform over the whole grid. `receiver` only serves to compute `expected`. `seed` and `part` choose the
    /// realisation.
    fn at_antenna(&self, grid: &Grid, receiver: &Receiver, seed: u64, part: &str) -> Antenna;
}
