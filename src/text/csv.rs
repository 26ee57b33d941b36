//! Tables for spreadsheets: figures as they stand in a cell, rows under the names of their fields.

use serde::{Serialize, Serializer};

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
            Some(value) => serializer.collect_str(value),
            None => serializer.serialize_none(),
        }
    }
}

/// Rows under the names of their fields, which stand also where there is no row.
///
/// # Errors
/// None in practice: the table grows in memory.
pub(crate) fn table<R: Serialize + Default>(rows: impl IntoIterator<Item = R>) -> Result<String, csv::Error> {
    let mut sample = csv::Writer::from_writer(Vec::new());
    sample.serialize(R::default())?;
    let head = text_of(sample)?.lines().next().map(|head| format!("{head}\n")).unwrap_or_default();
    let mut table = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    rows.into_iter().try_for_each(|row| table.serialize(row))?;
    Ok(head + &text_of(table)?)
}

fn text_of(table: csv::Writer<Vec<u8>>) -> Result<String, csv::Error> {
    let bytes = table.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    String::from_utf8(bytes).map_err(|e| std::io::Error::new(std::io::ErrorKind::InvalidData, e).into())
}
