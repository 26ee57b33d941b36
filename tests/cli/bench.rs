//! A folder of its own for every test, recordings to put into it, and the account of what a run did.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use noisetally::audio::write_wav;
use noisetally::demo::synth::{Hash, Receiver, Scene, Trap};
use noisetally::units::{Db, Dbfs};

/// Samples a second of the recordings, unless a test is about that.
pub const RATE_HZ: u32 = 8000;
/// What the lamp of these tests does to the noise.
pub const LAMP_DB: f64 = 10.0;

/// The band with everything off; each `seed` is a take of its own.
pub fn off(seed: u64) -> Scene {
    Scene::new(Receiver::ssb(RATE_HZ))
        .seed(seed)
        .band_noise(Dbfs(-45.0))
        .receiver_noise(Dbfs(-62.0))
        .trap(Trap::SoundCard(Dbfs(-82.0)))
}

/// The same with the lamp on.
pub fn on(seed: u64) -> Scene {
    off(seed).device(Hash::flat(), Db(LAMP_DB))
}

/// Six seconds of a scene.
pub fn samples(scene: &Scene) -> Vec<f32> {
    scene.render(6.0).samples
}

pub struct Bench {
    dir: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        Self { dir: tempfile::tempdir().unwrap() }
    }

    /// A folder `shed` with two recordings off and two on.
    pub fn shed() -> Self {
        Self::new()
            .scene("shed/01-off.wav", &off(1))
            .scene("shed/02-lamp-on.wav", &on(2))
            .scene("shed/03-off.wav", &off(3))
            .scene("shed/04-lamp-on.wav", &on(4))
    }

    /// Another bench with the same in it.
    pub fn copy(&self) -> Self {
        self.contents().into_iter().fold(Self::new(), |bench, (name, bytes)| match name.strip_suffix('/') {
            Some(folder) => {
                fs::create_dir_all(bench.path(folder)).unwrap();
                bench
            }
            None => bench.file(&name, &bytes),
        })
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub fn file(self, name: &str, bytes: &[u8]) -> Self {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
        self
    }

    pub fn wav(self, name: &str, samples: &[f32], rate_hz: u32) -> Self {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        write_wav(&path, samples, rate_hz, 1).unwrap();
        self
    }

    pub fn scene(self, name: &str, scene: &Scene) -> Self {
        let samples = samples(scene);
        self.wav(name, &samples, RATE_HZ)
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    pub fn json(&self, name: &str) -> Value {
        serde_json::from_str(&self.read(name)).unwrap()
    }

    /// The program, in the bench's folder, with no terminal.
    pub fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_noisetally"));
        command.current_dir(self.dir.path()).stdin(Stdio::null());
        for inherited in ["COLUMNS", "NO_COLOR", "CLICOLOR_FORCE", "FORCE_COLOR"] {
            command.env_remove(inherited);
        }
        command
    }

    pub fn run<const N: usize>(&self, args: [&str; N]) -> Ran {
        self.account(self.command().args(args))
    }

    /// The same with arguments of any number.
    pub fn run_all(&self, args: &[&str]) -> Ran {
        self.account(self.command().args(args))
    }

    /// Runs in a folder of the bench; files are still told from the bench's own.
    pub fn run_in<const N: usize>(&self, folder: &str, args: [&str; N]) -> Ran {
        self.account(self.command().current_dir(self.path(folder)).args(args))
    }

    fn account(&self, command: &mut Command) -> Ran {
        let before = self.contents();
        let output = command.output().unwrap();
        let after = self.contents();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        let ran = Ran {
            stdout: text(output.stdout),
            stderr: text(output.stderr),
            exit: output.status.code(),
            files: changes(&before, &after),
        };
        assert!(!ran.stderr.contains("panicked"), "{}", ran.stderr);
        ran
    }

    /// Every file and folder of the bench with its bytes.
    pub fn contents(&self) -> BTreeMap<String, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut folders = vec![self.dir.path().to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                let name = relative(&path, self.dir.path());
                if path.is_dir() {
                    found.insert(format!("{name}/"), Vec::new());
                    folders.push(path);
                } else {
                    found.insert(name, fs::read(&path).unwrap());
                }
            }
        }
        found
    }
}

fn relative(path: &Path, to: &Path) -> String {
    path.strip_prefix(to).unwrap().to_string_lossy().into_owned()
}

/// "+ new", "~ changed", "- gone"; the pictures of a folder as one.
fn changes(before: &BTreeMap<String, Vec<u8>>, after: &BTreeMap<String, Vec<u8>>) -> Vec<String> {
    let kind = |name: &String| match (before.get(name), after.get(name)) {
        (None, Some(_)) => Some('+'),
        (Some(_), None) => Some('-'),
        (Some(a), Some(b)) if a != b => Some('~'),
        _ => None,
    };
    let shown = |name: &String| match name.rsplit_once('/') {
        Some((folder, file)) if file.ends_with(".png") => format!("{folder}/*.png"),
        _ => name.clone(),
    };
    let mut found: Vec<String> = before
        .keys()
        .chain(after.keys())
        .filter_map(|name| Some(format!("{} {}", kind(name)?, shown(name))))
        .collect();
    found.sort();
    found.dedup();
    found
}

/// What a report folder that was not there before adds.
pub fn new_report(folder: &str) -> Vec<String> {
    let files = [
        "",
        "*.png",
        "contrasts.csv",
        "details.md",
        "lines.csv",
        "post.txt",
        "report.html",
        "report.json",
        "report.md",
    ];
    files.iter().map(|file| format!("+ {folder}/{file}")).collect()
}

/// What a run did.
#[derive(Debug)]
pub struct Ran {
    pub stdout: String,
    pub stderr: String,
    pub exit: Option<i32>,
    pub files: Vec<String>,
}

impl Ran {
    #[track_caller]
    pub fn exit(&self, code: i32) -> &Self {
        assert_eq!(self.exit, Some(code), "{self:#?}");
        self
    }

    #[track_caller]
    pub fn stdout(&self, text: &str) -> &Self {
        assert_eq!(self.stdout, text, "{self:#?}");
        self
    }

    #[track_caller]
    pub fn stderr(&self, text: &str) -> &Self {
        assert_eq!(self.stderr, text, "{self:#?}");
        self
    }

    /// Exactly these files were made (+), changed (~) or removed (-).
    #[track_caller]
    pub fn files<S: AsRef<str>>(&self, expected: &[S]) -> &Self {
        let expected: Vec<&str> = expected.iter().map(AsRef::as_ref).collect();
        assert_eq!(self.files, expected, "{self:#?}");
        self
    }

    /// Nothing on the disk is other than before.
    #[track_caller]
    pub fn no_files(&self) -> &Self {
        self.files::<&str>(&[])
    }

    /// Standard output as JSON, and nothing else there.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.stdout).unwrap_or_else(|error| panic!("{error}: {self:#?}"))
    }
}

/// Codes of the warnings of a JSON object.
pub fn codes(object: &Value) -> Vec<&str> {
    object["warnings"].as_array().unwrap().iter().map(|warning| warning["code"].as_str().unwrap()).collect()
}
