//! When noise came and went in a night.

use super::device;
use crate::report::contract::Report;
use crate::text::{Column, Document, Table, clock, label};

pub(crate) fn write(doc: &mut Document, report: &Report) {
    if report.episodes.is_empty() {
        return;
    }
    doc.heading(2, "When noise came and went");
    let mut table = Table::new([
        Column::text("Start"),
        Column::number("Length"),
        Column::number("Excess, dB (95 %)"),
        Column::text("Kind"),
        Column::text("Trust"),
    ]);
    for episode in &report.episodes {
        let start = episode.start.clone().unwrap_or_else(|| clock(episode.start_s));
        let c = &episode.contrast;
        table.row([
            label(&start).into(),
            clock(episode.end_s - episode.start_s).into(),
            device::excess(c).into(),
            device::kind(c).into(),
            device::trust(c),
        ]);
    }
    doc.table(table);
}
