//! One recording as `report.json` has it.

use serde::{Deserialize, Serialize};

use crate::labels::{Fields, Label, Start, State, printable};
use crate::signal::recording::Measured;
use crate::signal::spectrum::Line;
use crate::units::{Dbfs, REFERENCE_BANDWIDTH_HZ, in_db};
use crate::warning::Warning;

/// One recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecordingResult {
    /// "r1" …, in the order of the session.
    pub id: String,
    /// File name relative to the session's folder.
    pub file: String,
    /// State of the device; null where a recording is described by itself and no label tells one.
    pub state: Option<State>,
    /// Device that is on, or whose off state this is.
    pub device: Option<String>,
    /// What was changed to quieten it.
    pub remedy: Option<String>,
    /// Id of its setting.
    pub setting: String,
    /// Start, RFC 3339; without `Z` where nothing tells its offset from UTC.
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
    /// The same at the receiver's input, dBm, where a recording of the setting has a `dbm` or `meter` label to hang
    /// it on.
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
    /// Spectral kurtosis of the noise between lines and stations, from slice to slice: 1 for Gaussian noise, more
    /// for noise that comes and goes.
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

impl RecordingResult {
    /// With its level at the receiver's input (dBm, and as an S-meter shows it), where that is known.
    pub fn of(label: &Label, one: &Measured, reading: Option<(f64, String)>) -> Self {
        let Label { id, file, state, fields, setting, .. } = label;
        Self {
            id: id.clone(),
            setting: setting.clone(),
            ..Self::labelled(file, Some(*state), fields, one, reading)
        }
    }

    /// The same of a recording by itself, without id and setting.
    pub fn labelled(
        file: &str,
        state: Option<State>,
        label: &Fields,
        one: &Measured,
        reading: Option<(f64, String)>,
    ) -> Self {
        let sound = &one.measurement;
        let in_2500_hz = |snr_db: f64| {
            let width_hz = sound.passband.map_or(REFERENCE_BANDWIDTH_HZ, |p| p.width_hz());
            snr_db + in_db(width_hz / REFERENCE_BANDWIDTH_HZ)
        };
        let snr_db = sound.snr().map(|snr| snr.0);
        Self {
            id: String::new(),
            file: printable(file),
            state,
            device: label.device.clone(),
            remedy: label.remedy.clone(),
            setting: String::new(),
            started: label.started.map(Start::to_toml).or_else(|| one.facts.started.clone()),
            duration_s: sound.duration_s,
            sample_rate_hz: one.facts.sample_rate_hz,
            codec: one.facts.codec.clone(),
            channels: one.facts.channels,
            channel_used: one.account.channel_used.clone(),
            passband_hz: sound.passband.map(|p| [p.low_hz, p.high_hz]),
            level_db: sound.level.map(|level| level.0),
            level_dbm: reading.as_ref().map(|(dbm, _)| *dbm),
            s_reading: reading.map(|(_, reading)| reading),
            floor_db_per_hz: sound.floor_level().map(|level| level.0),
            snr_db,
            snr_2500_db: snr_db.map(in_2500_hz),
            envelope_kurtosis: sound.envelope.as_ref().map(|envelope| envelope.kurtosis),
            envelope_mean_over_median: sound.envelope.as_ref().map(|envelope| envelope.mean_over_median),
            spectral_kurtosis: sound.noise_kurtosis(),
            lines: sound.lines.iter().map(line_result).collect(),
            warnings: sound.warnings.clone(),
            note: label.note.clone(),
            meter: label.meter.clone(),
        }
    }
}

fn line_result(line: &Line) -> LineResult {
    LineResult {
        freq_hz: line.freq_hz,
        level_db: Dbfs::from_mean_square(line.power).0,
        cnr_db_hz: line.cnr_db_hz(),
        snr_2500_db: line.cnr_db_hz() - in_db(REFERENCE_BANDWIDTH_HZ),
        presence: line.presence,
        drift_hz_per_s: line.drift_hz_per_s,
        mains_sidebands: line.mains_sidebands,
    }
}
