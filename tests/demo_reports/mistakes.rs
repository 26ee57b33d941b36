//! The loft's evening with labels as people really write them: one name for two remedies, a dial left out, a
//! sideband mixed up. What the program must not do is answer with confidence.

use std::fs;

use super::common::{copy_files, noisetally};
use super::{Evening, LOFT, text};
use noisetally::report::contract::Report;

/// The report on the evening's recordings under labels that `mislabel` has changed, recording by recording.
fn report(evening: &Evening, mislabel: impl Fn(&str) -> String) -> Report {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("evening");
    copy_files(&evening.recordings(), &folder, |_| true);
    let labels = text(&folder, "session.toml");
    let (head, recordings) = labels.split_once("\n[[recording]]\n").unwrap();
    let mut changed = head.to_owned();
    for recording in recordings.split("\n[[recording]]\n") {
        changed += &format!("\n[[recording]]\n{}", mislabel(recording));
    }
    assert_ne!(changed, labels, "nothing was mislabelled");
    fs::write(folder.join("session.toml"), changed).unwrap();
    let run = noisetally(dir.path(), &["check", "evening", "--json"]);
    serde_json::from_slice(&run.stdout).unwrap()
}

fn without(recording: &str, field: &str) -> String {
    recording.lines().filter(|line| !line.starts_with(field)).map(|line| format!("{line}\n")).collect()
}

#[test]
fn two_remedies_under_one_name_are_not_taken_for_one_figure() {
    let report =
        report(&LOFT, |recording| recording.replace("three ferrites on sensor lead", "one ferrite on sensor lead"));
    let steps = report.contrasts.iter().filter(|c| c.remedy.as_deref() == Some("one ferrite on sensor lead"));
    let [both] = steps.collect::<Vec<_>>()[..] else { panic!("not one step") };
    assert_eq!(both.on.len(), 2);
    assert_eq!(format!("{:?}", both.trust), "Doubtful");
    assert!(both.warnings.iter().any(|warning| warning.message.contains("give each its own words")));
    // They are 5.8 dB apart: the interval must hold both.
    let [low, high] = both.excess_ci_db.unwrap();
    assert!(low < 13.0 && high > 18.3, "{low} to {high}");
}

#[test]
fn a_dial_left_out_is_read_from_the_name_and_said() {
    let report = report(&LOFT, |recording| match recording.contains("fan-14074") {
        true => without(recording, "dial_khz"),
        false => recording.to_owned(),
    });
    assert!(report.warnings.iter().any(|warning| warning.message.contains("dial_khz")), "{:?}", report.warnings);
    // Whole kilohertz now: the spacing may be refused, but never be another one.
    let named: Vec<_> = report.switching_combs.iter().map(|comb| comb.spacing_ci_hz).collect();
    assert!(named.iter().all(|ends| ends[0] <= 43_712.6 && 43_712.6 <= ends[1]), "{named:?}");
    assert_eq!(named.len() + report.switching_combs_refused.len(), 1);
}

#[test]
fn a_sideband_mixed_up_makes_one_stranger_more_and_no_other_spacing() {
    let report = report(&LOFT, |recording| recording.replace("mode = \"LSB\"", "mode = \"USB\""));
    assert!(report.switching_combs.is_empty());
    // Six of eight: no longer enough to rule half the spacing out. It says where to listen to be sure.
    let [refused] = report.switching_combs_refused.as_slice() else { panic!("not one family") };
    assert_eq!(refused.reason, noisetally::findings::switching_comb::result::RefusedFor::Ambiguous);
    assert!((refused.candidates[0].spacing_hz - 43_712.6).abs() < 0.5, "{:?}", refused.candidates);
    let listen = refused.listen_at.as_ref().unwrap();
    assert!((listen.silence_means_hz - 43_712.6).abs() < 0.5, "{listen:?}");
    let hint = refused.notes.iter().find(|note| note.contains("other sideband")).expect("no word of the sideband");
    assert!(hint.contains("Had the recording at 10186.04 kHz been") && hint.contains("every 43.71"), "{hint}");
}

/// Two leads are two loops: what ferrites on both come to is no series on one.
#[test]
fn ferrites_on_different_leads_are_said_to_be_no_one_choke() {
    let report = report(&LOFT, |recording| {
        recording.replace("three ferrites on sensor lead", "three ferrites on mains lead")
    });
    let ladder = report.ladders.iter().find(|ladder| ladder.steps.len() > 2).unwrap();
    assert!(ladder.notes.iter().any(|note| note.contains("on different leads")), "{:?}", ladder.notes);
}
