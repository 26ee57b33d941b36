//! Whether the receiver follows its input, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::findings::receiver_check::solve::Untold;

/// How the audio answers to the input.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Decibel for decibel.
    Follows,
    /// Steps come out too small.
    Compressed,
    /// Steps come out too large.
    Expanded,
    /// It can't be told.
    #[default]
    Untold,
}

/// A check by an attenuator of known size, and by a dummy load where one was recorded.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ReceiverCheckResult {
    /// What is written on the attenuator.
    pub attenuator_db: f64,
    /// How far it may be off.
    pub attenuator_within_db: f64,
    /// Recordings with it out and in that could be used.
    pub recordings: [usize; 2],
    /// The audio with it out over that with it in; null where it could not be measured.
    pub step_db: Option<f64>,
    /// Its 95 % interval.
    pub step_ci_db: Option<[f64; 2]>,
    /// The audio with it out over that with the dummy load.
    pub dummy_load_drop_db: Option<f64>,
    /// Its 95 % interval.
    pub dummy_load_drop_ci_db: Option<[f64; 2]>,
    /// The step a linear receiver with this drop would have shown.
    pub expected_step_db: Option<f64>,
    /// Audio dB for each dB of the input; null without a dummy load.
    pub slope: Option<f64>,
    /// Its 95 % interval, the attenuator's uncertainty taken in; null where it has no upper end.
    pub slope_ci: Option<[f64; 2]>,
    /// How the audio answers.
    pub response: Answer,
    /// Why it can't be told; else null.
    pub why: Option<Untold>,
    /// How far the receiver's own noise lies below that with the antenna, by the dummy load, else by the step; only
    /// where the audio follows.
    pub own_noise_below_db: Option<f64>,
    /// How far it lies below at least.
    pub own_noise_below_at_least_db: Option<f64>,
    /// Span of levels over which this was seen, dBFS, lower end first.
    pub seen_dbfs: Option<[f64; 2]>,
}
