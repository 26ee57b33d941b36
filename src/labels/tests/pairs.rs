//! Two files: the order they are given in is their state, and their names may contradict it.

use std::path::Path;

use insta::assert_snapshot;

use crate::labels::{Session, State};

fn pair(off: &str, on: &str) -> Session {
    Session::of_pair(Path::new(off), Path::new(on))
}

fn warnings(session: &Session) -> String {
    session.contrasts[0].warnings.iter().map(|w| format!("{:?}: {}\n", w.code, w.message)).collect()
}

#[test]
fn pair_is_one_contrast_without_paths() {
    let s = pair("/home/someone/a.wav", "/home/someone/b.wav");
    assert_eq!(
        s.recordings.iter().map(|r| (r.file.as_str(), r.state)).collect::<Vec<_>>(),
        [("a.wav", State::Off), ("b.wav", State::On)]
    );
    let plan = &s.contrasts[0];
    assert_eq!(
        (plan.device.as_str(), plan.off.as_slice(), plan.on.as_slice()),
        ("device", &["r1".to_owned()][..], &["r2".to_owned()][..])
    );
    assert_eq!((s.title.as_str(), warnings(&s).as_str()), ("b.wav against a.wav", ""));
}

#[test]
fn pair_takes_what_the_names_tell() {
    let s = pair("off_7100kHz_USB.wav", "lamp_on_ferrite_7100kHz.wav");
    let plan = &s.contrasts[0];
    assert_eq!((plan.device.as_str(), plan.remedy.as_deref()), ("lamp", Some("ferrite")));
    assert_eq!((s.settings[0].dial_khz, s.settings[0].mode.map(|m| m.word())), (Some(7100.0), Some("USB")));
    assert_eq!(warnings(&s), "");
    assert_eq!(
        s.warnings[0].message,
        "Read from the file names: dial_khz 7100.0, mode \"USB\", device \"lamp\", remedy \"ferrite\"."
    );
}

#[test]
fn swapped_files_and_unequal_settings_are_warned_of() {
    assert_snapshot!(warnings(&pair("lamp-on.wav", "lamp-off.wav")), @r"
    Label: `lamp-on.wav` was given as `off`, and its name says on. The first file is off, the second on: are they swapped?
    Label: `lamp-off.wav` was given as `on`, and its name says off. The first file is off, the second on: are they swapped?
    ");
    assert_snapshot!(warnings(&pair("off_7100kHz_USB.wav", "on_14100kHz_LSB.wav")), @"SettingsDiffer: By their names the recordings differ in dial (7100 kHz and 14100 kHz), mode (USB and LSB). Noise changes with each of these: record both with equal settings.");
}

#[test]
fn equal_names_in_two_folders_are_told_apart() {
    let s = pair("before/take.wav", "after/take.wav");
    assert_eq!((s.recordings[0].file.as_str(), s.recordings[1].file.as_str()), ("take.wav (off)", "take.wav (on)"));
}
