//! A call that changes the disk fails, or is the last one before the program ends: what stands in its place
//! is whole, nobody's files are lost, and the same command afterwards clears up. By a hook of builds with debug
//! assertions (`disk::fault`); a release build has none, and there is nothing here to run.
#![cfg(debug_assertions)]

use std::process::Command;

use crate::bench::{Bench, RATE_HZ, off, on};

/// Exit code of a program that a fault ended, that of a kill: 128 and the signal's number (common practice of shells).
const ENDED: Option<i32> = Some(137);

/// How many calls a command makes.
fn calls(bench: &Bench, args: &[&str], prefix: &str) -> usize {
    let count = bench.path("count");
    let said = format!("{prefix}count:{}", count.display());
    assert!(faulty(bench, args, &said).output().unwrap().status.code().is_some_and(|code| code < 2), "{args:?}");
    let made = std::fs::read_to_string(&count).unwrap().parse().unwrap();
    std::fs::remove_file(count).unwrap();
    made
}

fn faulty(bench: &Bench, args: &[&str], fault: &str) -> Command {
    let mut command = bench.command();
    command.args(args).env("NOISETALLY_FAULT", fault);
    command
}

/// What a run with a fault did: exit code and standard error.
fn run(bench: &Bench, args: &[&str], fault: &str) -> (Option<i32>, String) {
    let output = faulty(bench, args, fault).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(!said.contains("panicked"), "{fault}: {said}");
    (output.status.code(), said)
}

fn hidden(bench: &Bench) -> Vec<String> {
    bench
        .contents()
        .into_keys()
        .filter(|name| name.contains("/.noisetally-") || name.starts_with(".noisetally-"))
        .collect()
}

/// Everything but what is hidden.
fn seen(bench: &Bench) -> std::collections::BTreeMap<String, Vec<u8>> {
    bench
        .contents()
        .into_iter()
        .filter(|(name, _)| !name.split('/').any(|part| part.starts_with(".noisetally-")))
        .collect()
}

/// So many of the calls, the first and the last among them. Every single one is gone through in the unit tests of
/// what writes; here, that command and exit code follow.
fn some(all: usize, count: usize) -> Vec<usize> {
    let mut calls: Vec<usize> = (0..count).map(|n| 1 + n * (all - 1) / (count - 1)).collect();
    calls.dedup();
    calls
}

/// Runs a command that writes with a fault at one call and another, each time from the same beginning. Whatever
/// happens, what is seen is as before or as after; a failure says so with exit code 2 and leaves nothing; the same
/// command again makes it as after.
fn before_or_after(beginning: &Bench, args: &[&str], count: usize) {
    let fresh = beginning.copy();
    let all = calls(&fresh, args, "");
    let (before, after) = (seen(beginning), seen(&fresh));
    assert!(all > 5 && before != after, "{args:?}: {all}");
    for at in some(all, count) {
        for fault in ["fail", "end"] {
            let bench = beginning.copy();
            let case = format!("{args:?} {fault}:{at} of {all}");
            let (exit, said) = run(&bench, args, &format!("{fault}:{at}"));
            let now = seen(&bench);
            assert!(now == before || now == after, "{case}: {:?}\n{said}", now.keys().collect::<Vec<_>>());
            if fault == "end" {
                assert_eq!(exit, ENDED, "{case}: {said}");
            } else if exit == Some(2) {
                assert!(said.starts_with("noisetally: "), "{case}: {said}");
                assert!(hidden(&bench).is_empty(), "{case}: {:?}", hidden(&bench));
            } else {
                // What failed is of no consequence: a hidden folder not taken away, a folder not synced.
                assert!(now == after, "{case}: {exit:?} {said}");
            }
            let again = bench.command().args(args).output().unwrap();
            assert!(again.status.code().is_some_and(|code| code < 2) || now == after, "{case}: {again:?}");
            assert!(seen(&bench) == after, "{case}: again");
            // A command that refuses what is there already does not clear up.
            assert!(hidden(&bench).is_empty() || now == after, "{case}: again: {:?}", hidden(&bench));
        }
    }
}

