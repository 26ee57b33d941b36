use super::*;
use crate::capture::sheet::cautions;
use crate::capture::{Paper, sheet};
use crate::contrast::{ContrastSettings, contrast};
use crate::demo::synth::{Receiver, Scene};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::units::Dbfs;

fn words(devices: &[(&str, &[&str])]) -> PlanWords {
    let device = |(name, remedies): &(&str, &[&str])| DeviceWords {
        name: (*name).to_owned(),
        remedies: remedies.iter().map(|r| (*r).to_owned()).collect(),
    };
    PlanWords {
        title: None,
        station: None,
        mains_hz: None,
        dial_khz: Some(7100.0),
        mode: Some(Mode::Usb),
        bandwidth_hz: Some(2400.0),
        antenna: None,
        gain: None,
        minutes: None,
        seconds: None,
        rounds: None,
        no_dummy_load: false,
        receiver_check_db: None,
        circuits: Vec::new(),
        walk: None,
        devices: devices.iter().map(device).collect(),
    }
}

#[test]
fn takes_go_off_on_in_turn_with_off_and_a_dummy_load_at_the_end() {
    let plan = Plan::of(words(&[("aquarium lamp", &["three ferrites"])])).unwrap();
    let names: Vec<&str> = plan.takes.iter().map(|take| take.file.as_str()).collect();
    assert_eq!(
        names,
        [
            "01-off-7100kHz-USB-2400Hz.wav",
            "02-aquarium-lamp-on-7100kHz-USB-2400Hz.wav",
            "03-off-7100kHz-USB-2400Hz.wav",
            "04-aquarium-lamp-on-7100kHz-USB-2400Hz.wav",
            "05-off-7100kHz-USB-2400Hz.wav",
            "06-aquarium-lamp-on-three-ferrites-7100kHz-USB-2400Hz.wav",
            "07-off-7100kHz-USB-2400Hz.wav",
            "08-aquarium-lamp-on-three-ferrites-7100kHz-USB-2400Hz.wav",
            "09-off-7100kHz-USB-2400Hz.wav",
            "10-dummy-load-7100kHz-USB-2400Hz.wav",
        ]
    );
    assert_eq!((plan.seconds, plan.rounds, plan.off_takes()), (30.0, 2, 5));
}

/// `draft` labels a folder of planned names without a question: every label is there, and none other.
#[test]
fn planned_names_are_drafted_as_planned() {
    for devices in [
        &[("lamp", &["3 ferrites", "linear supply", "moved lead"][..])][..],
        &[("drill charger", &["clip-on ferrite"]), ("LED strip", &["battery"]), ("router", &[])],
        &[("usb charger", &["2 turns through a toroid", "shielded case"])],
        &[("лампа", &["феррит"]), ("電灯", &[])],
        &[("TV's supply", &["plug-in mains filter"])],
    ] {
        for tuned in [true, false] {
            let mut words = words(devices);
            if !tuned {
                (words.dial_khz, words.mode, words.bandwidth_hz) = (None, None, None);
            }
            let plan = Plan::of(words).unwrap_or_else(|e| panic!("{devices:?}: {e}"));
            let dir = tempfile::tempdir().unwrap();
            plan.takes.iter().for_each(|take| std::fs::write(dir.path().join(&take.file), "").unwrap());
            let drafted = crate::labels::draft(dir.path(), &|_| None).unwrap().text;
            assert!(!drafted.contains("not clear") && !drafted.contains("does not say"), "{drafted}");
            let drafted: toml::Table = drafted.parse().unwrap();
            for (take, entry) in plan.takes.iter().zip(drafted["recording"].as_array().unwrap()) {
                let told = |field: &str| entry.get(field).and_then(|v| v.as_str()).map(str::to_owned);
                let plain = |words: &Option<String>| words.as_deref().map(|w| hyphened(w).replace('-', " "));
                assert_eq!(told("file").as_deref(), Some(take.file.as_str()));
                assert_eq!(told("state").as_deref(), Some(take.state.word()));
                assert_eq!(told("device"), plain(&take.device), "{}", take.file);
                assert_eq!(told("remedy"), plain(&take.remedy), "{}", take.file);
                assert_eq!(entry.get("dial_khz").is_some(), tuned);
                assert_eq!(entry.get("bandwidth_hz").is_some(), tuned);
            }
        }
    }
}

