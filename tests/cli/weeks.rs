//! `weeks`: reports of simulated nights on the disk; what is left out by name, what is refused, the same bytes always.

use noisetally::labels::facts::SessionFacts;
use noisetally::report::contract::Report;
use serde_json::Value;

use crate::bench::Bench;
use crate::month::{Month, STORY};

/// The nights of two weeks, three of them, or whatever is asked for.
fn nights(days: usize) -> (Bench, Vec<String>) {
    let month = Month::of(7, days, &STORY);
    let mut bench = Bench::new().file("weather.csv", month.table.as_bytes());
    let mut names = Vec::new();
    for (at, report) in month.nights.into_iter().enumerate() {
        let name = format!("night-{:03}", at + 1);
        let session = SessionFacts { station: Some("hill".into()), ..report.session };
        let text = noisetally::report::json(&Report { session, ..report });
        bench = bench.file(&format!("{name}/report.json"), text.as_bytes());
        names.push(name);
    }
    (bench, names)
}

fn run(bench: &Bench, reports: &[String], more: &[&str]) -> crate::bench::Ran {
    let args: Vec<&str> =
        ["weeks"].into_iter().chain(reports.iter().map(String::as_str)).chain(more.iter().copied()).collect();
    bench.run_all(&args)
}

#[test]
fn its_folder_holds_report_picture_and_tables_and_any_order_and_threads_give_the_same_bytes() {
    let (bench, names) = nights(16);
    let more = ["--conditions", "weather.csv", "--out", "weeks"];
    let ran = run(&bench, &names, &more);
    let files = ["", "*.png", "comings.csv", "minutes.csv", "post.txt", "report.html", "report.json", "report.md"];
    assert_eq!(ran.exit(0).files, files.map(|file| format!("+ weeks/{file}")));
    let lines: Vec<&str> = ran.stdout.lines().collect();
    assert!(lines.len() < 60 && lines.iter().all(|line| line.chars().count() <= 100), "{}", ran.stdout);
    let mut turned = names.clone();
    turned.reverse();
    for threads in ["1", "2"] {
        let again: Vec<&str> = more.iter().copied().chain(["--threads", threads]).collect();
        assert_eq!(run(&bench, &turned, &again).exit(0).files, Vec::<String>::new(), "the same bytes again");
    }
    let json = run(&bench, &names, &["--json", "--conditions", "weather.csv"]);
    let mut written = bench.json("weeks/report.json");
    written["figures"] = Value::Array(Vec::new());
    assert_eq!(json.exit(0).stderr("").json(), written);
    let weeks = &written["weeks"];
    assert_eq!((&weeks["station"], &weeks["clock"]), (&"hill".into(), &"utc".into()));
    let comings: usize =
        weeks["sources"].as_array().unwrap().iter().map(|s| s["comings"].as_array().unwrap().len()).sum();
    assert_eq!(bench.read("weeks/comings.csv").lines().count(), 1 + comings);
    let minutes = bench.read("weeks/minutes.csv");
    let recorded_s = weeks["recorded_s"].as_f64().unwrap();
    assert_eq!(minutes.lines().count(), 1 + (recorded_s / 60.0) as usize);
    assert!(
        minutes.starts_with("station,report,start,clock,low_dbfs,median_dbfs,high_dbfs,busy_share,sources\nhill,")
    );
    let post = bench.read("weeks/post.txt");
    assert!(post.is_ascii() && post.len() < 2000 && post.lines().all(|line| line.len() <= 72), "{post}");
    for (args, why) in [
        (vec!["weeks", "weeks", names[0].as_str(), "-q"], ""),
        (vec!["weeks", names[0].as_str(), "--out", "night-002"], "is no report of weeks"),
        (vec!["compare", "weeks", "night-001"], "is what the command weeks made"),
    ] {
        let ran = bench.run_all(&args);
        assert_eq!(ran.exit, Some(if why.is_empty() { 1 } else { 2 }), "{ran:#?}");
        assert!(ran.stderr.contains(why) && ran.files.is_empty(), "{ran:#?}");
    }
    // A file of one's own is kept, with --force alone.
    let bench = bench.file("weeks/mine.txt", b"mine");
    assert!(run(&bench, &names, &more).exit(2).stderr.contains("mine.txt"));
    let forced: Vec<&str> = more.iter().copied().chain(["--force"]).collect();
    run(&bench, &names, &forced).exit(0);
    assert_eq!(bench.read("weeks/mine.txt"), "mine");
}

