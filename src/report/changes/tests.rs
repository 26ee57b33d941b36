//! Two evenings with a known change, made from the committed pond evening; what may not be compared.

use std::path::{Path, PathBuf};

use approx::assert_abs_diff_eq;
use pulldown_cmark::{Event, Options, Parser, Tag};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::result::FloorBasis;
use super::*;
use crate::findings::listening::result::AnchorKind;
use crate::warning::{Trust, Warning};

fn pond() -> Report {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/pond-evening");
    Stored::read(&dir).unwrap().report
}

fn stored(name: &str, report: Report) -> Stored {
    Stored { folder: PathBuf::new(), name: name.into(), report }
}

/// The same devices on another day, measured anew: levels of other takes.
fn another(day: &str) -> Report {
    let mut report = pond();
    for r in &mut report.recordings {
        r.started = r.started.take().map(|at| at.replace("2026-03-14", day));
        r.level_db = r.level_db.map(|level| level + 0.37);
    }
    report
}

/// Sets the excess of a device without a remedy.
fn set(report: &mut Report, device: &str, value: f64, half: f64) {
    for c in report.contrasts.iter_mut().filter(|c| c.device == device && c.remedy.is_none()) {
        (c.excess_db, c.excess_ci_db) = (Some(value), Some([value - half, value + half]));
    }
}

fn of(reports: Vec<Report>) -> Changes {
    let names = ["a", "b", "c"];
    Changes::of(reports.into_iter().zip(names).map(|(report, name)| stored(name, report)).collect()).unwrap()
}

fn change<'a>(changes: &'a Changes, device: &str) -> &'a Change {
    changes.changes.iter().find(|c| c.device == device).unwrap()
}

/// Source: the variance of a difference of independent quantities is the sum of theirs (JCGM 100:2008, "Guide to the
/// expression of uncertainty in measurement", 5.1.2): half-widths of 0.3 and 0.4 give 0.5.
#[test]
fn intervals_of_independent_evenings_add_in_quadrature() {
    let (mut then, mut now) = (pond(), another("2026-09-20"));
    set(&mut then, "drill charger", 14.0, 0.3);
    set(&mut now, "drill charger", 4.0, 0.4);
    // Each end with the end it is made of: 0.3 above with 0.4 below makes the lower one.
    for c in now.contrasts.iter_mut().filter(|c| c.device == "pond pump") {
        (c.excess_db, c.excess_ci_db) = (Some(5.0), Some([4.6, 6.2]));
    }
    for c in then.contrasts.iter_mut().filter(|c| c.device == "pond pump") {
        (c.excess_db, c.excess_ci_db) = (Some(5.0), Some([4.5, 5.3]));
    }
    let changes = of(vec![then, now]);
    let charger = change(&changes, "drill charger");
    assert_eq!(charger.shows, Shows::Less);
    assert_abs_diff_eq!(charger.change_db.unwrap(), -10.0, epsilon = 1e-9);
    let [low, high] = charger.change_ci_db.unwrap();
    assert_abs_diff_eq!(low, -10.5, epsilon = 1e-9);
    assert_abs_diff_eq!(high, -9.5, epsilon = 1e-9);
    assert_eq!(charger.days, Some(190.0));
    let pump = change(&changes, "pond pump");
    let [low, high] = pump.change_ci_db.unwrap();
    assert_eq!(pump.shows, Shows::NoChange);
    assert_abs_diff_eq!(low, -(0.4f64.hypot(0.3)), epsilon = 1e-9);
    assert_abs_diff_eq!(high, 1.2f64.hypot(0.5), epsilon = 1e-9);
}

