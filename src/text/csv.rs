//! Tables for spreadsheets: figures as they stand in a cell, rows under the names of their fields. Words that a
//! spreadsheet would take for a formula are kept from it.

use serde::{Serialize, Serializer};

use crate::labels::shown;

/// Marks a figure on its way into the table, where its minus is no formula.
const FIGURE: char = '\0';
/// What a cell of words must not begin with, else spreadsheets reckon with it (OWASP, "CSV Injection"; the wide forms
/// are those of East Asian keyboards), and the mark that is put before it.
const OPENS_FORMULA: [char; 10] = ['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠'];
const WORDS: char = '\'';

/// A figure as tables have it: its shortest digits, without a point where it is whole; empty where there is none.
#[derive(Default)]
pub(crate) struct Figure(Option<f64>);

impl From<f64> for Figure {
    fn from(value: f64) -> Self {
        Self(Some(value))
    }
}

impl From<Option<f64>> for Figure {
    fn from(value: Option<f64>) -> Self {
        Self(value)
    }
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match &self.0 {
            Some(value) => serializer.collect_str(&format_args!("{FIGURE}{value}")),
            None => serializer.serialize_none(),
        }
    }
}

/// Rows under the names of their fields, which stand also where there is no row. Words that begin like a formula, or
/// with an apostrophe, get an apostrophe before them: take it away to have the words back.
///
/// # Errors
/// None in practice: the table grows in memory.
pub(crate) fn table<R: Serialize + Default>(rows: impl IntoIterator<Item = R>) -> Result<String, csv::Error> {
    let mut sample = csv::Writer::from_writer(Vec::new());
    sample.serialize(R::default())?;
    let head = text_of(sample)?.lines().next().map(|head| format!("{head}\n")).unwrap_or_default();
    let mut table = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    rows.into_iter().try_for_each(|row| table.serialize(row))?;
    let raw = text_of(table)?;
    let mut table = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    for row in csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(raw.as_bytes()).records() {
        table.write_record(row?.iter().map(harmless))?;
    }
    Ok(head + &text_of(table)?)
}

/// A cell that is a figure, or words no spreadsheet or terminal acts upon.
fn harmless(cell: &str) -> String {
    let bare = cell.trim_start_matches(FIGURE);
    if bare.len() < cell.len() && bare.parse::<f64>().is_ok() {
        return bare.to_owned();
    }
    let words = shown(bare);
    if words.starts_with(OPENS_FORMULA) || words.starts_with(WORDS) {
        format!("{WORDS}{words}")
    } else {
        words.into_owned()
    }
}

fn text_of(table: csv::Writer<Vec<u8>>) -> Result<String, csv::Error> {
    let bytes = table.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    String::from_utf8(bytes).map_err(|e| std::io::Error::new(std::io::ErrorKind::InvalidData, e).into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Default, Serialize)]
    struct Row {
        device: &'static str,
        excess_db: Figure,
        count: usize,
    }

    /// Source: OWASP, "CSV Injection": cells that begin with =, +, -, @, tab or carriage return are formulas.
    #[test]
    fn words_are_no_formulas_and_read_back_and_figures_stay() {
        let devices =
            ["=cmd|' /C calc'!A0", "+1", "-2", "@SUM(A1)", "\t=1", "'quoted", "\0-2", "a-b", "＝1", "two\nlines"];
        let rows = devices.map(|device| Row { device, excess_db: (-3.25).into(), count: 7 });
        let text = table(rows).unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        for (row, device) in reader.records().zip(devices) {
            let row = row.unwrap();
            assert!(!row[0].starts_with(OPENS_FORMULA) || row[0].parse::<f64>().is_ok(), "{row:?}");
            assert_eq!(row[0].strip_prefix('\'').unwrap_or(&row[0]), device.trim_start_matches('\0'));
            assert_eq!((&row[1], &row[2]), ("-3.25", "7"));
        }
        assert_eq!(table::<Row>([]).unwrap(), "device,excess_db,count\n");
    }
}
