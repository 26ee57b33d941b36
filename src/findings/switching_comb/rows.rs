//! Families of carriers over the dial as a table for a spreadsheet: one row a carrier, heard or to be expected.

use crate::report::contract::Report;

/// Heads of the columns.
const HEADS: [&str; 9] = [
    "device",
    "spacing_hz",
    "spacing_ci_low_hz",
    "spacing_ci_high_hz",
    "carrier",
    "rf_hz",
    "harmonic",
    "residual_or_within_hz",
    "recording",
];

/// A carrier a row; `carrier` is member, missing, outsider or predicted. `residual_or_within_hz` is how far a member lies
/// above its place, or how far off a predicted one may be.
///
/// # Errors
/// None in practice: the table grows in memory.
pub fn switching_combs_csv(report: &Report) -> Result<String, csv::Error> {
    let report = report.published();
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(HEADS)?;
    for comb in &report.switching_combs {
        let mut row =
            |carrier: &str, rf_hz: f64, harmonic: Option<i64>, beside_hz: Option<f64>, recording: &str| {
                table.write_record([
                    comb.device.clone(),
                    comb.spacing_hz.to_string(),
                    comb.spacing_ci_hz[0].to_string(),
                    comb.spacing_ci_hz[1].to_string(),
                    carrier.to_owned(),
                    rf_hz.to_string(),
                    harmonic.map_or_else(String::new, |k| k.to_string()),
                    beside_hz.map_or_else(String::new, |hz| hz.to_string()),
                    recording.to_owned(),
                ])
            };
        for m in &comb.members {
            row("member", m.rf_hz, Some(m.harmonic), Some(m.residual_hz), &m.recording)?;
        }
        for m in &comb.missing {
            row("missing", m.rf_hz, Some(m.harmonic), None, &m.recording)?;
        }
        for &hz in &comb.outsiders {
            row("outsider", hz, None, None, "")?;
        }
        for p in comb.predicted.iter().filter(|p| !p.missing) {
            row("predicted", p.rf_hz, Some(p.harmonic), Some(p.within_hz), "")?;
        }
    }
    let bytes = table.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    String::from_utf8(bytes).map_err(|e| std::io::Error::new(std::io::ErrorKind::InvalidData, e).into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::switching_comb::result::{CombMember, SwitchingComb};
    use crate::report::sample::sample_report;

    #[test]
    fn members_and_outsiders_have_a_row_each() {
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
        let text = switching_combs_csv(&report).unwrap();
        let rows: Vec<&str> = text.lines().skip(1).collect();
        assert_eq!(rows[0], "shed heater,64321.003,64320.99,64321.02,member,7010986.8,109,-2.56,r3");
        assert_eq!(rows[1], "shed heater,64321.003,64320.99,64321.02,outsider,17121000,,,");
    }
}
