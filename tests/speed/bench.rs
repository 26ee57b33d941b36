//! What whole commands cost, as they are typed: CPU time, wall time and peak memory of `night`, `session`, `check` and
//! `pair`, beside their targets, and how they grow with hours, takes and cores. Not shipped in the program.
//!
//! ```sh
//! cargo bench --bench speed
//! cargo bench --bench speed -- --only night --turns 9
//! ```
//!
//! Every run is a process of its own, the rows of a part in turn, so that what else the machine does touches all
//! alike; the least of all turns counts: nothing makes a run faster than it is. Parts: `night`, `coded`, `session`,
//! `memory`, `scaling`. The SciPy script needs Python with SciPy, coded nights ffmpeg; without them these rows are
//! passed over and said to be.
#![allow(clippy::print_stdout)] // It is there to print its tables.

#[path = "../night/child.rs"]
mod child;
#[path = "../night/files.rs"]
mod files;
mod material;
#[path = "../common/results.rs"]
mod results;

use std::path::{Path, PathBuf};

use child::{Cost, command, run};
use results::Printed;

/// Turns of every measurement.
const TURNS: usize = 5;
/// Cores that the targets are for.
const CORES: usize = 2;

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
    let only = after("--only");
    let dir = tempfile::tempdir().expect("a folder for the recordings");
    let mut bench = Bench {
        out: Printed::default(),
        dir: dir.path().to_owned(),
        turns: after("--turns").and_then(|turns| turns.parse().ok()).unwrap_or(TURNS).max(1),
    };
    type Part = fn(&mut Bench);
    let parts: [(&str, Part); 5] = [
        ("night", Bench::night),
        ("coded", Bench::coded),
        ("session", Bench::session),
        ("memory", Bench::memory),
        ("scaling", Bench::scaling),
    ];
    for (name, part) in parts {
        if only.is_none_or(|only| only == name) {
            part(&mut bench);
            bench.out.write_results("speed", &format!("Part {name}"));
        }
    }
}

struct Bench {
    out: Printed,
    dir: PathBuf,
    turns: usize,
}

/// A command as it is typed; `{out}` stands for a folder that is taken away again.
struct Typed {
    name: String,
    words: Vec<String>,
}

impl Typed {
    fn new(name: &str, words: &[&str]) -> Self {
        Self { name: name.to_owned(), words: words.iter().map(|&word| word.to_owned()).collect() }
    }

    fn run(&self, dir: &Path) -> Cost {
        let out = dir.join("out");
        let words: Vec<String> =
            self.words.iter().map(|word| word.replace("{out}", &out.to_string_lossy())).collect();
        let cost = command(Path::new(env!("CARGO_BIN_EXE_noisetally")), &words);
        let _ = std::fs::remove_dir_all(out);
        cost
    }
}

fn path(path: &Path) -> &str {
    path.to_str().expect("a temporary folder in Unicode")
}

impl Bench {
    fn heads(&mut self, title: &str) {
        self.out.line(&format!("{title:<54}{:>8}{:>8}{:>8}", "CPU s", "wall s", "MiB"));
    }

    fn row(&mut self, name: &str, cost: &Cost) {
        self.out.line(&format!("{name:<54}{:>8.2}{:>8.2}{:>8.0}", cost.cpu_s, cost.wall_s, cost.peak_mib));
    }

    fn figure(&mut self, name: &str, figure: f64, target: &str) {
        self.out.line(&format!("  {name:<52}{figure:>8.2}   {target}"));
    }

    /// Runs commands in turn; each figure is the least of all turns, memory the most.
    fn commands(&mut self, typed: &[Typed]) -> Vec<Cost> {
        let mut costs: Vec<Vec<Cost>> = typed.iter().map(|_| Vec::new()).collect();
        for _ in 0..self.turns {
            for (costs, typed) in costs.iter_mut().zip(typed) {
                costs.push(typed.run(&self.dir));
            }
        }
        let least: Vec<Cost> = costs.iter().map(|costs| Cost::least(costs)).collect();
        for (typed, cost) in typed.iter().zip(&least) {
            self.row(&typed.name, cost);
        }
        least
    }

