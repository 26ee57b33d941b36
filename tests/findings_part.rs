//! A small fixed part of the bench of findings (`tests/findings`), so that no change spoils them unseen. The whole
//! of it: `cargo bench --bench findings`.
#![allow(dead_code)] // The bench's tables are not printed here.

#[path = "findings/combs.rs"]
mod combs;
#[path = "validation/random.rs"]
mod random;

use rayon::prelude::*;

const SEED: u64 = 20_260_315;

/// The targets are 95 % right within the interval of those named, and at most 1 % wrong; from so few a handful more
/// may miss by chance (six of some 110 are expected, twelve are 2.5 standard deviations more).
#[test]
fn combs_are_named_rightly_or_not_at_all() {
    // What drifts or wanders takes longer.
    let count = |place: usize| if place < 8 { 16 } else { 6_u64 };
    let kinds = combs::KINDS.iter().enumerate();
    let trials: Vec<(&'static str, u64)> =
        kinds.flat_map(|(place, &kind)| (0..count(place)).map(move |index| (kind, index))).collect();
    let scores: Vec<combs::Score> =
        trials.into_par_iter().map(|(kind, index)| combs::score(&combs::trial(kind, SEED, index))).collect();
    let wrong: Vec<&str> = scores.iter().filter(|s| s.wrong > 0).map(|s| s.told.as_str()).collect();
    assert!(wrong.len() <= 1, "{wrong:#?}");
    let beside: Vec<&str> = scores.iter().filter(|s| s.beside > 0).map(|s| s.told.as_str()).collect();
    assert!(beside.len() <= 12, "{beside:#?}");
    let of = |kind: &str| scores.iter().filter(|s| s.kind == kind).collect::<Vec<_>>();
    for kind in ["few carriers", "random carriers only", "random, in bands", "random, planned dials"] {
        assert!(of(kind).iter().all(|s| s.refused), "{kind}: a spacing is named");
    }
    for (kind, least) in [("dial steps of 10 Hz", 14), ("dial steps of 1000 Hz", 11), ("drifting evenly", 4)] {
        let named = of(kind).iter().filter(|s| s.covered > 0).count();
        assert!(named >= least, "{kind}: {named} combs are found");
    }
}
