//! What a user typed, as text that stays on one line and within its columns.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Columns a label may take in running text and tables (chosen: a line of text, less a little); data files have it
/// whole.
const LABEL_COLUMNS: usize = 72;

/// A user's label on one line: control and direction characters gone, runs of blanks as one, cut where very long.
pub(crate) fn label(text: &str) -> String {
    shorten(&one_line(text), LABEL_COLUMNS)
}

/// Text on one line, whatever its length.
pub(crate) fn one_line(text: &str) -> String {
    let visible: String =
        text.chars().map(|c| if c.is_control() { ' ' } else { c }).filter(|&c| !steers(c)).collect();
    visible.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Characters that turn or hide the text around them.
fn steers(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}')
}

/// Cut to so many columns, with "..." where something is gone.
pub(crate) fn shorten(text: &str, columns: usize) -> String {
    cut(text, columns, "...")
}

/// Cut to so many columns, with `mark` where something is gone. Also bounds the characters, since marks that take
/// no column could go on for ever.
pub(super) fn cut(text: &str, columns: usize, mark: &str) -> String {
    if text.width() <= columns && text.chars().count() <= 2 * columns {
        return text.to_owned();
    }
    let room = columns.saturating_sub(mark.width());
    let mut kept = String::new();
    let mut used = 0;
    for (i, c) in text.chars().enumerate() {
        used += c.width().unwrap_or(0);
        if used > room || i >= 2 * room {
            break;
        }
        kept.push(c);
    }
    kept.trim_end().to_owned() + mark
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_stay_on_one_line_and_within_their_columns() {
        assert_eq!(label("a\r\n\tb\u{202E}c"), "a bc");
        assert_eq!(shorten("aquarium lamp", 10), "aquariu...");
        assert!(shorten(&"e\u{301}".repeat(500), 10).chars().count() < 40);
        assert_eq!(shorten(&"灯".repeat(20), 10).width(), 9);
    }
}
