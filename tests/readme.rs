//! The README and the guides keep their word: their commands run, their links lead somewhere, their options,
//! manifest fields and warning codes are those the program has, all of them; the licences are those of the lock
//! file.

mod common;
#[path = "common/results.rs"]
mod results;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use pulldown_cmark::{Event, Options, Parser, Tag};

use common::{copy_files, names, noisetally, root, stderr, stdout};
use noisetally::findings::switching_comb::result::{AlikeNeighbours, RefusedComb};
use noisetally::report::changes::result::Changes;
use noisetally::report::stored::Stored;
use noisetally::warning::Code;

const COMMANDS: [&str; 15] = [
    "session",
    "pair",
    "describe",
    "night",
    "compare",
    "weeks",
    "handout",
    "draft",
    "check",
    "demo",
    "sheet",
    "capture",
    "guide",
    "completions",
    "manual",
];
/// Needs sound on standard input: its examples stand in the guides as text, `tests/cli/capture.rs` runs it.
const NOT_RUN: [&str; 1] = ["capture"];

fn document(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap()
}

fn guide(topic: &str) -> String {
    document(&format!("src/guide/{topic}.md"))
}

/// Contributors read it; the program does not print it.
const NO_TOPIC: [&str; 1] = ["decisions"];

/// The topics of the guides, by the files that are there.
fn topics() -> Vec<String> {
    let files = names(&root().join("src/guide"));
    let topics = files.iter().filter_map(|name| name.strip_suffix(".md"));
    topics.filter(|topic| !NO_TOPIC.contains(topic)).map(str::to_owned).collect()
}

/// What a user reads: the README and every guide, by path and text.
fn readme_and_guides() -> Vec<(String, String)> {
    let paths = topics().into_iter().map(|topic| format!("src/guide/{topic}.md"));
    ["README.md".to_owned()].into_iter().chain(paths).map(|path| (path.clone(), document(&path))).collect()
}

/// All of it, for what may stand in any of them.
fn everything() -> String {
    readme_and_guides().into_iter().map(|(_, text)| text).collect()
}

#[test]
fn the_readme_is_short() {
    assert!(document("README.md").split_whitespace().count() <= 2000);
}

/// Every guide is listed, linked from the README, and printed as it stands in the repository.
#[test]
fn the_program_prints_the_guides() {
    let list = stdout(&noisetally(&root(), &["guide"]));
    let listed: BTreeSet<&str> = list
        .lines()
        .filter_map(|line| line.strip_prefix("  ")?.split_once("  ").map(|(topic, _)| topic.trim_end()))
        .collect();
    let topics = topics();
    assert!(topics.len() > 5);
    assert_eq!(listed, topics.iter().map(String::as_str).collect(), "left: listed; right: in src/guide");
    let linked = links(&document("README.md"));
    for topic in &topics {
        let run = noisetally(&root(), &["guide", topic]);
        assert_eq!(run.status.code(), Some(0), "{topic}");
        assert_eq!(stdout(&run), guide(topic), "{topic}");
        assert!(linked.contains(&format!("src/guide/{topic}.md")), "the README has no link to {topic}");
    }
    let run = noisetally(&root(), &["guide", "nonsense"]);
    assert_eq!(run.status.code(), Some(2));
    for topic in &topics {
        assert!(stderr(&run).contains(topic.as_str()), "{topic}: {}", stderr(&run));
    }
}

/// The contents of the code fences of one language.
fn fences(text: &str, language: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = None::<String>;
    for line in text.lines() {
        match &mut open {
            None if line.trim() == format!("```{language}") => open = Some(String::new()),
            None => {}
            Some(_) if line.trim() == "```" => found.extend(open.take()),
            Some(body) => {
                body.push_str(line);
                body.push('\n');
            }
        }
    }
    assert!(open.is_none(), "a fence of {language} is never closed");
    found
}

/// Words as a shell divides them: by blanks, but not within double quotes.
fn words(line: &str) -> Vec<String> {
    let quoted = |(i, piece): (usize, &str)| match i % 2 {
        0 => piece.split_whitespace().map(str::to_owned).collect(),
        _ => vec![piece.to_owned()],
    };
    line.split('"').enumerate().flat_map(quoted).collect()
}