    /// Work of this program that is no command, in turn with nothing else.
    fn bound(&mut self, name: &str, kind: &str, file: &Path) -> Cost {
        let costs: Vec<Cost> = (0..self.turns).map(|_| run(kind, 1, file)).collect();
        let least = Cost::least(&costs);
        self.row(name, &least);
        least
    }

    /// A night of eight hours, quiet and with episodes, against the bare bound and SciPy.
    fn night(&mut self) {
        let quiet = files::wav(&self.dir, 12_000, 8.0);
        let busy = material::night(&self.dir, 12_000, 8.0);
        self.heads("8 h at 12 kHz");
        let bare = self.bound("bare bound: decode, one real FFT pass (no overlap)", "bare-apart", &quiet);
        let night = |name: &str, file: &Path, more: &[&str]| {
            Typed::new(name, &[&["night", path(file), "--out", "{out}"], more].concat())
        };
        let costs = self.commands(&[
            night("night, nothing comes or goes", &quiet, &[]),
            night("night, 20 episodes", &busy, &[]),
            night("night, 20 episodes, one core", &busy, &["--threads", "1"]),
        ]);
        self.out.line("");
        for (name, cost) in [("nothing", &costs[0]), ("20 episodes", &costs[1])] {
            self.figure(&format!("CPU over the bare bound, {name}"), cost.cpu_s / bare.cpu_s, "at most 1.5");
            self.figure(&format!("wall s, {name}"), cost.wall_s, "at most 0.9");
        }
        match files::scipy(&quiet, 1) {
            Some(first) => {
                let scipy = (1..self.turns.min(3))
                    .fold(first, |least, _| files::scipy(&quiet, 1).map_or(least, |wall_s| least.min(wall_s)));
                self.figure("SciPy script, one process, wall s", scipy, "");
                self.figure("night faster than it, nothing", scipy / costs[0].wall_s, "at least 10");
                self.figure("night faster than it, 20 episodes", scipy / costs[1].wall_s, "at least 10");
            }
            None => self.out.line("  SciPy: passed over, there is no python3 with SciPy"),
        }
        self.out.line("");
    }

    /// Nights in a coding against their decoder alone.
    fn coded(&mut self) {
        self.heads("Coded nights, 2 h at 12 kHz, one core");
        let wav = files::wav(&self.dir, 12_000, 2.0);
        let codings = [
            ("FLAC", "flac", "flac"),
            ("MP3", "mp3", "libmp3lame"),
            ("AAC", "m4a", "aac"),
            ("Opus", "opus", "libopus"),
        ];
        for (name, extension, codec) in codings {
            let Some(file) = files::coded(&self.dir, &wav, extension, codec) else {
                self.out.line(&format!("{name}: passed over, there is no ffmpeg that writes it"));
                continue;
            };
            let decode = self.bound(&format!("{name}: decoder alone"), "decode", &file);
            let typed =
                Typed::new(&format!("{name}: night"), &["night", path(&file), "--out", "{out}", "--threads", "1"]);
            let night = self.commands(&[typed])[0];
            self.figure("CPU over the decoder's", night.cpu_s / decode.cpu_s, "at most 1.35");
        }
        self.out.line("");
    }

    /// Sessions of off and on takes, and a pair.
    fn session(&mut self) {
        self.heads("Takes of 20 s at 12 kHz");
        let dirs = [10, 40, 160].map(|devices| material::session(&self.dir, devices, 20.0, 12_000));
        let typed = dirs.each_ref().map(|(devices, dir)| {
            Typed::new(&format!("session, {devices} devices"), &["session", path(dir), "--out", "{out}"])
        });
        let costs = self.commands(&typed);
        let (off, on) = (dirs[0].1.join("off-000.wav"), dirs[0].1.join("on-000.wav"));
        let pair = self.commands(&[Typed::new("pair", &["pair", path(&off), path(&on)])])[0];
        self.out.line("");
        self.figure("40 devices over 10, wall", costs[1].wall_s / costs[0].wall_s, "at most 4.4");
        self.figure("160 devices over 10, wall", costs[2].wall_s / costs[0].wall_s, "at most 18");
        self.figure("160 devices, wall s", costs[2].wall_s, "at most 15");
        self.figure("pair, wall ms", 1e3 * pair.wall_s, "at most 50");
        self.out.line("");
    }

