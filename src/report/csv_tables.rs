//! The results as tables for a spreadsheet: contrasts, and every line of every recording.
//! A figure that could not be had is an empty field; units stand in the heads.

use crate::contrast::comparison::ContrastResult;
use crate::labels::facts::SettingFacts;
use crate::report::contract::Report;
use crate::report::words::code_name;
use crate::signal::recording_result::{LineResult, RecordingResult};
use crate::warning::Trust;

use crate::findings::listening::rows::{LISTENING_HEADS, ListeningColumns};

/// A contrast a row. Lists (recordings, warning codes) are separated by blanks within their field.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn contrasts_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let mut table = csv::Writer::from_writer(Vec::new());
    let head = [
        "id",
        "device",
        "remedy",
        "setting",
        "dial_khz",
        "off",
        "on",
        "trust",
        "character",
        "confidence",
        "excess_db",
        "excess_ci_low_db",
        "excess_ci_high_db",
        "total_excess_db",
        "detection_limit_db",
        "snr_loss_db",
        "added_level_db",
        "passband_low_hz",
        "passband_high_hz",
        "mains_rate_hz",
        "pulse_rate_hz",
        "added_lines",
        "lost_lines",
        "comb_spacing_hz",
        "comb_lines",
        "gain_reference_hz",
        "gain_shift_db",
        "warnings",
        "impulsive_time_share",
        "impulsive_power_share",
        "receiver_margin_db",
        "excess_corrected_db",
        "bought_db",
        "bought_ci_low_db",
        "bought_ci_high_db",
        "attenuation_db",
        "ferrites",
        "turns",
        "share",
        "without_db",
    ];
    let listening = ListeningColumns::of(&report);
    table.write_record(head.iter().chain(&LISTENING_HEADS))?;
    for contrast in &report.contrasts {
        let mut row = contrast_row(contrast, report.comparisons().setting(&contrast.setting));
        row.extend(step_fields(&report, &contrast.id));
        table.write_record(row.into_iter().chain(listening.row(contrast)))?;
    }
    text_of(table)
}

/// A line a row, in the order of the recordings, strongest first within each.
///
/// `rf_khz` is where the line stands on the air: dial plus audio frequency in USB, dial minus it in LSB, else empty.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn lines_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record([
        "recording",
        "file",
        "state",
        "device",
        "remedy",
        "setting",
        "freq_hz",
        "rf_khz",
        "level_db",
        "cnr_db_hz",
        "snr_2500_db",
        "presence",
        "drift_hz_per_s",
        "mains_sidebands",
    ])?;
    for recording in &report.recordings {
        let setting = report.comparisons().setting(&recording.setting);
        for line in &recording.lines {
            table.write_record(line_row(recording, line, setting))?;
        }
    }
    text_of(table)
}

/// Trust as the JSON has it.
pub(crate) fn trust_name(trust: Trust) -> &'static str {
    match trust {
        Trust::Sound => "sound",
        Trust::Doubtful => "doubtful",
        Trust::Void => "void",
    }
}

fn contrast_row(c: &ContrastResult, setting: Option<&SettingFacts>) -> Vec<String> {
    vec![
        c.id.clone(),
        c.device.clone(),
        c.remedy.clone().unwrap_or_default(),
        c.setting.clone(),
        field(setting.and_then(|s| s.dial_khz)),
        c.off.join(" "),
        c.on.join(" "),
        trust_name(c.trust).to_owned(),
        c.character.code().to_owned(),
        c.confidence.to_string(),
        field(c.excess_db),
        field(c.excess_ci_db.map(|ci| ci[0])),
        field(c.excess_ci_db.map(|ci| ci[1])),
        field(c.total_excess_db),
        field(c.detection_limit_db),
        field(c.snr_loss_db),
        field(c.added_level_db),
        field(c.passband_hz.map(|p| p[0])),
        field(c.passband_hz.map(|p| p[1])),
        field(c.mains_rate_hz),
        field(c.pulse_rate_hz),
        c.added_lines.len().to_string(),
        c.lost_lines.len().to_string(),
        field(c.comb.as_ref().map(|comb| comb.spacing_hz)),
        c.comb.as_ref().map_or_else(String::new, |comb| comb.lines.to_string()),
        field(c.gain_reference.as_ref().map(|g| g.freq_hz)),
        field(c.gain_reference.as_ref().map(|g| g.shift_db)),
        c.warnings.iter().map(|w| code_name(w.code)).collect::<Vec<_>>().join(" "),
        field(c.impulsive.as_ref().map(|i| i.time_share)),
        field(c.impulsive.as_ref().map(|i| i.power_share)),
        field(c.receiver_margin_db),
        field(c.excess_corrected_db),
    ]
}

