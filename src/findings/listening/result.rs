//! What the noise means to a listener, in the words of the machine-readable result: its cost, how the station stands
//! against published noise, the session's target, and what to be careful with.

use serde::{Deserialize, Serialize};

use crate::cautions::About;
use crate::findings::man_made::p372::{Category, Standing};
use crate::findings::target::judge::Outcome;

/// All of it; every list is empty where nothing could be said.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Listening {
    /// Of every comparison that is not void, what its noise costs.
    pub costs: Vec<ListeningCost>,
    /// Of every setting with a calibration, the station's noise against that of ITU-R P.372.
    pub station_noise: Vec<StationNoise>,
    /// What could not be told, and why, where a label shows that it was asked for.
    pub not_told: Vec<String>,
    /// Whether the session's target is met.
    pub target: Option<TargetResult>,
    /// What the manifest tells of supplies, checked.
    pub supplies: Vec<SupplyCheck>,
    /// What to be careful with, device by device.
    pub cautions: Vec<Caution>,
}

/// What the noise of one comparison costs a listener.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ListeningCost {
    /// Id of the comparison.
    pub contrast: String,
    /// SNR that a signal with the bandwidth of speech loses, dB; null where the passband is too narrow to tell.
    pub snr_loss_2500_db: Option<f64>,
    /// Its 95 % interval.
    pub snr_loss_2500_ci_db: Option<[f64; 2]>,
    /// SNR lost in the best 500 Hz of the passband; null where that can't be told (clicks, a narrow passband).
    pub snr_loss_500_best_db: Option<f64>,
    /// Its 95 % interval.
    pub snr_loss_500_best_ci_db: Option<[f64; 2]>,
    /// Middle of these 500 Hz.
    pub snr_loss_500_best_hz: Option<f64>,
    /// SNR lost in the worst 500 Hz.
    pub snr_loss_500_worst_db: Option<f64>,
    /// Its 95 % interval.
    pub snr_loss_500_worst_ci_db: Option<[f64; 2]>,
    /// Middle of these 500 Hz.
    pub snr_loss_500_worst_hz: Option<f64>,
    /// As what power a station of 100 W is heard now, W; null where no rise is sure.
    pub heard_100_w_as_w: Option<f64>,
    /// Its 95 % interval.
    pub heard_100_w_as_ci_w: Option<[f64; 2]>,
    /// Where the noise comes in clicks: how far the plain noise between them rose, dB.
    pub between_clicks_db: Option<f64>,
    /// The strongest added carrier over the noise in 500 Hz, dB.
    pub carrier_over_500_hz_db: Option<f64>,
    /// How strong a signal must be to be copied; null without an anchor.
    pub signal_needed: Option<SignalNeeded>,
}

/// What levels at the receiver's input hang on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AnchorKind {
    /// A known power.
    Dbm,
    /// The receiver's own reading.
    Meter,
}

/// The level a signal needs at the receiver's input, with the device off and on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SignalNeeded {
    /// What the levels hang on.
    pub anchor: AnchorKind,
    /// How far all of them may be off together, dB.
    pub tolerance_db: f64,
    /// SNR taken for speech in 2500 Hz, dB.
    pub speech_snr_db: f64,
    /// SNR taken for Morse by ear in 500 Hz, dB.
    pub morse_snr_db: f64,
    /// Speech, device off, dBm.
    pub speech_off_dbm: f64,
    /// Speech, device on, dBm.
    pub speech_on_dbm: f64,
    /// Morse, device off, dBm.
    pub morse_off_dbm: f64,
    /// Morse, device on, dBm.
    pub morse_on_dbm: f64,
    /// The same four as S values (IARU Region 1 recommendation R.1).
    pub speech_off_s: String,
    /// Speech, device on.
    pub speech_on_s: String,
    /// Morse, device off.
    pub morse_off_s: String,
    /// Morse, device on.
    pub morse_on_s: String,
}

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
    /// External noise figure as the short vertical of the Recommendation would have it.
    pub noise_figure_db: f64,
    /// Its interval: calibration and measurement together.
    pub noise_figure_ci_db: [f64; 2],
    /// The category whose median lies nearest.
    pub nearest: Category,
    /// dB over that median.
    pub over_median_db: f64,
    /// Where it stands in that category's spread.
    pub standing: Standing,
}

/// A category of ITU-R P.372 at one frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoiseCategory {
    /// Which.
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

/// What the session aims at, and how far it came.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetResult {
    /// Most dB of excess allowed, carriers and clicks counted.
    pub excess_db: Option<f64>,
    /// Whether no carrier may stand above the floor.
    pub no_carrier: bool,
    /// Strongest carrier allowed, dB over the noise in 1 Hz.
    pub carrier_cnr_db_hz: Option<f64>,
    /// How it stands.
    pub outcome: Outcome,
    /// Each device after its last remedy.
    pub devices: Vec<TargetDevice>,
    /// The largest thing left.
    pub largest_left: Option<LargestLeft>,
}

/// One device in one setting against the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetDevice {
    /// The device.
    pub device: String,
    /// Id of the setting.
    pub setting: String,
    /// Id of the comparison that was judged: that of the last remedy.
    pub contrast: String,
    /// That remedy.
    pub remedy: Option<String>,
    /// How it stands.
    pub outcome: Outcome,
    /// The conditions one by one, as sentences without a stop.
    pub why: Vec<String>,
}

/// A single thing that can be left of a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftKind {
    /// Its noise.
    Noise,
    /// Its noise, where it comes in clicks.
    Clicks,
    /// Its carriers.
    Carriers,
}

impl LeftKind {
    /// Its word in JSON and in sentences.
    pub fn word(self) -> &'static str {
        match self {
            Self::Noise => "noise",
            Self::Clicks => "clicks",
            Self::Carriers => "carriers",
        }
    }
}

/// The largest thing left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LargestLeft {
    /// The device.
    pub device: String,
    /// Id of the comparison.
    pub contrast: String,
    /// What of it.
    pub kind: LeftKind,
    /// By how many dB this alone lifts the noise of the passband.
    pub lifts_db: f64,
}

/// Whether a supply may be connected, by the figures told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SupplyVerdict {
    /// It fits.
    Fits,
    /// Something was not measured or told.
    Check,
    /// It must not be connected.
    Stop,
}

/// Figures of a supply against those on a device's label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyCheck {
    /// The device.
    pub device: String,
    /// The remedy it belongs to.
    pub remedy: Option<String>,
    /// Whether it may be connected.
    pub verdict: SupplyVerdict,
    /// What was found, worst first, as sentences.
    pub findings: Vec<String>,
}

/// What to be careful with before a remedy is tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// The device.
    pub device: String,
    /// What about.
    pub about: About,
    /// The caution, as sentences.
    pub text: String,
}
