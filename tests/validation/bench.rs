//! The validation bench: mixes device noise of known kind and size into backgrounds, has the tool judge it, and
//! scores the answers. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench validation -- --pairs 2016 --seed 1 --lines 2000
//! cargo bench --bench validation -- --pairs 504 --only buzz --failures
//! cargo bench --bench validation -- --only real --half first
//! cargo bench --bench validation -- --pairs 2016 --confidence
//! ```
//!
//! `--only` takes a kind of the first table, or `between`, `described`, `real`, `signals`, `traps`, `lines`. Cases are numbered:
//! each is the same in a part as in the whole. `--half first` takes only those real recordings that rules are found
//! on, `--half second` only those they are proved on. `--write-results` puts the tables into `RESULTS.md`.
//! `--confidence` judges the pairs of the first table, the signals and the real bands, and holds each row of the
//! table of the confidence (`contrast::Doubt`) against the share that was right.
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod between;
mod cases;
mod codec;
mod confidence;
mod described;
mod false_lines;
mod judge;
mod program;
mod random;
mod real;
#[path = "../common/results.rs"]
mod results;
mod score;
mod share;
mod signals;
mod targets;
mod trap_table;
mod traps;
mod waves;

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use judge::Judged;
use noisetally::audio::write_wav;

/// Pairs of a full run: 36 of each kind and excess.
const FULL_PAIRS: u64 = 2016;
/// Recordings of plain noise of a full run.
const FULL_LINES: u64 = 2000;

/// What is asked for.
struct Asked {
    pairs: u64,
    seed: u64,
    lines: u64,
    only: Option<String>,
    /// The half of the real recordings.
    half: Option<String>,
    /// Just these pairs, one line each.
    cases: Option<Vec<u64>>,
    /// Folder for their recordings.
    write: Option<PathBuf>,
    failures: bool,
    /// Only the table of the confidence.
    confidence: bool,
}

impl Asked {
    fn read() -> Self {
        let arguments: Vec<String> = std::env::args().collect();
        let after = |name: &str| {
            let place = arguments.iter().position(|argument| argument == name)?;
            arguments.get(place + 1).cloned()
        };
        let number = |name: &str, default: u64| after(name).map_or(default, |told| told.parse().unwrap_or(default));
        Self {
            pairs: number("--pairs", FULL_PAIRS),
            seed: number("--seed", 1),
            lines: number("--lines", FULL_LINES),
            only: after("--only"),
            half: after("--half"),
            cases: after("--cases").map(|told| told.split(',').filter_map(|one| one.parse().ok()).collect()),
            write: after("--write").map(PathBuf::from),
            failures: arguments.iter().any(|argument| argument == "--failures"),
            confidence: arguments.iter().any(|argument| argument == "--confidence"),
        }
    }

    fn wants(&self, part: &str) -> bool {
        self.only.as_ref().is_none_or(|only| only == part)
    }

    /// The cases of a part of so many.
    fn part(&self, part: &str, count: u64) -> Vec<u64> {
        (0..if self.wants(part) { count } else { 0 }).collect()
    }
}

/// Each case's outcome, in their order.
fn each<T: Send>(cases: Vec<u64>, judge: impl Fn(u64) -> Option<T> + Sync + Send) -> Vec<T> {
    cases.into_par_iter().filter_map(judge).collect()
}

/// One pair: what it was called, and its recordings as files for whoever wants to hear it or see its figures.
fn show(case: &cases::Case, index: u64, folder: Option<&Path>) {
    println!("{}", judge::judge(case).told());
    for (take, state) in [(&case.off, "off"), (&case.on, "on")] {
        let Some(folder) = folder else { continue };
        let file = folder.join(format!("case{index}-{state}.wav"));
        let made = std::fs::create_dir_all(folder).map_err(|error| error.to_string());
        let written =
            made.and_then(|()| write_wav(&file, &take.samples, take.rate_hz, 1).map_err(|error| error.to_string()));
        if let Err(error) = written {
            println!("{}: {error}", folder.display());
        }
    }
}

