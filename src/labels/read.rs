//! A folder becomes a session: what the manifest says, completed by what the file names give away.
//! Not here: what can be compared with what (`group`).

use std::collections::BTreeSet;
use std::io::{ErrorKind, Read};
use std::ops::Range;
use std::path::{Path, PathBuf};

use super::error::{Fault, SessionError};
use super::fields::{FILE_NAME, Guess, State};
use super::files::{self, AudioFile};
use super::label::{Label, ReceiverCheckLabel, Session};
use super::manifest::{self, Entry, Manifest};
use super::names::{self, FromName, Unclear};
use super::printable::{listing, printable, quoted, recordings, typed};
use super::{MANIFEST, group, key};
use crate::warning::{Code, Warning};

/// A manifest is some kilobytes (chosen: a thousand times that); more than this is another file under its name.
const MANIFEST_MOST_BYTES: u64 = 4 << 20;

/// Whether a manifest may name recordings outside its folder: it may come from someone else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outside {
    /// They are left out, and named.
    Refused,
    /// The user allowed it.
    Allowed,
}

impl Session {
    /// Reads the labels of the recordings in `dir`: from `session.toml` if it is there and lists recordings, else
    /// from the names of the audio files in natural order.
    ///
    /// A recording that can't be used stands in [`Session::left_out`] with the reason. A start without an offset
    /// from UTC is taken as if it were UTC. No audio file is opened.
    ///
    /// # Errors
    ///
    /// When the folder or the manifest can't be read, when the manifest holds mistakes (each with its line), and
    /// when not one recording can be used.
    pub fn read(dir: &Path) -> Result<Session, SessionError> {
        Self::read_from(dir, Outside::Refused)
    }

    /// As [`Session::read`], with a word on recordings outside the folder.
    ///
    /// # Errors
    ///
    /// As [`Session::read`].
    pub fn read_from(dir: &Path, outside: Outside) -> Result<Session, SessionError> {
        let folder = |cause| SessionError::Folder { dir: dir.to_owned(), cause };
        let found = files::audio_files(dir).map_err(folder)?;
        let path = dir.join(MANIFEST);
        let text = manifest_text(&path)?;
        let mistakes = |faults| SessionError::Manifest { path: path.clone(), faults };
        let manifest = match &text {
            Some(text) => manifest::parse(text).map_err(mistakes)?,
            None => Manifest::default(),
        };
        if found.is_empty() && manifest.entries.is_empty() {
            return Err(SessionError::NoAudio { dir: dir.to_owned() });
        }
        let mut session = Session {
            title: manifest.title.filter(|t| !t.is_empty()).unwrap_or_else(|| files::folder_name(dir)),
            mains_hz: manifest.mains_hz,
            station: manifest.station.filter(|s| !s.is_empty()),
            reference_hz: manifest.reference_hz,
            bands_khz: manifest.bands_khz,
            listening: manifest.listening,
            receiver_check: manifest
                .receiver_check
                .map(|check| ReceiverCheckLabel { dir: dir.to_owned(), ..check }),
            recordings: Vec::new(),
            settings: Vec::new(),
            contrasts: Vec::new(),
            complements: Vec::new(),
            places: Vec::new(),
            left_out: Vec::new(),
            warnings: Vec::new(),
        };
        let listed = !manifest.entries.is_empty();
        let sources = if listed {
            from_manifest(dir, outside, manifest.entries, &found, &mut session)
        } else {
            from_names(found)
        };
        let mut faults = Vec::new();
        let text = text.unwrap_or_default();
        let names = names::read_all(sources.iter().map(|(entry, _)| entry.file.as_str()));
        let (mut unzoned, mut untold, mut unworded) = (0, 0, 0);
        for ((mut entry, path), mut name) in sources.into_iter().zip(names) {
            // What is recorded at a place is the noise that is looked for.
            let is_placed = entry.fields.place.as_ref().is_some_and(|place| !place.is_empty());
            if entry.state.is_none() && name.state == Err(Unclear::NoWord) && is_placed {
                entry.state = Some(State::On);
            }
            // A manifest may know of other devices than the names do.
            if listed && name.lent.take().is_some() {
                name.fields.device = None;
            }
            if let (None, Err(unclear)) = (entry.state, name.state) {
                untold += 1;
                unworded += usize::from(unclear == Unclear::NoWord);
            }
            let started = entry.fields.started.or(name.fields.started);
            unzoned += usize::from(started.is_some_and(|s| !s.zoned));
            label(&mut session, entry, name, path, &mut |span, found, advice| {
                faults.push(Fault::at(&text, span, found, advice));
            });
        }
        if !faults.is_empty() {
            return Err(mistakes(faults));
        }
        if session.recordings.is_empty() {
            let (dir, left_out) = (dir.to_owned(), session.left_out);
            let advice = if untold > 0 { fill_in(&dir, listed) } else { String::new() };
            if unworded < left_out.len() {
                return Err(SessionError::NothingUsable { dir, left_out, advice });
            }
            let files = listing(&left_out.into_iter().map(|(file, _)| file).collect::<Vec<_>>());
            return Err(SessionError::NoState { dir, files, advice });
        }
        say_guesses(&mut session, listed);
        say_unzoned(&mut session, unzoned);
        group::group(&mut session);
        group::match_supplies(&mut session);
        Ok(session)
    }
}