/// Where a contrast is a step of a ladder: what it bought; where it stands in a budget: its share.
fn step_fields(report: &Report, id: &str) -> [String; 8] {
    let step = report.ladders.iter().flat_map(|ladder| &ladder.steps).find(|step| step.contrast == id);
    let entry = report.budget.iter().find(|entry| entry.contrast == id);
    let whole = |value: Option<u32>| value.map_or_else(String::new, |v| v.to_string());
    [
        field(step.and_then(|s| s.bought_db)),
        field(step.and_then(|s| s.bought_ci_db).map(|ci| ci[0])),
        field(step.and_then(|s| s.bought_ci_db).map(|ci| ci[1])),
        field(step.and_then(|s| s.attenuation_db)),
        whole(step.and_then(|s| s.ferrites)),
        whole(step.and_then(|s| s.turns)),
        field(entry.map(|e| e.share)),
        field(entry.and_then(|e| e.without_db)),
    ]
}

fn line_row(recording: &RecordingResult, line: &LineResult, setting: Option<&SettingFacts>) -> Vec<String> {
    vec![
        recording.id.clone(),
        recording.file.clone(),
        recording.state.to_string(),
        recording.device.clone().unwrap_or_default(),
        recording.remedy.clone().unwrap_or_default(),
        recording.setting.clone(),
        line.freq_hz.to_string(),
        setting.and_then(|s| s.on_air_khz(line.freq_hz)).map_or_else(String::new, |khz| format!("{khz:.4}")),
        line.level_db.to_string(),
        line.cnr_db_hz.to_string(),
        line.snr_2500_db.to_string(),
        line.presence.to_string(),
        line.drift_hz_per_s.to_string(),
        line.mains_sidebands.to_string(),
    ]
}

pub(crate) fn field(value: Option<f64>) -> String {
    value.map_or_else(String::new, |v| v.to_string())
}

pub(crate) fn text_of(table: csv::Writer<Vec<u8>>) -> Result<String, csv::Error> {
    let bytes = table.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    String::from_utf8(bytes).map_err(|e| std::io::Error::new(std::io::ErrorKind::InvalidData, e).into())
}

#[cfg(test)]
mod tests {
    use super::super::sample::sample_report;
    use super::*;

    /// Rows as maps from head to field, read by the csv crate.
    fn read_back(text: &str) -> Vec<std::collections::BTreeMap<String, String>> {
        csv::Reader::from_reader(text.as_bytes()).deserialize().map(|row| row.unwrap()).collect()
    }

    #[test]
    fn contrasts_read_back_as_they_were() {
        let mut report = sample_report();
        report.contrasts[0].device = "pump, \"old\"\nby the pond".into();
        report.contrasts[1].excess_db = None;
        report.contrasts[1].excess_ci_db = None;
        report.contrasts[2].excess_db = Some(-0.001);
        let rows = read_back(&contrasts_csv(&report).unwrap());
        assert_eq!(rows.len(), report.contrasts.len());
        assert_eq!(rows[0]["device"], "pump, \"old\"\nby the pond");
        assert_eq!(rows[0]["excess_db"], "14.21");
        assert_eq!(rows[0]["excess_ci_low_db"], "13.91");
        assert_eq!(rows[0]["off"], "r1 r2");
        assert_eq!(rows[0]["dial_khz"], "14100");
        assert_eq!(rows[1]["excess_db"], "");
        assert_eq!(rows[2]["excess_db"], "0");
        assert_eq!(rows[3]["added_lines"], "2");
        assert_eq!((rows[4]["trust"].as_str(), rows[4]["warnings"].as_str()), ("void", "clipped"));
    }

    #[test]
    fn every_line_of_every_recording_is_there() {
        let report = sample_report();
        let rows = read_back(&lines_csv(&report).unwrap());
        assert_eq!(rows.len(), report.recordings.iter().map(|r| r.lines.len()).sum::<usize>());
        assert_eq!(rows[0]["freq_hz"], "1000.12");
        assert_eq!(rows[0]["rf_khz"], "14101.0001");
        assert_eq!(rows[0]["level_db"], "-50.21");
        assert_eq!(rows[0]["drift_hz_per_s"], "0");
    }
}
