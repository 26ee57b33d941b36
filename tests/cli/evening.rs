//! A whole evening recorded through `capture`, unattended, from a stream that does what the switch command says:
//! the truth of every state is known, and the report at the end must tell it. Source of the powers: `demo::synth`,
//! in which every part has a stated level; the sums are sums of powers.

use std::io::Write;
use std::path::PathBuf;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::bench::{Bench, RATE_HZ};
use noisetally::demo::synth::{Hash, Receiver, Scene, Trap};
use noisetally::units::{Db, Dbfs};

const TAKE_S: f64 = 8.0;
/// Length of the takes of a receiver check, and how many there are.
const CHECK_S: f64 = 6.0;
const CHECKS: usize = 4;
const ATTENUATOR_DB: f64 = 10.0;
const BAND: Dbfs = Dbfs(-45.0);
/// Near enough below the band that the report must correct for it.
const RECEIVER: Dbfs = Dbfs(-54.0);
/// What each state adds to band and receiver together, dB, by device and remedy.
const TRUTH: [(&str, &str, f64); 4] = [
    ("aquarium lamp", "", 10.0),
    ("aquarium lamp", "three ferrites", 6.0),
    ("aquarium lamp", "linear supply", 2.0),
    ("pond pump", "", 4.0),
];

/// What the receiver gives in a state, as the switch command was told it.
fn scene(state: &str, device: &str, remedy: &str, seed: u64) -> Scene {
    let receiver =
        Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).receiver_noise(RECEIVER).trap(Trap::SoundCard(Dbfs(-82.0)));
    if state == "terminated" {
        return receiver;
    }
    if state == "attenuated" {
        return receiver.band_noise(BAND + Db(-ATTENUATOR_DB));
    }
    let quiet = receiver.band_noise(BAND);
    match TRUTH.iter().find(|truth| state == "on" && (truth.0, truth.1) == (device, remedy)) {
        Some(&(_, _, excess_db)) => quiet.device(Hash::flat(), Db(excess_db)),
        None => quiet,
    }
}

/// Writes a WAV stream without an end: after each new line of the log, one take of that state, and nothing before
/// it. `slope`: dB of the audio for each dB of the input, as an AGC that sits at another gain for every level has
/// it; 1: none.
fn follow(log: PathBuf, mut pipe: std::process::ChildStdin, slope: f64) {
    let mut head = b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
    head.extend(RATE_HZ.to_le_bytes());
    head.extend((2 * RATE_HZ).to_le_bytes());
    head.extend(b"\x02\0\x10\0data\xff\xff\xff\xff");
    if pipe.write_all(&head).is_err() {
        return;
    }
    let begun = Instant::now();
    let mut done = 0;
    while begun.elapsed() < Duration::from_secs(120) {
        let text = std::fs::read_to_string(&log).unwrap_or_default();
        let whole = text.rfind('\n').map_or("", |end| &text[..end]);
        let Some(line) = whole.lines().nth(done) else {
            thread::sleep(Duration::from_millis(2));
            continue;
        };
        done += 1;
        let words: Vec<&str> = line.split('/').collect();
        let seconds = if done <= CHECKS { CHECK_S } else { TAKE_S };
        let take = scene(words[0], words[1], words[2], done as u64).render(seconds);
        let rms = (take.samples.iter().map(|x| x * x).sum::<f32>() / take.samples.len() as f32).sqrt();
        let gain = (rms / 0.01).powf(slope as f32 - 1.0);
        let whole = |x: &f32| ((x * gain * 32_768.0) as i16).to_le_bytes();
        let bytes: Vec<u8> = take.samples.iter().flat_map(whole).collect();
        if pipe.write_all(&bytes).is_err() {
            return;
        }
    }
}

