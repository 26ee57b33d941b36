//! Recordings taken one by one, each with what a manifest beside it or its own name tells: for what compares
//! nothing. They need no state, no device and no order. No audio file is opened. Not here: what is compared
//! (`read`, `group`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::dated::named_files;
use super::error::SessionError;
use super::fields::{Fields, State};
use super::label::{Label, Session, Setting};
use super::listening::ListeningLabels;
use super::read::{Outside, manifest_text};
use super::{MANIFEST, manifest, names, printable};

/// One recording, and what is known of how it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Single {
    /// Its name.
    pub file: String,
    /// Where to open it.
    pub path: PathBuf,
    /// State of a device, where a label tells it.
    pub state: Option<State>,
    /// How it was made.
    pub fields: Fields,
    /// Mains frequency in Hz, where the manifest beside it gives one.
    pub mains_hz: Option<f64>,
    /// Antenna and calibration of the manifest beside it.
    pub listening: ListeningLabels,
    /// Recordings of the same setting that hang their level on a power or a meter; none where it does so itself.
    pub calibrated_by: Vec<Label>,
}

/// What is said of files that were given more than once.
pub struct Singles {
    /// The recordings, in the order they were given; those of a folder in natural order.
    pub recordings: Vec<Single>,
    /// Names given again, which were passed over.
    pub again: Vec<String>,
}

/// The recordings that some paths stand for: a file for itself, a folder for the audio files right in it.
///
/// # Errors
/// A folder that can't be listed or holds no audio, or a manifest with mistakes.
pub fn single_files(paths: &[PathBuf]) -> Result<Singles, SessionError> {
    let mut beside: BTreeMap<PathBuf, Beside> = BTreeMap::new();
    let mut found = Singles { recordings: Vec::new(), again: Vec::new() };
    let mut known = Vec::new();
    for (file, dir) in named_files(paths)? {
        // What can't be resolved is told when it is opened.
        let whole = file.path.canonicalize().unwrap_or_else(|_| file.path.clone());
        if known.contains(&whole) {
            found.again.push(printable(&file.name));
            continue;
        }
        known.push(whole);
        if !beside.contains_key(&dir) {
            beside.insert(dir.clone(), Beside::read(&dir)?);
        }
        found.recordings.push(beside[&dir].single(&file.name, file.path));
    }
    Ok(found)
}

impl Single {
    /// What a comparison would have to keep equal, under this id.
    pub fn setting(&self, id: &str) -> Setting {
        let Fields { dial_khz, band, mode, bandwidth_hz, antenna, gain, .. } = self.fields.clone();
        Setting { id: id.to_owned(), dial_khz, band, mode, bandwidth_hz, antenna, gain }
    }
}

/// What the manifest of a folder tells; nothing where there is none.
#[derive(Default)]
struct Beside {
    entries: Vec<manifest::Entry>,
    /// The same as a session, where it is one.
    session: Option<Session>,
    mains_hz: Option<f64>,
    listening: ListeningLabels,
}

impl Beside {
    fn read(dir: &Path) -> Result<Self, SessionError> {
        let path = dir.join(MANIFEST);
        let Some(text) = manifest_text(&path)? else { return Ok(Self::default()) };
        let read = manifest::parse(&text).map_err(|faults| SessionError::Manifest { path, faults })?;
        Ok(Self {
            entries: read.entries,
            mains_hz: read.mains_hz,
            listening: read.listening,
            // A folder that makes no session has labels all the same.
            session: Session::read_from(dir, Outside::Refused).ok(),
        })
    }

    fn single(&self, name: &str, path: PathBuf) -> Single {
        let labels = self.session.iter().flat_map(|session| &session.recordings);
        let label = labels.clone().find(|label| label.file.trim_start_matches("./") == name);
        let entry = self.entries.iter().find(|entry| entry.file.trim_start_matches("./") == name);
        let (state, fields) = match (label, entry) {
            (Some(label), _) => (Some(label.state), label.fields.clone()),
            (None, entry) => {
                let read = names::read(name);
                let given = entry.map(|entry| entry.fields.clone()).unwrap_or_default();
                (entry.and_then(|e| e.state).or(read.state.ok()), given.or(read.fields, &mut Vec::new()))
            }
        };
        let hangs = |fields: &Fields| fields.dbm.is_some() || fields.meter.is_some();
        let calibrated_by = match label.filter(|_| !hangs(&fields)) {
            Some(mine) => labels.filter(|l| l.setting == mine.setting && hangs(l)).cloned().collect(),
            None => Vec::new(),
        };
        Single {
            file: printable(name),
            path,
            state,
            fields,
            mains_hz: self.mains_hz,
            listening: self.listening.clone(),
            calibrated_by,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::labels::Mode;

    #[test]
    fn a_manifest_beside_it_speaks_before_the_name_and_lends_its_calibration() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["01-off 7100kHz USB.wav", "02-pump-on.wav", "evening.wav"] {
            std::fs::write(dir.path().join(name), b"").unwrap();
        }
        let text = "mains_hz = 60\n[[recording]]\nfile = \"01-off 7100kHz USB.wav\"\ndbm = -85.0\n\
                    [[recording]]\nfile = \"02-pump-on.wav\"\nmode = \"USB\"\n";
        std::fs::write(dir.path().join(MANIFEST), text).unwrap();
        let paths = ["02-pump-on.wav", "evening.wav", "02-pump-on.wav"].map(|name| dir.path().join(name));
        let found = single_files(&paths).unwrap();
        assert_eq!(found.again, ["02-pump-on.wav"]);
        let [pump, evening] = &found.recordings[..] else { panic!("{:?}", found.recordings) };
        assert_eq!((pump.state, pump.fields.mode), (Some(State::On), Some(Mode::Usb)));
        // The dial is the only one that the session names.
        assert_eq!((pump.fields.dial_khz, pump.mains_hz), (Some(7100.0), Some(60.0)));
        assert_eq!(pump.calibrated_by.iter().map(|l| l.dbm).collect::<Vec<_>>(), [Some(-85.0)]);
        assert_eq!((evening.state, evening.calibrated_by.len()), (None, 0));
    }

    #[test]
    fn a_mistake_in_the_manifest_is_told_and_a_folder_stands_for_its_recordings() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("b.wav"), b"").unwrap();
        std::fs::write(dir.path().join("a.wav"), b"").unwrap();
        let found = single_files(&[dir.path().to_owned()]).unwrap();
        assert_eq!(found.recordings.iter().map(|one| one.file.as_str()).collect::<Vec<_>>(), ["a.wav", "b.wav"]);
        std::fs::write(dir.path().join(MANIFEST), "mains_hz = \"fifty\"\n").unwrap();
        let told = single_files(&[dir.path().join("a.wav")]).err().map(|error| error.to_string());
        assert!(told.unwrap_or_default().contains("line 1"));
    }
}
