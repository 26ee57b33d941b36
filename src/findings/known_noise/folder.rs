//! Known noises on disk: a folder of the user's with one readable file a device, and what a comparison resembles of
//! them.
//!
//! Not here: what a signature holds and how alike two are (`findings::known_noise`).

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::contrast::comparison::ContrastResult;
use crate::contrast::known_noise::{Answer, KnownCandidate, KnownNoise};
use crate::contrast::{Contrast, Figures};
use crate::findings::known_noise::{Candidate, Resembles, Signature, resembling};
use crate::findings::names::slug;
use crate::labels::{Plan, Session};

/// Layout of the file that this version writes and reads. By definition: counted up when the layout changes (chosen
/// here).
const FORMAT: u32 = 1;
/// A file larger than this is no signature. Chosen: far above any signature's few kilobytes.
const MOST_BYTES: u64 = 1 << 20;
/// What heads each file.
const HEAD: &str = "# What the noise of one device is like, apart from its strength. Made by noisetally; rename the device or delete\n\
                    # the file as you like.\n";

/// A device's file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct File {
    format: u32,
    /// The device, in the user's words.
    name: String,
    /// As it was heard, setting by setting.
    heard: Vec<Signature>,
}

/// What went wrong with a folder as a whole.
#[derive(Debug, thiserror::Error)]
pub enum KnownNoisesError {
    /// There is no such folder.
    #[error("{}: there is no such folder of known noises.\n  try: session … --remember {} makes one", .0.display(), .0.display())]
    Missing(PathBuf),
    /// It is a file, or may not be read or written.
    #[error("{}: {}", .0.display(), .1)]
    Folder(PathBuf, std::io::Error),
    /// Not one signature in it can be used.
    #[error("{}: no known noise in it can be used{}\n  try: session … --remember {} writes them", .0.display(), passed_over(.1), .0.display())]
    Empty(PathBuf, Vec<(String, String)>),
}

fn passed_over(files: &[(String, String)]) -> String {
    files.iter().map(|(file, reason)| format!("\n  {file}: {reason}")).collect()
}

/// The known noises of a folder.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KnownNoises {
    names: Vec<String>,
    heard: Vec<Vec<Signature>>,
    /// Files that can't be used, with the reason.
    pub passed_over: Vec<(String, String)>,
}

impl KnownNoises {
    /// Reads every `.toml` file of a folder, in order of name. One that can't be used is named and passed over.
    ///
    /// # Errors
    /// No folder, or nothing in it that can be used.
    pub fn read(folder: &Path) -> Result<Self, KnownNoisesError> {
        if !folder.exists() {
            return Err(KnownNoisesError::Missing(folder.to_owned()));
        }
        let mut known = Self::default();
        for (name, path) in files(folder)? {
            match read(&path) {
                Ok(file) => {
                    known.names.push(file.name);
                    known.heard.push(file.heard);
                }
                Err(reason) => known.passed_over.push((name, reason)),
            }
        }
        if known.names.is_empty() {
            return Err(KnownNoisesError::Empty(folder.to_owned(), known.passed_over));
        }
        Ok(known)
    }

    /// Which of them a comparison found.
    pub fn answer(&self, contrast: &Contrast, dial_khz: Option<f64>, mode: Option<String>) -> KnownNoise {
        let figures = contrast.figures.as_ref().filter(|_| !contrast.trust.is_void());
        let signature = figures.and_then(|figures| signature(figures, dial_khz, mode));
        let held_against = self.names.len();
        let Some(now) = signature else {
            return KnownNoise { answer: Answer::NotTold, candidates: Vec::new(), plain: false, held_against };
        };
        let found = resembling(&now, &self.heard);
        let (answer, candidates) = match &found {
            Resembles::One(_) => (Answer::One, found.named().to_vec()),
            Resembles::Either(_) => (Answer::Either, found.named().to_vec()),
            Resembles::None(Some(nearest)) => (Answer::None, vec![nearest.clone()]),
            Resembles::None(None) => (Answer::NotTold, Vec::new()),
        };
        KnownNoise {
            answer,
            candidates: candidates.into_iter().map(|one| self.candidate(one)).collect(),
            plain: now.is_plain(),
            held_against,
        }
    }

