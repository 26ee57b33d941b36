//! The invented scenario, synthesised: an evening at the pond station, with every recording's truth known.
//!
//! [`write`](fn@write) puts its recordings and manifest into a folder, [`truth`] says what a measurement ought to
//! find in them. How the audio is made: [`synth`].

mod evening;
mod loft;
mod manifest;
pub mod night;
pub mod synth;
#[cfg(test)]
mod tests;

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::audio::{AudioError, write_wav};
use crate::labels::State;
use evening::{ENTRIES, Entry, MAINS_HZ, Source};
use synth::{Kind, LineTruth, Take, TakeTruth};

/// Name of the manifest.
const MANIFEST: &str = "session.toml";

/// Why the demo's folder could not be written.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The folder holds something, which may be the user's own recordings.
    #[error("{}: there is something in it already. Nothing was written.\n  try: a new, empty folder", .0.display())]
    Occupied(PathBuf),
    /// The folder could not be made.
    #[error("{}: the folder can't be made", .dir.display())]
    Folder {
        /// The folder.
        dir: PathBuf,
        /// What the system said.
        #[source]
        cause: io::Error,
    },
    /// A recording could not be written.
    #[error(transparent)]
    Recording(#[from] AudioError),
    /// The manifest could not be put into words.
    #[error("the demo's labels can't be written as TOML")]
    Labels(#[from] toml::ser::Error),
    /// The manifest could not be written.
    #[error("{}: the manifest can't be written", .file.display())]
    Manifest {
        /// The file.
        file: PathBuf,
        /// What the system said.
        #[source]
        cause: io::Error,
    },
}

/// Writes the evening's recordings (16-bit WAV, 8 kHz, mono; under 8 MB in all) and `session.toml` into `dir`,
/// which is made if need be. Returns the files in the order written, the manifest last. The same seed gives the
/// same bytes on a machine. A folder that holds anything is left as it is: [`DemoError::Occupied`].
pub fn write(dir: &Path, seed: u64) -> Result<Vec<PathBuf>, DemoError> {
    let names: Vec<&str> = ENTRIES.iter().map(|entry| entry.file).collect();
    write_takes(dir, &manifest::text()?, &names, |index| render(index, &ENTRIES[index], seed))
}

/// Which evening is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Evening {
    /// The shed by the pond: charger, LED strip, pump.
    #[default]
    Pond,
    /// The loft: ferrites, supplies, and a fan all over the dial.
    Loft,
    /// Twenty-four minutes at the shed, for the command night: what comes and goes by itself.
    Night,
}

/// As [`write`](fn@write), of the evening that is named. The loft's recordings are under 2.5 MB in all, the night's
/// 23 MB; they need no manifest, since their names tell when each began.
pub fn write_evening(dir: &Path, evening: Evening, seed: u64) -> Result<Vec<PathBuf>, DemoError> {
    match evening {
        Evening::Pond => write(dir, seed),
        Evening::Loft => {
            let takes = loft::takes();
            let names: Vec<&str> = takes.iter().map(|take| take.file.as_str()).collect();
            let render = |index: usize| loft::scene(index, &takes[index], seed).render(loft::SECONDS);
            write_takes(dir, &loft::text(&takes), &names, render)
        }
        Evening::Night => {
            let story = night::NightStory::short();
            refuse_occupied(dir)?;
            // The recorder begins a new file in the middle, and takes a second for it.
            night::write_night(dir, &story, &[(0.0, 720.0), (721.0, story.seconds)], seed)
        }
    }
}

/// Refuses a folder that holds anything: names of the demo's recordings are such as anybody's have.
fn refuse_occupied(dir: &Path) -> Result<(), DemoError> {
    let holds_something = std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if holds_something { Err(DemoError::Occupied(dir.to_owned())) } else { Ok(()) }
}

fn write_takes(
    dir: &Path,
    labels: &str,
    names: &[&str],
    render: impl Fn(usize) -> Take,
) -> Result<Vec<PathBuf>, DemoError> {
    refuse_occupied(dir)?;
    std::fs::create_dir_all(dir).map_err(|cause| DemoError::Folder { dir: dir.to_owned(), cause })?;
    let mut files = Vec::new();
    for (index, name) in names.iter().enumerate() {
        let file = dir.join(name);
        let take = render(index);
        write_wav(&file, &take.samples, take.rate_hz, 1)?;
        files.push(file);
    }
    // Last, so that a folder with a manifest has all that the manifest names.
    let manifest = dir.join(MANIFEST);
    std::fs::write(&manifest, labels).map_err(|cause| DemoError::Manifest { file: manifest.clone(), cause })?;
    files.push(manifest);
    Ok(files)
}

/// What is true of one of the evening's recordings.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// File name.
    pub file: &'static str,
    /// Its state.
    pub state: State,
    /// The device that is on.
    pub device: Option<&'static str>,
    /// What was done to quieten it.
    pub remedy: Option<&'static str>,
    /// What the device alone does to the noise of band and receiver, without its carriers: 10·lg((noise +
    /// device)/noise). 0 in the off state.
    pub excess_db: f64,
    /// The same without its clicks: what an estimate finds that is blind to pulses.
    pub steady_excess_db: f64,
    /// The excess of all it has, clicks and carriers included.
    pub total_excess_db: f64,
    /// Kinds of the device's noise.
    pub kinds: Vec<Kind>,
    /// The rate at which its hash pulses.
    pub mains_rate_hz: Option<f64>,
    /// Clicks a second in this take.
    pub pulse_rate_hz: Option<f64>,
    /// Its carriers.
    pub lines: Vec<LineTruth>,
    /// Distance of neighbouring places of its comb.
    pub comb_spacing_hz: Option<f64>,
    /// All powers, those of the stations among them.
    pub powers: TakeTruth,
}

/// What is true of the recordings [`write`](fn@write) makes from this seed, in their order. Makes them anew in
/// memory: a second or two of work.
pub fn truth(seed: u64) -> Vec<Truth> {
    ENTRIES.iter().enumerate().map(|(index, entry)| truth_of(entry, render(index, entry, seed).truth)).collect()
}

fn render(index: usize, entry: &Entry, seed: u64) -> Take {
    evening::scene(index, entry, seed).render(entry.seconds)
}

fn truth_of(entry: &Entry, powers: TakeTruth) -> Truth {
    let pulses: usize = powers.devices().filter(|p| p.kind == Kind::Clicks).map(|p| p.pulses_s.len()).sum();
    Truth {
        file: entry.file,
        state: entry.state,
        device: entry.source.device(),
        remedy: entry.remedy.map(|(words, _)| words),
        excess_db: powers.excess().0,
        steady_excess_db: powers.steady_excess().0,
        total_excess_db: powers.total_excess().0,
        kinds: powers.devices().map(|p| p.kind).collect(),
        mains_rate_hz: matches!(entry.source, Source::Charger { .. }).then_some(2.0 * MAINS_HZ),
        pulse_rate_hz: (pulses > 0).then_some(pulses as f64 / entry.seconds),
        lines: powers.device_lines().copied().collect(),
        comb_spacing_hz: matches!(entry.source, Source::Strip { .. }).then_some(evening::STRIP_SPACING_HZ),
        powers,
    }
}
