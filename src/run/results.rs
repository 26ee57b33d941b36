//! From measurements and contrasts to the words of the JSON contract.

use std::collections::BTreeMap;

use crate::contrast::comparison::{AddedLine, BandExcess, CombResult, ContrastResult, GainReference};
use crate::contrast::{Character, Contrast, Figures, Found};
use crate::findings::anchor::Anchors;
use crate::findings::budget::select as budget;
use crate::findings::ladder::gather::{Known, ladders};
use crate::findings::switching_comb::gather::switching_combs;
use crate::labels::facts::{LeftOut, SessionFacts, SettingFacts};
use crate::labels::{Label, Plan, Session, printable};
use crate::report::contract::{Report, Tool};
use crate::signal::recording::Measured;
use crate::signal::recording_result::{LineResult, RecordingResult};
use crate::signal::spectrum::Line;
use crate::units::{Dbfs, Estimate, REFERENCE_BANDWIDTH_HZ};
use crate::warning::{Code, Warning};

/// The session's results, without figures.
pub fn report(
    session: &Session,
    measured: &BTreeMap<String, Measured>,
    contrasts: &[(Plan, Contrast)],
    mains_hz: f64,
) -> Report {
    let (combs, refused) = switching_combs(session, measured, contrasts);
    let results: Vec<ContrastResult> =
        contrasts.iter().map(|(plan, contrast)| contrast_result(plan, contrast, session, measured)).collect();
    let anchors = Anchors::of(session, measured);
    let ladders = ladders(&Known { session, measured, contrasts, results: &results, anchors: &anchors });
    let budgets = budget::budgets(contrasts);
    let listening = crate::findings::listening::gather::listening(session, measured, contrasts, &results, &anchors);
    Report {
        schema: 1,
        tool: Tool { name: env!("CARGO_PKG_NAME").to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() },
        session: SessionFacts { title: session.title.clone(), mains_hz, station: session.station.clone() },
        settings: session.settings.iter().map(setting_facts).collect(),
        recordings: session
            .recordings
            .iter()
            .filter_map(|label| measured.get(&label.id).map(|one| recording_result(label, one, &anchors)))
            .collect(),
        ladders,
        contrasts: results,
        budget: budgets.shares,
        joint: budgets.joint,
        switching_combs: combs,
        switching_combs_refused: refused,
        episodes: Vec::new(),
        night: None,
        listening,
        receiver_check: None,
        left_out: session
            .left_out
            .iter()
            .map(|(file, reason)| LeftOut { file: printable(file), reason: reason.clone() })
            .collect(),
        figures: Vec::new(),
        warnings: session.warnings.iter().cloned().chain(budgets.warnings).collect(),
    }
}

fn setting_facts(setting: &crate::labels::Setting) -> SettingFacts {
    SettingFacts {
        id: setting.id.clone(),
        dial_khz: setting.dial_khz,
        band: setting.band.clone(),
        mode: setting.mode,
        bandwidth_hz: setting.bandwidth_hz,
        antenna: setting.antenna.clone(),
        gain: setting.gain.clone(),
    }
}

fn recording_result(label: &Label, one: &Measured, anchors: &Anchors) -> RecordingResult {
    let sound = &one.sound;
    let in_2500_hz = |snr_db: f64| {
        let width_hz = sound.passband.map_or(REFERENCE_BANDWIDTH_HZ, |p| p.width_hz());
        snr_db + 10.0 * (width_hz / REFERENCE_BANDWIDTH_HZ).log10()
    };
    let snr_db = sound.snr().map(|snr| snr.0);
    let reading = sound.level.and_then(|level| anchors.reading(&label.setting, level.0));
    RecordingResult {
        id: label.id.clone(),
        file: printable(&label.file),
        state: label.state,
        device: label.device.clone(),
        remedy: label.remedy.clone(),
        setting: label.setting.clone(),
        started: label.started.map(|start| start.at.to_string()).or_else(|| one.facts.started.clone()),
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

fn line_result(line: &Line) -> LineResult {
    LineResult {
        freq_hz: line.freq_hz,
        level_db: Dbfs::from_mean_square(line.power).0,
        cnr_db_hz: line.cnr_db_hz(),
        snr_2500_db: line.cnr_db_hz() - 10.0 * REFERENCE_BANDWIDTH_HZ.log10(),
        presence: line.presence,
        drift_hz_per_s: line.drift_hz_per_s,
        mains_sidebands: line.mains_sidebands,
    }
}

fn contrast_result(
    plan: &Plan,
    contrast: &Contrast,
    session: &Session,
    measured: &BTreeMap<String, Measured>,
) -> ContrastResult {
    let mut result = result_of(plan, contrast);
    for index in &contrast.set_aside {
        result.warnings.push(set_aside(&plan.off[*index], session));
    }
    result.warnings.extend(spoilt_recordings(plan, contrast, session, measured));
    result
}

/// A contrast in the contract's words; of the warnings, the plan's and its own.
pub(crate) fn result_of(plan: &Plan, contrast: &Contrast) -> ContrastResult {
    let mut result = ContrastResult {
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
        character: Character::Unclear,
        confidence: 0.0,
        parts: Vec::new(),
        mains_rate_hz: None,
        pulse_rate_hz: None,
        pulses_regular: None,
        impulsive: None,
        evidence: Vec::new(),
        added_lines: Vec::new(),
        lost_lines: Vec::new(),
        lost_lines_masked: false,
        comb: None,
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
    result.impulsive = verdict.impulsive;
    result.evidence = verdict.evidence.clone();
    result.added_lines = lines.added.iter().map(|found: &Found| changed_line(&found.line)).collect();
    result.lost_lines = lines.lost.iter().map(changed_line).collect();
    result.lost_lines_masked = lines.lost_masked;
    result.comb = lines.comb.as_ref().map(|comb| CombResult {
        spacing_hz: comb.spacing_hz,
        lines: comb.members.len(),
        offset_hz: comb.offset_hz,
    });
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
        .map(|band| BandExcess {
            freq_hz: band.freq_hz,
            excess_db: band.excess.value,
            excess_ci_db: [band.excess.ci95.0, band.excess.ci95.1],
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
                .sound
                .warnings
                .iter()
                .filter(|w| contrast.spoilt_by.contains(&w.code))
                .map(move |w| Warning::new(w.code, format!("{}: {}", file_of(id, session), w.message)))
        })
        .collect()
}
