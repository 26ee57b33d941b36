//! The two sheets: what is filled in from where, and what is not.

use std::path::Path;

use super::*;
use crate::contrast::Part;
use crate::findings::listening::result::AnchorKind;
use crate::night::result::{EpisodeEdge, LogMatch};
use crate::warning::{Code, Trust, Warning};

fn stored(name: &str) -> Stored {
    Stored::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(name)).unwrap()
}

fn case() -> Case {
    let words = |word: &str| Some(word.to_owned());
    Case {
        name: words("Quillon Marl"),
        contact: words("quillon at the mill"),
        address: words("Mill lane, behind the weir"),
        since: words("since May 2025"),
        times: words("from dusk to midnight"),
        direction: words("strongest across the weir"),
        own_house_ruled_out: words("main switch off, receiver on a battery: it stayed"),
        services_hit: words("long wave"),
        note: words("come after seven"),
    }
}

/// A sheet by its heading, one line a paragraph.
fn facts(handout: &Handout) -> String {
    let [facts, _] = handout.sheets();
    text::markdown(&facts)
}

fn neighbour(handout: &Handout) -> String {
    let [_, neighbour] = handout.sheets();
    text::markdown(&neighbour)
}

fn fact<'a>(text: &'a str, head: &str) -> &'a str {
    text.lines().find(|line| line.contains(head)).unwrap_or_else(|| panic!("{head}: {text}"))
}

/// The heads that seven forms and guides of regulators and societies ask for (check-values, "Devices as published":
/// what a complaint must hold).
const ASKED: [&str; 14] = [
    "Who reports",
    "Where",
    "Since when",
    "Frequencies and bandwidth",
    "Continuous or not; days, hours, lengths",
    "What it sounds like",
    "Level at the receiver",
    "Antenna and receiver",
    "Direction",
    "Own house ruled out",
    "Steps tried, and what they bought",
    "Other services hit",
    "Sound",
    "Spectrum and waterfall",
];

#[test]
fn every_fact_is_asked_and_filled_in_where_it_is_known() {
    for report in ["pond-evening", "loft-evening", "shed-night"] {
        let text = facts(&Handout::of(stored(report), None, Case::default()).unwrap());
        for (at, head) in ASKED.iter().enumerate() {
            assert!(
                text.contains(&format!("**{}. {head}: **", at + 1))
                    || text.contains(&format!("**{}. {head}:**", at + 1)),
                "{head}: {text}"
            );
        }
    }
    let handout = Handout::of(stored("pond-evening"), None, case()).unwrap();
    let text = facts(&handout);
    for (head, told) in [
        ("Who reports", "Quillon Marl, quillon at the mill."),
        ("Since when", "May 2025."),
        ("Frequencies", "7100.3 to 7102.7 kHz (dial 7100 kHz, USB)."),
        ("Continuous", "Recorded on 2026-03-14, 19:02 to 19:47 UTC: 40.0 s with it on. From dusk to midnight."),
        ("What it sounds like", "A rough buzz, 100 pulses a second (twice the 50 Hz mains)."),
        ("Level", "the noise rises by 13.9 dB (13.6 to 14.2)"),
        ("Antenna", "14 m wire to the plum tree"),
        ("Steps", "Ferrite on mains lead: took off 3.4 dB (3.1 to 3.7)"),
        ("Steps", "second ferrite on battery lead: nothing that shows"),
        ("Own house", "Main switch off, receiver on a battery: it stayed."),
        ("Note", "Come after seven."),
    ] {
        assert!(fact(&text, head).contains(told), "{head}: {}", fact(&text, head));
    }
    assert!(handout.left_open().is_empty());
    assert_eq!(text.matches("![").count(), 2, "spectrum and spectrogram");
}

