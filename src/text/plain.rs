//! A document as plain text in columns of one width: for a terminal or paper, and for what any forum and mail
//! keeps.

use unicode_width::UnicodeWidthStr;

use super::document::{Block, Document, Holds, List, Mark, Table};
use super::format::{MINUS, may_break};
use super::label::{cut, one_line};
use super::words::{Span, Words};

/// Heads of columns wider than this stand in several lines (chosen: about what the figures below take).
const HEAD_COLUMNS: usize = 20;
/// Blanks between columns. Chosen: one would run into words of two.
const GAP: usize = 2;
/// A blank at which no line is broken; can't come from text, since control characters are taken out of that.
const FIXED_BLANK: char = '\u{1F}';

/// What the text is written on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plain {
    /// Columns of a line.
    pub(crate) width: usize,
    /// How far in tables stand.
    indent: usize,
    /// A cell wider than this is cut, so that one long name does not push the others away (chosen: under half a
    /// line on a terminal).
    widest_cell: usize,
    /// Typeset signs as their keyboard forms.
    is_ascii: bool,
    /// Lines that are too long are cut, in paragraphs alone they are wrapped.
    cuts: bool,
}

impl Plain {
    /// 80 columns, those of the narrowest terminal in use and of a sheet of paper.
    pub(crate) const TERMINAL: Self = Self { width: 80, indent: 2, widest_cell: 36, is_ascii: false, cuts: false };
    /// 72 columns, which a forum or mail shows without breaking them even when quoted.
    pub(crate) const POST: Self = Self { width: 72, indent: 0, widest_cell: 72, is_ascii: true, cuts: true };

    /// Words as they are shown; runs of blanks stay, since they may hold columns.
    fn text(self, words: &Words) -> String {
        let mut out = String::new();
        let mut is_after_room = false;
        for span in &words.spans {
            let text = span.text();
            if is_after_room && !text.starts_with(' ') {
                out.extend([FIXED_BLANK; GAP]);
            }
            is_after_room = matches!(span, Span::Blank(_));
            out.push_str(&text.split(' ').map(one_line).collect::<Vec<_>>().join(" "));
        }
        if self.is_ascii { keyboard(out.trim_end()) } else { out.trim_end().to_owned() }
    }

    fn cut(self, text: &str, columns: usize) -> String {
        cut(text, columns, if self.is_ascii { "..." } else { "…" })
    }

    /// One line, cut where this paper cuts.
    fn line(self, lead: &str, words: &Words) -> String {
        let text = format!("{lead}{}", self.text(words));
        if self.cuts { self.cut(&text, self.width) } else { text }
    }
}

/// The whole document: blocks with one empty line between, but none below what leads in.
pub(crate) fn plain(document: &Document, paper: Plain) -> String {
    let mut lines: Vec<String> = Vec::new();
    let mut above: Option<&Block> = None;
    for block in &document.blocks {
        let leads_in = match above {
            None => true,
            Some(Block::Lead(_)) => matches!(block, Block::List(_) | Block::Table(_)),
            Some(Block::Heading(..)) => matches!(block, Block::List(_)),
            Some(_) => false,
        };
        if !leads_in {
            lines.push(String::new());
        }
        lines.extend(paper.block(block));
        above = Some(block);
    }
    lines.iter().map(|line| line.trim_end().replace(FIXED_BLANK, " ") + "\n").collect()
}

/// Text in lines of a terminal: `lead` before the first, as many blanks before the others.
pub(crate) fn wrapped(lead: &str, text: &str) -> String {
    wrap(lead, text, Plain::TERMINAL.width).iter().map(|line| line.to_owned() + "\n").collect()
}

impl Plain {
    fn block(self, block: &Block) -> Vec<String> {
        match block {
            Block::Heading(1, words) => {
                let title = self.text(words);
                let rule = "=".repeat(title.width().min(self.width));
                vec![title, rule]
            }
            Block::Heading(_, words) => vec![self.text(words).to_uppercase()],
            Block::Paragraph(words) => self.paragraph("", words),
            Block::Lead(words) => vec![self.line("", words)],
            Block::Lines(lines) => lines.iter().map(|words| self.line("", words)).collect(),
            Block::List(list) => self.list(list),
            Block::Table(table) if table.columns.iter().any(|c| matches!(c.holds, Holds::Blank(_))) => {
                self.form(table)
            }
            Block::Table(table) => self.table(table),
            Block::Picture(picture) => {
                self.paragraph("", &format!("{} ({})", picture.caption, picture.file).into())
            }
        }
    }