/// Source: the definition of a 95 % interval. Two evenings' figures scatter by 0.15 and 0.2 dB (normal) about a true
/// change of −2 dB, and about none. Tolerance: four standard errors of 600 trials, 3.6 in 100.
#[test]
fn the_interval_holds_the_true_change_in_95_of_100() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut unit = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
    let mut gauss = move || (-2.0 * (1.0 - unit()).ln()).sqrt() * (std::f64::consts::TAU * unit()).cos();
    let (mut then, mut now) = (pond(), another("2026-09-20"));
    // What is not asked for here would only take time.
    let keep = |report: &mut Report| {
        report.contrasts.retain(|c| c.device == "pond pump");
        report.contrasts[0].receiver_margin_db = None;
        report.contrasts[0].bands.clear();
        report.recordings.iter_mut().for_each(|r| r.lines.clear());
    };
    keep(&mut then);
    keep(&mut now);
    let (mut held, mut called) = (0, 0);
    for _ in 0..600 {
        for (truth_db, count) in [(-2.0, &mut held), (0.0, &mut called)] {
            set(&mut then, "pond pump", 6.0 + 0.15 * gauss(), 1.96 * 0.15);
            set(&mut now, "pond pump", 6.0 + truth_db + 0.2 * gauss(), 1.96 * 0.2);
            let changes = of(vec![then.clone(), now.clone()]);
            let found = &changes.changes[0];
            let [low, high] = found.change_ci_db.unwrap();
            *count += usize::from(match truth_db {
                0.0 => found.shows != Shows::NoChange,
                _ => (low..=high).contains(&truth_db),
            });
        }
    }
    assert!((548..=592).contains(&held), "{held} of 600 held");
    assert!((8..=52).contains(&called), "{called} of 600 called where nothing changed");
}

/// By the definition: the device's own power falls by 10 dB while the band rises by 2 dB. A device 13.8 dB over the
/// band has an excess of 10·lg(1 + 10^1.38) = 13.98 dB; then 1.8 dB over it, of 4.00 dB: 9.97 dB less. What the
/// powers of both evenings in dBm tell is the 10 dB.
#[test]
fn the_devices_own_power_is_told_from_the_bands() {
    let (mut then, mut now) = (pond(), another("2026-09-20"));
    for (report, over_db, dbm, at_full_scale_dbm) in
        [(&mut then, 13.8, -139.0, -60.0), (&mut now, 1.8, -137.0, -64.0)]
    {
        set(report, "drill charger", 10.0 * (1.0 + 10f64.powf(over_db / 10.0)).log10(), 0.2);
        for r in &mut report.recordings {
            r.floor_db_per_hz = Some(dbm - at_full_scale_dbm);
            r.level_dbm = r.level_db.map(|level| level + at_full_scale_dbm);
        }
        for cost in &mut report.listening.costs {
            let signal = cost.signal_needed.as_mut().unwrap();
            (signal.anchor, signal.tolerance_db) = (AnchorKind::Dbm, 1.0);
        }
    }
    let changes = of(vec![then.clone(), now.clone()]);
    let charger = change(&changes, "drill charger");
    assert_abs_diff_eq!(charger.change_db.unwrap(), -9.97, epsilon = 0.01);
    assert_abs_diff_eq!(charger.own_change_db.unwrap(), -10.0, epsilon = 0.02);
    let [low, high] = charger.own_change_ci_db.unwrap();
    assert!(low < -11.4 && high > -8.6, "the tolerances are in it: {low} to {high}");
    let floor = &changes.floors[0];
    assert_eq!(floor.basis, Some(FloorBasis::Dbm));
    assert_abs_diff_eq!(floor.change_db.unwrap(), 2.0, epsilon = 1e-9);
    // An S-meter is no measure of a difference.
    now.listening.costs.iter_mut().for_each(|c| c.signal_needed.as_mut().unwrap().anchor = AnchorKind::Meter);
    let mut meter = of(vec![then.clone(), now.clone()]);
    // The pond's dummy load and one gain on both evenings tell it all the same.
    assert_eq!(meter.floors[0].basis, Some(FloorBasis::ReceiverNoise));
    now.settings[0].gain = Some("AGC off, RF gain 40".into());
    let mut unnamed = now.clone();
    unnamed.settings[0].gain = None;
    let why = |changes: &Changes| changes.floors[0].why_not.clone().unwrap();
    let untold = why(&of(vec![then.clone(), unnamed]));
    assert!(untold.contains("only where session.toml gives both the same gain"), "{untold}");
    meter = of(vec![then, now]);
    assert_eq!(meter.floors[0].basis, None);
    assert!(why(&meter).contains("the gain differs: "), "{:?}", meter.floors);
    assert_eq!(change(&meter, "drill charger").own_change_db, None);
    assert!(change(&meter, "drill charger").change_db.is_some(), "an excess does not hang on the gain");
}

