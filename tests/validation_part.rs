//! A small fixed part of the validation bench (`tests/validation`), so that no change spoils the judgement unseen.
//! The whole of it: `cargo bench --bench validation`.
#![allow(dead_code)] // The bench's tables are not printed here.

#[path = "validation/cases.rs"]
mod cases;
#[path = "validation/codec.rs"]
mod codec;
#[path = "validation/described.rs"]
mod described;
#[path = "validation/judge.rs"]
mod judge;
#[path = "validation/program.rs"]
mod program;
#[path = "validation/random.rs"]
mod random;
#[path = "validation/share.rs"]
mod share;
#[path = "validation/signals.rs"]
mod signals;
#[path = "validation/targets.rs"]
mod targets;
#[path = "validation/traps.rs"]
mod traps;
#[path = "validation/waves.rs"]
mod waves;

use rayon::prelude::*;

const SEED: u64 = 20_260_314;

/// The targets are 97 % at 3 dB or more and 99 % of nothing added called nothing; from so few pairs one or two more
/// may miss by chance.
#[test]
fn kinds_are_called_rightly() {
    let judged: Vec<judge::Judged> =
        (0..112u64).into_par_iter().map(|index| judge::judge(&cases::case(SEED, index))).collect();
    let told = |keep: &dyn Fn(&judge::Judged) -> bool| -> Vec<String> {
        judged.iter().filter(|j| keep(j) && !j.is_right()).map(judge::Judged::told).collect()
    };
    let plain_nothing = told(&|j| j.row == "none");
    assert!(plain_nothing.is_empty(), "{plain_nothing:#?}");
    let strong = told(&|j| j.kind != "none" && j.excess_db >= 3.0);
    assert!(strong.len() <= 4, "of 48: {strong:#?}");
    let sure_and_wrong = told(&|j| j.stands() && j.confidence > 0.9 && j.called != "none" && j.called != j.kind);
    assert!(sure_and_wrong.len() <= 1, "{sure_and_wrong:#?}");
    let covered: Vec<bool> = judged
        .iter()
        .filter(|j| j.stands() && j.background == "plain")
        .filter_map(|j| j.excess.map(|e| e.1))
        .collect();
    let share = covered.iter().filter(|c| **c).count() as f64 / covered.len() as f64;
    assert!(share > 0.85, "intervals cover the truth in {:.0} % of {}", 100.0 * share, covered.len());
}

/// What a lossy codec leaves in files that do not tell of it any more is not looked for yet: the bench counts these
/// as missed, and here they are named so that a trap which slips is not taken for one of them.
const NOT_FOUND_YET: [&str; 1] = ["lossy, holes in the noise"];

/// Every trap must be caught but those marked as beyond what sound can tell: an AGC without a carrier in the
/// passband leaves no trace (which is why a session without a gain label is told so), and a volume turned up is
/// hash to noise.
#[test]
fn traps_are_caught() {
    let looked_for = |index: &u64| {
        let row = traps::ROWS[*index as usize % traps::ROWS.len()];
        row.counts && !NOT_FOUND_YET.contains(&row.name)
    };
    let missed: Vec<String> = (0..2 * traps::ROWS.len() as u64)
        .into_par_iter()
        .filter(looked_for)
        .map(|index| traps::trapped(SEED, index))
        .filter(|trap| !trap.is_caught())
        .map(|trap| trap.told())
        .collect();
    assert!(missed.len() <= 1, "of those looked for: {missed:#?}");
}

/// Of recordings described by themselves what is told as sure stands there, and what was put there at 6 dB or more is
/// told; from so few one or two may miss by chance. The stations of the signals are the traps: dots, phase keying,
/// teletype, eight tones, voices, keying by hand.
#[test]
fn recordings_by_themselves_are_described_rightly() {
    let pairs = (0..40u64).into_par_iter().map(|index| described::described("pairs", &cases::case(SEED, index)));
    let signals =
        (0..24u64).into_par_iter().map(|index| described::described("signals", &signals::case(SEED, index)));
    let told: Vec<described::Told> = pairs.chain(signals).collect::<Vec<_>>().into_iter().flatten().collect();
    let wrong: Vec<String> =
        told.iter().filter(|one| one.is_sure_and_wrong()).flat_map(|one| one.failures()).collect();
    assert!(wrong.len() <= 2, "{wrong:#?}");
    let missed: Vec<String> = told.iter().filter(|one| one.misses_at(6.0)).flat_map(|one| one.failures()).collect();
    assert!(missed.len() <= 3, "{missed:#?}");
}
