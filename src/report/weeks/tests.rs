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

fn night(name: &str, day: u32, length_s: f64) -> Night {
    let from = f64::from(20_000 + day) * 86_400.0 + 77_400.0;
    let minutes = (0..(length_s / 60.0) as usize).map(|minute| {
        let at = from + 60.0 * minute as f64;
        Minute { at, low: -71.0, median: -70.0 + day as f32 / 100.0, high: -69.0, busy: 0.0 }
    });
    Night {
        name: name.into(),
        station: None,
        clock: Clock::Local,
        recorded: vec![(from, from + length_s)],
        minutes: minutes.collect(),
        sources: Vec::new(),
        tells_sources: true,
    }
}

/// A source at 21:35 for five minutes, known by its name.
fn heard(name: &str, day: u32) -> HeardSource {
    let from = f64::from(20_000 + day) * 86_400.0 + 77_700.0;
    let coming = Heard {
        span: (from, from + 300.0),
        from_before: false,
        until_after: false,
        excess_db: Some(4.0),
        excess_ci_db: Some([3.8, 4.2]),
        trust: crate::warning::Trust::Sound,
    };
    HeardSource {
        id: "n1".into(),
        character: crate::contrast::Character::Hash,
        known: Some(name.into()),
        signature: None,
        excess_db: Some(4.0),
        comings: vec![coming],
    }
}

/// By construction: 16 nights of twenty minutes each, rain on seven of them scattered over the weeks, and a heater
/// that is on in those alone.
#[test]
fn short_nights_tell_what_long_ones_do() {
    let rain = [1, 2, 5, 8, 9, 12, 15];
    let nights: Vec<Night> = (0..16)
        .map(|day| Night {
            sources: rain.contains(&day).then(|| heard("heater", day)).into_iter().collect(),
            ..night(&format!("w-{day}"), day, 1200.0)
        })
        .collect();
    let date = |day: u32| date(20_000 + i64::from(day));
    let line = |day: u32| {
        let word = if rain.contains(&day) { "rain" } else { "dry" };
        format!("{} 12:00,{} 12:00,{word}\n", date(day), date(day + 1))
    };
    let table = Conditions::read(&(0..16).map(line).collect::<String>(), Clock::Local).unwrap();
    let found = Found::of(nights, Some(&table), Vec::new()).unwrap();
    let facts = &found.weeks.weeks;
    assert_eq!((facts.days, facts.gaps.len(), facts.sources[0].days), (16, 0, 7));
    assert!(facts.quiet_trend_db_per_week.is_some());
    let seconds: Vec<(f64, f64)> = facts.conditions.iter().map(|one| (one.with_s, one.without_s)).collect();
    assert_eq!(seconds, [(9.0 * 1200.0, 7.0 * 1200.0), (7.0 * 1200.0, 9.0 * 1200.0)]);
    let pair = &facts.sources[0].conditions[0];
    assert_eq!((pair.word.as_str(), pair.days_with, pair.days_on_with, pair.days_on_without), ("rain", 7, 7, 0));
    assert!(pair.told && pair.effect > 0.0, "{pair:?}");
    let said = lines(&found.weeks).join("\n");
    assert!(said.contains("Comes only with rain, on 7 of 7 days with it (chance"), "{said}");
    assert!(!said.contains("on one day only") && !said.contains("No source"), "{said}");
}

/// By construction: nights of less than ten minutes tell no habits, but a source that came on three of them came on three days.
#[test]
fn nights_too_short_for_habits_are_said_to_be() {
    let nights: Vec<Night> = (0..3)
        .map(|day| Night { sources: vec![heard("heater", day)], ..night(&format!("w-{day}"), day, 590.0) })
        .collect();
    let found = Found::of(nights, None, Vec::new()).unwrap();
    assert_eq!((found.weeks.weeks.days, found.weeks.weeks.sources[0].days), (0, 3));
    let said = lines(&found.weeks).join("\n");
    assert!(said.contains("less than 10 minutes a day: nothing is told of habits"), "{said}");
    assert!(said.contains("3 comings on 3 days") && !said.contains("on one day only"), "{said}");
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
