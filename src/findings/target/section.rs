//! The section on the session's target.

use crate::findings::target::judge::Outcome;
use crate::findings::target::result::TargetResult;
use crate::findings::target::words::{aim, target};
use crate::report::markdown::table::{Column, Table};
use crate::report::markdown::{Document, cell, escape};

/// A line for the report's head.
pub(crate) fn verdict(result: &TargetResult) -> String {
    format!("**Quiet enough?** {}", escape(&target(result)))
}

/// Device by device.
pub(crate) fn section(doc: &mut Document, target: &TargetResult) {
    doc.heading(2, "Quiet enough?");
    doc.block(&escape(&format!("The aim: {}. Each device is judged after its last remedy.", aim(target))));
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
            if several { cell(&device.setting) } else { String::new() },
            cell(&device.device),
            device.remedy.as_deref().map_or_else(|| "none".to_owned(), cell),
            if met { device.outcome.word().to_owned() } else { format!("**{}**", device.outcome.word()) },
            escape(&device.why.join("; ")),
        ]);
    }
    doc.table(&table);
}
