//! `handout`: what the sheets hold and no report does; clips, sample by sample; takes that are not the report's.

use crate::bench::{Bench, RATE_HZ, off, on, samples};

/// Words that are personal.
const PERSONAL: [&str; 4] = ["Quillon", "the weir", "since the flood", "a heron"];

const CASE: &str = "[case]\nname = \"Quillon Marl\"\naddress = \"the weir\"\nsince = \"since the flood\"\n\
                    note = \"mind a heron\"\n";

/// A shed with two takes off and two on, each of 12 s, and a case.
fn shed() -> Bench {
    let take = |scene: noisetally::demo::synth::Scene| scene.render(12.0).samples;
    let label = |file: &str| format!("[[recording]]\nfile = \"{file}\"\n");
    let files = ["01-off.wav", "02-lamp-on.wav", "03-off.wav", "04-lamp-on.wav"];
    let text = CASE.to_owned() + &files.map(label).concat();
    Bench::new()
        .wav("shed/01-off.wav", &take(off(1)), RATE_HZ)
        .wav("shed/02-lamp-on.wav", &take(on(2)), RATE_HZ)
        .wav("shed/03-off.wav", &take(off(3)), RATE_HZ)
        .wav("shed/04-lamp-on.wav", &take(on(4)), RATE_HZ)
        .file("shed/session.toml", text.as_bytes())
}

fn reported() -> Bench {
    let bench = shed();
    bench.run(["session", "shed", "-q"]).exit(0);
    bench
}

/// A report is made to be posted: whatever command reads the manifest, nothing of its case is in what it writes or
/// says.
#[test]
fn nothing_of_a_case_is_in_a_report() {
    let bench = shed();
    let mut said = String::new();
    for args in [
        ["session", "shed", "--json", "--remember", "known"].as_slice(),
        &["session", "shed", "--out", "words"],
        &["check", "shed"],
        &["check", "shed", "--json"],
        &["night", "shed", "--out", "night"],
        &["pair", "shed/01-off.wav", "shed/02-lamp-on.wav", "--out", "pair"],
        &["draft", "shed", "--out", "-", "--force"],
    ] {
        let output = bench.command().args(args).output().unwrap();
        said += &String::from_utf8_lossy(&output.stdout);
        said += &String::from_utf8_lossy(&output.stderr);
    }
    let written = bench.contents().into_iter().filter(|(name, _)| !name.starts_with("shed/"));
    let mut seen = 0;
    for (name, bytes) in written {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        assert!(PERSONAL.iter().all(|word| !text.contains(word)), "{name}");
        seen += 1;
    }
    assert!(seen > 20 && PERSONAL.iter().all(|word| !said.contains(word)), "{said}");
}

#[test]
fn the_case_comes_from_the_manifest_that_was_named_alone() {
    let bench = reported().file("case.toml", CASE.replace("Quillon", "Tamsin").as_bytes());
    let ran = bench.run(["handout", "reports/shed"]);
    let made = ["", "handout.html", "handout.json", "handout.txt"].map(|file| format!("+ handouts/shed/{file}"));
    let made: Vec<String> = ["+ handouts/".to_owned()].into_iter().chain(made).collect();
    assert_eq!(ran.exit(0).files, made);
    assert!(
        ran.stdout.starts_with("About: lamp\nTo be filled in by hand, or in the manifest's [case]: name, contact,")
    );
    let text = |bench: &Bench| bench.read("handouts/shed/handout.txt");
    assert!(PERSONAL.iter().all(|word| !text(&bench).contains(word)));
    for (args, name) in [
        (["handout", "reports/shed", "--recordings", "shed", "-q"].as_slice(), "Quillon"),
        (&["handout", "reports/shed", "--case", "shed/session.toml"], "Quillon"),
        (&["handout", "reports/shed", "--case", "case.toml", "--recordings", "shed"], "Tamsin"),
    ] {
        let output = bench.command().args(args).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{args:?}");
        assert!(text(&bench).contains(&format!("1. Who reports: {name} Marl.")), "{args:?}: {}", text(&bench));
        let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
        assert!(!said.contains(name), "a terminal may be shown around: {said}");
        assert!(!bench.read("handouts/shed/handout.json").contains(name));
    }
    let bench = bench.file("none.toml", b"title = \"x\"\n").file("wrong.toml", b"[case]\nsinse = \"May\"\n");
    for (args, why) in [
        (["handout", "reports/shed", "--case", "none.toml"], "none.toml: has no [case]"),
        (["handout", "reports/shed", "--case", "wrong.toml"], "did you mean `since`?"),
        (["handout", "reports/shed", "--case", "gone.toml"], "there is no such manifest"),
        (["handout", "reports/shed", "--device", "kettle"], "no device kettle"),
        (["handout", "reports/shed", "--out", "reports/shed/handout"], "lies within the report"),
        (["handout", "reports/shed", "--out", "shed"], "is no handout of noisetally"),
    ] {
        let ran = bench.run(args);
        assert!(
            ran.exit(2).stderr.contains(why) && ran.files.is_empty() && ran.stdout.is_empty(),
            "{args:?}: {ran:#?}"
        );
    }
    let ran = bench.run(["handout", "reports/shed", "--clips"]);
    assert!(ran.exit(2).stderr.contains("--recordings <FOLDER>"), "{ran:#?}");
}

