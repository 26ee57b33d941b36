//! A report made by hand for the tests: an invented evening by a pond, with a ladder, a device without noise, one
//! with carriers, a void comparison and a file left out.

use crate::contrast::comparison::AddedLine;
use crate::contrast::comparison::BandExcess;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::comparison::Impulsive;
use crate::contrast::comparison::Part;
use crate::findings::figure_file::FigureFile;
use crate::findings::ladder::result::Ladder;
use crate::findings::ladder::result::LadderStep;
use crate::findings::listening::result::Listening;
use crate::labels::facts::LeftOut;
use crate::labels::facts::SessionFacts;
use crate::labels::facts::SettingFacts;
use crate::night::result::Episode;
use crate::night::result::LogEntry;
use crate::night::result::LogMatch;
use crate::night::result::NightFacts;
use crate::night::result::SwitchLog;
use crate::report::contract::*;
use crate::signal::recording_result::LineResult;
use crate::signal::recording_result::RecordingResult;
use crate::warning::{Code, Trust, Warning};

/// Three devices, seven recordings, five contrasts, one ladder of three steps.
pub(crate) fn sample_report() -> Report {
    Report {
        schema: 1,
        tool: Tool { name: "noisetally".into(), version: "0.1.0".into() },
        session: SessionFacts {
            title: "Pond evening".into(),
            mains_hz: 50.0,
            station: Some("portable receiver, end-fed wire, earth rod".into()),
        },
        settings: vec![SettingFacts {
            id: "s1".into(),
            dial_khz: Some(14100.0),
            band: Some("20 m".into()),
            mode: Some("USB".into()),
            bandwidth_hz: Some(2400.0),
            antenna: Some("end-fed wire".into()),
            gain: Some("AGC off, RF gain 60".into()),
        }],
        recordings: vec![
            recording("r1", "01-off.flac", "off", None, None),
            recording("r2", "02-off-again.flac", "off", None, None),
            recording("r3", "03-pump-on.flac", "on", Some("pond pump"), None),
            recording("r4", "04-pump-ferrite.flac", "on", Some("pond pump"), Some("ferrite ring")),
            recording("r5", "05-pump-linear.flac", "on", Some("pond pump"), Some("linear supply")),
            recording("r6", "06-fountain.flac", "on", Some("fountain light"), None),
            clipped_recording(),
        ],
        contrasts: vec![
            contrast("c1", "pond pump", None, "buzz", 14.21, &["r3"]),
            contrast("c2", "pond pump", Some("ferrite ring"), "buzz", 14.05, &["r4"]),
            contrast("c3", "pond pump", Some("linear supply"), "hash", 2.26, &["r5"]),
            carriers_contrast(),
            void_contrast(),
        ],
        ladders: vec![Ladder {
            device: "pond pump".into(),
            setting: "s1".into(),
            steps: vec![
                step(None, "c1", 14.21),
                step(Some("ferrite ring"), "c2", 14.05),
                step(Some("linear supply"), "c3", 2.26),
            ],
            choke_fit: None,
            unmasked: vec![],
            carriers: vec![],
            notes: vec![],
        }],
        budget: vec![],
        joint: vec![],
        switching_combs: vec![],
        switching_combs_refused: vec![],
        episodes: vec![],
        night: None,
        listening: Listening::default(),
        receiver_check: None,
        left_out: vec![LeftOut {
            file: "08-broken.wav".into(),
            reason: "holds no sound: 0 bytes. Record it again.".into(),
        }],
        figures: vec![
            figure("card.png", "card", None, "The session at a glance."),
            figure("c1-spectra.png", "spectra", Some("c1"), "Noise with the pond pump off and on."),
            figure("c4-spectra.png", "spectra", Some("c4"), "Noise with the fountain light off and on."),
            figure("ladder-1.png", "ladder", Some("c1"), "What each remedy left."),
        ],
        warnings: vec![Warning::new(Code::Guessed, "The state of 01-off.flac was taken from its name.")],
    }
}

