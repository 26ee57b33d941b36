//! As the tests' round of inputs, for longer: `cargo bench --bench fuzz -- --minutes 10 --seed 3`.
#![allow(clippy::print_stdout, clippy::print_stderr)] // It prints what came.

mod mutator;
mod rounds;

use std::time::{Duration, Instant};

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str, usual: u64| {
        let at = arguments.iter().position(|argument| argument == name);
        at.and_then(|at| arguments.get(at + 1)?.parse().ok()).unwrap_or(usual)
    };
    let (minutes, seed) = (number("--minutes", 1), number("--seed", 1));
    let end = Instant::now() + Duration::from_secs(60 * minutes);
    let outcome = rounds::run(seed, |_| Instant::now() >= end);
    println!("seed {seed}, {minutes} min: {outcome:#?}");
    if !outcome.faults.is_empty() {
        std::process::exit(1);
    }
}
