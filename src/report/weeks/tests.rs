//! The calendar on data that nobody hopes for, and what its words say.

use super::calendar::{CalendarFigure, Lane};
use super::grid::BINS;
use super::*;
use crate::plot::Drawing;

fn draws(name: &str, figure: &CalendarFigure) {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join(name);
    figure.draw(&file).unwrap();
    assert!(std::fs::metadata(&file).unwrap().len() > 1000, "{name}");
    // To be looked at.
    if let Some(folder) = std::env::var_os("NOISETALLY_FIGURES") {
        std::fs::copy(&file, std::path::Path::new(&folder).join(name)).unwrap();
    }
}

#[test]
fn the_calendar_draws_whatever_comes() {
    draws("empty-calendar.png", &CalendarFigure::default());
    let lane = |spans: Vec<Span>| Lane {
        id: "w1".into(),
        kind: "a very long name of a known noise that nobody can read".into(),
        note: "Saturday and Sunday, with neighbours away and their dog, gone since 2026-06-22 for ever".into(),
        spans,
    };
    let wild = CalendarFigure {
        title: "A title that goes on and on, as titles do, until there is no more room on the page for it".into(),
        subtitle: "x".repeat(300),
        days: vec![
            (-1_000_000_000_000, [f32::NAN; BINS]),
            (20_000, [f32::INFINITY; BINS]),
            (20_001, [-70.0; BINS]),
            (20_400, std::array::from_fn(|bin| if bin % 2 == 0 { f32::NAN } else { 1e30 })),
        ],
        lanes: vec![lane(vec![(f64::NAN, 1.0), (1.728e9, 1.7281e9), (0.0, f64::INFINITY)]); 9],
    };
    draws("wild-calendar.png", &wild);
    let silent = CalendarFigure { days: vec![(1, [f32::NAN; BINS])], ..wild };
    draws("silent-calendar.png", &silent);
}

/// A club's nights come by several clocks: those of most count, the rest is named.
#[test]
fn clocks_are_not_mixed() {
    let night = |name: &str, clock: Clock, day: f64| Night {
        name: name.into(),
        station: None,
        clock,
        recorded: vec![(day * 86_400.0, day * 86_400.0 + 7200.0)],
        minutes: Vec::new(),
        sources: Vec::new(),
        tells_sources: true,
    };
    let nights = vec![night("a", Clock::Local, 1.0), night("b", Clock::Utc, 2.0), night("c", Clock::Local, 3.0)];
    let facts = Found::of(nights.clone(), None, Vec::new()).unwrap().weeks.weeks;
    assert_eq!((facts.clock, facts.nights.len(), facts.left_out[0].name.as_str()), (Clock::Local, 2, "b"));
    assert_eq!(facts.from, "1970-01-02T00:00:00");
    assert_eq!(clock_of(&nights[..2]), Clock::Utc);
    let nights =
        ["hill", "shore"].map(|station| Night { station: Some(station.into()), ..night("x", Clock::Utc, 1.0) });
    let refused = Found::of(nights.into(), None, Vec::new()).unwrap_err().to_string();
    assert!(refused.contains("several stations (hill and shore)"), "{refused}");
    assert!(matches!(Found::of(Vec::new(), None, Vec::new()), Err(WeeksError::Nothing(_))));
}

/// Source: common practice: clocks change on the last Sundays of March and October in Europe.
#[test]
fn a_change_of_clocks_is_said() {
    let at = |text| night::seconds(text).unwrap();
    assert!(clocks_may_change(at("2026-03-20T00:00:00Z"), at("2026-04-03T00:00:00Z")));
    assert!(!clocks_may_change(at("2026-05-01T00:00:00Z"), at("2026-09-01T00:00:00Z")));
    assert!(clocks_may_change(at("2026-09-01T00:00:00Z"), at("2026-10-01T00:00:00Z")));
}