/// The arguments of every command of ours in a text's fences, in order.
fn commands(text: &str) -> Vec<Vec<String>> {
    let arguments = |line: &str| {
        let line = line.trim_start();
        let ours = line.strip_prefix("noisetally ").or_else(|| line.strip_prefix("cargo run --release -- "))?;
        Some(words(ours.split('#').next().unwrap_or("")))
    };
    fences(text, "sh").iter().flat_map(|fence| fence.lines().filter_map(arguments).collect::<Vec<_>>()).collect()
}

/// What a reader has who follows the README or a guide: the sample evening, and recordings of his own in
/// `my-evening` (the same ones, without labels). Commands of a text run one after another, as he would.
#[test]
fn its_commands_run() {
    let sample = root().join("samples/pond-evening");
    let (mut run_all, mut made) = (BTreeSet::new(), BTreeSet::new());
    for (path, text) in readme_and_guides() {
        let dir = tempfile::tempdir().unwrap();
        copy_files(&sample, &dir.path().join("samples/pond-evening"), |_| true);
        copy_files(&sample, &dir.path().join("my-evening"), |name| name.ends_with(".wav"));
        for arguments in commands(&text) {
            let typed: Vec<&str> = arguments.iter().map(String::as_str).collect();
            let run = noisetally(dir.path(), &typed);
            assert_eq!(run.status.code(), Some(0), "{path}: {typed:?}\n{}", stderr(&run));
            if typed.contains(&"--json") {
                serde_json::from_str::<serde_json::Value>(&stdout(&run))
                    .unwrap_or_else(|e| panic!("{path}: {typed:?}: {e}"));
            }
            run_all.insert(arguments[0].clone());
        }
        for file in [
            "reports/pond-evening/report.html",
            "reports/my-evening/post.txt",
            "reports/narrow/report.json",
            "reports/shed-night/timeline.csv",
        ] {
            if dir.path().join(file).is_file() {
                made.insert(file);
            }
        }
    }
    for command in COMMANDS.into_iter().filter(|command| !NOT_RUN.contains(command)) {
        assert!(run_all.contains(command), "no example of {command}");
    }
    assert_eq!(made.len(), 4, "{made:?}");
}

/// The targets of links and pictures, by an independent Markdown reader.
fn links(text: &str) -> Vec<String> {
    Parser::new_ext(text, Options::ENABLE_TABLES)
        .filter_map(|event| match event {
            Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) => Some(dest_url.into_string()),
            _ => None,
        })
        .collect()
}

/// The anchors that headings get where Markdown is shown with links to them (common practice): small letters,
/// blanks as hyphens, other signs dropped.
fn anchors(text: &str) -> BTreeSet<String> {
    let heading = |line: &str| line.starts_with('#').then(|| line.trim_start_matches('#').trim().to_lowercase());
    let kept = |c: &char| c.is_alphanumeric() || matches!(c, '-' | ' ' | '_');
    text.lines().filter_map(heading).map(|h| h.chars().filter(kept).collect::<String>().replace(' ', "-")).collect()
}

#[test]
fn its_links_lead_somewhere() {
    let mut pictures = 0;
    let more = [
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "src/guide/decisions.md",
        "tests/validation/RESULTS.md",
        "tests/findings/RESULTS.md",
        "tests/night/RESULTS.md",
        "reports/pond-evening/report.md",
        "reports/pond-evening/details.md",
        "reports/loft-evening/report.md",
        "reports/lane-evening/report.md",
        "reports/shed-night/report.md",
    ];
    let more = more.into_iter().map(|name| (name.to_owned(), document(name)));
    for (name, text) in readme_and_guides().into_iter().chain(more) {
        let folder = root().join(&name).parent().unwrap().to_owned();
        for link in links(&text) {
            if let Some(anchor) = link.strip_prefix('#') {
                assert!(anchors(&text).contains(anchor), "{name}: #{anchor}");
            } else {
                assert!(!link.contains("://"), "{name}: {link} leads out of the project");
                assert!(folder.join(&link).is_file(), "{name}: {link}");
                pictures += usize::from(link.ends_with(".png"));
            }
        }
    }
    assert!(pictures > 1);
}

/// Everything that looks like a long option, such as `--json`.
fn options(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'))
        .filter(|word| {
            word.len() > 3 && word.starts_with("--") && word[2..].starts_with(|c: char| c.is_ascii_alphabetic())
        })
        .map(str::to_owned)
        .collect()
}

