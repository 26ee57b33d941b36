//! `night` as its users run it: what is printed and written, bad files, wrong use, runs that are stopped.

use crate::bench::{Bench, RATE_HZ};
use noisetally::demo::synth::{Carrier, Carriers, Hash, Receiver, Scene};
use noisetally::units::{Db, Dbfs};

/// Two minutes with hash of 8 dB in the middle 40 s.
fn shed() -> Vec<f32> {
    let band = |seed: u64| Scene::new(Receiver::ssb(RATE_HZ)).band_noise(Dbfs(-35.0)).seed(seed);
    let mut samples = band(1).render(40.0).samples;
    samples.extend(band(2).device(Hash::flat(), Db(8.0)).render(40.0).samples);
    samples.extend(band(3).render(40.0).samples);
    samples
}

fn bench() -> Bench {
    Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &shed(), RATE_HZ)
}

#[test]
fn a_folder_becomes_a_report() {
    let bench = bench();
    let ran = bench.run(["night", "shed"]);
    ran.exit(0).stderr("1 recording and 1 episode in reports/shed: read reports/shed/report.md\n");
    // To the second, though a step is a little less than one.
    assert!(ran.stdout.starts_with("Noise came once, "), "{}", ran.stdout);
    assert!(ran.stdout.contains(" s, from 21:00:40 to 21:01:20, +"), "{}", ran.stdout);
    assert!(ran.stdout.contains("hash"), "{}", ran.stdout);
    let texts = ["details.md", "post.txt", "report.html", "report.json", "report.md", "timeline.csv"];
    let made = ["", "*.png"].into_iter().chain(texts).map(|file| format!("+ reports/shed/{file}"));
    ran.files(&["+ reports/".to_owned()].into_iter().chain(made).collect::<Vec<_>>());
    let json = bench.json("reports/shed/report.json");
    let episode = &json["episodes"][0];
    assert_eq!(episode["start"], "2026-03-14T21:00:40Z");
    assert!((episode["contrast"]["excess_db"].as_f64().unwrap() - 8.0).abs() < 0.5, "{episode}");
    assert_eq!(json["night"]["clock"], "utc");
    let csv = bench.read("reports/shed/timeline.csv");
    assert_eq!(csv.lines().count(), 3, "{csv}");
    assert!(csv.lines().nth(1).unwrap().starts_with("2026-03-14T21:00:00Z,0,"), "{csv}");
    // Again, over the earlier report: the same bytes.
    bench.run(["night", "shed", "-q"]).exit(0).stderr("").no_files();
}

/// By construction: the volume is turned up by 4 dB and stays so.
#[test]
fn a_touched_control_is_no_sure_noise() {
    let band = |level: f64, seed: u64| Scene::new(Receiver::ssb(RATE_HZ)).band_noise(Dbfs(level)).seed(seed);
    let mut samples = band(-35.0, 1).render(60.0).samples;
    samples.extend(band(-31.0, 2).render(80.0).samples);
    let bench = Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &samples, RATE_HZ);
    let ran = bench.run(["night", "shed"]);
    ran.exit(0);
    let told = ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("doubtful: it began and never ended: a touched control looks the same"), "{told}");
}

/// By construction: lines 3 to 19 of 120 Hz, the spacing growing by 1 mHz a second. Tolerance: where in the last
/// minute each line is taken from.
#[test]
fn a_comb_that_drifts_has_the_spacing_of_its_end() {
    let band = |seed: u64| Scene::new(Receiver::ssb(RATE_HZ)).band_noise(Dbfs(-35.0)).seed(seed);
    let line = |k: u32| Carrier::at(120.0 * f64::from(k)).drifting(0.001 * f64::from(k));
    let mut samples = band(1).render(70.0).samples;
    samples.extend(band(2).carriers(Carriers::new((3..20).map(line)), Dbfs(-45.0)).render(240.0).samples);
    samples.extend(band(3).render(70.0).samples);
    let bench = Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &samples, RATE_HZ);
    let report = bench.run(["night", "shed", "--json"]).json();
    let contrast = &report["episodes"][0]["contrast"];
    assert_eq!(contrast["character"], "comb", "{contrast}");
    let spacing_hz = contrast["comb"]["spacing_hz"].as_f64().unwrap();
    assert!((spacing_hz - 120.21).abs() < 0.05, "{spacing_hz}");
    assert!(contrast["comb"]["lines"].as_u64().unwrap() >= 16, "{contrast}");
}

