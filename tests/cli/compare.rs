//! `compare`: reports of two evenings with a known change; what may not be compared and what is no report.

use serde_json::Value;

use crate::bench::{Bench, LAMP_DB, off};
use noisetally::demo::synth::{Hash, Scene};
use noisetally::units::Db;

/// The lamp's excess in autumn, dB.
const AUTUMN_DB: f64 = 4.0;

fn takes(bench: Bench, folder: &str, seed: u64, excess_db: f64, day: &str) -> Bench {
    let on = |seed: u64| -> Scene { off(seed).device(Hash::flat(), Db(excess_db)) };
    let label = |file: &str, state: &str, device: &str, minute: usize| {
        format!(
            "[[recording]]\nfile = \"{file}\"\nstate = \"{state}\"\n{device}dial_khz = 7100.0\nmode = \"USB\"\n\
             bandwidth_hz = 2400\nantenna = \"wire\"\ngain = \"AGC off\"\nstarted = {day}T19:0{minute}:00Z\n"
        )
    };
    let lamp = "device = \"lamp\"\n";
    let text = label("1.wav", "off", "", 1)
        + &label("2.wav", "on", lamp, 2)
        + &label("3.wav", "off", "", 3)
        + &label("4.wav", "on", lamp, 4);
    bench
        .scene(&format!("{folder}/1.wav"), &off(seed))
        .scene(&format!("{folder}/2.wav"), &on(seed + 1))
        .scene(&format!("{folder}/3.wav"), &off(seed + 2))
        .scene(&format!("{folder}/4.wav"), &on(seed + 3))
        .file(&format!("{folder}/session.toml"), text.as_bytes())
}

/// Reports of two evenings.
pub fn evenings() -> Bench {
    let bench = takes(Bench::new(), "spring", 1, LAMP_DB, "2026-03-14");
    let bench = takes(bench, "autumn", 11, AUTUMN_DB, "2026-09-20");
    for folder in ["spring", "autumn"] {
        bench.run(["session", folder, "-q"]).exit(0);
    }
    bench
}

/// The truth is in the recordings: 10 dB then, 4 dB now. Named in either order, then is the earlier one.
#[test]
fn a_known_change_is_told_with_an_interval_that_holds_it() {
    let bench = evenings();
    for order in [["reports/spring", "reports/autumn"], ["reports/autumn", "reports/spring/report.json"]] {
        let ran = bench.run(["compare", order[0], order[1], "--json"]);
        ran.exit(0).stderr("");
        assert!(ran.files.is_empty(), "{:?}", ran.files);
        let change = ran.json()["changes"][0].clone();
        assert_eq!(
            (&change["device"], &change["shows"], &change["days"]),
            (&"lamp".into(), &"less".into(), &190.0.into())
        );
        let ends = |name: &str| [0, 1].map(|end| change[name][end].as_f64().unwrap());
        for (name, truth) in
            [("then_ci_db", LAMP_DB), ("now_ci_db", AUTUMN_DB), ("change_ci_db", AUTUMN_DB - LAMP_DB)]
        {
            let [low, high] = ends(name);
            assert!(low <= truth && truth <= high, "{name}: {low} to {high}");
        }
    }
    let ran = bench.run(["compare", "reports/spring", "reports/autumn"]);
    assert!(
        ran.exit(0)
            .stdout
            .starts_with("1: spring, 2026-03-14\n2: autumn, 2026-09-20, 190 days (6 months) later\nLamp: ")
    );
    let words = ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("Everything off, 7100 kHz")
            && words.contains("can't be compared; that takes a power in dBm"),
        "{words}"
    );
}