/// The recordings are short: what is looked at is the writing.
fn brief() -> Bench {
    let take = |scene: noisetally::demo::synth::Scene| scene.render(3.5).samples;
    Bench::new()
        .wav("shed/01-off.wav", &take(off(1)), RATE_HZ)
        .wav("shed/02-lamp-on.wav", &take(on(2)), RATE_HZ)
        .wav("shed/04-lamp-on.wav", &take(on(4)), RATE_HZ)
}

/// A report of a pair.
fn with_report() -> Bench {
    let bench = brief();
    bench.run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "-q", "--out", "report"]).exit(0);
    bench
}

#[test]
fn a_report_is_the_earlier_or_the_new_one() {
    let bench = with_report().file("report/my notes.txt", b"mine").file("report/takes/one.txt", b"sound");
    let args = ["pair", "shed/01-off.wav", "shed/04-lamp-on.wav", "-q", "--out", "report", "--force"];
    before_or_after(&bench, &args, 4);
}

#[test]
fn a_first_report_is_complete_or_absent() {
    let bench = brief();
    std::fs::create_dir_all(bench.path("reports")).unwrap();
    before_or_after(&bench, &["session", "shed", "-q"], 2);
}

/// Names with a date: a copied file has another time of its own.
#[test]
fn the_report_of_a_night_is_the_earlier_or_the_new_one() {
    let part = |scene: noisetally::demo::synth::Scene| scene.render(3.5).samples;
    let args = ["night", "shed", "-q", "--out", "night", "--force"];
    let bench = Bench::new().wav("shed/2026-03-14_213000Z.wav", &part(off(1)), RATE_HZ);
    bench.run(args).exit(0);
    let bench = bench.file("night/my notes.txt", b"mine").wav("shed/2026-03-14_214000Z.wav", &part(on(5)), RATE_HZ);
    before_or_after(&bench, &args, 3);
}

/// What is made from reports: a comparison of two, sheets with clips; each new, and in the place of an earlier one.
#[test]
fn what_is_made_from_reports_is_complete_or_absent() {
    let bench = brief();
    bench.run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "-q", "--out", "one"]).exit(0);
    bench.run(["pair", "shed/01-off.wav", "shed/04-lamp-on.wav", "-q", "--out", "two"]).exit(0);
    let compare = ["compare", "one", "two", "-q", "--out", "both"];
    before_or_after(&bench, &compare, 4);
    let handout = ["handout", "one", "--recordings", "shed", "--clips", "-q", "--out", "sheets"];
    before_or_after(&bench, &handout, 6);
    bench.run(compare).exit(0);
    bench.run(["handout", "two", "-q", "--out", "sheets"]).exit(0);
    let bench = bench.file("both/mine.txt", b"mine").file("sheets/mine.txt", b"mine");
    let later = ["compare", "two", "one", "-q", "--out", "both", "--force"];
    assert!(bench.copy().run(later).files.iter().all(|file| !file.contains("mine")));
    before_or_after(
        &bench,
        &["handout", "one", "--recordings", "shed", "--clips", "-q", "--out", "sheets", "--force"],
        6,
    );
}

/// Where two folders can't be exchanged in one call, the next run finds the earlier report and puts it back.
#[test]
fn an_earlier_report_is_put_back_where_folders_cant_be_exchanged() {
    let args = ["pair", "shed/01-off.wav", "shed/04-lamp-on.wav", "--out", "report"];
    let beginning = with_report();
    let all = calls(&beginning.copy(), &args, "apart,");
    let mut put_back = 0;
    // The last ones: what comes before is as where folders can be exchanged.
    for at in (all - 8..=all).step_by(2) {
        let bench = beginning.copy();
        let (exit, said) = run(&bench, &args, &format!("apart,end:{at}"));
        assert_eq!(exit, ENDED, "{at}: {said}");
        let is_gone = !bench.path("report").exists();
        // The check alone, stopped by a recording that is not there.
        let ran = bench.run(["pair", "shed/01-off.wav", "gone.wav", "--out", "report"]);
        ran.exit(2);
        assert_eq!(ran.stderr.contains("report: put back: a run that was broken off"), is_gone, "{at}: {ran:#?}");
        assert!(bench.path("report/report.json").exists(), "{at}: {ran:#?}");
        assert!(hidden(&bench).is_empty(), "{at}: {:?}", hidden(&bench));
        put_back += usize::from(is_gone);
    }
    assert!(put_back > 0, "none of {all} calls left the place empty");
}

