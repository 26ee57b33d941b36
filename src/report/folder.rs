//! A report folder is complete or absent: it is written beside and takes the earlier one's place in one call, so that
//! one of them stands there whatever happens; files that someone put into it stand in both. Not here: what stands in
//! it.

#[cfg(test)]
mod tests;

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::{fs, io};

use anyhow::{Context, anyhow, bail};
use serde::Deserialize;

use super::handout::{HANDOUT_HTML, HANDOUT_JSON, HANDOUT_TXT};
use super::{
    COMBS_CSV, CONTRASTS_CSV, DESCRIBED_CSV, DETAILS_MD, LINES_CSV, POST_TXT, REPORT_HTML, REPORT_JSON, REPORT_MD,
};
use crate::disk::{self, Beside, MadeParents};
use crate::report::night::words::TIMELINE_CSV;
use crate::report::weeks::{COMINGS_CSV, MINUTES_CSV};

/// What a folder of ours holds. Each takes the place of its own kind alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A session's, pair's or night's report.
    Report,
    /// What changed between several.
    Changes,
    /// Weeks of nights.
    Weeks,
    /// Sheets and sound clips for others.
    Handout,
}

impl Kind {
    /// The file it is known by.
    fn known_by(self) -> &'static str {
        match self {
            Self::Report | Self::Changes | Self::Weeks => REPORT_JSON,
            Self::Handout => HANDOUT_JSON,
        }
    }

    /// What we write into it, beside what its own file lists.
    fn files(self) -> &'static [&'static str] {
        match self {
            Self::Report => &OWN,
            Self::Changes => &[REPORT_MD, REPORT_HTML, REPORT_JSON],
            Self::Weeks => &[REPORT_MD, REPORT_HTML, REPORT_JSON, POST_TXT, COMINGS_CSV, MINUTES_CSV],
            Self::Handout => &[HANDOUT_HTML, HANDOUT_TXT, HANDOUT_JSON],
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Report => "report",
            Self::Changes => "comparison of reports",
            Self::Weeks => "report of weeks",
            Self::Handout => "handout",
        }
    }
}

/// Refuses what [`write_folder`] would refuse, before the first hour of decoding; writes nothing that stays. What a
/// killed run left on the way to `out` is cleared up first: returns what there is to say of that.
///
/// # Errors
/// As [`write_folder`], but for what only filling can bring (a disk that fills up).
pub fn check_folder(kind: Kind, out: &Path, force: bool) -> anyhow::Result<Vec<String>> {
    let (parent, name) = parent_and_name(out)?;
    let said = clear_up(kind, out, &parent, &name);
    let place = Place::of(kind, out, force)?;
    // The last ancestor of a relative path is the empty one: the folder we are in.
    let ground = place.parent.ancestors().find(|p| p.exists()).unwrap_or(Path::new("."));
    drop(Beside::left_behind(ground, &place.name));
    Beside::make(ground, &place.name).map(drop).with_context(|| unwritable(ground))?;
    Ok(said)
}

/// Has `fill` write a report into a new folder, and puts it at `out` when it is complete and on the disk.
///
/// Missing parents are made. A report of ours that stands at `out` is replaced; where someone has put files of
/// their own into it, only with `force`, and these are carried over. A folder that is no report of ours is never
/// touched.
///
/// # Errors
/// `out` is a file, a folder not ours, or can't be written; or `fill` failed. Then everything is as it was before.
pub fn write_folder(
    kind: Kind,
    out: &Path,
    force: bool,
    fill: impl FnOnce(&Path) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    let place = Place::of(kind, out, force)?;
    let parents = MadeParents::make(&place.parent).with_context(|| unwritable(&place.parent))?;
    let unwritable = || unwritable(&place.parent);
    let beside = Beside::make(&place.parent, &place.name).with_context(unwritable)?;
    let new = beside.make_new_folder().with_context(unwritable)?;
    let complete = fill(&new).and_then(|()| Ok(disk::sync_folder(&new)?));
    complete.map_err(|e| explain_failure(e, &place))?;
    // Looked at anew: while the report was made someone may have put a file there, or another run its report.
    let place = Place::of(kind, out, true)?;
    let placed = put_in_place(&place, &beside);
    if placed.is_err() && !place.out.exists() && beside.earlier_folder().exists() {
        // It could not be moved back: better a folder too many than an earlier report lost.
        let kept = beside.keep();
        return placed.with_context(|| {
            format!("{}: the earlier report is kept in here; the next run puts it back", kept.display())
        });
    }
    placed?;
    parents.keep();
    if let Err(e) = [new, beside.earlier_folder()].iter().try_for_each(|from| save_own(kind, from, &place.out)) {
        let kept = beside.keep();
        return Err(e).with_context(|| {
            format!(
                "{}: the new report is in place, but files that came into the earlier one at the last moment are \
                 kept in {}",
                place.out.display(),
                kept.display()
            )
        });
    }
    Ok(())
}

