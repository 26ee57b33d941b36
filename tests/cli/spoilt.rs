//! Recordings that are missing, broken, silent, too short or copies: each is named with its reason, the others are
//! done.

use serde_json::Value;

use crate::bench::{Bench, LAMP_DB, RATE_HZ, codes, new_report, off, on, samples};
use noisetally::demo::synth::{Hash, Receiver, Scene, Trap};
use noisetally::units::{Db, Dbfs};

/// A mono 32-bit float WAV (format code 3; Multimedia Data Standards Update, Microsoft 1994).
fn float_wav(samples: &[f32]) -> Vec<u8> {
    let data: Vec<u8> = samples.iter().flat_map(|x| x.to_le_bytes()).collect();
    let size = data.len() as u32;
    let mut bytes = Vec::new();
    bytes.extend(b"RIFF");
    bytes.extend((36 + size).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16u32.to_le_bytes());
    bytes.extend([3u16, 1].into_iter().flat_map(u16::to_le_bytes));
    bytes.extend([RATE_HZ, 4 * RATE_HZ].into_iter().flat_map(u32::to_le_bytes));
    bytes.extend([4u16, 32].into_iter().flat_map(u16::to_le_bytes));
    bytes.extend(b"data");
    bytes.extend(size.to_le_bytes());
    bytes.extend(data);
    bytes
}

/// `good` and every kind of bad one in `shed`.
fn full_of_trouble() -> Bench {
    let bench = Bench::shed();
    let whole = std::fs::read(bench.path("shed/01-off.wav")).unwrap();
    let mut faulty = samples(&off(11));
    faulty[1000..1010].fill(f32::NAN);
    let silence = vec![0.0; 6 * RATE_HZ as usize];
    bench
        .file("shed/10-off empty.wav", b"")
        .file("shed/11-lamp-on garbage.wav", &[0xa5; 4000])
        .file("shed/12-off cut.wav", &whole[..whole.len() * 2 / 3])
        .wav("shed/13-off silent.wav", &silence, RATE_HZ)
        .wav("shed/14-off one sample.wav", &[0.25], RATE_HZ)
        .file("shed/15-off not a number.wav", &float_wav(&faulty))
        .wav("shed/16-off slow.wav", &samples(&off(16))[..16_000], 4000)
        .file("shed/17-off text.wav", b"not a recording at all")
        .scene("shed/unlabelled.wav", &off(18))
}

#[test]
fn bad_recordings_are_named_and_the_others_are_done() {
    let bench = full_of_trouble();
    let ran = bench.run(["session", "shed"]);
    ran.exit(1).files(&[vec!["+ reports/".to_owned()], new_report("reports/shed")].concat());
    let expected = [
        "not whole: 12-off cut.wav: it ends after 4.0 s of the 6.0 s its header promises",
        "left out: unlabelled.wav: its name does not say whether the device was off or on; rename it, for example to \
         `unlabelled-on.wav` or `unlabelled-off.wav`, or give it a `state` in session.toml",
        "left out: 10-off empty.wav: is empty (0 bytes); try: copy it again from the recorder",
        "left out: 11-lamp-on garbage.wav: is no audio this tool knows (no known header in it); try: export the \
         recording as WAV or FLAC",
        "left out: 14-off one sample.wav: holds only 1 sample (0 ms of sound); record it again, at least 20 s",
        "left out: 16-off slow.wav: has a sample rate of 4000 Hz, outside 6 to 192 kHz; try: record at 12 or 48 kHz, \
         or mend the file's header",
        "left out: 17-off text.wav: is no audio this tool knows (no known header in it); try: export the recording as \
         WAV or FLAC",
        "7 recordings and 2 comparisons in reports/shed: read reports/shed/report.md",
    ];
    assert_eq!(ran.stderr.lines().collect::<Vec<_>>(), expected);
    assert!(ran.stdout.starts_with("lamp: "), "{ran:#?}");
    let report = bench.json("reports/shed/report.json");
    let left_out: Vec<&str> =
        report["left_out"].as_array().unwrap().iter().map(|one| one["file"].as_str().unwrap()).collect();
    assert_eq!(left_out.len(), 6);
    let markdown = bench.read("reports/shed/details.md");
    assert!(left_out.iter().all(|file| markdown.contains(file)), "{markdown}");
    // The lamp is measured against what is left: the truth is what the scene was made with. One take of 6 s and 2.4
    // kHz is known to about 0.1 dB.
    let lamp = &report["contrasts"][0];
    assert!((lamp["excess_db"].as_f64().unwrap() - LAMP_DB).abs() < 0.5, "{lamp}");
    let messages = lamp["warnings"].to_string();
    assert!(messages.contains("13-off silent.wav was not used: there is nothing to hear in it"), "{messages}");
    assert!(
        messages.contains("15-off not a number.wav was not used") && messages.contains("10 samples are no numbers"),
        "{messages}"
    );
    let cut = recording(&report, "12-off cut.wav");
    assert_eq!(codes(cut), ["truncated"]);
    // The garbage was the only recording of a remedy: its comparison is void and says why.
    let void = &report["contrasts"][1];
    assert_eq!((void["trust"].as_str(), codes(void)), (Some("void"), vec!["no_recording"]));
    assert!(void["warnings"][0]["message"].as_str().unwrap().contains("11-lamp-on garbage.wav: is no audio"));
}

