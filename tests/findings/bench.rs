//! Simulated sessions of known truth for what several comparisons together tell (`findings`), scored. Not shipped
//! in the program.
//!
//! ```sh
//! cargo bench --bench findings -- --trials 400 --seed 1
//! ```
//!
//! `--only known` or `--only combs` runs that part. `--write-results` puts the tables into `RESULTS.md`.
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod budgets;
mod combs;
mod evening;
mod known;
mod ladders;
#[path = "../validation/random.rs"]
#[allow(dead_code)] // Shared with the validation bench, which uses all of it.
mod random;
#[path = "../common/results.rs"]
mod results;
mod unmasked;

use rayon::prelude::*;

/// Trials of each table.
const TRIALS: usize = 400;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str, default: u64| {
        let place = arguments.iter().position(|argument| argument == name);
        place.and_then(|at| arguments.get(at + 1)?.parse().ok()).unwrap_or(default)
    };
    let (trials, seed) = (number("--trials", TRIALS as u64), number("--seed", 1));
    println!("noisetally findings: {trials} trials of each kind, seed {seed}");
    let mut out = results::Printed::default();
    let failures = arguments.iter().any(|argument| argument == "--failures");
    let only = arguments.iter().position(|argument| argument == "--only");
    let only = only.and_then(|at| arguments.get(at + 1).cloned());
    let wanted = |part: &str| only.as_deref().is_none_or(|only| only == part);
    if wanted("known") {
        // A household is twenty hearings.
        let heard = known::households(seed, (trials as usize).div_ceil(10));
        out.line(&known::table(&heard));
        out.write_results("findings", "Known noises");
        if failures {
            let wrong =
                |h: &&known::Heard| if h.known { h.told != "right" } else { !["none", "silent"].contains(&h.told) };
            heard.iter().filter(wrong).for_each(|h| println!("{}", h.words));
        }
    }
    if wanted("combs") {
        let kinds = combs::KINDS.iter().flat_map(|&kind| (0..trials).map(move |index| (kind, index)));
        let scores: Vec<combs::Score> = kinds
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|(kind, index)| combs::score(&combs::trial(kind, seed, index)))
            .collect();
        out.put(&combs::table(&scores));
        out.write_results("findings", "Combs over the dial");
        if failures {
            scores.iter().filter(|s| s.wrong + s.beside > 0).for_each(|s| println!("{}", s.told));
        }
    }
    if only.is_some() {
        return;
    }
    out.line(&ladders::table(&ladders::trials(seed, trials as usize)));
    out.line(&unmasked::table(&unmasked::trials(seed, trials as usize)));
    out.line(&budgets::table(&budgets::trials(seed, trials as usize)));
    out.write_results("findings", "Ladders, carriers that came to light, budgets");
}