fn options_of(command: &str) -> BTreeSet<String> {
    let run = noisetally(&root(), &[command, "--help"]);
    assert_eq!(run.status.code(), Some(0));
    options(&stdout(&run))
}

#[test]
fn its_options_are_those_of_the_program() {
    // Options of cargo, which stand in commands only.
    let of_cargo: BTreeSet<String> = ["--release", "--path", "--features"].map(str::to_owned).into();
    let mut known = options(&stdout(&noisetally(&root(), &["--help"])));
    COMMANDS.iter().for_each(|command| known.extend(options_of(command)));
    let named: BTreeSet<String> = options(&everything()).difference(&of_cargo).cloned().collect();
    assert_eq!(named, known, "left: named in README and guides; right: known to --help");
}

/// The table of `commands` says with which command an option goes.
#[test]
fn its_options_stand_with_the_right_commands() {
    let text = guide("commands");
    let rows = text.lines().filter(|line| line.starts_with("| `--"));
    let mut named: BTreeSet<(String, String)> = BTreeSet::new();
    for row in rows {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        for option in options(cells[1]) {
            let with: Vec<&str> = match cells[2] {
                "all" => COMMANDS.to_vec(),
                some => some.split(", ").collect(),
            };
            named.extend(with.into_iter().map(|command| (command.to_owned(), option.clone())));
        }
    }
    let known: BTreeSet<(String, String)> = COMMANDS
        .iter()
        .flat_map(|command| options_of(command).into_iter().map(|option| ((*command).to_owned(), option)))
        .collect();
    named.retain(|(_, option)| option != "--version");
    assert_eq!(named, known, "left: the table; right: --help of each command");
}

/// Runs `check` on a folder with this manifest and the recordings it names.
fn check(manifest: &str) -> std::process::Output {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("session.toml"), manifest).unwrap();
    let sample = |name: &str| root().join("samples/pond-evening").join(name);
    for line in manifest.lines() {
        if let Some(file) = line.strip_prefix("file = ") {
            let source = if file.contains("off") { "01-off.wav" } else { "02-charger-on.wav" };
            let to = dir.path().join(file.trim_matches('"'));
            fs::copy(sample(source), to).unwrap();
        }
    }
    noisetally(dir.path(), &["check", "."])
}

#[test]
fn its_manifest_is_accepted() {
    let manifests = fences(&everything(), "toml");
    assert!(!manifests.is_empty());
    for manifest in manifests {
        let run = check(&manifest);
        assert_ne!(run.status.code(), Some(2), "{}", stderr(&run));
        assert!(stdout(&run).contains("three ferrites"), "{}", stdout(&run));
    }
}

/// The examples of file names are read as the rule beside them says.
#[test]
fn its_file_names_are_read() {
    let text = guide("manifest");
    let names: Vec<&str> =
        text.lines().filter_map(|line| line.strip_prefix("    ")).filter(|n| !n.contains(' ')).collect();
    assert_eq!(names.len(), 6, "{names:?}");
    let dir = tempfile::tempdir().unwrap();
    names.iter().for_each(|name| fs::write(dir.path().join(name), "").unwrap());
    let run = noisetally(dir.path(), &["draft", ".", "--out", "-"]);
    assert_eq!(run.status.code(), Some(0), "{}", stderr(&run));
    let drafted: toml::Table = stdout(&run).parse().unwrap();
    let read: BTreeSet<String> = drafted["recording"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| {
            let word =
                |field: &str| r.get(field).map_or_else(|| "-".to_owned(), |v| v.to_string().replace('"', ""));
            ["state", "device", "remedy", "order", "dial_khz", "mode"].map(word).join(" | ")
        })
        .collect();
    let expected = [
        "off | - | - | 1 | - | -",
        "on | lamp | - | 2 | - | -",
        "off | - | - | 3 | - | -",
        "on | lamp | ferrite | 4 | - | -",
        "terminated | - | - | 5 | - | -",
        "on | lamp | moved lead | - | 7100 | USB",
    ];
    assert_eq!(read, expected.map(str::to_owned).into());
}

/// The program names the fields it knows when it meets one it does not.
fn fields_known(manifest: &str) -> BTreeSet<String> {
    let run = check(manifest);
    assert_eq!(run.status.code(), Some(2));
    let told = stderr(&run);
    let (_, list) = told.split_once("the fields here are: ").unwrap_or_else(|| panic!("{told}"));
    let list = list.lines().next().unwrap();
    list.split(", ").map(|name| name.trim().to_owned()).collect()
}

