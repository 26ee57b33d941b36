//! What has been recorded, on disk: takes under their final names, labels in the manifest, nothing ever thrown
//! away.
//!
//! The manifest is the only record: a take is done when it is listed and its file is there, so a capture goes on
//! where it stopped whatever ended it. Blocks of other recordings, and what the user wrote, stay as they are. Not
//! here: recording.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use jiff::{SignedDuration, Timestamp};

use super::plan::{Plan, Take};
use super::receiver_takes::{CHECK_DIR, check_table};
use super::take::HIDDEN;
use crate::disk;
use crate::labels::{MANIFEST, State, quoted};

/// Folder within that of the recordings for takes that were replaced.
pub const SET_ASIDE: &str = "set-aside";
const BLOCK: &str = "[[recording]]";

/// What is known of a take beyond the plan.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// When it began.
    pub started: Option<Timestamp>,
    /// The receiver's reading.
    pub meter: Option<String>,
    /// The user's words.
    pub note: Option<String>,
    /// Why it is not whole.
    pub part: Option<String>,
}

/// The folder of a capture.
pub struct Ledger<'a> {
    dir: &'a Path,
    plan: &'a Plan,
}

impl<'a> Ledger<'a> {
    /// Makes the folder and begins the manifest where they are not there; takes in what an earlier run left: a take
    /// without its labels is labelled, one that was broken off goes to the folder [`SET_ASIDE`]. Returns what was
    /// found so, in words.
    ///
    /// # Errors
    /// When the folder can't be made, read or written.
    pub fn open(dir: &'a Path, plan: &'a Plan) -> anyhow::Result<(Self, Vec<String>)> {
        disk::create_dir_all(dir).with_context(|| format!("{}: the folder can't be made", dir.display()))?;
        let ledger = Self { dir, plan };
        if !dir.join(MANIFEST).exists() {
            ledger.write(&ledger.head())?;
        }
        let mut found = Vec::new();
        for entry in fs::read_dir(dir)? {
            let name = entry?.file_name().to_string_lossy().into_owned();
            let Some(file) = name.strip_prefix('.').and_then(|n| n.strip_suffix(HIDDEN)) else { continue };
            if file.ends_with(".wav") {
                let to = ledger.move_aside(&dir.join(&name), file)?;
                found.push(format!("{file} was broken off; what there is of it lies in {to}"));
            }
        }
        let text = ledger.text()?;
        for take in &plan.takes {
            let path = dir.join(&take.file);
            if path.is_file() && block_of(&text, &take.file).is_none() {
                let facts = Facts { started: began(&path, plan.seconds), ..Facts::default() };
                ledger.label(take, &take.file, &facts)?;
                found.push(format!(
                    "{} had no labels yet; they were written, its start told from the file",
                    take.file
                ));
            }
        }
        Ok((ledger, found))
    }

    /// Whether the take is recorded, whole, and listed.
    ///
    /// # Errors
    /// When the manifest can't be read.
    pub fn is_done(&self, take: &Take) -> anyhow::Result<bool> {
        Ok(self.dir.join(&take.file).is_file() && block_of(&self.text()?, &take.file).is_some())
    }

    /// Puts a recorded take into its place and labels it: under the planned name, or, where `facts.part` says that
    /// it is not whole, under one that says so too. What stood there before is set aside. Returns the file's name.
    ///
    /// # Errors
    /// When it can't be moved or the manifest can't be written; the take is then still there under one of its
    /// names.
    pub fn keep(&self, take: &Take, recorded: &Path, facts: &Facts) -> anyhow::Result<String> {
        let part = part_name(&take.file);
        let file = if facts.part.is_some() { part.clone() } else { take.file.clone() };
        self.set_aside(&file)?;
        let to = self.dir.join(&file);
        disk::rename(recorded, &to).with_context(|| format!("{}: can't be put into its place", to.display()))?;
        disk::sync(self.dir)?;
        self.label(take, &file, facts)?;
        if facts.part.is_none() {
            self.set_aside(&part)?;
        }
        Ok(file)
    }

    /// Puts a whole take of the receiver check into its place; the manifest names it from the beginning.
    ///
    /// # Errors
    /// When it can't be moved.
    pub fn keep_check(&self, recorded: &Path, file: &str) -> anyhow::Result<()> {
        let dir = self.dir.join(CHECK_DIR);
        disk::rename(recorded, &dir.join(file))
            .with_context(|| format!("{CHECK_DIR}/{file}: can't be put there"))?;
        disk::sync(&dir)?;
        Ok(())
    }

    /// Writes the labels of a take that is in its place anew, with what the user adds.
    ///
    /// # Errors
    /// When the manifest can't be read or written.
    pub fn label(&self, take: &Take, file: &str, facts: &Facts) -> anyhow::Result<()> {
        let text = self.text()?;
        let (before, after) = match block_of(&text, file) {
            Some((from, to)) => (&text[..from], &text[to..]),
            None => (text.as_str(), ""),
        };
        let gap = if before.ends_with("\n\n") { "" } else { "\n" };
        let block = self.block(take, file, facts);
        let behind = if after.is_empty() { "" } else { "\n" };
        self.write(&format!("{before}{gap}{block}{behind}{after}"))
    }

