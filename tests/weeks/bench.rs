//! Weeks with known truth, many seeds: what is told, what is told falsely, and whether chances are what they say.
//! `cargo bench --bench weeks -- --seeds 200 --first 1001 --days 30`; `--write FOLDER` writes the reports of the first
//! seed instead, with `conditions.csv`, for `noisetally weeks`; `--write-results` puts the table into `RESULTS.md`.
#![allow(clippy::print_stdout)]

mod judge;
mod month;
#[path = "../common/results.rs"]
mod results;

use std::fs;
use std::path::Path;

use judge::{Score, found, judge};
use month::{Month, NOTHING, Rule, STORY};
use results::Printed;

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
    let mut out = Printed::default();
    for (name, rules) in [("with habits", &STORY), ("with nothing", &NOTHING)] {
        run(&mut out, name, rules, first..first + seeds, days, args.iter().any(|arg| arg == "--failures"));
    }
    out.write_results("weeks", &format!("{days} days, {seeds} seeds from {first}"));
}

fn write(folder: &Path, month: &Month) {
    for (at, report) in month.nights.iter().enumerate() {
        let night = folder.join(format!("night-{:03}", at + 1));
        fs::create_dir_all(&night).unwrap();
        fs::write(night.join("report.json"), noisetally::report::json(report)).unwrap();
    }
    fs::write(folder.join("conditions.csv"), &month.table).unwrap();
}

fn run(out: &mut Printed, name: &str, rules: &[Rule], seeds: std::ops::Range<u64>, days: usize, failures: bool) {
    let scores: Vec<(u64, Score)> = seeds
        .map(|seed| {
            let month = Month::of(seed, days, rules);
            (seed, judge(&month, &found(&month).weeks.weeks))
        })
        .collect();
    let months = scores.len();
    let mut row = |words: &str, value: String| out.line(&format!("{words:<44}{value:>16}"));
    row(&format!("months {name}"), months.to_string());
    for (at, word) in ["timer named", "weekend named", "rain named", "gone named"].into_iter().enumerate() {
        let (right, of) = scores.iter().fold((0, 0), |(a, b), (_, s)| (a + s.right[at], b + s.of[at]));
        if of > 0 {
            row(&format!("  {word}"), format!("{right} of {of}"));
        }
    }
    let with = |is: fn(&Score) -> bool| scores.iter().filter(|(_, score)| is(score)).count().to_string();
    row("  with anything told falsely", with(|score| !score.wrong.is_empty()));
    row("    that something came new or went for good", with(|score| score.false_turns > 0));
    row("  trend's interval holds", with(|score| score.trend_holds));
    row("  sources matched wrongly", scores.iter().map(|(_, s)| s.mismatched).sum::<usize>().to_string());
    let quiet: Vec<f64> = scores.iter().flat_map(|(_, s)| s.quiet.clone()).collect();
    row("  pairs of source and condition without a tie", quiet.len().to_string());
    for level in [0.001, 0.01, 0.05, 0.1, 0.5] {
        let share = quiet.iter().filter(|p| **p <= level).count() as f64 / quiet.len().max(1) as f64;
        row(&format!("    chance alone up to {level}"), format!("{share:.3}"));
    }
    out.line("");
    if failures {
        for (seed, score) in &scores {
            score.wrong.iter().for_each(|wrong| println!("{seed}: told falsely: {wrong}"));
            score.missed.iter().for_each(|missed| println!("{seed}: not named: {missed}"));
        }
    }
}
