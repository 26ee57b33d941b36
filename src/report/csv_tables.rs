//! The results as tables for a spreadsheet: contrasts, and every line of every recording; and how a table is
//! written. A figure that could not be had is an empty field; units stand in the heads, which are the names of a
//! row's fields.

use serde::Serialize;

use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::rows::ListeningColumns;
use crate::labels::{Setting, State};
use crate::report::contract::Report;
use crate::signal::recording_result::{LineResult, RecordingResult};
use crate::text::csv::{Figure, table};
use crate::warning::Trust;

/// A contrast a row. Lists (recordings, warning codes) are separated by blanks within their field.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn contrasts_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let listening = ListeningColumns::of(&report.listening);
    table(report.contrasts.iter().map(|contrast| (ContrastRow::of(contrast, &report), listening.row(contrast))))
}

#[derive(Default, Serialize)]
struct ContrastRow<'a> {
    id: &'a str,
    device: &'a str,
    remedy: Option<&'a str>,
    setting: &'a str,
    dial_khz: Figure,
    off: String,
    on: String,
    trust: Option<Trust>,
    character: Option<Character>,
    confidence: Figure,
    excess_db: Figure,
    excess_ci_low_db: Figure,
    excess_ci_high_db: Figure,
    total_excess_db: Figure,
    detection_limit_db: Figure,
    snr_loss_db: Figure,
    added_level_db: Figure,
    passband_low_hz: Figure,
    passband_high_hz: Figure,
    mains_rate_hz: Figure,
    pulse_rate_hz: Figure,
    added_lines: usize,
    lost_lines: usize,
    comb_spacing_hz: Figure,
    comb_lines: Option<usize>,
    gain_reference_hz: Figure,
    gain_shift_db: Figure,
    warnings: String,
    impulsive_time_share: Figure,
    impulsive_power_share: Figure,
    receiver_margin_db: Figure,
    excess_corrected_db: Figure,
    bought_db: Figure,
    bought_ci_low_db: Figure,
    bought_ci_high_db: Figure,
    attenuation_db: Figure,
    ferrites: Option<u32>,
    turns: Option<u32>,
    share: Figure,
    without_db: Figure,
}

impl<'a> ContrastRow<'a> {
    fn of(c: &'a ContrastResult, report: &'a Report) -> Self {
        // Where a contrast is a step of a ladder: what it bought; where it stands in a budget: its share.
        let step = report.ladders.iter().flat_map(|ladder| &ladder.steps).find(|step| step.contrast == c.id);
        let entry = report.budget.iter().find(|entry| entry.contrast == c.id);
        Self {
            id: &c.id,
            device: &c.device,
            remedy: c.remedy.as_deref(),
            setting: &c.setting,
            dial_khz: report.comparisons().setting(&c.setting).and_then(|s| s.dial_khz).into(),
            off: c.off.join(" "),
            on: c.on.join(" "),
            trust: Some(c.trust),
            character: Some(c.character),
            confidence: c.confidence.into(),
            excess_db: c.excess_db.into(),
            excess_ci_low_db: c.excess_ci_db.map(|ci| ci[0]).into(),
            excess_ci_high_db: c.excess_ci_db.map(|ci| ci[1]).into(),
            total_excess_db: c.total_excess_db.into(),
            detection_limit_db: c.detection_limit_db.into(),
            snr_loss_db: c.snr_loss_db.into(),
            added_level_db: c.added_level_db.into(),
            passband_low_hz: c.passband_hz.map(|p| p[0]).into(),
            passband_high_hz: c.passband_hz.map(|p| p[1]).into(),
            mains_rate_hz: c.mains_rate_hz.into(),
            pulse_rate_hz: c.pulse_rate_hz.into(),
            added_lines: c.added_lines.len(),
            lost_lines: c.lost_lines.len(),
            comb_spacing_hz: c.comb.as_ref().map(|comb| comb.spacing_hz).into(),
            comb_lines: c.comb.as_ref().map(|comb| comb.lines),
            gain_reference_hz: c.gain_reference.as_ref().map(|g| g.freq_hz).into(),
            gain_shift_db: c.gain_reference.as_ref().map(|g| g.shift_db).into(),
            warnings: c.warnings.iter().map(|w| w.code.word()).collect::<Vec<_>>().join(" "),
            impulsive_time_share: c.impulsive.as_ref().map(|i| i.time_share).into(),
            impulsive_power_share: c.impulsive.as_ref().map(|i| i.power_share).into(),
            receiver_margin_db: c.receiver_margin_db.into(),
            excess_corrected_db: c.excess_corrected_db.into(),
            bought_db: step.and_then(|s| s.bought_db).into(),
            bought_ci_low_db: step.and_then(|s| s.bought_ci_db).map(|ci| ci[0]).into(),
            bought_ci_high_db: step.and_then(|s| s.bought_ci_db).map(|ci| ci[1]).into(),
            attenuation_db: step.and_then(|s| s.attenuation_db).into(),
            ferrites: step.and_then(|s| s.ferrites),
            turns: step.and_then(|s| s.turns),
            share: entry.map(|e| e.share).into(),
            without_db: entry.and_then(|e| e.without_db).into(),
        }
    }
}