#[test]
fn its_folder_is_a_short_report_and_takes_no_other_reports_place() {
    let bench = evenings();
    let args = ["compare", "reports/spring", "reports/autumn", "--out", "reports/both"];
    let ran = bench.run(args);
    let made =
        ["", "*.png", "report.html", "report.json", "report.md"].map(|file| format!("+ reports/both/{file}"));
    assert_eq!(ran.exit(0).files, made);
    assert!(ran.stderr.contains("2 reports in reports/both: read reports/both/report.md"), "{}", ran.stderr);
    assert_eq!(bench.run(args).exit(0).files, Vec::<String>::new(), "the same bytes again");
    assert_eq!(bench.json("reports/both/report.json")["figures"][0]["file"], "changes.png");
    for (args, why) in [
        (["compare", "reports/spring", "reports/autumn", "--out", "reports/spring"], "is no comparison of reports"),
        (["session", "spring", "-q", "--out", "reports/both"], "is no report of noisetally"),
        (["compare", "reports/both", "reports/autumn", "-q", "--json"], "is what the command compare made"),
    ] {
        let ran = bench.run(args);
        assert!(ran.exit(2).stderr.contains(why) && ran.files.is_empty(), "{ran:#?}");
    }
}

#[test]
fn what_is_no_report_is_named_with_the_reason_and_nothing_is_written() {
    let bench = evenings();
    let text = bench.read("reports/spring/report.json");
    let mut value: Value = serde_json::from_str(&text).unwrap();
    value["schema"] = 7.into();
    let bench = bench
        .file("cut/report.json", &text.as_bytes()[..text.len() / 2])
        .file("later/report.json", value.to_string().as_bytes())
        .file("edited/report.json", text.replace("\"trust\": \"sound\"", "\"trust\": \"perfect\"").as_bytes())
        .file("binary/report.json", b"\xff\xfe\x00")
        .file("empty/notes.txt", b"");
    for (folder, why) in [
        ("cut", "cut/report.json: ends in the middle, in line "),
        ("later", "later/report.json: is of layout 7"),
        ("edited", "edited/report.json: made by noisetally"),
        ("binary", "binary/report.json: is no UTF-8 text"),
        ("empty", "empty/report.json: there is no such file"),
        ("spring/1.wav", "1.wav: is no UTF-8 text"),
        ("gone", "gone: can't be opened"),
    ] {
        let ran = bench.run(["compare", "reports/autumn", folder, "--out", "out"]);
        assert!(ran.exit(2).stderr.contains(why) && ran.stdout.is_empty(), "{folder}: {ran:#?}");
        assert!(ran.stderr.contains("Nothing was written.") && ran.files.is_empty(), "{folder}: {ran:#?}");
        let ran = bench.run(["handout", folder]);
        assert!(ran.exit(2).stderr.contains(why) && ran.files.is_empty(), "{folder}: {ran:#?}");
    }
    let ran = bench.run(["compare", "reports/spring", "reports/spring"]);
    assert!(ran.exit(2).stderr.contains("are of the same recordings"), "{ran:#?}");
}

/// One device on one evening alone: named, and nothing was compared, so the exit code says so.
#[test]
fn what_is_in_one_report_only_is_named() {
    let bench = evenings();
    let text = bench.read("autumn/session.toml").replace("\"lamp\"", "\"pump\"");
    let bench = bench.file("autumn/session.toml", text.as_bytes());
    bench.run(["session", "autumn", "-q"]).exit(0);
    let ran = bench.run(["compare", "reports/spring", "reports/autumn"]);
    assert!(ran.exit(1).stdout.contains("Only in report 1: lamp.\nOnly in report 2: pump.\n"), "{ran:#?}");
    let text = bench.read("autumn/session.toml").replace("\"pump\"", "\"lamp\"").replace("\"wire\"", "\"loop\"");
    let bench = bench.file("autumn/session.toml", text.as_bytes());
    bench.run(["session", "autumn", "-q"]).exit(0);
    let ran = bench.run(["compare", "reports/spring", "reports/autumn"]);
    assert!(ran.exit(1).stdout.contains("Lamp, reports 1 and 2: not compared; antenna differs:"), "{ran:#?}");
}
