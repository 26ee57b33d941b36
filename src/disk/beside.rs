//! A hidden folder beside the place where what is made in it will stand. It holds a locked file, by which other runs
//! see that it is in use; what a killed run left is found by the next one into that place.

use std::ffi::OsStr;
use std::fs::{self, File, TryLockError};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::{HIDDEN, TRIES, create_dir, fill, hidden, is_over, remove_dir, remove_dir_all, remove_file, step};

/// The file that is locked. In it: the name of what the folder is for.
const LOCK: &str = "lock";
/// What is being made.
const NEW: &str = "new";
/// What stood there before, where two folders can't be exchanged in one call.
const EARLIER: &str = "earlier";
/// A longer name is none of ours (chosen: far above what file systems take).
const LONGEST_NAME: u64 = 4096;

/// A hidden folder; gone again at the end, with all that is in it.
pub(crate) struct Beside {
    path: PathBuf,
    /// Open as long as it is ours.
    _lock: File,
    is_kept: bool,
}

impl Beside {
    /// Makes one in `parent` for what will have the name `name` there.
    pub fn make(parent: &Path, name: &OsStr) -> io::Result<Self> {
        let mut last = io::ErrorKind::ResourceBusy.into();
        for _ in 0..TRIES {
            step()?;
            let path = tempfile::Builder::new().prefix(HIDDEN).tempdir_in(parent)?.keep();
            match lock(&path, name) {
                Ok(Some(lock)) => return Ok(Self { path, _lock: lock, is_kept: false }),
                // Another run took the folder that had no lock yet for a leftover.
                Ok(None) => {}
                Err(error) if error.kind() == io::ErrorKind::NotFound => last = error,
                Err(error) => {
                    clear(&path);
                    return Err(error);
                }
            }
        }
        Err(last)
    }

    /// Takes over what runs that are over left in `parent` on the way to `name`.
    pub fn left_behind(parent: &Path, name: &OsStr) -> Vec<Self> {
        let folders = hidden(parent).into_iter().filter(|(_, facts)| facts.is_dir());
        folders.filter_map(|(path, _)| take_over(path, name)).collect()
    }

    /// The folder that the new is made in. It is there from the beginning, but for what was taken over.
    pub fn new_folder(&self) -> PathBuf {
        self.path.join(NEW)
    }

    /// Makes the folder for the new: unlike the hidden one, with the permissions of any new folder.
    pub fn make_new_folder(&self) -> io::Result<PathBuf> {
        let new = self.new_folder();
        create_dir(&new)?;
        Ok(new)
    }

    /// Where what stood there before may wait.
    pub fn earlier_folder(&self) -> PathBuf {
        self.path.join(EARLIER)
    }

    /// Leaves it standing; returns where.
    pub fn keep(mut self) -> PathBuf {
        self.is_kept = true;
        self.path.clone()
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        if !self.is_kept {
            clear(&self.path);
        }
    }
}

/// The lock last, so that what a kill leaves of the clearing is still known for what it is.
fn clear(path: &Path) {
    for folder in [NEW, EARLIER] {
        let folder = path.join(folder);
        if folder.exists() {
            let _ = remove_dir_all(&folder);
        }
    }
    let is_rest = fs::read_dir(path).is_ok_and(|entries| entries.flatten().all(|one| one.file_name() == LOCK));
    if is_rest {
        let _ = remove_file(&path.join(LOCK));
        let _ = remove_dir(path);
    }
}

/// Makes the lock and holds it; `None`: another run was quicker and takes it all away.
fn lock(path: &Path, name: &OsStr) -> io::Result<Option<File>> {
    step()?;
    let mut file = File::options().create_new(true).write(true).open(path.join(LOCK))?;
    if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
        return Ok(None);
    }
    fill(&mut file, named(name).as_bytes())?;
    Ok(path.join(LOCK).exists().then_some(file))
}

/// Two names that differ never become the same, also those that are no Unicode.
fn named(name: &OsStr) -> String {
    format!("{name:?}")
}

fn take_over(path: PathBuf, name: &OsStr) -> Option<Beside> {
    let lock = path.join(LOCK);
    match fs::symlink_metadata(&lock) {
        // Never a pipe or a link: opening one may wait, or lead elsewhere.
        Ok(facts) if !facts.is_file() => return None,
        Ok(_) => {}
        Err(_) => {
            // Killed before it made its lock; or just about to make it, then it begins anew. One that holds
            // anything stays.
            let _ = fs::remove_dir(&path);
            return None;
        }
    }
    let mut file = File::options().read(true).write(true).open(&lock).ok()?;
    if !is_over(&file) {
        return None;
    }
    let mut text = String::new();
    (&mut file).take(LONGEST_NAME).read_to_string(&mut text).ok()?;
    let is_bare = !path.join(NEW).exists() && !path.join(EARLIER).exists();
    (text == named(name) || is_bare).then_some(Beside { path, _lock: file, is_kept: false })
}
