//! One measurement in a process of its own: what it costs in CPU time, wall time and memory.
//!
//! CPU time and peak memory are those Linux keeps of the process (`/proc`); elsewhere the benchmark can't run.
#![allow(dead_code)] // Each bench uses some of it.

use std::fs::{self, File};
use std::hint::black_box;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use realfft::RealFftPlanner;

use noisetally::audio::{ChannelChoice, Mono};
use noisetally::labels::dated_files;
use noisetally::night::{NightSettings, read_timeline};
use noisetally::signal::spectrum::{frame_len, hann};

/// What a run cost.
#[derive(Debug, Clone, Copy)]
pub struct Cost {
    pub cpu_s: f64,
    pub wall_s: f64,
    pub peak_mib: f64,
}

impl Cost {
    /// Each figure's own median.
    pub fn median(costs: &[Self]) -> Self {
        let of = |figure: fn(&Self) -> f64| {
            let mut figures: Vec<f64> = costs.iter().map(figure).collect();
            figures.sort_unstable_by(f64::total_cmp);
            figures[figures.len() / 2]
        };
        Self { cpu_s: of(|c| c.cpu_s), wall_s: of(|c| c.wall_s), peak_mib: of(|c| c.peak_mib) }
    }

    /// The least time, and the most memory.
    pub fn least(costs: &[Self]) -> Self {
        let least = |figure: fn(&Self) -> f64| costs.iter().map(figure).fold(f64::INFINITY, f64::min);
        Self {
            cpu_s: least(|c| c.cpu_s),
            wall_s: least(|c| c.wall_s),
            peak_mib: costs.iter().map(|c| c.peak_mib).fold(0.0, f64::max),
        }
    }
}

/// How often a command is asked for the most memory it held: seen is what stood at least so long.
const ASKED_EVERY: Duration = Duration::from_millis(2);

/// Runs a program as it is typed. CPU time is told by hundredths of a second; an exit code of 1, some recordings
/// left out, is as good as 0.
pub fn command(program: &Path, words: &[String]) -> Cost {
    let cpu = cpu_of_children_s();
    let start = Instant::now();
    let mut child =
        Command::new(program).args(words).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it starts");
    let mut peak = 0.0f64;
    let status = loop {
        if let Some(status) = child.try_wait().expect("a child of this program") {
            break status;
        }
        peak = peak.max(peak_mib_of(&child.id().to_string()).unwrap_or(0.0));
        thread::sleep(ASKED_EVERY);
    };
    let wall_s = start.elapsed().as_secs_f64();
    assert!(matches!(status.code(), Some(0 | 1)), "{words:?}: {status}");
    Cost { cpu_s: cpu_of_children_s() - cpu, wall_s, peak_mib: peak }
}

/// CPU time of all children that were waited for, s. Source: proc(5), `stat`: fields 16 and 17, in hundredths of a
/// second on all common systems.
fn cpu_of_children_s() -> f64 {
    let stat = fs::read_to_string("/proc/self/stat").expect("Linux keeps account of processes here");
    let behind_name = stat.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks = behind_name.split_whitespace().skip(13).take(2).filter_map(|word| word.parse::<f64>().ok());
    ticks.sum::<f64>() / 100.0
}

/// Runs a kind of work on a file or a folder in a process of its own.
pub fn run(kind: &str, threads: usize, path: &Path) -> Cost {
    let this = std::env::current_exe().expect("this program has a path");
    let output =
        Command::new(this).args(["--child", kind, &threads.to_string()]).arg(path).output().expect("it starts");
    let words = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{kind}: {words}{}", String::from_utf8_lossy(&output.stderr));
    let numbers: Vec<f64> = words.split_whitespace().map(|word| word.parse().expect("a number")).collect();
    Cost { cpu_s: numbers[0], wall_s: numbers[1], peak_mib: numbers[2] }
}

