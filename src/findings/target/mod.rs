//! Whether the station is quiet enough by the user's own aim, device by device after its last remedy.
//!
//! Here: what each device's last remedy left; [`judge`] says when a condition is met; `result` and `words` are what
//! is told of it.

pub mod judge;
pub mod result;
pub(crate) mod words;

use crate::contrast::comparison::ContrastResult;
use crate::findings::basis::Basis;
use crate::findings::target::judge::{Left, Outcome, carrier, excess, no_carrier};
use crate::findings::target::result::{LargestLeft, LeftKind, TargetDevice, TargetResult};
use crate::labels::{Present, Target};
use crate::units::{Estimate, in_db};
use crate::warning::Trust;

pub(crate) use words::{digest, next_step, section, short_section};

/// `None` where the session has no target, or nothing was compared.
pub fn of(basis: &Basis<'_>) -> Option<TargetResult> {
    let aim = basis.session.listening.target.as_ref()?;
    let last = last_steps(basis.results);
    let judged: Vec<(Outcome, TargetDevice)> = last.iter().map(|c| device(aim, c)).collect();
    let outcome = Outcome::of_all(judged.iter().map(|(outcome, _)| *outcome))?;
    Some(TargetResult {
        excess_db: aim.excess_db,
        no_carrier: aim.no_carrier,
        carrier_cnr_db_hz: aim.carrier_cnr_db_hz,
        outcome,
        devices: judged.into_iter().map(|(_, device)| device).collect(),
        largest_left: largest_left(&last),
    })
}

/// Of each device and setting the last comparison, in the order of the first.
fn last_steps(contrasts: &[ContrastResult]) -> Vec<&ContrastResult> {
    let mut last: Vec<&ContrastResult> = Vec::new();
    // Devices recorded together are judged each by itself.
    for contrast in contrasts.iter().filter(|contrast| !Present::is_of_several(&contrast.device)) {
        match last.iter_mut().find(|c| c.device == contrast.device && c.setting == contrast.setting) {
            Some(earlier) => *earlier = contrast,
            None => last.push(contrast),
        }
    }
    last
}

fn device(aim: &Target, c: &ContrastResult) -> (Outcome, TargetDevice) {
    let conditions = conditions(aim, c);
    let outcome = Outcome::of_all(conditions.iter().map(|(outcome, _)| *outcome)).unwrap_or(Outcome::CantTell);
    let result = TargetDevice {
        device: c.device.clone(),
        setting: c.setting.clone(),
        contrast: c.id.clone(),
        remedy: c.remedy.clone(),
        outcome,
        why: conditions.into_iter().map(|(_, why)| why).collect(),
    };
    (outcome, result)
}

fn conditions(aim: &Target, c: &ContrastResult) -> Vec<(Outcome, String)> {
    match c.trust {
        Trust::Sound | Trust::Unrepeated => {}
        Trust::Doubtful => return vec![(Outcome::CantTell, "the comparison is doubtful".to_owned())],
        Trust::Void => return vec![(Outcome::CantTell, "the comparison is void".to_owned())],
    }
    let mut found = Vec::new();
    found.extend(aim.excess_db.map(|most_db| excess_condition(c, most_db)));
    if aim.no_carrier {
        let why = match c.added_lines.len() {
            0 => "no carrier was found above the floor".to_owned(),
            1 => "a carrier stands above the floor".to_owned(),
            n => format!("{n} carriers stand above the floor"),
        };
        found.push((no_carrier(c.added_lines.len()), why));
    }
    if let Some(most_db_hz) = aim.carrier_cnr_db_hz {
        let strongest = c.added_lines.iter().map(|line| line.cnr_db_hz).reduce(f64::max);
        let why = match strongest {
            None => "no carrier was found above the floor".to_owned(),
            Some(cnr) => {
                format!(
                    "the strongest carrier stands {cnr:.1} dB over the noise in 1 Hz (allowed: {most_db_hz:.1} dB)"
                )
            }
        };
        found.push((carrier(strongest, most_db_hz), why));
    }
    found
}

/// The excess with lines and clicks: its interval is that of the noise, moved by what these add.
fn excess_condition(c: &ContrastResult, most_db: f64) -> (Outcome, String) {
    let (Some(noise), Some(total), Some([low, high])) = (c.excess_db, c.total_excess_db, c.excess_ci_db) else {
        return (Outcome::CantTell, "the excess could not be measured".to_owned());
    };
    let added = total - noise;
    let left = Estimate { value: total, ci95: (low + added, high + added) };
    let why = format!(
        "noise, clicks and carriers together stand {total:.1} dB ({:.1} to {:.1}) above off (allowed: {most_db:.1} dB)",
        left.ci95.0, left.ci95.1
    );
    (excess(left, most_db), why.replace('-', "\u{2212}"))
}

/// The largest single thing in sound comparisons: one device's noise, clicks or carriers.
fn largest_left(last: &[&ContrastResult]) -> Option<LargestLeft> {
    let mut things = Vec::new();
    for c in last.iter().filter(|c| c.is_unspoilt()) {
        let (Some(noise), Some(total)) = (c.excess_db, c.total_excess_db) else { continue };
        let left = Left::of(noise, total);
        if c.change().is_up() {
            things.push((left.noise, if c.counts_clicks() { LeftKind::Clicks } else { LeftKind::Noise }, c));
        }
        if !c.added_lines.is_empty() {
            things.push((left.carriers, LeftKind::Carriers, c));
        }
    }
    let (share, kind, c) = things.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(LargestLeft { device: c.device.clone(), contrast: c.id.clone(), kind, lifts_db: in_db(1.0 + share) })
}