    /// Says of every comparison of a session which of them it resembles; `results` in the order of `contrasts`.
    pub fn recognise(&self, session: &Session, contrasts: &[(Plan, Contrast)], results: &mut [ContrastResult]) {
        for ((plan, contrast), result) in contrasts.iter().zip(results) {
            let (dial_khz, mode) = place(session, plan);
            result.known_noise = Some(self.answer(contrast, dial_khz, mode));
        }
    }

    fn candidate(&self, one: Candidate) -> KnownCandidate {
        KnownCandidate { name: self.names[one.known].clone(), resemblance: one.resemblance, compared: one.compared }
    }
}

/// Writes what each device without a remedy is like into a folder, one file a device: its name, and the file's.
/// Devices recorded together are none. What the folder knows of a device at other settings stays.
///
/// # Errors
/// A file that can't be written.
pub fn remember(
    session: &Session,
    contrasts: &[(Plan, Contrast)],
    folder: &Path,
) -> Result<Vec<(String, String)>, KnownNoisesError> {
    let mut new: Vec<File> = Vec::new();
    let alone = |plan: &Plan| plan.remedy.is_none() && !plan.device.contains(" + ");
    for (plan, contrast) in contrasts.iter().filter(|(plan, _)| alone(plan)) {
        let figures = contrast.figures.as_ref().filter(|_| !contrast.trust.is_void());
        let (dial_khz, mode) = place(session, plan);
        let Some(one) = figures.and_then(|figures| signature(figures, dial_khz, mode)) else { continue };
        match new.iter_mut().find(|file| file.name == plan.device) {
            Some(file) => file.heard.push(one),
            None => new.push(File { format: FORMAT, name: plan.device.clone(), heard: vec![one] }),
        }
    }
    let mut taken: BTreeSet<String> = BTreeSet::new();
    new.into_iter().map(|file| write(folder, file, &mut taken)).collect()
}

/// Makes the folder for signatures, so that a slip is told before an hour of measuring.
///
/// # Errors
/// It can't be made, or is a file.
pub fn make_folder(folder: &Path) -> Result<(), KnownNoisesError> {
    std::fs::create_dir_all(folder).map_err(|error| KnownNoisesError::Folder(folder.to_owned(), error))
}

fn signature(figures: &Figures, dial_khz: Option<f64>, mode: Option<String>) -> Option<Signature> {
    Signature::of(figures).map(|one| Signature { dial_khz, mode, ..one })
}

fn place(session: &Session, plan: &Plan) -> (Option<f64>, Option<String>) {
    let setting = session.settings.iter().find(|setting| setting.id == plan.setting);
    setting.map_or((None, None), |s| (s.dial_khz, s.mode.map(|mode| mode.to_string())))
}

/// The `.toml` files of a folder, by name.
fn files(folder: &Path) -> Result<Vec<(String, PathBuf)>, KnownNoisesError> {
    let failed = |error| KnownNoisesError::Folder(folder.to_owned(), error);
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            found.push((path.file_name().unwrap_or_default().to_string_lossy().into_owned(), path));
        }
    }
    found.sort();
    Ok(found)
}

fn read(path: &Path) -> Result<File, String> {
    let size = std::fs::metadata(path).map_err(|error| error.to_string())?;
    if !size.is_file() || size.len() > MOST_BYTES {
        return Err("is no known noise".to_owned());
    }
    let text = std::fs::read_to_string(path).map_err(|error| error.to_string())?;
    let file: File = toml::from_str(&text).map_err(|error| {
        let line = error.span().map(|span| text[..span.start.min(text.len())].matches('\n').count() + 1);
        let line = line.map_or_else(String::new, |line| format!("line {line}: "));
        format!("{line}{}", error.message().replace('\n', " "))
    })?;
    match file {
        File { format, .. } if format != FORMAT => {
            Err(format!("format {format} is not known; this version reads {FORMAT}"))
        }
        File { heard, .. } if heard.is_empty() => Err("tells nothing of a noise".to_owned()),
        File { heard, .. } if !heard.iter().all(Signature::is_sane) => {
            Err("holds a figure that no noise can have".to_owned())
        }
        file => Ok(file),
    }
}

