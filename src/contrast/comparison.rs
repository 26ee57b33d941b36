//! One comparison of on against off as `report.json` has it.

use serde::{Deserialize, Serialize};

use super::character::{Character, Part};
use super::impulsive::Impulsive;
use super::known_noise::KnownNoise;
use crate::warning::{Trust, Warning};

/// On against off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ContrastResult {
    /// "c1" …
    pub id: String,
    /// The device.
    pub device: String,
    /// What was changed to quieten it; null: nothing yet.
    pub remedy: Option<String>,
    /// Id of the setting.
    pub setting: String,
    /// Ids of the off recordings.
    pub off: Vec<String>,
    /// Ids of the on recordings.
    pub on: Vec<String>,
    /// Noise without lines, on over off; where it comes in clicks, these included as a mean over time.
    pub excess_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_ci_db: Option<[f64; 2]>,
    /// The same with the power of the added lines and pulses.
    pub total_excess_db: Option<f64>,
    /// The smallest excess that would have been called.
    pub detection_limit_db: Option<f64>,
    /// The common passband.
    pub passband_hz: Option<[f64; 2]>,
    /// The carrier that the comparison leans on where the gain can't be trusted.
    pub gain_reference: Option<GainReference>,
    /// Level of the device's own contribution in the passband, dBFS, with its interval's ends.
    pub added_level_db: Option<f64>,
    /// The kind of noise.
    pub character: Character,
    /// How sure, 0..1.
    pub confidence: f64,
    /// What the added power consists of, largest first.
    pub parts: Vec<Part>,
    /// The rate at which a buzz pulses.
    pub mains_rate_hz: Option<f64>,
    /// Clicks a second.
    pub pulse_rate_hz: Option<f64>,
    /// Whether the clicks come at even distances.
    pub pulses_regular: Option<bool>,
    /// From one click to the next where they keep a beat, s.
    pub pulse_period_s: Option<f64>,
    /// Its 95 % interval.
    pub pulse_period_ci_s: Option<[f64; 2]>,
    /// What of the added noise stands above its Gaussian part; null where no noise is added or too little to tell.
    pub impulsive: Option<Impulsive>,
    /// What the verdict rests on, as plain sentences with figures.
    pub evidence: Vec<String>,
    /// Lines that came with the device, strongest first.
    pub added_lines: Vec<AddedLine>,
    /// Lines that stood in the off state only.
    pub lost_lines: Vec<AddedLine>,
    /// Whether a lost line may merely lie under the louder noise now.
    pub lost_lines_masked: bool,
    /// The family the added lines form.
    pub comb: Option<CombResult>,
    /// A crowd of carriers that came with the device, too near each other to tell them all apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cluster: Option<ClusterResult>,
    /// What on has more than off where lines and stations are left out, in no other figure: how much louder it
    /// would make the noise before.
    pub uncounted_db: Option<f64>,
    /// What a wanted signal in the passband loses.
    pub snr_loss_db: Option<f64>,
    /// How far the noise with the device off lies above the receiver's own, as recorded with a dummy load.
    pub receiver_margin_db: Option<f64>,
    /// Its 95 % interval.
    pub receiver_margin_ci_db: Option<[f64; 2]>,
    /// The excess without the receiver's own noise in either state; null where that adds nothing worth correcting.
    pub excess_corrected_db: Option<f64>,
    /// Its 95 % interval.
    pub excess_corrected_ci_db: Option<[f64; 2]>,
    /// Which known noise it resembles; only where a folder of known noises was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known_noise: Option<KnownNoise>,
    /// Excess over frequency.
    pub bands: Vec<BandExcess>,
    /// How far to rely on all this.
    pub trust: Trust,
    /// What speaks against it.
    pub warnings: Vec<Warning>,
}

/// A carrier in both states, which no gain change can spoil as a reference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GainReference {
    /// Where it stands.
    pub freq_hz: f64,
    /// How much its level moved from off to on.
    pub shift_db: f64,
}

/// A line that one state has and the other has not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AddedLine {
    /// Audio frequency.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
    /// Carrier over noise density.
    pub cnr_db_hz: f64,
    /// Drift.
    pub drift_hz_per_s: f64,
    /// Share of the slices in which it stands.
    pub presence: f64,
    /// Whether it carries sidebands at the mains rates.
    pub mains_sidebands: bool,
}

/// A family of lines at one spacing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CombResult {
    /// Distance of neighbours.
    pub spacing_hz: f64,
    /// How many of the added lines belong.
    pub lines: usize,
    /// Frequency of the lowest member's position above a multiple of the spacing.
    pub offset_hz: f64,
}

/// A crowd of carriers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClusterResult {
    /// Its lower edge.
    pub low_hz: f64,
    /// Its upper edge.
    pub high_hz: f64,
    /// How many carriers can be told apart.
    pub at_least: usize,
    /// Level of all of it, dBFS.
    pub level_db: f64,
}

/// Excess in one part of the passband.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BandExcess {
    /// Centre of the band.
    pub freq_hz: f64,
    /// Noise without lines, on over off.
    pub excess_db: f64,
    /// Its 95 % interval.
    pub excess_ci_db: [f64; 2],
}