#[test]
fn words_that_names_would_misread_are_refused() {
    for devices in [
        &[("lamp on a stick", &[][..])][..],
        &[("lamp", &["switched off at the wall"])],
        &[("lamp 7100 kHz", &[])],
        &[("dummy load", &[])],
        &[("lamp", &["none"])],
        &[("-", &[])],
    ] {
        assert!(matches!(Plan::of(words(devices)), Err(PlanError::Unreadable { .. })), "{devices:?}");
    }
    assert_eq!(Plan::of(words(&[])), Err(PlanError::NoDevice));
    assert_eq!(Plan::of(words(&[("Lamp", &[]), ("lamp", &[])])), Err(PlanError::Twice("lamp".into())));
}

#[test]
fn the_time_at_hand_is_used_and_never_exceeded() {
    for minutes in [5.0, 6.0, 8.0, 10.0, 15.0, 25.0, 60.0] {
        let asked = PlanWords { minutes: Some(minutes), no_dummy_load: true, ..words(&[("lamp", &[])]) };
        let plan = Plan::of(asked).unwrap();
        assert!(plan.minutes() <= minutes, "{minutes}: {}", plan.minutes());
        assert!((20.0..=60.0).contains(&plan.seconds) && (1..=4).contains(&plan.rounds), "{minutes}: {plan:?}");
    }
    let tight = PlanWords { minutes: Some(5.0), ..words(&[("lamp", &["ferrite", "battery"])]) };
    // Eight takes of 35 s and three fittings of 180 s: 820 s.
    assert_eq!(Plan::of(tight), Err(PlanError::NoTime { takes: 8, needed: 14.0, given: 5.0 }));
}

/// The limit foretold is that which the comparison itself gives for Gaussian noise of that many takes, that long,
/// over as much bandwidth. Tolerance: a quarter, as the comparison estimates the scatter from the very recordings.
#[test]
fn the_limit_foretold_is_the_one_reached() {
    let measured = |seed: u64| {
        let scene = Scene::new(Receiver::ssb(8000)).seed(seed).band_noise(Dbfs(-40.0));
        Measurement::of_samples(8000, &scene.render(20.0).samples, &MeasureSettings::default())
    };
    for (off, on) in [(1usize, 1usize), (3, 2), (5, 2)] {
        let takes: Vec<Measurement> = (0..(off + on) as u64).map(|k| measured(100 + k)).collect();
        let all: Vec<&Measurement> = takes.iter().collect();
        let outcome = contrast(&all[..off], &all[off..], &ContrastSettings::default());
        let reached = outcome.figures.as_ref().unwrap().excess.limit_db;
        let free_hz = takes[0].passband.unwrap().width_hz();
        let foretold = planned_limit_db(free_hz, 20.0, off, on, &TakeScatter::default());
        assert!((0.75..1.34).contains(&(reached / foretold)), "{off} off, {on} on: {reached} and {foretold}");
    }
}

/// Four times the time or the bandwidth halve the limit (radiometer equation: R. H. Dicke, 1946, from memory), up
/// to the part that the degrees of freedom have in it; a band that wanders is not helped by longer takes.
#[test]
fn limits_follow_the_radiometer_equation() {
    let limit = |hz, seconds, sd_db| {
        planned_limit_db(hz, seconds, 3, 2, &TakeScatter { sd_db, dof: 3.0, ..TakeScatter::default() })
    };
    let ratio = limit(50.0, 20.0, 0.0) / limit(50.0, 80.0, 0.0);
    assert!((1.98..2.03).contains(&ratio), "{ratio}");
    let ratio = limit(25.0, 20.0, 0.0) / limit(100.0, 20.0, 0.0);
    assert!((1.99..2.01).contains(&ratio), "{ratio}");
    assert!(limit(2000.0, 80.0, 0.5) > 0.95 * limit(2000.0, 20.0, 0.5));
}

