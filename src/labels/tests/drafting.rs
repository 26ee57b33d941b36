//! A drafted manifest, read back, says what the names said.

use super::{folder, session};
use crate::labels::{Label, Session, SessionError};

/// The text of a draft, where only names tell.
fn draft(dir: &std::path::Path) -> Result<String, SessionError> {
    crate::labels::draft(dir, &|_| None).map(|draft| draft.text)
}

const NAMES: &[&str] = &[
    "01-off.flac",
    "02-lamp-on.wav",
    "03-lamp-on-3x ferrite.wav",
    "10 lamp on linear supply (2).mp3",
    "kitchen.wav",
    "lamp_off_14100kHz_USB.wav",
    "20260314_190200_lamp_on.wav",
    "20260314T190200Z heater on.wav",
    "off-start.wav",
    "off-40m-S7.wav",
    "terminated after rain.wav",
    "lamp on ssb.wav",
    "лампа-on.ogg",
    "lamp_1_off.wav",
    "lamp_2_on.wav",
    "heater-off-clip-on-ferrite.wav",
    "heater_on_7,055MHz_lsb_2.4kHz.wav",
];

/// Names that only some file systems hold.
#[cfg(unix)]
const HARD_NAMES: &[&str] = &[
    "quote \" on.wav",
    "pipe | on.wav",
    "back\\slash on.wav",
    "tab\tnewline\n on.wav",
    "escape \u{1b}[2J on.wav",
    "'''on'''.wav",
    "\u{202e}on.wav",
    "#on.wav",
    "[[recording]] on.wav",
    "state = off.wav",
];
#[cfg(not(unix))]
const HARD_NAMES: &[&str] = &[];

/// The labels without what was guessed: a manifest leaves nothing to guess.
fn labels(session: &Session) -> Vec<Label> {
    session.recordings.iter().map(|l| Label { guesses: Vec::new(), ..l.clone() }).collect()
}

#[test]
fn draft_read_back_gives_the_same_session() {
    let names: Vec<&str> = NAMES.iter().chain(HARD_NAMES).copied().collect();
    let dir = folder(&names, "");
    let from_names = Session::read(dir.path()).unwrap();
    let text = draft(dir.path()).unwrap();
    std::fs::write(dir.path().join("session.toml"), &text).unwrap();
    let from_draft = Session::read(dir.path()).unwrap_or_else(|e| panic!("{e}\n{text}"));
    assert_eq!(labels(&from_draft), labels(&from_names));
    assert_eq!(from_draft.settings, from_names.settings);
    assert_eq!(from_draft.contrasts, from_names.contrasts);
    assert_eq!(from_draft.left_out, from_names.left_out);
    assert_eq!(from_draft.title, from_names.title);
    assert_eq!(from_names.recordings.len(), names.len() - 1, "all but the kitchen");
    assert!(!text.chars().any(|c| c.is_control() && c != '\n'), "harmless for a terminal");
    for hint in ["# remedy =", "# antenna =", "# station =", "# state =", "# guessed from the file name"] {
        assert!(text.contains(hint), "{hint}");
    }
}

#[test]
fn draft_marks_guesses_and_hints_the_rest() {
    let dir = folder(&["02-lamp-on-3 ferrites 14100kHz.wav", "kitchen.wav"], "");
    let text = draft(dir.path()).unwrap();
    let body = text.split_once("\n\n").unwrap().1;
    insta::assert_snapshot!(body, @r#"
    [[recording]]
    file = "02-lamp-on-3 ferrites 14100kHz.wav"
    state = "on"                          # guessed from the file name
    device = "lamp"                       # guessed from the file name
    remedy = "3 ferrites"                 # guessed from the file name
    order = 2                             # guessed from the file name
    ferrites = 3                          # guessed from the file name
    dial_khz = 14100                      # guessed from the file name
    # mode = "USB"                        # USB, LSB, CW, AM or FM
    # bandwidth_hz = 2400
    # antenna = "end-fed wire"
    # gain = "AGC off, RF gain 60"
    # started = 2026-03-14T19:02:00Z
    # meter = "S7"                        # the receiver's own reading, or dbm = -85.0

    # The names from here on do not say what was recorded. They stand in order of time: fill in state and device of
    # each, and what was changed, and take the # away.

    [[recording]]
    file = "kitchen.wav"
    # state = "on"                        # off, on or terminated: the name does not say
    # device = "aquarium lamp"
    # remedy = "linear supply"            # what was changed to quieten it
    # order = 1                           # place in the order of remedies
    # ferrites = 3                        # pieces on the lead
    # dial_khz = 14100.0
    # mode = "USB"                        # USB, LSB, CW, AM or FM
    # bandwidth_hz = 2400
    # antenna = "end-fed wire"
    # gain = "AGC off, RF gain 60"
    # started = 2026-03-14T19:02:00Z
    # meter = "S7"                        # the receiver's own reading, or dbm = -85.0
    "#);
}

#[test]
fn a_hint_taken_as_it_stands_is_valid() {
    let dir = folder(&["off.wav", "lamp-on.wav"], "");
    let text = draft(dir.path()).unwrap();
    let field = |line: &str| {
        line.strip_prefix("# ").is_some_and(|l| l.split_once(" = ").is_some_and(|(n, _)| !n.contains(' ')))
    };
    let all: Vec<&str> = text.lines().map(|l| if field(l) { &l[2..] } else { l }).collect();
    // A remedy needs a device, and "off.wav" has none before its hint is taken: all hints are.
    let s = session(&["off.wav", "lamp-on.wav"], &all.join("\n"));
    assert_eq!(s.recordings[1].remedy.as_deref(), Some("linear supply"));
}

#[test]
fn folder_without_audio_gives_no_draft() {
    let dir = folder(&["notes.txt"], "");
    assert!(matches!(draft(dir.path()), Err(SessionError::NoAudio { .. })));
}

#[cfg(target_os = "linux")]
#[test]
fn name_that_is_no_text_is_mentioned_and_can_be_read_without_a_manifest() {
    use std::os::unix::ffi::OsStrExt;
    let dir = folder(&["off.wav"], "");
    let name = std::ffi::OsStr::from_bytes(b"lamp\xff on.wav");
    std::fs::write(dir.path().join(name), b"").unwrap();
    assert_eq!(Session::read(dir.path()).unwrap().contrasts.len(), 1);
    assert!(draft(dir.path()).unwrap().contains("the name is no Unicode text"));
}
