//! The machine-readable result: every name in here is a promise to whoever reads `report.json`. Add, do not rename.
//!
//! Levels in dB, frequencies in Hz, times in seconds or RFC 3339. A figure that could not be had is `null`, with a
//! warning that says why. Everything the other writers (Markdown, CSV, post digest) print comes from here, so the
//! words can't say what the JSON does not.

mod budget;
mod episode;
mod known_noise;
mod ladder;
mod listening;
mod receiver_check;
mod switching_comb;

use serde::{Deserialize, Serialize};

pub use budget::{BudgetEntry, JointResult};
pub use episode::{
    Episode, LogEntry, LogMatch, NightCarrier, NightFacts, NightJoin, NightMinute, NightPattern, NightRecording,
    SwitchLog,
};
pub use known_noise::{Compared, KnownCandidate, KnownNoise};
pub use ladder::{
    Appeared, CarrierStep, ChokeForecast, ChokeResult, FollowedCarrier, Ladder, LadderStep, StepLine,
};
pub use listening::{
    Caution, LargestLeft, Listening, ListeningCost, NoiseCategory, NoiseLevel, SignalNeeded, StationNoise,
    SupplyCheck, TargetDevice, TargetResult,
};
pub use receiver_check::ReceiverCheckResult;
pub use switching_comb::{
    CombCandidate, CombMember, CombPlace, ListenAt, PredictedCarrier, RefusedComb, SwitchingComb,
};

use crate::health::{Trust, Warning};

/// All of a session's results.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Version of this layout: 1.
    pub schema: u32,
    /// What made it.
    pub tool: Tool,
    /// What it is about.
    pub session: SessionFacts,
    /// The settings recordings were compared within.
    pub settings: Vec<SettingFacts>,
    /// Every recording that was measured.
    pub recordings: Vec<RecordingResult>,
    /// Every comparison of on against off.
    pub contrasts: Vec<ContrastResult>,
    /// Remedies of one device in order.
    pub ladders: Vec<Ladder>,
    /// What each of several devices contributes.
    pub budget: Vec<BudgetEntry>,
    /// Devices recorded together, held against each by itself.
    #[serde(default)]
    pub joint: Vec<JointResult>,
    /// Families of carriers over the dial.
    pub switching_combs: Vec<SwitchingComb>,
    /// Carriers over the dial of which no spacing can be named, with the reason.
    pub switching_combs_refused: Vec<RefusedComb>,
    /// Stretches of a night in which a noise is present.
    pub episodes: Vec<Episode>,
    /// The night they belong to; only in the report of a night.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub night: Option<NightFacts>,
    /// What the noise means to a listener.
    #[serde(default)]
    pub listening: Listening,
    /// Whether the receiver follows its input; only where the manifest has a check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receiver_check: Option<ReceiverCheckResult>,
    /// Files that could not be used, with the reason.
    pub left_out: Vec<LeftOut>,
    /// The pictures beside the report.
    pub figures: Vec<FigureFile>,
    /// What concerns the session as a whole, guesses among it.
    pub warnings: Vec<Warning>,
}

/// Name and version of this program.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// "noisetally".
    pub name: String,
    /// Its version.
    pub version: String,
}

/// What the session is about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionFacts {
    /// Title from the manifest, else the folder's name.
    pub title: String,
    /// The mains frequency the analysis used.
    pub mains_hz: f64,
    /// The user's own words about receiver, antenna, earth.
    pub station: Option<String>,
}

/// What was equal between the recordings that were compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingFacts {
    /// "s1" …
    pub id: String,
    /// Dial frequency.
    pub dial_khz: Option<f64>,
    /// Band as labelled, where only that is known ("40 m").
    pub band: Option<String>,
    /// USB, LSB, CW, AM, FM.
    pub mode: Option<String>,
    /// Bandwidth as labelled.
    pub bandwidth_hz: Option<f64>,
    /// Antenna as labelled.
    pub antenna: Option<String>,
    /// Gain as labelled.
    pub gain: Option<String>,
}

