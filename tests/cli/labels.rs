//! From file names and the manifest to a session: drafting, checking, running; names that shells and terminals
//! dislike.

use crate::bench::{Bench, new_report, off, on};
use noisetally::demo::synth::{Carrier, Carriers, Hash, Scene};
use noisetally::units::{Db, Dbfs};

#[test]
fn the_report_goes_to_reports_and_the_folders_name() {
    let bench = Bench::shed();
    let ran = bench.run(["session", "shed"]);
    ran.exit(0)
        .stderr("4 recordings and 1 comparison in reports/shed: read reports/shed/report.md\n")
        .files(&[vec!["+ reports/".to_owned()], new_report("reports/shed")].concat());
    assert!(ran.stdout.starts_with("lamp: With the lamp on, the noise rises by "), "{ran:#?}");
    assert_eq!(ran.stdout.lines().count(), 1);
}

#[test]
fn a_session_in_the_folder_itself_is_named_after_it() {
    let bench = Bench::shed();
    bench
        .run_in("shed", ["session", "."])
        .exit(0)
        .stderr("4 recordings and 1 comparison in reports/shed: read reports/shed/report.md\n")
        .files(&[vec!["+ shed/reports/".to_owned()], new_report("shed/reports/shed")].concat());
    bench.run_in("shed", ["session", ".", "-q"]).exit(0).stderr("").no_files();
}

#[test]
fn drafted_labels_are_taken_without_complaint() {
    let bench = Bench::shed();
    bench
        .run(["draft", "shed"])
        .exit(0)
        .stdout("")
        .stderr("wrote shed/session.toml: check what is marked as guessed, then run: noisetally session shed\n")
        .files(&["+ shed/session.toml"]);
    let printed = bench.run(["draft", "shed", "--out", "-"]);
    printed.exit(0).stdout(&bench.read("shed/session.toml")).stderr("").no_files();
    let checked = bench.run(["check", "shed", "--json"]);
    checked.exit(0).stderr("").no_files();
    let report = checked.json();
    assert_eq!(report["warnings"].as_array().unwrap().len(), 0, "{}", report["warnings"]);
    bench.run(["session", "shed"]).exit(0);
    assert!(!bench.read("reports/shed/details.md").contains("guess to confirm"));
}

#[test]
fn a_manifest_that_is_there_is_not_overwritten() {
    let bench = Bench::shed().file("shed/session.toml", b"title = \"mine\"\n");
    bench.run(["draft", "shed"]).exit(2).stdout("").no_files().stderr(
        "noisetally: shed/session.toml: already there. Nothing was written.\n  try: --force to overwrite it, or --out \
         FILE\n",
    );
    bench.run(["draft", "shed", "--force", "-q"]).exit(0).stdout("").stderr("").files(&["~ shed/session.toml"]);
}

#[test]
fn check_prints_columns_and_writes_nothing() {
    let bench = Bench::shed();
    bench.run(["draft", "shed", "-q"]).exit(0);
    let ran = bench.run(["check", "shed"]);
    ran.exit(0).stderr("").no_files();
    let lines: Vec<&str> = ran.stdout.lines().collect();
    assert_eq!(lines[..3], ["shed", "", "4 recordings:"]);
    assert!(lines[3].starts_with("  01-off.wav      off        6.0 s  -"), "{ran:#?}");
    assert!(lines[4].starts_with("  02-lamp-on.wav  on   lamp  6.0 s  -"), "{ran:#?}");
    assert_eq!(lines[8], "1 comparison:");
    assert!(lines[9].starts_with("  lamp  2 on  2 off  sound  would show a rise of "), "{ran:#?}");
    assert_eq!(lines[10..12], ["", "Mind:"]);
    assert!(lines[12].starts_with("  ! lamp: nothing shows that the gain was fixed"), "{ran:#?}");
}

