//! Whole folders: labels read, mistakes shown, contrasts planned, drafts read back.

mod drafting;
mod grouping;
mod manifests;
mod names;
mod pairs;

use std::path::Path;

use super::label::Session;

/// A folder of empty files with these names, and a manifest if it is not empty.
fn folder(files: &[&str], manifest: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for file in files {
        let path = dir.path().join(file);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, b"").unwrap();
    }
    if !manifest.is_empty() {
        std::fs::write(dir.path().join(super::MANIFEST), manifest).unwrap();
    }
    dir
}

/// The session of such a folder.
fn session(files: &[&str], manifest: &str) -> Session {
    let dir = folder(files, manifest);
    Session::read(dir.path()).unwrap()
}

/// What is said to the user when such a folder can't be read, without the folder's place.
fn refusal(files: &[&str], manifest: &str) -> String {
    let dir = folder(files, manifest);
    Session::read(dir.path()).unwrap_err().to_string().replace(&*dir.path().to_string_lossy(), "DIR")
}

/// The contrasts with file names, one a line.
fn plans(session: &Session) -> String {
    let files = |ids: &[String]| {
        let named = |id: &String| session.recordings.iter().find(|r| r.id == *id).map(|r| r.file.as_str());
        ids.iter().filter_map(named).collect::<Vec<_>>().join(", ")
    };
    let line = |p: &super::Plan| {
        let remedy = p.remedy.as_deref().unwrap_or("none");
        format!("{} {} [{}] {remedy}: {} | {}\n", p.id, p.device, p.setting, files(&p.on), files(&p.off))
    };
    session.contrasts.iter().map(line).collect()
}

/// The messages, one a line.
fn messages(session: &Session) -> String {
    session.warnings.iter().map(|w| format!("{:?}: {}\n", w.code, w.message)).collect()
}

#[test]
fn folder_that_is_not_there_is_named() {
    let error = Session::read(Path::new("no/such\u{1b}folder")).unwrap_err();
    insta::assert_snapshot!(error, @r"
    no/such\u{1b}folder: the folder can't be read. Nothing was done.
      try: name the folder that holds the recordings
    ");
}
