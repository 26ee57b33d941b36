//! How fast a night is gone through, and in how much memory, against bounds from outside: the transform alone, the decoder
//! alone, and a SciPy script that measures the same. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench night -- --hours 8
//! ```
//!
//! Every measurement runs in a process of its own, several times in turn with the others, so that what else the machine
//! does touches all alike; the median counts. FLAC and MP3 need ffmpeg, the script needs Python with SciPy; without
//! them these lines are passed over and said to be.
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod child;
mod files;

use std::path::Path;

use child::{Cost, run};

/// Turns of every measurement.
const TURNS: usize = 5;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|argument| argument == "--child") {
        child::work(&arguments[at + 1..]);
        return;
    }
    let value = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name)?;
        arguments.get(place + 1)?.parse::<f64>().ok()
    };
    let hours = value("--hours").unwrap_or(8.0);
    let turns = value("--turns").map_or(TURNS, |turns| turns as usize).max(1);
    let dir = tempfile::tempdir().expect("a folder for the recordings");
    println!("noisetally night: {hours} h of 12 kHz mono WAV, medians of {turns} turns\n");
    let wav = files::wav(dir.path(), 12_000, hours);
    speed(&wav, turns);
    against_scipy(&wav, turns);
    println!();
    for (extension, codec) in [("flac", "flac"), ("mp3", "libmp3lame")] {
        coded(dir.path(), &wav, extension, codec, turns);
    }
    println!();
    if !arguments.iter().any(|argument| argument == "--no-memory") {
        memory(dir.path());
    }
}

/// The pass against the bare bound.
fn speed(wav: &Path, turns: usize) {
    let [bare, one, two] = in_turn(turns, [("bare", 1), ("night", 1), ("night", 2)], wav);
    println!("{:<44}{:>9}{:>9}", "", "CPU s", "wall s");
    row("bare bound (read, Hann, FFT), one core", &bare);
    row("timeline, one core", &one);
    row("timeline, two cores", &two);
    println!();
    ratio("CPU over the bare bound, one core", one.cpu_s / bare.cpu_s, "at most 2.0");
    ratio("wall over the bare bound, two cores", two.wall_s / bare.wall_s, "at most 1.2");
}

fn against_scipy(wav: &Path, turns: usize) {
    let Some(mut scipy) = files::scipy(wav) else {
        println!("SciPy: passed over, there is no python3 with SciPy");
        return;
    };
    let mut walls = Vec::new();
    for _ in 0..turns.min(3) {
        walls.push(run("night", 2, wav).wall_s);
        scipy = scipy.min(files::scipy(wav).unwrap_or(scipy));
    }
    walls.sort_unstable_by(f64::total_cmp);
    println!("{:<44}{:>9}{scipy:>9.3}", "SciPy script, two processes (its best)", "");
    ratio("faster than it, two cores", scipy / walls[walls.len() / 2], "at least 8");
}

/// A night in a coding against its decoder alone.
fn coded(dir: &Path, wav: &Path, extension: &str, codec: &str, turns: usize) {
    let Some(file) = files::coded(dir, wav, extension, codec) else {
        println!("{extension}: passed over, there is no ffmpeg that writes it");
        return;
    };
    let [decode, one, two] = in_turn(turns, [("decode", 1), ("night", 1), ("night", 2)], &file);
    row(&format!("{extension}: decoder alone, one core"), &decode);
    row(&format!("{extension}: timeline, one core"), &one);
    row(&format!("{extension}: timeline, two cores"), &two);
    ratio("CPU over the decoder's, one core", one.cpu_s / decode.cpu_s, "");
    ratio("wall, two cores, over the decoder's on one", two.wall_s / decode.wall_s, "at most 1.3");
}

/// Peak memory of 1 h and 24 h at several rates: the long nights are the same hour under 24 names.
fn memory(dir: &Path) {
    println!("{:<44}{:>9}", "peak memory, two cores", "MiB");
    for rate_hz in [8_000, 12_000, 48_000] {
        let wav = files::wav(dir, rate_hz, 1.0);
        let night = files::repeated(dir, &wav, 24);
        for (name, path) in [("1 h", &wav), ("24 h", &night)] {
            let cost = run("night", 2, path);
            println!(
                "{:<44}{:>9.1}   at most 96",
                format!("{name} of {} kHz", f64::from(rate_hz) / 1e3),
                cost.peak_mib
            );
        }
    }
}

/// Runs each measurement in turn, and takes medians.
fn in_turn<const N: usize>(turns: usize, kinds: [(&str, usize); N], file: &Path) -> [Cost; N] {
    let mut costs: [Vec<Cost>; N] = std::array::from_fn(|_| Vec::new());
    for _ in 0..turns {
        for (costs, (kind, threads)) in costs.iter_mut().zip(kinds) {
            costs.push(run(kind, threads, file));
        }
    }
    costs.map(|costs| Cost::median(&costs))
}

fn row(name: &str, cost: &Cost) {
    println!("{name:<44}{:>9.3}{:>9.3}", cost.cpu_s, cost.wall_s);
}

fn ratio(name: &str, ratio: f64, target: &str) {
    println!("  {name:<42}{ratio:>9.2}   {target}");
}
