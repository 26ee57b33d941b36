//! Known noises on disk: a folder of the user's with one readable file a device, and what a comparison resembles of
//! them.
//!
//! Not here: what a signature holds and how alike two are (`findings::known_noise`).

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::contrast::comparison::ContrastResult;
use crate::contrast::known_noise::{Answer, KnownCandidate, KnownNoise, SameCarrier};
use crate::contrast::{Contrast, Figures};
use crate::disk;
use crate::findings::description::Heard;
use crate::findings::known_noise::{Candidate, Resembles, Signature, carriers, in_one, resembling, resembling_by};
use crate::findings::names::slug;
use crate::labels::{Plan, Session, printable};
use crate::signal::measure::Measurement;

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

/// What figures of a known noise can be, by their names. Chosen: wide of any noise, and far from where reckoning with
/// them overflows.
const SENSIBLE: [(&str, f64, f64); 16] = [
    ("dial_khz", 1e-3, 1e9),
    ("total_excess_db", -300.0, 300.0),
    ("noise_share", -0.01, 1.01),
    ("clicks_share", -0.01, 1.01),
    ("carriers_share", -0.01, 1.01),
    ("comb_spacing_hz", 1e-4, 1e6),
    ("per_s", 1e-4, 1e6),
    ("irregularity", 0.0, 1e6),
    ("period_s", 1e-4, 1e6),
    ("period_ci_s", 1e-5, 1e6),
    ("hz", 1e-4, 1e6),
    ("relative", -1e6, 1e6),
    // Finer than a file has it; smaller ones would be certainty.
    ("sd", 1e-5, 1e6),
    ("depth", -1e6, 1e6),
    ("relative_db", -300.0, 300.0),
    ("moved_hz", 0.0, 1e6),
];
/// Any other figure.
const OTHERS: (f64, f64) = (-1e9, 1e9);

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
        let Some(now) = signature else { return self.told(&Resembles::None(None), false) };
        let told = self.told(&resembling(&now, &self.heard), now.is_plain());
        match told.answer {
            Answer::One | Answer::Either => told,
            Answer::None | Answer::NotTold => KnownNoise { same_carrier: self.same_carrier(&now), ..told },
        }
    }

    fn same_carrier(&self, now: &Signature) -> Vec<SameCarrier> {
        let stands_where = |heard: &Vec<Signature>| heard.iter().find_map(|one| carriers::stands_where(now, one));
        let all = self.names.iter().zip(&self.heard);
        all.filter_map(|(name, heard)| Some(SameCarrier { name: name.clone(), hz: stands_where(heard)? })).collect()
    }

    /// Which of them is heard in one recording by itself, as far as carriers and clicks can tell.
    pub fn answer_of_one(
        &self,
        heard: &Heard,
        sound: &Measurement,
        dial_khz: Option<f64>,
        mode: Option<String>,
    ) -> KnownNoise {
        let now = in_one::signature(heard, sound, dial_khz, mode);
        self.told(&resembling_by(&self.heard, |one| in_one::resemblance_in_one(&now, one)), false)
    }

    fn told(&self, found: &Resembles, plain: bool) -> KnownNoise {
        let (answer, candidates) = match found {
            Resembles::One(_) => (Answer::One, found.named().to_vec()),
            Resembles::Either(_) => (Answer::Either, found.named().to_vec()),
            Resembles::None(Some(nearest)) => (Answer::None, vec![nearest.clone()]),
            Resembles::None(None) => (Answer::NotTold, Vec::new()),
        };
        KnownNoise {
            answer,
            candidates: candidates.into_iter().map(|one| self.candidate(one)).collect(),
            plain,
            held_against: self.names.len(),
            same_carrier: Vec::new(),
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

/// What [`remember`] did.
#[derive(Debug, Default)]
pub struct Remembered {
    /// Devices, and their files.
    pub written: Vec<(String, String)>,
    /// Files in the way that could not be read, and what became of them.
    pub wrecks: Vec<(String, String)>,
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
) -> Result<Remembered, KnownNoisesError> {
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
    // Reading and writing a file is one step: another run at the same time would write what it read before ours.
    let _held = disk::hold(folder);
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut done = Remembered::default();
    new.into_iter().try_for_each(|file| write(folder, file, &mut taken, &mut done))?;
    Ok(done)
}

/// Makes the folder for signatures, so that a slip is told before an hour of measuring.
///
/// # Errors
/// It can't be made, or is a file.
pub fn make_folder(folder: &Path) -> Result<(), KnownNoisesError> {
    disk::create_dir_all(folder).map_err(|error| KnownNoisesError::Folder(folder.to_owned(), error))
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
            found.push((printable(&path.file_name().unwrap_or_default().to_string_lossy()), path));
        }
    }
    found.sort();
    Ok(found)
}

