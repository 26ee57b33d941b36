//! `--passband`, `--mains`, `--reference` and `--channel` do what they say, and say so where they can't.

use serde_json::Value;

use crate::bench::{Bench, LAMP_DB, RATE_HZ, codes, off, on, samples};
use noisetally::audio::write_wav;
use noisetally::demo::synth::{Buzz, Station};
use noisetally::units::Db;

fn first_contrast(bench: &Bench, wish: [&str; 2]) -> Value {
    let ran = bench.run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--json", wish[0], wish[1]]);
    ran.exit(0).stderr("").no_files();
    ran.json()["contrasts"][0].clone()
}

#[test]
fn a_passband_is_kept_to() {
    let contrast = first_contrast(&Bench::shed(), ["--passband", "1000-1500"]);
    assert_eq!(contrast["passband_hz"], serde_json::json!([1000.0, 1500.0]));
    assert_eq!(contrast["trust"], "unrepeated");
}

#[test]
fn a_passband_beyond_the_receivers_own_is_doubtful() {
    let contrast = first_contrast(&Bench::shed(), ["--passband", "3000-3900"]);
    assert_eq!(
        (contrast["trust"].as_str(), codes(&contrast)),
        (Some("doubtful"), vec!["outside_passband", "gain_unknown"])
    );
}

/// Sampling theorem: 8000 samples a second hold nothing above 4000 Hz, so nothing would compare as equal there.
#[test]
fn a_passband_beyond_the_samples_is_refused() {
    let ran = Bench::shed().run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--passband", "5000-9000"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.contains("reaches beyond 4000 Hz, the highest frequency in its 8000 samples"), "{ran:#?}");
}

#[test]
fn mains_of_60_hz_are_found_and_can_be_laid_down() {
    let buzzing = |seed: u64| off(seed).device(Buzz::gated(120.0, 0.3), Db(LAMP_DB));
    let bench = Bench::new()
        .scene("shed/01-off.wav", &off(1))
        .scene("shed/02-lamp-on.wav", &buzzing(2))
        .scene("shed/03-off.wav", &off(3));
    let ran = bench.run(["session", "shed", "--json", "-q"]);
    ran.exit(0).stderr("");
    let report = ran.json();
    assert_eq!(
        (&report["session"]["mains_hz"], &report["contrasts"][0]["character"]),
        (&60.0.into(), &"buzz".into())
    );
    assert!((report["contrasts"][0]["mains_rate_hz"].as_f64().unwrap() - 120.0).abs() < 0.5, "{report}");
    let ran = bench.run(["check", "shed", "--json", "--mains", "50"]);
    ran.exit(0).stderr("").no_files();
    assert_eq!(ran.json()["session"]["mains_hz"], 50.0);
}

/// A carrier in both states and a volume turned down by 6 dB: without the carrier the lamp would seem 6 dB weaker.
#[test]
fn a_reference_takes_a_gain_change_off() {
    let beacon = |scene: noisetally::demo::synth::Scene| scene.station(Station::carrier(1200.0), Db(3.0));
    // The lamp lifts the noise by 10 dB, and the station is made as strong against the noise without it.
    let quieter: Vec<f32> = samples(&beacon(on(2))).iter().map(|x| x * 10f32.powf(-6.0 / 20.0)).collect();
    let bench =
        Bench::new().scene("shed/01-off.wav", &beacon(off(1))).wav("shed/02-lamp-on.wav", &quieter, RATE_HZ);
    let contrast = first_contrast(&bench, ["--reference", "1200"]);
    let reference = &contrast["gain_reference"];
    assert!((reference["freq_hz"].as_f64().unwrap() - 1200.0).abs() < 1.0, "{contrast}");
    assert!((reference["shift_db"].as_f64().unwrap() + 6.0).abs() < 0.5, "{contrast}");
    assert!((contrast["excess_db"].as_f64().unwrap() - LAMP_DB).abs() < 0.6, "{contrast}");
}

#[test]
fn a_reference_that_is_not_there_is_told() {
    let contrast = first_contrast(&Bench::shed(), ["--reference", "1200"]);
    assert_eq!(
        (contrast["trust"].as_str(), codes(&contrast)),
        (Some("doubtful"), vec!["no_reference", "gain_unknown"])
    );
    assert_eq!(contrast["gain_reference"], Value::Null);
}

#[test]
fn a_channel_is_chosen() {
    let bench = Bench::shed();
    let stereo: Vec<f32> =
        samples(&off(7)).iter().zip(samples(&on(8))).flat_map(|(&left, right)| [left, right]).collect();
    write_wav(&bench.path("both-on.wav"), &stereo, RATE_HZ, 2).unwrap();
    for (channel, used, excess_db) in [("right", "right", LAMP_DB), ("2", "right", LAMP_DB), ("left", "left", 0.0)]
    {
        // The off recording is mono: it has no channel 2, so a stereo one stands in for it.
        let quiet = samples(&off(9)).iter().flat_map(|&x| [x, x]).collect::<Vec<f32>>();
        write_wav(&bench.path("both-off.wav"), &quiet, RATE_HZ, 2).unwrap();
        let ran = bench.run(["pair", "both-off.wav", "both-on.wav", "--json", "--channel", channel]);
        ran.exit(0).stderr("").no_files();
        let report = ran.json();
        assert_eq!(report["recordings"][1]["channel_used"], used);
        assert!((report["contrasts"][0]["excess_db"].as_f64().unwrap() - excess_db).abs() < 0.6, "{report}");
    }
    let ran = bench.run(["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--channel", "2"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.contains("01-off.wav: has 1 channel, so there is no channel 2"), "{ran:#?}");
}

#[test]
fn nonsense_is_refused_with_what_to_write() {
    let bench = Bench::new();
    for (option, typed, said) in [
        ("--passband", "2700-300", "at least 100 Hz wide, lower edge first"),
        ("--passband", "wide", "write its edges in Hz, such as 300-2700"),
        ("--mains", "230", "mains are 50 or 60 Hz"),
        ("--reference", "-5", "unexpected argument"),
        ("--reference", "NaN", "is no frequency"),
        ("--channel", "middle", "try: auto, mean, left, right, or a number from 1"),
        ("--threads", "0", "a number from 1 to 256"),
        ("--threads", "70000", "a number from 1 to 256"),
    ] {
        let ran = bench.run(["pair", "a.wav", "b.wav", option, typed]);
        ran.exit(2).stdout("").no_files();
        assert!(ran.stderr.contains(said), "{option} {typed}: {ran:#?}");
    }
}