/// The recordings of a quarter of the pairs, an eighth as many signals, and the real bands, each by itself.
fn by_themselves(asked: &Asked) -> Vec<described::Told> {
    let pairs = each((0..asked.pairs / 4).collect(), |index| {
        Some(described::described("pairs", &cases::case(asked.seed, index)))
    });
    let signals = each((0..asked.pairs / 8).collect(), |index| {
        Some(described::described("signals", &signals::case(asked.seed, index)))
    });
    let bands = real::Bands::find(asked.half.as_deref());
    let step = if 4 * asked.pairs <= FULL_PAIRS { 5 } else { 1 };
    let on_air = each((0..bands.cases()).step_by(step).collect(), |index| {
        Some(described::described("real", &bands.case(asked.seed, index)?))
    });
    [pairs, signals, on_air].into_iter().flatten().flatten().collect()
}

fn main() {
    let asked = Asked::read();
    if let Some(indices) = &asked.cases {
        indices.iter().for_each(|&index| show(&cases::case(asked.seed, index), index, asked.write.as_deref()));
        return;
    }
    let known = [&cases::KINDS[..], &["between", "described", "real", "signals", "traps", "lines"]].concat();
    if let Some(only) = asked.only.as_deref().filter(|only| !known.contains(only)) {
        println!("--only {only}: no such part; there are {}", known.join(", "));
        std::process::exit(2);
    }
    if let Some(half) = asked.half.as_deref().filter(|half| !["first", "second"].contains(half)) {
        println!("--half {half}: no such half; there are first and second");
        std::process::exit(2);
    }
    let mut out = results::Printed::default();
    out.line(&format!(
        "noisetally validation: {} pairs, seed {}; in brackets 95 % of chance",
        asked.pairs, asked.seed
    ));
    let mut failures: Vec<String> = Vec::new();
    let indices: Vec<u64> = (0..asked.pairs).filter(|&index| asked.wants(cases::row(index))).collect();
    let judged = each(indices, |index| Some(judge::judge(&cases::case(asked.seed, index))));
    let signals = asked.part("signals", asked.pairs / 4);
    let signals = each(signals, |index| Some(judge::judge_files(&signals::case(asked.seed, index), None)));
    let bands = asked.wants("real").then(|| real::Bands::find(asked.half.as_deref()));
    // A run of a quarter or less of the pairs takes every fifth case.
    let step = if 4 * asked.pairs <= FULL_PAIRS { 5 } else { 1 };
    let on_air = each((0..bands.as_ref().map_or(0, real::Bands::cases)).step_by(step).collect(), |index| {
        Some(judge::judge_files(&bands.as_ref()?.case(asked.seed, index)?, None))
    });
    if asked.confidence {
        print!("{}", confidence::table([judged, signals, on_air].iter().flatten()));
        return;
    }
    let all = [&judged, &signals, &on_air].into_iter().flatten();
    failures.extend(all.filter(|one| !one.is_right()).map(Judged::told));
    let mut targets = targets::Targets::default();
    out.put(&score::tables(&judged, &mut targets));
    let trapped = each(asked.part("traps", asked.pairs / 4), |index| Some(traps::trapped(asked.seed, index)));
    failures.extend(trapped.iter().filter(|one| !one.is_caught()).map(traps::Trapped::told));
    out.put(&trap_table::table(&trapped, &judged, &mut targets));
    if asked.wants("lines") {
        out.put(&false_lines::table(asked.seed, asked.lines));
    }
    if asked.wants("between") {
        let sessions = asked.part("between", between::count(asked.pairs));
        let answered = each(sessions, |index| Some(between::session(asked.seed, index)));
        failures.extend(answered.iter().filter(|one| !one.is_fair()).map(between::Answered::told));
        out.put(&between::table(&answered, &mut targets));
    }
    if asked.wants("signals") {
        out.put(&signals::table(&signals, &mut targets));
    }
    if asked.wants("real") {
        out.put(&real::table(&on_air, &mut targets));
    }
    if asked.wants("described") {
        let told = by_themselves(&asked);
        failures.extend(told.iter().flat_map(described::Told::failures));
        out.put(&described::table(&told, &mut targets));
    }
    out.put(&targets.table());
    let part = asked.only.as_deref().map_or("All parts".to_owned(), |only| format!("Only {only}"));
    out.write_results("validation", &part);
    if asked.failures {
        failures.iter().for_each(|failure| println!("{failure}"));
    }
}