fn recording<'a>(report: &'a Value, file: &str) -> &'a Value {
    report["recordings"].as_array().unwrap().iter().find(|one| one["file"] == file).unwrap()
}

#[test]
fn a_pair_with_an_unusable_file_is_refused_and_the_file_named() {
    let bench = full_of_trouble();
    std::fs::create_dir(bench.path("a folder")).unwrap();
    for (off, on, expected) in [
        (
            "shed/01-off.wav",
            "gone.wav",
            "noisetally: gone.wav: not found. Nothing was compared.\n  try: check the name and the folder\n",
        ),
        (
            "a folder",
            "shed/02-lamp-on.wav",
            "noisetally: a folder: is a folder. Nothing was compared.\n  try: name a recording in it\n",
        ),
        (
            "shed/10-off empty.wav",
            "shed/02-lamp-on.wav",
            "noisetally: 10-off empty.wav: is empty (0 bytes). Nothing was compared.\n  try: copy it again from the \
             recorder\n",
        ),
        (
            "shed/01-off.wav",
            "shed/01-off.wav",
            "noisetally: shed/01-off.wav: given twice, so there is nothing to compare.\n  try: first the recording with \
             the device off, then the one with it on\n",
        ),
        (
            "shed/10-off empty.wav",
            "shed/11-lamp-on garbage.wav",
            "noisetally: no recording could be used. Nothing was written.\n  10-off empty.wav: is empty (0 bytes); try: \
             copy it again from the recorder\n  11-lamp-on garbage.wav: is no audio this tool knows (no known header in \
             it); try: export the recording as WAV or FLAC\n",
        ),
    ] {
        bench.run(["pair", off, on]).exit(2).stdout("").stderr(expected).no_files();
    }
}

#[test]
fn swapped_files_are_void_and_asked_about() {
    let bench = Bench::shed();
    let ran = bench.run(["pair", "shed/02-lamp-on.wav", "shed/01-off.wav"]);
    ran.exit(1).stderr("").no_files();
    assert!(ran.stdout.contains("are they swapped?") && ran.stdout.contains("void"), "{ran:#?}");
}

#[test]
fn a_copy_is_not_taken_for_a_second_recording() {
    let bench = Bench::shed();
    std::fs::copy(bench.path("shed/01-off.wav"), bench.path("shed/05-lamp-on.wav")).unwrap();
    let ran = bench.run(["pair", "shed/01-off.wav", "shed/05-lamp-on.wav", "--json"]);
    ran.exit(1).stderr("").no_files();
    let void = &ran.json()["contrasts"][0];
    assert_eq!((void["trust"].as_str(), codes(void)), (Some("void"), vec!["same_sound"]));
    // Twice in one state it would count double and narrow the interval.
    std::fs::rename(bench.path("shed/05-lamp-on.wav"), bench.path("shed/05-off.wav")).unwrap();
    let ran = bench.run(["check", "shed", "--json"]);
    ran.exit(1).stderr("").no_files();
    let lamp = &ran.json()["contrasts"][0];
    assert_eq!(lamp["off"].as_array().unwrap().len(), 2);
    assert!(codes(lamp).contains(&"same_sound"), "{lamp}");
}