/// What is said of a file that a broken-off write left, as earlier versions could.
const EMPTY: &str = "is empty (0 bytes): writing it was broken off, and what it knew is lost";

fn read(path: &Path) -> Result<File, String> {
    let size = std::fs::metadata(path).map_err(|error| error.to_string())?;
    if !size.is_file() || size.len() > MOST_BYTES {
        return Err("is no known noise".to_owned());
    }
    if size.len() == 0 {
        return Err(EMPTY.to_owned());
    }
    let text = std::fs::read_to_string(path).map_err(|error| error.to_string())?;
    let file: File = toml::from_str(&text).map_err(|error| {
        let line = error.span().map(|span| text[..span.start.min(text.len())].matches('\n').count() + 1);
        let line = line.map_or_else(String::new, |line| format!("line {line}: "));
        format!("{line}{}", printable(&error.message().replace('\n', " ")))
    })?;
    if let Some((at, figure)) = out_of_sense(&text) {
        let line = text[..at.min(text.len())].matches('\n').count() + 1;
        return Err(format!("line {line}: {figure} is nothing that a noise can have"));
    }
    match file {
        File { format, .. } if format != FORMAT => {
            Err(format!("format {format} is not known; this version reads {FORMAT}"))
        }
        File { heard, .. } if heard.is_empty() => Err("tells nothing of a noise".to_owned()),
        File { heard, .. } if !heard.iter().all(Signature::is_sane) => {
            Err("holds a figure that no noise can have".to_owned())
        }
        file => Ok(File { name: printable(&file.name), ..file }),
    }
}

/// The first figure that no noise can have: where it stands in the text, and what it is.
fn out_of_sense(text: &str) -> Option<(usize, String)> {
    let table = DeTable::parse(text).ok()?;
    let mut found = None;
    table.get_ref().iter().for_each(|(key, value)| look(key.get_ref(), value, &mut found));
    found
}

fn look(name: &str, value: &Spanned<DeValue<'_>>, found: &mut Option<(usize, String)>) {
    let (written, figure) = match value.get_ref() {
        DeValue::Table(table) => return table.iter().for_each(|(key, value)| look(key.get_ref(), value, found)),
        DeValue::Array(items) => return items.iter().for_each(|item| look(name, item, found)),
        DeValue::Float(float) => (float.as_str(), float.as_str().parse::<f64>()),
        DeValue::Integer(whole) => (whole.as_str(), whole.as_str().parse::<f64>()),
        _ => return,
    };
    let known = SENSIBLE.iter().find(|(known, ..)| *known == name);
    let (least, most) = known.map_or(OTHERS, |&(_, least, most)| (least, most));
    let at = value.span().start;
    if !figure.is_ok_and(|figure| (least..=most).contains(&figure))
        && found.as_ref().is_none_or(|(first, _)| at < *first)
    {
        *found = Some((at, format!("{} = {written}", printable(name))));
    }
}

