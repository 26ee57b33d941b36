//! The section on the session's target.

use crate::findings::target::judge::Outcome;
use crate::findings::target::result::TargetResult;
use crate::findings::target::words::{aim, target};
use crate::text::{Column, Document, Table, Words, label};

/// A line for the report's head.
pub(crate) fn verdict(result: &TargetResult) -> Words {
    Words::strong("Quiet enough?").then(" ").then(target(result))
}

/// Device by device.
pub(crate) fn section(doc: &mut Document, target: &TargetResult) {
    doc.heading(2, "Quiet enough?");
    doc.paragraph(format!("The aim: {}. Each device is judged after its last remedy.", aim(target)));
    let several = target.devices.iter().any(|d| d.setting != target.devices[0].setting);
    let mut table = Table::new([
        Column::text("Setting"),
        Column::text("Device"),
        Column::text("Last remedy"),
        Column::text("Aim"),
        Column::text("Why"),
    ]);
    for device in &target.devices {
        let met = device.outcome == Outcome::Met;
        table.row([
            if several { label(&device.setting).into() } else { Words::default() },
            label(&device.device).into(),
            device.remedy.as_deref().map_or_else(|| "none".to_owned(), label).into(),
            if met { device.outcome.word().into() } else { Words::strong(device.outcome.word()) },
            device.why.join("; ").into(),
        ]);
    }
    doc.table(table);
}