/// What to do where no name tells the state.
fn fill_in(dir: &Path, listed: bool) -> String {
    if listed {
        let manifest = printable(&dir.join(MANIFEST).to_string_lossy());
        return format!(
            "\n  try: fill in `state` and `device` of each in {manifest}, and take the # before them away"
        );
    }
    format!(
        "\n  try: noisetally draft {}\n  It lists them in order of time in a {MANIFEST}, where you fill in state \
         and device.",
        typed(dir)
    )
}

/// The manifest's text; `None`: there is none.
pub(super) fn manifest_text(path: &Path) -> Result<Option<String>, SessionError> {
    let unreadable = |reason: String| SessionError::Unreadable { path: path.to_owned(), reason };
    let facts = match std::fs::metadata(path) {
        Ok(facts) => facts,
        Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(None),
        Err(cause) => return Err(unreadable(format!("the manifest can't be read: {cause}"))),
    };
    if !facts.is_file() {
        return Err(unreadable("this is no file. Rename it: the manifest has this name".into()));
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(MANIFEST_MOST_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|cause| unreadable(format!("the manifest can't be read: {cause}")))?;
    if bytes.len() as u64 > MANIFEST_MOST_BYTES {
        return Err(unreadable("over 4 MiB: this is no manifest. Rename it, the manifest has this name".into()));
    }
    let text = String::from_utf8(bytes).map_err(|e| {
        let line = e.as_bytes()[..e.utf8_error().valid_up_to()].iter().filter(|b| **b == b'\n').count() + 1;
        unreadable(format!("line {line} is not UTF-8 text. Save the manifest as UTF-8 in your editor"))
    })?;
    Ok(Some(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text)))
}

/// Every audio file of the folder, with nothing said about it.
fn from_names(found: Vec<AudioFile>) -> Vec<(Entry, PathBuf)> {
    found.into_iter().map(|f| (Entry { file: f.name, ..Entry::default() }, f.path)).collect()
}

/// The manifest's recordings that are there; the others are left out, and files it does not name are mentioned.
fn from_manifest(
    dir: &Path,
    outside: Outside,
    entries: Vec<Entry>,
    found: &[AudioFile],
    session: &mut Session,
) -> Vec<(Entry, PathBuf)> {
    let mut present = Vec::new();
    let mut used = BTreeSet::new();
    let listed: BTreeSet<String> = entries.iter().map(|e| e.file.trim_start_matches("./").to_owned()).collect();
    let unlisted: Vec<&str> = found.iter().map(|f| f.name.as_str()).filter(|n| !listed.contains(*n)).collect();
    for entry in entries {
        let path: PathBuf = dir.join(entry.file.split('/').collect::<PathBuf>());
        let reason = match std::fs::metadata(&path) {
            _ if outside == Outside::Refused && entry.file.split(['/', '\\']).any(|part| part == "..") => Some(
                "it lies outside the folder. Copy it there, or use --allow-outside if you trust this manifest"
                    .into(),
            ),
            Ok(facts) if facts.is_dir() => Some("this is a folder; name the recording itself".to_owned()),
            Ok(facts) if !facts.is_file() => Some("this is no ordinary file".to_owned()),
            Ok(_) if !used.insert(path.canonicalize().unwrap_or_else(|_| path.clone())) => {
                Some("this is the same file as another recording of the manifest".to_owned())
            }
            Ok(_) => None,
            Err(cause) if cause.kind() == ErrorKind::NotFound => Some(missing(&entry.file, &unlisted)),
            Err(cause) => Some(format!("the file can't be opened: {cause}")),
        };
        match reason {
            Some(reason) => session.left_out.push((entry.file, reason)),
            None => present.push((entry, path)),
        }
    }
    if !unlisted.is_empty() {
        let message = format!(
            "The manifest does not name {}; not used. Add a `[[recording]]` for each that belongs to the session.",
            listing(&unlisted)
        );
        session.warnings.push(Warning::new(Code::Label, message));
    }
    present
}

