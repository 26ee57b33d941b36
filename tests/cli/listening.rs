//! What the noise means to a listener, from a manifest with everything in it: the truth of every scene is known,
//! the published noise is that of ITU-R P.372.

use serde_json::Value;

use crate::bench::{Bench, off, on};
use noisetally::demo::synth::{Carrier, Carriers};
use noisetally::units::{Db, Dbfs};

const HEAD: &str = r#"
antenna_type = "short vertical"
antenna_loss_db = 1.0
dbm_tolerance_db = 2.0

[target]
excess_db = 3.0
no_carrier = true

[[supply]]
device = "Lamp"
remedy = "bench supply"
label_volts = 12.0
label_amps = 2.0
label_current = "DC"
label_polarity = "centre positive"
supply_volts = 13.8
supply_amps = 20
supply_current = "DC"
supply_polarity = "centre negative"
"#;

/// One recording's labels; dial, mode and gain the same for all.
fn entry(file: &str, more: &str) -> String {
    format!("\n[[recording]]\nfile = \"{file}\"\ndial_khz = 7100.0\nmode = \"USB\"\ngain = \"AGC off\"\n{more}\n")
}

/// A lamp of 10 dB of which a bench supply leaves 1 dB, and a clock with one carrier; −90 dBm with everything off.
fn manifest(dbm: &str) -> String {
    [
        HEAD.to_owned(),
        entry("01-off.wav", &format!("state = \"off\"\n{dbm}")),
        entry("02-lamp.wav", "state = \"on\"\ndevice = \"lamp\""),
        entry("03-off.wav", "state = \"off\""),
        entry("04-lamp-supply.wav", "state = \"on\"\ndevice = \"lamp\"\nremedy = \"bench supply\""),
        entry("05-clock.wav", "state = \"on\"\ndevice = \"clock\""),
        entry("06-dummy.wav", "state = \"terminated\""),
    ]
    .concat()
}

