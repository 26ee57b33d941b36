//! A report folder is complete or absent, and nobody's files are ever lost.

use super::super::sample::sample_report;
use super::super::{json, write_texts};
use super::*;
use crate::disk::fault::{Fault, with};
use crate::report::contract::Report;

/// What stands in a folder: names and contents, sorted; folders as their names with a slash.
fn contents(folder: &Path) -> Vec<(String, String)> {
    let mut found: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .map(|p| {
            let name = p.file_name().unwrap().to_string_lossy().into_owned();
            if p.is_dir() { (name + "/", String::new()) } else { (name, fs::read_to_string(&p).unwrap()) }
        })
        .collect();
    found.sort();
    found
}

fn names(folder: &Path) -> Vec<String> {
    contents(folder).into_iter().map(|(name, _)| name).collect()
}

fn check_folder(out: &Path, force: bool) -> anyhow::Result<Vec<String>> {
    super::check_folder(Kind::Report, out, force)
}

fn write_folder(out: &Path, force: bool, fill: impl FnOnce(&Path) -> anyhow::Result<()>) -> anyhow::Result<()> {
    super::write_folder(Kind::Report, out, force, fill)
}

/// Writes `report` with one figure file for each it names.
fn fill(report: Report) -> impl FnOnce(&Path) -> anyhow::Result<()> {
    move |dir| {
        write_texts(&report, dir)?;
        report.figures.iter().try_for_each(|f| Ok(fs::write(dir.join(&f.file), "picture")?))
    }
}

fn earlier_report(out: &Path) {
    write_folder(out, false, fill(sample_report())).unwrap();
}

fn with_one_figure() -> Report {
    let mut report = sample_report();
    report.figures.truncate(1);
    report
}

fn fails_midway(dir: &Path) -> anyhow::Result<()> {
    fs::write(dir.join("report.md"), "half")?;
    bail!("the pen broke")
}

/// A message as the user sees it: the chain of causes, the folder's own place taken out.
fn said(result: anyhow::Result<()>, root: &Path) -> String {
    let root = fs::canonicalize(root).unwrap();
    format!("{:#}", result.unwrap_err()).replace(&*root.to_string_lossy(), "ROOT")
}

#[test]
fn a_report_appears_complete_in_parents_that_were_missing() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("a/b/report");
    earlier_report(&out);
    let expected = [
        "c1-spectra.png",
        "c4-spectra.png",
        "card.png",
        "contrasts.csv",
        "details.md",
        "ladder-1.png",
        "lines.csv",
        "post.txt",
        "report.html",
        "report.json",
        "report.md",
    ];
    assert_eq!(names(&out), expected);
    assert_eq!(names(&root.path().join("a/b")), ["report/"], "nothing temporary stays beside it");
}

#[test]
fn a_failure_midway_leaves_nothing_not_even_the_parents() {
    let root = tempfile::tempdir().unwrap();
    let result = write_folder(&root.path().join("a/b/report"), false, fails_midway);
    let message = format!("{:#}", result.unwrap_err());
    assert!(message.contains("could not be completed; nothing was left behind"), "{message}");
    assert!(message.contains("the pen broke"), "{message}");
    assert_eq!(names(root.path()), Vec::<String>::new());
}

#[test]
fn a_failure_midway_leaves_the_earlier_report_as_it_was() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    earlier_report(&out);
    let before = contents(&out);
    let message = said(write_folder(&out, true, fails_midway), root.path());
    assert!(
        message.starts_with("ROOT/report: the report could not be completed; the earlier one is untouched"),
        "{message}"
    );
    assert_eq!(contents(&out), before);
    assert_eq!(names(root.path()), ["report/"]);
}

#[test]
fn a_panic_while_filling_leaves_the_earlier_report_as_it_was() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    earlier_report(&out);
    let before = contents(&out);
    let panicked = std::panic::catch_unwind(|| write_folder(&out, false, |_| panic!("meant to")));
    assert!(panicked.is_err());
    assert_eq!(contents(&out), before);
    assert_eq!(names(root.path()), ["report/"]);
}

#[test]
fn the_earlier_report_stands_until_the_new_one_is_complete_then_is_replaced_whole() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    earlier_report(&out);
    let before = contents(&out);
    write_folder(&out, false, |dir| {
        fill(with_one_figure())(dir)?;
        assert_eq!(contents(&out), before, "the earlier one stands while the new one is written");
        Ok(())
    })
    .unwrap();
    let after = names(&out);
    assert!(after.contains(&"card.png".to_owned()) && !after.contains(&"ladder-1.png".to_owned()), "{after:?}");
    assert_eq!(fs::read_to_string(out.join("report.json")).unwrap(), json(&with_one_figure()));
    assert_eq!(names(root.path()), ["report/"]);
}