/// What we write beside the pictures.
const OWN: [&str; 10] = [
    REPORT_MD,
    DETAILS_MD,
    REPORT_HTML,
    REPORT_JSON,
    POST_TXT,
    CONTRASTS_CSV,
    LINES_CSV,
    COMBS_CSV,
    TIMELINE_CSV,
    DESCRIBED_CSV,
];

/// A larger `report.json` is none of ours. Chosen: a hundred times that of the longest night.
pub(super) const MOST_BYTES: u64 = 1 << 28;

/// Made by the desktop where someone merely looked: nobody's own.
const LEFT_BY_FILE_MANAGERS: [&str; 3] = [".DS_Store", "Thumbs.db", "desktop.ini"];

/// Where the report goes, and what stands there now.
struct Place {
    out: PathBuf,
    parent: PathBuf,
    name: OsString,
    there: There,
}

enum There {
    Nothing,
    EmptyFolder,
    /// A report of ours, with the entries in it that are not.
    Report {
        others: Vec<OsString>,
    },
}

impl Place {
    fn of(kind: Kind, out: &Path, force: bool) -> anyhow::Result<Self> {
        // A link is followed, so that what it leads to is judged and replaced, not the link.
        let out = if out.exists() {
            fs::canonicalize(out).with_context(|| format!("{}: can't be reached", out.display()))?
        } else {
            out.to_owned()
        };
        let (parent, name) = parent_and_name(&out)?;
        let there = what_is_there(kind, &out, force)?;
        Ok(Self { out, parent, name, there })
    }
}

fn parent_and_name(out: &Path) -> anyhow::Result<(PathBuf, OsString)> {
    // `.` and the like have a name elsewhere.
    let whole = if out.file_name().is_none() { fs::canonicalize(out).ok() } else { None };
    let out = whole.as_deref().unwrap_or(out);
    let Some(name) = out.file_name() else {
        bail!(
            "{}: no name for a report folder. Nothing was written.\n  try: a folder of its own, such as `report`",
            out.display()
        );
    };
    Ok((disk::parent_of(out).to_owned(), name.to_owned()))
}

/// Takes away what killed runs left on the way to `out`. An earlier report that waits there for its place, on a system
/// that can't exchange two folders in one call, is put back first, and that is said.
fn clear_up(kind: Kind, out: &Path, parent: &Path, name: &OsStr) -> Vec<String> {
    let mut said = Vec::new();
    for left in Beside::left_behind(parent, name) {
        let earlier = left.earlier_folder();
        if fs::symlink_metadata(out).is_err() && earlier.is_dir() {
            match disk::rename(&earlier, out) {
                Ok(()) => said.push(format!(
                    "{}: put back: a run that was broken off had moved this report aside",
                    out.display()
                )),
                // It is all there is of the earlier report.
                Err(_) => {
                    left.keep();
                    continue;
                }
            }
        }
        // Files of someone's own stand in both by now, but for those that came in the last moment.
        let is_saved = [earlier, left.new_folder()].iter().all(|from| save_own(kind, from, out).is_ok());
        if !is_saved {
            left.keep();
        }
    }
    said
}

/// Moves what is no report's own out of a replaced report, if it is not in the new one.
fn save_own(kind: Kind, from: &Path, out: &Path) -> io::Result<()> {
    let Some(own) = Own::read(kind, from) else { return Ok(()) };
    for entry in fs::read_dir(from)? {
        let name = entry?.file_name();
        if !own.wrote(&name.to_string_lossy()) && fs::symlink_metadata(out.join(&name)).is_err() && out.is_dir() {
            disk::rename(&from.join(&name), &out.join(&name))?;
        }
    }
    Ok(())
}

fn what_is_there(kind: Kind, out: &Path, force: bool) -> anyhow::Result<There> {
    let facts = match fs::symlink_metadata(out) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(There::Nothing),
        Err(e) => return Err(e).with_context(|| unwritable(out)),
        Ok(facts) => facts,
    };
    let name = out.display();
    if !facts.is_dir() {
        bail!("{name}: is a file, not a folder. Nothing was written.\n  try: another name for the report folder");
    }
    let entries = entries_of(out)?;
    if entries.is_empty() {
        return Ok(There::EmptyFolder);
    }
    let Some(own) = Own::read(kind, out) else {
        bail!(
            "{name}: holds files and is no {} of noisetally, so it is left alone. Nothing was written.\n  \
             try: another name for the report folder, or move this one away yourself",
            kind.word()
        );
    };
    let others: Vec<_> = entries.into_iter().filter(|e| !own.wrote(&e.to_string_lossy())).collect();
    if let (Some(first), false) = (others.first(), force) {
        bail!(
            "{name}: an earlier report, but {} in it is not the report's own. Nothing was written.\n  \
             try: move that file away, or use --force: the report is replaced then, and such files are kept",
            first.display()
        );
    }
    Ok(There::Report { others })
}

/// Names in a folder, sorted.
fn entries_of(folder: &Path) -> anyhow::Result<Vec<OsString>> {
    let unreadable = || format!("{}: can't be read", folder.display());
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).with_context(unreadable)? {
        names.push(entry.with_context(unreadable)?.file_name());
    }
    names.sort();
    Ok(names)
}

