//! Weeks with known truth, many seeds: what is told, what is told falsely, and whether chances are what they say.
//! `cargo bench --bench weeks -- --seeds 200 --first 1001 --days 30`; `--write FOLDER` writes the reports of the first
//! seed instead, with `conditions.csv`, for `noisetally weeks`.
#![allow(clippy::print_stdout)]

mod judge;
mod month;

use std::fs;
use std::path::Path;

use judge::{Score, found, judge};
use month::{Month, NOTHING, Rule, STORY};

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let number = |name: &str, usual: u64| {
        let at = args.iter().position(|arg| arg == name);
        at.and_then(|at| args.get(at + 1)?.parse().ok()).unwrap_or(usual)
    };
    // Without arguments of its own (a run of all benches): a few.
    let (seeds, first, days) = (number("--seeds", 20), number("--first", 1), number("--days", 30) as usize);
    if let Some(folder) = args.iter().position(|arg| arg == "--write").and_then(|at| args.get(at + 1)) {
        return write(Path::new(folder), &Month::of(first, days, &STORY));
    }
    println!("{seeds} seeds from {first}, {days} days\n");
    for (name, rules) in [("with habits", &STORY), ("with nothing", &NOTHING)] {
        run(name, rules, first..first + seeds, days, args.iter().any(|arg| arg == "--failures"));
    }
}

fn write(folder: &Path, month: &Month) {
    for (at, report) in month.nights.iter().enumerate() {
        let night = folder.join(format!("night-{:03}", at + 1));
        fs::create_dir_all(&night).unwrap();
        fs::write(night.join("report.json"), noisetally::report::json(report)).unwrap();
    }
    fs::write(folder.join("conditions.csv"), &month.table).unwrap();
}

fn run(name: &str, rules: &[Rule], seeds: std::ops::Range<u64>, days: usize, failures: bool) {
    let scores: Vec<(u64, Score)> = seeds
        .map(|seed| {
            let month = Month::of(seed, days, rules);
            (seed, judge(&month, &found(&month).weeks.weeks))
        })
        .collect();
    let months = scores.len();
    println!("| {name}: {months} months | |\n| --- | ---: |");
    for (at, word) in ["timer named", "weekend named", "rain named", "gone named"].into_iter().enumerate() {
        let (right, of) = scores.iter().fold((0, 0), |(a, b), (_, s)| (a + s.right[at], b + s.of[at]));
        if of > 0 {
            println!("| {word} | {right} of {of} |");
        }
    }
    println!(
        "| months with anything told falsely | {} |",
        scores.iter().filter(|(_, s)| !s.wrong.is_empty()).count()
    );
    println!("| sources matched wrongly | {} |", scores.iter().map(|(_, s)| s.mismatched).sum::<usize>());
    println!("| trend's interval holds | {} |", scores.iter().filter(|(_, s)| s.trend_holds).count());
    let quiet: Vec<f64> = scores.iter().flat_map(|(_, s)| s.quiet.clone()).collect();
    for level in [0.001, 0.01, 0.05, 0.1, 0.5] {
        let share = quiet.iter().filter(|p| **p <= level).count() as f64 / quiet.len().max(1) as f64;
        println!("| pairs without a tie, chance alone up to {level} | {:.3} of {} |", share, quiet.len());
    }
    println!();
    if failures {
        for (seed, score) in &scores {
            score.wrong.iter().for_each(|wrong| println!("{seed}: told falsely: {wrong}"));
            score.missed.iter().for_each(|missed| println!("{seed}: not named: {missed}"));
        }
    }
}