/// What is left can't be told from nothing: the fall is at least so much, and no more is claimed.
#[test]
fn a_fall_below_the_floor_is_told_as_at_least() {
    let (then, mut now) = (pond(), another("2026-09-20"));
    set(&mut now, "drill charger", 0.1, 0.4);
    let changes = of(vec![then, now]);
    let charger = change(&changes, "drill charger");
    assert_eq!((charger.own_change_db, charger.own_change_ci_db), (None, None));
    // 0.5 dB is 0.12 of the band's power, 13.9 dB 23.5 of it: 22.8 dB at least, less what the band's figure may be off.
    let most = charger.own_change_at_most_db.unwrap();
    assert!((-23.0..-21.5).contains(&most), "{most}");
    assert!(
        lines(&changes).iter().any(|line| line.contains("Its own power fell by at least 2")),
        "{:#?}",
        lines(&changes)
    );
}

#[test]
fn what_is_doubtful_or_void_on_one_evening_is_so_in_the_change() {
    let doubtful = |trust: Trust| {
        let mut now = another("2026-09-20");
        for c in now.contrasts.iter_mut().filter(|c| c.device == "drill charger") {
            c.trust = trust;
            c.warnings.push(Warning::new(Code::Clipped, "clipped."));
        }
        of(vec![pond(), now])
    };
    let found = doubtful(Trust::Doubtful);
    let charger = change(&found, "drill charger");
    assert_eq!((charger.trust, charger.shows), (Trust::Doubtful, Shows::NoChange));
    assert!(charger.reasons[0].starts_with("report 2 is doubtful because of clipping"), "{:?}", charger.reasons);
    assert!(found.is_whole());
    let found = doubtful(Trust::Void);
    let charger = change(&found, "drill charger");
    assert_eq!(
        (charger.trust, charger.shows, charger.change_db, charger.now_db),
        (Trust::Void, Shows::NotTold, None, None)
    );
    assert!(charger.then_db.is_some() && !found.is_whole());
    assert!(
        lines(&found)
            .iter()
            .any(|l| l.starts_with("Drill charger: ") && l.contains("no figure now: nothing can be told"))
    );
    assert_eq!(doubtful(Trust::Unrepeated).changes[0].trust, Trust::Unrepeated);
}

#[test]
fn settings_must_be_equal_but_for_the_gain() {
    let with = |edit: &dyn Fn(&mut Report)| {
        let mut now = another("2026-09-20");
        edit(&mut now);
        of(vec![pond(), now])
    };
    let same = with(&|r| r.settings[0].antenna = Some("14 M  wire to the plum-tree".into()));
    assert!(same.not_compared.is_empty() && same.changes.len() == 6, "words that mean the same are the same");
    type Edit<'a> = &'a dyn Fn(&mut Report);
    let edits: [(Edit, &str); 4] = [
        (&|r| r.settings[0].dial_khz = Some(14100.0), "dial differs: 7100 kHz"),
        (&|r| r.settings[0].antenna = Some("loop".into()), "antenna differs"),
        (&|r| (r.settings[0].mode, r.settings[0].bandwidth_hz) = (None, Some(500.0)), "mode and bandwidth differ"),
        (
            &|r| r.contrasts.iter_mut().for_each(|c| c.passband_hz = Some([500.0, 1500.0])),
            "the passband differs: 258 to 2742 Hz against 500 to 1500 Hz",
        ),
    ];
    for (edit, why) in edits {
        let found = with(edit);
        assert!(found.changes.is_empty() && !found.is_whole(), "{why}");
        assert_eq!(found.not_compared.len(), 3, "each device once: {:?}", found.not_compared);
        assert!(found.not_compared[0].why.contains(why), "{why}: {}", found.not_compared[0].why);
    }
    let untold = with(&|r| r.settings[0].gain = None);
    assert_eq!(untold.changes.len(), 6);
}

