//! Which recordings are compared with which, in which order, and why some are not.

use insta::assert_snapshot;

use super::{messages, plans, session};
use crate::warning::Code;

/// A manifest of recordings, each given as the lines below its file.
fn manifest(recordings: &[(&str, &str)]) -> String {
    let block =
        |(file, lines): &(&str, &str)| format!("[[recording]]\nfile = \"{file}\"\n{}\n", lines.replace("; ", "\n"));
    recordings.iter().map(block).collect()
}

fn of_names(files: &[&str]) -> crate::labels::Session {
    session(files, "")
}

fn of_labels(recordings: &[(&str, &str)]) -> crate::labels::Session {
    let files: Vec<&str> = recordings.iter().map(|(file, _)| *file).collect();
    session(&files, &manifest(recordings))
}

#[test]
fn one_device_and_its_remedies() {
    let s = of_names(&[
        "01-off.wav",
        "02-lamp-on.wav",
        "03-lamp-on-ferrite.wav",
        "10-lamp-on-linear supply.wav",
        "11-off.wav",
    ]);
    assert_snapshot!(plans(&s), @r"
    c1 lamp [s1] none: 02-lamp-on.wav | 01-off.wav, 11-off.wav
    c2 lamp [s1] ferrite: 03-lamp-on-ferrite.wav | 01-off.wav, 11-off.wav
    c3 lamp [s1] linear supply: 10-lamp-on-linear supply.wav | 01-off.wav, 11-off.wav
    ");
    assert_eq!(s.settings.len(), 1);
}

#[test]
fn two_devices_share_the_recording_with_everything_off() {
    let s = of_names(&["heater-off.wav", "heater-on.wav", "lamp-off.wav", "lamp-on.wav", "all-off.wav"]);
    assert_snapshot!(plans(&s), @r"
    c1 heater [s1] none: heater-on.wav | all-off.wav, heater-off.wav
    c2 lamp [s1] none: lamp-on.wav | all-off.wav, lamp-off.wav
    ");
}

#[test]
fn no_device_named_at_all() {
    let s = of_names(&["01 off.wav", "02 on.wav", "03 on.wav"]);
    assert_snapshot!(plans(&s), @"c1 device [s1] none: 02 on.wav, 03 on.wav | 01 off.wav");
}

#[test]
fn the_only_device_is_meant_where_none_is_named() {
    let s = of_names(&["lamp-off.wav", "on.wav", "lamp-on.wav"]);
    assert_snapshot!(plans(&s), @"c1 lamp [s1] none: lamp-on.wav, on.wav | lamp-off.wav");
    assert!(messages(&s).contains("taken as `lamp`"));
}

#[test]
fn whose_a_remedy_is_is_told_by_the_order_or_not_at_all() {
    let s = of_names(&["1 off.wav", "2 lamp on.wav", "3 on 2 clips.wav", "4 heater on.wav", "5 on 2 clips.wav"]);
    assert_snapshot!(plans(&s), @r"
    c1 lamp [s1] none: 2 lamp on.wav | 1 off.wav
    c2 lamp [s1] 2 clips: 3 on 2 clips.wav | 1 off.wav
    c3 heater [s1] none: 4 heater on.wav | 1 off.wav
    c4 heater [s1] 2 clips: 5 on 2 clips.wav | 1 off.wav
    ");
    let said = "Guessed: Something on and no `device`, taken to be that of the recording before: `3 on 2 clips.wav` \
                (lamp), `5 on 2 clips.wav` (heater).\n";
    assert!(messages(&s).contains(said), "{}", messages(&s));
    let s = of_names(&["off.wav", "lamp on.wav", "on 2 clips.wav", "heater on.wav"]);
    assert_snapshot!(plans(&s), @r"
    c1 heater [s1] none: heater on.wav | off.wav
    c2 lamp [s1] none: lamp on.wav | off.wav
    c3 device [s1] 2 clips: on 2 clips.wav | off.wav
    ");
    let said = "Label: Something on, and none of the devices of this session named: `on 2 clips.wav`. Compared as one \
                called `device`; write into the manifest which it is.\n";
    assert!(messages(&s).contains(said), "{}", messages(&s));
    // What the manifest leaves open is not filled from a name before it: it may know better.
    let s = of_labels(&[
        ("1 off.wav", "state = \"off\""),
        ("2 lamp on.wav", "device = \"pump\""),
        ("3 on 2 clips.wav", "state = \"on\""),
        ("4 heater on.wav", ""),
    ]);
    assert_eq!(s.recordings[2].device, None);
}

#[test]
fn settings_are_kept_apart() {
    let s = of_names(&[
        "off_7100kHz.wav",
        "lamp_on_7100kHz.wav",
        "off_14100kHz.wav",
        "lamp_on_14100kHz.wav",
        "lamp_on_14100kHz_ferrite.wav",
    ]);
    assert_eq!(s.settings.len(), 2);
    assert_snapshot!(plans(&s), @r"
    c1 lamp [s1] none: lamp_on_7100kHz.wav | off_7100kHz.wav
    c2 lamp [s2] none: lamp_on_14100kHz.wav | off_14100kHz.wav
    c3 lamp [s2] ferrite: lamp_on_14100kHz_ferrite.wav | off_14100kHz.wav
    ");
}

#[test]
fn bands_in_names_are_kept_apart_too() {
    let s = of_names(&["off-40m.wav", "lamp-on-40m.wav", "off-20m.wav", "lamp-on-20m.wav"]);
    assert_snapshot!(plans(&s), @r"
    c1 lamp [s1] none: lamp-on-20m.wav | off-20m.wav
    c2 lamp [s2] none: lamp-on-40m.wav | off-40m.wav
    ");
}

#[test]
fn the_only_value_of_a_session_completes_the_others() {
    let s = of_labels(&[
        ("a.wav", "state = \"off\"; dial_khz = 7100; antenna = \"loop\""),
        ("b.wav", "state = \"on\"; device = \"lamp\""),
    ]);
    assert_eq!((s.settings.len(), s.recordings[1].dial_khz), (1, Some(7100.0)));
    assert_eq!(s.recordings[1].antenna.as_deref(), Some("loop"));
    assert_snapshot!(messages(&s), @r"
    Guessed: 1 recording without `dial_khz`: taken as `7100 kHz`, the only one this session names.
    Guessed: 1 recording without `antenna`: taken as `loop`, the only one this session names.
    ");
}

#[test]
fn among_several_values_none_is_a_value_of_its_own() {
    let s = of_labels(&[
        ("a.wav", "state = \"off\"; dial_khz = 7100"),
        ("b.wav", "state = \"on\"; dial_khz = 7100"),
        ("c.wav", "state = \"off\"; dial_khz = 14100"),
        ("d.wav", "state = \"on\""),
    ]);
    assert_snapshot!(plans(&s), @"c1 device [s1] none: b.wav | a.wav");
    assert_snapshot!(messages(&s), @r"
    Label: No `dial_khz` is given for `d.wav`, while others have `7100 kHz`, `14100 kHz`: not compared with those. Write it into the manifest.
    Label: Nothing to compare `d.wav` with: the nearest off recording, `a.wav`, differs in `dial_khz` (not labelled here, 7100 kHz there). Record `device` off with the same receiver settings, or correct the label.
    Label: Off recordings that no on recording is compared with: `c.wav`.
    ");
}

#[test]
fn on_without_off_is_told_what_differs() {
    let s = of_labels(&[
        ("a.wav", "state = \"off\"; dial_khz = 7100; mode = \"USB\"; gain = \"AGC off\""),
        ("b.wav", "state = \"on\"; device = \"lamp\"; dial_khz = 7100; mode = \"LSB\"; gain = \"agc  OFF\""),
    ]);
    assert_eq!(s.contrasts, []);
    assert_snapshot!(messages(&s), @r"
    Label: Nothing to compare `b.wav` with: the nearest off recording, `a.wav`, differs in `mode` (LSB here, USB there). Record `lamp` off with the same receiver settings, or correct the label.
    Label: Off recordings that no on recording is compared with: `a.wav`.
    ");
}

#[test]
fn on_without_any_off_is_told_what_to_record() {
    assert_snapshot!(messages(&of_names(&["lamp-on.wav"])), @r"
    Guessed: The labels of 1 recording were read from the file names (state, device). Look them over; a session.toml fixes them.
    Label: Nothing to compare `lamp-on.wav` with: there is no off recording. Record the same frequency with `lamp` off.
    ");
    assert_snapshot!(messages(&of_names(&["heater-off.wav", "heater-on.wav", "lamp-on.wav"])), @r"
    Guessed: The labels of 3 recordings were read from the file names (state, device). Look them over; a session.toml fixes them.
    Label: Nothing to compare `lamp-on.wav` with: the off recordings are of `heater`. Record `lamp` off too; an off recording without a `device` counts as everything off and serves for every device.
    ");
}

#[test]
fn remedies_are_compared_without_case_and_spaces() {
    let s = of_labels(&[
        ("a.wav", "state = \"off\""),
        ("b.wav", "state = \"on\"; device = \"lamp\"; remedy = \"Linear supply\""),
        ("c.wav", "state = \"on\"; device = \"Lamp\"; remedy = \"linear  Supply\""),
    ]);
    assert_snapshot!(plans(&s), @"c1 lamp [s1] Linear supply: b.wav, c.wav | a.wav");
}

#[test]
fn the_ladder_follows_order_then_time_then_name() {
    let s = of_labels(&[
        ("off.wav", "state = \"off\""),
        ("step 10.wav", "state = \"on\"; remedy = \"by name, ten\""),
        ("step 2.wav", "state = \"on\"; remedy = \"by name, two\""),
        ("c.wav", "state = \"on\"; remedy = \"late\"; started = 2026-03-14T20:00:00Z"),
        ("b.wav", "state = \"on\"; remedy = \"early\"; started = 2026-03-14T19:00:00Z"),
        ("z.wav", "state = \"on\"; remedy = \"second\"; order = 2"),
        ("y.wav", "state = \"on\"; remedy = \"first\"; order = 1"),
        ("x.wav", "state = \"on\"; order = 9"),
    ]);
    let remedies: Vec<&str> = s.contrasts.iter().map(|c| c.remedy.as_deref().unwrap_or("-")).collect();
    assert_eq!(remedies, ["-", "first", "second", "early", "late", "by name, two", "by name, ten"]);
}

#[test]
fn off_with_a_remedy_serves_and_is_said() {
    let s = of_names(&["lamp-off.wav", "lamp-off-ferrite.wav", "lamp-on.wav", "lamp-on-ferrite.wav"]);
    assert_snapshot!(plans(&s), @r"
    c1 lamp [s1] none: lamp-on.wav | lamp-off-ferrite.wav, lamp-off.wav
    c2 lamp [s1] ferrite: lamp-on-ferrite.wav | lamp-off-ferrite.wav, lamp-off.wav
    ");
    assert!(messages(&s).contains("Off with a remedy fitted: `lamp-off-ferrite.wav`"));
    let idle = messages(&of_names(&["heater-off-ferrite.wav", "lamp-on.wav", "off.wav"]));
    assert!(idle.contains("is compared with: `heater-off-ferrite.wav`") && !idle.contains("fitted"), "{idle}");
}

/// The manifest may name devices that the file names don't.
#[test]
fn devices_joined_in_a_manifest_are_several() {
    let s = of_labels(&[
        ("off.wav", "state = \"off\""),
        ("a.wav", "state = \"on\"; device = \"lamp\""),
        ("b.wav", "state = \"on\"; device = \"pump\""),
        ("c.wav", "state = \"on\"; device = \"lamp and pump\""),
    ]);
    assert_eq!(s.contrasts[2].device, "lamp + pump");
}

#[test]
fn a_name_cut_short_is_asked_about_where_its_first_step_is_missing() {
    let asked = |files: &[&str]| messages(&of_names(files)).contains("is counted as another device");
    assert!(asked(&["off.wav", "pantry lamp on.wav", "lamp on ferrite.wav"]));
    assert!(asked(&["off.wav", "lamp on.wav", "pantry lamp on ferrite.wav"]));
    assert!(!asked(&["off.wav", "pantry lamp on.wav", "lamp on.wav", "lamp on ferrite.wav"]));
    assert!(!asked(&["off.wav", "lamp on.wav", "lamp + pump on ferrite.wav"]));
    assert!(!asked(&["off.wav", "fan on.wav", "lamp on ferrite.wav"]));
}

#[test]
fn unequal_ferrites_under_one_remedy_are_warned_of() {
    let s = of_labels(&[
        ("a.wav", "state = \"off\""),
        ("b.wav", "state = \"on\"; remedy = \"ferrite\"; ferrites = 1"),
        ("c.wav", "state = \"on\"; remedy = \"ferrite\"; ferrites = 3"),
        ("d.wav", "state = \"on\"; ferrites = 5"),
    ]);
    assert_eq!(s.contrasts[0].warnings[0].code, Code::Label);
    assert_eq!(s.contrasts[1].remedy.as_deref(), Some("5 ferrites"));
}

#[test]
fn terminated_joins_its_setting_whatever_the_antenna() {
    let s = of_labels(&[
        ("t.wav", "state = \"terminated\"; dial_khz = 7100"),
        ("a.wav", "state = \"off\"; dial_khz = 7100; antenna = \"loop\""),
        ("b.wav", "state = \"on\"; dial_khz = 7100; antenna = \"loop\""),
    ]);
    assert_eq!((s.settings.len(), s.recordings[0].setting.as_str()), (1, "s1"));
    assert_eq!(s.settings[0].antenna.as_deref(), Some("loop"));
    assert_eq!(s.contrasts.len(), 1);
    assert_eq!(s.recordings[0].antenna, None);
}

/// Any number of recordings is grouped quickly: each is compared with settings, not with every other recording.
#[test]
fn a_thousand_recordings_are_grouped() {
    let names: Vec<String> = (0..500)
        .flat_map(|i| [format!("off_{}kHz.wav", 7000 + i), format!("lamp {i} on_{}kHz.wav", 7000 + i)])
        .collect();
    let s = of_names(&names.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!((s.settings.len(), s.contrasts.len()), (500, 500));
}

#[test]
fn what_is_not_clear_in_a_name_is_said_once() {
    let s = of_names(&["off 1902.wav", "lamp on 14.05.wav"]);
    let said: Vec<&str> =
        s.warnings.iter().map(|w| w.message.as_str()).filter(|m| m.contains("Not clear")).collect();
    assert_snapshot!(said.join("\n"), @"Not clear in the file names, and passed over: `14.05 in lamp on 14.05.wav`, `1902 in off 1902.wav`. Write what it means into session.toml.");
}

/// All but one is no device of its own: it is held against everything on.
#[test]
fn everything_but_one_is_compared_with_everything_on() {
    let s = of_names(&[
        "01-off.wav",
        "02-all-on.wav",
        "03-all-but-kitchen-ring.wav",
        "04-all-but-the-cellar.wav",
        "05-cellar-on.wav",
        "06-all-but-cellar.wav",
    ]);
    assert_snapshot!(plans(&s), @r"
    c1 all [s1] none: 02-all-on.wav | 01-off.wav
    c2 cellar [s1] none: 05-cellar-on.wav | 01-off.wav
    ");
    let told: Vec<(&str, &str, usize)> =
        s.complements.iter().map(|p| (p.id.as_str(), p.device.as_str(), p.off.len())).collect();
    assert_eq!(told, [("w1", "kitchen ring", 1), ("w2", "cellar", 2)]);
    let lonely = of_names(&["01-off.wav", "02-all-but-lamp.wav", "03-lamp-on.wav"]);
    assert!(lonely.complements.is_empty() && messages(&lonely).contains("record everything on"));
}

/// A noise at two places is no comparison of a device; at one it is.
#[test]
fn places_are_parted_from_comparisons() {
    let s = of_labels(&[
        ("off.wav", "state = 'off'"),
        ("1.wav", "place = 'by the fence'"),
        ("2.wav", "place = 'at the gate'; distance_m = 5"),
        ("3.wav", "place = 'By the  fence'"),
        ("4.wav", "state = 'off'; place = 'at the gate'"),
    ]);
    assert_eq!(s.contrasts.len(), 0);
    let told: Vec<(&str, usize, usize, bool)> =
        s.places.iter().map(|p| (p.place.as_str(), p.on.len(), p.off.len(), p.off_is_there)).collect();
    assert_eq!(told, [("by the fence", 2, 2, false), ("at the gate", 1, 1, true)]);
    let one = of_labels(&[("off.wav", "state = 'off'"), ("1.wav", "place = 'by the fence'; device = 'lamp'")]);
    assert_eq!((one.contrasts.len(), one.places.len()), (1, 0));
}
