//! Reports made by hand for the tests (`sample.json`): an invented evening by a pond, with a ladder, a device
//! without noise, one with carriers, a void comparison and a file left out; and what else is known of a night.

use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use crate::contrast::Character;
use crate::contrast::comparison::{AddedLine, ContrastResult};
use crate::labels::facts::SessionFacts;
use crate::night::result::{Episode, Regularity, Source};
use crate::report::contract::Report;
use crate::warning::Trust;

/// The part of the sample at a JSON pointer.
fn part<T: DeserializeOwned>(pointer: &str) -> T {
    let sample: Value = serde_json::from_str(include_str!("sample.json")).unwrap();
    serde_json::from_value(sample.pointer(pointer).unwrap().clone()).unwrap()
}

/// Three devices, seven recordings, five contrasts, one ladder of three steps.
pub(crate) fn sample_report() -> Report {
    part("/evening")
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
            from_before: at == 0,
            jump_db: Some(3.0 + at as f64),
            heard_s: vec![[start_s + 2.0, start_s + 62.0]],
            quiet_s: vec![[start_s - 32.0, start_s - 2.0]],
            beside: Vec::new(),
            quiet_excess_db: None,
            quiet_excess_ci_db: None,
            ..sample_episode(start_s, start_s + 240.0, contrast)
        }
    };
    Report {
        episodes: evening.contrasts.iter().enumerate().map(episode).collect(),
        sources: vec![
            sample_source("n1", &[1, 2]),
            Source {
                character: Character::Hash,
                excess_db: Some(2.3),
                excess_ci_db: Some([2.0, 2.6]),
                ..sample_source("n2", &[3])
            },
            Source { character: Character::Carriers, excess_ci_db: None, ..sample_source("n3", &[4]) },
        ],
        night: Some(part("/night")),
        contrasts: vec![],
        ladders: vec![],
        recordings: vec![],
        settings: vec![],
        session: SessionFacts { title: "Shed night".into(), station: None, ..evening.session.clone() },
        ..evening
    }
}

/// A contrast against r1 and r2 with an interval of ±0.3 dB.
pub(crate) fn contrast(
    id: &str,
    device: &str,
    remedy: Option<&str>,
    character: Character,
    excess_db: f64,
    on: &[&str],
) -> ContrastResult {
    let mut contrast: Value = part("/evening/contrasts/0");
    for (field, value) in [
        ("id", json!(id)),
        ("device", json!(device)),
        ("remedy", json!(remedy)),
        ("on", json!(on)),
        ("character", json!(character)),
        ("parts", json!([{"character": character, "share": 1.0}])),
        ("excess_db", json!(excess_db)),
        ("excess_ci_db", json!([excess_db - 0.3, excess_db + 0.3])),
        ("total_excess_db", json!(excess_db + 0.2)),
        ("snr_loss_db", json!(excess_db)),
    ] {
        contrast[field] = value;
    }
    if character != Character::Buzz {
        (contrast["mains_rate_hz"], contrast["impulsive"]) = (Value::Null, Value::Null);
    }
    serde_json::from_value(contrast).unwrap()
}

pub(crate) fn added_line(freq_hz: f64, level_db: f64, cnr_db_hz: f64) -> AddedLine {
    AddedLine { freq_hz, level_db, cnr_db_hz, drift_hz_per_s: 0.0, presence: 1.0, mains_sidebands: false }
}

/// A buzz of 90 s that came in these episodes, every 7 min if evenly.
pub(crate) fn sample_source(id: &str, episodes: &[usize]) -> Source {
    Source {
        id: id.to_owned(),
        character: Character::Buzz,
        confidence: 0.97,
        known: None,
        logged: None,
        signature: None,
        episodes: episodes.to_vec(),
        excess_db: Some(7.0),
        excess_ci_db: Some([6.6, 7.4]),
        trust: Trust::Sound,
        beside: vec![],
        on_s: 90.0 * episodes.len() as f64,
        duty: 0.2,
        length_s: Some(90.0),
        length_sd_s: Some(1.0),
        told: Regularity::TooFew,
        period_s: Some(420.0),
        period_ci_s: Some([419.0, 421.0]),
        even_from_s: Some(125.0),
        missed: Some(0),
        chance: Some(0.001),
    }
}

/// A stretch of a night with what a comparison tells of it.
pub(crate) fn sample_episode(start_s: f64, end_s: f64, contrast: &ContrastResult) -> Episode {
    Episode {
        start: None,
        end: None,
        start_s,
        end_s,
        from_before: false,
        until_after: false,
        start_unsure_s: None,
        end_unsure_s: None,
        or_end_s: None,
        jump_db: None,
        heard_s: vec![],
        quiet_s: vec![],
        beside: Vec::new(),
        quiet_excess_db: None,
        quiet_excess_ci_db: None,
        contrast: contrast.clone(),
    }
}