pub(crate) fn recording(
    id: &str,
    file: &str,
    state: &str,
    device: Option<&str>,
    remedy: Option<&str>,
) -> RecordingResult {
    RecordingResult {
        id: id.into(),
        file: file.into(),
        state: state.into(),
        device: device.map(Into::into),
        remedy: remedy.map(Into::into),
        setting: "s1".into(),
        started: None,
        duration_s: 30.0,
        sample_rate_hz: 12000,
        codec: "flac".into(),
        channels: 1,
        channel_used: "mono".into(),
        passband_hz: Some([301.2, 2698.8]),
        level_db: Some(-31.24),
        floor_db_per_hz: Some(-64.91),
        snr_db: None,
        snr_2500_db: None,
        level_dbm: None,
        s_reading: None,
        envelope_kurtosis: None,
        envelope_mean_over_median: None,
        spectral_kurtosis: None,
        lines: vec![LineResult {
            freq_hz: 1_000.123_4,
            level_db: -50.21,
            cnr_db_hz: 22.1,
            snr_2500_db: -11.88,
            presence: 1.0,
            drift_hz_per_s: -0.000_01,
            mains_sidebands: false,
        }],
        warnings: vec![],
        note: None,
        meter: None,
    }
}

/// Two hours of a night: the same comparisons as episodes, the log explaining the second and third.
pub(crate) fn sample_night() -> Report {
    let evening = sample_report();
    let episode = |(at, contrast): (usize, &ContrastResult)| {
        let start_s = 600.0 + 1200.0 * at as f64;
        let time =
            |at_s: f64| Some(format!("2026-03-14T{:02}:{:02}:05Z", 21 + at_s as u32 / 3600, at_s as u32 / 60 % 60));
        Episode {
            start: time(start_s),
            end: time(start_s + 240.0),
            start_s,
            end_s: start_s + 240.0,
            from_before: at == 0,
            until_after: false,
            jump_db: Some(3.0 + at as f64),
            heard_s: vec![[start_s + 2.0, start_s + 62.0]],
            quiet_s: vec![[start_s - 32.0, start_s - 2.0]],
            contrast: contrast.clone(),
        }
    };
    let explained = |episode: usize, edge: &str, device: &str| LogMatch {
        episode,
        edge: edge.into(),
        device: device.into(),
        line: 2,
        rest_s: 0.4,
    };
    let night = NightFacts {
        start: "2026-03-14T21:00:05Z".into(),
        end: "2026-03-14T23:00:05Z".into(),
        clock: "utc".into(),
        duration_s: 7200.0,
        recorded_s: 7200.0,
        searched_s: 7200.0,
        noisy_s: 1200.0,
        noise_dbfs: Some([-42.0, -40.0, -38.0]),
        recordings: vec![],
        joins: vec![],
        minutes: vec![],
        carriers: vec![],
        patterns: vec![],
        switch_log: Some(SwitchLog {
            entries: 4,
            offset_s: Some(-60.0),
            rival_offset_s: None,
            chance: Some(0.002),
            matches: vec![
                explained(2, "start", "pump"),
                explained(2, "end", "pump"),
                explained(3, "start", "lamp"),
            ],
            unexplained: vec![1, 4, 5],
            unheard: vec![LogEntry { device: "kettle".into(), switched: "on".into(), line: 7 }],
        }),
    };
    Report {
        episodes: evening.contrasts.iter().enumerate().map(episode).collect(),
        night: Some(night),
        contrasts: vec![],
        ladders: vec![],
        recordings: vec![],
        settings: vec![],
        session: SessionFacts { title: "Shed night".into(), station: None, ..evening.session.clone() },
        ..evening
    }
}