/// Writes a device's file beside what is known of it at other settings.
fn write(folder: &Path, mut new: File, taken: &mut BTreeSet<String>) -> Result<(String, String), KnownNoisesError> {
    let stem = Some(slug(&new.name).trim_end_matches('-').to_owned()).filter(|stem| !stem.is_empty());
    let stem = stem.unwrap_or_else(|| "device".to_owned());
    let names = std::iter::once(stem.clone()).chain((2..).map(|n| format!("{stem}-{n}")));
    // The device's own file if there is one; a file of that name that is another device's, or can't be read, stays.
    let free = names.map(|stem| format!("{stem}.toml")).find_map(|name| {
        let path = folder.join(&name);
        match read(&path) {
            _ if taken.contains(&name) => None,
            Ok(old) if old.name == new.name => Some((name, Some(old))),
            _ if path.exists() => None,
            _ => Some((name, None)),
        }
    });
    let Some((name, old)) = free else { return Ok((new.name, String::new())) };
    let known = |one: &Signature| new.heard.iter().any(|now| now.dial_khz == one.dial_khz && now.mode == one.mode);
    let others: Vec<Signature> = old.into_iter().flat_map(|old| old.heard).filter(|one| !known(one)).collect();
    new.heard.extend(others);
    taken.insert(name.clone());
    let path = folder.join(&name);
    let failed = |error| KnownNoisesError::Folder(path.clone(), error);
    new.heard = new.heard.into_iter().map(Signature::rounded).collect();
    let text = toml::to_string(&new).map_err(|error| failed(std::io::Error::other(error)))?;
    std::fs::write(&path, format!("{HEAD}{text}")).map_err(failed)?;
    Ok((new.name, name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, dial_khz: f64) -> File {
        let one =
            Signature { kind: "hash".into(), dial_khz: Some(dial_khz), noise_share: 1.0, ..Signature::default() };
        File { format: FORMAT, name: name.into(), heard: vec![one] }
    }

    #[test]
    fn what_is_known_at_other_settings_stays_and_other_devices_keep_their_files() {
        let dir = tempfile::tempdir().unwrap();
        let write = |file| write(dir.path(), file, &mut BTreeSet::new()).unwrap().1;
        assert_eq!(write(file("Lamp", 7100.0)), "lamp.toml");
        assert_eq!(write(file("Lamp", 14_100.0)), "lamp.toml");
        assert_eq!(write(file("lamp!", 7100.0)), "lamp-2.toml");
        assert_eq!(write(file("Lamp", 7100.0)), "lamp.toml");
        let known = KnownNoises::read(dir.path()).unwrap();
        assert_eq!(known.names, ["lamp!", "Lamp"]);
        assert_eq!(known.heard.iter().map(Vec::len).collect::<Vec<_>>(), [1, 2]);
    }

    #[test]
    fn a_file_that_cannot_be_used_is_named_with_its_line() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("broken.toml"), "format = 1\nname = \n").unwrap();
        let Err(KnownNoisesError::Empty(_, over)) = KnownNoises::read(dir.path()) else { panic!("read") };
        assert!(over[0].0 == "broken.toml" && over[0].1.starts_with("line 2: "), "{over:?}");
        std::fs::write(dir.path().join("later.toml"), "format = 2\nname = \"lamp\"\nheard = []\n").unwrap();
        write(dir.path(), file("pump", 7100.0), &mut BTreeSet::new()).unwrap();
        let known = KnownNoises::read(dir.path()).unwrap();
        assert_eq!(known.names, ["pump"]);
        assert_eq!(known.passed_over[1].1, "format 2 is not known; this version reads 1");
        assert!(matches!(KnownNoises::read(&dir.path().join("nowhere")), Err(KnownNoisesError::Missing(_))));
    }
}