#[test]
fn short_recordings_give_no_confident_answer() {
    let bench = Bench::shed();
    let lamp = samples(&on(9));
    let bench = bench.wav("brief-on.wav", &lamp[..2400], RATE_HZ).wav("blink-on.wav", &lamp[..960], RATE_HZ);
    for (file, exit, trust) in [("brief-on.wav", 0, "doubtful"), ("blink-on.wav", 1, "void")] {
        let ran = bench.run(["pair", "shed/01-off.wav", file, "--json"]);
        ran.exit(exit).stderr("").no_files();
        let contrast = &ran.json()["contrasts"][0];
        assert_eq!((contrast["trust"].as_str(), contrast["confidence"].as_f64() < Some(0.9)), (Some(trust), true));
        assert!(codes(contrast).contains(&"too_short"), "{contrast}");
    }
}

#[test]
fn a_click_in_silence_is_no_noise_to_compare() {
    let mut click = vec![0.0; 6 * RATE_HZ as usize];
    click[24_000] = 0.9;
    let bench = Bench::shed().wav("click-on.wav", &click, RATE_HZ);
    let ran = bench.run(["pair", "shed/01-off.wav", "click-on.wav"]);
    ran.exit(1).stderr("").no_files();
    assert!(
        ran.stdout.contains("click-on.wav: it is silence but for moments, with no noise to measure"),
        "{ran:#?}"
    );
}

#[test]
fn a_clipped_recording_makes_the_comparison_doubtful() {
    let bench = Bench::shed();
    let clipped: Vec<f32> = samples(&on(9).trap(Trap::Clip { limit: 0.02 }));
    let bench = bench.wav("loud-on.wav", &clipped, RATE_HZ);
    let ran = bench.run(["pair", "shed/01-off.wav", "loud-on.wav", "--json"]);
    ran.exit(0).stderr("").no_files();
    let contrast = &ran.json()["contrasts"][0];
    assert_eq!(contrast["trust"], "doubtful");
    assert!(codes(contrast).contains(&"clipped"), "{contrast}");
}

/// By construction: two whole recordings repeat each other, and the clipped one beside them is not needed.
#[test]
fn a_clipped_recording_beside_two_whole_ones_is_set_aside() {
    let clipped: Vec<f32> = samples(&on(9).trap(Trap::Clip { limit: 0.02 }));
    let bench = Bench::new()
        .scene("hall/1 off.wav", &off(1))
        .scene("hall/2 lamp on.wav", &on(2))
        .scene("hall/3 off.wav", &off(3))
        .scene("hall/4 lamp on.wav", &on(4))
        .wav("hall/5 lamp on.wav", &clipped, RATE_HZ);
    bench.run(["session", "hall"]).exit(1);
    let contrast = &bench.json("reports/hall/report.json")["contrasts"][0];
    assert_eq!(contrast["trust"], "sound", "{contrast}");
    assert!(codes(contrast).contains(&"set_aside") && !codes(contrast).contains(&"clipped"), "{contrast}");
    assert!((contrast["excess_db"].as_f64().unwrap() - LAMP_DB).abs() < 0.6, "{contrast}");
}

#[test]
fn different_sample_rates_are_compared_with_a_warning() {
    let bench = Bench::shed();
    // Each sample held four times: what it adds lies beyond 4 kHz and is outside the receiver's passband.
    let fast: Vec<f32> = samples(&on(9)).iter().flat_map(|&x| [x; 24]).collect();
    let bench = bench.wav("fast-on.wav", &fast, 24 * RATE_HZ);
    let ran = bench.run(["pair", "shed/01-off.wav", "fast-on.wav", "--json"]);
    ran.exit(0).stderr("").no_files();
    let report = ran.json();
    assert_eq!(report["recordings"][1]["sample_rate_hz"], 192_000);
    let contrast = &report["contrasts"][0];
    assert!(codes(contrast).contains(&"settings_differ"), "{contrast}");
    // Holding weakens the upper end by up to 1.7 dB (sinc).
    assert!((contrast["excess_db"].as_f64().unwrap() - LAMP_DB).abs() < 2.0, "{contrast}");
}

