//! Levels at the receiver's input, as far as a report tells them: what the sheets and then-and-now both ask.

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::AnchorKind;
use crate::labels::State;
use crate::report::contract::Report;
use crate::signal::recording_result::RecordingResult;
use crate::signal::spectrum::statistics::median;

/// The noise of a setting with everything off, at the receiver's input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OffLevel {
    /// dBm in 1 Hz: the median of the off recordings of a setting's comparisons.
    pub(super) dbm_per_hz: f64,
    /// What a full-scale level is, dBm.
    pub(super) dbm_at_full_scale: f64,
    /// What it hangs on.
    pub(super) anchor: AnchorKind,
    /// How far that may be off, dB.
    pub(super) tolerance_db: f64,
}

/// Comparisons of a setting that mean something.
pub(super) fn usable<'a>(report: &'a Report, setting: &'a str) -> impl Iterator<Item = &'a ContrastResult> + Clone {
    report.contrasts.iter().filter(move |c| c.setting == setting && !c.is_void())
}

impl OffLevel {
    /// `None` where nothing tells it.
    pub(super) fn of(report: &Report, setting: &str) -> Option<Self> {
        let (anchor, tolerance_db) = usable(report, setting).find_map(|c| {
            let cost = report.listening.costs.iter().find(|cost| cost.contrast == c.id)?;
            cost.signal_needed.as_ref().map(|signal| (signal.anchor, signal.tolerance_db))
        })?;
        let is_off = |r: &&RecordingResult| {
            r.state == Some(State::Off) && usable(report, setting).any(|c| c.off.contains(&r.id))
        };
        let off = || report.recordings.iter().filter(is_off);
        let dbm_at_full_scale = off().find_map(|r| Some(r.level_dbm? - r.level_db?))?;
        let mut floors: Vec<f64> = off().filter_map(|r| r.floor_db_per_hz).collect();
        if floors.is_empty() {
            return None;
        }
        Some(Self { dbm_per_hz: dbm_at_full_scale + median(&mut floors), dbm_at_full_scale, anchor, tolerance_db })
    }
}
