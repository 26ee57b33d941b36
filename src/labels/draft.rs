//! A first manifest written from the file names, for the user to finish.

use std::fmt::Write;
use std::path::Path;

use super::error::SessionError;
use super::fields::RECORDING_FIELDS;
use super::files::{self, AudioFile};
use super::names::{self, FromName};
use super::printable::{printable, quoted};

/// Column at which the marks begin, so that they stand below each other (chosen: behind the longest usual line).
const MARK_COLUMN: usize = 38;
const GUESSED: &str = "# guessed from the file name";

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
    let mut text = String::from(
        "# What each recording is. Look over what was guessed, fill in what is missing, take the # away where a\n\
         # line is to count. A field given as \"\" means: none, and don't guess.\n",
    );
    marked(
        &mut text,
        &format!("title = {}", quoted(&files::folder_name(dir))),
        "# the folder's name; stands in the report",
    );
    field(&mut text, "mains_hz", None, "50", "# 50 or 60");
    field(&mut text, "station", None, "\"receiver, antenna, earth\"", "# stands in the report");
    field(&mut text, "reference_hz", None, "1000.0", "# audio frequency of a steady carrier, off and on");
    field(&mut text, "bands_khz", None, "[[7000, 7200], [14000, 14350]]", "# where to predict carriers");
    let names = names::read_all(found.iter().map(|f| f.name.as_str()));
    for (file, name) in found.iter().zip(&names) {
        recording(&mut text, file, name);
    }
    Ok(text)
}

fn recording(text: &mut String, file: &AudioFile, name: &FromName) {
    if !file.exact {
        line(
            text,
            &format!("\n# {}: the name is no Unicode text; rename the file to list it here", printable(&file.name)),
        );
        return;
    }
    line(text, "\n[[recording]]");
    line(text, &format!("file = {}", quoted(&file.name)));
    match name.state {
        Ok(state) => field(text, "state", Some(quoted(state.word())), "", ""),
        Err(_) => field(text, "state", None, "\"on\"", "# off, on or terminated: the name does not say"),
    }
    labels(text, name);
}

fn labels(text: &mut String, name: &FromName) {
    // File and state stand above.
    for (&(field, example), value) in RECORDING_FIELDS[2..].iter().zip(name.fields.written()) {
        let remark = match field {
            "remedy" => "# what was changed to quieten it",
            "ferrites" => "# pieces on the lead",
            "mode" => "# USB, LSB, CW, AM or FM",
            "meter" => "# the receiver's own reading, or dbm = -85.0",
            _ => "",
        };
        match value {
            // No digit more than the name has: the last one tells how well the dial is known.
            Some(value) => marked(text, &format!("{field} = {}", value.trim_end_matches(".0")), GUESSED),
            None if ["turns", "band", "dbm", "channel", "note"].contains(&field) => {}
            // The first remedy of a ladder, where the manifest's example is the second.
            None if field == "order" => marked(text, "# order = 1", "# place in the order of remedies"),
            None => marked(text, &format!("# {example}"), remark),
        }
    }
    if !name.unread.is_empty() {
        line(text, &format!("# not clear in the name: {}", printable(&name.unread.join(", "))));
    }
}

/// A line with a guessed value, or a hint that does not count.
fn field(text: &mut String, name: &str, value: Option<String>, hint: &str, remark: &str) {
    match value {
        Some(value) => marked(text, &format!("{name} = {value}"), GUESSED),
        None => marked(text, &format!("# {name} = {hint}"), remark),
    }
}

fn marked(text: &mut String, body: &str, mark: &str) {
    let gap = MARK_COLUMN.saturating_sub(body.chars().count()).max(2);
    line(text, format!("{body}{:gap$}{mark}", "").trim_end());
}

fn line(text: &mut String, content: &str) {
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{content}");
}