    fn paragraph(self, lead: &str, words: &Words) -> Vec<String> {
        let lines = wrap(lead, &self.text(words), self.width);
        if self.cuts { lines.iter().map(|line| self.cut(line, self.width)).collect() } else { lines }
    }

    fn list(self, list: &List) -> Vec<String> {
        let lead = match list.mark {
            Mark::Dash => "- ",
            Mark::Box => "  [ ] ",
            Mark::Alert => "  ! ",
        };
        let item = |words| self.paragraph(lead, words);
        let rest = list.rest.iter().map(|words| self.line("  ", words));
        list.items.iter().flat_map(item).chain(rest).collect()
    }

    /// A table in columns.
    fn table(self, table: &Table) -> Vec<String> {
        let shown = table.shown();
        let heads: Vec<Vec<String>> =
            shown.iter().map(|&at| wrap("", &self.text(&table.columns[at].head), HEAD_COLUMNS)).collect();
        let high = heads.iter().map(Vec::len).max().unwrap_or(0);
        let mut rows: Vec<Vec<String>> = (0..high)
            .map(|line| heads.iter().map(|head| head.get(line).cloned().unwrap_or_default()).collect())
            .filter(|row: &Vec<String>| row.iter().any(|cell| !cell.is_empty()))
            .collect();
        let cell = |words: &Words| self.cut(&self.text(words), self.widest_cell);
        rows.extend(table.rows.iter().map(|row| shown.iter().map(|&at| cell(&row[at])).collect()));
        let holds: Vec<Holds> = shown.iter().map(|&at| table.columns[at].holds).collect();
        let widest = |at: usize| rows.iter().map(|row| row[at].width()).max().unwrap_or(0);
        let widths: Vec<usize> = (0..holds.len()).map(widest).collect();
        rows.iter().map(|row| self.row(row, &holds, &widths)).collect()
    }

    fn row(self, cells: &[String], holds: &[Holds], widths: &[usize]) -> String {
        let mut line = " ".repeat(self.indent);
        for ((cell, holds), &width) in cells.iter().zip(holds).zip(widths) {
            let cell = self.cut(cell, width);
            let gap = " ".repeat(width.saturating_sub(cell.width()));
            let [before, after] = if *holds == Holds::Number { [&*gap, ""] } else { ["", &*gap] };
            line.push_str(&format!("{before}{cell}{after}{}", " ".repeat(GAP)));
        }
        let line = line.trim_end();
        if self.cuts { self.cut(line, self.width) } else { line.to_owned() }
    }

    /// A table with room for a pencil: each row by itself, a number and what follows it, the other cells below,
    /// then the room to write.
    fn form(self, table: &Table) -> Vec<String> {
        let mut lines = Vec::new();
        for row in &table.rows {
            if !lines.is_empty() {
                lines.push(String::new());
            }
            let mut lead = String::new();
            let mut is_begun = false;
            let mut room = Words::default();
            for (column, words) in table.columns.iter().zip(row) {
                match column.holds {
                    Holds::Number if !is_begun => lead = format!("{:>3}. ", self.text(words)),
                    Holds::Blank(columns) => {
                        let head = self.text(&column.head).to_lowercase();
                        room = room.then(format!("{head} ")).then(Words::blank(columns));
                    }
                    _ => {
                        lines.extend(self.paragraph(&lead, words));
                        lead = " ".repeat(lead.width());
                        is_begun = true;
                    }
                }
            }
            lines.extend(self.paragraph(&lead, &room));
        }
        lines
    }
}

/// Words as they may stand in a line of their own: a number with its unit.
fn unbroken(text: &str) -> Vec<String> {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (mut found, mut from) = (Vec::new(), 0);
    for (at, _) in text.match_indices(' ').filter(|(at, _)| may_break(&text, *at)) {
        found.push(text[from..at].to_owned());
        from = at + 1;
    }
    found.extend((from < text.len()).then(|| text[from..].to_owned()));
    found
}

/// Text in lines of so many columns, broken at blanks, but not between a number and its unit: `lead` before the
/// first, as many blanks before the others. A word wider than that stands in a line of its own.
fn wrap(lead: &str, text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = lead.to_owned();
    let mut is_begun = false;
    for word in &unbroken(text) {
        if is_begun && line.width() + 1 + word.width() > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(lead.width())));
            is_begun = false;
        }
        if is_begun {
            line.push(' ');
        }
        line.push_str(word);
        is_begun = true;
    }
    lines.push(line);
    lines
}