/// The clips are the takes' own samples times one gain, 16 bit, at the places that are told.
#[test]
fn clips_are_the_takes_themselves_at_one_gain() {
    let bench = reported();
    let ran = bench.run(["handout", "reports/shed", "--recordings", "shed", "--clips", "--out", "out"]);
    let made = ["", "clip-20s.wav", "clip-60s.wav", "clips.txt", "handout.html", "handout.json", "handout.txt"];
    assert_eq!(ran.exit(0).files, made.map(|file| format!("+ out/{file}")));
    let listed = bench.json("out/handout.json");
    let read = |name: &str| -> Vec<f64> {
        let mut wav = hound::WavReader::open(bench.path(name)).unwrap();
        assert_eq!((wav.spec().bits_per_sample, wav.spec().sample_rate, wav.spec().channels), (16, RATE_HZ, 1));
        wav.samples::<i16>().map(|x| f64::from(x.unwrap())).collect()
    };
    let mut gains = Vec::new();
    for clip in listed["clips"].as_array().unwrap() {
        let samples = read(&format!("out/{}", clip["file"].as_str().unwrap()));
        let seconds = |value: &serde_json::Value, name: &str| value[name].as_f64().unwrap();
        assert!((samples.len() as f64 / f64::from(RATE_HZ) - seconds(clip, "duration_s")).abs() < 1e-6);
        let gain = 10f64.powf(seconds(clip, "gain_db") / 20.0);
        gains.push(gain);
        let states: Vec<&str> =
            clip["pieces"].as_array().unwrap().iter().map(|p| p["state"].as_str().unwrap()).collect();
        assert!(states.chunks(2).all(|pair| pair == ["off", "on"]), "{states:?}");
        for piece in clip["pieces"].as_array().unwrap() {
            let take = read(&format!("shed/{}", piece["file"].as_str().unwrap()));
            // The place in the clip is the middle of a fade of 50 ms; the first piece begins at its own start.
            let lead = if seconds(piece, "at_s") == 0.0 { 0.0 } else { 0.025 };
            let at = |s: f64| ((s + 0.5) * f64::from(RATE_HZ)).round() as usize;
            let (a, b) = (at(seconds(piece, "at_s") - lead), at(seconds(piece, "from_s")));
            for i in 0..4000 {
                // Half a step of 16 bits, and the rounding of f32.
                assert!((samples[a + i] - take[b + i] * gain).abs() <= 0.51, "{piece}");
            }
        }
        // 1 dB below full scale, or under it: nothing clips.
        assert!(samples.iter().all(|x| x.abs() <= 32_768.0 * 10f64.powf(-1.0 / 20.0) + 1.0));
    }
    assert_eq!((gains.len(), gains[0]), (2, gains[1]));
    let text = bench.read("out/clips.txt");
    assert!(
        text.contains(
            "clip-20s.wav, 20.0 s\n    0.0 s  without  01-off.wav, from 0.0 s\n    5.0 s  with     02-lamp-on.wav"
        ),
        "{text}"
    );
    assert!(PERSONAL.iter().all(|word| !text.contains(word)));
    assert!(bench.read("out/handout.txt").contains("clip-20s.wav (20 s) and clip-60s.wav"));
}

#[test]
fn other_takes_than_the_reports_are_refused() {
    let args = ["handout", "reports/shed", "--recordings", "shed", "--clips"];
    let longer = samples(&off(1)).repeat(3);
    let mut louder = on(2).render(12.0).samples;
    louder.iter_mut().for_each(|x| *x *= 1.02);
    let whole = reported();
    for (name, samples, rate, why) in [
        ("shed/01-off.wav", longer, RATE_HZ, "01-off.wav: 18.00 s long, and the report says 12.00"),
        ("shed/02-lamp-on.wav", louder, RATE_HZ, "02-lamp-on.wav: its level is"),
        (
            "shed/03-off.wav",
            off(3).render(12.0).samples,
            16_000,
            "03-off.wav: 16000 samples a second, and the report says 8000",
        ),
    ] {
        let bench = whole.copy().wav(name, &samples, rate);
        let ran = bench.run(args);
        assert!(ran.exit(2).stderr.contains(why) && ran.stderr.contains("Nothing was written."), "{ran:#?}");
        assert!(ran.files.is_empty(), "{:?}", ran.files);
    }
    let bench = whole;
    std::fs::remove_file(bench.path("shed/04-lamp-on.wav")).unwrap();
    let ran = bench.run(args);
    assert!(ran.exit(2).stderr.contains("04-lamp-on.wav") && ran.files.is_empty(), "{ran:#?}");
    let report = bench.read("reports/shed/report.json").replace("01-off.wav", "../01-off.wav");
    let bench = bench.file("reports/shed/report.json", report.as_bytes());
    let ran = bench.run(args);
    assert!(ran.exit(2).stderr.contains("lies outside the folder") && ran.files.is_empty(), "{ran:#?}");
}
