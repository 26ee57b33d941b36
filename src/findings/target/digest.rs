//! The digest's line on the session's target.

use crate::findings::target::judge::Outcome;
use crate::findings::target::result::TargetResult;
use crate::text::label;

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
