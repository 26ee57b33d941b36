//! What the noise means to a listener, in the words of the machine-readable result: its cost, how the station
//! stands against published noise, the session's target, and what to be careful with.

use serde::{Deserialize, Serialize};

use crate::findings::man_made::result::StationNoise;
use crate::findings::supply::result::{Caution, SupplyCheck};
use crate::findings::target::result::TargetResult;

/// All of it; every list is empty where nothing could be said.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Listening {
    /// Of every comparison that is not void, what its noise costs.
    pub costs: Vec<ListeningCost>,
    /// Of every setting with a calibration, the station's noise against that of ITU-R P.372.
    pub station_noise: Vec<StationNoise>,
    /// What could not be determined, and why, where a label shows that it was asked for.
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
