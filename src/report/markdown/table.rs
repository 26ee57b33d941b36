//! A table in Markdown, with columns that nothing stands in left out. Cells are escaped already.

/// A column's head and side.
pub(crate) struct Column {
    head: &'static str,
    right: bool,
}

impl Column {
    pub(crate) fn text(head: &'static str) -> Self {
        Self { head, right: false }
    }

    pub(crate) fn number(head: &'static str) -> Self {
        Self { head, right: true }
    }
}

/// Rows of as many cells as there are columns.
pub(crate) struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn new<const N: usize>(columns: [Column; N]) -> Self {
        Self { columns: columns.into(), rows: Vec::new() }
    }

    pub(crate) fn row<const N: usize>(&mut self, cells: [String; N]) {
        debug_assert_eq!(N, self.columns.len());
        self.rows.push(cells.into());
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    pub(crate) fn markdown(&self) -> String {
        let kept: Vec<usize> =
            (0..self.columns.len()).filter(|&i| self.rows.iter().any(|row| !row[i].is_empty())).collect();
        let line = |cells: Vec<&str>| format!("| {} |\n", cells.join(" | "));
        let mut text = line(kept.iter().map(|&i| self.columns[i].head).collect());
        text += &line(kept.iter().map(|&i| if self.columns[i].right { "---:" } else { "---" }).collect());
        for row in &self.rows {
            text += &line(kept.iter().map(|&i| row[i].as_str()).collect());
        }
        text
    }
}