/// One recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecordingResult {
    /// "r1" …, in the order of the session.
    pub id: String,
    /// File name relative to the session's folder.
    pub file: String,
    /// "off", "on" or "terminated".
    pub state: String,
    /// Device that is on, or whose off state this is.
    pub device: Option<String>,
    /// What was changed to quieten it.
    pub remedy: Option<String>,
    /// Id of its setting.
    pub setting: String,
    /// Start, RFC 3339.
    pub started: Option<String>,
    /// Length of what could be read.
    pub duration_s: f64,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Codec, such as "pcm_s16le" or "flac".
    pub codec: String,
    /// Channels in the file.
    pub channels: u16,
    /// Which were used: "mono", "mean of both", "left", "right" …
    pub channel_used: String,
    /// Edges of the passband.
    pub passband_hz: Option<[f64; 2]>,
    /// Level of everything in the file, dBFS.
    pub level_db: Option<f64>,
    /// The same at the receiver's input, dBm, where a recording of the setting has a `dbm` or `meter` label to hang it on.
    pub level_dbm: Option<f64>,
    /// That power as an S-meter reading by IARU Region 1 recommendation R.1: "S7", "S9+20 dB".
    pub s_reading: Option<String>,
    /// Median noise floor in the passband, dBFS in 1 Hz.
    pub floor_db_per_hz: Option<f64>,
    /// Wanted signals over the noise in the passband; null if none.
    pub snr_db: Option<f64>,
    /// The same against the noise in 2500 Hz.
    pub snr_2500_db: Option<f64>,
    /// Fourth over squared second moment of the power envelope in the passband.
    pub envelope_kurtosis: Option<f64>,
    /// Mean over median of that envelope: larger than plain noise has it where the power comes in pulses.
    pub envelope_mean_over_median: Option<f64>,
    /// Spectral kurtosis of the noise between lines and stations, from slice to slice: 1 for Gaussian noise, more for
    /// noise that comes and goes.
    pub spectral_kurtosis: Option<f64>,
    /// Single lines, strongest first.
    pub lines: Vec<LineResult>,
    /// What speaks against trusting it.
    pub warnings: Vec<Warning>,
    /// The user's note.
    pub note: Option<String>,
    /// The receiver's own reading, as noted.
    pub meter: Option<String>,
}

/// A line in one recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineResult {
    /// Audio frequency; for a drifting line, in the middle of the recording.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
    /// Carrier over noise density.
    pub cnr_db_hz: f64,
    /// Carrier over noise in the 2500 Hz reference bandwidth.
    pub snr_2500_db: f64,
    /// Share of the slices in which it stands.
    pub presence: f64,
    /// Drift.
    pub drift_hz_per_s: f64,
    /// Whether it carries sidebands at the mains rates.
    pub mains_sidebands: bool,
}

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
    /// none, hash, buzz, clicks, carriers, comb, mixed; "unclear" where it can't be told.
    pub character: String,
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

/// One kind of noise in the added power.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// hash, buzz, clicks, carriers or comb.
    pub character: String,
    /// Share of the added power, 0..1.
    pub share: f64,
}

/// The impulsive part of the added noise, as opposed to the white Gaussian one (ITU-R SM.1753-2). Both shares are the
/// least there is: impulses hardly stronger than the noise are counted to the Gaussian part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Impulsive {
    /// Share of the time in which it is there, 0..1, beyond that with the device off.
    pub time_share: f64,
    /// Its share of the added noise power, 0..1; lines left out.
    pub power_share: f64,
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

/// A file that could not be used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// Its name relative to the session's folder.
    pub file: String,
    /// Why, and what to do.
    pub reason: String,
}

/// A picture beside the report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FigureFile {
    /// Name of the PNG beside `report.md`.
    pub file: String,
    /// card, spectra, excess, spectrogram, envelope, apd, ladder, man-made-noise; timeline, waterfall.
    pub kind: String,
    /// Id of the contrast it shows.
    pub contrast: Option<String>,
    /// What it shows, as a sentence.
    pub caption: String,
}