#[test]
fn mistakes_in_the_manifest_are_shown_with_their_line() {
    let bench = Bench::shed().file("shed/session.toml", b"[[recording]]\nfile = \"01-off.wav\"\nstate = \"of\"\n");
    let ran = bench.run(["session", "shed"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.starts_with("noisetally: shed/session.toml: a mistake. No recording was read.\nline 3: "));
    assert!(ran.stderr.contains("  3 | state = \"of\"\n"), "{ran:#?}");
}

#[test]
fn a_recording_the_manifest_misspells_is_named_and_the_others_are_done() {
    let labels = "[[recording]]\nfile = \"01-of.wav\"\nstate = \"off\"\n[[recording]]\nfile = \"03-off.wav\"\nstate = \
                  \"off\"\n[[recording]]\nfile = \"02-lamp-on.wav\"\nstate = \"on\"\ndevice = \"lamp\"\n";
    let bench = Bench::shed().file("shed/session.toml", labels.as_bytes());
    let ran = bench.run(["check", "shed"]);
    ran.exit(1).stderr("").no_files();
    assert!(ran.stdout.contains("  lamp  1 on  1 off  unrepeated"), "{ran:#?}");
    let unwrapped = ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        unwrapped.contains("! 01-of.wav (left out): this file is not there; did you mean `01-off.wav`?"),
        "{ran:#?}"
    );
}

#[test]
fn names_of_any_kind_pass_through() {
    let name = "it's \"odd\" | лампа 電灯; $HOME";
    let bench = Bench::new()
        .scene(&format!("{name}/01 off 'a' | \"b\".wav"), &off(1))
        .scene(&format!("{name}/02 лампа on $(ls) `x` *.wav"), &on(2));
    let ran = bench.run(["session", name]);
    ran.exit(0)
        .stderr(&format!("2 recordings and 1 comparison in reports/{name}: read reports/{name}/report.md\n"))
        .files(&[vec!["+ reports/".to_owned()], new_report(&format!("reports/{name}"))].concat());
    let report = bench.json(&format!("reports/{name}/report.json"));
    assert_eq!(report["recordings"][1]["file"], "02 лампа on $(ls) `x` *.wav");
    // In a table of Markdown a bare pipe would begin a new cell (GitHub Flavored Markdown 0.29, 4.10).
    let markdown = bench.read(&format!("reports/{name}/details.md"));
    let row = markdown.lines().find(|line| line.contains("01 off 'a'") && line.starts_with('|')).unwrap();
    assert!(!row.contains("' | \""), "{row}");
}

#[test]
fn control_characters_of_a_name_never_reach_the_terminal() {
    let bench = Bench::shed().file("shed/05-off \u{1b}[31mred\u{7}.wav", b"");
    let ran = bench.run(["session", "shed"]);
    ran.exit(1);
    for text in
        [&ran.stdout, &ran.stderr, &bench.read("reports/shed/details.md"), &bench.read("reports/shed/post.txt")]
    {
        assert!(!text.contains(['\u{1b}', '\u{7}']), "{text}");
    }
    assert!(ran.stderr.contains("left out: 05-off \\u{1b}[31mred\\u{7}.wav: is empty (0 bytes)"), "{ran:#?}");
}

#[test]
fn remedies_form_a_ladder() {
    let weaker = |seed: u64| -> Scene { off(seed).device(Hash::flat(), Db(4.0)) };
    let bench = Bench::shed().scene("shed/05-lamp-on-ferrite.wav", &weaker(5));
    let ran = bench.run(["session", "shed", "--json", "-q"]);
    ran.exit(0).stderr("");
    let steps = ran.json()["ladders"][0]["steps"].clone();
    assert_eq!((&steps[0]["remedy"], &steps[1]["remedy"]), (&serde_json::Value::Null, &"ferrite".into()));
    // The excess the scene was made with; 6 s of 2.4 kHz tell it to about 0.1 dB.
    assert!((steps[1]["excess_db"].as_f64().unwrap() - 4.0).abs() < 0.4, "{steps}");
}

