//! The noise with everything off on two evenings: by a known power at the receiver's input, else by the receiver's
//! own noise at one gain, else not at all. An S-meter is no measure of a difference (real ones stray from 2.5 to
//! 10 dB a unit), nor is a level in a file, which hangs on every gain between the antenna and the disk.

use super::pairing::{At, Key};
use super::result::{FloorBasis, FloorChange};
use crate::contrast::comparison::ContrastResult;
use crate::findings::ladder::steps::bought;
use crate::findings::listening::result::AnchorKind;
use crate::labels::same_words;
use crate::report::contract::Report;
use crate::report::level::{OffLevel, usable};
use crate::text::label;
use crate::units::Estimate;

/// A setting on one evening.
pub(super) struct Floor<'a> {
    report: &'a Report,
    at: At<'a>,
}

impl<'a> Floor<'a> {
    pub(super) fn of(report: &'a Report, at: At<'a>) -> Self {
        Self { report, at }
    }

    fn contrasts(&self) -> impl Iterator<Item = &'a ContrastResult> {
        usable(self.report, &self.at.setting.id)
    }

    /// Noise density at the receiver's input, dBm in 1 Hz, with the calibration's tolerance and the widest
    /// half-interval of an excess over these recordings: the off level is known at least as well as that.
    fn dbm_per_hz(&self) -> Option<Estimate> {
        let level = OffLevel::of(self.report, &self.at.setting.id).filter(|l| l.anchor == AnchorKind::Dbm)?;
        let half = |c: &ContrastResult| c.excess_ci_db.map(|[low, high]| (high - low) / 2.0);
        let reach = level.tolerance_db.hypot(self.contrasts().filter_map(half).fold(0.0, f64::max));
        Some(Estimate::within(level.dbm_per_hz, reach))
    }

    /// How far it lies above the receiver's own noise, dB.
    fn over_receiver(&self) -> Option<Estimate> {
        self.contrasts().find_map(|c| {
            let [low, high] = c.receiver_margin_ci_db?;
            Some(Estimate { value: c.receiver_margin_db?, ci95: (low, high) })
        })
    }
}

/// Two evenings at one setting.
pub(super) fn change(key: &Key, then: &Floor<'_>, now: &Floor<'_>) -> FloorChange {
    let mut change = FloorChange {
        setting: key.words.clone(),
        then_report: then.at.report,
        now_report: now.at.report,
        basis: None,
        then_db: None,
        now_db: None,
        change_db: None,
        change_ci_db: None,
        why_not: None,
    };
    let by = match (then.dbm_per_hz(), now.dbm_per_hz()) {
        (Some(before), Some(after)) => Ok((FloorBasis::Dbm, before, after)),
        _ => by_receiver(then, now).map(|(before, after)| (FloorBasis::ReceiverNoise, before, after)),
    };
    match by {
        Ok((basis, before, after)) => {
            let difference = bought(&after, &before, None).excess;
            change.basis = Some(basis);
            (change.then_db, change.now_db) = (Some(before.value), Some(after.value));
            (change.change_db, change.change_ci_db) = (Some(difference.value), Some(difference.ends()));
        }
        Err(why) => change.why_not = Some(why),
    }
    change
}

/// The receiver's own noise is a reference where receiver and gain are the same.
fn by_receiver(then: &Floor<'_>, now: &Floor<'_>) -> Result<(Estimate, Estimate), String> {
    let missing = "that takes a power in dBm for a recording of it on both evenings, or a dummy load on both at one \
                   gain";
    let (Some(before), Some(after)) = (then.over_receiver(), now.over_receiver()) else {
        return Err(missing.into());
    };
    same_label("gain", &then.at.setting.gain, &now.at.setting.gain)?;
    same_label("station", &then.report.session.station, &now.report.session.station)?;
    Ok((before, after))
}

/// Whether both evenings have a label with the same words; else what to do.
fn same_label(name: &str, then: &Option<String>, now: &Option<String>) -> Result<(), String> {
    match (then, now) {
        (Some(a), Some(b)) if same_words(a, b) => Ok(()),
        (Some(a), Some(b)) => Err(format!(
            "there is a dummy load on both evenings, but the {name} differs: {} against {}",
            label(a),
            label(b)
        )),
        _ => Err(format!(
            "there is a dummy load on both evenings, but it counts only where session.toml gives both the same {name}"
        )),
    }
}
