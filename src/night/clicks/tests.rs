//! Clicks by construction: their times and strengths are the truth.

use super::*;
use crate::demo::synth::Gauss;

const NIGHT_S: f64 = 3600.0;

/// Single ones that plain noise makes, some two a minute, and those given (time, standard deviations).
fn found(seed: u64, given: Vec<(f64, f64)>) -> Vec<Stretch> {
    let mut gauss = Gauss::new(seed, "noise");
    let mut clicks: Vec<Click> =
        (0..120).map(|_| Click { at_s: gauss.between(0.0, NIGHT_S), sigmas: gauss.between(4.7, 5.2) }).collect();
    clicks.extend(given.into_iter().map(|(at_s, sigmas)| Click { at_s, sigmas }));
    clicks.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let open = vec![false; NIGHT_S as usize];
    RunClicks { clicks, hidden: open.clone(), drowned: open, step_s: 1.0, seconds: NIGHT_S }.stretches()
}

/// A fence of which one pulse in five drowns. IEC 60335-2-76 wants a second or more between pulses (from memory);
/// older ones are faster.
#[test]
fn a_fence_is_found_with_its_beat_and_its_ends() {
    for (seed, period_s) in [(1, 0.7), (2, 1.0), (3, 1.27), (4, 1.6)] {
        let mut gauss = Gauss::new(seed, "fence");
        let pulses: Vec<f64> =
            (0..).map(|n| 1000.0 + period_s * f64::from(n)).take_while(|at_s| *at_s < 1700.0).collect();
        let last_s = *pulses.last().unwrap();
        let seen = |n: usize| n == 0 || n + 1 == pulses.len();
        let heard =
            pulses.iter().enumerate().filter(|&(n, _)| seen(n) || gauss.uniform() < 0.8).map(|(_, at_s)| *at_s);
        let heard: Vec<f64> = heard.collect();
        let given = heard.iter().map(|at_s| (at_s + 0.0004 * gauss.normal(), gauss.between(5.5, 7.5))).collect();
        let found = found(seed, given);
        assert_eq!(found.len(), 1, "{period_s}: {found:?}");
        // Of single pulses at the ends some may be given up.
        assert!((found[0].start_s - 1000.0).abs() < 6.0 && (found[0].end_s - last_s).abs() < 6.0, "{found:?}");
        assert!((found[0].period_s / period_s - 1.0).abs() < 1e-3, "{found:?}");
    }
}

#[test]
fn contacts_that_arc_are_found_by_their_number() {
    let mut gauss = Gauss::new(5, "arcing");
    let mut at_s = 600.0;
    let mut given = Vec::new();
    while at_s < 900.0 {
        given.push((at_s, gauss.between(6.0, 9.0)));
        at_s += gauss.exponential(0.25);
    }
    let found = found(5, given);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].start_s - 600.0).abs() < 5.0 && (found[0].end_s - 900.0).abs() < 5.0, "{found:?}");
}

/// Flocks within some minutes, whose number swells and sinks, of all strengths.
#[test]
fn noise_and_flocks_of_static_are_none() {
    for seed in 10..20 {
        let mut gauss = Gauss::new(seed, "static");
        let mut given = Vec::new();
        let mut at_s = 500.0;
        while at_s < 1700.0 {
            at_s += gauss.exponential(4.0);
            let height = (std::f64::consts::PI * (at_s - 500.0) / 1200.0).sin().max(0.0);
            let strokes = (height * gauss.exponential(6.0)) as usize;
            given.extend((0..strokes).map(|_| {
                (at_s + gauss.exponential(0.1), 4.7 * crate::units::Db(gauss.exponential(6.0)).ratio().sqrt())
            }));
        }
        let found = found(seed, given);
        assert!(found.is_empty(), "seed {seed}: {found:?}");
    }
}
