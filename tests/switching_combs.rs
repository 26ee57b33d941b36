//! A whole evening at the dial, from synthetic recordings to the report: a dehumidifier whose supply switches at a
//! known frequency, in every mode, with a wrong label, a missing one and a stranger among them.

mod common;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value;

use common::{names, noisetally, stderr};
use noisetally::audio::write_wav;
use noisetally::demo::synth::{Carrier, Carriers, Receiver, Scene};
use noisetally::units::Dbfs;

const RATE_HZ: u32 = 8000;
/// What the supply switches at.
const SPACING_HZ: f64 = 43_712.6;
/// Multiples that are heard, with the mode.
const HEARD: [(u32, &str); 11] = [
    (81, "LSB"),
    (88, "USB"),
    (161, "USB"),
    (164, "CW"),
    (233, "USB"),
    (322, "USB"),
    (325, "AM"),
    (415, "USB"),
    (481, "LSB"),
    (487, "USB"),
    (645, "USB"),
];

/// One dial setting: what is on the air, at which pitch, how it is labelled.
struct Take {
    dial: Option<String>,
    mode: &'static str,
    /// Audio frequency of the carrier; none: nothing is heard.
    pitch_hz: Option<f64>,
    /// Minutes after 20:00 UTC; none: no time is labelled.
    minute: Option<u32>,
}

/// The dial in steps of 10 Hz such that `rf_hz` is heard at about `pitch_hz`, and the true pitch.
fn tuned(rf_hz: f64, mode: &str, pitch_hz: f64) -> (String, f64) {
    let sign = if mode == "LSB" { -1.0 } else { 1.0 };
    let dial_hz = ((rf_hz - sign * pitch_hz) / 10.0).round() * 10.0;
    (format!("{:.2}", dial_hz / 1000.0), (rf_hz - dial_hz).abs())
}

fn takes() -> Vec<Take> {
    let mut takes = Vec::new();
    for (i, &(k, mode)) in HEARD.iter().enumerate() {
        let (dial, pitch_hz) = tuned(f64::from(k) * SPACING_HZ, mode, 700.0 + 150.0 * i as f64);
        takes.push(Take { dial: Some(dial), mode, pitch_hz: Some(pitch_hz), minute: None });
    }
    // Recorded in USB and labelled LSB.
    let (dial, pitch_hz) = tuned(250.0 * SPACING_HZ, "USB", 1_430.0);
    takes.push(Take { dial: Some(dial), mode: "LSB", pitch_hz: Some(pitch_hz), minute: None });
    // A dial nobody wrote down.
    takes.push(Take { dial: None, mode: "USB", pitch_hz: Some(1_111.0), minute: None });
    // Something else that the same switch turns on.
    takes.push(Take { dial: Some("17120.00".into()), mode: "USB", pitch_hz: Some(1_500.0), minute: None });
    // A multiple (480) that is too weak to be heard.
    takes.push(Take {
        dial: Some(tuned(480.0 * SPACING_HZ, "USB", 1_500.0).0),
        mode: "USB",
        pitch_hz: None,
        minute: None,
    });
    takes
}

fn write_session(dir: &Path, takes: &[Take]) {
    let mut manifest =
        String::from("title = \"Cellar, all over the dial\"\nbands_khz = [[14000, 14350], [7000, 7200]]\n");
    for (i, take) in takes.iter().enumerate() {
        for state in ["off", "on"] {
            let file = format!("{:02}-{state}.wav", i + 1);
            let seed = 2 * i as u64 + u64::from(state == "on");
            let mut scene = Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).band_noise(Dbfs(-45.0));
            if let (Some(hz), "on") = (take.pitch_hz, state) {
                scene = scene.carriers(Carriers::new([Carrier::at(hz)]), Dbfs(-50.0));
            }
            write_wav(&dir.join(&file), &scene.render(5.0).samples, RATE_HZ, 1).unwrap();
            let device = if state == "on" { "device = \"dehumidifier\"\n" } else { "" };
            let dial = take.dial.as_ref().map_or_else(String::new, |khz| format!("dial_khz = {khz}\n"));
            let mode = take.mode;
            let started = take.minute.map_or_else(String::new, |m| {
                format!("started = 2026-03-14T{:02}:{:02}:00Z\n", 20 + m / 60, m % 60)
            });
            write!(
                manifest,
                "\n[[recording]]\nfile = \"{file}\"\nstate = \"{state}\"\n{device}{dial}{started}mode = \"{mode}\"\ngain = \"AGC off\"\n"
            )
            .unwrap();
        }
    }
    fs::write(dir.join("session.toml"), manifest).unwrap();
}

