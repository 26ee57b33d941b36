//! Simulated sessions of known truth for what several comparisons together tell (`findings`), scored. Not shipped in
//! the program.
//!
//! ```sh
//! cargo bench --bench findings -- --trials 400 --seed 1
//! ```
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod budgets;
mod evening;
mod ladders;
#[path = "../validation/random.rs"]
mod random;
mod unmasked;

/// Trials of each table.
const TRIALS: usize = 400;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str, default: u64| {
        let place = arguments.iter().position(|argument| argument == name);
        place.and_then(|at| arguments.get(at + 1)?.parse().ok()).unwrap_or(default)
    };
    let (trials, seed) = (number("--trials", TRIALS as u64), number("--seed", 1));
    println!("noisetally findings: {trials} trials of each table, seed {seed}");
    println!("{}", ladders::table(&ladders::trials(seed, (trials as usize).div_ceil(3))));
    println!("{}", unmasked::table(&unmasked::trials(seed, trials as usize)));
    println!("{}", budgets::table(&budgets::trials(seed, trials as usize)));
}
