//! Whether the session's target is met, in sentences without markup: for the report and the terminal alike.

use crate::findings::target::judge::Outcome;
use crate::findings::target::result::{LeftKind, TargetResult};
use crate::text::{and, db, label};

/// What was aimed at: "within 1.0 dB of all off and no carrier above the floor".
pub(crate) fn aim(target: &TargetResult) -> String {
    let told: Vec<String> = [
        target.excess_db.map(|most| format!("noise, clicks and carriers within {} of off", db(most))),
        target.no_carrier.then(|| "no carrier above the floor".to_owned()),
        target.carrier_cnr_db_hz.map(|most| format!("no carrier more than {} over the noise in 1 Hz", db(most))),
    ]
    .into_iter()
    .flatten()
    .collect();
    and(&told)
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
    let mut text = match target.outcome {
        Outcome::Met => format!("Yes. The aim, {}, is met by {}", aim(target), and(&met)),
        Outcome::NotMet => format!("Not yet. The aim, {}, is not met by {}", aim(target), and(&missed)),
        Outcome::CantTell => format!("That can't be told. The aim: {}", aim(target)),
    };
    if target.outcome != Outcome::Met && !met.is_empty() {
        text += &format!("; it is met by {}", and(&met));
    }
    if !open.is_empty() {
        text += &format!("; of {} it can't be told from these recordings", and(&open));
    }
    text += ".";
    if let Some(left) = &target.largest_left {
        text += &format!(
            " The largest thing left: the {} of the {}, which alone lift{} the noise of the passband by {}.",
            left.kind.word(),
            label(&left.device),
            if left.kind == LeftKind::Noise { "s" } else { "" },
            db(left.lifts_db)
        );
    }
    text
}