fn run(takes: &[Take]) -> (tempfile::TempDir, Value) {
    let dir = tempfile::tempdir().unwrap();
    let session = dir.path().join("cellar");
    fs::create_dir(&session).unwrap();
    write_session(&session, takes);
    let run = noisetally(dir.path(), &["session", "cellar", "--out", "report", "--quiet"]);
    assert!(matches!(run.status.code(), Some(0 | 1)), "{}", stderr(&run));
    let json = fs::read_to_string(dir.path().join("report/report.json")).unwrap();
    (dir, serde_json::from_str(&json).unwrap())
}

fn hz(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

/// The truth is what was synthesised. Source of the counting: 14 000 to 14 350 kHz holds the multiples 321 to 328
/// of 43.7126 kHz, 7 000 to 7 200 kHz those of 161 to 164; four of these were heard.
#[test]
fn a_dozen_dial_settings_give_the_spacing() {
    let (dir, report) = run(&takes());
    let combs = report["switching_combs"].as_array().unwrap();
    assert_eq!(combs.len(), 1, "{}", report["switching_combs_refused"]);
    let comb = &combs[0];
    assert_eq!(comb["device"], "dehumidifier");
    assert_eq!(comb["placed"], "harmonics");
    let (low, high) = (hz(&comb["spacing_ci_hz"][0]), hz(&comb["spacing_ci_hz"][1]));
    assert!(low <= SPACING_HZ && SPACING_HZ <= high && high - low < 1.0, "{low} to {high}");
    let numbers: Vec<i64> =
        comb["members"].as_array().unwrap().iter().map(|m| m["harmonic"].as_i64().unwrap()).collect();
    assert_eq!(numbers, HEARD.map(|(k, _)| i64::from(k)));
    for member in comb["members"].as_array().unwrap() {
        let place = member["harmonic"].as_f64().unwrap() * SPACING_HZ;
        assert!((hz(&member["rf_hz"]) - place).abs() < 2.0, "{member}");
    }
    // The stranger and the wrong label are outside; the latter would fit the other way round.
    assert_eq!(comb["outsiders"].as_array().unwrap().len(), 2, "{comb}");
    let hints = comb["other_sideband"].as_array().unwrap();
    assert_eq!((hints.len(), hints[0]["harmonic"].as_i64()), (1, Some(250)));
    let missing: Vec<i64> =
        comb["missing"].as_array().unwrap().iter().map(|m| m["harmonic"].as_i64().unwrap()).collect();
    assert_eq!(missing, [480]);
    let predicted: Vec<i64> =
        comb["predicted"].as_array().unwrap().iter().map(|m| m["harmonic"].as_i64().unwrap()).collect();
    assert_eq!(predicted, [162, 163, 321, 323, 324, 326, 327, 328]);
    let notes = comb["notes"].to_string();
    assert!(notes.contains("13-on.wav") && notes.contains("no dial frequency"), "{notes}");

    let folder = dir.path().join("report");
    let markdown = fs::read_to_string(folder.join("details.md")).unwrap();
    let short = fs::read_to_string(folder.join("report.md")).unwrap();
    assert!(short.contains("Dehumidifier: carriers every 43.7126"), "{short}");
    assert!(markdown.contains("12-on.wav would fit as number 250"), "{markdown}");
    assert!(fs::read_to_string(folder.join("post.txt")).unwrap().contains("every 43.7126"));
    let csv = fs::read_to_string(folder.join("switching_combs.csv")).unwrap();
    assert_eq!(csv.lines().filter(|row| row.contains(",member,")).count(), HEARD.len());
    let pictures = names(&folder);
    assert!(pictures.iter().any(|name| name == "comb1-dehumidifier-dial.png"), "{pictures:?}");
    if let Ok(to) = std::env::var("NOISETALLY_FIGURES") {
        for name in ["comb1-dehumidifier-dial.png", "details.md", "post.txt"] {
            fs::copy(folder.join(name), Path::new(&to).join(name)).unwrap();
        }
    }
}

/// Three carriers leave every submultiple open: said, and nothing named.
#[test]
fn three_settings_are_too_few() {
    let takes: Vec<Take> = takes().into_iter().take(3).collect();
    let (dir, report) = run(&takes);
    assert_eq!(report["switching_combs"].as_array().unwrap().len(), 0);
    assert_eq!(report["switching_combs_refused"][0]["reason"], "too_few");
    let markdown = fs::read_to_string(dir.path().join("report/details.md")).unwrap();
    assert!(markdown.contains("too few carriers over the dial"), "{markdown}");
    assert!(!dir.path().join("report/switching_combs.csv").exists());
}

/// A supply that warms up: 21.6 kHz at 20:00, rising by 300 Hz an hour; a take each four minutes, low and high in
/// turn. The last is at 20:44, when number 650 stands at 650 · 21 820 Hz.
#[test]
fn a_supply_that_warms_up_is_told_with_its_drift() {
    let numbers = [652, 84, 331, 1111, 163, 840, 467, 166, 1300, 328, 977, 648];
    let takes: Vec<Take> = numbers
        .iter()
        .zip((0..).step_by(4))
        .map(|(&k, minute)| {
            let (dial, pitch_hz) = tuned(f64::from(k) * (21_600.0 + 5.0 * f64::from(minute)), "USB", 1_300.0);
            Take { dial: Some(dial), mode: "USB", pitch_hz: Some(pitch_hz), minute: Some(minute) }
        })
        .collect();
    let (dir, report) = run(&takes);
    let combs = report["switching_combs"].as_array().unwrap();
    assert_eq!(combs.len(), 1, "{}", report["switching_combs_refused"]);
    let comb = &combs[0];
    let (low, high) = (hz(&comb["drift_ci_hz_per_h"][0]), hz(&comb["drift_ci_hz_per_h"][1]));
    assert!(low <= 300.0 && 300.0 <= high && high - low < 20.0, "{low} to {high}");
    let at = comb["at"].as_str().unwrap();
    let minute: f64 = at.strip_prefix("2026-03-14T20:").and_then(|at| at.get(..2)).unwrap().parse().unwrap();
    let (low, high) = (hz(&comb["spacing_ci_hz"][0]), hz(&comb["spacing_ci_hz"][1]));
    assert!(low <= 21_600.0 + 5.0 * minute && 21_600.0 + 5.0 * minute <= high && high - low < 5.0, "{comb}");
    assert_eq!(comb["drift_hz_per_take"], Value::Null);
    assert_eq!(comb["predicted_at"], "2026-03-14T20:44:00Z");
    let next = comb["predicted"].as_array().unwrap().iter().find(|p| p["harmonic"] == 650).unwrap();
    assert!((hz(&next["rf_hz"]) - 650.0 * 21_820.0).abs() <= hz(&next["within_hz"]), "{next}");
    let markdown = fs::read_to_string(dir.path().join("report/details.md")).unwrap();
    assert!(markdown.contains(&format!("at 20:{minute:02}, rising by 0.30")), "{markdown}");
    assert!(markdown.contains("Moves an hour, kHz") && markdown.contains("stood at 20:44"), "{markdown}");
    if let Ok(to) = std::env::var("NOISETALLY_FIGURES") {
        fs::copy(dir.path().join("report/details.md"), Path::new(&to).join("drifting.md")).unwrap();
        fs::copy(dir.path().join("report/comb1-dehumidifier-dial.png"), Path::new(&to).join("drifting.png"))
            .unwrap();
    }
}

/// A supply that wanders about 21.6 kHz while two bands are tuned through, up and down again: no spacing is named,
/// the distance of neighbours is, and nobody is sent to tune on.
#[test]
fn of_a_supply_that_wanders_the_distance_of_neighbours_is_told() {
    let up = 0..9_u32;
    let numbers = up.clone().map(|m| 166 + m).chain(up.rev().map(|m| 90 + m));
    let takes: Vec<Take> = numbers
        .zip((0..).step_by(3))
        .map(|(k, minute)| {
            let hours = f64::from(minute) / 60.0;
            let spacing_hz = 21_600.0 + 20.0 * (9.0 * hours).sin() + 8.0 * (31.0 * hours).cos();
            let (dial, pitch_hz) = tuned(f64::from(k) * spacing_hz, "USB", 1_300.0);
            Take { dial: Some(dial), mode: "USB", pitch_hz: Some(pitch_hz), minute: Some(minute) }
        })
        .collect();
    let (dir, report) = run(&takes);
    assert_eq!(report["switching_combs"].as_array().unwrap().len(), 0, "{}", report["switching_combs"]);
    let refused = &report["switching_combs_refused"][0];
    assert_eq!(refused["reason"], "chance");
    let apart = &refused["neighbours"]["apart_hz"];
    assert!(hz(&apart[0]) > 20_000.0 && hz(&apart[1]) < 23_000.0, "{refused}");
    assert!(hz(&refused["neighbours"]["chance"]) <= 0.001, "{refused}");
    let markdown = fs::read_to_string(dir.path().join("report/details.md")).unwrap();
    assert!(markdown.contains("the supply wanders. Neighbours stood"), "{markdown}");
    assert!(markdown.contains("within minutes of each other") && !markdown.contains("Tune on"), "{markdown}");
    if let Ok(to) = std::env::var("NOISETALLY_FIGURES") {
        fs::copy(dir.path().join("report/details.md"), Path::new(&to).join("wandering.md")).unwrap();
    }
}
