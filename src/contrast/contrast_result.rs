//! A planned comparison in the words of `report.json`. Not here: the types (`comparison`).

use std::collections::BTreeMap;

use super::comparison::{AddedLine, BandExcess, ClusterResult, CombResult, ContrastResult, GainReference};
use super::{Contrast, DeviceLine, Figures};
use crate::labels::{Plan, Session, printable};
use crate::signal::recording::Measured;
use crate::signal::spectrum::Line;
use crate::units::{Dbfs, Estimate};
use crate::warning::{Code, Warning};

impl ContrastResult {
    /// With the faults of single recordings of the session that spoil it.
    pub fn in_session(
        plan: &Plan,
        contrast: &Contrast,
        session: &Session,
        measured: &BTreeMap<String, Measured>,
    ) -> Self {
        let mut result = Self::of(plan, contrast);
        for index in &contrast.set_aside {
            result.warnings.push(set_aside(&plan.off[*index], session));
        }
        result.warnings.extend(spoilt_recordings(plan, contrast, session, measured));
        result
    }

    /// A contrast in the contract's words; of the warnings, the plan's and its own.
    pub fn of(plan: &Plan, contrast: &Contrast) -> Self {
        let mut result = Self {
            id: plan.id.clone(),
            device: plan.device.clone(),
            remedy: plan.remedy.clone(),
            setting: plan.setting.clone(),
            off: plan.off.clone(),
            on: plan.on.clone(),
            excess_db: None,
            excess_ci_db: None,
            total_excess_db: None,
            detection_limit_db: None,
            passband_hz: None,
            gain_reference: None,
            added_level_db: None,
            character: super::Character::Unclear,
            confidence: 0.0,
            parts: Vec::new(),
            mains_rate_hz: None,
            pulse_rate_hz: None,
            pulses_regular: None,
            pulse_period_s: None,
            pulse_period_ci_s: None,
            impulsive: None,
            evidence: Vec::new(),
            added_lines: Vec::new(),
            lost_lines: Vec::new(),
            lost_lines_masked: false,
            comb: None,
            cluster: None,
            uncounted_db: None,
            snr_loss_db: None,
            receiver_margin_db: None,
            receiver_margin_ci_db: None,
            excess_corrected_db: None,
            excess_corrected_ci_db: None,
            known_noise: None,
            bands: Vec::new(),
            trust: contrast.trust,
            warnings: plan.warnings.iter().chain(&contrast.warnings).cloned().collect(),
        };
        if let Some(figures) = &contrast.figures {
            fill(&mut result, figures);
        }
        result
    }
}

fn fill(result: &mut ContrastResult, figures: &Figures) {
    let excess = figures.excess_db();
    let verdict = &figures.verdict;
    let lines = &figures.lines;
    result.excess_db = Some(excess.value);
    result.excess_ci_db = Some([excess.ci95.0, excess.ci95.1]);
    result.total_excess_db = Some(figures.total_db);
    result.detection_limit_db = Some(figures.excess.limit_db).filter(|limit| limit.is_finite());
    result.passband_hz = Some([figures.passband.low_hz, figures.passband.high_hz]);
    result.gain_reference = figures.reference.map(|(freq_hz, shift_db)| GainReference { freq_hz, shift_db });
    result.added_level_db = (verdict.added_power > 0.0).then(|| Dbfs::from_mean_square(verdict.added_power).0);
    result.character = verdict.character;
    result.confidence = verdict.confidence;
    result.parts = verdict.parts.clone();
    result.mains_rate_hz = verdict.mains_rate_hz;
    result.pulse_rate_hz = verdict.pulse_rate_hz;
    result.pulses_regular = verdict.pulses_regular;
    result.pulse_period_s = verdict.pulse_period_s.map(|period| period.value);
    result.pulse_period_ci_s = verdict.pulse_period_s.map(|period| [period.ci95.0, period.ci95.1]);
    result.impulsive = verdict.impulsive;
    result.evidence = verdict.evidence.clone();
    result.added_lines = lines.added.iter().map(|found: &DeviceLine| changed_line(&found.line)).collect();
    result.lost_lines = lines.lost.iter().map(changed_line).collect();
    result.lost_lines_masked = lines.lost_masked;
    result.comb = lines.comb.as_ref().map(|comb| CombResult {
        spacing_hz: comb.spacing_hz,
        lines: comb.members.len(),
        offset_hz: comb.offset_hz,
    });
    result.cluster = figures.cluster.map(|cluster| ClusterResult {
        low_hz: cluster.span_hz.0,
        high_hz: cluster.span_hz.1,
        at_least: cluster.at_least,
        level_db: Dbfs::from_mean_square(cluster.power).0,
    });
    result.uncounted_db = Some(figures.uncounted.db(&figures.excess, figures.passband.width_hz()));
    // What the noise in the passband rises, a wanted signal stands lower above it.
    result.snr_loss_db = Some(excess.value);
    if let Some(receiver) = &figures.receiver {
        let ends = |estimate: &Estimate| [estimate.ci95.0, estimate.ci95.1];
        result.receiver_margin_db = Some(receiver.margin.value);
        result.receiver_margin_ci_db = Some(ends(&receiver.margin));
        result.excess_corrected_db = receiver.corrected.as_ref().map(|e| e.value);
        result.excess_corrected_ci_db = receiver.corrected.as_ref().map(ends);
    }
    result.bands = figures
        .excess
        .bands
        .iter()
        .map(|band| {
            let excess = band.by(figures.counts_clicks());
            BandExcess { freq_hz: band.freq_hz, excess_db: excess.value, excess_ci_db: excess.ends() }
        })
        .collect();
}

fn changed_line(line: &Line) -> AddedLine {
    AddedLine {
        freq_hz: line.freq_hz,
        level_db: Dbfs::from_mean_square(line.power).0,
        cnr_db_hz: line.cnr_db_hz(),
        drift_hz_per_s: line.drift_hz_per_s,
        presence: line.presence,
        mains_sidebands: line.mains_sidebands,
    }
}

fn file_of(id: &str, session: &Session) -> String {
    session.recordings.iter().find(|label| label.id == id).map_or_else(|| id.to_owned(), |l| printable(&l.file))
}

fn set_aside(id: &str, session: &Session) -> Warning {
    Warning::new(
        Code::SetAside,
        format!(
            "{} was set aside: it stands apart from the other off recordings, which agree (a voice, a station or a \
             gain that moved in it).",
            file_of(id, session)
        ),
    )
}

/// Faults of single recordings that make this contrast less than sound, named once more where they matter.
fn spoilt_recordings(
    plan: &Plan,
    contrast: &Contrast,
    session: &Session,
    measured: &BTreeMap<String, Measured>,
) -> Vec<Warning> {
    let off =
        plan.off.iter().enumerate().filter(|(index, _)| !contrast.set_aside.contains(index)).map(|(_, id)| id);
    off.chain(&plan.on)
        .flat_map(|id| {
            measured[id]
                .measurement
                .warnings
                .iter()
                .filter(|w| contrast.spoilt_by.contains(&w.code))
                .map(move |w| Warning::new(w.code, format!("{}: {}", file_of(id, session), w.message)))
        })
        .collect()
}
