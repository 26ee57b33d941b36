//! `describe`: recordings by themselves; what is told, what is written, and what is refused.

use crate::bench::{Bench, RATE_HZ, off, samples};
use noisetally::demo::synth::{Buzz, Carrier, Clicks};
use noisetally::units::Db;

/// Twelve seconds, so that a beat can show.
fn long(bench: Bench, name: &str, scene: &noisetally::demo::synth::Scene) -> Bench {
    let samples = scene.render(12.0).samples;
    bench.wav(name, &samples, RATE_HZ)
}

/// By construction: noise gated 100 times a second, a pulse each 1.25 s, a carrier of 1234 Hz, and nothing.
fn shelf() -> Bench {
    let bench = long(Bench::new(), "buzz.wav", &off(1).device(Buzz::gated(100.0, 0.3), Db(6.0)));
    let bench = long(bench, "fence.wav", &off(2).device(Clicks::regular(0.8, 0.002), Db(3.0)));
    let bench = long(bench, "whistle.wav", &off(3).device(Carrier::at(1234.0), Db(3.0)));
    long(bench, "quiet.wav", &off(4))
}

#[test]
fn what_stands_in_each_is_told_and_nothing_else() {
    let bench = shelf();
    let ran = bench.run(["describe", "buzz.wav", "fence.wav", "whistle.wav", "quiet.wav", "--json"]);
    ran.exit(0).files::<&str>(&[]);
    let report = ran.json();
    let all = report["described"].as_array().unwrap();
    let kinds = |at: usize| -> Vec<&str> {
        let parts = all[at]["parts"].as_array().unwrap().iter();
        parts.map(|part| part["character"].as_str().unwrap()).collect()
    };
    assert_eq!([kinds(0), kinds(1), kinds(2), kinds(3)], [vec!["buzz"], vec!["clicks"], vec!["carriers"], vec![]]);
    assert!((all[0]["mains_rate_hz"].as_f64().unwrap() - 100.0).abs() < 0.3, "{}", all[0]);
    let [low, high] = [0, 1].map(|end| all[1]["pulse_period_ci_s"][end].as_f64().unwrap());
    assert!(low < 1.25 && 1.25 < high && high - low < 0.02, "{}", all[1]);
    assert!((all[2]["carriers"][0]["freq_hz"].as_f64().unwrap() - 1234.0).abs() < 0.5, "{}", all[2]);
    assert!(report["contrasts"].as_array().unwrap().is_empty());
    assert!(report["recordings"][0]["state"].is_null());
    for one in all {
        assert!(!one["next_take"].as_str().unwrap().is_empty());
    }
}

#[test]
fn one_is_told_in_sentences_and_several_in_a_table() {
    let bench = shelf();
    let one = bench.run(["describe", "fence.wav"]);
    one.exit(0).files::<&str>(&[]);
    for words in ["One click every 1.25", "sure.", "EN 60335-2-76", "Next take: "] {
        assert!(one.stdout.contains(words), "{words}: {}", one.stdout);
    }
    let several = bench.run(["describe", "."]);
    several.exit(0);
    assert!(several.stdout.contains("Pulsing") && several.stdout.contains("whistle.wav"), "{}", several.stdout);
}

#[test]
fn the_report_folder_is_whole() {
    let bench = shelf();
    let ran = bench.run(["describe", "buzz.wav", "--out", "report"]);
    let files = ["", "*.png", "described.csv", "details.md", "report.html", "report.json", "report.md"];
    ran.exit(0)
        .stderr("1 recording in report: read report/report.md\n")
        .files(&files.map(|name| format!("+ report/{name}")));
    assert!(bench.path("report/r1-buzz-card.png").exists());
    assert!(bench.read("report/report.md").contains("pulses 100 times a second"));
    assert!(bench.read("report/described.csv").starts_with("recording,file,"));
    bench.run(["describe", "fence.wav", "--out", "report"]).exit(0);
    assert!(!bench.path("report/r1-buzz-card.png").exists(), "the earlier report is replaced");
}

