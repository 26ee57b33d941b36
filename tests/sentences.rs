//! Every sentence that the program can write, in one list to be read: `tests/sentences.txt`. A sentence that comes or
//! changes shows there, with "…" in place of what is filled in. `NOISETALLY_WRITE_SENTENCES=1 cargo test --test
//! sentences` writes the list anew.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Shorter literals are names, keys and cells. Chosen: a clause has four words.
const FEWEST_WORDS: usize = 4;

#[test]
fn the_list_of_sentences_is_up_to_date_and_reads_well() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    files.sort();
    let mut list: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        let told: Vec<String> =
            literals(&text).iter().filter(|text| is_prose(text)).map(|text| filled(text)).collect();
        let name = file.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
        if !told.is_empty() {
            list.insert(name, told);
        }
    }
    let text: String = list
        .iter()
        .map(|(file, told)| format!("{file}\n{}\n", told.iter().map(|t| format!("  {t}\n")).collect::<String>()))
        .collect();
    assert!(list.values().map(Vec::len).sum::<usize>() > 500, "the sentences are found");
    let path = root.join("tests/sentences.txt");
    if std::env::var_os("NOISETALLY_WRITE_SENTENCES").is_some() {
        fs::write(&path, &text).unwrap();
    }
    let known = fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
    let new: Vec<&str> = text.lines().filter(|line| !known.lines().any(|other| other == *line)).collect();
    assert!(
        new.is_empty() && known == text,
        "read these, then write the list anew (see above):\n{}",
        new.join("\n")
    );
}

/// The program's own files: no tests, nothing of the invented evenings.
fn sources(dir: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && !["tests", "demo"].contains(&name.as_str()) {
            sources(&path, found);
        } else if (name.ends_with(".rs") && !name.ends_with("tests.rs")) || name.ends_with(".toml") {
            found.push(path);
        }
    }
}

/// The text of every string literal outside comments, attributes and tests; a line that ends with a backslash goes
/// on with the next word. TOML's basic strings read the same.
fn literals(source: &str) -> Vec<String> {
    let source = source.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    let chars: Vec<char> = source.chars().collect();
    let starts = |at: usize, text: &str| text.chars().enumerate().all(|(i, c)| chars.get(at + i) == Some(&c));
    let (mut found, mut at) = (Vec::new(), 0);
    while at < chars.len() {
        if starts(at, "//") || (chars[at] == '#' && (at == 0 || chars[at - 1] == '\n')) {
            while at < chars.len() && chars[at] != '\n' {
                at += 1;
            }
        } else if chars[at] == '\'' && (starts(at + 2, "'") || starts(at + 1, "\\")) {
            at += 3;
            while at < chars.len() && chars[at - 1] != '\'' {
                at += 1;
            }
        } else if chars[at] == '"' {
            let close = if starts(at, "\"\"\"") { "\"\"\"" } else { "\"" };
            at += close.len();
            let mut text = String::new();
            while at < chars.len() && !starts(at, close) {
                if chars[at] == '\\' {
                    at += 1;
                    match chars.get(at) {
                        Some('\n') => {
                            while chars.get(at + 1).is_some_and(|c| c.is_whitespace()) {
                                at += 1;
                            }
                        }
                        Some('n') => text.push('\n'),
                        Some(c) => text.push(*c),
                        None => {}
                    }
                } else {
                    text.push(chars[at]);
                }
                at += 1;
            }
            at += close.len();
            found.push(text);
        } else {
            at += 1;
        }
    }
    found
}

/// Whether a literal is something to be read, and not a pattern, a format or a command.
fn is_prose(text: &str) -> bool {
    let words = text.split_whitespace().filter(|word| word.chars().any(char::is_alphabetic));
    words.filter(|word| !word.starts_with('{')).count() >= FEWEST_WORDS
}

/// With "…" in place of what is filled in, on one line.
fn filled(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{')
        && let Some((_, after)) = after.split_once('}')
    {
        out.push_str(before);
        out.push('…');
        rest = after;
    }
    out.push_str(rest);
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}
