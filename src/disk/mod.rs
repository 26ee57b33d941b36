//! The calls that change the disk, all in one place: so that tests can make any one of them fail, or end the program
//! there, and what is written is seen whole or not at all whatever happens. Not here: what is written.
//!
//! Recordings alone go past it: they are streams, and stand under hidden names until they are whole.

mod beside;
#[cfg(debug_assertions)]
pub(crate) mod fault;
#[cfg(test)]
mod tests;

use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

pub(crate) use beside::Beside;

/// Begins the names of what is not whole yet.
pub(crate) const HIDDEN: &str = ".noisetally-";
/// On a file system without locks, what is older belongs to no run that still goes on. Chosen: no run takes a day to
/// write what it has measured.
const OVER_AFTER: Duration = Duration::from_secs(24 * 3600);
/// How often to begin anew where another run took what had just been made for a leftover (chosen).
const TRIES: usize = 8;

/// Where a test may break the work off; in a release build nothing.
fn step() -> io::Result<()> {
    #[cfg(debug_assertions)]
    fault::step()?;
    Ok(())
}

/// Makes a folder and its missing parents.
pub(crate) fn create_dir_all(path: &Path) -> io::Result<()> {
    step()?;
    fs::create_dir_all(path)
}

/// Makes a folder.
pub(crate) fn create_dir(path: &Path) -> io::Result<()> {
    step()?;
    fs::create_dir(path)
}

/// Begins a file that is written as a stream.
pub(crate) fn create(path: &Path) -> io::Result<File> {
    step()?;
    File::create(path)
}

/// Makes a file that has no name, in the system's temporary folder: it is gone when it is closed, by whatever end.
pub(crate) fn without_name() -> io::Result<File> {
    step()?;
    tempfile::tempfile()
}

/// Writes a new file in a folder that nobody sees yet.
pub(crate) fn write(path: &Path, bytes: impl AsRef<[u8]>) -> io::Result<()> {
    let mut file = create(path)?;
    fill(&mut file, bytes.as_ref())
}

/// Writes all of that where the file stands.
pub(crate) fn fill(file: &mut File, bytes: &[u8]) -> io::Result<()> {
    #[cfg(debug_assertions)]
    fault::write(file, bytes)?;
    file.write_all(bytes)
}

/// Moves a file or folder; an earlier file of that name gives way.
pub(crate) fn rename(from: &Path, to: &Path) -> io::Result<()> {
    step()?;
    fs::rename(from, to)
}

/// Gives two folders each other's place in one call; [`io::ErrorKind::Unsupported`] where the system has none.
pub(crate) fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    step()?;
    #[cfg(debug_assertions)]
    fault::exchange()?;
    #[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        use rustix::io::Errno;
        renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).map_err(|error| match error {
            Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP => io::ErrorKind::Unsupported.into(),
            error => error.into(),
        })
    }
    #[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
    {
        let _ = (one, other);
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// Gives what stands at `from` a second name `to`: files as links to the same bytes, else as copies; folders with all
/// that is in them.
pub(crate) fn link(from: &Path, to: &Path) -> io::Result<()> {
    let facts = fs::symlink_metadata(from)?;
    if facts.is_dir() {
        create_dir(to)?;
        for entry in fs::read_dir(from)? {
            let name = entry?.file_name();
            link(&from.join(&name), &to.join(&name))?;
        }
        return fs::set_permissions(to, facts.permissions());
    }
    step()?;
    match fs::hard_link(from, to) {
        // A file system without links. Only a file can be copied; opening a pipe would wait for ever.
        Err(_) if facts.is_file() => fs::copy(from, to).map(drop),
        linked => linked,
    }
}

/// Takes a file away.
pub(crate) fn remove_file(path: &Path) -> io::Result<()> {
    step()?;
    fs::remove_file(path)
}

/// Takes an empty folder away.
pub(crate) fn remove_dir(path: &Path) -> io::Result<()> {
    step()?;
    fs::remove_dir(path)
}

/// Takes a folder away with all that is in it.
pub(crate) fn remove_dir_all(path: &Path) -> io::Result<()> {
    step()?;
    fs::remove_dir_all(path)
}

/// Has the disk hold a file's bytes, or a folder's names, before anything else happens. Not every system can do that
/// with folders.
pub(crate) fn sync(path: &Path) -> io::Result<()> {
    step()?;
    let is_dir = path.is_dir();
    // Windows syncs only what may be written.
    match File::options().read(true).write(cfg!(windows)).open(path).and_then(|file| file.sync_all()) {
        Err(_) if is_dir => Ok(()),
        done => done,
    }
}

/// [`sync`] of a folder and the files right in it.
pub(crate) fn sync_folder(path: &Path) -> io::Result<()> {
    for entry in fs::read_dir(path)? {
        let entry = entry?;
        // A pipe that someone put there would wait for ever.
        if entry.file_type()?.is_file() {
            sync(&entry.path())?;
        }
    }
    sync(path)
}

/// The folder that a file or folder stands in.
pub(crate) fn parent_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Parents that were missing: gone again, where still empty, unless what was made for came to stand in them.
pub(crate) struct MadeParents {
    made: Vec<PathBuf>,
}

impl MadeParents {
    /// Makes a folder and its missing parents.
    pub fn make(parent: &Path) -> io::Result<Self> {
        let made = parent.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).map(Path::to_owned);
        let parents = Self { made: made.collect() };
        create_dir_all(parent)?;
        Ok(parents)
    }

    /// They stay.
    pub fn keep(mut self) {
        self.made.clear();
    }
}