#[test]
fn a_folder_of_someone_else_is_never_touched_even_with_force() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("recordings");
    fs::create_dir(&out).unwrap();
    for (name, text) in [("01-off.wav", "sound"), ("report.json", r#"{"tool": {"name": "another"}}"#)] {
        fs::write(out.join(name), text).unwrap();
        for force in [false, true] {
            let before = contents(&out);
            let message = said(write_folder(&out, force, fill(sample_report())), root.path());
            assert!(message.contains("is no report of noisetally, so it is left alone"), "{message}");
            assert!(message.contains("try: another name"), "{message}");
            assert_eq!(contents(&out), before);
            assert!(check_folder(&out, force).is_err());
        }
    }
}

#[test]
fn files_put_into_a_report_stop_it_and_with_force_are_carried_over() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    earlier_report(&out);
    fs::write(out.join("my notes.txt"), "mine").unwrap();
    fs::create_dir(out.join("takes")).unwrap();
    fs::write(out.join("takes/off.wav"), "sound").unwrap();
    let message = said(write_folder(&out, false, fill(with_one_figure())), root.path());
    assert!(message.contains("my notes.txt in it is not the report's own"), "{message}");
    assert!(message.contains("--force"), "{message}");
    write_folder(&out, true, fill(with_one_figure())).unwrap();
    assert_eq!(fs::read_to_string(out.join("my notes.txt")).unwrap(), "mine");
    assert_eq!(fs::read_to_string(out.join("takes/off.wav")).unwrap(), "sound");
    assert!(!out.join("ladder-1.png").exists());
}

/// What comes and goes while the report is made is no failure, and nothing of it is lost.
#[test]
fn files_that_come_while_the_report_is_made_are_carried_over() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    earlier_report(&out);
    fs::write(out.join("b vanishes.txt"), "mine").unwrap();
    let busy = |dir: &Path| {
        fs::remove_file(out.join("b vanishes.txt"))?;
        fs::write(out.join("a comes.txt"), "mine")?;
        fill(with_one_figure())(dir)
    };
    write_folder(&out, true, busy).unwrap();
    assert_eq!(fs::read_to_string(out.join("a comes.txt")).unwrap(), "mine");
    assert!(!out.join("ladder-1.png").exists());
    assert_eq!(names(root.path()), ["report/"]);
}

#[cfg(unix)]
#[test]
fn a_pipe_in_an_earlier_report_is_never_opened() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    let pipe = |path: &Path| {
        assert!(std::process::Command::new("mkfifo").arg(path).status().unwrap().success());
    };
    earlier_report(&out);
    pipe(&out.join("a pipe"));
    write_folder(&out, true, fill(with_one_figure())).unwrap();
    assert!(out.join("a pipe").exists(), "carried over");
    // In the place of the report's own file: then it is no report.
    fs::remove_file(out.join("report.json")).unwrap();
    pipe(&out.join("report.json"));
    let message = said(write_folder(&out, true, fill(with_one_figure())), root.path());
    assert!(message.contains("is no report of noisetally"), "{message}");
}

#[test]
fn two_at_once_into_one_place_leave_one_whole_report() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    let results: Vec<anyhow::Result<()>> = std::thread::scope(|scope| {
        let run = || write_folder(&out, false, fill(sample_report()));
        let both: Vec<_> = (0..4).map(|_| scope.spawn(run)).collect();
        both.into_iter().map(|one| one.join().unwrap()).collect()
    });
    assert!(results.iter().any(Result::is_ok));
    assert_eq!(fs::read_to_string(out.join("report.json")).unwrap(), json(&sample_report()));
    check_folder(&out, false).unwrap();
    assert_eq!(names(root.path()), ["report/"]);
}

#[test]
fn a_file_of_someone_else_with_the_name_of_a_new_one_is_not_overwritten() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    write_folder(&out, false, fill(with_one_figure())).unwrap();
    fs::write(out.join("ladder-1.png"), "mine").unwrap();
    let before = contents(&out);
    let message = said(write_folder(&out, true, fill(sample_report())), root.path());
    assert!(message.contains("ladder-1.png") && message.contains("untouched"), "{message}");
    assert_eq!(contents(&out), before);
}

#[test]
fn an_empty_folder_is_used_and_a_file_is_refused() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("report");
    fs::create_dir(&out).unwrap();
    earlier_report(&out);
    assert!(out.join("report.md").exists());

    let file = root.path().join("notes.txt");
    fs::write(&file, "mine").unwrap();
    let message = said(write_folder(&file, true, fill(sample_report())), root.path());
    assert!(message.starts_with("ROOT/notes.txt: is a file, not a folder"), "{message}");
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
    let inside = write_folder(&file.join("report"), true, fill(sample_report()));
    assert!(format!("{:#}", inside.unwrap_err()).contains("try: another place"), "a file can't be a parent");
}

#[test]
fn names_that_are_no_folder_of_their_own_are_refused() {
    for out in ["", "/"] {
        assert!(write_folder(Path::new(out), true, |_| Ok(())).is_err(), "{out:?}");
    }
}

#[test]
fn checking_beforehand_leaves_nothing() {
    let root = tempfile::tempdir().unwrap();
    check_folder(&root.path().join("a/b/report"), false).unwrap();
    assert_eq!(names(root.path()), Vec::<String>::new());
}