fn missing(file: &str, unlisted: &[&str]) -> String {
    let near = |name: &&&str| files::stem(name) == files::stem(file) || key::nearest(file, &[**name]).is_some();
    match unlisted.iter().find(near) {
        _ if file.contains('\\') => "this file is not there; write `/` between a folder and a name".into(),
        Some(name) => format!("this file is not there; did you mean `{}`?", printable(name)),
        None => "this file is not there; correct its name in the manifest, or remove its `[[recording]]`".into(),
    }
}

/// Takes note of a mistake in the manifest: where, what is so, what to write instead.
type Complain<'c> = &'c mut dyn FnMut(Range<usize>, String, String);

/// Makes a label of what was given and what the name gives away, and adds it to the session.
fn label(session: &mut Session, entry: Entry, name: FromName, path: PathBuf, complain: Complain<'_>) {
    let state = match (entry.state, name.state) {
        (Some(state), _) | (None, Ok(state)) => state,
        (None, Err(unclear)) => {
            let reason = unclear.reason(&entry.file);
            session.left_out.push((entry.file, reason));
            return;
        }
    };
    contradictions(session, &entry, &name);
    let id = format!("r{}", session.recordings.len() + 1);
    let remedy_at = entry.spans.get("remedy").cloned();
    let label = merge(id, state, entry, name, path);
    misplaced_remedy(&label, remedy_at, complain);
    session.recordings.push(label);
}

/// A remedy needs a device that it was made for.
fn misplaced_remedy(label: &Label, remedy_at: Option<Range<usize>>, complain: Complain<'_>) {
    let Some(span) = remedy_at.filter(|_| label.remedy.is_some()) else { return };
    let (found, advice) = match label.state {
        State::Off if label.device.is_none() => (
            "a remedy on a recording with everything off: it names no device the remedy could belong to",
            "add `device = \"…\"` if it is that device's off recording; else write it as a `note`",
        ),
        State::Terminated => (
            "a remedy on a terminated recording: the receiver heard no device there",
            "leave `remedy` out, or write it as a `note`",
        ),
        _ => return,
    };
    complain(span, found.into(), advice.into());
}

/// Labels that the name or reason contradicts: the manifest is believed, and it is said.
fn contradictions(session: &mut Session, entry: &Entry, name: &FromName) {
    let mut say = |message: String| session.warnings.push(Warning::new(Code::Label, message));
    let file = printable(&entry.file);
    if let (Some(given), Ok(read)) = (entry.state, name.state)
        && given != read
    {
        say(format!("`{file}` is `{given}` in the manifest, and its name says {read}. The manifest was followed."));
    }
    if let (Some(given), Some(read)) = (entry.fields.mode, name.fields.mode)
        && given != read
    {
        say(format!("`{file}` is {given} in the manifest, and its name says {read}. The manifest was followed."));
    }
    if let (Some(given), Some(read)) = (entry.fields.dial_khz, name.fields.dial_khz)
        && (given - read).abs() >= 1.0
    {
        say(format!(
            "`{file}` has its dial at {given} kHz in the manifest, and at {read} kHz in its name. The manifest was \
                 followed."
        ));
    }
    if let Some(khz) = entry.fields.dial_khz.filter(|khz| !(30.0..=3e6).contains(khz)) {
        let meant = if khz < 30.0 { khz * 1e3 } else { khz / 1e3 };
        say(format!(
            "`{file}` has its dial at {khz} kHz, far from the short waves. If {meant} kHz is meant, write \
             `dial_khz = {meant}`."
        ));
    }
}

