//! The invented scenario, synthesised: an evening at the pond station, with every recording's truth known.
//!
//! [`write`](fn@write) puts its recordings and manifest into a folder, [`truth`] says what a measurement ought to
//! find in them. How the audio is made: [`synth`].

mod evening;
mod lane;
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
use crate::disk::{self, Beside, MadeParents};
use crate::labels::{MANIFEST, State};
use evening::{ENTRIES, Entry, MAINS_HZ, Source};
use synth::{Kind, LineTruth, Take, TakeTruth};

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
    /// The folder is the one we are in, and a new one in its place would not be seen from here.
    #[error("{}: is the folder you are in. Nothing was written.\n  try: a new folder in it, such as `pond`", .0.display())]
    Here(PathBuf),
    /// Stopped by the user; nothing was written.
    #[error("stopped; nothing was written")]
    Stopped,
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
    write_evening(dir, Evening::Pond, seed, &|| false)
}

/// Which evening is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Evening {
    /// The shed by the pond: charger, LED strip, pump.
    #[default]
    Pond,
    /// The loft: ferrites, supplies, and a fan all over the dial.
    Loft,
    /// A house in a lane: which circuit makes the noise, and a walk to what is left.
    Lane,
    /// Twenty-four minutes at the shed, for the command night: what comes and goes by itself.
    Night,
}

/// As [`write`](fn@write), of the evening that is named. The loft's and the lane's recordings are under 2.5 MB
/// each, the night's 23 MB; they need no manifest, since their names tell when each began. `is_stopped` is asked
/// between recordings.
///
/// The folder is complete or absent: it is written beside and renamed into place.
pub fn write_evening(
    dir: &Path,
    evening: Evening,
    seed: u64,
    is_stopped: &dyn Fn() -> bool,
) -> Result<Vec<PathBuf>, DemoError> {
    whole(dir, |new| match evening {
        Evening::Pond => {
            let names: Vec<&str> = ENTRIES.iter().map(|entry| entry.file).collect();
            write_takes(new, &manifest::text()?, &names, is_stopped, |index| render(index, &ENTRIES[index], seed))
        }
        Evening::Loft => {
            let takes = loft::takes();
            let names: Vec<&str> = takes.iter().map(|take| take.file.as_str()).collect();
            let render = |index: usize| loft::scene(index, &takes[index], seed).render(loft::SECONDS);
            write_takes(new, &loft::text(&takes), &names, is_stopped, render)
        }
        Evening::Lane => {
            let takes = lane::takes();
            let names: Vec<&str> = takes.iter().map(|take| take.file.as_str()).collect();
            let render = |index: usize| lane::scene(index, &takes[index], seed).render(lane::SECONDS);
            write_takes(new, &lane::text(&takes), &names, is_stopped, render)
        }
        Evening::Night => {
            let story = night::NightStory::short();
            // The recorder begins a new file in the middle, and takes a second for it.
            night::write_night(new, &story, &[(0.0, 720.0), (721.0, story.seconds)], seed, is_stopped)
        }
    })
}

/// Has `fill` write into a new folder, and puts it at `dir`, which may be there and empty, when it is complete.
fn whole(
    dir: &Path,
    fill: impl FnOnce(&Path) -> Result<Vec<PathBuf>, DemoError>,
) -> Result<Vec<PathBuf>, DemoError> {
    let failed = |cause| DemoError::Folder { dir: dir.to_owned(), cause };
    let out = if dir.exists() { std::fs::canonicalize(dir).map_err(failed)? } else { dir.to_owned() };
    let name = out.file_name().ok_or_else(|| DemoError::Occupied(dir.to_owned()))?;
    let parent = disk::parent_of(&out);
    drop(Beside::left_behind(parent, name));
    refuse_occupied(dir)?;
    if std::env::current_dir().is_ok_and(|here| here == out) {
        return Err(DemoError::Here(dir.to_owned()));
    }
    let parents = MadeParents::make(parent).map_err(failed)?;
    let beside = Beside::make(parent, name).map_err(failed)?;
    let new = beside.make_new_folder().map_err(failed)?;
    let files = fill(&new)?;
    disk::sync_folder(&new).map_err(failed)?;
    // Elsewhere than on Windows an empty folder gives way to what is renamed onto it (POSIX.1-2024, rename).
    if cfg!(windows) && out.exists() {
        disk::remove_dir(&out).map_err(failed)?;
    }
    disk::rename(&new, &out).map_err(failed)?;
    // It stands there; a folder that can't be told to the disk is no reason to call that a failure.
    let _ = disk::sync(parent);
    parents.keep();
    Ok(files.iter().filter_map(|file| file.file_name()).map(|name| dir.join(name)).collect())
}

/// Refuses a folder that holds anything: names of the demo's recordings are such as anybody's have.
fn refuse_occupied(dir: &Path) -> Result<(), DemoError> {
    let is_file = std::fs::metadata(dir).is_ok_and(|facts| !facts.is_dir());
    let holds_something = is_file || std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if holds_something { Err(DemoError::Occupied(dir.to_owned())) } else { Ok(()) }
}

fn write_takes(
    dir: &Path,
    labels: &str,
    names: &[&str],
    is_stopped: &dyn Fn() -> bool,
    render: impl Fn(usize) -> Take,
) -> Result<Vec<PathBuf>, DemoError> {
    let mut files = Vec::new();
    for (index, name) in names.iter().enumerate() {
        if is_stopped() {
            return Err(DemoError::Stopped);
        }
        let file = dir.join(name);
        let take = render(index);
        write_wav(&file, &take.samples, take.rate_hz, 1)?;
        files.push(file);
    }
    let manifest = dir.join(MANIFEST);
    disk::write(&manifest, labels).map_err(|cause| DemoError::Manifest { file: manifest.clone(), cause })?;
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
        total_excess_db: powers.total_excess().0,
        kinds: powers.devices().map(|p| p.kind).collect(),
        mains_rate_hz: matches!(entry.source, Source::Charger { .. }).then_some(2.0 * MAINS_HZ),
        pulse_rate_hz: (pulses > 0).then_some(pulses as f64 / entry.seconds),
        lines: powers.device_lines().copied().collect(),
        comb_spacing_hz: matches!(entry.source, Source::Strip { .. }).then_some(evening::STRIP_SPACING_HZ),
        powers,
    }
}
