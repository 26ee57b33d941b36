//! Whether the session's target is met: a sentence without markup, the section, the line of the digest.

use crate::contrast::comparisons::setting_name;
use crate::findings::target::judge::Outcome;
use crate::findings::target::result::{LeftKind, TargetResult};
use crate::labels::Setting;
use crate::text::{Column, Document, Table, Words, and, capital, db, label};

/// What was aimed at: "within 1.0 dB of all off and no carrier above the floor".
pub(crate) fn aim(target: &TargetResult) -> String {
    let aims: Vec<String> = [
        target.excess_db.map(|most| format!("noise, clicks and carriers within {} of off", db(most))),
        target.no_carrier.then(|| "no carrier above the floor".to_owned()),
        target.carrier_cnr_db_hz.map(|most| format!("no carrier more than {} over the noise in 1 Hz", db(most))),
    ]
    .into_iter()
    .flatten()
    .collect();
    and(&aims)
}

/// Whether the target is met, by which device not, and the largest thing left.
pub(crate) fn target(target: &TargetResult) -> String {
    let of = |outcome: Outcome| -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for device in target.devices.iter().filter(|d| d.outcome == outcome) {
            let name = format!("the {}", label(&device.device));
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    };
    // A device heard at several settings counts by the worst of them.
    let but = |names: Vec<String>, worse: &[&[String]]| -> Vec<String> {
        names.into_iter().filter(|name| worse.iter().all(|list| !list.contains(name))).collect()
    };
    let missed = of(Outcome::NotMet);
    let open = but(of(Outcome::CantTell), &[&missed]);
    let met = but(of(Outcome::Met), &[&missed, &open]);
    let answer = match target.outcome {
        Outcome::Met => "Yes",
        Outcome::NotMet => "Not yet",
        Outcome::CantTell => "That can't be told",
    };
    let by = [("not met by", missed), ("met by", met), ("not to be told of", open)];
    let by: Vec<String> = by
        .iter()
        .filter(|(_, names)| !names.is_empty())
        .map(|(how, names)| format!("{how} {}", and(names)))
        .collect();
    format!("{answer}. The aim: {}. {}.", aim(target), capital(&by.join("; ")))
}

/// Where to go on: the largest thing left.
pub(crate) fn next_step(target: &TargetResult) -> Option<Words> {
    let left = target.largest_left.as_ref()?;
    let it = if left.kind == LeftKind::Noise { "it lifts" } else { "they lift" };
    let device = Words::strong(format!("{}:", capital(&label(&left.device))));
    let what = format!(" its {} are", left.kind.word());
    let what = if left.kind == LeftKind::Noise { " its noise is".to_owned() } else { what };
    Some(
        device.then(format!(
            "{what} the largest thing left: {it} the noise of the passband by {}.",
            db(left.lifts_db)
        )),
    )
}

/// The answer, for the short report.
pub(crate) fn short_section(doc: &mut Document, result: &TargetResult) {
    doc.heading(2, "Quiet enough?");
    doc.paragraph(target(result));
}

/// Device by device.
pub(crate) fn section(doc: &mut Document, target: &TargetResult, settings: &[Setting]) {
    doc.heading(2, "The aim by device");
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
            if several { setting_name(settings, &device.setting).into() } else { Words::default() },
            label(&device.device).into(),
            device.remedy.as_deref().map_or_else(|| "none".to_owned(), label).into(),
            if met { device.outcome.word().into() } else { Words::strong(device.outcome.word()) },
            device.why.join("; ").into(),
        ]);
    }
    doc.table(table);
}

/// "Quiet enough? not met (met by 1 of 3 devices); left: noise of drill charger". A device heard at several
/// settings counts once, by the worst of them.
pub(crate) fn digest(target: &TargetResult) -> String {
    let mut devices: Vec<&str> = target.devices.iter().map(|d| d.device.as_str()).collect();
    devices.sort_unstable();
    devices.dedup();
    let misses = |device: &str| target.devices.iter().any(|d| d.device == device && d.outcome != Outcome::Met);
    let met = devices.iter().filter(|device| !misses(device)).count();
    let left = target
        .largest_left
        .as_ref()
        .map_or_else(String::new, |left| format!("; left: {} of {}", left.kind.word(), label(&left.device)));
    format!("Quiet enough? {} (met by {met} of {}){left}", target.outcome.word(), devices.len())
}