/// Its names are such as the user's own recordings have.
#[test]
fn the_demo_leaves_a_folder_with_recordings_alone() {
    let bench = Bench::new().wav("mine/03-off.wav", &[0.1; 800], 8000);
    let ran = bench.run(["demo", "mine"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.starts_with("noisetally: mine: there is something in it already"), "{ran:#?}");
}

#[test]
fn the_demo_is_a_clean_session() {
    let bench = Bench::new();
    let ran = bench.run(["demo", "pond"]);
    ran.exit(0).stdout("").stderr("wrote 20 files to pond; now run: noisetally session pond\n");
    assert_eq!(ran.files.len(), 21, "{ran:#?}");
    bench.run(["demo", "pond"]).exit(2).stdout("").no_files().stderr(
        "noisetally: pond: there is something in it already. Nothing was written.\n  try: a new, empty folder\n",
    );
    let ran = bench.run(["check", "pond", "--json"]);
    ran.exit(0).stderr("").no_files();
    let report = ran.json();
    assert_eq!(report["warnings"].as_array().unwrap().len(), 0, "{}", report["warnings"]);
    assert!(report["contrasts"].as_array().unwrap().iter().all(|contrast| contrast["trust"] == "sound"));
}

/// A session of one off and one on with these labels more: trust and codes.
fn judged(off_scene: &Scene, on_scene: &Scene, more: [&str; 2]) -> (String, Vec<String>) {
    let entry = |file: &str, state: &str, more: &str| {
        format!("[[recording]]\nfile = '{file}'\nstate = '{state}'\ndevice = 'lamp'\nmode = 'USB'\n{more}\n")
    };
    let manifest = entry("1.wav", "off", more[0]) + &entry("2.wav", "on", more[1]);
    let bench = Bench::new()
        .scene("shed/1.wav", off_scene)
        .scene("shed/2.wav", on_scene)
        .file("shed/session.toml", manifest.as_bytes());
    let contrast = bench.run(["session", "shed", "--json", "-q"]).json()["contrasts"][0].clone();
    let trust = contrast["trust"].as_str().unwrap().to_owned();
    (trust, crate::bench::codes(&contrast).into_iter().map(str::to_owned).collect())
}

/// What follows from each label is common practice: an AGC hides steady noise, whoever switched it off says so.
#[test]
fn a_label_that_says_agc_is_believed() {
    let with = |gain: &str| judged(&off(1), &on(2), [&format!("gain = '{gain}'"); 2]);
    assert_eq!(with("AGC off, RF 60"), ("unrepeated".to_owned(), vec![]));
    for said in ["AGC on", "AGC fast", "slow AGC, RF 60"] {
        assert_eq!(with(said), ("doubtful".to_owned(), vec!["gain_moving".to_owned()]), "{said}");
    }
    for untold in ["AGC is off", "RF gain 60"] {
        assert_eq!(with(untold), ("unrepeated".to_owned(), vec!["gain_unknown".to_owned()]), "{untold}");
    }
}

#[test]
fn takes_of_another_day_are_doubtful() {
    let made = |on_day: u32| {
        let at = |day: u32| format!("gain = 'AGC off'\nstarted = 2026-03-{day}T19:00:00Z");
        judged(&off(1), &on(2), [&at(14), &at(on_day)])
    };
    assert_eq!(made(14), ("unrepeated".to_owned(), vec![]));
    assert_eq!(made(15), ("doubtful".to_owned(), vec!["far_apart".to_owned()]));
}

/// By construction: carriers that stand in one take and not in the other.
#[test]
fn carriers_of_off_alone_may_be_swapped_labels() {
    let carriers = |places: &[f64]| Carriers::new(places.iter().map(|&hz| Carrier::at(hz)).collect::<Vec<_>>());
    let with = |places: &[f64], seed: u64| off(seed).carriers(carriers(places), Dbfs(-40.0));
    let fixed = ["gain = 'AGC off'"; 2];
    let swapped = judged(&with(&[700.0, 1100.0, 1777.0, 2100.0], 1), &off(2), fixed);
    assert_eq!(swapped, ("doubtful".to_owned(), vec!["label".to_owned()]));
    let one_left = judged(&with(&[700.0], 1), &off(2), fixed);
    assert_eq!(one_left, ("unrepeated".to_owned(), vec![]));
}