fn evening(manifest: &str) -> Bench {
    let left = off(4).device(noisetally::demo::synth::Hash::flat(), Db(1.0));
    let clock = off(5).carriers(Carriers::new([Carrier::at(1200.0)]), Dbfs(-50.0));
    let receiver =
        noisetally::demo::synth::Scene::new(noisetally::demo::synth::Receiver::ssb(crate::bench::RATE_HZ))
            .seed(6)
            .receiver_noise(Dbfs(-62.0))
            .trap(noisetally::demo::synth::Trap::SoundCard(Dbfs(-82.0)));
    Bench::new()
        .scene("shed/01-off.wav", &off(1))
        .scene("shed/02-lamp.wav", &on(2))
        .scene("shed/03-off.wav", &off(3))
        .scene("shed/04-lamp-supply.wav", &left)
        .scene("shed/05-clock.wav", &clock)
        .scene("shed/06-dummy.wav", &receiver)
        .file("shed/session.toml", manifest.as_bytes())
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(value: &Value, truth: f64, within: f64) {
    assert!((number(value) - truth).abs() <= within, "{value}, truth {truth} within {within}");
}

#[test]
fn everything_is_told() {
    let bench = evening(&manifest("dbm = -90.0"));
    let ran = bench.run(["session", "shed", "--json", "-q"]);
    ran.exit(0);
    let report = ran.json();
    let listening = &report["listening"];
    // 10 dB louder: 100 W heard as 10 W. Tolerance: 0.4 dB, what six seconds give.
    let lamp = &listening["costs"][0];
    near(&lamp["snr_loss_2500_db"], 10.0, 0.4);
    near(&lamp["heard_100_w_as_w"], 10.0, 1.0);
    near(&lamp["snr_loss_500_best_db"], 10.0, 1.0);
    near(&lamp["snr_loss_500_worst_db"], 10.0, 1.0);
    assert_eq!(listening["costs"][2]["heard_100_w_as_w"], Value::Null, "a carrier costs the passband nothing");

    // Source: ITU-R P.372, Fa = P − 10·lg b − 10·lg(k·T₀): −90 dBm of which the passband of this receiver (2.4 kHz
    // and its skirts) holds all; 0.09 dB are the receiver's own (it lies 17 dB below); 1 dB of loss. Residential
    // places have 72.5 − 27.7·lg 7.1 = 48.92 dB. Tolerance: the width of the skirts.
    let station = &listening["station_noise"][0];
    let figure = -90.0 - 10.0 * 2400f64.log10() + 174.0 - 0.09 + 1.0;
    near(&station["off"]["noise_figure_db"], figure, 0.4);
    near(&station["off"]["over_median_db"], figure - 48.92, 0.4);
    assert_eq!(
        (&station["off"]["nearest"], &station["off"]["standing"]),
        (&"residential".into(), &"within".into())
    );
    assert_eq!(station["receiver_noise_removed"], true);
    let off_db = number(&station["off"]["noise_figure_db"]);
    near(&station["on"][0]["noise_figure_db"], off_db + 10.08, 0.5);
    assert!(station["off"]["noise_figure_ci_db"][0].as_f64().unwrap() <= off_db - 2.0);

    // The level that speech needs: the noise in 2500 Hz and 10 dB; R.1 has S9 at −73 dBm.
    let needed = &lamp["signal_needed"];
    near(&needed["speech_off_dbm"], -90.0 + 10.0 * (2500.0f64 / 2400.0).log10() + 10.0, 0.4);
    near(&needed["morse_off_dbm"], -90.0 + 10.0 * (500.0f64 / 2400.0).log10() + 3.0, 0.4);
    assert_eq!((&needed["speech_off_s"], &needed["speech_on_s"]), (&"S8".into(), &"S9+3 dB".into()));

    let target = &listening["target"];
    assert_eq!(target["outcome"], "not met");
    let outcomes: Vec<&str> =
        target["devices"].as_array().unwrap().iter().map(|d| d["outcome"].as_str().unwrap()).collect();
    assert_eq!(outcomes, ["met", "not met"], "{target}");
    assert_eq!(target["devices"][0]["remedy"], "bench supply");
    // 5 dB below the band noise, and so more than the 1 dB that is left of the lamp.
    assert_eq!(
        (&target["largest_left"]["kind"], &target["largest_left"]["device"]),
        (&"carriers".into(), &"clock".into())
    );

    let supply = &listening["supplies"][0];
    assert_eq!((&supply["verdict"], &supply["device"]), (&"stop".into(), &"lamp".into()));
    let found = supply["findings"].to_string();
    for said in ["polarity is reversed", "12 V and the supply gives 13.8 V", "no fuse in the lead", "not measured"]
    {
        assert!(found.contains(said), "{said}: {found}");
    }
}

#[test]
fn the_report_says_it_in_words() {
    let bench = evening(&manifest("dbm = -90.0"));
    let ran = bench.run(["session", "shed", "-q"]);
    ran.exit(0);
    for said in ["Quiet enough? Not yet.", "median of residential places in ITU-R P.372", "do not plug it in"] {
        assert!(ran.stdout.contains(said), "{said}: {}", ran.stdout);
    }
    let text = bench.read("reports/shed/report.md") + &bench.read("reports/shed/details.md");
    for said in [
        "## What it costs a listener",
        "## Against published noise",
        "## Quiet enough?",
        "; a 100 W station is heard as one of ",
        "**Do not connect:**",
        "## Before you change anything",
        "(man-made-noise.png)",
    ] {
        assert!(text.contains(said), "{said}\n{text}");
    }
    let post = bench.read("reports/shed/post.txt");
    for said in ["100 W is heard as: lamp", "Quiet enough? not met", "All off: Fa", "Supply does NOT fit: lamp"] {
        assert!(post.contains(said), "{said}\n{post}");
    }
    let csv = bench.read("reports/shed/contrasts.csv");
    let mut rows = csv.lines();
    assert!(rows.next().unwrap().ends_with(",noise_figure_tolerance_db,target"));
    assert!(rows.next().unwrap().ends_with(",2,"), "the first step is not judged: {csv}");
    assert!(rows.next().unwrap().ends_with(",2,met"), "{csv}");
    let checked = bench.run(["check", "shed", "-q"]);
    checked.exit(0).no_files();
    assert!(
        checked.stdout.contains("Before you try it:") && checked.stdout.contains("does NOT fit"),
        "{checked:#?}"
    );
}

/// A meter is too rough for published noise: that is refused with the reason, and S values carry their caution.
#[test]
fn a_meter_is_no_calibration() {
    let bench = evening(&manifest("meter = \"S6\""));
    let report = bench.run(["check", "shed", "--json"]).json();
    let listening = &report["listening"];
    assert_eq!(listening["station_noise"].as_array().unwrap().len(), 0);
    assert!(listening["not_told"][0].as_str().unwrap().contains("too rough"), "{listening}");
    let needed = &listening["costs"][0]["signal_needed"];
    assert_eq!((&needed["anchor"], number(&needed["tolerance_db"])), (&"meter".into(), 10.0));
}

#[test]
fn nonsense_in_target_and_supply_is_refused_at_its_line() {
    for (text, said) in [
        ("[target]\n", "the target names no condition"),
        ("[target]\nexcess_db = -3\n", "must lie between 0.1 and 60"),
        ("[target]\nno_carrier = \"yes\"\n", "write `no_carrier = true`, without quotes"),
        ("[target]\nno_carrier = true\ncarrier_cnr_db_hz = 20\n", "leave one of the two"),
        ("[target]\nquiet = true\n", "is not a field of the target"),
        ("target = 1.0\n", "write `[target]`"),
        ("antenna_type = \"long wire\"\n", "short vertical, half-wave dipole or other"),
        ("dbm_tolerance_db = 0\n", "must lie between 0.1 and 30"),
        ("[[supply]]\nlabel_volts = 12\n", "this supply names no device"),
        ("[[supply]]\ndevice = \"lamp\"\nlabel_polarity = \"plus inside\"\n", "centre positive or centre negative"),
        ("[supply]\ndevice = \"lamp\"\n", "write `[[supply]]`"),
        ("[[supply]]\ndevice = \"lamp\"\nsupply_volts = \"12\"\n", "write it without quotes"),
    ] {
        let bench = Bench::shed().file("shed/session.toml", text.as_bytes());
        let ran = bench.run(["check", "shed"]);
        ran.exit(2).stdout("").no_files();
        assert!(ran.stderr.contains(said) && ran.stderr.contains("line "), "{text}: {}", ran.stderr);
    }
}
