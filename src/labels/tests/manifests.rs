//! Manifests as they should be, and every mistake with the line it is shown at.

use insta::assert_snapshot;

use super::{folder, messages, refusal, session};
use crate::labels::{Mode, Session, State};

const WHOLE: &str = r#"
title = "Aquarium lamp, shed station"
mains_hz = 50
station = "free words: receiver, antenna, earth"
reference_hz = 1000.0

[[recording]]
file = "01-off.flac"
state = "off"
dial_khz = 14100.0

[[recording]]
file = "03-lamp-on.flac"
state = "on"
device = "aquarium lamp"
remedy = "linear supply"
order = 2
ferrites = 3
turns = 1
dial_khz = 14100.0
mode = "USB"
bandwidth_hz = 2400
antenna = "end-fed wire"
gain = "AGC off, RF gain 60"
started = 2026-03-14T19:02:00Z
meter = "S7"
dbm = -85.0
channel = 2
note = "lamp warm"
"#;

#[test]
fn every_field_of_the_contract_is_read() {
    let s = session(&["01-off.flac", "03-lamp-on.flac"], WHOLE);
    assert_eq!(s.title, "Aquarium lamp, shed station");
    assert_eq!((s.mains_hz, s.reference_hz), (Some(50.0), Some(1000.0)));
    assert_eq!(s.station.as_deref(), Some("free words: receiver, antenna, earth"));
    let on = &s.recordings[1];
    assert_eq!((on.id.as_str(), on.file.as_str(), on.state), ("r2", "03-lamp-on.flac", State::On));
    assert_eq!((on.device.as_deref(), on.remedy.as_deref()), (Some("aquarium lamp"), Some("linear supply")));
    assert_eq!((on.order, on.ferrites, on.turns), (Some(2.0), Some(3), Some(1)));
    assert_eq!((on.dial_khz, on.mode, on.bandwidth_hz), (Some(14100.0), Some(Mode::Usb), Some(2400.0)));
    assert_eq!((on.antenna.as_deref(), on.gain.as_deref()), (Some("end-fed wire"), Some("AGC off, RF gain 60")));
    assert_eq!(on.started.unwrap().to_toml(), "2026-03-14T19:02:00Z");
    assert_eq!((on.meter.as_deref(), on.dbm), (Some("S7"), Some(-85.0)));
    assert_eq!((on.channel.as_deref(), on.note.as_deref()), (Some("2"), Some("lamp warm")));
    assert_eq!(on.guesses, []);
}

#[test]
fn what_is_left_out_is_guessed_and_said() {
    let manifest =
        "[[recording]]\nfile = \"01-off.wav\"\n[[recording]]\nfile = \"02-lamp-on-ferrite.wav\"\nremedy = \"\"\n";
    let s = session(&["01-off.wav", "02-lamp-on-ferrite.wav"], manifest);
    assert_eq!((s.recordings[1].device.as_deref(), s.recordings[1].remedy.as_deref()), (Some("lamp"), None));
    assert_eq!(s.recordings[1].guesses.iter().map(|g| g.field).collect::<Vec<_>>(), ["state", "device", "order"]);
    assert_snapshot!(messages(&s), @"Guessed: The manifest leaves labels of 2 of 2 recordings open, which were guessed: state, device. Write them into it to be sure.");
}

#[test]
fn manifest_without_recordings_adds_to_the_names() {
    let s = session(&["off.wav", "lamp-on.wav"], "title = \"Shed\"\nmains_hz = 60\n");
    assert_eq!((s.title.as_str(), s.mains_hz, s.recordings.len()), ("Shed", Some(60.0), 2));
}

