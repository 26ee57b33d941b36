//! What a text is made of, without a word on how it looks. Not here: markup, widths and escaping (the writers).

use super::words::Words;

/// Blocks in their order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Document {
    pub(super) blocks: Vec<Block>,
}

/// A piece that stands by itself.
#[derive(Debug, Clone)]
pub(super) enum Block {
    Heading(usize, Words),
    Paragraph(Words),
    /// What leads in the block right below it.
    Lead(Words),
    /// Short lines, one below the other.
    Lines(Vec<Words>),
    List(List),
    Table(Table),
    Picture(Picture),
}

impl Document {
    /// `level` counts from 1, the title.
    pub(crate) fn heading(&mut self, level: usize, words: impl Into<Words>) {
        self.blocks.push(Block::Heading(level, words.into()));
    }

    pub(crate) fn paragraph(&mut self, words: impl Into<Words>) {
        self.blocks.push(Block::Paragraph(words.into()));
    }

    /// A line that leads in the next block.
    pub(crate) fn lead(&mut self, words: impl Into<Words>) {
        self.blocks.push(Block::Lead(words.into()));
    }

    /// Short lines, one below the other; nothing if there are none.
    pub(crate) fn lines(&mut self, lines: Vec<Words>) {
        if !lines.is_empty() {
            self.blocks.push(Block::Lines(lines));
        }
    }

    /// A list; nothing if there are no items.
    pub(crate) fn list(&mut self, list: impl Into<List>) {
        let list = list.into();
        if !list.items.is_empty() {
            self.blocks.push(Block::List(list));
        }
    }

    /// A table; nothing if there are no rows.
    pub(crate) fn table(&mut self, table: Table) {
        if !table.rows.is_empty() {
            self.blocks.push(Block::Table(table));
        }
    }

    /// Whether a picture of this file stands in it.
    pub(crate) fn has_picture(&self, file: &str) -> bool {
        self.blocks.iter().any(|block| matches!(block, Block::Picture(picture) if picture.file == file))
    }

    pub(crate) fn picture(&mut self, picture: impl Into<Picture>) {
        self.blocks.push(Block::Picture(picture.into()));
    }
}

/// Items of a list.
#[derive(Debug, Clone)]
pub(crate) struct List {
    pub(super) mark: Mark,
    pub(super) items: Vec<Words>,
    /// What is said of items that are left out.
    pub(super) rest: Option<Words>,
}

/// What stands before each item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    Dash,
    /// A box to tick.
    Box,
    /// Take care.
    Alert,
}

impl List {
    pub(crate) fn new(mark: Mark, items: Vec<Words>) -> Self {
        Self { mark, items, rest: None }
    }

    /// The first few only, the others counted; `elsewhere` tells where they stand.
    pub(crate) fn cut_to(mut self, shown: usize, elsewhere: &str) -> Self {
        let hidden = self.items.len().saturating_sub(shown);
        self.items.truncate(shown);
        self.rest = (hidden > 0).then(|| format!("... and {hidden} more {elsewhere}").into());
        self
    }
}

impl<W: Into<Words>> From<Vec<W>> for List {
    fn from(items: Vec<W>) -> Self {
        Self::new(Mark::Dash, items.into_iter().map(Into::into).collect())
    }
}

/// Rows of as many cells as there are columns. Columns that nothing stands in are left out.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Vec<Words>>,
}

/// A column's head and what stands below it.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub(super) head: Words,
    pub(super) holds: Holds,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Text,
    Number,
    /// Nothing yet: room for a pencil, in columns.
    Blank(usize),
}

impl Column {
    pub(crate) fn text(head: impl Into<Words>) -> Self {
        Self { head: head.into(), holds: Holds::Text }
    }

    pub(crate) fn number(head: impl Into<Words>) -> Self {
        Self { head: head.into(), holds: Holds::Number }
    }

    /// A column to be filled in by hand; its cells are given empty.
    pub(crate) fn blank(head: impl Into<Words>, columns: usize) -> Self {
        Self { head: head.into(), holds: Holds::Blank(columns) }
    }
}

impl Table {
    pub(crate) fn new<const N: usize>(columns: [Column; N]) -> Self {
        Self::of(columns.into())
    }

    /// With as many columns as the case asks for.
    pub(crate) fn of(columns: Vec<Column>) -> Self {
        Self { columns, rows: Vec::new() }
    }

    /// A row of a table with so many columns.
    pub(crate) fn cells(&mut self, cells: Vec<Words>) {
        debug_assert_eq!(cells.len(), self.columns.len());
        self.rows.push(cells);
    }

    pub(crate) fn row<W: Into<Words>, const N: usize>(&mut self, cells: [W; N]) {
        debug_assert_eq!(N, self.columns.len());
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The places of the columns that are shown.
    pub(super) fn shown(&self) -> Vec<usize> {
        let is_shown = |at: &usize| {
            matches!(self.columns[*at].holds, Holds::Blank(_)) || self.rows.iter().any(|row| !row[*at].is_empty())
        };
        (0..self.columns.len()).filter(is_shown).collect()
    }
}

/// A picture in a file beside the text.
#[derive(Debug, Clone)]
pub(crate) struct Picture {
    /// Its file, relative to that of the text.
    pub(crate) file: String,
    /// What stands in its place where it can't be seen.
    pub(crate) alternative: String,
    /// What stands below it; may be empty.
    pub(crate) caption: String,
}