/// Writes a device's file with what is known of it at other settings.
fn write(
    folder: &Path,
    mut new: File,
    taken: &mut BTreeSet<String>,
    done: &mut Remembered,
) -> Result<(), KnownNoisesError> {
    let stem = Some(slug(&new.name).trim_end_matches('-').to_owned()).filter(|stem| !stem.is_empty());
    let stem = stem.unwrap_or_else(|| "device".to_owned());
    let names = std::iter::once(stem.clone()).chain((2..).map(|n| format!("{stem}-{n}")));
    // The device's own file if there is one; a file of that name that is another device's, or can't be read, stays.
    let free = names.map(|stem| format!("{stem}.toml")).find_map(|name| {
        let path = folder.join(&name);
        match read(&path) {
            _ if taken.contains(&name) => None,
            // Read, a name is printable.
            Ok(old) if old.name == printable(&new.name) => Some((name, Some(old))),
            Ok(_) => None,
            Err(reason) if reason == EMPTY => {
                done.wrecks.push((name.clone(), format!("{EMPTY}; it is written anew")));
                Some((name, None))
            }
            Err(reason) if std::fs::symlink_metadata(&path).is_ok() => {
                done.wrecks.push((name, format!("{reason}; it is left as it is")));
                None
            }
            Err(_) => Some((name, None)),
        }
    });
    let Some((name, old)) = free else { return Ok(()) };
    let known = |one: &Signature| new.heard.iter().any(|now| now.dial_khz == one.dial_khz && now.mode == one.mode);
    let others: Vec<Signature> = old.into_iter().flat_map(|old| old.heard).filter(|one| !known(one)).collect();
    new.heard.extend(others);
    taken.insert(name.clone());
    let path = folder.join(&name);
    let failed = |error| KnownNoisesError::Folder(path.clone(), error);
    new.heard = new.heard.into_iter().map(Signature::rounded).collect();
    let text = toml::to_string(&new).map_err(|error| failed(std::io::Error::other(error)))?;
    disk::write_whole(&path, &format!("{HEAD}{text}")).map_err(failed)?;
    done.written.push((new.name, name));
    Ok(())
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
        let write = |file| {
            let mut done = Remembered::default();
            write(dir.path(), file, &mut BTreeSet::new(), &mut done).unwrap();
            done.written.remove(0).1
        };
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
        write(dir.path(), file("pump", 7100.0), &mut BTreeSet::new(), &mut Remembered::default()).unwrap();
        let known = KnownNoises::read(dir.path()).unwrap();
        assert_eq!(known.names, ["pump"]);
        assert_eq!(known.passed_over[1].1, "format 2 is not known; this version reads 1");
        assert!(matches!(KnownNoises::read(&dir.path().join("nowhere")), Err(KnownNoisesError::Missing(_))));
    }

    #[test]
    fn a_figure_that_no_noise_can_have_is_refused_at_its_line() {
        let dir = tempfile::tempdir().unwrap();
        write(dir.path(), file("pump", 7100.0), &mut BTreeSet::new(), &mut Remembered::default()).unwrap();
        let path = dir.path().join("pump.toml");
        let text = std::fs::read_to_string(&path).unwrap();
        let line = 1 + text.lines().position(|line| line == "noise_share = 1.0").unwrap();
        for wrong in ["1e308", "nan", "-inf"] {
            std::fs::write(&path, text.replace("noise_share = 1.0", &format!("noise_share = {wrong}"))).unwrap();
            let said = read(&path).unwrap_err();
            assert_eq!(said, format!("line {line}: noise_share = {wrong} is nothing that a noise can have"));
        }
        // Where it stands deeper, by its own name.
        assert!(text.contains("shape = []"), "{text}");
        let deep = text.replace("shape = []", "shape = [{ hz = 300.0, relative = 1.0, sd = 1e-300 }]");
        std::fs::write(&path, deep).unwrap();
        assert!(read(&path).unwrap_err().contains("sd = 1e-300 is nothing"), "{:?}", read(&path));
    }

    #[test]
    fn a_wreck_is_named_and_an_empty_file_is_written_anew() {
        let dir = tempfile::tempdir().unwrap();
        let mut done = Remembered::default();
        std::fs::write(dir.path().join("pump.toml"), "").unwrap();
        write(dir.path(), file("pump", 7100.0), &mut BTreeSet::new(), &mut done).unwrap();
        assert_eq!(done.written, [("pump".to_owned(), "pump.toml".to_owned())]);
        assert!(done.wrecks[0].0 == "pump.toml" && done.wrecks[0].1.contains("0 bytes"), "{done:?}");
        assert_eq!(KnownNoises::read(dir.path()).unwrap().names, ["pump"]);
        std::fs::write(dir.path().join("pump.toml"), "format = 1\nna").unwrap();
        write(dir.path(), file("pump", 7100.0), &mut BTreeSet::new(), &mut done).unwrap();
        assert_eq!(done.written[1].1, "pump-2.toml");
        assert!(done.wrecks[1].0 == "pump.toml" && done.wrecks[1].1.ends_with("it is left as it is"), "{done:?}");
    }

    /// Each call that changes the disk fails once, and is once the last.
    #[test]
    fn what_is_known_stays_whatever_breaks() {
        use crate::disk::fault::{Fault, with};
        for fault in [Fault::Fail, Fault::Dead] {
            for at in 1.. {
                let dir = tempfile::tempdir().unwrap();
                let put =
                    |khz| write(dir.path(), file("pump", khz), &mut BTreeSet::new(), &mut Remembered::default());
                put(7100.0).unwrap();
                let (done, made) = with(fault, at, false, || put(14_100.0));
                let known = KnownNoises::read(dir.path()).unwrap();
                let heard = known.heard[0].len();
                assert!(heard == 2 || (done.is_err() && heard == 1), "{fault:?} at {at}: {heard}");
                put(21_100.0).unwrap();
                let names: Vec<_> =
                    std::fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
                assert_eq!(names, ["pump.toml"], "{fault:?} at {at}");
                if made < at {
                    break;
                }
            }
        }
    }

    #[test]
    fn two_at_once_lose_nothing_of_each_other() {
        let dir = tempfile::tempdir().unwrap();
        std::thread::scope(|scope| {
            for n in 0..8 {
                let dir = dir.path();
                scope.spawn(move || {
                    let _held = disk::hold(dir);
                    let khz = 7000.0 + f64::from(n);
                    write(dir, file("pump", khz), &mut BTreeSet::new(), &mut Remembered::default()).unwrap();
                });
            }
        });
        // Where folders can be locked, as Unix can.
        if disk::hold(dir.path()).is_some() {
            assert_eq!(KnownNoises::read(dir.path()).unwrap().heard[0].len(), 8);
        }
    }
}
