//! `night` killed or interrupted in the middle: nothing half written stays, and the next run measures only what is new.
#![cfg(target_os = "linux")] // Signals, and `env` that gives them their usual meaning back.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use noisetally::demo::synth::{Hash, Receiver, Scene};
use noisetally::units::{Db, Dbfs};

use crate::bench::{Bench, Ran};

/// The lowest rate that is read, so that hours are small.
const RATE_HZ: u32 = 6000;

/// Hash of 8 dB for a minute in every four, over and over.
fn hours_of(minutes: usize) -> Vec<f32> {
    let band = |seed: u64| Scene::new(Receiver::ssb(RATE_HZ)).band_noise(Dbfs(-35.0)).seed(seed);
    let mut cycle = band(1).render(180.0).samples;
    cycle.extend(band(2).device(Hash::flat(), Db(8.0)).render(60.0).samples);
    cycle.repeat(minutes / 4)
}

/// The program with a cache of its own inside the bench.
fn begin(bench: &Bench, out: &str) -> Child {
    let mut command = Command::new("env");
    command.args(["--default-signal=INT,HUP,TERM", env!("CARGO_BIN_EXE_noisetally")]);
    command.args(["night", "shed", "--out", out, "--threads", "1"]).current_dir(bench.path(""));
    command.env("XDG_CACHE_HOME", bench.path("cache")).stdin(Stdio::null());
    command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

/// Of each file in the cache, how many blocks were written whole. A kill amid a write leaves a part of a block, which the
/// next run throws away.
fn kept(bench: &Bench) -> Vec<usize> {
    let Ok(folder) = fs::read_dir(bench.path("cache/noisetally")) else { return Vec::new() };
    folder.flatten().filter_map(|entry| Some(whole_blocks(&fs::read(entry.path()).ok()?))).collect()
}

/// A block is its payload's length (8 bytes), its number and kind (5), the payload, a checksum (8).
fn whole_blocks(mut bytes: &[u8]) -> usize {
    let mut count = 0;
    while let Some(length) = bytes.first_chunk::<8>() {
        let whole = 13 + u64::from_le_bytes(*length) as usize + 8;
        let Some(behind) = bytes.get(whole..) else { break };
        (bytes, count) = (behind, count + 1);
    }
    count
}

/// Of one file its head and what was measured of a first part.
fn a_part_is_kept(kept: &[usize]) -> bool {
    kept.iter().any(|&blocks| blocks >= 2)
}

/// Waits until the cache looks so, while the program runs.
fn wait_until(child: &mut Child, bench: &Bench, looks: impl Fn(&[usize]) -> bool) {
    let begun = Instant::now();
    while !looks(&kept(bench)) {
        assert!(child.try_wait().unwrap().is_none(), "it was done before it could be stopped");
        assert!(begun.elapsed() < Duration::from_secs(120), "nothing was kept");
        sleep(Duration::from_millis(1));
    }
}

/// Runs the same command again, to its end, and one that was never stopped; what the first said.
fn go_on(bench: &Bench) -> String {
    let output = begin(bench, "again").wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    let fresh: Ran = bench.run(["night", "shed", "--no-cache", "--out", "fresh", "-q"]);
    fresh.exit(0);
    for file in ["report.json", "report.md", "timeline.csv", "post.txt"] {
        assert_eq!(bench.read(&format!("again/{file}")), bench.read(&format!("fresh/{file}")), "{file}");
    }
    assert!(!bench.json("again/report.json")["episodes"].as_array().unwrap().is_empty());
    said
}

/// "24 min 00 s" and "1 h 12 min" of "… of … had been measured by an earlier run." in seconds.
fn told(said: &str) -> (u32, u32) {
    let line = said.lines().find(|line| line.ends_with(" had been measured by an earlier run."));
    let line = line.unwrap_or_else(|| panic!("{said}"));
    let seconds = |words: &str| -> u32 {
        let words: Vec<&str> = words.split(' ').collect();
        let each = words.chunks(2).map(|pair| {
            let one = match pair[1] {
                "h" => 3600.0,
                "min" => 60.0,
                _ => 1.0,
            };
            one * pair[0].parse::<f64>().unwrap()
        });
        each.sum::<f64>() as u32
    };
    let (kept, all) =
        line.strip_suffix(" had been measured by an earlier run.").unwrap().split_once(" of ").unwrap();
    (seconds(kept), seconds(all))
}

/// Killed in the third of four files: the first two are kept whole.
#[test]
fn a_run_killed_among_several_files_goes_on_with_the_next() {
    let samples = hours_of(28);
    let bench = (0..4).fold(Bench::new(), |bench, n| {
        bench.wav(&format!("shed/shed 2026-03-14 {}-00-00Z.wav", 19 + n), &samples, RATE_HZ)
    });
    // Content decides, and these would otherwise be the same recording.
    for n in 1..4 {
        louden(&bench.path(&format!("shed/shed 2026-03-14 {}-00-00Z.wav", 19 + n)), n);
    }
    let mut child = begin(&bench, "killed");
    wait_until(&mut child, &bench, |kept| kept.len() >= 3);
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(!bench.path("killed").exists(), "half a report");
    let (kept_s, all_s) = told(&go_on(&bench));
    assert_eq!(all_s, 4 * 28 * 60);
    // Two files, or three where the third was done just before the kill.
    assert!([2 * 28 * 60, 3 * 28 * 60].contains(&kept_s), "{kept_s} s");
}

/// Turns the last sample, which no figure shows.
fn louden(wav: &Path, by: u8) {
    let mut bytes = fs::read(wav).unwrap();
    *bytes.iter_mut().rev().nth(1).unwrap() ^= by;
    fs::write(wav, bytes).unwrap();
}

/// Killed in the middle of one long file: what was measured of it is kept.
#[test]
fn a_run_killed_in_one_long_file_goes_on_inside_it() {
    let bench = Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &hours_of(120), RATE_HZ);
    let mut child = begin(&bench, "killed");
    wait_until(&mut child, &bench, a_part_is_kept);
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(!bench.path("killed").exists(), "half a report");
    let (kept_s, all_s) = told(&go_on(&bench));
    // It is kept in pieces of some forty minutes.
    assert!((30 * 60..=90 * 60).contains(&kept_s) && all_s == 120 * 60, "{kept_s} s of {all_s} s");
}

/// Ctrl-C: a clear word, the exit code of shells, nothing half written, and the next run goes on.
#[test]
fn ctrl_c_says_that_what_was_measured_is_kept() {
    let bench = Bench::new().wav("shed/shed 2026-03-14 21-00-00Z.wav", &hours_of(120), RATE_HZ);
    let before: Vec<String> = bench.contents().into_keys().collect();
    let mut child = begin(&bench, "stopped");
    wait_until(&mut child, &bench, a_part_is_kept);
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130));
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "");
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "noisetally: stopped; no report was written. What was measured is kept: the same command goes on from there\n"
    );
    let after: Vec<String> = bench.contents().into_keys().filter(|name| !name.starts_with("cache/")).collect();
    assert_eq!(before, after);
    assert!(told(&go_on(&bench)).0 >= 30 * 60);
}
