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
use super::start::Start;

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
    untold: String,
    mixed_clocks: String,
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

/// When a recording was made, as far as something other than its name tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// When it began.
    pub start: Start,
    /// What tells so.
    pub from: String,
    /// Whether it may count as `started` as it stands: a file's date may not.
    pub is_label: bool,
}

/// A first manifest.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Its text.
    pub text: String,
    /// Recordings whose name does not tell the state: to be filled in.
    pub untold: usize,
    /// Whether anything was guessed.
    pub has_guesses: bool,
}

/// A `session.toml` for the audio files in `dir`, in natural order: every field a name gave away is marked, the
/// others stand as comments with an example. Read back, it gives the labels the names gave. Recordings whose names do not
/// tell the state come last, in order of time: where the name has none, `made` is asked for it.
///
/// Whatever manifest is there already is not looked at, and nothing is written.
///
/// # Errors
///
/// When the folder can't be read or holds no audio file.
pub fn draft(dir: &Path, made: &dyn Fn(&Path) -> Option<Made>) -> Result<Draft, SessionError> {
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
    let (told, untold): (Vec<_>, Vec<_>) =
        found.iter().zip(&names).partition(|(file, name)| name.state.is_ok() || !file.exact);
    for (file, name) in &told {
        recording(&mut text, file, name, None);
    }
    let mut untold: Vec<_> = untold
        .into_iter()
        .map(|(file, name)| (file, name, if name.fields.started.is_some() { None } else { made(&file.path) }))
        .collect();
    let start = |name: &FromName, made: &Option<Made>| name.fields.started.or(made.as_ref().map(|m| m.start));
    untold.sort_by_key(|(_, name, made)| start(name, made).map_or(jiff::Timestamp::MAX, |s| s.at));
    if !untold.is_empty() {
        line(&mut text, &format!("\n{}", WORDS.untold.trim_end()));
        let zoned: Vec<bool> = untold.iter().filter_map(|(_, name, made)| Some(start(name, made)?.zoned)).collect();
        if zoned.contains(&true) && zoned.contains(&false) {
            line(&mut text, WORDS.mixed_clocks.trim_end());
        }
    }
    for (file, name, made) in &untold {
        recording(&mut text, file, name, made.as_ref());
    }
    Ok(Draft { text, untold: untold.len(), has_guesses: !told.is_empty() })
}

fn recording(text: &mut String, file: &AudioFile, name: &FromName, made: Option<&Made>) {
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
    labels(text, name, made);
}

fn labels(text: &mut String, name: &FromName, made: Option<&Made>) {
    // File and state stand above.
    for (&(field, example), value) in RECORDING_FIELDS[2..].iter().zip(name.fields.written()) {
        match (value, made.filter(|_| field == "started")) {
            (Some(value), _) if field == "device" && name.lent.is_some() => {
                let from = name.lent.as_deref().unwrap_or_default();
                marked(text, &format!("{field} = {value}"), &format!("guessed: {from}"));
            }
            // No digit more than the name has: the last one tells how well the dial is known.
            (Some(value), _) => {
                marked(text, &format!("{field} = {}", value.trim_end_matches(".0")), &WORDS.guessed)
            }
            (None, Some(made)) => {
                let hash = if made.is_label { "" } else { "# " };
                let started = format!("{hash}started = {}", made.start.to_toml());
                marked(text, &started, &format!("from {}", made.from));
            }
            (None, _)
                if ["turns", "band", "dbm", "channel", "place", "bearing_deg", "distance_m", "note"]
                    .contains(&field) => {}
            // The first remedy of a ladder, where the manifest's example is the second.
            (None, _) if field == "order" => marked(text, "# order = 1", remark(field)),
            (None, _) => marked(text, &format!("# {example}"), remark(field)),
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
