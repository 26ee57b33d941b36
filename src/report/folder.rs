//! A report folder is complete or absent: it is written beside and renamed into place, the earlier one stays until
//! then. Not here: what stands in it.

#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};
use std::{fs, io};

use anyhow::{Context, anyhow, bail};
use serde::Deserialize;

use super::{COMBS_CSV, CONTRASTS_CSV, DETAILS_MD, LINES_CSV, POST_TXT, REPORT_HTML, REPORT_JSON, REPORT_MD};
use crate::report::night::words::TIMELINE_CSV;

/// Refuses what [`write_folder`] would refuse, before the first hour of decoding; writes nothing that stays.
///
/// # Errors
/// As [`write_folder`], but for what only filling can bring (a disk that fills up).
pub fn check_folder(out: &Path, force: bool) -> anyhow::Result<()> {
    let place = Place::of(out, force)?;
    // The last ancestor of a relative path is the empty one: the folder we are in.
    let ground = place.parent.ancestors().find(|p| p.exists()).unwrap_or(Path::new("."));
    tempfile::Builder::new().prefix(".noisetally-").tempdir_in(ground).map(drop).with_context(|| unwritable(ground))
}

/// Has `fill` write a report into a new folder, and puts it at `out` when it is complete.
///
/// Missing parents are made. A report of ours that stands at `out` is replaced; where someone has put files of
/// their own into it, only with `force`, and these are carried over. A folder that is no report of ours is never
/// touched.
///
/// # Errors
/// `out` is a file, a folder not ours, or can't be written; or `fill` failed. Then everything is as it was before.
pub fn write_folder(out: &Path, force: bool, fill: impl FnOnce(&Path) -> anyhow::Result<()>) -> anyhow::Result<()> {
    let place = Place::of(out, force)?;
    let parents = MadeParents::make(&place.parent)?;
    let beside = tempfile::Builder::new()
        .prefix(".noisetally-")
        .tempdir_in(&place.parent)
        .with_context(|| unwritable(&place.parent))?;
    // The temporary folder is for its owner's eyes only; the report in it gets the permissions of any new folder.
    let new = beside.path().join("new");
    fs::create_dir(&new).with_context(|| unwritable(&place.parent))?;
    fill(&new).map_err(|e| explain_failure(e, &place))?;
    let earlier = beside.path().join("earlier");
    let placed = put_in_place(&place, &new, &earlier);
    if placed.is_err() && earlier.exists() {
        // It could not be moved back: better a folder too many than an earlier report lost.
        let kept = beside.keep();
        return placed.with_context(|| format!("{}: the earlier report is kept in here", kept.display()));
    }
    placed?;
    parents.keep();
    Ok(())
}

/// What we write beside the pictures.
const OWN: [&str; 9] =
    [REPORT_MD, DETAILS_MD, REPORT_HTML, REPORT_JSON, POST_TXT, CONTRASTS_CSV, LINES_CSV, COMBS_CSV, TIMELINE_CSV];

/// Made by the desktop where someone merely looked: nobody's own.
const LEFT_BY_FILE_MANAGERS: [&str; 3] = [".DS_Store", "Thumbs.db", "desktop.ini"];

/// Where the report goes, and what stands there now.
struct Place {
    out: PathBuf,
    parent: PathBuf,
    there: There,
}

enum There {
    Nothing,
    EmptyFolder,
    /// A report of ours, with the entries in it that are not.
    Report {
        others: Vec<std::ffi::OsString>,
    },
}

impl Place {
    fn of(out: &Path, force: bool) -> anyhow::Result<Self> {
        // A link is followed, so that what it leads to is judged and replaced, not the link.
        let out = if out.exists() {
            fs::canonicalize(out).with_context(|| format!("{}: can't be reached", out.display()))?
        } else {
            out.to_owned()
        };
        if out.file_name().is_none() {
            bail!(
                "{}: no name for a report folder. Nothing was written.\n  try: a folder of its own, such as `report`",
                out.display()
            );
        }
        let parent = match out.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        let there = what_is_there(&out, force)?;
        Ok(Self { out, parent, there })
    }
}

fn what_is_there(out: &Path, force: bool) -> anyhow::Result<There> {
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
    let Some(own) = Own::read(out) else {
        bail!(
            "{name}: holds files and is no report of noisetally, so it is left alone. Nothing was written.\n  \
             try: another name for the report folder, or move this one away yourself"
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
fn entries_of(folder: &Path) -> anyhow::Result<Vec<std::ffi::OsString>> {
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
    fn read(folder: &Path) -> Option<Self> {
        let text = fs::read_to_string(folder.join(REPORT_JSON)).ok()?;
        let own: Self = serde_json::from_str(&text).ok()?;
        (own.tool.name == env!("CARGO_PKG_NAME")).then_some(own)
    }

    fn wrote(&self, name: &str) -> bool {
        OWN.contains(&name) || LEFT_BY_FILE_MANAGERS.contains(&name) || self.figures.iter().any(|f| f.file == name)
    }
}

/// Parents that were missing: gone again, where still empty, unless the report came to stand in them.
struct MadeParents {
    made: Vec<PathBuf>,
}

impl MadeParents {
    fn make(parent: &Path) -> anyhow::Result<Self> {
        let made = parent.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).map(Path::to_owned);
        let parents = Self { made: made.collect() };
        fs::create_dir_all(parent).with_context(|| unwritable(parent))?;
        Ok(parents)
    }

    fn keep(mut self) {
        self.made.clear();
    }
}

impl Drop for MadeParents {
    fn drop(&mut self) {
        // Deepest first; one that has got something in it meanwhile stays, and that is no error.
        for folder in &self.made {
            let _ = fs::remove_dir(folder);
        }
    }
}

/// Earlier report aside, new one in, others' files over. Each step that fails undoes the ones before.
fn put_in_place(place: &Place, new: &Path, earlier: &Path) -> anyhow::Result<()> {
    let failed = || format!("{}: the finished report could not be put in place", place.out.display());
    match &place.there {
        There::Nothing => fs::rename(new, &place.out).with_context(failed),
        There::EmptyFolder => {
            fs::remove_dir(&place.out).with_context(failed)?;
            let placed = fs::rename(new, &place.out);
            if placed.is_err() {
                let _ = fs::create_dir(&place.out);
            }
            placed.with_context(failed)
        }
        There::Report { others } => {
            refuse_collisions(place, new, others)?;
            fs::rename(&place.out, earlier).with_context(failed)?;
            let result = carry_over(others, earlier, new).and_then(|()| fs::rename(new, &place.out));
            result.map_err(|e| {
                // What was carried goes back first, then the earlier report to its place.
                let _ = carry_over(&arrived(others, new), new, earlier);
                let back = fs::rename(earlier, &place.out);
                let earlier_stays = if back.is_ok() { "; the earlier one is untouched" } else { "" };
                anyhow!(e).context(format!("{}{earlier_stays}", failed()))
            })
        }
    }
}

/// A file of someone's own that has the name of one in the new report would be lost.
fn refuse_collisions(place: &Place, new: &Path, others: &[std::ffi::OsString]) -> anyhow::Result<()> {
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

fn carry_over(names: &[std::ffi::OsString], from: &Path, to: &Path) -> io::Result<()> {
    names.iter().try_for_each(|name| fs::rename(from.join(name), to.join(name)))
}

fn arrived(names: &[std::ffi::OsString], at: &Path) -> Vec<std::ffi::OsString> {
    names.iter().filter(|name| at.join(name).exists()).cloned().collect()
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
