//! How fast a night is gone through, and in how much memory, against bounds from outside: the transform alone, the
//! decoder alone, and a SciPy script that measures the same. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench night -- --hours 8
//! cargo bench --bench night -- --truth --hours 8 --seeds 9,10,11
//! cargo bench --bench night -- --clicks --hours 8 --seeds 9,10,11
//! cargo bench --bench night -- --overlap --hours 8 --seeds 9,10,11
//! ```
//!
//! The second goes through nights at the shed whose story is known, and tells what was found of it; the third through
//! nights of fences and thunder; the fourth through nights whose noises overlap, and tells how strong they were told
//! to be.
//! `--write-results` puts the tables into `RESULTS.md`.
//!
//! Every measurement runs in a process of its own, several times in turn with the others, so that what else the
//! machine does touches all alike; the median counts. FLAC and MP3 need ffmpeg, the script needs Python with SciPy;
//! without them these lines are passed over and said to be.
#![allow(clippy::print_stdout)] // It is there to print its tables.

mod child;
mod clicks;
mod files;
mod overlap;
#[path = "../common/results.rs"]
mod results;
mod truth;

use std::path::Path;

use child::{Cost, run};
use noisetally::demo::night::NightStory;
use noisetally::warning::Trust;
use results::Printed;
use truth::Score;

/// Turns of every measurement.
const TURNS: usize = 5;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|argument| argument == "--child") {
        child::work(&arguments[at + 1..]);
        return;
    }
    let after = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name)?;
        arguments.get(place + 1)
    };
    let value = |name: &str| after(name)?.parse::<f64>().ok();
    let hours = value("--hours").unwrap_or(8.0);
    let turns = value("--turns").map_or(TURNS, |turns| turns as usize).max(1);
    let dir = tempfile::tempdir().expect("a folder for the recordings");
    let mut out = Printed::default();
    if arguments.iter().any(|argument| argument == "--clicks") {
        let seeds = after("--seeds").map_or("1", String::as_str);
        clicks::against_truth(&mut out, hours, seeds);
        out.write_results("night", &format!("Nights of fences and thunder, seeds {seeds}"));
        return;
    }
    if arguments.iter().any(|argument| argument == "--truth") {
        let seeds = after("--seeds").or(after("--seed")).map_or("1", String::as_str);
        against_truth(&mut out, hours, seeds);
        out.write_results("night", &format!("Nights of known story, seeds {seeds}"));
        return;
    }
    if arguments.iter().any(|argument| argument == "--overlap") {
        let seeds = after("--seeds").or(after("--seed")).map_or("1", String::as_str);
        overlap::against_truth(&mut out, hours, seeds);
        out.write_results("night", &format!("Nights of noises that overlap, seeds {seeds}"));
        return;
    }
    out.line(&format!("noisetally night: {hours} h of 12 kHz mono WAV, medians of {turns} turns\n"));
    let wav = files::wav(dir.path(), 12_000, hours);
    let bare = speed(&mut out, &wav, turns);
    against_scipy(&mut out, &wav, turns);
    out.line("");
    for (extension, codec) in [("flac", "flac"), ("mp3", "libmp3lame")] {
        coded(&mut out, dir.path(), &wav, (extension, codec), turns, &bare);
    }
    out.line("");
    if !arguments.iter().any(|argument| argument == "--no-memory") {
        memory(&mut out, dir.path());
    }
    out.write_results("night", &format!("Speed and memory, {hours} h"));
}

/// Nights at the shed: what was found of each story on the screen, and how much of all of them.
fn against_truth(out: &mut Printed, hours: f64, seeds: &str) {
    let mut rows = Vec::new();
    for seed in seeds.split(',').filter_map(|seed| seed.trim().parse::<u64>().ok()) {
        let dir = tempfile::tempdir().expect("a folder for the night");
        let story = NightStory::long(hours, seed);
        // Four files, a second between them.
        let quarter = story.seconds / 4.0;
        let spans: Vec<(f64, f64)> =
            (0..4).map(|n| (quarter * f64::from(n), quarter * f64::from(n + 1) - 1.0)).collect();
        let night = truth::night(dir.path(), &story, &spans, seed);
        let score = Score::of(&story, &night.report);
        told(&story, &score, seed);
        rows.push((seed.to_string(), counts(&score)));
    }
    let together = std::array::from_fn(|i| rows.iter().map(|(_, counts)| counts[i]).sum());
    rows.push(("together".to_owned(), together));
    out.line(&format!("{hours} h each     noises     carriers  none of them    sound  doubtful  void     found"));
    for (name, [noises, all_noises, carriers, all_carriers, none, sound, doubtful, void]) in rows {
        let of = |found: usize, wanted: usize| format!("{found} of {wanted}");
        let (noises_of, carriers_of) = (of(noises, all_noises), of(carriers, all_carriers));
        let share = 100.0 * (noises + carriers) as f64 / (all_noises + all_carriers).max(1) as f64;
        out.line(&format!(
            "{name:<8}{noises_of:>13}{carriers_of:>13}{none:>14}{sound:>9}{doubtful:>10}{void:>6}{share:>8.1} %"
        ));
    }
}