#[test]
fn three_evenings_give_a_series_in_order_of_time() {
    let (mut first, mut last) = (another("2025-12-01"), another("2026-12-01"));
    for r in &mut last.recordings {
        r.level_db = r.level_db.map(|level| level + 0.2);
    }
    set(&mut first, "pond pump", 9.0, 0.3);
    set(&mut last, "pond pump", 3.0, 0.3);
    last.contrasts.retain(|c| c.device != "LED strip");
    let changes = of(vec![last, pond(), first]);
    let names: Vec<&str> = changes.reports.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(names, ["c", "b", "a"]);
    let pump = change(&changes, "pond pump");
    assert_eq!(pump.series.len(), 3);
    assert_abs_diff_eq!(pump.change_db.unwrap(), -6.0, epsilon = 1e-9);
    let strip = change(&changes, "LED strip");
    assert_eq!((strip.then_report, strip.now_report), (1, 2));
    assert!(changes.notes.iter().any(|n| n.starts_with("LED strip is not in report 3")), "{:?}", changes.notes);
}

/// A device that has another remedy on each evening is told by its last steps, and says which.
#[test]
fn remedies_are_held_against_the_same_remedy_first() {
    let mut now = another("2026-09-20");
    let changes = of(vec![pond(), now.clone()]);
    let remedies: Vec<_> = changes.changes.iter().filter(|c| c.device == "drill charger").collect();
    assert_eq!(remedies.len(), 4);
    assert!(remedies.iter().all(|c| c.then_remedy == c.now_remedy && c.change_db == Some(0.0)));
    now.contrasts.retain(|c| c.device != "drill charger" || c.remedy.as_deref() == Some("porch socket"));
    for c in now.contrasts.iter_mut().filter(|c| c.device == "drill charger") {
        c.remedy = Some("linear supply".into());
    }
    let changes = of(vec![pond(), now]);
    let charger = change(&changes, "drill charger");
    let words = (charger.then_remedy.as_deref(), charger.now_remedy.as_deref());
    assert_eq!(words, (Some("porch socket"), Some("linear supply")));
    assert!(changes.only_in.is_empty(), "{:?}", changes.only_in);
}

#[test]
fn combs_that_moved_are_told() {
    let mut now = another("2026-09-20");
    for c in now.contrasts.iter_mut().filter(|c| c.device == "LED strip") {
        c.comb.as_mut().unwrap().spacing_hz += 5.5;
    }
    let changes = of(vec![pond(), now]);
    assert!(change(&changes, "LED strip").comb.as_ref().unwrap().moved);
    assert!(!change(&of(vec![pond(), another("2026-09-20")]), "LED strip").comb.as_ref().unwrap().moved);
}

#[test]
fn one_evening_or_a_night_is_no_comparison() {
    let error = |reports: Vec<Report>| {
        Changes::of(reports.into_iter().map(|r| stored("x", r)).collect()).unwrap_err().to_string()
    };
    assert!(error(vec![pond()]).contains("takes two"));
    assert!(error(vec![pond(), pond()]).contains("of the same recordings"));
    assert!(error(vec![pond(), crate::report::sample::sample_night()]).contains("the report of a night"));
    let mut empty = another("2026-09-20");
    empty.contrasts.clear();
    assert!(error(vec![pond(), empty]).contains("no comparison"));
}

/// The JSON reads back, its figures rounded, and texts escape what a label holds.
#[test]
fn it_is_published_and_hostile_labels_are_escaped() {
    let mut now = another("2026-09-20");
    set(&mut now, "drill charger", 4.123_456, 0.3);
    let word = "<b>x</b> | [a](http://example.org) \u{1b}[2J\u{202e}";
    let hostile = |mut report: Report| {
        report.session.title = word.into();
        for c in &mut report.contrasts {
            c.device = format!("{word} {}", c.device);
        }
        report
    };
    let changes = of(vec![hostile(pond()), hostile(now)]);
    let json = changes.json();
    let back: Changes = serde_json::from_str(&json).unwrap();
    assert_eq!(back, changes.published());
    assert!(json.contains("\"now_db\": 4.12,") && !json.contains('\u{1b}'));
    let dir = tempfile::tempdir().unwrap();
    for text in [markdown(&changes), page(&changes, dir.path())] {
        assert!(!text.contains("<b>x") && !text.contains(['\u{1b}', '\u{202e}']), "{text}");
    }
    let marked =
        |event: &Event<'_>| matches!(event, Event::Start(Tag::Link { .. }) | Event::Html(_) | Event::InlineHtml(_));
    assert_eq!(Parser::new_ext(&markdown(&changes), Options::ENABLE_TABLES).filter(marked).count(), 0);
}
