//! What each of several devices adds.

use super::super::contract::Report;
use super::super::words::{number, percent};
use super::table::{Column, Table};
use super::{Document, cell};

/// The budget in a sentence; shares of one device say nothing.
pub(super) fn largest_share(report: &Report) -> Option<String> {
    let largest = report.budget.iter().max_by(|a, b| a.share.total_cmp(&b.share))?;
    (report.budget.len() > 1).then(|| {
        format!(
            "Of the noise that all devices add together, {} comes from **{}**.",
            percent(largest.share),
            cell(&largest.device)
        )
    })
}

pub(super) fn write(doc: &mut Document, report: &Report) {
    if report.budget.len() < 2 {
        return;
    }
    doc.heading(2, "Which device adds how much");
    let mut table = Table::new([
        Column::text("Device"),
        Column::number("Share of the added power"),
        Column::number("Excess, dB"),
    ]);
    for entry in &report.budget {
        table.row([cell(&entry.device), percent(entry.share), number(entry.excess_db, 1)]);
    }
    doc.table(&table);
}
