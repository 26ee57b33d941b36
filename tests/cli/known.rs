//! `session --remember` and `--known`, `night --known`: what was learnt is told by name, and slips are named.

use crate::bench::{Bench, off};
use noisetally::demo::synth::{Buzz, Carrier};
use noisetally::units::Db;

/// A charger that buzzes, learnt at 12 dB; the same at 6 dB on another evening; and a stranger's carrier.
fn sheds() -> Bench {
    let charger = |seed: u64, excess_db: f64| off(seed).device(Buzz::gated(100.0, 0.3), Db(excess_db));
    Bench::new()
        .scene("first/01-off.wav", &off(1))
        .scene("first/02-charger-on.wav", &charger(2, 12.0))
        .scene("again/01-off.wav", &off(5))
        .scene("again/02-box-on.wav", &charger(6, 6.0))
        .scene("again/03-off.wav", &off(7))
        .scene("again/04-clock-on.wav", &off(8).device(Carrier::at(1234.0), Db(6.0)))
}

#[test]
fn what_was_learnt_is_told_by_name_and_a_stranger_is_not() {
    let bench = sheds();
    let ran = bench.run(["session", "first", "--remember", "known"]);
    assert!(ran.stderr.contains("remembered: charger: known/charger.toml"), "{}", ran.stderr);
    let file = std::fs::read_to_string(bench.path("known/charger.toml")).unwrap();
    assert!(file.starts_with("# ") && file.contains("name = \"charger\""), "{file}");
    // Beside it one that is no signature.
    std::fs::write(bench.path("known/broken.toml"), "format = 1\nname =\n").unwrap();
    let ran = bench.run(["session", "again", "--known", "known", "--json"]);
    assert!(ran.stderr.contains("passed over: broken.toml: line 2: "), "{}", ran.stderr);
    let report = ran.json();
    let of = |device: &str| {
        let all = report["contrasts"].as_array().unwrap();
        all.iter().find(|c| c["device"] == device).unwrap()["known_noise"].clone()
    };
    assert_eq!(of("box")["answer"], "one", "{}", of("box"));
    assert_eq!(of("box")["candidates"][0]["name"], "charger");
    assert!(of("box")["candidates"][0]["resemblance"].as_f64().unwrap() > 0.5, "{}", of("box"));
    // Carriers are held against a buzz by what the power consists of; either way it is not the charger.
    assert!(["none", "not_told"].contains(&of("clock")["answer"].as_str().unwrap()), "{}", of("clock"));
    let text = std::fs::read_to_string(bench.path("reports/again/details.md")).unwrap();
    assert!(text.contains("resembles the known noise charger"), "{text}");
}

#[test]
fn slips_are_told_before_anything_is_measured() {
    let bench = sheds().file("empty/notes.txt", b"none").file("file.toml", b"none");
    for (args, said) in [
        (["session", "first", "--known", "nowhere"], "nowhere: there is no such folder of known noises"),
        (["session", "first", "--known", "empty"], "empty: no known noise in it can be used"),
        (["session", "first", "--remember", "file.toml"], "file.toml: "),
        (["night", "first", "--known", "nowhere"], "nowhere: there is no such folder of known noises"),
    ] {
        let ran = bench.run(args);
        ran.exit(2);
        assert!(ran.stdout.is_empty() && ran.stderr.contains(said), "{args:?}: {}", ran.stderr);
        assert!(!bench.path("reports").exists());
    }
}