#[test]
fn json_is_all_that_standard_output_holds() {
    let bench = bench();
    let ran = bench.run(["night", "shed/shed 2026-03-14 21-00-00Z.wav", "--json", "--out", "here"]);
    ran.exit(0);
    assert_eq!(ran.stdout, bench.read("here/report.json"));
    assert_eq!(ran.json()["episodes"].as_array().unwrap().len(), 1);
}

#[test]
fn a_bad_file_is_named_and_passed_over() {
    let bench = bench().file("shed/shed 2026-03-14 22-00-00Z.wav", b"no sound at all");
    let ran = bench.run(["night", "shed"]);
    ran.exit(1);
    assert!(ran.stderr.contains("left out: shed 2026-03-14 22-00-00Z.wav: "), "{}", ran.stderr);
    let report = bench.read("reports/shed/report.md");
    assert!(report.contains("Left out, shed 2026-03-14 22-00-00Z.wav: "), "{report}");
    assert!(report.contains("Noise came once"), "{report}");
}

#[test]
fn wrong_use_says_so_and_writes_nothing() {
    let bench = Bench::new().file("empty/notes.txt", b"none").file("bad/a.wav", b"").file("mine/own.txt", b"kept");
    for (args, said) in [
        (["night", "nowhere"].as_slice(), "nowhere: there is no such file or folder. Nothing was written."),
        (&["night", "empty"], "empty"),
        (&["night", "bad"], "none of the recordings can be used"),
        (&["night", "bad", "--out", "mine"], "is no report of noisetally"),
        (&["night"], "PATH"),
        (&["night", "bad", "--passband", "9"], "--passband"),
    ] {
        let ran = match args {
            [a] => bench.run([a]),
            [a, b] => bench.run([a, b]),
            [a, b, c, d] => bench.run([a, b, c, d]),
            _ => unreachable!(),
        };
        ran.exit(2).no_files();
        assert!(ran.stdout.is_empty() && ran.stderr.contains(said), "{args:?}: {}", ran.stderr);
    }
}

#[test]
fn what_is_too_short_to_search_is_said() {
    let bench = Bench::new().wav("shed/a.wav", &shed()[..30 * RATE_HZ as usize], RATE_HZ);
    let ran = bench.run(["night", "shed", "-q"]);
    ran.exit(0);
    assert!(ran.stdout.starts_with("Nothing was looked for: no recording is a minute long."), "{}", ran.stdout);
}

/// Truth by construction: the evening's thermostat (`src/demo`), logged by a clock a minute ahead.
#[test]
fn a_log_explains_what_was_switched_and_leaves_the_rest_open() {
    let bench = Bench::new();
    bench.run(["demo", "--evening", "night", "shed-night"]).exit(0);
    // A path typed into a label stays at home, but for the name at its end.
    let path = "/home/quillon/attic/heater";
    let log = format!(
        "time,device,state\n21:33:05,{path},on\n21:34:35,{path},off\n21:40:06,{path},on\n21:41:35,{path},off\n"
    );
    std::fs::write(bench.path("log.csv"), log).unwrap();
    let ran = bench.run(["night", "shed-night", "--log", "log.csv", "--json"]);
    let report = ran.json();
    let told = &report["night"]["switch_log"];
    assert!((told["offset_s"].as_f64().unwrap() + 60.0).abs() < 3.0, "{told}");
    // The thermostat comes back every seven minutes: the log would fit one cycle later as well.
    assert!((told["rival_offset_s"].as_f64().unwrap() - 360.0).abs() < 3.0, "{told}");
    assert_eq!(told["matches"].as_array().unwrap().len(), 4, "{told}");
    assert_eq!(told["unexplained"], serde_json::json!([3, 4, 5, 6]), "{told}");
    // Two switchings seven minutes apart, turned within the night's 1440 s, fit as nearly while they are within a
    // minute to either side: 120 s of it.
    assert!((told["chance"].as_f64().unwrap() - 120.0 / 1440.0).abs() < 0.02, "{told}");
    let short = std::fs::read_to_string(bench.path("reports/shed-night/report.md")).unwrap();
    assert!(short.contains("The log fits 2 of 6, as it may by chance ("), "{short}");
    let text = std::fs::read_to_string(bench.path("reports/shed-night/details.md")).unwrap();
    assert!(text.find("**Not in the log:** 3").unwrap() < text.find("its start is heater on").unwrap(), "{text}");
    for (name, bytes) in bench.contents().iter().filter(|(name, _)| name.starts_with("reports/")) {
        assert!(!String::from_utf8_lossy(bytes).contains("quillon"), "{name}");
    }
    std::fs::write(bench.path("late.csv"), "2026-03-15 21:33:05,heater,on\n").unwrap();
    let ran = bench.run(["night", "shed-night", "--out", "late", "--log", "late.csv"]);
    ran.exit(0);
    let short = std::fs::read_to_string(bench.path("late/report.md")).unwrap();
    for told in [&short, &ran.stdout] {
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains("None of the log's 1 entry lies within the night"), "{told}");
        assert!(told.contains("check its date and time zone."), "{told}");
    }
    std::fs::write(bench.path("bad.csv"), "21:33,heater,maybe\n").unwrap();
    let ran = bench.run(["night", "shed-night", "--out", "other", "--log", "bad.csv"]);
    ran.exit(2);
    assert!(ran.stderr.contains("bad.csv: line 1: 'maybe' is neither on nor off"), "{}", ran.stderr);
}