#[test]
fn what_can_not_be_used_is_named_and_the_others_are_done() {
    let quiet = samples(&off(5));
    let second: Vec<f32> = quiet[..RATE_HZ as usize].to_vec();
    let clipped: Vec<f32> = quiet.iter().map(|x| (400.0 * x).clamp(-1.0, 1.0)).collect();
    let bench = Bench::new()
        .wav("quiet.wav", &quiet, RATE_HZ)
        .wav("second.wav", &second, RATE_HZ)
        .wav("clipped.wav", &clipped, RATE_HZ)
        .wav("silent.wav", &[0.0; 48_000], RATE_HZ)
        .file("notes.wav", b"no sound at all");
    let ran = bench.run(["describe", ".", "quiet.wav", "gone.wav", "--json"]);
    ran.exit(1);
    assert!(ran.stderr.contains("quiet.wav: given twice, described once"), "{}", ran.stderr);
    let report = ran.json();
    let left_out: Vec<&str> =
        report["left_out"].as_array().unwrap().iter().map(|one| one["file"].as_str().unwrap()).collect();
    assert_eq!(left_out, ["notes.wav", "gone.wav"]);
    let next = |file: &str| {
        let recordings = report["recordings"].as_array().unwrap();
        let at = recordings.iter().position(|one| one["file"] == file).unwrap();
        report["described"][at]["next_take"].as_str().unwrap().to_owned()
    };
    assert!(next("clipped.wav").contains("input down"), "{}", next("clipped.wav"));
    assert!(next("silent.wav").contains("lead"), "{}", next("silent.wav"));
    assert!(next("second.wav").contains("20 s or more"), "{}", next("second.wav"));
    let nothing = bench.run(["describe", "notes.wav"]);
    nothing.exit(2);
    assert!(nothing.stdout.is_empty() && nothing.stderr.contains("notes.wav: "), "{}", nothing.stderr);
    let broken = bench.file("session.toml", b"mains_hz = \"fifty\"\n").run(["describe", "quiet.wav"]);
    broken.exit(2);
    assert!(broken.stderr.contains("line 1"), "{}", broken.stderr);
}

/// The labels of a manifest beside it count: its calibration, also where another recording bears it, and the
/// antenna, against ITU-R P.372. By the power as it is labelled: −85 dBm of noise of the off take, in 2400 Hz, is
/// −118.8 dBm in 1 Hz, 55.2 dB over −174 dBm; the median of city places at 7.1 MHz is 76.8 − 27.7·lg 7.1 = 53.2 dB.
/// Tolerance: half a dB, as the level is of all and the floor of the noise alone, at the filter's edges too.
#[test]
fn a_manifest_lends_calibration_and_antenna() {
    let manifest = "antenna_type = \"short vertical\"\nantenna_loss_db = 0.0\n[[recording]]\nfile = \"01-off.wav\"\n\
                    state = \"off\"\ndial_khz = 7100.0\nmode = \"USB\"\nbandwidth_hz = 2400\ndbm = -85.0\n\
                    [[recording]]\nfile = \"02-lamp-on.wav\"\nstate = \"on\"\ndevice = \"lamp\"\n";
    let bench = Bench::shed().file("shed/session.toml", manifest.as_bytes());
    let of = |file: &str| bench.run(["describe", file, "--json"]).exit(0).json()["described"][0]["noise"].clone();
    let off = of("shed/01-off.wav");
    assert!((off["noise_dbm"].as_f64().unwrap() + 85.0).abs() < 0.5, "{off}");
    assert_eq!(off["published"]["nearest"], "city");
    assert!((off["published"]["noise_figure_db"].as_f64().unwrap() - 55.2).abs() < 0.5, "{off}");
    assert!((off["published"]["over_median_db"].as_f64().unwrap() - 2.0).abs() < 0.5, "{off}");
    // The lamp of this bench adds 10 dB.
    let lamp = of("shed/02-lamp-on.wav");
    assert!((lamp["noise_dbm"].as_f64().unwrap() + 75.0).abs() < 0.5, "{lamp}");
}

/// A known noise is told by its carriers, and not by noise alone.
#[test]
fn a_known_noise_is_told_by_its_carriers() {
    let lamp = |seed: u64| off(seed).device(Carrier::at(930.0), Db(6.0));
    let bench = long(Bench::new(), "first/01-off.wav", &off(1));
    let bench = long(bench, "first/02-lamp-on.wav", &lamp(2));
    let bench = long(long(bench, "again.wav", &lamp(3)), "other.wav", &off(4));
    bench.run(["session", "first", "--remember", "known"]).exit(0);
    let of = |file: &str| {
        bench.run(["describe", file, "--known", "known", "--json"]).json()["described"][0]["known_noise"].clone()
    };
    assert_eq!(
        (of("again.wav")["answer"].as_str(), of("again.wav")["candidates"][0]["name"].as_str()),
        (Some("one"), Some("lamp"))
    );
    assert_eq!(of("other.wav")["answer"], "none");
}
