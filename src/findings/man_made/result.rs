//! The station's noise against published noise, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use super::p372::{Category, Standing};

/// The noise of one setting as an external noise figure, beside those of ITU-R P.372.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StationNoise {
    /// Id of the setting.
    pub setting: String,
    /// Frequency on the air.
    pub freq_mhz: f64,
    /// The bandwidth that `noise_dbm` is for: as labelled, else as found.
    pub bandwidth_hz: f64,
    /// The antenna's type.
    pub antenna_type: String,
    /// Losses between antenna and receiver, taken off.
    pub antenna_loss_db: f64,
    /// How far the calibration may be off.
    pub tolerance_db: f64,
    /// Whether the receiver's own noise is taken off.
    pub receiver_noise_removed: bool,
    /// Everything off.
    pub off: NoiseLevel,
    /// With each device on.
    pub on: Vec<NoiseLevel>,
    /// The Recommendation's categories at this frequency, from loud to quiet.
    pub categories: Vec<NoiseCategory>,
    /// What weakens the comparison, as sentences.
    pub notes: Vec<String>,
}

/// One level of the station's noise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoiseLevel {
    /// Id of the comparison it is from.
    pub contrast: String,
    /// The device that is on; null: everything off.
    pub device: Option<String>,
    /// What was changed to quieten it.
    pub remedy: Option<String>,
    /// Noise at the receiver's input in `bandwidth_hz`.
    pub noise_dbm: f64,
    /// External noise figure as the short vertical of the Recommendation would read it.
    pub noise_figure_db: f64,
    /// Its interval: calibration and measurement together.
    pub noise_figure_ci_db: [f64; 2],
    /// The category whose median lies nearest.
    pub nearest: Category,
    /// dB over that median.
    pub over_median_db: f64,
    /// "below", "within", "above" that category's spread, or "borderline".
    pub standing: Standing,
}

/// A category of ITU-R P.372 at one frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoiseCategory {
    /// city, residential, rural, quiet rural.
    pub category: Category,
    /// Median external noise figure.
    pub median_db: f64,
    /// Upper decile deviation in time.
    pub upper_decile_db: f64,
    /// Lower decile deviation in time.
    pub lower_decile_db: f64,
    /// Decile deviation from place to place.
    pub location_decile_db: f64,
    /// Upper decile of time and place together.
    pub spread_upper_db: f64,
    /// Lower decile of time and place together.
    pub spread_lower_db: f64,
    /// Whether the table itself gives the spread; else the rural one stands for it.
    pub own_spread: bool,
}
