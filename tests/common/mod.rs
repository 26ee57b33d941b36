//! What the tests of the whole program share: running it, and folders to run it in.
#![allow(dead_code, missing_docs)] // Each test file uses some of it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The checkout.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Runs the program as a user does, in `dir`.
pub fn noisetally(dir: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_noisetally"));
    command.args(arguments).current_dir(dir).output().expect("it starts")
}

pub fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8 on standard output")
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("UTF-8 on standard error")
}

/// Copies the files of `from` whose name `wanted` accepts into `to`, which is made.
pub fn copy_files(from: &Path, to: &Path, wanted: impl Fn(&str) -> bool) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        if wanted(entry.file_name().to_str().unwrap()) {
            fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
    }
}

/// Names in a folder, in order.
pub fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}