/// Of a night: noises found and to be found, devices of carriers alone found and to be found, episodes that are
/// none, and the found ones that were sound, doubtful, void.
fn counts(score: &Score) -> [usize; 8] {
    let mut counts = [0; 8];
    counts[4] = score.false_ones.len();
    for (noise, episode) in &score.wanted {
        let kind = if noise.sound.is_lines() { 2 } else { 0 };
        counts[kind + 1] += 1;
        let Some(episode) = episode else { continue };
        counts[kind] += 1;
        counts[match episode.contrast.trust {
            Trust::Sound | Trust::Unrepeated => 5,
            Trust::Doubtful => 6,
            Trust::Void => 7,
        }] += 1;
    }
    counts
}

/// What was found of a night's story, one by one.
fn told(story: &NightStory, score: &Score, seed: u64) {
    println!("noisetally night: {:.1} h at the shed, seed {seed}\n", story.seconds / 3600.0);
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
    let found = score.found() as f64 / score.wanted.len() as f64;
    println!("  {:<42}{found:>9.2}   at least 0.95", "found, start and end within 2 s");
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
fn speed(out: &mut Printed, wav: &Path, turns: usize) -> Cost {
    let [bare, one, two] = in_turn(turns, [("bare", 1), ("night", 1), ("night", 2)], wav);
    out.line(&format!("{:<44}{:>9}{:>9}", "", "CPU s", "wall s"));
    row(out, "bare bound (read, Hann, FFT), one core", &bare);
    row(out, "timeline, one core", &one);
    row(out, "timeline, two cores", &two);
    out.line("");
    ratio(out, "CPU over the bare bound, one core", one.cpu_s / bare.cpu_s, "at most 2.0");
    ratio(out, "wall over the bare bound, two cores", two.wall_s / bare.wall_s, "at most 1.2");
    bare
}

fn against_scipy(out: &mut Printed, wav: &Path, turns: usize) {
    let Some(mut scipy) = files::scipy(wav, 2) else {
        out.line("SciPy: passed over, there is no python3 with SciPy");
        return;
    };
    let mut walls = Vec::new();
    for _ in 0..turns.min(3) {
        walls.push(run("night", 2, wav).wall_s);
        scipy = scipy.min(files::scipy(wav, 2).unwrap_or(scipy));
    }
    walls.sort_unstable_by(f64::total_cmp);
    out.line(&format!("{:<44}{:>9}{scipy:>9.3}", "SciPy script, two processes (its best)", ""));
    ratio(out, "faster than it, two cores", scipy / walls[walls.len() / 2], "at least 8");
}

/// A night in a coding against its decoder alone, and what the bare bound would add to that.
fn coded(out: &mut Printed, dir: &Path, wav: &Path, (extension, codec): (&str, &str), turns: usize, bare: &Cost) {
    let Some(file) = files::coded(dir, wav, extension, codec) else {
        out.line(&format!("{extension}: passed over, there is no ffmpeg that writes it"));
        return;
    };
    let [decode, one, two] = in_turn(turns, [("decode", 1), ("night", 1), ("night", 2)], &file);
    row(out, &format!("{extension}: decoder alone, one core"), &decode);
    row(out, &format!("{extension}: timeline, one core"), &one);
    row(out, &format!("{extension}: timeline, two cores"), &two);
    ratio(out, "CPU over the decoder's, one core", one.cpu_s / decode.cpu_s, "");
    ratio(out, "  decoder and bare bound would be", (decode.cpu_s + bare.cpu_s) / decode.cpu_s, "");
    ratio(out, "wall, two cores, over the decoder's on one", two.wall_s / decode.wall_s, "at most 1.3");
}

/// Peak memory of 1 h and 24 h at several rates: the long nights are the same hour under 24 names.
fn memory(out: &mut Printed, dir: &Path) {
    out.line(&format!("{:<44}{:>9}", "peak memory, two cores", "MiB"));
    for rate_hz in [8_000, 12_000, 48_000] {
        let wav = files::wav(dir, rate_hz, 1.0);
        let night = files::repeated(dir, &wav, 24);
        for (name, path) in [("1 h", &wav), ("24 h", &night)] {
            let cost = run("night", 2, path);
            out.line(&format!(
                "{:<44}{:>9.1}   at most 96",
                format!("{name} of {} kHz", f64::from(rate_hz) / 1e3),
                cost.peak_mib
            ));
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

fn row(out: &mut Printed, name: &str, cost: &Cost) {
    out.line(&format!("{name:<44}{:>9.3}{:>9.3}", cost.cpu_s, cost.wall_s));
}

fn ratio(out: &mut Printed, name: &str, ratio: f64, target: &str) {
    out.line(&format!("  {name:<42}{ratio:>9.2}   {target}"));
}