/// Fields stand in the tables in backticks, and in the example.
#[test]
fn it_tells_of_every_manifest_field() {
    let text = guide("manifest");
    let example = fences(&text, "toml").join("\n");
    let mut known = fields_known("qqqqqqqqqqqq = 1\n");
    for table in ["recording", "target", "supply", "receiver_check", "case"] {
        assert!(known.remove(table), "{table}");
    }
    known.extend(fields_known("[target]\nqqqqqqqqqqqq = 1\n"));
    known.extend(fields_known("[case]\nqqqqqqqqqqqq = 1\n"));
    known.extend(fields_known("[receiver_check]\nqqqqqqqqqqqq = 1\n"));
    known.extend(fields_known("[[supply]]\ndevice = \"lamp\"\nqqqqqqqqqqqq = 1\n"));
    known.extend(fields_known("[[recording]]\nfile = \"01-off.wav\"\nqqqqqqqqqqqq = 1\n"));
    assert!(known.len() > 15, "{known:?}");
    let assigned = |line: &str| line.split_once(" = ").map(|(name, _)| name.to_owned());
    let shown: BTreeSet<String> = example.lines().filter_map(assigned).collect();
    assert_eq!(shown, known, "left: in the example; right: known to the program");
    let cells: BTreeSet<&str> = text
        .lines()
        .filter(|line| line.starts_with("| `"))
        .flat_map(|line| line.split('|').nth(1).unwrap().split(','))
        .map(|name| name.trim().trim_matches('`'))
        .collect();
    for field in &known {
        assert!(cells.contains(field.as_str()), "`{field}` is not in the tables");
    }
}

/// The codes the program has, from the place where they are written: no list of them can be had of the type.
fn codes() -> BTreeSet<String> {
    let source = document("src/warning.rs");
    let (_, body) = source.split_once("pub enum Code {").unwrap();
    let (body, _) = body.split_once("\n}").unwrap();
    let snake = |name: &str| {
        name.chars().fold(String::new(), |mut word, c| {
            if c.is_uppercase() && !word.is_empty() {
                word.push('_');
            }
            word.extend(c.to_lowercase());
            word
        })
    };
    let variants = body.lines().map(str::trim).filter(|line| line.ends_with(',') && !line.starts_with("//"));
    variants.map(|line| snake(line.trim_end_matches(','))).collect()
}

#[test]
fn it_tells_of_every_warning() {
    let text = guide("warnings");
    let told: BTreeSet<String> = text
        .lines()
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`').map(|(code, _)| code.to_owned()))
        .collect();
    for code in &told {
        serde_json::from_value::<Code>(code.as_str().into()).unwrap_or_else(|e| panic!("{e}"));
    }
    assert_eq!(told, codes());
}

/// What `compare` makes of the pond evening and one like it.
fn changes() -> Changes {
    let pond = || Stored::read(&root().join("reports/pond-evening")).unwrap();
    let mut later = pond();
    later.report.recordings.iter_mut().for_each(|r| r.level_db = r.level_db.map(|level| level + 1.0));
    Changes::of(vec![pond(), later]).unwrap()
}

/// The field names that `json` gives are in a real result, of one evening or the other; those of what neither
/// evening has, in what the program would write of it.
#[test]
fn the_fields_of_the_result_are_there() {
    let neighbours = AlikeNeighbours { apart_hz: [1.0; 2], spacing_ci_hz: None, pairs: 1, of: 1, chance: 0.1 };
    let refused = RefusedComb { neighbours: Some(neighbours), ..RefusedComb::default() };
    let result = document("reports/pond-evening/report.json")
        + &document("reports/loft-evening/report.json")
        + &document("reports/lane-evening/report.json")
        + &document("reports/shed-night/report.json")
        + &serde_json::to_string_pretty(&refused).unwrap()
        + &changes().json();
    let text = guide("json");
    let values = ["sound", "unrepeated", "doubtful", "void", "null"];
    let names = text.split('`').skip(1).step_by(2).map(|name| name.trim_end_matches("[]"));
    let names: Vec<&str> = names
        .filter(|name| name.chars().all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit()))
        .filter(|name| !values.contains(name))
        .collect();
    assert!(names.len() > 20);
    for name in names {
        assert!(result.contains(&format!("\"{name}\":")), "`{name}` is not in report.json");
    }
}