#[test]
fn the_report_is_the_same_bytes_on_any_number_of_threads() {
    let bench = bench().wav("shed/shed 2026-03-14 21-02-00Z.wav", &shed(), RATE_HZ);
    let report = |threads: &str| {
        bench.run(["night", "shed", "-q", "--out", threads, "--threads", threads]).exit(0);
        let all = bench.contents();
        let own = all
            .into_iter()
            .filter_map(|(name, bytes)| Some((name.strip_prefix(&format!("{threads}/"))?.to_owned(), bytes)));
        own.collect::<std::collections::BTreeMap<_, _>>()
    };
    let one = report("1");
    assert!(
        one.len() >= 7 && one.contains_key("report.json") && one.contains_key("on-times.png"),
        "{:?}",
        one.keys()
    );
    for threads in ["2", "5"] {
        let many = report(threads);
        assert_eq!(one.keys().collect::<Vec<_>>(), many.keys().collect::<Vec<_>>());
        one.iter().zip(&many).for_each(|(a, b)| assert!(a == b, "{} differs on {threads} threads", a.0));
    }
}

/// Ctrl-C while the recordings are gone through: the exit code of shells, a clear word, and the report of what was
/// read by then, or none where that is nothing.
#[cfg(target_os = "linux")]
#[test]
fn ctrl_c_keeps_what_was_read() {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};
    let bench = Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &shed().repeat(60), RATE_HZ);
    let before: Vec<String> = bench.contents().into_keys().collect();
    // `env` gives the signals their usual meaning, which a caller such as `nohup` may have taken from us.
    let mut command = Command::new("env");
    command.args(["--default-signal=INT,HUP,TERM", env!("CARGO_BIN_EXE_noisetally"), "night", "shed"]);
    command.args(["--threads", "1"]).current_dir(bench.path("")).stdin(Stdio::null());
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let begun = Instant::now();
    while !has_open(child.id(), "wav") {
        assert!(child.try_wait().unwrap().is_none(), "it was done before it could be stopped");
        assert!(begun.elapsed() < Duration::from_secs(60), "no recording was opened");
    }
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130));
    let (said, told) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    let stopping = "noisetally: stopping: the report of what was read is written; once more ends it at once\n";
    assert!(told.starts_with(stopping), "{told}");
    if said.is_empty() {
        assert_eq!(told, format!("{stopping}noisetally: stopped; no report was written\n"));
        assert_eq!(bench.contents().into_keys().collect::<Vec<_>>(), before);
    } else {
        let report: serde_json::Value = bench.json("reports/shed/report.json");
        let night = &report["night"];
        let [read_s, unread_s] = ["recorded_s", "unread_s"].map(|field| night[field].as_f64().unwrap());
        assert!(unread_s > 0.0 && (read_s + unread_s - 60.0 * 120.0).abs() < 1.0, "{read_s} {unread_s}");
        assert!(said.contains("You stopped it"), "{said}");
    }
}

/// Whether a process reads a file of this kind.
#[cfg(target_os = "linux")]
fn has_open(process: u32, extension: &str) -> bool {
    let Ok(open) = std::fs::read_dir(format!("/proc/{process}/fd")) else { return false };
    open.flatten()
        .filter_map(|entry| std::fs::read_link(entry.path()).ok())
        .any(|file| file.extension().is_some_and(|kind| kind == extension))
}
