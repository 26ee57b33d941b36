//! What can go wrong with labels, told so that it can be mended: the line, what is so, what to write instead.

use std::ops::Range;
use std::path::PathBuf;
use std::{fmt, io};

use unicode_width::UnicodeWidthChar;

use super::printable::printable;

/// Why no session could be made of a folder.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// The folder can't be listed.
    #[error("{}: {}", printable(&.dir.to_string_lossy()), folder_trouble(.cause))]
    Folder {
        /// The folder.
        dir: PathBuf,
        /// The system's reason.
        #[source]
        cause: io::Error,
    },
    /// The manifest is there and can't be read as text.
    #[error("{}: {reason}", printable(&.path.to_string_lossy()))]
    Unreadable {
        /// The manifest.
        path: PathBuf,
        /// What is so, and what to do.
        reason: String,
    },
    /// The manifest says something that can't be meant.
    #[error("{}: {}. No recording was read.\n{}", printable(&.path.to_string_lossy()), mistakes(.faults.len()), shown(.faults))]
    Manifest {
        /// The manifest.
        path: PathBuf,
        /// Every mistake found, in the order of the lines; never empty.
        faults: Vec<Fault>,
    },
    /// No audio file lies in the folder, and no manifest names one.
    #[error("{}: no audio file lies in this folder.\n  try: name the folder that holds the recordings (WAV, FLAC, MP3, Ogg …)", printable(&.dir.to_string_lossy()))]
    NoAudio {
        /// The folder.
        dir: PathBuf,
    },
    /// There are files, and none of them can be used.
    #[error("{}: none of the recordings can be used{}{}", printable(&.dir.to_string_lossy()), reasons(.left_out), .advice)]
    NothingUsable {
        /// The folder.
        dir: PathBuf,
        /// Each file with its reason.
        left_out: Vec<(String, String)>,
        /// A line that says what helps for all of them; may be empty.
        advice: String,
    },
    /// There are files, and nothing tells of any of them whether the device was off or on.
    #[error("{}: nothing says of any recording whether the device was off or on ({files}). No recording was read.{advice}", printable(&.dir.to_string_lossy()))]
    NoState {
        /// The folder.
        dir: PathBuf,
        /// Their names, as far as they are shown.
        files: String,
        /// A line that says what to do.
        advice: String,
    },
}

/// One mistake in the manifest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Number of the line, counted from 1.
    pub line: usize,
    /// The line's text, harmless for a terminal, shortened where it is very long.
    pub text: String,
    /// Columns of a terminal before the marked part.
    pub indent: usize,
    /// Columns of the marked part, at least 1.
    pub width: usize,
    /// What is so, and what was expected.
    pub found: String,
    /// What to write instead.
    pub advice: String,
}

/// Columns of a line shown before the marked part: more is cut, so that the mark stays on the screen (chosen).
const SHOWN_BEFORE: usize = 60;
/// Columns of a line shown in all (chosen: a usual terminal window).
const SHOWN: usize = 100;

impl Fault {
    /// A mistake at the bytes `span` of `source`. A span beyond the text marks its end; one over several lines
    /// marks the first.
    pub(super) fn at(source: &str, span: Range<usize>, found: String, advice: String) -> Self {
        let start = floor_boundary(source, span.start);
        let end = floor_boundary(source, span.end).max(start);
        let line_start = source[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = source[start..].find('\n').map_or(source.len(), |at| start + at);
        let line = source[line_start..line_end].trim_end_matches('\r');
        let mark = (start - line_start).min(line.len())..(end.min(line_end) - line_start).min(line.len());
        let (text, indent, width) = excerpt(line, mark);
        Self { line: source[..start].matches('\n').count() + 1, text, indent, width, found, advice }
    }
}

/// The nearest place at or before `at` where a character begins.
fn floor_boundary(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

/// What is shown of a line: its text, the columns before the mark and the mark's columns.
fn excerpt(line: &str, mark: Range<usize>) -> (String, usize, usize) {
    let safe = |part: &str| printable(&part.replace('\t', " "));
    let (mut before, marked, after) =
        (safe(&line[..mark.start]), safe(&line[mark.clone()]), safe(&line[mark.end..]));
    if columns(&before) > SHOWN_BEFORE {
        let tail: String = last_columns(&before, SHOWN_BEFORE - 2);
        before = format!("… {tail}");
    }
    let indent = columns(&before);
    let text = first_columns(&format!("{before}{marked}{after}"), SHOWN);
    let width = columns(&marked).clamp(1, (SHOWN - indent).max(1));
    (text, indent, width)
}

fn columns(text: &str) -> usize {
    text.chars().map(|c| c.width().unwrap_or(0)).sum()
}

fn first_columns(text: &str, most: usize) -> String {
    if columns(text) <= most {
        return text.to_owned();
    }
    let mut used = 0;
    let kept: String = text
        .chars()
        .take_while(|c| {
            used += c.width().unwrap_or(0);
            used < most - 1
        })
        .collect();
    format!("{kept} …")
}

fn last_columns(text: &str, most: usize) -> String {
    let mut used = 0;
    let mut kept: Vec<char> = text
        .chars()
        .rev()
        .take_while(|c| {
            used += c.width().unwrap_or(0);
            used <= most
        })
        .collect();
    kept.reverse();
    kept.into_iter().collect()
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = self.line.to_string();
        writeln!(f, "line {number}: {}", self.found)?;
        writeln!(f, "  {number} | {}", self.text)?;
        writeln!(f, "  {:1$} | {2:3$}{4}", "", number.len(), "", self.indent, "^".repeat(self.width))?;
        write!(f, "  {}", self.advice)
    }
}

/// Mistakes shown at once: the rest is mostly their consequence (chosen: they fit on a screen).
const MOST_SHOWN: usize = 8;

fn shown(faults: &[Fault]) -> String {
    let mut text: Vec<String> = faults.iter().take(MOST_SHOWN).map(Fault::to_string).collect();
    if faults.len() > MOST_SHOWN {
        text.push(format!("… and {}", more(faults.len() - MOST_SHOWN)));
    }
    text.join("\n")
}

fn reasons(left_out: &[(String, String)]) -> String {
    let mut text = String::new();
    for (file, reason) in left_out.iter().take(MOST_SHOWN) {
        text.push_str(&format!("\n  {}: {reason}", printable(file)));
    }
    if left_out.len() > MOST_SHOWN {
        text.push_str(&format!("\n  … and {}", more(left_out.len() - MOST_SHOWN)));
    }
    text
}

fn folder_trouble(cause: &io::Error) -> &'static str {
    match cause.kind() {
        io::ErrorKind::NotADirectory => {
            "is a file, and a folder is wanted. Nothing was done.\n  try: the folder it lies in; for two files \
             there is `noisetally pair OFF ON`"
        }
        io::ErrorKind::PermissionDenied => {
            "the folder can't be read. Nothing was done.\n  try: give yourself the right to read it, or copy the \
             recordings to a folder of your own"
        }
        _ => "the folder can't be read. Nothing was done.\n  try: name the folder that holds the recordings",
    }
}

fn mistakes(count: usize) -> String {
    if count == 1 { "a mistake".into() } else { format!("{count} mistakes") }
}

fn more(count: usize) -> String {
    format!("{count} more")
}