/// Source: 0 dBm in 50 Ω is 106.99 dBµV (derived: √(1 mW · 50 Ω) = 223.6 mV); IARU Region 1 Technical Recommendation
/// R.1: S9 is −73 dBm below 30 MHz and −93 dBm above, 6 dB a unit. Density −139 dBm in 1 Hz over 2500 Hz is −105.0
/// dBm (10·lg 2500 = 33.98), S4 below 30 MHz (−103 dBm is S4, −109 dBm S3) and S7 above.
#[test]
fn a_level_in_dbm_is_told_with_how_it_was_got() {
    let level = |dial_khz: f64, anchor: AnchorKind| {
        let mut stored = stored("pond-evening");
        let report = &mut stored.report;
        report.settings[0].dial_khz = Some(dial_khz);
        for c in &mut report.contrasts {
            c.passband_hz = Some([250.0, 2750.0]);
            (c.excess_db, c.excess_ci_db) = (Some(10.0), Some([9.7, 10.3]));
        }
        for r in &mut report.recordings {
            r.floor_db_per_hz = Some(-79.0);
            r.level_dbm = r.level_db.map(|level| level - 60.0);
        }
        for cost in &mut report.listening.costs {
            let signal = cost.signal_needed.as_mut().unwrap();
            (signal.anchor, signal.tolerance_db) = (anchor, 3.0);
        }
        let text = facts(&Handout::of(stored, Some("drill charger"), Case::default()).unwrap());
        fact(&text, "Level").to_owned()
    };
    let by_power = level(7100.0, AnchorKind::Dbm);
    assert!(by_power.contains("Noise in 2500 Hz: −105.0 dBm (2.0 dBµV in 50 Ω, S4) with it off"), "{by_power}");
    assert!(by_power.contains("−95.0 dBm (12.0 dBµV in 50 Ω, S5) with it on"), "{by_power}");
    assert!(by_power.contains("a known power at the receiver's input, good to ±3.0 dB"), "{by_power}");
    let by_meter = level(50_100.0, AnchorKind::Meter);
    assert!(by_meter.contains(", S7) with it off"), "{by_meter}");
    assert!(by_meter.contains("the receiver's own S-meter, rough"), "{by_meter}");
    let mut bare = stored("pond-evening");
    bare.report.listening.costs.clear();
    let text = facts(&Handout::of(bare, None, Case::default()).unwrap());
    let told = fact(&text, "Level");
    assert!(
        told.contains("In dBm, and how that was got:") && told.contains("\\_\\_\\_") || told.contains("___"),
        "{told}"
    );
}

/// Nothing of a case is in what goes beside the clips or to programs, and none is made up.
#[test]
fn what_is_personal_comes_from_the_case_alone() {
    let handout = Handout::of(stored("pond-evening"), None, case()).unwrap();
    for (text, has) in
        [(handout.html(), true), (handout.txt(), true), (handout.json(), false), (clips::words(&[], "x"), false)]
    {
        for word in ["Quillon", "Mill lane", "May 2025", "weir"] {
            assert_eq!(text.contains(word), has, "{word}");
        }
    }
    let none = Handout::of(stored("pond-evening"), None, Case::default()).unwrap();
    assert_eq!(none.left_open().len(), 8);
    let text = facts(&none);
    for head in ["Who reports", "Where", "Since when", "Direction", "Other services hit"] {
        let line = fact(&text, head);
        assert!(line.contains("___") || line.contains("\\_"), "{line}");
    }
}

/// Words of the trade, none of which a neighbour has to know; "radio" they do.
const TECHNICAL: [&str; 24] = [
    "db",
    "hz",
    "khz",
    "mhz",
    "dbm",
    "ferrite",
    "choke",
    "carrier",
    "spectrum",
    "passband",
    "receiver",
    "antenna",
    "hash",
    "qrm",
    "emc",
    "interference",
    "harmonic",
    "common-mode",
    "switch-mode",
    "signal",
    "frequency",
    "amplitude",
    "excess",
    "noisetally",
];