/// Text that any forum and any mail keeps: typeset signs as their keyboard forms; letters of other scripts stay.
fn keyboard(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            MINUS | '\u{2010}'..='\u{2015}' => out.push('-'),
            '\u{2018}' | '\u{2019}' => out.push('\''),
            '\u{201C}' | '\u{201D}' => out.push('"'),
            '…' => out.push_str("..."),
            'µ' | 'μ' => out.push('u'),
            '×' => out.push('x'),
            '±' => out.push_str("+/-"),
            '\u{A0}' | '\u{2009}' | '\u{202F}' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::document::Column;
    use super::*;

    fn table(rows: &[[&str; 3]]) -> String {
        let mut table = Table::new([Column::text(""), Column::text(""), Column::number("")]);
        rows.iter().for_each(|row| table.row(*row));
        let mut doc = Document::default();
        doc.table(table);
        plain(&doc, Plain::TERMINAL)
    }

    #[test]
    fn columns_stand_below_each_other_in_any_script() {
        assert_eq!(
            table(&[["лампа", "off", "8.0 s"], ["電灯", "terminated", "124.0 s"], ["", "", ""]]),
            "  лампа  off           8.0 s\n  電灯   terminated  124.0 s\n\n"
        );
    }

    #[test]
    fn a_long_cell_is_cut_and_an_empty_column_takes_no_room() {
        assert_eq!(table(&[[&"x".repeat(50), "", "on"]]), format!("  {}…  on\n", "x".repeat(35)));
        assert_eq!(table(&[]), "");
    }

    fn document() -> Document {
        let mut doc = Document::default();
        doc.heading(1, "Test sheet");
        doc.paragraph(
            Words::from("A long paragraph, ").then(Words::strong("“wrapped”")).then(" ").then("word ".repeat(15)),
        );
        doc.heading(2, "To do");
        let blanks = Words::from("Date ").then(Words::blank(4)).then("start ").then(Words::blank(4));
        doc.list(List::new(Mark::Box, vec![blanks, "off".into()]));
        let mut form = Table::new([Column::number("No."), Column::text("Do"), Column::blank("Time", 8)]);
        form.row(["1", "Switch on.", ""]);
        form.row(["12", "Switch off.", ""]);
        doc.table(form);
        doc.lead("Mind:");
        doc.list(
            List::new(Mark::Alert, vec!["one ± two".into(), "three".into(), "four".into()])
                .cut_to(2, "in the report"),
        );
        let mut table =
            Table::new([Column::text("Device"), Column::text("Remedy"), Column::number("A head of several lines")]);
        table.row(["a name far too long for any line ".repeat(2).as_str(), "none", "−1.5"]);
        doc.table(table);
        doc.lines(vec!["first".into(), "x".repeat(90).into()]);
        doc
    }

    #[test]
    fn a_document_on_a_terminal() {
        insta::assert_snapshot!(plain(&document(), Plain::TERMINAL), @"
        Test sheet
        ==========

        A long paragraph, “wrapped” word word word word word word word word word word
        word word word word word

        TO DO
          [ ] Date ____  start ____
          [ ] off

          1. Switch on.
             time ________

         12. Switch off.
             time ________

        Mind:
          ! one ± two
          ! three
          ... and 1 more in the report

          Device                               Remedy  A head of several
                                                                   lines
          a name far too long for any line a…  none                 −1.5

        first
        xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx
        ");
    }

    #[test]
    fn the_same_document_in_a_post() {
        let text = plain(&document(), Plain::POST);
        assert!(text.is_ascii() && text.lines().all(|line| line.len() <= Plain::POST.width), "{text}");
        insta::assert_snapshot!(text, @r#"
        Test sheet
        ==========

        A long paragraph, "wrapped" word word word word word word word word word
        word word word word word word

        TO DO
          [ ] Date ____  start ____
          [ ] off

          1. Switch on.
             time ________

         12. Switch off.
             time ________

        Mind:
          ! one +/- two
          ! three
          ... and 1 more in the report

        Device                                                             Re...
        ...
        a name far too long for any line a name far too long for any line  no...

        first
        xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...
        "#);
    }

    #[test]
    fn lines_end_before_the_screen_does() {
        let text = wrapped("  ! ", &"seven77 ".repeat(20));
        assert!(text.lines().all(|line| line.width() <= Plain::TERMINAL.width), "{text}");
        assert!(text.starts_with("  ! seven77 seven77") && text.contains("\n    seven77"), "{text}");
        assert_eq!(text.matches("seven77").count(), 20);
        assert_eq!(wrapped("", &"x".repeat(100)), format!("{}\n", "x".repeat(100)));
    }
}
