//! How fast a night is gone through, and in how much memory, against bounds from outside: the transform alone, the decoder
//! alone, and a SciPy script that measures the same. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench night -- --hours 8
//! cargo bench --bench night -- --truth --hours 8 --seed 1
//! ```
//!
//! The second goes through a night at the shed whose story is known, and tells what was found of it.
//!
//! Every measurement runs in a process of its own, several times in turn with the others, so that what else the machine
//! does touches all alike; the median counts. FLAC and MP3 need ffmpeg, the script needs Python with SciPy; without
//! them these lines are passed over and said to be.
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod child;
mod files;
mod truth;

use std::path::Path;

use child::{Cost, run};
use noisetally::demo::night::NightStory;
use truth::Score;

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
    if arguments.iter().any(|argument| argument == "--truth") {
        against_truth(dir.path(), hours, value("--seed").unwrap_or(1.0) as u64);
        return;
    }
    println!("noisetally night: {hours} h of 12 kHz mono WAV, medians of {turns} turns\n");
    let wav = files::wav(dir.path(), 12_000, hours);
    let bare = speed(&wav, turns);
    against_scipy(&wav, turns);
    println!();
    for (extension, codec) in [("flac", "flac"), ("mp3", "libmp3lame")] {
        coded(dir.path(), &wav, (extension, codec), turns, &bare);
    }
    println!();
    if !arguments.iter().any(|argument| argument == "--no-memory") {
        memory(dir.path());
    }
}

/// A night at the shed: what was found of its story.
fn against_truth(dir: &Path, hours: f64, seed: u64) {
    let story = NightStory::long(hours, seed);
    // Four files, a second between them.
    let quarter = story.seconds / 4.0;
    let spans: Vec<(f64, f64)> =
        (0..4).map(|n| (quarter * f64::from(n), quarter * f64::from(n + 1) - 1.0)).collect();
    let night = truth::night(dir, &story, &spans, seed);
    let score = Score::of(&story, &night.report);
    println!("noisetally night: {hours} h at the shed, seed {seed}\n");
    println!(
        "{:<12}{:>9}{:>9}{:>9}{:>9}{:>9}{:>18}  kind, trust",
        "", "start s", "off by", "end off", "made dB", "found", "95 %"
    );
    for (noise, episode) in &score.wanted {
        let made = format!("{:<12}{:>9.1}", noise.name, noise.start_s);
        let Some(episode) = episode else {
            println!("{made}   not found ({:.1} dB)", story.jump_db(noise));
            continue;
        };
        let c = &episode.contrast;
        let [low, high] = c.excess_ci_db.unwrap_or([f64::NAN; 2]);
        println!(
            "{made}{:>9.1}{:>9.1}{:>9.1}{:>9.1}{low:>9.1}{high:>9.1}  {}, {:?}",
            episode.start_s - noise.start_s,
            episode.end_s - noise.end_s,
            story.jump_db(noise),
            c.excess_db.unwrap_or(f64::NAN),
            c.character.code(),
            c.trust
        );
    }
    println!();
    ratio("found, start and end within 2 s", score.found() as f64 / score.wanted.len() as f64, "at least 0.95");
    println!("  {:<42}{:>9}   at most 1 in 8 h", "episodes that are none", score.false_ones.len());
    for one in &score.false_ones {
        println!(
            "    {:.1} to {:.1} s, a jump of {:.1} dB",
            one.start_s,
            one.end_s,
            one.jump_db.unwrap_or(f64::NAN)
        );
    }
}

/// The pass against the bare bound, which is returned.
fn speed(wav: &Path, turns: usize) -> Cost {
    let [bare, one, two] = in_turn(turns, [("bare", 1), ("night", 1), ("night", 2)], wav);
    println!("{:<44}{:>9}{:>9}", "", "CPU s", "wall s");
    row("bare bound (read, Hann, FFT), one core", &bare);
    row("timeline, one core", &one);
    row("timeline, two cores", &two);
    println!();
    ratio("CPU over the bare bound, one core", one.cpu_s / bare.cpu_s, "at most 2.0");
    ratio("wall over the bare bound, two cores", two.wall_s / bare.wall_s, "at most 1.2");
    bare
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

/// A night in a coding against its decoder alone, and what the bare bound would add to that.
fn coded(dir: &Path, wav: &Path, (extension, codec): (&str, &str), turns: usize, bare: &Cost) {
    let Some(file) = files::coded(dir, wav, extension, codec) else {
        println!("{extension}: passed over, there is no ffmpeg that writes it");
        return;
    };
    let [decode, one, two] = in_turn(turns, [("decode", 1), ("night", 1), ("night", 2)], &file);
    row(&format!("{extension}: decoder alone, one core"), &decode);
    row(&format!("{extension}: timeline, one core"), &one);
    row(&format!("{extension}: timeline, two cores"), &two);
    ratio("CPU over the decoder's, one core", one.cpu_s / decode.cpu_s, "");
    ratio("  decoder and bare bound would be", (decode.cpu_s + bare.cpu_s) / decode.cpu_s, "");
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