    /// Moves a recording out of the session, if it is there, and takes it out of the manifest.
    ///
    /// # Errors
    /// When it can't be moved or the manifest can't be written.
    pub fn set_aside(&self, file: &str) -> anyhow::Result<()> {
        let path = self.dir.join(file);
        if path.is_file() {
            self.move_aside(&path, file)?;
        }
        let text = self.text()?;
        if let Some((from, to)) = block_of(&text, file) {
            self.write(&format!("{}{}", &text[..from], &text[to..]))?;
        }
        Ok(())
    }

    /// Moves a file to the folder aside, under a name that is free there; returns where, relative.
    fn move_aside(&self, path: &Path, file: &str) -> anyhow::Result<String> {
        let aside = self.dir.join(SET_ASIDE);
        disk::create_dir_all(&aside)?;
        let stem = file.strip_suffix(".wav").unwrap_or(file);
        let free = (1..).map(|n| format!("{stem}-take-{n}.wav")).find(|name| !aside.join(name).exists());
        let name = free.unwrap_or_else(|| file.to_owned());
        disk::rename(path, &aside.join(&name))
            .with_context(|| format!("{}: can't be set aside", path.display()))?;
        Ok(format!("{SET_ASIDE}/{name}"))
    }

    fn text(&self) -> anyhow::Result<String> {
        let path = self.dir.join(MANIFEST);
        fs::read_to_string(&path).with_context(|| format!("{} can't be read", path.display()))
    }

    /// Whole or not at all, and on the disk before anything else happens.
    fn write(&self, text: &str) -> anyhow::Result<()> {
        disk::write_whole(&self.dir.join(MANIFEST), text).with_context(|| {
            format!(
                "{}: the manifest can't be written; the one before it is whole\n  try: make room on the disk, \
                 then start again",
                self.dir.join(MANIFEST).display()
            )
        })
    }

    fn head(&self) -> String {
        let words = &self.plan.words;
        let mut text = format!("title = {}\n", quoted(&self.plan.title()));
        if let Some(hz) = words.mains_hz {
            text.push_str(&format!("mains_hz = {hz}\n"));
        }
        if let Some(station) = &words.station {
            text.push_str(&format!("station = {}\n", quoted(station)));
        }
        text.extend(words.receiver_check_db.map(check_table));
        text
    }

    fn block(&self, take: &Take, file: &str, facts: &Facts) -> String {
        let words = &self.plan.words;
        let said = |text: &Option<String>| text.as_deref().map(quoted);
        let note = match (&facts.part, &facts.note) {
            (Some(part), Some(note)) => Some(format!("{part}; {note}")),
            (part, note) => part.clone().or_else(|| note.clone()),
        };
        let fields = [
            ("file", Some(quoted(file))),
            ("state", Some(quoted(take.state.word()))),
            ("device", said(&take.device)),
            ("remedy", said(&take.remedy)),
            ("order", take.order.map(|order| order.to_string())),
            ("dial_khz", words.dial_khz.map(|khz| format!("{khz:?}"))),
            ("mode", words.mode.map(|mode| quoted(mode.word()))),
            ("bandwidth_hz", words.bandwidth_hz.map(|hz| hz.to_string())),
            ("antenna", said(&words.antenna).filter(|_| take.state != State::Terminated)),
            ("gain", said(&words.gain)),
            ("started", facts.started.map(|at| format!("{at:.0}"))),
            ("meter", said(&facts.meter)),
            ("note", said(&note)),
        ];
        let lines = fields.iter().filter_map(|(name, value)| Some(format!("{name} = {}\n", value.as_ref()?)));
        format!("{BLOCK}\n{}", lines.collect::<String>())
    }
}

/// "02-lamp-on-part-1.wav": read as a name it says the same as the whole take's.
fn part_name(file: &str) -> String {
    format!("{}-part-1.wav", file.strip_suffix(".wav").unwrap_or(file))
}

/// Where the block of a recording stands in the manifest's text.
fn block_of(text: &str, file: &str) -> Option<(usize, usize)> {
    let mut at = 0;
    let mut starts = Vec::new();
    for line in text.split_inclusive('\n') {
        if line.trim() == BLOCK {
            starts.push(at);
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).copied().chain(std::iter::once(text.len()));
    let names_it = |block: &str| {
        block.lines().any(|line| {
            let table = line.trim_start().starts_with("file").then(|| line.parse::<toml::Table>().ok()).flatten();
            table.is_some_and(|table| table.get("file").and_then(|v| v.as_str()) == Some(file))
        })
    };
    starts.iter().copied().zip(ends).find(|&(from, to)| names_it(&text[from..to]))
}

/// When a take began whose file was last written when it ended.
fn began(path: &Path, seconds: f64) -> Option<Timestamp> {
    let ended = Timestamp::try_from(fs::metadata(path).ok()?.modified().ok()?).ok()?;
    ended.checked_sub(SignedDuration::try_from_secs_f64(seconds).ok()?).ok()
}

/// Where a take's file stands.
impl Ledger<'_> {
    /// The path of a file of this capture.
    pub fn path(&self, file: &str) -> PathBuf {
        self.dir.join(file)
    }
}