fn clipped_recording() -> RecordingResult {
    let warning = Warning::new(Code::Clipped, "3.1 % of the samples stand at full scale; turn the level down.");
    RecordingResult { warnings: vec![warning], ..recording("r7", "07-charger.flac", "on", Some("charger"), None) }
}

/// A contrast against r1 and r2 with an interval of ±0.3 dB.
pub(crate) fn contrast(
    id: &str,
    device: &str,
    remedy: Option<&str>,
    character: &str,
    excess_db: f64,
    on: &[&str],
) -> ContrastResult {
    ContrastResult {
        id: id.into(),
        device: device.into(),
        remedy: remedy.map(Into::into),
        setting: "s1".into(),
        off: vec!["r1".into(), "r2".into()],
        on: on.iter().map(|&r| r.into()).collect(),
        excess_db: Some(excess_db),
        excess_ci_db: Some([excess_db - 0.3, excess_db + 0.3]),
        total_excess_db: Some(excess_db + 0.2),
        detection_limit_db: Some(0.34),
        passband_hz: Some([301.2, 2698.8]),
        gain_reference: None,
        added_level_db: Some(-22.4),
        character: character.into(),
        confidence: 0.97,
        parts: vec![Part { character: character.into(), share: 1.0 }],
        mains_rate_hz: (character == "buzz").then_some(100.0),
        pulse_rate_hz: None,
        pulses_regular: None,
        impulsive: (character == "buzz").then_some(Impulsive { time_share: 0.31, power_share: 0.97 }),
        evidence: vec!["The envelope has a line at 100 Hz, 21 dB above its own noise.".into()],
        added_lines: vec![],
        lost_lines: vec![],
        lost_lines_masked: false,
        comb: None,
        snr_loss_db: Some(excess_db),
        receiver_margin_db: None,
        receiver_margin_ci_db: None,
        excess_corrected_db: None,
        excess_corrected_ci_db: None,
        known_noise: None,
        bands: vec![
            BandExcess { freq_hz: 450.0, excess_db: 10.1, excess_ci_db: [9.6, 10.6] },
            BandExcess { freq_hz: 1500.0, excess_db: 16.4, excess_ci_db: [16.0, 16.8] },
        ],
        trust: Trust::Sound,
        warnings: vec![],
    }
}

fn carriers_contrast() -> ContrastResult {
    ContrastResult {
        excess_db: Some(0.1),
        excess_ci_db: Some([-0.2, 0.4]),
        total_excess_db: Some(6.2),
        snr_loss_db: Some(0.1),
        added_lines: vec![added_line(1234.5, -40.0, 30.0), added_line(2468.9, -49.3, 20.7)],
        evidence: vec!["Two lines stand in the on state only and hold 96 % of the added power.".into()],
        ..contrast("c4", "fountain light", None, "carriers", 0.1, &["r6"])
    }
}

fn void_contrast() -> ContrastResult {
    ContrastResult {
        trust: Trust::Void,
        warnings: vec![Warning::new(Code::Clipped, "An on recording is clipped, so its level is too low.")],
        ..contrast("c5", "charger", None, "hash", 21.3, &["r7"])
    }
}

pub(crate) fn added_line(freq_hz: f64, level_db: f64, cnr_db_hz: f64) -> AddedLine {
    AddedLine { freq_hz, level_db, cnr_db_hz, drift_hz_per_s: 0.0, presence: 1.0, mains_sidebands: false }
}

fn step(remedy: Option<&str>, contrast: &str, excess_db: f64) -> LadderStep {
    LadderStep {
        remedy: remedy.map(Into::into),
        contrast: contrast.into(),
        excess_db: Some(excess_db),
        excess_ci_db: Some([excess_db - 0.3, excess_db + 0.3]),
        ..LadderStep::default()
    }
}

fn figure(file: &str, kind: &str, contrast: Option<&str>, caption: &str) -> FigureFile {
    FigureFile { file: file.into(), kind: kind.into(), contrast: contrast.map(Into::into), caption: caption.into() }
}
