//! What is written, where, and what is left when writing fails or is stopped.

use std::io::{BufRead, BufReader, Read};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::bench::{Bench, Ran, new_report, on};

/// A bench with a report of `shed`, and its JSON.
fn with_report() -> (Bench, String) {
    let bench = Bench::shed();
    bench.run(["session", "shed", "-q"]).exit(0).stderr("");
    let json = bench.read("reports/shed/report.json");
    (bench, json)
}

#[test]
fn a_second_run_replaces_the_report() {
    let (bench, _) = with_report();
    // The same recordings give the same bytes, pictures included.
    bench.run(["session", "shed", "-q"]).exit(0).stderr("").no_files();
    let bench = bench.scene("shed/05-lamp-on.wav", &on(5));
    let ran = bench.run(["session", "shed", "-q"]);
    ran.exit(0).stderr("");
    assert!(ran.files.contains(&"~ reports/shed/report.json".to_owned()), "{ran:#?}");
    assert!(!ran.files.iter().any(|file| file.starts_with('-')), "{ran:#?}");
}

#[test]
fn one_thread_and_four_give_the_same_bytes() {
    let (bench, _) = with_report();
    let run = |threads: &str, out: &str| -> Ran {
        bench.run(["session", "shed", "--json", "-q", "--threads", threads, "--out", out])
    };
    let (one, four) = (run("1", "one"), run("4", "four"));
    one.exit(0).stderr("").files(&new_report("one"));
    four.exit(0).stderr("").files(&new_report("four"));
    assert_eq!(one.stdout, four.stdout);
    for file in ["report.json", "report.md", "details.md", "report.html", "post.txt", "contrasts.csv", "lines.csv"]
    {
        assert_eq!(bench.read(&format!("one/{file}")), bench.read(&format!("four/{file}")), "{file}");
    }
}

#[test]
fn json_is_all_that_standard_output_holds() {
    let bench = Bench::shed();
    let ran = bench.run(["session", "shed", "--json"]);
    ran.exit(0).stderr("4 recordings and 1 comparison in reports/shed: read reports/shed/report.md\n");
    assert_eq!(ran.stdout, bench.read("reports/shed/report.json"));
    assert_eq!(ran.json()["schema"], 1);
    for command in [["pair", "shed/01-off.wav", "shed/02-lamp-on.wav"].as_slice(), &["check", "shed"]] {
        let ran = match command {
            [a, b] => bench.run([a, b, "--json"]),
            [a, b, c] => bench.run([a, b, c, "--json"]),
            _ => unreachable!(),
        };
        ran.exit(0).stderr("").no_files();
        assert_eq!(ran.json()["schema"], 1);
    }
}

#[test]
fn a_pair_writes_a_report_where_asked_to() {
    let bench = Bench::shed();
    let ran = bench.run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--out", "new/report"]);
    ran.exit(0)
        .stderr("2 recordings and 1 comparison in new/report: read new/report/report.md\n")
        .files(&[vec!["+ new/".to_owned()], new_report("new/report")].concat());
    assert!(ran.stdout.starts_with("lamp: With the lamp on"), "{ran:#?}");
}

#[test]
fn what_is_no_report_is_never_touched() {
    let (bench, _) = with_report();
    let bench = bench.file("mine/letter.txt", b"dear").file("reports/shed/notes.txt", b"my own");
    for (out, said) in [
        ("mine", "holds files and is no report of noisetally, so it is left alone. Nothing was written."),
        ("shed", "holds files and is no report of noisetally, so it is left alone. Nothing was written."),
        ("mine/letter.txt", "is a file, not a folder. Nothing was written."),
        ("mine/letter.txt/report", "no folder can be made here. Nothing was written."),
        ("reports/shed", "an earlier report, but notes.txt in it is not the report's own. Nothing was written."),
    ] {
        let ran = bench.run(["session", "shed", "--out", out]);
        ran.exit(2).stdout("").no_files();
        assert!(ran.stderr.contains(said) && ran.stderr.contains("\n  try: "), "{out}: {ran:#?}");
    }
    bench.run(["session", "shed", "-q", "--force"]).exit(0).stderr("").no_files();
}