    /// Peak memory, at each rate and over many takes.
    fn memory(&mut self) {
        self.turns = 1;
        self.heads("Takes of a minute, an off and an on take a device");
        for (command, devices, rate_hz, most) in [
            ("check", 50, 48_000, 96),
            ("check", 150, 48_000, 96),
            ("check", 30, 8_000, 96),
            ("check", 30, 192_000, 96),
            ("session", 30, 8_000, 128),
            ("session", 30, 48_000, 128),
            ("session", 30, 192_000, 128),
        ] {
            let (_, dir) = material::session(&self.dir, devices, 60.0, rate_hz);
            let name = format!(
                "{command}, {} takes at {} kHz (at most {most} MiB)",
                2 * devices,
                f64::from(rate_hz) / 1e3
            );
            let more: &[&str] = if command == "check" { &[] } else { &["--out", "{out}"] };
            self.commands(&[Typed::new(&name, &[&[command, path(&dir)], more].concat())]);
            // The longest of them is gigabytes.
            let _ = std::fs::remove_dir_all(dir);
        }
        self.out.line("");
    }

    /// How the time grows.
    fn scaling(&mut self) {
        let cores = std::thread::available_parallelism().map_or(1, |cores| cores.get());
        let mut series = |title: &str, wanted: &str, sizes: &[(usize, Typed)], pick: fn(&Cost) -> f64| {
            self.heads(title);
            let sizes_of: Vec<f64> = sizes.iter().map(|(size, _)| *size as f64).collect();
            let mut costs = Vec::new();
            for (_, typed) in sizes {
                costs.push(self.commands(std::slice::from_ref(typed))[0]);
            }
            let times: Vec<f64> = costs.iter().map(pick).collect();
            self.figure("exponent", exponent(&sizes_of, &times), wanted);
            self.out.line("");
        };
        let dir = tempfile::tempdir().expect("a folder for the recordings");
        let hours: Vec<(usize, Typed)> = [1, 2, 4, 8]
            .map(|hours| {
                let file = material::night(dir.path(), 12_000, hours as f64);
                (hours, Typed::new(&format!("{hours} h"), &["night", path(&file), "--out", "{out}"]))
            })
            .into();
        series("night, CPU s by hours", "about 1", &hours, |cost| cost.cpu_s);
        let takes: Vec<(usize, Typed)> = [2, 4, 8, 16, 32, 64]
            .map(|devices| {
                let (_, folder) = material::session(dir.path(), devices, 20.0, 12_000);
                let name = format!("{} takes", 2 * devices);
                (devices, Typed::new(&name, &["session", path(&folder), "--out", "{out}"]))
            })
            .into();
        series("session, CPU s by takes", "about 1", &takes, |cost| cost.cpu_s);
        let threads: Vec<usize> =
            (0..).map(|n| 1 << n).take_while(|&threads| threads <= cores.max(CORES)).collect();
        let by_threads = |words: &[&str]| -> Vec<(usize, Typed)> {
            let typed = |&threads: &usize| {
                let count = threads.to_string();
                let words = [words, &["--out", "{out}", "--threads", &count]].concat();
                (threads, Typed::new(&format!("{threads} threads"), &words))
            };
            threads.iter().map(typed).collect()
        };
        let night = material::night(dir.path(), 12_000, 8.0);
        series("night of 8 h, wall s by threads", "about -1", &by_threads(&["night", path(&night)]), |c| c.wall_s);
        let (_, session) = material::session(dir.path(), 40, 20.0, 12_000);
        let session = by_threads(&["session", path(&session)]);
        series("session of 80 takes, wall s by threads", "about -1", &session, |c| c.wall_s);
    }
}

/// Of the power law that fits times over sizes best: the slope of the straight line through their logarithms by least
/// squares.
fn exponent(sizes: &[f64], times: &[f64]) -> f64 {
    let logs: Vec<(f64, f64)> = sizes.iter().zip(times).map(|(size, time)| (size.ln(), time.ln())).collect();
    let n = logs.len() as f64;
    let (x, y) = logs.iter().fold((0.0, 0.0), |(x, y), log| (x + log.0 / n, y + log.1 / n));
    let (products, squares) =
        logs.iter().fold((0.0, 0.0), |(p, s), log| (p + (log.0 - x) * (log.1 - y), s + (log.0 - x).powi(2)));
    products / squares
}
