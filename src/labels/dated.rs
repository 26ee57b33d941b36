//! The recordings of a night, and when each began as far as manifest and file names tell.
//!
//! A night needs no states and no devices, only times: a manifest may be there or not. No audio file is opened.
//! Not here: times that only the file itself tells, and what is made of them (`night::clock`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::error::SessionError;
use super::files::{self, AudioFile};
use super::manifest::{self, Manifest};
use super::read::manifest_text;
use super::start::Start;
use super::{MANIFEST, names, printable};

/// Which label told the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DatedBy {
    /// `started` in the manifest.
    Manifest,
    /// Date and time in the file's name.
    Name,
}

/// A recording and its start, where a label tells one.
#[derive(Debug, Clone, PartialEq)]
pub struct Dated {
    /// Name, relative to the folder that was asked for.
    pub file: String,
    /// Where to open it.
    pub path: PathBuf,
    /// When it began, and what tells so.
    pub start: Option<(Start, DatedBy)>,
    /// The channel that the manifest wishes.
    pub channel: Option<String>,
    /// Gain and AGC, in the manifest's words.
    pub gain: Option<String>,
    /// The station, in the manifest's words.
    pub station: Option<String>,
}

/// The recordings that some paths stand for, in natural order within each: a file for itself, a folder for the
/// audio files right in it. A file named twice is taken once.
///
/// # Errors
/// A folder that can't be listed or holds no audio, or a manifest with mistakes.
pub fn dated_files(paths: &[PathBuf]) -> Result<Vec<Dated>, SessionError> {
    let mut all: Vec<Dated> = Vec::new();
    let mut manifests: BTreeMap<PathBuf, Manifest> = BTreeMap::new();
    for (file, dir) in named_files(paths)? {
        if all.iter().any(|other| other.path == file.path) {
            continue;
        }
        if !manifests.contains_key(&dir) {
            manifests.insert(dir.clone(), manifest_of(&dir)?);
        }
        all.push(dated(file, &manifests[&dir]));
    }
    Ok(all)
}

/// The files that some paths stand for, each with the folder whose manifest counts for it.
pub(super) fn named_files(paths: &[PathBuf]) -> Result<Vec<(AudioFile, PathBuf)>, SessionError> {
    let mut all = Vec::new();
    for path in paths {
        if path.is_dir() {
            let found = files::audio_files(path);
            let found = found.map_err(|cause| SessionError::Folder { dir: path.to_owned(), cause })?;
            if found.is_empty() {
                return Err(SessionError::NoAudio { dir: path.to_owned() });
            }
            all.extend(found.into_iter().map(|file| (file, path.clone())));
        } else {
            let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            let dir = path.parent().filter(|dir| !dir.as_os_str().is_empty()).unwrap_or(Path::new("."));
            all.push((AudioFile { name, path: path.to_owned(), exact: true }, dir.to_owned()));
        }
    }
    Ok(all)
}

fn manifest_of(dir: &Path) -> Result<Manifest, SessionError> {
    let path = dir.join(MANIFEST);
    let Some(text) = manifest_text(&path)? else { return Ok(Manifest::default()) };
    manifest::parse(&text).map_err(|faults| SessionError::Manifest { path, faults })
}

fn dated(file: AudioFile, manifest: &Manifest) -> Dated {
    let entry = manifest.entries.iter().find(|entry| entry.file.trim_start_matches("./") == file.name);
    let by_manifest = entry.and_then(|entry| entry.fields.started).map(|at| (at, DatedBy::Manifest));
    let by_name = || names::read(&file.name).fields.started.map(|at| (at, DatedBy::Name));
    Dated {
        start: by_manifest.or_else(by_name),
        channel: entry.and_then(|entry| entry.fields.channel.clone()),
        gain: entry.and_then(|entry| entry.fields.gain.clone()),
        station: manifest.station.clone().filter(|station| !station.is_empty()),
        file: printable(&file.name),
        path: file.path,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manifest_speaks_before_the_name() {
        let dir = tempfile::tempdir().unwrap();
        let named =
            ["shed 20260314_2130.wav", "shed_2026-03-14T22-30-00Z.wav", "shed-20260314233000.flac", "shed.wav"];
        for name in named {
            std::fs::write(dir.path().join(name), b"").unwrap();
        }
        let text = "[[recording]]\nfile = \"shed.wav\"\nstarted = 2026-03-15T01:30:00+01:00\n";
        std::fs::write(dir.path().join(MANIFEST), text).unwrap();
        let files = dated_files(&[dir.path().to_owned()]).unwrap();
        let told: Vec<_> = files
            .iter()
            .map(|f| {
                let (start, by) = f.start.unwrap();
                (f.file.as_str(), start.at.to_string(), start.zoned, by)
            })
            .collect();
        assert_eq!(
            told,
            [
                ("shed 20260314_2130.wav", "2026-03-14T21:30:00Z".into(), false, DatedBy::Name),
                ("shed-20260314233000.flac", "2026-03-14T23:30:00Z".into(), false, DatedBy::Name),
                ("shed.wav", "2026-03-15T00:30:00Z".into(), true, DatedBy::Manifest),
                ("shed_2026-03-14T22-30-00Z.wav", "2026-03-14T22:30:00Z".into(), true, DatedBy::Name),
            ]
        );
    }

    #[test]
    fn the_manifest_tells_the_gain() {
        let dir = tempfile::tempdir().unwrap();
        ["a.wav", "b.wav"].iter().for_each(|name| std::fs::write(dir.path().join(name), b"").unwrap());
        std::fs::write(dir.path().join(MANIFEST), "[[recording]]\nfile = \"a.wav\"\ngain = \"AGC off\"\n").unwrap();
        let gains: Vec<_> = dated_files(&[dir.path().to_owned()]).unwrap().into_iter().map(|f| f.gain).collect();
        assert_eq!(gains, [Some("AGC off".to_owned()), None]);
    }

    #[test]
    fn a_file_named_twice_is_taken_once() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("a.wav");
        std::fs::write(&file, b"").unwrap();
        let files = dated_files(&[dir.path().to_owned(), file]).unwrap();
        assert_eq!(files.len(), 1);
        assert_eq!(files[0].start, None);
    }
}