/// The comparison of a device and remedy.
fn contrast<'a>(report: &'a Value, device: &str, remedy: &str) -> &'a Value {
    let is_it = |c: &&Value| c["device"] == device && c["remedy"].as_str().unwrap_or_default() == remedy;
    report["contrasts"].as_array().unwrap().iter().find(is_it).unwrap_or_else(|| panic!("{device}, {remedy}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Runs an evening to its end. `plan`: devices, rounds; returns exit code and what was said.
fn evening(bench: &Bench, plan: &[&str], slope: f64) -> (Option<i32>, String) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::write(bench.path("relay"), "#!/bin/sh\necho \"$1/$2/$3\" >> log\n").unwrap();
    std::fs::set_permissions(bench.path("relay"), std::fs::Permissions::from_mode(0o755)).unwrap();
    let mut child = bench
        .command()
        .args(["capture", "shed", "--seconds", &TAKE_S.to_string(), "--dial", "7100", "--mode", "USB"])
        .args(["--bandwidth", "2400", "--gain", "AGC off, RF gain 60", "--antenna", "wire"])
        .args(["--receiver-check", &ATTENUATOR_DB.to_string(), "--at-speed", "--settle", "0"])
        .args(["--switch-command", "./relay {state} {device} {remedy}"])
        .args(plan)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let (log, pipe) = (bench.path("log"), child.stdin.take().unwrap());
    let feeder = thread::spawn(move || follow(log, pipe, slope));
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    (output.status.code(), said.split_whitespace().collect::<Vec<_>>().join(" "))
}

#[test]
fn an_evening_that_switches_itself_ends_in_a_true_report() {
    let bench = Bench::new();
    let devices = ["--device", "aquarium lamp: three ferrites, linear supply", "--device", "pond pump"];
    let (code, said) = evening(&bench, &devices, 1.0);
    assert_eq!(code, Some(0), "{said}");
    let report = bench.json("reports/shed/report.json");
    assert_eq!(report["recordings"].as_array().unwrap().len(), 18);
    let ratio = |dbfs: Dbfs| 10f64.powf(dbfs.0 / 10.0);
    let (band, own) = (ratio(BAND), ratio(RECEIVER));
    let margin_db = 10.0 * ((band + own) / own).log10();
    for (device, remedy, excess_db) in TRUTH {
        let told = contrast(&report, device, remedy);
        let off_by = number(&told["excess_db"]) - excess_db;
        assert!(off_by.abs() < 0.3, "{device}, {remedy}: {off_by:+.2} dB");
        assert_eq!((told["character"].as_str(), told["trust"].as_str()), (Some("hash"), Some("sound")), "{told:#}");
        assert!((number(&told["receiver_margin_db"]) - margin_db).abs() < 0.3, "{told:#}");
        // By the antenna comes the band and the device; the receiver's own noise is in neither.
        let on = (band + own) * 10f64.powf(excess_db / 10.0);
        let corrected_db = 10.0 * ((on - own) / band).log10();
        assert!((number(&told["excess_corrected_db"]) - corrected_db).abs() < 0.4, "{corrected_db}: {told:#}");
    }
    let steps = report["ladders"][0]["steps"].as_array().unwrap();
    let remedies: Vec<Option<&str>> = steps.iter().map(|step| step["remedy"].as_str()).collect();
    assert_eq!(remedies, [None, Some("three ferrites"), Some("linear supply")]);

    // The receiver's own noise makes the step smaller than the attenuator, and is not taken for an AGC.
    let check = &report["receiver_check"];
    let step_db = 10.0 * ((band + own) / (band / 10f64.powf(ATTENUATOR_DB / 10.0) + own)).log10();
    assert!((number(&check["step_db"]) - step_db).abs() < 0.3, "{step_db}: {check:#}");
    assert_eq!(check["response"], "follows", "{check:#}");
    assert!((number(&check["slope"]) - 1.0).abs() < 0.1, "{check:#}");
    assert!((number(&check["own_noise_below_db"]) - margin_db).abs() < 0.3, "{check:#}");
    // Before the dummy load nobody can know that, and it is said at the bench.
    assert!(said.contains("a small step has two explanations") || said.contains("A small step has two"), "{said}");
    assert!(bench.read("reports/shed/details.md").contains("## Receiver check"));
}

/// An AGC that leaves 4 dB of 10: the labels say that it is off, every take is steady by itself, and the check
/// finds it.
#[test]
fn a_receiver_that_does_not_follow_spoils_the_evening_and_that_is_said() {
    let bench = Bench::new();
    let (code, said) = evening(&bench, &["--device", "aquarium lamp", "--rounds", "1"], 0.4);
    assert_eq!(code, Some(0), "{said}");
    let report = bench.json("reports/shed/report.json");
    let check = &report["receiver_check"];
    assert_eq!(check["response"], "compressed", "{check:#}");
    assert!((number(&check["slope"]) - 0.4).abs() < 0.1, "{check:#}");
    assert!(check["own_noise_below_db"].is_null(), "{check:#}");
    assert!(crate::bench::codes(&report).contains(&"receiver_check"), "{report:#}");
    let told = &report["contrasts"][0];
    assert_eq!(told["trust"], "doubtful", "{told:#}");
    assert!(number(&told["excess_db"]) < 5.0, "{told:#}");
}
