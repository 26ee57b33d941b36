//! Families of carriers over the dial.

use super::super::contract::Report;
use super::super::words::number;
use super::Document;
use super::table::{Column, Table};

pub(super) fn write(doc: &mut Document, report: &Report) {
    if report.switching_combs.is_empty() {
        return;
    }
    doc.heading(2, "Families of carriers over the dial");
    let mut table = Table::new([
        Column::number("Every, Hz"),
        Column::number("95 % interval, Hz"),
        Column::number("Offset, Hz"),
    ]);
    for comb in &report.switching_combs {
        let [low, high] = comb.spacing_ci_hz;
        table.row([
            number(comb.spacing_hz, 1),
            format!("{} to {}", number(low, 1), number(high, 1)),
            number(comb.offset_hz, 1),
        ]);
    }
    doc.table(&table);
}