/// What the process does: `kind threads path`; prints its cost.
pub fn work(arguments: &[String]) {
    let [kind, threads, path] = arguments else { panic!("kind, threads and path are wanted") };
    let (threads, path) = (threads.parse().expect("a number of threads"), PathBuf::from(path));
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().expect("the first pool");
    // Threads are there before the clock runs, as they are in a program that has more to do.
    rayon::broadcast(|_| ());
    let (start, cpu) = (Instant::now(), cpu_s());
    match kind.as_str() {
        "bare" => bare(&path, 2),
        "bare-apart" => bare(&path, 1),
        "decode" => decode(&path),
        "night" => night(&path),
        other => panic!("{other}?"),
    }
    println!("{} {} {}", cpu_s() - cpu, start.elapsed().as_secs_f64(), peak_mib());
}

/// The least that any program must do that takes spectra of a 16-bit mono WAV: read it, turn it into numbers,
/// transform Hann frames that overlap by half (`overlap` 2) or not at all (1), add up their powers.
fn bare(path: &Path, overlap: usize) {
    let mut file = File::open(path).expect("the recording");
    let mut head = [0u8; 44];
    file.read_exact(&mut head).expect("a header");
    let rate_hz = u32::from_le_bytes([head[24], head[25], head[26], head[27]]);
    file.seek(SeekFrom::Start(44)).expect("samples");
    let len = frame_len(rate_hz);
    let window = hann(len);
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(len);
    let (mut frame, mut spectrum) = (fft.make_input_vec(), fft.make_output_vec());
    let mut scratch = fft.make_scratch_vec();
    let mut sum = vec![0f32; spectrum.len()];
    let mut bytes = vec![0u8; 64 * 1024];
    let mut samples: Vec<f32> = Vec::with_capacity(len + bytes.len());
    loop {
        let got = file.read(&mut bytes).expect("samples");
        if got == 0 {
            break;
        }
        let pairs = bytes[..got].as_chunks::<2>().0;
        samples.extend(pairs.iter().map(|&pair| f32::from(i16::from_le_bytes(pair)) / 32_768.0));
        let mut start = 0;
        while start + len <= samples.len() {
            for ((out, &x), &w) in frame.iter_mut().zip(&samples[start..]).zip(&window) {
                *out = x * w;
            }
            fft.process_with_scratch(&mut frame, &mut spectrum, &mut scratch).expect("lengths fit");
            for (sum, value) in sum.iter_mut().zip(&spectrum) {
                *sum += value.norm_sqr();
            }
            start += len / overlap;
        }
        samples.drain(..start);
    }
    black_box(sum);
}

fn decode(path: &Path) {
    let mut audio = Mono::open(path, ChannelChoice::Auto).expect("the recording");
    let mut block = Vec::new();
    while audio.read_block(&mut block).expect("samples") {
        black_box(&block);
        block.clear();
    }
}

fn night(path: &Path) {
    let files = dated_files(&[path.to_owned()]).expect("the recordings");
    let timeline = read_timeline(&files, &NightSettings::default(), &()).expect("a timeline");
    assert!(timeline.left_out.is_empty(), "{:?}", timeline.left_out);
    black_box(timeline.minutes());
}

/// CPU time of all threads alive, s.
fn cpu_s() -> f64 {
    let tasks = fs::read_dir("/proc/self/task").expect("Linux keeps account of threads here");
    let of_thread = |task: fs::DirEntry| -> Option<f64> {
        fs::read_to_string(task.path().join("schedstat")).ok()?.split_whitespace().next()?.parse().ok()
    };
    tasks.flatten().filter_map(of_thread).sum::<f64>() / 1e9
}

/// Most memory this process ever held, MiB.
fn peak_mib() -> f64 {
    peak_mib_of("self").expect("Linux keeps account of memory here")
}

/// Most memory a process ever held, MiB; `None` once it has ended.
fn peak_mib_of(process: &str) -> Option<f64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}