#[test]
fn a_failed_run_leaves_the_earlier_report() {
    let (bench, _) = with_report();
    for file in ["01-off.wav", "02-lamp-on.wav", "03-off.wav", "04-lamp-on.wav"] {
        std::fs::write(bench.path(&format!("shed/{file}")), b"").unwrap();
    }
    let ran = bench.run(["session", "shed"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.starts_with("noisetally: no recording could be used. Nothing was written.\n"), "{ran:#?}");
}

/// A report is made to be posted: nothing in it may tell where it was made, or by whom.
#[test]
fn a_report_tells_nothing_of_the_machine() {
    let (bench, _) = with_report();
    let home = std::env::var("HOME").ok().filter(|home| home.len() > 1);
    let user = std::env::var("USER").ok().filter(|user| user.len() > 1);
    let place = bench.path("").to_string_lossy().trim_end_matches('/').to_owned();
    let absolute = bench.path("shed").to_string_lossy().into_owned();
    bench.run(["session", &absolute, "-q", "--out", &bench.path("posted").to_string_lossy()]).exit(0);
    let secrets: Vec<String> = [Some(place), home, user].into_iter().flatten().collect();
    for (name, bytes) in bench.contents().iter().filter(|(name, _)| name.starts_with("posted/")) {
        for secret in &secrets {
            let is_told = bytes.windows(secret.len()).any(|part| part == secret.as_bytes());
            assert!(!is_told, "{name} tells {secret}");
        }
    }
}

/// A pipe whose reader has had enough is no error (common practice).
#[test]
fn a_closed_pipe_ends_quietly() {
    let bench = Bench::shed();
    for args in
        [vec!["--help"], vec!["check", "shed"], vec!["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--json"]]
    {
        let mut child = bench.command().args(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!((child.wait().unwrap().code(), said.as_str()), (Some(0), ""), "{args:?}");
    }
    let mut child = bench.command().args(["draft", "shed", "--out", "-"]).stdout(Stdio::piped()).spawn().unwrap();
    let mut first = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
    assert!(first.starts_with("# What each recording is."), "{first}");
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// `/dev/full` is full at the first byte (Linux, full(4)).
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_told() {
    let bench = Bench::shed();
    let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
    let output = bench.command().args(["check", "shed"]).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "noisetally: standard output can't be written\n  because: No space left on device (os error 28)\n"
    );
}

/// Ctrl-C while the report is being written: nothing of it stays, and the earlier one does.
#[cfg(target_os = "linux")]
#[test]
fn ctrl_c_leaves_the_earlier_report_and_nothing_else() {
    let (bench, _) = with_report();
    let bench = bench.scene("shed/05-lamp-on.wav", &on(5));
    let before = bench.contents();
    // `env` gives the signals their usual meaning, which a caller such as `nohup` may have taken from us.
    let mut command = Command::new("env");
    command.args(["--default-signal=INT,HUP,TERM", env!("CARGO_BIN_EXE_noisetally"), "session", "shed"]);
    let child = command.current_dir(bench.path("")).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // Signalled when the first picture is there: the report is half written then.
    let begun = Instant::now();
    while !is_half_written(&bench) {
        assert!(begun.elapsed() < Duration::from_secs(60), "no report was begun");
        sleep(Duration::from_millis(2));
    }
    let signalled = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(signalled.success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130));
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "");
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "noisetally: stopped; no report was written\n");
    assert!(bench.contents() == before, "{:?}", bench.contents().keys().collect::<Vec<_>>());
}

#[cfg(target_os = "linux")]
fn is_half_written(bench: &Bench) -> bool {
    let Ok(folder) = std::fs::read_dir(bench.path("reports")) else { return false };
    let mut beside =
        folder.flatten().filter(|entry| entry.file_name().to_string_lossy().starts_with(".noisetally-"));
    beside.any(|entry| std::fs::read_dir(entry.path().join("new")).is_ok_and(|new| new.count() > 0))
}
