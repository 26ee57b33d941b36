//! The digest's lines on what the noise means to a listener: one each on cost, target and published noise, and every
//! supply that must not be connected.

use crate::findings::listening::result::SupplyVerdict;
use crate::findings::listening::result::TargetResult;
use crate::findings::listening::words::{cost_of, watts};
use crate::findings::target::judge::Outcome;
use crate::report::contract::Report;
use crate::text::{count, label, number, signed};
use crate::warning::Trust;

/// Devices named in the line on what is heard.
const DEVICES: usize = 3;
/// Supplies named one by one.
const SUPPLIES: usize = 2;

pub(crate) fn lines(report: &Report) -> Vec<String> {
    let listening = &report.listening;
    let mut found: Vec<String> = heard(report).into_iter().collect();
    found.extend(listening.target.iter().map(target));
    found.extend(listening.station_noise.iter().take(1).map(|noise| {
        format!(
            "All off: Fa {} dB +/-{}, {} dB over {} median (ITU-R P.372)",
            number(noise.off.noise_figure_db, 1),
            number(noise.tolerance_db, 0),
            signed(noise.off.over_median_db, 1),
            noise.off.nearest.word()
        )
    }));
    let stops: Vec<_> = listening.supplies.iter().filter(|check| check.verdict == SupplyVerdict::Stop).collect();
    found.extend(stops.iter().take(SUPPLIES).map(|check| format!("Supply does NOT fit: {}", label(&check.device))));
    if stops.len() > SUPPLIES {
        found.push(format!("... and {}", count(stops.len() - SUPPLIES, "more supply", "more supplies")));
    }
    found
}

/// "Without remedy, 100 W is heard as: drill charger 4.1 W; pond pump 40 W"; where none was tried, without the first words.
fn heard(report: &Report) -> Option<String> {
    let mut named: Vec<&str> = Vec::new();
    let mut told = Vec::new();
    for c in report.contrasts.iter().filter(|c| c.trust == Trust::Sound && c.remedy.is_none()) {
        let power = cost_of(report, &c.id).and_then(|cost| cost.heard_100_w_as_w);
        if let Some(power) = power.filter(|_| !named.contains(&c.device.as_str())) {
            named.push(&c.device);
            told.push(format!("{} {}", label(&c.device), watts(power)));
        }
    }
    let more = if told.len() > DEVICES { "; ..." } else { "" };
    told.truncate(DEVICES);
    let any_remedy = report.contrasts.iter().any(|c| c.remedy.is_some());
    let without = if any_remedy { "Without remedy, " } else { "" };
    (!told.is_empty()).then(|| format!("{without}100 W is heard as: {}{more}", told.join("; ")))
}

/// "Quiet enough? not met (met by 1 of 3 devices); left: noise of drill charger". A device heard at several settings
/// counts once, by the worst of them.
fn target(target: &TargetResult) -> String {
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