/// Whoever may write anywhere (root) is not stopped by permissions; then a file system that takes no folders stands
/// in.
#[cfg(unix)]
#[test]
fn a_parent_that_takes_no_folder_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let root = tempfile::tempdir().unwrap();
    let mut parent = root.path().join("locked");
    fs::create_dir(&parent).unwrap();
    fs::set_permissions(&parent, fs::Permissions::from_mode(0o555)).unwrap();
    if fs::create_dir(parent.join("probe")).is_ok() {
        parent = PathBuf::from("/proc");
        if !parent.join("self").exists() {
            return;
        }
    }
    for result in [
        write_folder(&parent.join("report"), false, fill(sample_report())),
        check_folder(&parent.join("report"), false).map(drop),
        write_folder(&parent.join("a/report"), false, fill(sample_report())),
    ] {
        let message = format!("{:#}", result.unwrap_err());
        assert!(message.contains(&*parent.to_string_lossy()), "{message}");
        assert!(message.contains("try: another place for the report"), "{message}");
    }
}

#[test]
fn a_full_disk_is_told_with_what_to_try() {
    let root = tempfile::tempdir().unwrap();
    let full =
        |_: &Path| Err(io::Error::from(io::ErrorKind::StorageFull)).context("report.md could not be written");
    let message = format!("{:#}", write_folder(&root.path().join("report"), false, full).unwrap_err());
    assert!(message.contains("free some space"), "{message}");
    assert!(message.contains("report.md could not be written"), "{message}");
    assert_eq!(names(root.path()), Vec::<String>::new());
}

#[cfg(unix)]
#[test]
fn a_link_is_followed_and_the_folder_gets_the_usual_permissions() {
    use std::os::unix::fs::PermissionsExt;
    let root = tempfile::tempdir().unwrap();
    let (out, link) = (root.path().join("report"), root.path().join("latest"));
    earlier_report(&out);
    std::os::unix::fs::symlink(&out, &link).unwrap();
    write_folder(&link, false, fill(with_one_figure())).unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(!out.join("ladder-1.png").exists(), "what the link leads to is replaced");
    let usual = root.path().join("usual");
    fs::create_dir(&usual).unwrap();
    let mode = |p: &Path| fs::metadata(p).unwrap().permissions().mode();
    assert_eq!(mode(&out), mode(&usual));
}

/// A report at `out` with files of someone's own in it.
fn earlier_with_own_files(out: &Path) {
    earlier_report(out);
    fs::write(out.join("my notes.txt"), "mine").unwrap();
    fs::create_dir(out.join("takes")).unwrap();
    fs::write(out.join("takes/off.wav"), "sound").unwrap();
}

fn own_files_stand(out: &Path) -> bool {
    let has = |name: &str, text: &str| fs::read_to_string(out.join(name)).is_ok_and(|found| found == text);
    has("my notes.txt", "mine") && has("takes/off.wav", "sound")
}

/// Each call that changes the disk fails once, and is once the last one that is done: to the disk that is a kill.
#[test]
fn the_earlier_report_or_the_new_one_stands_whatever_breaks() {
    let [earlier, new] = [json(&sample_report()), json(&with_one_figure())];
    for (fault, apart) in [(Fault::Fail, false), (Fault::Dead, false), (Fault::Fail, true), (Fault::Dead, true)] {
        for at in 1.. {
            let root = tempfile::tempdir().unwrap();
            let out = root.path().join("report");
            earlier_with_own_files(&out);
            let (done, made) = with(fault, at, apart, || write_folder(&out, true, fill(with_one_figure())));
            let case = format!("{fault:?} at call {at}, apart: {apart}: {done:?}");
            // Where two folders can't be exchanged in one call, a kill may leave none: the next run puts it back.
            let said = check_folder(&out, true).unwrap();
            let was_gone = said.iter().any(|line| line.contains("put back"));
            assert!(!was_gone || (apart && fault == Fault::Dead), "{case}");
            let stands = fs::read_to_string(out.join("report.json")).unwrap_or_default();
            assert!(stands == earlier || stands == new, "{case}: no report stands there");
            assert!(own_files_stand(&out), "{case}: own files are gone");
            if fault == Fault::Fail && done.is_err() {
                assert!(stands == earlier, "{case}");
                assert_eq!(names(root.path()), ["report/"], "{case}");
                let message = said_of(&done);
                assert!(
                    message.contains("the earlier one is untouched") || message.contains("Nothing was written"),
                    "{message}"
                );
            }
            write_folder(&out, true, fill(with_one_figure())).unwrap();
            assert_eq!(names(root.path()), ["report/"], "{case}: the next run leaves nothing");
            assert!(own_files_stand(&out), "{case}");
            if made < at {
                assert!(done.is_ok(), "{case}");
                break;
            }
        }
    }
}

fn said_of(result: &anyhow::Result<()>) -> String {
    result.as_ref().err().map_or_else(String::new, |error| format!("{error:#}"))
}