/// The little of an earlier `report.json` that tells whose it is; of any version.
#[derive(Deserialize)]
struct Own {
    tool: OwnTool,
    #[serde(default)]
    figures: Vec<OwnFigure>,
    /// Files of a handout.
    #[serde(default)]
    files: Vec<String>,
    /// What a comparison of reports has, and no report.
    #[serde(default)]
    changes: Option<serde::de::IgnoredAny>,
    /// What a report of weeks has, and no other.
    #[serde(default)]
    weeks: Option<serde::de::IgnoredAny>,
    #[serde(skip)]
    kind: Option<Kind>,
}

#[derive(Deserialize)]
struct OwnTool {
    name: String,
}

#[derive(Deserialize)]
struct OwnFigure {
    file: String,
}

impl Own {
    fn read(kind: Kind, folder: &Path) -> Option<Self> {
        let path = folder.join(kind.known_by());
        // Opening a pipe would wait for ever.
        let facts = fs::symlink_metadata(&path).ok().filter(|facts| facts.is_file())?;
        if facts.len() > MOST_BYTES {
            return None;
        }
        let text = fs::read_to_string(&path).ok()?;
        let own: Self = serde_json::from_str(&text).ok()?;
        let is_meant =
            own.changes.is_some() == (kind == Kind::Changes) && own.weeks.is_some() == (kind == Kind::Weeks);
        (own.tool.name == env!("CARGO_PKG_NAME") && is_meant).then_some(Self { kind: Some(kind), ..own })
    }

    fn wrote(&self, name: &str) -> bool {
        self.kind.is_some_and(|kind| kind.files().contains(&name))
            || LEFT_BY_FILE_MANAGERS.contains(&name)
            || self.figures.iter().any(|f| f.file == name)
            || self.files.iter().any(|file| file == name)
    }
}

/// The new report takes its place; each step that fails leaves the earlier one where it stands.
fn put_in_place(place: &Place, beside: &Beside) -> anyhow::Result<()> {
    let new = &beside.new_folder();
    let others: &[OsString] = match &place.there {
        There::Report { others } => others,
        There::Nothing | There::EmptyFolder => &[],
    };
    refuse_collisions(place, new, others)?;
    let linked = others.iter().try_for_each(|name| disk::link(&place.out.join(name), &new.join(name)));
    linked.and_then(|()| take_place(place, new, &beside.earlier_folder())).map_err(|e| {
        let stays = match place.there {
            There::Report { .. } if place.out.exists() => "; the earlier one is untouched",
            _ => "",
        };
        anyhow!(e).context(format!("{}: the finished report could not be put in place{stays}", place.out.display()))
    })?;
    // It stands there; a folder that can't be told to the disk is no reason to call that a failure.
    let _ = disk::sync(&place.parent);
    Ok(())
}

fn take_place(place: &Place, new: &Path, earlier: &Path) -> io::Result<()> {
    match &place.there {
        There::Report { .. } => match disk::exchange(new, &place.out) {
            Ok(()) => Ok(()),
            Err(e) if e.kind() == io::ErrorKind::Unsupported => {
                disk::rename(&place.out, earlier)?;
                disk::rename(new, &place.out).inspect_err(|_| {
                    // What fails here is told by the folder that is kept.
                    let _ = disk::rename(earlier, &place.out);
                })
            }
            Err(e) => Err(e),
        },
        // Windows renames onto nothing that is there; elsewhere an empty folder gives way (POSIX.1-2024, rename).
        There::EmptyFolder if cfg!(windows) => {
            disk::remove_dir(&place.out)?;
            disk::rename(new, &place.out).inspect_err(|_| {
                let _ = disk::create_dir(&place.out);
            })
        }
        There::Nothing | There::EmptyFolder => disk::rename(new, &place.out),
    }
}

/// A file of someone's own that has the name of one in the new report would be lost.
fn refuse_collisions(place: &Place, new: &Path, others: &[OsString]) -> anyhow::Result<()> {
    match others.iter().find(|name| new.join(name).exists()) {
        Some(name) => bail!(
            "{}: {} in it is not the earlier report's own, and the new report has a file of that name. \
             The earlier report is untouched.\n  try: move that file away",
            place.out.display(),
            name.display()
        ),
        None => Ok(()),
    }
}

fn unwritable(folder: &Path) -> String {
    format!(
        "{}: no folder can be made here. Nothing was written.\n  try: another place for the report, where you may write",
        folder.display()
    )
}

/// Adds what became of the report, and what to try where the cause is known.
fn explain_failure(error: anyhow::Error, place: &Place) -> anyhow::Error {
    let stays = match place.there {
        There::Report { .. } => "the earlier one is untouched",
        _ => "nothing was left behind",
    };
    let full = error
        .chain()
        .filter_map(|e| e.downcast_ref::<io::Error>())
        .any(|e| matches!(e.kind(), io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded));
    let hint = if full { "\n  try: free some space on that disk, or write to another" } else { "" };
    error.context(format!("{}: the report could not be completed; {stays}{hint}", place.out.display()))
}
