//! Text from outside (file names, labels) made harmless before it reaches a terminal, a report or a manifest.

use std::borrow::Cow;
use std::fmt::Write;
use std::path::Path;

/// `text` with everything that could move a cursor, hide or reorder letters written as `\n`, `\t` or `\u{…}`.
///
/// Control characters, line and paragraph separators, the byte order mark and the marks that switch the direction
/// of writing (Unicode Standard Annex 9) are escaped; letters of every script pass.
pub fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if is_harmful(c) => {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out
}

/// Text of several lines as it may reach a terminal: as [`printable`], but for line feeds and tabs, which are its own.
pub(crate) fn shown(text: &str) -> Cow<'_, str> {
    let steers = |c: char| is_harmful(c) && !matches!(c, '\n' | '\t');
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if steers(c) {
            // Writing to a String cannot fail.
            let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// JSON with what could steer a terminal in its strings escaped as JSON escapes it (RFC 8259, 7): it reads back as
/// the same.
pub(crate) fn escaped_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if is_harmful(c) && c != '\n' {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// Whether a terminal could be led astray by this character.
pub(super) fn is_harmful(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{61c}')
}

/// `words` as a TOML basic string (TOML 1.1, "String"), everything that does not show escaped.
pub(crate) fn quoted(words: &str) -> String {
    let mut out = String::from("\"");
    for c in words.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if is_harmful(c) => {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A folder or file as it can be typed behind a command. POSIX shells: as it stands where no character means
/// anything to them, else in single quotes (POSIX.1-2024, Shell Command Language, 2.2.2). Windows: in double quotes,
/// which both of its shells take; a `%`, `$` or `` ` `` in a name still means something to one of them, and no quotes
/// serve both.
pub(crate) fn typed(path: &Path) -> String {
    let text = printable(&path.to_string_lossy());
    // Behind a hyphen would stand an option.
    let text = if text.starts_with('-') { format!("./{text}") } else { text };
    let is_plain = |c: char| c.is_alphanumeric() || "_./:@+,-".contains(c) || (cfg!(windows) && c == '\\');
    if !text.is_empty() && text.chars().all(is_plain) {
        text
    } else if cfg!(windows) {
        format!("\"{text}\"")
    } else {
        format!("'{}'", text.replace('\'', "'\\''"))
    }
}

/// "`a`, `b` and 3 more", harmless for a terminal.
pub(super) fn listing<S: AsRef<str>>(names: &[S]) -> String {
    // Chosen: what fits into two lines of a terminal.
    const MOST: usize = 6;
    let shown: Vec<String> = names.iter().take(MOST).map(|n| format!("`{}`", printable(n.as_ref()))).collect();
    match names.len() {
        n if n > MOST => format!("{} and {} more", shown.join(", "), n - MOST),
        _ => shown.join(", "),
    }
}

/// "1 recording", "2 recordings".
pub(super) fn recordings(count: usize) -> String {
    if count == 1 { "1 recording".into() } else { format!("{count} recordings") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_are_escaped_and_letters_pass() {
        for (raw, safe) in [
            ("lamp on.wav", "lamp on.wav"),
            ("a\u{1b}[2Jb", "a\\u{1b}[2Jb"),
            ("a\nb\tc\r", "a\\nb\\tc\\r"),
            ("gnp\u{202e}vaw", "gnp\\u{202e}vaw"),
            ("\u{9b}31m", "\\u{9b}31m"),
            ("лампа 電灯 é", "лампа 電灯 é"),
        ] {
            assert_eq!(printable(raw), safe);
        }
    }

    #[test]
    fn lines_stay_lines_and_json_reads_back() {
        assert_eq!(shown("a\tb\nc"), "a\tb\nc");
        assert_eq!(shown("a\u{1b}[2J\r\u{9b}m\u{202e}\n"), "a\\u{1b}[2J\\u{d}\\u{9b}m\\u{202e}\n");
        let label = "pump\u{9b}31m\u{202e}\u{7f}\u{1b}";
        let json = escaped_json(&serde_json::to_string(label).unwrap());
        assert!(json.is_ascii() && serde_json::from_str::<String>(&json).unwrap() == label, "{json}");
    }

    /// POSIX.1-2024, Shell Command Language, 2.2.2: between single quotes every character stands for itself; a
    /// single quote can't stand there. Utility Syntax Guidelines, 12.2: what begins with a hyphen is an option.
    #[cfg(unix)]
    #[test]
    fn folders_are_quoted_for_the_shell_where_they_must_be() {
        for (path, typed_as) in [
            ("pond", "pond"),
            ("a/b-c_d.e", "a/b-c_d.e"),
            ("Küche", "Küche"),
            ("my evening", "'my evening'"),
            ("it's", "'it'\\''s'"),
            ("$HOME `x` \"y\" \\", "'$HOME `x` \"y\" \\'"),
            ("-pond", "./-pond"),
            ("- pond", "'./- pond'"),
            ("~", "'~'"),
            ("#1", "'#1'"),
            ("", "''"),
        ] {
            assert_eq!(typed(Path::new(path)), typed_as);
        }
    }

    #[cfg(windows)]
    #[test]
    fn folders_are_quoted_where_they_must_be() {
        assert_eq!(typed(Path::new("C:\\pond\\on")), "C:\\pond\\on");
        assert_eq!(typed(Path::new("my evening")), "\"my evening\"");
    }
}
