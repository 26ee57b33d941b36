//! One capture a folder: two at a time would each take the other's files for their own.
//!
//! The lock is the system's on an open file, so it ends with the program however that ends; the file stays and
//! means nothing by itself.

use std::fs::{File, TryLockError};
use std::path::Path;

use anyhow::{Context, bail};

/// Hidden, so that nobody takes it for a recording.
const LOCK: &str = ".capture-lock";

/// Held as long as it lives.
pub struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the folder, which is there, for this program. On a file system that knows no locks it holds nothing.
    ///
    /// # Errors
    /// When another capture runs there, or the file can't be made.
    pub fn of(dir: &Path) -> anyhow::Result<Self> {
        let path = dir.join(LOCK);
        let made = File::options().create(true).truncate(false).write(true).open(&path);
        let file = made.with_context(|| format!("{} can't be made", path.display()))?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => bail!(
                "{}: another capture records into this folder. Nothing was recorded.\n  try: end it first, or \
                 another folder",
                dir.display()
            ),
            Ok(()) | Err(TryLockError::Error(_)) => Ok(Self { _file: file }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_taken_once_and_free_again() {
        let dir = tempfile::tempdir().unwrap();
        let held = Lock::of(dir.path()).unwrap();
        assert!(Lock::of(dir.path()).err().unwrap().to_string().contains("another capture"));
        drop(held);
        // The file of a run that was killed is just this.
        assert!(dir.path().join(LOCK).is_file());
        Lock::of(dir.path()).unwrap();
    }
}