#[test]
fn unknown_fields_are_errors_with_the_field_that_was_meant() {
    let manifest = "titel = \"x\"\nmode = \"USB\"\n[[recordings]]\nfile = \"a\"\n";
    assert_snapshot!(refusal(&[], manifest), @r#"
    DIR/session.toml: 3 mistakes. No recording was read.
    line 1: `titel` is not a field of the session
      1 | titel = "x"
        | ^^^^^
      did you mean `title`?
    line 2: `mode` is not a field of the session
      2 | mode = "USB"
        | ^^^^
      `mode` belongs to a recording: move it below its `[[recording]]`
    line 3: `recordings` is not a field of the session
      3 | [[recordings]]
        |   ^^^^^^^^^^
      did you mean `[[recording]]`?
    "#);
    let manifest = "[[recording]]\nfile = \"off.wav\"\n\tdevcie = \"lamp\"\nweather = \"rain\"\nmains_hz = 50\n";
    assert_snapshot!(refusal(&["off.wav"], manifest), @r#"
    DIR/session.toml: 3 mistakes. No recording was read.
    line 3: `devcie` is not a field of a recording
      3 |  devcie = "lamp"
        |  ^^^^^^
      did you mean `device`?
    line 4: `weather` is not a field of a recording
      4 | weather = "rain"
        | ^^^^^^^
      the fields here are: file, state, device, remedy, order, ferrites, turns, dial_khz, band, mode, bandwidth_hz, antenna, gain, started, meter, dbm, channel, place, bearing_deg, distance_m, note
    line 5: `mains_hz` is not a field of a recording
      5 | mains_hz = 50
        | ^^^^^^^^
      `mains_hz` belongs to the whole session: move it above the first `[[recording]]`
    "#);
}

#[test]
fn wrong_kinds_are_shown_with_the_line_to_write() {
    let manifest = r#"mains_hz = "50"
title = 7
[[recording]]
file = "off.wav"
state = true
order = "second"
ferrites = 2.5
dial_khz = "14100"
meter = 7
started = "yesterday"
device = ["lamp"]
"#;
    assert_snapshot!(refusal(&["off.wav"], manifest), @r#"
    DIR/session.toml: 9 mistakes. No recording was read.
    line 1: `mains_hz` is a number, and this is words in quotes
      1 | mains_hz = "50"
        |            ^^^^
      write it without quotes: `mains_hz = 50`
    line 2: `title` is words in quotes, and this is a number
      2 | title = 7
        |         ^
      write it in quotes: `title = "7"`
    line 5: `state` is a word in quotes, and this is true or false
      5 | state = true
        |         ^^^^
      write `state = "on"`
    line 6: `order` is a number, and this is words in quotes
      6 | order = "second"
        |         ^^^^^^^^
      write it like this: `order = 2`
    line 7: `ferrites` is a whole number, and this is a number with a decimal point
      7 | ferrites = 2.5
        |            ^^^
      write it like this: `ferrites = 3`
    line 8: `dial_khz` is a number, and this is words in quotes
      8 | dial_khz = "14100"
        |            ^^^^^^^
      write it without quotes: `dial_khz = 14100`
    line 9: `meter` is words in quotes, and this is a number
      9 | meter = 7
        |         ^
      write it in quotes: `meter = "7"`
    line 10: `started` is a date and time without quotes, and this is words in quotes
      10 | started = "yesterday"
         |           ^^^^^^^^^^^
      write it like this: `started = 2026-03-14T19:02:00Z`
    … and 1 more
    "#);
}

#[test]
fn values_out_of_range_are_shown() {
    let manifest = r#"mains_hz = 5000
[[recording]]
file = "off.wav"
bandwidth_hz = 2.4
dial_khz = nan
dbm = -1e9
turns = 0
started = 2026-03-14
channel = "both"
"#;
    assert_snapshot!(refusal(&["off.wav"], manifest), @r#"
    DIR/session.toml: 7 mistakes. No recording was read.
    line 1: `mains_hz` must lie between 10 and 500
      1 | mains_hz = 5000
        |            ^^^^
      write it like this: `mains_hz = 50`
    line 4: `bandwidth_hz` is in hertz, and 2.4 Hz is too narrow for a receiver
      4 | bandwidth_hz = 2.4
        |                ^^^
      if 2.4 kHz is meant, write `bandwidth_hz = 2400`
    line 5: `dial_khz` must lie between 1 and 1000000000
      5 | dial_khz = nan
        |            ^^^
      write it like this: `dial_khz = 14100.0`
    line 6: `dbm` must lie between -250 and 60
      6 | dbm = -1e9
        |       ^^^^
      write it like this: `dbm = -85.0`
    line 7: `turns` is a whole number from 1 to 1000
      7 | turns = 0
        |         ^
      write it like this: `turns = 1`
    line 8: `started` is a date without its time
      8 | started = 2026-03-14
        |           ^^^^^^^^^^
      write it like this: `started = 2026-03-14T19:02:00Z`
    line 9: `both` is no channel: it is left, right, mean or a number from 1
      9 | channel = "both"
        |           ^^^^^^
      write it like this: `channel = "left"`
    "#);
}

#[test]
fn unknown_words_are_shown_with_the_known_ones() {
    let manifest = "[[recording]]\nfile = \"a.wav\"\nstate = \"of\"\nmode = \"SSB\"\n[[recording]]\nfile = \"b.wav\"\nstate = \"running\"\nmode = \"usb\"\n";
    assert_snapshot!(refusal(&["a.wav", "b.wav"], manifest), @r#"
    DIR/session.toml: 3 mistakes. No recording was read.
    line 3: `of` is no state: it is off, on or terminated (antenna replaced by a dummy load)
      3 | state = "of"
        |         ^^^^
      did you mean `state = "off"`?
    line 4: `SSB` is either of two modes, the upper and the lower sideband
      4 | mode = "SSB"
        |        ^^^^^
      write `mode = "USB"` or `mode = "LSB"`
    line 7: `running` is no state: it is off, on or terminated (antenna replaced by a dummy load)
      7 | state = "running"
        |         ^^^^^^^^^
      write it like this: `state = "on"`
    "#);
}

#[test]
fn text_that_is_not_toml_is_shown_at_its_line() {
    assert_snapshot!(refusal(&["a.wav"], "[[recording]]\nfile = \"a.wav\"\nstate = off\n"), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 3: this is not TOML (string values must be quoted, expected literal string)
      3 | state = off
        |         ^^^
      write it like this: `state = "on"`; words stand in quotes, numbers do not
    "#);
    assert_snapshot!(refusal(&["a.wav"], "[recording]\nfile = \"a.wav\"\n"), @r"
    DIR/session.toml: a mistake. No recording was read.
    line 1: `recording` is a table; there can be many, so it is a list
      1 | [recording]
        |  ^^^^^^^^^
      write `[[recording]]`: with two brackets on each side
    ");
    assert_snapshot!(refusal(&["a.wav"], "[recording]\nfile = \"a.wav\"\n\n[recording]\nfile = \"b.wav\"\n"), @r#"
    DIR/session.toml: 2 mistakes. No recording was read.
    line 4: this is not TOML (duplicate key)
      4 | [recording]
        |  ^^^^^^^^^
      write `[[recording]]`: with two brackets on each side
    line 5: this is not TOML (duplicate key)
      5 | file = "b.wav"
        | ^^^^
      leave one of the two; a new recording begins with `[[recording]]`
    "#);
    assert_snapshot!(refusal(&["a.wav"], "[[recording]]\nfile = \"a.wav\"\nfile = \"b.wav\"\n"), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 3: this is not TOML (duplicate key)
      3 | file = "b.wav"
        | ^^^^
      leave one of the two; a new recording begins with `[[recording]]`
    "#);
    assert_snapshot!(refusal(&["a.wav"], "[[recording]]\nthe lamp was on\n"), @r"
    DIR/session.toml: a mistake. No recording was read.
    line 2: this is not TOML (key with no value, expected `=`)
      2 | the lamp was on
        |     ^
      each line is `name = value`, or `[[recording]]` where a new recording begins
    ");
    assert_snapshot!(refusal(&["a.wav"], "title = \"unfinished\n"), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 1: this is not TOML (invalid basic string, expected `"`)
      1 | title = "unfinished
        |                    ^
      write it like this: `title = "Aquarium lamp, shed station"`; words stand in quotes, numbers do not
    "#);
}

#[test]
fn files_are_named_once_relative_and_not_empty() {
    let manifest = "[[recording]]\nfile = \"a-on.wav\"\n[[recording]]\nfile = \"./a-on.wav\"\n[[recording]]\nstate = \"on\"\n[[recording]]\nfile = \"\"\n[[recording]]\nfile = \"/home/x/a.wav\"\n";
    assert_snapshot!(refusal(&["a-on.wav"], manifest), @r#"
    DIR/session.toml: 4 mistakes. No recording was read.
    line 4: `./a-on.wav` is named twice: first in line 2
      4 | file = "./a-on.wav"
        |        ^^^^^^^^^^^^
      leave one of the two, or correct the file name
    line 5: this recording names no file
      5 | [[recording]]
        | ^^^^^^^^^^^^^
      add `file = "…"`: the recording's file name
    line 8: `file` is empty
      8 | file = ""
        |        ^^
      write the recording's file name
    line 10: `file` is a path from the root of the disk; it is seen from the manifest's folder
      10 | file = "/home/x/a.wav"
         |        ^^^^^^^^^^^^^^^
      write the file's name alone, or `folder/name`
    "#);
}

#[test]
fn remedy_needs_a_device_that_hears_it() {
    let manifest = "[[recording]]\nfile = \"a.wav\"\nstate = \"off\"\nremedy = \"ferrite\"\n[[recording]]\nfile = \"b.wav\"\nstate = \"terminated\"\nremedy = \"ferrite\"\n";
    assert_snapshot!(refusal(&["a.wav", "b.wav"], manifest), @r#"
    DIR/session.toml: 2 mistakes. No recording was read.
    line 4: a remedy on a recording with everything off: it names no device the remedy could belong to
      4 | remedy = "ferrite"
        |          ^^^^^^^^^
      add `device = "…"` if it is that device's off recording; else write it as a `note`
    line 8: a remedy on a terminated recording: the receiver heard no device there
      8 | remedy = "ferrite"
        |          ^^^^^^^^^
      leave `remedy` out, or write it as a `note`
    "#);
}

#[test]
fn long_and_hostile_lines_stay_on_the_screen() {
    let manifest = format!("title = \"\u{6f22}\u{5b57}\"\nnote = \"{}\", extra = 1\n", "long ".repeat(60));
    assert_snapshot!(refusal(&["a.wav"], &manifest), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 2: this is not TOML (unexpected key or value, expected newline, `#`)
      2 | … g long long long long long long long long long long long ", extra = 1
        |                                                             ^
      words stand in quotes, numbers do not
    "#);
    assert_snapshot!(refusal(&["a.wav"], "\"de\u{202e}vice\" = 1\n"), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 1: `de\u{202e}vice` is not a field of the session
      1 | "de\u{202e}vice" = 1
        | ^^^^^^^^^^^^^^^^
      the fields here are: title, mains_hz, station, reference_hz, bands_khz, antenna_type, antenna_loss_db, dbm_tolerance_db, target, supply, receiver_check, case, recording
    "#);
    assert_snapshot!(refusal(&["a.wav"], "[[recording]]\nfile = \"a.wav\"\ndevice = \"la\\u001b[2Jmp\"\n"), @r#"
    DIR/session.toml: a mistake. No recording was read.
    line 3: `device` holds a character that can't be shown, or a new line
      3 | device = "la\u001b[2Jmp"
        |          ^^^^^^^^^^^^^^^
      write plain words on one line
    "#);
}

#[test]
fn missing_files_are_left_out_and_unlisted_ones_are_named() {
    let manifest = "[[recording]]\nfile = \"off.wav\"\n[[recording]]\nfile = \"lamp-on.flac\"\n[[recording]]\nfile = \"gone.wav\"\n[[recording]]\nfile = \"sub\"\nstate = \"on\"\n";
    let s = session(&["off.wav", "lamp-on.wav", "extra\u{1b}.wav", "sub/x.txt"], manifest);
    assert_eq!(s.recordings.iter().map(|r| r.file.as_str()).collect::<Vec<_>>(), ["off.wav"]);
    let left: String = s.left_out.iter().map(|(file, reason)| format!("{file}: {reason}\n")).collect();
    assert_snapshot!(left, @r"
    lamp-on.flac: this file is not there; did you mean `lamp-on.wav`?
    gone.wav: this file is not there; correct its name in the manifest, or remove its `[[recording]]`
    sub: this is a folder; name the recording itself
    ");
    assert_snapshot!(messages(&s), @r"
    Label: The manifest does not name `extra\u{1b}.wav`, `lamp-on.wav`; not used. Add a `[[recording]]` for each that belongs to the session.
    Guessed: The manifest leaves labels of 1 of 1 recording open, which were guessed: state. Write them into it to be sure.
    Label: Off recordings that no on recording is compared with: `off.wav`.
    ");
}

#[test]
fn nothing_usable_is_an_error_with_every_reason() {
    assert_snapshot!(refusal(&[], "[[recording]]\nfile = \"gone.wav\"\n"), @r"
    DIR: none of the recordings can be used
      gone.wav: this file is not there; correct its name in the manifest, or remove its `[[recording]]`
    ");
    assert_snapshot!(refusal(&["kitchen.wav", "on-off.wav"], ""), @r"
    DIR: none of the recordings can be used
      kitchen.wav: its name does not say whether the device was off or on; rename it, for example to `kitchen-on.wav` or `kitchen-off.wav`, or give it a `state` in session.toml
      on-off.wav: its name says both off and on; rename it, for example to `device-on.wav` or `device-off.wav`, or give it a `state` in session.toml
      try: noisetally draft DIR
      It lists them in order of time in a session.toml, where you fill in state and device.
    ");
    assert_snapshot!(refusal(&["notes.txt"], ""), @r"
    DIR: no audio file lies in this folder.
      try: name the folder that holds the recordings (WAV, FLAC, MP3, Ogg …)
    ");
}

#[test]
fn files_that_are_no_manifest_are_told_so() {
    let dir = folder(&["a-on.wav"], "");
    let path = dir.path().join("session.toml");
    let refused =
        || Session::read(dir.path()).unwrap_err().to_string().replace(&*dir.path().to_string_lossy(), "DIR");
    std::fs::write(&path, b"title = \"x\"\nstation = \"\xff\xfe\"\n").unwrap();
    assert_snapshot!(refused(), @"DIR/session.toml: line 2 is not UTF-8 text. Save the manifest as UTF-8 in your editor");
    std::fs::write(&path, vec![b' '; (4 << 20) + 1]).unwrap();
    assert_snapshot!(refused(), @"DIR/session.toml: over 4 MiB: this is no manifest. Rename it, the manifest has this name");
    std::fs::remove_file(&path).unwrap();
    std::fs::create_dir(&path).unwrap();
    assert_snapshot!(refused(), @"DIR/session.toml: this is no file. Rename it: the manifest has this name");
}

#[test]
fn byte_order_mark_and_windows_lines_are_no_mistake() {
    let s = session(&["a-on.wav"], "\u{feff}title = \"x\"\r\n\r\n[[recording]]\r\nfile = \"a-on.wav\"\r\n");
    assert_eq!((s.title.as_str(), s.recordings.len()), ("x", 1));
}

#[test]
fn labels_that_contradict_the_name_are_said() {
    let manifest = "[[recording]]\nfile = \"lamp-on-ferrite-7100kHz-LSB.wav\"\nstate = \"off\"\nmode = \"USB\"\ndial_khz = 14.1\n";
    let s = session(&["lamp-on-ferrite-7100kHz-LSB.wav"], manifest);
    assert_eq!(s.recordings[0].remedy, None);
    assert_snapshot!(messages(&s), @r"
    Label: `lamp-on-ferrite-7100kHz-LSB.wav` is `off` in the manifest, and its name says on. The manifest was followed.
    Label: `lamp-on-ferrite-7100kHz-LSB.wav` is USB in the manifest, and its name says LSB. The manifest was followed.
    Label: `lamp-on-ferrite-7100kHz-LSB.wav` has its dial at 14.1 kHz in the manifest, and at 7100 kHz in its name. The manifest was followed.
    Label: `lamp-on-ferrite-7100kHz-LSB.wav` has its dial at 14.1 kHz, far from the short waves. If 14100 kHz is meant, write `dial_khz = 14100`.
    Guessed: The manifest leaves labels of 1 of 1 recording open, which were guessed: device. Write them into it to be sure.
    Label: Off recordings that no on recording is compared with: `lamp-on-ferrite-7100kHz-LSB.wav`.
    ");
}

#[test]
fn start_without_offset_is_taken_as_it_stands_and_said() {
    let manifest = "[[recording]]\nfile = \"a-off.wav\"\nstarted = 2026-03-14 19:02:00\n[[recording]]\nfile = \"a-on.wav\"\nstarted = 2026-03-14T20:02:00+01:00\n";
    let s = session(&["a-off.wav", "a-on.wav"], manifest);
    let started: Vec<String> = s.recordings.iter().map(|r| r.started.unwrap().at.to_string()).collect();
    assert_eq!(started, ["2026-03-14T19:02:00Z", "2026-03-14T19:02:00Z"]);
    assert_snapshot!(s.warnings.last().unwrap().message, @"The start of 1 recording has no offset from UTC: taken as it stands, as if it were UTC. Distances in time are right, the hour of the day may be local; write `Z` or an offset such as `+01:00` behind it to fix it.");
}

/// Whatever stands in a manifest: no panic, and every mistake is shown harmlessly with its mark on the screen.
#[test]
fn no_manifest_panics() {
    use rand::{RngExt, SeedableRng};
    let pieces = [
        "[[recording]]",
        "[recording]",
        "[",
        "]",
        "{",
        "}",
        "=",
        "\"",
        "\"\"\"",
        "'",
        "\n",
        "\r\n",
        "\t",
        "#",
        ".",
        "nan",
        "-1",
        "1e999",
        "0x10",
        "2026-03-14",
        "2026-02-30T99:00:00Z",
        "true",
        "\u{202e}",
        "\u{1b}",
        "漢",
        "état",
        "\\u0000",
    ];
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
    let (mut refused, mut read) = (0, 0);
    for _ in 0..5_000 {
        let mut text: Vec<char> = WHOLE.chars().collect();
        for _ in 0..rng.random_range(0..4) {
            let at = rng.random_range(0..text.len());
            let end = (at + rng.random_range(0..6)).min(text.len());
            let piece = pieces[rng.random_range(0..pieces.len())];
            text.splice(at..end, piece.chars());
        }
        let text: String = text.into_iter().collect();
        let Err(faults) = crate::labels::manifest::parse(&text) else {
            read += 1;
            continue;
        };
        refused += 1;
        for fault in faults {
            let shown = fault.to_string();
            assert!(!shown.chars().any(|c| c.is_control() && c != '\n'), "{shown:?}");
            assert!(fault.width >= 1 && fault.indent + fault.width <= 110, "{shown}");
            assert!(fault.line <= text.matches('\n').count() + 1 && !fault.advice.is_empty(), "{shown}");
        }
    }
    assert!(refused > 500 && read > 500, "{refused} refused and {read} read: both must be tried");
}

#[cfg(unix)]
#[test]
fn one_file_under_two_names_counts_once() {
    let dir = folder(&["a-on.wav"], "[[recording]]\nfile = \"a-on.wav\"\n[[recording]]\nfile = \"b-on.wav\"\n");
    std::os::unix::fs::symlink(dir.path().join("a-on.wav"), dir.path().join("b-on.wav")).unwrap();
    let s = Session::read(dir.path()).unwrap();
    assert_eq!((s.recordings.len(), s.left_out.len()), (1, 1));
}

#[test]
fn a_receiver_check_is_read_and_stays_out_of_the_recordings() {
    let check = "[receiver_check]\nattenuator_db = 10\nattenuator_out = [\"check/out.wav\"]\nattenuator_in = [\"check/in.wav\"]\n";
    let session = session(&["off.wav", "lamp-on.wav"], &format!("title = \"Shed\"\n{check}"));
    assert_eq!(session.recordings.len(), 2);
    let label = session.receiver_check.unwrap();
    assert_eq!(
        (label.attenuator_db, label.out, label.inserted),
        (10.0, vec!["check/out.wav".into()], vec!["check/in.wav".into()])
    );
    for (wrong, said) in [
        ("receiver_check = 10\n", "group of fields"),
        ("[receiver_check]\nattenuator_db = 10\n", "lacks its attenuator"),
        ("[receiver_check]\nattenuator_db = 0.5\n", "between 3 and 40"),
        ("[receiver_check]\nattenuator_out = \"out.wav\"\n", "a list of file names"),
        ("[receiver_check]\nattenuator_in = [\"/tmp/in.wav\"]\n", "from the root of the disk"),
        ("[receiver_check]\natenuator_db = 10\n", "did you mean `attenuator_db`"),
    ] {
        let told = refusal(&["off.wav"], wrong);
        assert!(told.contains(said), "{wrong}: {told}");
    }
}
