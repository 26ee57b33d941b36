//! Whole folders of recordings under names as people give them: drafted, finished and compared.

use std::fs;

use serde_json::Value;

use crate::bench::{Bench, off, on};

/// A folder: each recording with whether its lamp, or whatever it is, is on in the sound.
type Folder = &'static [(&'static str, bool)];

fn recorded(dir: &str, folder: Folder) -> Bench {
    let takes = folder.iter().zip(1..);
    takes.fold(Bench::new(), |bench, ((name, is_on), seed)| {
        bench.scene(&format!("{dir}/{name}"), &if *is_on { on(seed) } else { off(seed) })
    })
}

/// What is compared, one a line: device, remedy, ferrites of the first on recording.
fn compared(report: &Value) -> Vec<String> {
    let line = |contrast: &Value| {
        let remedy = contrast["remedy"].as_str().map_or_else(String::new, |remedy| format!(", {remedy}"));
        let sides = ["on", "off"].map(|side| contrast[side].as_array().unwrap().len());
        format!("{}{remedy}: {} on, {} off", contrast["device"].as_str().unwrap(), sides[0], sides[1])
    };
    report["contrasts"].as_array().unwrap().iter().map(line).collect()
}

/// From names alone and through a draft the same comparisons come out, and nothing is left to do after it.
fn comes_out(folder: Folder, expected: &[&str]) {
    let bench = recorded("evening", folder);
    let ran = bench.run(["check", "evening", "--json", "-q"]);
    ran.exit(0);
    assert_eq!(compared(&ran.json()), expected, "by names");
    bench.run(["draft", "evening"]).exit(0).stderr(
        "wrote evening/session.toml: check what is marked as guessed, then run: noisetally session evening\n",
    );
    let ran = bench.run(["session", "evening", "--json", "-q"]);
    ran.exit(0);
    assert_eq!(compared(&ran.json()), expected, "by the draft\n{}", bench.read("evening/session.toml"));
    assert_eq!(ran.json()["left_out"].as_array().unwrap().len(), 0);
}