impl Drop for MadeParents {
    fn drop(&mut self) {
        // Deepest first; one that has got something in it meanwhile stays, and that is no error.
        for folder in &self.made {
            let _ = remove_dir(folder);
        }
    }
}

/// Writes a file beside, has the disk hold it, and renames it into place: whatever happens, the earlier one or the
/// new one stands there, whole. Missing folders are made; what runs that were killed left there is taken away.
pub(crate) fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    // What a link leads to is replaced, not the link.
    let path = &fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let parent = parent_of(path);
    create_dir_all(parent)?;
    clear_files(parent);
    let mut beside = BesideFile::make(parent)?;
    fill(&mut beside.file, text.as_bytes())?;
    sync(&beside.path)?;
    rename(&beside.path, path)?;
    beside.is_placed = true;
    sync(parent)
}

/// A hidden file that is not whole yet; gone again unless it was placed.
struct BesideFile {
    path: PathBuf,
    file: File,
    is_placed: bool,
}

impl BesideFile {
    /// Locked, so that no other run takes it for a leftover.
    fn make(parent: &Path) -> io::Result<Self> {
        for _ in 0..TRIES {
            step()?;
            let mut builder = tempfile::Builder::new();
            builder.prefix(HIDDEN);
            #[cfg(unix)]
            {
                use std::os::unix::fs::PermissionsExt;
                // As of any new file; the system takes off what the user's mask forbids.
                builder.permissions(fs::Permissions::from_mode(0o666));
            }
            let (file, path) = builder.tempfile_in(parent)?.keep().map_err(|kept| kept.error)?;
            let made = Self { path, file, is_placed: false };
            if !matches!(made.file.try_lock(), Err(TryLockError::WouldBlock)) && made.path.exists() {
                return Ok(made);
            }
        }
        Err(io::ErrorKind::ResourceBusy.into())
    }
}

impl Drop for BesideFile {
    fn drop(&mut self) {
        if !self.is_placed {
            let _ = remove_file(&self.path);
        }
    }
}

/// Takes hidden files away whose run is over. None of them was ever whole, so nothing is lost; what can't be taken
/// away stays.
fn clear_files(parent: &Path) {
    for (path, facts) in hidden(parent) {
        // Never a pipe or a link: opening one may wait, or lead elsewhere.
        if !facts.is_file() {
            continue;
        }
        let Ok(file) = File::options().write(true).open(&path) else { continue };
        if is_over(&file) {
            let _ = remove_file(&path);
        }
    }
}

/// What stands in a folder under hidden names.
fn hidden(parent: &Path) -> Vec<(PathBuf, fs::Metadata)> {
    let Ok(entries) = fs::read_dir(parent) else { return Vec::new() };
    let ours = |entry: &fs::DirEntry| entry.file_name().to_string_lossy().starts_with(HIDDEN);
    let mut found: Vec<_> = entries
        .flatten()
        .filter(ours)
        .filter_map(|entry| Some((entry.path(), fs::symlink_metadata(entry.path()).ok()?)))
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0));
    found
}

/// Whether no run holds this file any more; then we hold it as long as it is open. A system's lock ends with the
/// program however that ends.
fn is_over(file: &File) -> bool {
    match file.try_lock() {
        Ok(()) => true,
        Err(TryLockError::WouldBlock) => false,
        Err(TryLockError::Error(_)) => {
            let written = file.metadata().and_then(|facts| facts.modified());
            written.is_ok_and(|at| SystemTime::now().duration_since(at).is_ok_and(|age| age > OVER_AFTER))
        }
    }
}

/// Waits until no other run changes files in this folder, and holds it as long as what is returned lives. `None` where
/// the system can't lock folders.
pub(crate) fn hold(folder: &Path) -> Option<File> {
    let file = File::open(folder).ok()?;
    file.lock().ok()?;
    Some(file)
}