#[test]
fn the_sheet_fits_its_paper_and_says_what_the_plan_holds() {
    let plan = Plan::of(words(&[("aquarium lamp", &["three ferrites", "linear supply"])])).unwrap();
    let plain = sheet(&plan, Paper::Plain);
    assert!(plain.lines().all(|line| line.chars().count() <= 80), "{plain}");
    let markdown = sheet(&plan, Paper::Markdown);
    for take in &plan.takes {
        assert!(plain.contains(&take.file) && markdown.contains(&format!("`{}`", take.file)), "{}", take.file);
    }
    assert!(markdown.contains("insulation is whole") && markdown.contains("polarity"), "{markdown}");
    assert!(!markdown.contains("battery pack"), "{markdown}");
}

#[test]
fn cautions_fit_what_is_planned() {
    let told = |remedy: &str| cautions(&words(&[("lamp", &[remedy])])).join("\n");
    assert!(told("battery").contains("Never open a battery pack"));
    assert!(told("Linear supply").contains("polarity") && told("linear supply").contains("fuse"));
    assert!(told("3 ferrites").contains("insulation is whole"));
    assert!(told("mains filter").contains("approved"));
    assert!(told("foil").contains("vent"));
    assert!(told("anything").contains("Mains can kill"));
}

/// A walk over circuits: each name read back gives its labels, everything is off at both ends, and each round goes
/// the other way.
#[test]
fn a_walk_goes_over_the_circuits_both_ways() {
    for way in [Way::Alone, Way::AllBut] {
        let circuits = ["kitchen ring", "upstairs lights", "freezer", "cellar", "garage"].map(str::to_owned);
        let words = PlanWords { circuits: circuits.to_vec(), walk: Some(way), ..words(&[]) };
        let plan = Plan::of(words).unwrap();
        let of: Vec<&str> = plan
            .takes
            .iter()
            .filter_map(|take| take.device.as_deref())
            .filter(|device| *device != "all")
            .map(|device| device.trim_start_matches("all but "))
            .collect();
        let there = ["kitchen ring", "upstairs lights", "freezer", "cellar", "garage"];
        assert_eq!(of, [there.to_vec(), there.iter().rev().copied().collect()].concat());
        let states: Vec<State> = plan.takes.iter().map(|take| take.state).collect();
        assert_eq!((states[0], states[states.len() - 2]), (State::Off, State::Off));
        assert_eq!(*states.last().unwrap(), State::Terminated);
        assert!(plan.takes.iter().filter(|take| take.device.as_deref() == Some("all")).count() >= 2);
        let sheet = sheet(&plan, Paper::Plain);
        for word in ["freezer", "dialysis", "alarm", "router", "distribution board"] {
            assert!(sheet.contains(word), "{way:?}: {word}");
        }
        assert_eq!(
            sheet.contains("where they lift it by 10 dB") || sheet.contains("lift it by 10"),
            way == Way::AllBut
        );
        assert!(sheet.lines().all(|line| line.chars().count() <= 80));
    }
    let both = PlanWords { circuits: vec!["hall".into(), "attic".into()], ..words(&[("lamp", &[])]) };
    assert!(matches!(Plan::of(both), Err(PlanError::NoWalk(_))));
    let alone = PlanWords { walk: Some(Way::Alone), ..words(&[("lamp", &[])]) };
    assert!(matches!(Plan::of(alone), Err(PlanError::NoWalk(_))));
}
