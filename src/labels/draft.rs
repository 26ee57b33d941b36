//! A first manifest written from the file names, for the user to finish.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use std::sync::LazyLock;

use serde::Deserialize;

use super::error::SessionError;
use super::fields::RECORDING_FIELDS;
use super::files::{self, AudioFile};
use super::names::{self, FromName};
use super::printable::{printable, quoted};

/// Column at which the marks begin, so that they stand below each other (chosen: behind the longest usual line).
const MARK_COLUMN: usize = 38;
static WORDS: LazyLock<DraftWords> =
    LazyLock::new(|| toml::from_str(include_str!("draft.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DraftWords {
    head: String,
    guessed: String,
    title: String,
    not_text: String,
    not_clear: String,
    session: Vec<Hint>,
    /// By field.
    recording: BTreeMap<String, String>,
}

/// A field that does not count until its mark is taken away.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Hint {
    field: String,
    example: String,
    remark: String,
}

/// The text of a `session.toml` for the audio files in `dir`, in natural order: every field a name gave away is
/// marked, the others stand as comments with an example. Read back, it gives the labels the names gave.
///
/// Whatever manifest is there already is not looked at, and nothing is written.
///
/// # Errors
///
/// When the folder can't be read or holds no audio file.
pub fn draft(dir: &Path) -> Result<String, SessionError> {
    let found = files::audio_files(dir).map_err(|cause| SessionError::Folder { dir: dir.to_owned(), cause })?;
    if found.is_empty() {
        return Err(SessionError::NoAudio { dir: dir.to_owned() });
    }
    let mut text = WORDS.head.clone();
    marked(&mut text, &format!("title = {}", quoted(&files::folder_name(dir))), &WORDS.title);
    for Hint { field, example, remark } in &WORDS.session {
        marked(&mut text, &format!("# {field} = {example}"), remark);
    }
    let names = names::read_all(found.iter().map(|f| f.name.as_str()));
    for (file, name) in found.iter().zip(&names) {
        recording(&mut text, file, name);
    }
    Ok(text)
}

fn recording(text: &mut String, file: &AudioFile, name: &FromName) {
    if !file.exact {
        line(text, &format!("\n# {}: {}", printable(&file.name), WORDS.not_text));
        return;
    }
    line(text, "\n[[recording]]");
    line(text, &format!("file = {}", quoted(&file.name)));
    match name.state {
        Ok(state) => marked(text, &format!("state = {}", quoted(state.word())), &WORDS.guessed),
        Err(_) => marked(text, "# state = \"on\"", remark("state")),
    }
    labels(text, name);
}

fn labels(text: &mut String, name: &FromName) {
    // File and state stand above.
    for (&(field, example), value) in RECORDING_FIELDS[2..].iter().zip(name.fields.written()) {
        match value {
            // No digit more than the name has: the last one tells how well the dial is known.
            Some(value) => marked(text, &format!("{field} = {}", value.trim_end_matches(".0")), &WORDS.guessed),
            None if ["turns", "band", "dbm", "channel", "note"].contains(&field) => {}
            // The first remedy of a ladder, where the manifest's example is the second.
            None if field == "order" => marked(text, "# order = 1", remark(field)),
            None => marked(text, &format!("# {example}"), remark(field)),
        }
    }
    if !name.unread.is_empty() {
        line(text, &format!("# {}: {}", WORDS.not_clear, printable(&name.unread.join(", "))));
    }
}

fn remark(field: &str) -> &'static str {
    WORDS.recording.get(field).map_or("", String::as_str)
}

/// A line with what is to be said of it, if anything.
fn marked(text: &mut String, body: &str, mark: &str) {
    let gap = MARK_COLUMN.saturating_sub(body.chars().count()).max(2);
    let mark = if mark.is_empty() { String::new() } else { format!("{:gap$}# {mark}", "") };
    line(text, &format!("{body}{mark}"));
}

fn line(text: &mut String, content: &str) {
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{content}");
}