#[test]
fn the_neighbours_sheet_has_no_technical_word_and_half_a_page() {
    for report in ["pond-evening", "loft-evening", "shed-night"] {
        let text = neighbour(&Handout::of(stored(report), None, Case::default()).unwrap());
        let words: Vec<String> = text
            .split(|c: char| !(c.is_alphanumeric() || c == '-'))
            .map(str::to_lowercase)
            .filter(|word| !word.is_empty())
            .collect();
        let found: Vec<&String> = words.iter().filter(|word| TECHNICAL.contains(&word.as_str())).collect();
        assert!(found.is_empty(), "{report}: {found:?}");
        // A page typed by hand holds some 500 words (common practice).
        assert!((100..=280).contains(&words.len()), "{report}: {} words", words.len());
        for blame in ["fault", "illegal", "must", "complain", "guilty"] {
            assert!(!words.iter().any(|word| word == blame), "{report}: {blame}");
        }
    }
    let known = neighbour(&Handout::of(stored("pond-evening"), None, case()).unwrap());
    assert!(known.contains("Since May 2025 a noise") && known.contains("while the drill charger is on"), "{known}");
    assert!(!known.contains("Switch things off"), "it is known already: {known}");
    let night = neighbour(&Handout::of(stored("shed-night"), None, Case::default()).unwrap());
    assert!(night.contains("I heard it 6 times") && night.contains("Switch things off"), "{night}");
}

/// The shed's night with a log that explains all but some of its six episodes.
fn logged(unexplained: &[usize], chance: f64) -> Stored {
    let mut stored = stored("shed-night");
    let matches = (1..=6).filter(|number| !unexplained.contains(number)).map(|episode| LogMatch {
        episode,
        edge: EpisodeEdge::Start,
        device: if episode < 3 { "heater" } else { "pump" }.into(),
        line: episode as u64,
        rest_s: 0.0,
    });
    stored.report.night.as_mut().unwrap().switch_log = Some(SwitchLog {
        entries: 12,
        offset_s: Some(0.0),
        rival_offset_s: None,
        chance: Some(chance),
        matches: matches.collect(),
        unexplained: unexplained.to_vec(),
        unheard: Vec::new(),
    });
    stored
}

#[test]
fn what_the_log_explains_is_no_part_of_the_case() {
    let handout = Handout::of(logged(&[6], 0.001), None, Case::default()).unwrap();
    let (text, near) = (facts(&handout), neighbour(&handout));
    assert!(text.contains("Of 6 times this is about 1: from 21:49:47 to 21:52:56."), "{text}");
    assert!(text.contains("explains the other 5 (heater and pump)."), "{text}");
    assert!(text.contains("n4, clicks") && !text.contains("n1, buzz") && !text.contains("n2, hash"), "{text}");
    assert!(!fact(&text, "What it sounds like").to_lowercase().contains("buzz"), "{text}");
    assert!(near.contains("I heard it once") && near.contains("ticking") && !near.contains("buzz"), "{near}");
    assert!(near.contains("What I switched on myself is not counted."), "{near}");
    let own = Handout::of(logged(&[], 0.001), None, Case::default()).unwrap_err().to_string();
    assert!(
        own.contains("the log of what was switched explains all that came and went (heater and pump)"),
        "{own}"
    );
    // What may be chance explains nothing.
    let chance = Handout::of(logged(&[], 0.3), None, Case::default()).unwrap();
    assert!(neighbour(&chance).contains("I heard it 6 times"));
    assert!(!facts(&chance).contains("heater"));
}

#[test]
fn a_time_without_a_zone_is_not_told_as_utc() {
    let mut unzoned = stored("pond-evening");
    for r in &mut unzoned.report.recordings {
        r.started = r.started.take().map(|at| at.trim_end_matches('Z').to_owned());
    }
    let text = facts(&Handout::of(unzoned, None, Case::default()).unwrap());
    let told = fact(&text, "Continuous");
    assert!(told.contains("19:02 to 19:47 (time zone not known): 40.0 s with it on."), "{told}");
}