#[test]
fn a_folder_without_anything_usable_is_refused() {
    let bench = Bench::new().file("notes/notes.txt", b"").file("junk/01-off.wav", b"").file("junk/02-on.wav", b"x");
    bench.run(["session", "gone"]).exit(2).stdout("").no_files().stderr(
        "noisetally: gone: the folder can't be read. Nothing was done.\n  try: name the folder that holds the \
         recordings\n  because: No such file or directory (os error 2)\n",
    );
    bench.run(["session", "notes/notes.txt"]).exit(2).stdout("").no_files().stderr(
        "noisetally: notes/notes.txt: is a file, and a folder is wanted. Nothing was done.\n  try: the folder it lies \
         in; for two files there is `noisetally pair OFF ON`\n  because: Not a directory (os error 20)\n",
    );
    for command in ["session", "check", "draft"] {
        bench.run([command, "notes"]).exit(2).stdout("").no_files().stderr(
            "noisetally: notes: no audio file lies in this folder.\n  try: name the folder that holds the recordings \
             (WAV, FLAC, MP3, Ogg …)\n",
        );
    }
    bench.run(["session", "junk"]).exit(2).stdout("").no_files().stderr(
        "noisetally: no recording could be used. Nothing was written.\n  01-off.wav: is empty (0 bytes); try: copy it \
         again from the recorder\n  02-on.wav: is no audio this tool knows (no known header in it); try: export the \
         recording as WAV or FLAC\n",
    );
}

#[test]
fn sixty_four_recordings_are_one_session() {
    let mut bench = Bench::new();
    for n in 0..32u64 {
        bench = bench.wav(&format!("many/{:02}-off.wav", 2 * n + 1), &off(2 * n).render(3.5).samples, RATE_HZ).wav(
            &format!("many/{:02}-lamp-on.wav", 2 * n + 2),
            &on(2 * n + 1).render(3.5).samples,
            RATE_HZ,
        );
    }
    let ran = bench.run(["session", "many"]);
    ran.exit(0)
        .stderr("64 recordings and 1 comparison in reports/many: read reports/many/report.md\n")
        .files(&[vec!["+ reports/".to_owned()], new_report("reports/many")].concat());
    let report = bench.json("reports/many/report.json");
    let lamp = &report["contrasts"][0];
    assert_eq!((lamp["on"].as_array().unwrap().len(), lamp["off"].as_array().unwrap().len()), (32, 32));
    assert!((lamp["excess_db"].as_f64().unwrap() - LAMP_DB).abs() < 0.2, "{lamp}");
}

/// A band some 4 dB above the receiver's own noise, then one that hardly stands above it.
///
/// Source: powers as made. Receiver 1, band 10^(B/10), the lamp ten times both together: corrected for the receiver
/// the excess is (10·(1 + b) − 1)/b. Tolerance: 6 s of noise in each recording (radiometer equation: some 0.05 dB a
/// level, which the correction and the robust level multiply) and room for the bands that are left out.
#[test]
fn a_dummy_load_recording_corrects_the_excess_or_warns() {
    let receiver = |seed| Scene::new(Receiver::ssb(RATE_HZ)).seed(seed).receiver_noise(Dbfs(-50.0));
    let shed = |band: f64| {
        let off = |seed| receiver(seed).band_noise(Dbfs(-50.0 + band));
        let on = |seed| off(seed).device(Hash::flat(), Db(LAMP_DB));
        let bench = Bench::new().scene("shed/01-off.wav", &off(1)).scene("shed/02-lamp-on.wav", &on(2));
        let bench = bench.scene("shed/03-dummy-load.wav", &receiver(3));
        bench.run(["session", "shed"]).exit(0);
        (bench.json("reports/shed/report.json")["contrasts"][0].clone(), bench.read("reports/shed/details.md"))
    };
    let (near, told) = shed(2.0);
    let b = 10f64.powf(0.2);
    let (margin, corrected) = (10.0 * (1.0 + b).log10(), 10.0 * ((10.0 * (1.0 + b) - 1.0) / b).log10());
    assert!((near["receiver_margin_db"].as_f64().unwrap() - margin).abs() < 0.5, "{near}");
    assert!((near["excess_corrected_db"].as_f64().unwrap() - corrected).abs() < 0.8, "{near}");
    assert_eq!(near["trust"], "unrepeated", "{near}");
    assert!(told.contains("above the receiver's own noise: corrected for it the excess is"), "{told}");
    let (deaf, _) = shed(-6.0);
    assert_eq!(deaf["trust"], "doubtful", "{deaf}");
    assert!(deaf["warnings"].as_array().unwrap().iter().any(|w| w["code"] == "receiver_noise"), "{deaf}");
}