/// A line a row, in the order of the recordings, strongest first within each.
///
/// `rf_khz` is where the line stands on the air: dial plus audio frequency in USB, dial minus it in LSB, else
/// empty.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn lines_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    table(report.recordings.iter().flat_map(|recording| {
        let setting = report.comparisons().setting(&recording.setting);
        recording.lines.iter().map(move |line| LineRow::of(recording, line, setting))
    }))
}

#[derive(Default, Serialize)]
struct LineRow<'a> {
    recording: &'a str,
    file: &'a str,
    state: Option<State>,
    device: Option<&'a str>,
    remedy: Option<&'a str>,
    setting: &'a str,
    freq_hz: Figure,
    rf_khz: Option<String>,
    level_db: Figure,
    cnr_db_hz: Figure,
    snr_2500_db: Figure,
    presence: Figure,
    drift_hz_per_s: Figure,
    mains_sidebands: bool,
}

impl<'a> LineRow<'a> {
    fn of(recording: &'a RecordingResult, line: &LineResult, setting: Option<&Setting>) -> Self {
        Self {
            recording: &recording.id,
            file: &recording.file,
            state: recording.state,
            device: recording.device.as_deref(),
            remedy: recording.remedy.as_deref(),
            setting: &recording.setting,
            freq_hz: line.freq_hz.into(),
            rf_khz: setting.and_then(|s| s.on_air_khz(line.freq_hz)).map(|khz| format!("{khz:.4}")),
            level_db: line.level_db.into(),
            cnr_db_hz: line.cnr_db_hz.into(),
            snr_2500_db: line.snr_2500_db.into(),
            presence: line.presence.into(),
            drift_hz_per_s: line.drift_hz_per_s.into(),
            mains_sidebands: line.mains_sidebands,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::sample_report;
    use super::*;
    use crate::findings::switching_comb::result::{CombMember, SwitchingComb};
    use crate::findings::switching_comb::rows::switching_combs_csv;

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

    #[test]
    fn members_and_outsiders_of_a_comb_have_a_row_each() {
        let member = CombMember { rf_hz: 7_010_986.8, harmonic: 109, residual_hz: -2.561, recording: "r3".into() };
        let mut report = sample_report();
        report.switching_combs = vec![SwitchingComb {
            device: "shed heater".into(),
            spacing_hz: 64_321.003_3,
            spacing_ci_hz: [64_320.99, 64_321.02],
            members: vec![member],
            outsiders: vec![17_121_000.0],
            ..SwitchingComb::default()
        }];
        let text = switching_combs_csv(&report.published().switching_combs).unwrap();
        let rows: Vec<&str> = text.lines().skip(1).collect();
        assert_eq!(rows[0], "shed heater,64321.003,64320.99,64321.02,member,7010986.8,109,-2.56,r3");
        assert_eq!(rows[1], "shed heater,64321.003,64320.99,64321.02,outsider,17121000,,,");
    }
}
