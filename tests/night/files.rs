//! The recordings of the benchmark: two minutes of an invented shed's evening (noise, a voice, a carrier, a buzz),
//! over and over.
#![allow(dead_code)] // Each bench uses some of it.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use noisetally::demo::synth::{Buzz, Carrier, Carriers, Receiver, Scene, Station};
use noisetally::units::{Db, Dbfs};

/// Seconds made before they are repeated.
const MADE_S: f64 = 120.0;

/// A 16-bit mono WAV of so many hours.
pub fn wav(dir: &Path, rate_hz: u32, hours: f64) -> PathBuf {
    let path = dir.join(format!("shed-{rate_hz}-{hours}.wav"));
    let take = Scene::new(Receiver::ssb(rate_hz))
        .band_noise(Dbfs(-30.0))
        .station(Station::voice(140.0), Db(3.0))
        .device(Buzz::gated(100.0, 0.3), Db(3.0))
        .carriers(Carriers::new([Carrier::at(1234.5)]), Dbfs(-40.0))
        .seed(1)
        .render(MADE_S);
    let bytes: Vec<u8> = take
        .samples
        .iter()
        .flat_map(|x| ((x * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16).to_le_bytes())
        .collect();
    let all = (hours * 3600.0 * f64::from(rate_hz)) as u64 * 2;
    let mut file = BufWriter::new(File::create(&path).expect("a file"));
    file.write_all(&header(rate_hz, all)).expect("space on the disk");
    let mut left = all;
    while left > 0 {
        let piece = left.min(bytes.len() as u64);
        file.write_all(&bytes[..piece as usize]).expect("space on the disk");
        left -= piece;
    }
    file.flush().expect("space on the disk");
    path
}

/// The 44 bytes ahead of the samples.
pub fn header(rate_hz: u32, bytes: u64) -> Vec<u8> {
    let size = u32::try_from(bytes).expect("below 4 GiB");
    let mut head = Vec::new();
    head.extend_from_slice(b"RIFF");
    head.extend_from_slice(&(size + 36).to_le_bytes());
    head.extend_from_slice(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    head.extend_from_slice(&rate_hz.to_le_bytes());
    head.extend_from_slice(&(rate_hz * 2).to_le_bytes());
    head.extend_from_slice(b"\x02\0\x10\0data");
    head.extend_from_slice(&size.to_le_bytes());
    head
}

/// A folder in which a recording lies under `count` names, an hour apart.
pub fn repeated(dir: &Path, wav: &Path, count: usize) -> PathBuf {
    let folder = wav.with_extension("night");
    fs::create_dir_all(&folder).expect("a folder");
    for hour in 0..count {
        let name = format!("shed 2026-03-{:02} {:02}-00-00Z.wav", 14 + hour / 24, hour % 24);
        fs::hard_link(wav, folder.join(name)).expect("a second name");
    }
    assert!(folder.starts_with(dir));
    folder
}

/// The recording in another coding; `None` where ffmpeg is missing or does not know it.
pub fn coded(dir: &Path, wav: &Path, extension: &str, codec: &str) -> Option<PathBuf> {
    let path = dir.join("shed").with_extension(extension);
    let mut ffmpeg = Command::new("ffmpeg");
    ffmpeg.args(["-nostdin", "-v", "error", "-y", "-i"]).arg(wav).args(["-c:a", codec]).arg(&path);
    let done = ffmpeg.stdout(Stdio::null()).stderr(Stdio::null()).status().ok()?;
    done.success().then_some(path)
}

/// Wall time of the SciPy script in so many processes, s; `None` where it can't run.
pub fn scipy(wav: &Path, processes: usize) -> Option<f64> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/night/scipy_night.py");
    let run = |python: &str| -> Option<f64> {
        let mut python = Command::new(python);
        python.arg(&script).arg(wav).arg(processes.to_string());
        let output = python.stderr(Stdio::null()).output().ok()?;
        let words = String::from_utf8(output.stdout).ok()?;
        output.status.success().then(|| words.split_whitespace().next()?.parse().ok())?
    };
    // The system's own Python may have SciPy where the first one found has none.
    run("python3").or_else(|| run("/usr/bin/python3"))
}
