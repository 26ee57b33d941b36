//! What stands in one recording, as `report.json` has it.

use serde::{Deserialize, Serialize};

use crate::contrast::Character;
use crate::contrast::comparison::{ClusterResult, CombResult};
use crate::contrast::known_noise::KnownNoise;
use crate::findings::man_made::p372::{Category, Standing};

/// What stands in one recording; that a device made it is said nowhere.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Described {
    /// Id of the recording.
    pub recording: String,
    /// What stands out of the noise, surest first; empty where nothing does.
    pub parts: Vec<DescribedPart>,
    /// The rate at which the noise pulses with the mains: half of its frequency, it or twice it.
    pub mains_rate_hz: Option<f64>,
    /// Amplitude of that pulsing, multiples included, over the mean of all noise: 1 where it swings between 0 and
    /// twice its mean as a sine does.
    pub pulsing_depth: Option<f64>,
    /// Its 95 % interval.
    pub pulsing_depth_ci: Option<[f64; 2]>,
    /// The smallest depth at twice the mains frequency that would have been told; null for a recording too short.
    pub pulsing_depth_limit: Option<f64>,
    /// Clicks a second.
    pub pulse_rate_hz: Option<f64>,
    /// From one click to the next, where they keep a beat.
    pub pulse_period_s: Option<f64>,
    /// Its 95 % interval.
    pub pulse_period_ci_s: Option<[f64; 2]>,
    /// Steady lines, strongest first: a station's carriers or a device's.
    pub carriers: Vec<CarrierFound>,
    /// The family that some of them form.
    pub comb: Option<CombResult>,
    /// 95 % interval of its spacing.
    pub comb_spacing_ci_hz: Option<[f64; 2]>,
    /// Crowds of carriers too dense to be told one by one.
    pub clusters: Vec<ClusterResult>,
    /// Places of the passband at which signals key, hop, fade or speak: a station may hold several.
    pub stations: usize,
    /// Whether they hold much of the passband, now and then at least: voices, or many stations.
    pub crowded: bool,
    /// The noise at the receiver's input; null without calibration.
    pub noise: Option<NoiseFound>,
    /// What is typical of what stands in it, each with what says so.
    pub typical_of: Vec<String>,
    /// The take to record next, which would tell most.
    pub next_take: String,
    /// Which known noise it resembles; null where no folder of known noises was named.
    pub known_noise: Option<KnownNoise>,
    /// What could not be told, and why.
    pub not_told: Vec<String>,
}

/// One kind of what stands in it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DescribedPart {
    /// buzz, clicks, carriers or comb.
    pub character: Character,
    /// How sure that it stands there, 0..1.
    pub confidence: f64,
}

/// A steady line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CarrierFound {
    /// Audio frequency.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
    /// Carrier over noise density.
    pub cnr_db_hz: f64,
    /// Drift.
    pub drift_hz_per_s: f64,
    /// Whether it carries sidebands at the mains rates.
    pub mains_sidebands: bool,
    /// Whether it was shown to stand at every moment, not only as far as can be told.
    pub shown: bool,
    /// Whether it may be a part of an evenly keyed station: it beats with a neighbour, or stands amid its other
    /// tones.
    pub perhaps_keyed: bool,
}

/// The noise of a calibrated recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoiseFound {
    /// Noise at the receiver's input in `bandwidth_hz`.
    pub noise_dbm: f64,
    /// The bandwidth that it is for: as labelled, else as found.
    pub bandwidth_hz: f64,
    /// How far the calibration may be off; null where it hangs on a meter's reading, which is rough.
    pub tolerance_db: Option<f64>,
    /// Against ITU-R P.372; null where a label is missing, as `not_told` says.
    pub published: Option<PublishedNoise>,
}

/// A level against the published curves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PublishedNoise {
    /// Frequency on the air.
    pub freq_mhz: f64,
    /// External noise figure as the short vertical of the Recommendation would read it.
    pub noise_figure_db: f64,
    /// Its interval.
    pub noise_figure_ci_db: [f64; 2],
    /// The category whose median lies nearest.
    pub nearest: Category,
    /// dB over that median.
    pub over_median_db: f64,
    /// "below", "within", "above" that category's spread, or "borderline".
    pub standing: Standing,
    /// What weakens it, as sentences.
    pub notes: Vec<String>,
}

impl Described {
    /// Whether one of these kinds stands in it.
    pub fn has(&self, kind: Character) -> bool {
        self.parts.iter().any(|part| part.character == kind)
    }

    /// How sure of a kind, 0..1; 0 where it is not there.
    pub fn confidence(&self, kind: Character) -> f64 {
        self.parts.iter().find(|part| part.character == kind).map_or(0.0, |part| part.confidence)
    }
}