/// What the manifest gives, else what the name gives away as far as it fits.
fn merge(id: String, state: State, entry: Entry, mut name: FromName, path: PathBuf) -> Label {
    let mut guesses = Vec::new();
    if entry.state.is_none() {
        guesses.push(Guess { field: "state", value: quoted(state.word()), from: FILE_NAME.into() });
    }
    let (given, read) = (entry.fields, &mut name.fields);
    // A remedy of the name belongs to a device under test: not to a state the manifest changed to another.
    if name.state != Ok(state) {
        read.remedy = None;
    }
    // What it counts belongs to the remedy that it names.
    let remedy_given = given.remedy.is_some();
    if remedy_given || read.remedy.is_none() {
        (read.ferrites, read.turns) = (None, None);
    }
    if given.dial_khz.is_some() {
        read.band = None;
    }
    let fields = given.or(name.fields, &mut guesses);
    if let (Some(from), Some(guess)) = (name.lent, guesses.iter_mut().find(|g| g.field == "device")) {
        guess.from = from;
    }
    let mut label = Label { id, file: entry.file, path, state, fields, setting: String::new(), guesses };
    remedy_of_ferrites(&mut label, remedy_given);
    label
}

/// Ferrites on the lead are a remedy, also where nobody called them one.
fn remedy_of_ferrites(label: &mut Label, remedy_given: bool) {
    let Some(count) = label.ferrites.filter(|n| *n > 0) else { return };
    if remedy_given || label.remedy.is_some() || label.state != State::On {
        return;
    }
    let turns = label.turns.filter(|t| *t > 1).map_or_else(String::new, |t| format!(", {t} turns"));
    let words = format!("{count} ferrite{}{turns}", if count == 1 { "" } else { "s" });
    label.guesses.push(Guess { field: "remedy", value: quoted(&words), from: "its `ferrites`".into() });
    label.fields.remedy = Some(words);
}

/// Says what was guessed, what could not be read, and how times without an offset were taken.
fn say_guesses(session: &mut Session, listed: bool) {
    let count = session.recordings.len();
    // The order of the file names is what the manifest's documentation promises where none is given: no guess to
    // tell.
    let worth_telling = |guess: &&Guess| guess.field != "order";
    let mut fields: Vec<&str> = Vec::new();
    for guess in session.recordings.iter().flat_map(|r| &r.guesses).filter(worth_telling) {
        if !fields.contains(&guess.field) {
            fields.push(guess.field);
        }
    }
    let guessed = session.recordings.iter().filter(|r| r.guesses.iter().any(|g| worth_telling(&g))).count();
    if guessed > 0 {
        let what = fields.join(", ");
        let message = if listed {
            format!(
                "The manifest leaves labels of {guessed} of {} open, which were guessed: {what}. Write them into \
                 it to be sure.",
                recordings(count)
            )
        } else {
            format!(
                "The labels of {} were read from the file names ({what}). Look them over; a {MANIFEST} fixes them.",
                recordings(guessed)
            )
        };
        session.warnings.push(Warning::new(Code::Guessed, message));
    }
    let unread: Vec<String> = session
        .recordings
        .iter()
        .filter(|_| !listed)
        .flat_map(|label| {
            names::read(&label.file).unread.into_iter().map(|piece| format!("{piece} in {}", label.file))
        })
        .collect();
    if !unread.is_empty() {
        let message = format!(
            "Not clear in the file names, and passed over: {}. Write what it means into {MANIFEST}.",
            listing(&unread)
        );
        session.warnings.push(Warning::new(Code::Guessed, message));
    }
}

/// Says how times without an offset from UTC were taken.
fn say_unzoned(session: &mut Session, count: usize) {
    if count > 0 {
        let message = format!(
            "The start of {} has no offset from UTC: taken as it stands, as if it were UTC. Distances in time are \
             right, the hour of the day may be local; write `Z` or an offset such as `+01:00` behind it to fix it.",
            recordings(count)
        );
        session.warnings.push(Warning::new(Code::Guessed, message));
    }
}
