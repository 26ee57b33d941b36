//! The same noise at several places, in the words of the machine-readable result.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::warning::Trust;

/// A place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceResult {
    /// In the user's words.
    pub place: String,
    /// Whose noise, where a label names it.
    pub device: Option<String>,
    /// Id of the setting.
    pub setting: String,
    /// Direction of the place, or of the antenna, degrees.
    pub bearing_deg: Option<f64>,
    /// Distance, m.
    pub distance_m: Option<f64>,
    /// Ids of the recordings with the noise.
    pub on: Vec<String>,
    /// Ids of those without it; empty: the level is of the whole noise.
    pub off: Vec<String>,
    /// Whether those without it were made at this place.
    pub off_is_there: bool,
    /// Level of the noise in the passband: what on has more than off, or all of it where there is no off; null where
    /// it does not show.
    pub level_db: Option<f64>,
    /// Its 95 % interval.
    pub level_ci_db: Option<[f64; 2]>,
    /// Where it does not show: a level from which it would have.
    pub below_db: Option<f64>,
    /// Resemblance to the loudest place, exp(−d²/2), 0..1; null where nothing can be compared, and of the loudest
    /// itself.
    pub likeness: Option<f64>,
    /// Whether it is the noise of the loudest place; null where that can't be told, and of the loudest itself.
    pub same: Option<bool>,
    /// Whether a label says that the gain was fixed.
    pub gain_known: bool,
    /// The kind of noise.
    pub character: Character,
    /// How far to rely on it.
    pub trust: Trust,
}