#[test]
fn manifests_and_demos_are_complete_or_absent() {
    before_or_after(&brief(), &["draft", "shed", "-q"], 20);
    let drafted = brief().file("shed/session.toml", b"title = \"earlier\"\n");
    before_or_after(&drafted, &["draft", "shed", "-q", "--force"], 20);
    before_or_after(&Bench::new(), &["demo", "loft", "-q", "--evening", "loft"], 2);
}

/// Three files, the plan last: without it `sheet` and `capture` begin anew.
#[test]
fn a_sheet_that_was_broken_off_is_made_anew() {
    let args = ["sheet", "shed", "-q", "--device", "lamp"];
    let all = calls(&Bench::new(), &args, "");
    for at in 1..=all {
        for fault in ["fail", "end"] {
            let bench = Bench::new();
            run(&bench, &args, &format!("{fault}:{at}"));
            let again = bench.run(args);
            assert!(again.exit == Some(0) || again.stderr.contains("already there"), "{fault}:{at}: {again:#?}");
            for name in ["plan.toml", "sheet.md", "sheet.txt"] {
                assert!(!bench.read(&format!("shed/{name}")).is_empty(), "{fault}:{at}: {name}");
            }
            assert!(hidden(&bench).is_empty() || again.exit == Some(2), "{fault}:{at}: {:?}", hidden(&bench));
        }
    }
}

#[test]
fn known_noises_are_the_earlier_or_the_new_ones() {
    let args = ["session", "shed", "-q", "--remember", "known"];
    let bench = brief();
    bench.run(args).exit(0);
    let beginning = bench.wav("shed/05-lamp-on.wav", &on(5).render(3.5).samples, RATE_HZ);
    let before = beginning.read("known/lamp.toml");
    let fresh = beginning.copy();
    let all = calls(&fresh, &args, "");
    let after = fresh.read("known/lamp.toml");
    assert_ne!(before, after);
    // The last ones write the known noise.
    for at in [all - 3, all - 1] {
        for fault in ["fail", "end"] {
            let bench = beginning.copy();
            let (exit, said) = run(&bench, &args, &format!("{fault}:{at}"));
            let now = bench.read("known/lamp.toml");
            assert!(now == before || now == after, "{fault}:{at}: {now}");
            assert!(exit == ENDED || exit == Some(2) || now == after, "{fault}:{at}: {exit:?} {said}");
            assert!(exit != Some(2) || said.contains("lamp.toml"), "{fault}:{at}: {said}");
            bench.run(args).exit(0);
            assert_eq!(bench.read("known/lamp.toml"), after, "{fault}:{at}");
            assert!(hidden(&bench).is_empty(), "{fault}:{at}: {:?}", hidden(&bench));
        }
    }
}

/// The disk fails in the middle of a take: named with its place, exit 1, never sound.
#[test]
fn a_read_error_in_the_middle_of_a_take_is_told() {
    let bench = Bench::shed();
    let args = ["session", "shed", "--json"];
    let output = faulty(&bench, &args, "read:30000").output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(
        said.contains("not whole: 01-off.wav: only the first 4.") && said.contains("s of 6.0 s could be read"),
        "{said}"
    );
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["contrasts"][0]["trust"], "doubtful");
    assert_eq!(crate::bench::codes(&report["recordings"][0]), ["read_error"]);
    let (exit, said) = run(&bench, &["night", "shed", "--out", "night"], "read:30000");
    assert!(exit == Some(1) && said.contains("not whole: 01-off.wav: only"), "{exit:?} {said}");
}