/// A package without licence texts, or with another name on them, is not what its manifest says.
#[test]
fn licences_are_there() {
    let holder = "the noisetally contributors";
    for (name, words) in [
        ("LICENSE-MIT", "Permission is hereby granted, free of charge"),
        ("LICENSE-APACHE", "Version 2.0, January 2004"),
    ] {
        let text = document(name);
        assert!(text.contains(words) && text.contains(holder), "{name}");
    }
    assert!(Path::new(&root().join("LICENSE")).is_file());
}

/// Names and versions in the text fences of a part of `licences`; the standard library has no version.
fn libraries(part: &str) -> BTreeSet<(String, String)> {
    let library = |line: &str| {
        let (name, rest) = line.split_once(' ')?;
        let (version, rest) = rest.split_once(' ').unwrap_or((rest, "("));
        let is_version = version.starts_with(|c: char| c.is_ascii_digit()) && version.contains('.');
        (is_version && rest.starts_with('(')).then(|| (name.to_owned(), version.to_owned()))
    };
    fences(part, "text").iter().flat_map(|fence| fence.lines().filter_map(library).collect::<Vec<_>>()).collect()
}

/// Stale licences are wrong ones. `python3 tests/licences.py` makes them anew.
#[test]
fn the_licences_are_those_of_the_lock_file() {
    let text = guide("licences");
    let (inside, outside) = text.split_once("\n## Not in the program\n").unwrap();
    let (inside, outside) = (libraries(inside), libraries(outside));
    let lock: toml::Table = document("Cargo.lock").parse().unwrap();
    let word = |package: &toml::Value, field: &str| package[field].as_str().unwrap().to_owned();
    let locked: BTreeSet<(String, String)> = lock["package"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|package| package.get("source").is_some())
        .map(|package| (word(package, "name"), word(package, "version")))
        .collect();
    assert_eq!(&inside | &outside, locked, "left: licences.md; right: Cargo.lock");
    assert!(inside.is_disjoint(&outside));
    // What the program itself asks for is in it.
    let manifest: toml::Table = document("Cargo.toml").parse().unwrap();
    let unix = &manifest["target"]["cfg(unix)"]["dependencies"];
    for wanted in [&manifest["dependencies"], unix] {
        for name in wanted.as_table().unwrap().keys() {
            assert!(inside.iter().any(|(library, _)| library == name), "{name} has no licence");
        }
    }
    assert!(text.contains("Bitstream Vera Fonts Copyright"), "the font's own licence");
}

/// A bench replaces its own table and leaves all else as it is.
#[test]
fn a_bench_writes_its_own_section_only() {
    let earlier = "# Results\n\nRemarks.\n\n## Combs\n\nold\n\n## What fails\n\nMuch.\n";
    let made = results::section("Combs", "cargo bench --bench findings", "9.9.9", "\na table\n\n");
    let replaced = results::with_section(earlier, "Combs", &made);
    assert_eq!(replaced, earlier.replace("## Combs\n\nold\n", &made));
    assert_eq!(results::with_section(&replaced, "Combs", &made), replaced);
    let added = results::with_section(earlier, "Known noises", "## Known noises\n\nnew\n");
    assert_eq!(added, format!("{earlier}\n## Known noises\n\nnew\n"));
}

/// Every table in a `RESULTS.md` stands as its bench writes it.
#[test]
fn results_stand_as_the_benches_write_them() {
    for bench in ["validation", "findings", "night", "weeks"] {
        let text = document(&format!("tests/{bench}/RESULTS.md"));
        let mut tables = 0;
        for part in text.split("\n## ").skip(1).filter(|part| part.contains("\n```sh\n")) {
            let (heading, rest) = part.split_once("\n\nPrinted by version ").unwrap();
            let (version, _) = rest.split_once(":\n").unwrap();
            let (command, table) = (fences(part, "sh").concat(), fences(part, "text").concat());
            assert!(command.starts_with(&format!("cargo bench --bench {bench} -- ")), "{command}");
            assert!(command.contains("--write-results"), "{command}");
            let made = results::section(heading, command.trim_end(), version, &table);
            assert_eq!(made.trim_end(), format!("## {part}").trim_end());
            tables += 1;
        }
        assert!(tables > 0, "{bench}");
    }
}