#[test]
fn one_bad_report_is_left_out_by_name_and_the_rest_told() {
    let (bench, mut names) = nights(6);
    let text = bench.read("night-001/report.json");
    let mut local: Value = serde_json::from_str(&text).unwrap();
    local["night"]["clock"] = "local".into();
    let mut edited: Value = serde_json::from_str(&text).unwrap();
    edited["sources"][0]["episodes"] = serde_json::json!([9999]);
    let mut evening: Value = serde_json::from_str(&text).unwrap();
    evening.as_object_mut().unwrap().remove("night");
    let bench = bench
        .file("cut/report.json", &text.as_bytes()[..text.len() / 2])
        .file("local/report.json", local.to_string().as_bytes())
        .file("edited/report.json", edited.to_string().as_bytes())
        .file("evening/report.json", evening.to_string().as_bytes())
        .file("empty/notes.txt", b"");
    for (folder, why) in [
        ("cut", "cut: ends in the middle"),
        ("local", "local: its times are the recorder's clock, those of most nights UTC"),
        ("edited", "edited: its source n1 names an episode it does not have: it was edited"),
        ("evening", "evening: is no night's report"),
        ("empty", "empty: there is no such file"),
        ("gone", "gone: can't be opened"),
    ] {
        names.push(folder.to_owned());
        let ran = run(&bench, &names, &["--json"]);
        assert!(ran.exit(1).stderr.contains(&format!("left out: {why}")), "{ran:#?}");
        assert_eq!(ran.json()["weeks"]["left_out"][0]["name"], folder);
        names.pop();
        let ran = run(&bench, &[folder.to_owned()], &["--out", "out"]);
        if folder != "local" {
            assert!(ran.exit(2).no_files().stderr.contains("Nothing was written"), "{ran:#?}");
        }
    }
}

/// The same night under two names, and half of another: each hour once.
#[test]
fn hours_that_two_reports_have_count_once() {
    let (bench, mut names) = nights(6);
    let text = bench.read("night-002/report.json");
    let bench = bench.file("twin/report.json", text.as_bytes());
    let alone = run(&bench, &names, &["--json"]).exit(0).json();
    names.push("twin".into());
    let twice = run(&bench, &names, &["--json"]).exit(0).json();
    for field in ["recorded_s", "days", "sources", "quiet_trend_db_per_week", "gaps"] {
        assert!(alone["weeks"][field] == twice["weeks"][field], "{field}");
    }
    assert!(twice["weeks"]["notes"].to_string().contains("count once: twin ("));
}

#[test]
fn a_table_that_cannot_be_read_is_told_line_by_line() {
    let (bench, names) = nights(4);
    let bench = bench
        .file("wrong.csv", b"from,until,word\nnoon,,rain\n2026-06-02 10:00,2026-06-02 09:00,rain\n")
        .file("binary.csv", b"\xff\xfe");
    for (file, why) in [
        (
            "wrong.csv",
            "wrong.csv: line 2: 'noon' is no time; write it such as 2026-03-14 21:30\n  line 3: ends before it begins",
        ),
        ("binary.csv", "binary.csv: is no UTF-8 text"),
        ("gone.csv", "gone.csv: can't be read"),
        (".", ".: is no ordinary file"),
    ] {
        let ran = run(&bench, &names, &["--conditions", file, "--out", "out"]);
        assert!(ran.exit(2).no_files().stderr.contains(why), "{ran:#?}");
    }
}

/// Of a report that an earlier version made, the level counts and nothing is taken for absent.
#[test]
fn reports_of_earlier_versions_are_named_and_do_what_they_can() {
    let shed = concat!(env!("CARGO_MANIFEST_DIR"), "/reports/shed-night");
    let bench = Bench::new();
    let mut report: Value =
        serde_json::from_str(&std::fs::read_to_string(format!("{shed}/report.json")).unwrap()).unwrap();
    report.as_object_mut().unwrap().remove("sources");
    let bench = bench.file("old/report.json", report.to_string().as_bytes());
    let ran = bench.run(["weeks", "old"]);
    let words = ran.exit(0).stderr("").stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("made by a version that does not tell sources, so only the noise level counts: old."),
        "{words}"
    );
}
