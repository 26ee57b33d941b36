//! The committed evenings and their reports: recordings and reports come out again as they are committed (by the
//! rule of `sameness`), and what a report says of its evening is what is true of it (`pond`, `loft`, `lane`). Pictures are
//! compared by name, size and that they can be decoded and show something: their bytes differ as soon as one dot
//! does.

#[path = "../common/mod.rs"]
mod common;
mod lane;
mod loft;
mod mistakes;
mod pond;
mod sameness;

use std::fs;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde_json::Value;

use common::{names, noisetally, root, stderr};
use sameness::{differences, same_figure, same_text};

/// The seed the committed recordings were made with: the program's own default.
const SEED: u64 = 1;

/// An evening, and its report made again of the committed recordings.
struct Evening {
    /// As `demo --evening` knows it.
    word: &'static str,
    made: LazyLock<(tempfile::TempDir, PathBuf)>,
}

static POND: Evening = Evening { word: "pond", made: LazyLock::new(|| make("pond")) };
static LANE: Evening = Evening { word: "lane", made: LazyLock::new(|| make("lane")) };
static LOFT: Evening = Evening { word: "loft", made: LazyLock::new(|| make("loft")) };

fn make(word: &str) -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join(format!("{word}-evening"));
    let recordings = root().join(format!("samples/{word}-evening"));
    let run = noisetally(
        dir.path(),
        &["session", recordings.to_str().unwrap(), "--out", out.to_str().unwrap(), "--quiet"],
    );
    assert_eq!((run.status.code(), stderr(&run)), (Some(0), String::new()));
    (dir, out)
}

impl Evening {
    fn recordings(&self) -> PathBuf {
        root().join(format!("samples/{}-evening", self.word))
    }

    fn committed(&self) -> PathBuf {
        root().join(format!("reports/{}-evening", self.word))
    }

    /// Made once for all tests; the folder lives as long as they run.
    fn made(&self) -> &Path {
        &self.made.1
    }
}

fn each(check: impl Fn(&Evening)) {
    [&POND, &LOFT, &LANE].into_iter().for_each(check);
}

fn text(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn json(dir: &Path) -> Value {
    serde_json::from_str(&text(dir, "report.json")).unwrap()
}

// ---- the report ----

#[test]
fn the_report_has_the_committed_files() {
    // The page holds the pictures a second time and is not committed.
    let kept =
        |dir: &Path| -> Vec<String> { names(dir).into_iter().filter(|name| name != "report.html").collect() };
    each(|evening| assert_eq!(kept(evening.made()), kept(&evening.committed())));
}

#[test]
fn words_and_numbers_are_the_committed_ones() {
    each(|evening| {
        for name in ["report.md", "details.md", "post.txt"] {
            if let Err(difference) = same_text(&text(&evening.committed(), name), &text(evening.made(), name)) {
                panic!("{name}, {difference}");
            }
        }
    });
}

#[test]
fn the_machine_readable_result_is_the_committed_one() {
    each(|evening| {
        let mut found = Vec::new();
        differences("", "", &json(&evening.committed()), &json(evening.made()), &mut found);
        assert!(found.is_empty(), "report.json, committed and made:\n{}", found.join("\n"));
    });
}

#[test]
fn tables_are_the_committed_ones() {
    each(|evening| {
        for name in ["contrasts.csv", "lines.csv"] {
            let rows = |dir: &Path| -> Vec<csv::StringRecord> {
                let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(dir.join(name)).unwrap();
                reader.records().map(|row| row.unwrap()).collect()
            };
            let (old, new) = (rows(&evening.committed()), rows(evening.made()));
            assert_eq!((old.len(), &old[0]), (new.len(), &new[0]), "{name}");
            for (old_row, new_row) in old.iter().zip(&new).skip(1) {
                for ((column, a), b) in old[0].iter().zip(old_row).zip(new_row) {
                    let same = match (a.parse::<f64>(), b.parse::<f64>()) {
                        (Ok(x), Ok(y)) => same_figure(column, x, y),
                        _ => a == b,
                    };
                    assert!(same, "{name}, {column}: committed {a}, made {b}\n{old_row:?}\n{new_row:?}");
                }
            }
        }
    });
}

/// Width, height, and whether more than one colour is on it.
fn picture(path: &Path) -> (u32, u32, bool) {
    let mut decoder = png::Decoder::new(BufReader::new(fs::File::open(path).unwrap()));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let mut dots = vec![0; reader.output_buffer_size().unwrap()];
    let frame = reader.next_frame(&mut dots).unwrap();
    let samples = frame.color_type.samples();
    let shows_something = dots.chunks(samples).any(|dot| dot != &dots[..samples]);
    (frame.width, frame.height, shows_something)
}

#[test]
fn pictures_are_whole_light_and_of_the_committed_size() {
    each(|evening| {
        let listed: Vec<String> = json(evening.made())["figures"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f["file"].as_str().unwrap().into())
            .collect();
        let mut pictures: Vec<String> =
            names(evening.made()).into_iter().filter(|name| name.ends_with(".png")).collect();
        assert!(!pictures.is_empty());
        for name in &pictures {
            let (new, old) = (evening.made().join(name), evening.committed().join(name));
            let (width, height, shows_something) = picture(&new);
            assert!(shows_something, "{name} is blank");
            assert!(width >= 600 && height >= 300, "{name}: {width} × {height}");
            assert_eq!(picture(&old), (width, height, true), "{name}");
            for path in [new, old] {
                let bytes = fs::metadata(path).unwrap().len();
                assert!(bytes < 300_000, "{name}: {bytes} bytes");
            }
        }
        pictures.sort();
        let mut sorted = listed;
        sorted.sort();
        assert_eq!(pictures, sorted, "pictures and the list of them in report.json");
    });
}

// ---- the recordings ----

fn samples(path: &Path) -> (hound::WavSpec, Vec<i16>) {
    let reader = hound::WavReader::open(path).unwrap();
    (reader.spec(), reader.into_samples().map(|sample| sample.unwrap()).collect())
}

#[test]
fn the_demo_makes_the_committed_recordings() {
    each(|evening| {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("evening");
        let run =
            noisetally(dir.path(), &["demo", "evening", "--evening", evening.word, "--seed", &SEED.to_string()]);
        assert_eq!(run.status.code(), Some(0), "{}", stderr(&run));
        assert_eq!(names(&folder), names(&evening.recordings()));
        assert_eq!(text(&folder, "session.toml"), text(&evening.recordings(), "session.toml"));
        for name in names(&folder).iter().filter(|name| name.ends_with(".wav")) {
            let ((made_as, made), (kept_as, kept)) =
                (samples(&folder.join(name)), samples(&evening.recordings().join(name)));
            assert_eq!((made_as, made.len()), (kept_as, kept.len()), "{name}");
            // Where a value lies halfway between two steps, the last bit of a logarithm decides: one step, never
            // two.
            let most = made.iter().zip(&kept).map(|(a, b)| a.abs_diff(*b)).max();
            assert!(most <= Some(1), "{name}: {most:?} steps apart");
        }
    });
}