#[test]
fn a_mixture_sounds_like_what_was_found_in_it() {
    let mut mixed = stored("pond-evening");
    for c in mixed.report.contrasts.iter_mut().filter(|c| c.device == "drill charger") {
        c.character = Character::Mixed;
        c.parts = [Character::Buzz, Character::Carriers].map(|character| Part { character, share: 0.5 }).to_vec();
    }
    let near = neighbour(&Handout::of(mixed, None, Case::default()).unwrap());
    assert!(near.contains("like a rough buzz, like a large fly in a tin, with a steady whistle."), "{near}");
    assert!(!near.contains("ticking") && !near.contains("rush"), "{near}");
}

#[test]
fn doubt_is_told_on_both_sheets() {
    let mut doubtful = stored("pond-evening");
    for c in doubtful.report.contrasts.iter_mut().filter(|c| c.device == "drill charger") {
        c.trust = Trust::Doubtful;
        c.warnings.push(Warning::new(Code::Clipped, "clipped."));
    }
    let handout = Handout::of(doubtful, None, Case::default()).unwrap();
    assert!(facts(&handout).contains("the figures are doubtful because of clipping"), "{}", facts(&handout));
    assert!(neighbour(&handout).contains("I am not sure yet"));
}

#[test]
fn there_must_be_something_to_hand_out() {
    let told = |stored: Stored, device: Option<&str>| {
        Handout::of(stored, device, Case::default()).unwrap_err().to_string()
    };
    let mut quiet = stored("pond-evening");
    quiet.report.contrasts.iter_mut().for_each(|c| c.trust = Trust::Void);
    assert!(told(quiet, None).contains("no device in this report adds noise that shows"));
    let other = told(stored("pond-evening"), Some("kettle"));
    assert!(
        other.contains("no device kettle")
            && other.contains("those that do: drill charger, LED strip and pond pump"),
        "{other}"
    );
    assert!(told(stored("shed-night"), Some("pump")).contains("knows of no device"));
    let mut silent = stored("shed-night");
    silent.report.episodes.clear();
    assert!(told(silent, None).contains("no noise came or went"));
    let pump = Handout::of(stored("pond-evening"), Some("Pond-Pump"), Case::default()).unwrap();
    assert_eq!(pump.about(), "pond pump");
    assert!(facts(&pump).contains("Ticking or crackling, 4.3 a second"), "{}", facts(&pump));
}

/// A picture that leads elsewhere, or is none, is not put into the page.
#[cfg(unix)]
#[test]
fn only_the_reports_own_pictures_are_embedded() {
    let dir = tempfile::tempdir().unwrap();
    let mut here = stored("pond-evening");
    let spectra = here.report.figures.iter().find(|f| f.file.ends_with("spectra.png")).unwrap().file.clone();
    std::fs::copy(here.folder.join(&spectra), dir.path().join("real.png")).unwrap();
    here.folder = dir.path().to_owned();
    let count = |here: &Stored| {
        let again = Stored { folder: here.folder.clone(), name: here.name.clone(), report: here.report.clone() };
        Handout::of(again, None, Case::default()).unwrap().html().matches("<img ").count()
    };
    assert_eq!(count(&here), 0, "none there");
    std::os::unix::fs::symlink("real.png", dir.path().join(&spectra)).unwrap();
    assert_eq!(count(&here), 0, "a link");
    std::fs::remove_file(dir.path().join(&spectra)).unwrap();
    std::fs::write(dir.path().join(&spectra), b"not a picture").unwrap();
    assert_eq!(count(&here), 0, "no PNG");
    std::fs::rename(dir.path().join("real.png"), dir.path().join(&spectra)).unwrap();
    assert_eq!(count(&here), 1);
}
