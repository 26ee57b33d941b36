//! A document as Markdown (CommonMark with tables). The same document gives the same bytes, and no text in it can
//! break a table or become markup.

use super::document::{Block, Document, Holds, List, Picture, Table};
use super::label::one_line;
use super::words::{Span, Words};

/// The whole document: blocks with one empty line between.
pub(crate) fn markdown(document: &Document) -> String {
    document.blocks.iter().map(block).collect::<Vec<_>>().join("\n")
}

fn block(block: &Block) -> String {
    match block {
        Block::Heading(level, words) => format!("{} {}\n", "#".repeat(*level), inline(words)),
        Block::Paragraph(words) | Block::Lead(words) => inline(words) + "\n",
        Block::Lines(lines) => broken(lines),
        Block::List(list) => self::list(list),
        Block::Table(table) => self::table(table),
        Block::Picture(picture) => self::picture(picture),
    }
}

/// Lines with a hard break after each but the last.
fn broken(lines: &[Words]) -> String {
    lines.iter().map(inline).collect::<Vec<_>>().join("\\\n") + "\n"
}

fn list(list: &List) -> String {
    list.items.iter().chain(&list.rest).map(|item| format!("- {}\n", inline(item))).collect()
}

fn table(table: &Table) -> String {
    let shown = table.shown();
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    let mut text = line(shown.iter().map(|&at| inline(&table.columns[at].head)).collect());
    let rule = |at: &usize| if table.columns[*at].holds == Holds::Number { "---:" } else { "---" };
    text += &line(shown.iter().map(|at| rule(at).to_owned()).collect());
    for row in &table.rows {
        text += &line(shown.iter().map(|&at| inline(&row[at])).collect());
    }
    text
}

fn picture(picture: &Picture) -> String {
    let [alternative, caption] = [&picture.alternative, &picture.caption].map(|text| escape(&one_line(text), true));
    let below = if caption.is_empty() { String::new() } else { format!("\n{caption}\n") };
    format!("![{alternative}]({})\n{below}", link(&picture.file))
}

/// Words on one line, runs of blanks as one, none at the ends.
fn inline(words: &Words) -> String {
    let mut out = String::new();
    let mut is_blank_due = false;
    let mut is_after_room = false;
    for span in &words.spans {
        let text = span.text();
        let is_blank = |c: char| c.is_whitespace() || c.is_control();
        if is_after_room && !text.starts_with(is_blank) {
            out.push_str("  ");
        }
        is_after_room = matches!(span, Span::Blank(_));
        is_blank_due |= text.starts_with(is_blank);
        let body = one_line(&text);
        if body.is_empty() {
            continue;
        }
        if is_blank_due && !out.is_empty() {
            out.push(' ');
        }
        let opens = out.is_empty();
        match span {
            Span::Plain(_) => out.push_str(&escape(&body, opens)),
            Span::Strong(_) => out.push_str(&format!("**{}**", escape(&body, false))),
            Span::Term(_) => out.push_str(&format!("*{}*", escape(&body, false))),
            // A bar would end a cell, a backtick the code.
            Span::Code(_) if body.contains(['`', '|']) => out.push_str(&escape(&body, opens)),
            Span::Code(_) => out.push_str(&format!("`{body}`")),
            // A run of them with blanks around is no markup.
            Span::Blank(_) => out.push_str(&body),
        }
        is_blank_due = text.ends_with(is_blank);
    }
    out
}

/// Plain text as Markdown that shows just that text, on one line, in or out of a table; `opens` where it stands at
/// the start of a line.
///
/// What could open HTML or a cell becomes a character reference, since table parsers differ on backslashes.
fn escape(text: &str, opens: bool) -> String {
    let mut out = String::with_capacity(text.len());
    let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    for (i, c) in text.char_indices() {
        // What would open a list or underline a heading.
        let numbers =
            i == digits && digits > 0 && matches!(c, '.' | ')') && !text[i + 1..].starts_with(|n| n != ' ');
        let opens_list = opens && (numbers || (i == 0 && matches!(c, '-' | '+' | '=')));
        match c {
            '|' => out.push_str("&#124;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '~' | '$' => {
                out.push('\\');
                out.push(c);
            }
            // GitHub Flavored Markdown makes links of addresses by itself (6.9): only a comment breaks one with an @.
            '@' => out.push_str("<!-- -->@"),
            ':' if text[i..].starts_with("://") => out.push_str("\\:"),
            '.' if ends_in_www(&text[..i]) => out.push_str("\\."),
            _ if opens_list => {
                out.push('\\');
                out.push(c);
            }
            _ => out.push(c),
        }
    }
    out
}

fn ends_in_www(text: &str) -> bool {
    text.len().checked_sub(3).and_then(|at| text.get(at..)).is_some_and(|end| end.eq_ignore_ascii_case("www"))
}

/// A file name as the target of a link: bytes outside the unreserved set of RFC 3986 as %XX.
fn link(file: &str) -> String {
    file.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => char::from(b).to_string(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::document::Column;
    use super::*;

    #[test]
    fn every_block_has_its_markup_and_text_has_none() {
        let mut doc = Document::default();
        doc.heading(2, "a_b # c");
        doc.paragraph(Words::from("1. Of ").then(Words::strong("a|b ")).then(" see ").then(Words::code("x_y.md")));
        doc.lines(vec!["one".into(), "two".into()]);
        doc.list(vec!["- a\nb", "c"]);
        let mut table =
            Table::new([Column::text("A"), Column::number("B"), Column::text("C"), Column::blank("D", 8)]);
        table.row(["<x>", "−1.0", "", ""]);
        doc.table(table);
        doc.picture(Picture { file: "a b.png".into(), alternative: "what [it] is".into(), caption: "said".into() });
        insta::assert_snapshot!(markdown(&doc), @r"
        ## a\_b \# c

        1\. Of **a&#124;b** see `x_y.md`

        one\
        two

        - \- a b
        - c

        | A | B | D |
        | --- | ---: | --- |
        | &lt;x&gt; | −1.0 |  |

        ![what \[it\] is](a%20b.png)

        said
        ");
    }

    #[test]
    fn room_to_write_stands_a_little_apart() {
        let words = Words::from("Date ").then(Words::blank(4)).then("start ").then(Words::blank(3)).then(" (UTC)");
        assert_eq!(inline(&words), "Date ____  start ___ (UTC)");
    }

    #[test]
    fn blanks_between_spans_are_one_and_none_are_at_the_ends() {
        assert_eq!(inline(&Words::from(" a ").then(Words::strong(" b ")).then(" c ")), "a **b** c");
    }
}
