//! The validation bench: mixes device noise of known kind and size into backgrounds, has the tool judge it, and scores
//! the answers. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench validation -- --pairs 2000 --seed 1
//! ```
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod cases;
mod judge;
mod random;
mod score;
mod traps;

use rayon::prelude::*;

/// Pairs of a full run.
const FULL_PAIRS: usize = 2000;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str, default: u64| {
        let place = arguments.iter().position(|argument| argument == name);
        place.and_then(|at| arguments.get(at + 1)?.parse().ok()).unwrap_or(default)
    };
    let (pairs, seed) = (number("--pairs", FULL_PAIRS as u64), number("--seed", 1));
    let failures = arguments.iter().any(|argument| argument == "--failures");
    println!("noisetally validation: {pairs} pairs and {} traps, seed {seed}", pairs / 4);
    let judged: Vec<judge::Judged> =
        (0..pairs).into_par_iter().map(|index| judge::judge(&cases::case(seed, index))).collect();
    print!("{}", score::tables(&judged));
    let trapped: Vec<traps::Trapped> =
        (0..pairs / 4).into_par_iter().map(|index| traps::trapped(seed, index)).collect();
    print!("{}", traps::table(&trapped, &judged));
    if failures {
        judged.iter().filter(|one| !one.is_right()).for_each(|one| println!("{}", one.told()));
        trapped.iter().filter(|one| !one.is_caught()).for_each(|one| println!("{}", one.told()));
    }
}
