//! All comparisons in one table; a device that was recorded all over the dial has a row a setting in one of its
//! own, with its remedies side by side.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{excess, kind, trust};
use crate::report::contract::Report;
use crate::report::devices::Device;
use crate::text::{Column, Document, Table, Words, capital, label, percent};

/// From so many settings on a device has a table of its own.
const ALL_OVER: usize = 3;
/// Devices at several dials that have a table each. Chosen: of more, one table is read faster.
const MOST_OVER_THE_DIAL: usize = 4;
/// Remedies side by side; a column each is all a page has room for.
const REMEDIES: usize = 4;

pub(super) fn write(doc: &mut Document, report: &Report, devices: &[Device]) {
    if report.contrasts.is_empty() {
        return;
    }
    doc.heading(2, "All comparisons");
    let (wide, others): (Vec<&Device>, Vec<&Device>) =
        devices.iter().partition(|d| is_wide(d, report) && remedies(d).len() <= REMEDIES);
    let contrasts: Vec<&ContrastResult> = others.iter().flat_map(|d| d.contrasts.iter().copied()).collect();
    let several = contrasts.iter().any(|c| c.setting != contrasts[0].setting);
    // What is the same of all is told once.
    let same = report.contrasts.iter().all(|c| c.trust == report.contrasts[0].trust);
    let trust = |c: &ContrastResult| if same { Words::default() } else { trust(c) };
    let mut table = Table::new([
        Column::text("Device"),
        Column::text("Setting"),
        Column::text("Remedy"),
        Column::number("Excess, dB (95 %)"),
        Column::text("Kind"),
        Column::number("Sure"),
        Column::text("Trust"),
    ]);
    for c in contrasts {
        table.row([
            label(&c.device).into(),
            if several { report.comparisons().setting_name(&c.setting).into() } else { Words::default() },
            c.remedy.as_deref().map_or_else(|| "none".to_owned(), label).into(),
            excess(c).into(),
            kind(c).into(),
            if c.is_void() { "–".into() } else { percent(c.confidence).into() },
            trust(c),
        ]);
    }
    doc.table(table);
    wide.iter().for_each(|device| over_the_dial(doc, report, device, &trust));
    if same {
        doc.paragraph(format!("Trust: all {}.", report.contrasts[0].trust.word()));
    }
}

/// Whether a device has a table of its own: at several dials, unless many devices were, or at many settings.
fn is_wide(device: &Device, report: &Report) -> bool {
    let at_several_dials = report.device_bands.iter().any(|bands| bands.device == device.name);
    device.first_steps().len() >= ALL_OVER || (at_several_dials && report.device_bands.len() <= MOST_OVER_THE_DIAL)
}

/// The remedies of a device, as they first came.
fn remedies<'a>(device: &Device<'a>) -> Vec<Option<&'a str>> {
    let mut found = Vec::new();
    for c in &device.contrasts {
        if !found.contains(&c.remedy.as_deref()) {
            found.push(c.remedy.as_deref());
        }
    }
    found
}

/// Setting by remedy: the excess, and the kind where it is more than a rise.
fn over_the_dial(doc: &mut Document, report: &Report, device: &Device, trust: &dyn Fn(&ContrastResult) -> Words) {
    let remedies = remedies(device);
    let name = |remedy: Option<&str>| remedy.map_or_else(|| "no remedy".to_owned(), label);
    let mut columns = vec![Column::text("Setting")];
    let head = |remedy: &Option<&str>| match remedies.len() {
        1 => "Excess, dB (95 %)".to_owned(),
        _ => format!("Excess, dB (95 %), {}", name(*remedy)),
    };
    columns.extend(
        remedies.iter().flat_map(|r| [Column::number(head(r)), Column::text("Kind"), Column::text("Trust")]),
    );
    let mut table = Table::of(columns);
    for first in device.first_steps() {
        let mut row: Vec<Words> = vec![report.comparisons().setting_name(&first.setting).into()];
        for remedy in &remedies {
            let found =
                device.contrasts.iter().find(|c| c.setting == first.setting && c.remedy.as_deref() == *remedy);
            row.extend(match found {
                Some(c) => [excess(c).into(), kind(c).into(), trust(c)],
                None => Default::default(),
            });
        }
        table.cells(row);
    }
    doc.lead(format!("{} over the dial:", capital(&label(device.name))));
    doc.table(table);
}
