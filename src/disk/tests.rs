//! A file is the earlier or the new one at every call that may be the last.

use std::fs;
use std::path::Path;

use super::fault::{Fault, with};
use super::*;

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_file_is_the_earlier_or_the_new_one_whatever_breaks() {
    for fault in [Fault::Fail, Fault::Dead] {
        for at in 1.. {
            let root = tempfile::tempdir().unwrap();
            let path = root.path().join("known.toml");
            fs::write(&path, "earlier").unwrap();
            let (done, made) = with(fault, at, false, || write_whole(&path, "the new one"));
            let stands = fs::read_to_string(&path).unwrap();
            assert!(["earlier", "the new one"].contains(&stands.as_str()), "{fault:?} at {at}: {stands}");
            if fault == Fault::Fail {
                assert_eq!(names(root.path()), ["known.toml"], "{fault:?} at {at}");
            }
            // The next one takes away what a kill left.
            write_whole(&path, "the last").unwrap();
            assert_eq!(
                (names(root.path()), fs::read_to_string(&path).unwrap()),
                (vec!["known.toml".into()], "the last".into())
            );
            if done.is_ok() && made < at {
                assert!(at > 5, "creating, writing, syncing, renaming are calls: {at}");
                break;
            }
        }
    }
}

#[test]
fn what_another_run_is_writing_stays() {
    let root = tempfile::tempdir().unwrap();
    let alive = BesideFile::make(root.path()).unwrap();
    let folder = Beside::make(root.path(), "report".as_ref()).unwrap();
    folder.make_new_folder().unwrap();
    write_whole(&root.path().join("a.toml"), "whole").unwrap();
    assert!(Beside::left_behind(root.path(), "report".as_ref()).is_empty());
    assert!(alive.path.exists() && folder.new_folder().exists());
}

#[cfg(unix)]
#[test]
fn a_link_stays_one_and_what_it_leads_to_is_replaced() {
    let root = tempfile::tempdir().unwrap();
    let (path, link) = (root.path().join("a.toml"), root.path().join("b.toml"));
    fs::write(&path, "earlier").unwrap();
    std::os::unix::fs::symlink(&path, &link).unwrap();
    write_whole(&link, "new").unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(fs::read_to_string(&path).unwrap(), "new");
}