macro_rules! folders {
    ($($name:ident: $folder:expr => $expected:expr,)+) => {
        $(#[test] fn $name() { comes_out($folder, $expected); })+
    };
}

folders! {
    remedies_without_their_device: &[
        ("1_off.wav", false), ("2_lamp-on.wav", true), ("3_on_2-clips.wav", true), ("4_on_four-clips.wav", true),
    ] => &["lamp: 1 on, 1 off", "lamp, 2 clips: 1 on, 1 off", "lamp, four clips: 1 on, 1 off"],
    remedies_of_two_devices: &[
        ("1 off.wav", false), ("2 lamp on.wav", true), ("3 on 2x choke.wav", true), ("4 heater on.wav", true),
        ("5 on 2x choke.wav", true),
    ] => &[
        "lamp: 1 on, 1 off", "lamp, 2x choke: 1 on, 1 off", "heater: 1 on, 1 off", "heater, 2x choke: 1 on, 1 off",
    ],
    german: &[
        ("01 Alles aus.wav", false), ("02 Küchenlampe an.wav", true), ("03 Ku\u{308}chenlampe an, zwei Ferrite.wav", true),
        ("04 Küchenlampe aus.wav", false),
    ] => &["Küchenlampe: 1 on, 2 off", "Küchenlampe, zwei Ferrite: 1 on, 2 off"],
    french: &[
        ("lampe_éteinte.wav", false), ("lampe_allumée.wav", true), ("lampe_allumée_3-tores.wav", true),
    ] => &["lampe: 1 on, 1 off", "lampe, 3 tores: 1 on, 1 off"],
    spanish: &[
        ("sin lámpara.wav", false), ("con lámpara.wav", true), ("lámpara con ferrita.wav", true),
    ] => &["lámpara: 1 on, 1 off", "lámpara, ferrita: 1 on, 1 off"],
    italian: &[
        ("CaricatoreSpento.wav", false), ("CaricatoreAcceso.wav", true), ("CaricatoreAcceso (1).wav", true),
    ] => &["Caricatore: 2 on, 1 off"],
    dutch: &[
        ("achtergrond.wav", false), ("lader.aan.wav", true), ("lader.aan.drie-ferrieten.wav", true),
    ] => &["lader: 1 on, 1 off", "lader, drie ferrieten: 1 on, 1 off"],
    with_and_without: &[
        ("Without lamp.wav", false), ("With lamp.wav", true), ("lamp with 2 clips.wav", true),
    ] => &["lamp: 1 on, 1 off", "lamp, 2 clips: 1 on, 1 off"],
    numbers_of_names: &[
        ("baseline.wav", false), ("12 V lamp on.wav", true), ("led 2700K on.wav", true), ("USB 3 hub on.wav", true),
    ] => &["12 V lamp: 1 on, 1 off", "led 2700K: 1 on, 1 off", "USB 3 hub: 1 on, 1 off"],
}

/// What a user does with a draft: takes the # away and writes what was on.
fn filled_in(draft: &str, states: &[(&str, &str)]) -> String {
    let mut lines: Vec<String> = draft.lines().map(str::to_owned).collect();
    for (file, filled) in states {
        let at = lines.iter().position(|line| *line == format!("file = \"{file}\"")).unwrap();
        assert!(lines[at + 1].starts_with("# state = "), "{draft}");
        lines[at + 1] = (*filled).to_owned();
    }
    lines.join("\n")
}

#[test]
fn names_that_say_nothing_are_listed_in_order_of_time() {
    const NAMES: [&str; 4] = ["New Recording 12.wav", "New Recording 9.wav", "20260314_190212.wav", "REC0001.WAV"];
    let bench = recorded(
        "my phone",
        &[
            ("New Recording 12.wav", false),
            ("New Recording 9.wav", true),
            ("20260314_190212.wav", false),
            ("REC0001.WAV", true),
        ],
    );
    bench.run(["session", "my phone"]).exit(2).stdout("").no_files().stderr(
        "noisetally: my phone: nothing says of any recording whether the device was off or on \
         (`20260314_190212.wav`, `New Recording 9.wav`, `New Recording 12.wav`, `REC0001.WAV`). No recording was \
         read.\n  try: noisetally draft 'my phone'\n  It lists them in order of time in a session.toml, where you \
         fill in state and device.\n",
    );
    // The ends of the takes, six seconds each: the file's date is that of its last sample.
    for (name, at_s) in [(NAMES[0], 1_773_514_806), (NAMES[1], 1_773_514_866), (NAMES[3], 1_773_514_746)] {
        let file = fs::File::options().append(true).open(bench.path(&format!("my phone/{name}"))).unwrap();
        let at = std::time::UNIX_EPOCH + std::time::Duration::from_secs(at_s);
        file.set_modified(at).unwrap();
    }
    bench.run(["draft", "my phone"]).exit(0).stdout("").stderr(
        "wrote my phone/session.toml: fill in state and device of 4 recordings, then run: noisetally session 'my \
         phone'\n",
    );
    let text = bench.read("my phone/session.toml");
    let told: Vec<&str> = text.lines().filter(|l| l.starts_with("file = ") || l.contains("started = ")).collect();
    assert_eq!(
        told,
        [
            "file = \"REC0001.WAV\"",
            "# started = 2026-03-14T18:59:00Z      # from the file's date, less its length (copying may have changed it)",
            "file = \"New Recording 12.wav\"",
            "# started = 2026-03-14T19:00:00Z      # from the file's date, less its length (copying may have changed it)",
            "file = \"New Recording 9.wav\"",
            "# started = 2026-03-14T19:01:00Z      # from the file's date, less its length (copying may have changed it)",
            "file = \"20260314_190212.wav\"",
            "started = 2026-03-14T19:02:12         # guessed from the file name",
        ]
    );
    assert!(text.contains("# Times with Z are UTC, the others a clock without a zone"), "{text}");
    let ran = bench.run(["session", "my phone"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.ends_with(
        "  try: fill in `state` and `device` of each in my phone/session.toml, and take the # before them away\n"
    ), "{ran:#?}");
    let text = filled_in(
        &text,
        &[
            (NAMES[0], "state = \"off\""),
            (NAMES[1], "state = \"on\"\ndevice = \"lamp\""),
            (NAMES[2], "state = \"off\""),
            (NAMES[3], "state = \"on\"\ndevice = \"lamp\""),
        ],
    );
    let bench = bench.file("my phone/session.toml", text.as_bytes());
    let ran = bench.run(["session", "my phone", "--json", "-q"]);
    ran.exit(0);
    assert_eq!(compared(&ran.json()), ["lamp: 2 on, 2 off"]);
}

/// Some names tell, others don't; the recorder's own date counts before the file's.
#[test]
fn the_tag_of_a_recorder_dates_a_recording_that_is_to_be_filled_in() {
    let tagged = fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/dated-bext.wav")).unwrap();
    let bench = Bench::shed().file("shed/Voice 003.wav", &tagged);
    bench.run(["draft", "shed"]).exit(0).stderr(
        "wrote shed/session.toml: check what is marked as guessed, fill in state and device of 1 recording, then \
         run: noisetally session shed\n",
    );
    let text = bench.read("shed/session.toml");
    let voice = text.split_once("file = \"Voice 003.wav\"").unwrap().1;
    let started = voice.lines().find(|line| line.contains("started = ")).unwrap();
    assert!(
        started.starts_with("started = 20") && started.ends_with("# from the recorder's tag in the file"),
        "{started}"
    );
    let ran = bench.run(["session", "shed"]);
    ran.exit(1);
    assert!(ran.stderr.contains("left out: Voice 003.wav: its name does not say"), "{ran:#?}");
}

/// What can't be told is said, with the word and its language.
#[test]
fn a_word_that_may_be_of_another_language_is_no_guess() {
    let bench = recorded("mixed", &[("off.wav", false), ("lamp on.wav", true), ("Lampe an.wav", true)]);
    let ran = bench.run(["session", "mixed"]);
    ran.exit(1);
    assert!(
        ran.stderr.contains(
            "left out: Lampe an.wav: its name says whether the device was off or on only if `an` is German, which \
             nothing else here shows; rename it"
        ),
        "{ran:#?}"
    );
}

/// Pasted into a shell, the command that is printed does what it says, whatever the folder is called.
#[cfg(unix)]
#[test]
fn printed_commands_can_be_pasted() {
    let program = std::path::Path::new(env!("CARGO_BIN_EXE_noisetally"));
    for name in ["it's $HOME; `x` \"y\" *", "-shed", "Küche & Flur", "a\\b"] {
        let bench = recorded(name, &[("off.wav", false), ("lamp on.wav", true)]);
        let ran = bench.run(["draft", "--", name]);
        ran.exit(0);
        let command = ran.stderr.trim_end().rsplit_once("run: ").unwrap().1;
        let path = format!("{}:/usr/bin:/bin", program.parent().unwrap().display());
        let pasted = std::process::Command::new("sh")
            .args(["-c", command])
            .env("PATH", path)
            .current_dir(bench.path("."))
            .output()
            .unwrap();
        assert!(pasted.status.success(), "{command}: {}", String::from_utf8_lossy(&pasted.stderr));
        assert!(bench.path(&format!("reports/{name}/report.md")).is_file(), "{command}");
    }
}
