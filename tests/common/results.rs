//! What a bench prints, and how it gets into the `RESULTS.md` beside it: with `--write-results`, a section of its
//! own with the command, the program's version and the table as printed. Other sections, remarks among them, stay
//! as they are.
#![allow(dead_code, missing_docs, clippy::print_stdout)] // Each bench uses some of it; it prints tables.

use std::fs;
use std::path::Path;

/// Prints what is written, and keeps it.
#[derive(Default)]
pub struct Printed(String);

impl Printed {
    pub fn put(&mut self, text: &str) {
        print!("{text}");
        self.0.push_str(text);
    }

    pub fn line(&mut self, text: &str) {
        self.put(text);
        self.put("\n");
    }

    /// Puts what was printed since the last time into `tests/<bench>/RESULTS.md`, where the arguments ask for it.
    pub fn write_results(&mut self, bench: &str, heading: &str) {
        let table = std::mem::take(&mut self.0);
        let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
        if !arguments.iter().any(|argument| argument == "--write-results") {
            return;
        }
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(bench).join("RESULTS.md");
        let text = fs::read_to_string(&path).unwrap_or_default();
        let command = format!("cargo bench --bench {bench} -- {}", arguments.join(" "));
        let section = section(heading, &command, env!("CARGO_PKG_VERSION"), &table);
        fs::write(&path, with_section(&text, heading, &section))
            .unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    }
}

/// The section of one table.
pub fn section(heading: &str, command: &str, version: &str, table: &str) -> String {
    let table = table.trim_matches('\n');
    format!("## {heading}\n\nPrinted by version {version}:\n\n```sh\n{command}\n```\n\n```text\n{table}\n```\n")
}

/// `text` with the section of that heading in the place of the earlier one, or behind all others.
pub fn with_section(text: &str, heading: &str, section: &str) -> String {
    let mut parts: Vec<String> = Vec::new();
    for line in text.lines() {
        if line.starts_with("## ") || parts.is_empty() {
            parts.push(String::new());
        }
        if let Some(part) = parts.last_mut() {
            part.push_str(line);
            part.push('\n');
        }
    }
    let first = format!("## {heading}\n");
    match parts.iter_mut().find(|part| part.starts_with(&first)) {
        Some(part) => section.clone_into(part),
        None => parts.push(section.to_owned()),
    }
    parts.iter().map(|part| part.trim_end()).collect::<Vec<_>>().join("\n\n") + "\n"
}
