//! A session's recordings measured, at the mains frequency that is labelled or that they tell.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::audio::ChannelChoice;
use crate::labels::{Label, Session};
use crate::signal::health::Hum;
use crate::signal::measure::MeasureSettings;
use crate::signal::recording::{Measured, Unusable, measure_file};
use crate::signal::shelf::Shelf;
use crate::signal::spectrum::Passband;
use crate::warning::{Code, Warning};
use crate::watch::Watch;

/// Mains frequency where nothing tells it. Chosen: the commoner of the two in use.
pub(super) const USUAL_MAINS_HZ: f64 = 50.0;

/// What the user may lay down over what labels and sound tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Wishes {
    /// Passband.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: Option<f64>,
    /// A steady carrier present in both states.
    pub reference_hz: Option<f64>,
    /// Channel of recordings whose label names none.
    pub channel: ChannelChoice,
}

/// Every recording that can be used, by its id, its bulk on the shelf, and the mains frequency. The others are named in the session, and
/// so is a mains frequency that was guessed.
pub(super) fn measure(
    session: &mut Session,
    wishes: &Wishes,
    shelf: &Arc<Shelf>,
    watch: &dyn Watch,
) -> (BTreeMap<String, Measured>, f64) {
    let known = wishes.mains_hz.or(session.mains_hz);
    let mut mains_hz = known.unwrap_or(USUAL_MAINS_HZ);
    let mut outcomes = measure_all(&session.recordings, wishes, mains_hz, shelf, watch);
    if known.is_none()
        && let Some(told_hz) = mains_told_by(outcomes.iter().filter_map(|o| o.as_ref().ok()))
        && told_hz != mains_hz
    {
        mains_hz = told_hz;
        session.warnings.push(Warning::new(
            Code::Guessed,
            format!("the mains frequency is not labelled; the noise pulses as {mains_hz:.0} Hz mains makes it, so that was taken"),
        ));
        outcomes = measure_all(&session.recordings, wishes, mains_hz, shelf, watch);
    }
    session.mains_hz = Some(mains_hz);
    let mut measured = BTreeMap::new();
    for (label, outcome) in session.recordings.iter().zip(outcomes) {
        match outcome {
            Ok(one) => {
                measured.insert(label.id.clone(), one);
            }
            Err(why) => session.left_out.push((label.file.clone(), why.reason)),
        }
    }
    (measured, mains_hz)
}

/// Measures every recording, in parallel, in the order of the labels.
fn measure_all(
    labels: &[Label],
    wishes: &Wishes,
    mains_hz: f64,
    shelf: &Arc<Shelf>,
    watch: &dyn Watch,
) -> Vec<Result<Measured, Unusable>> {
    let settings = MeasureSettings { passband: wishes.passband, mains_hz };
    watch.begin("measuring", labels.len());
    labels
        .par_iter()
        .map(|label| {
            let mut outcome = measure_file(label, wishes.channel, &settings);
            if let Ok(one) = &mut outcome {
                one.measurement.put_on(shelf);
            }
            watch.done(&label.file);
            outcome
        })
        .collect()
}

/// The mains frequency that noise in the recordings pulses with, if it clearly does with one of the two in use.
pub(super) fn mains_told_by<'a>(measured: impl Iterator<Item = &'a Measured>) -> Option<f64> {
    let mut strength = [0.0f64; 2];
    let mut hum_60 = None;
    for one in measured {
        // Failing that, hum of the audio lead tells it.
        let hum_lines =
            |mains_hz: f64| Hum::find(&one.measurement.slices, mains_hz).map_or(0, |hum| hum.lines.len());
        if hum_lines(60.0) > hum_lines(USUAL_MAINS_HZ) {
            hum_60 = Some(60.0);
        }
        let Some(modulation) = one.measurement.envelope.as_ref().and_then(|e| e.modulation.as_ref()) else {
            continue;
        };
        for (strength, mains_hz) in strength.iter_mut().zip([50.0, 60.0]) {
            for rate_hz in [mains_hz, 2.0 * mains_hz] {
                let line = modulation.at_rate(rate_hz);
                if line.present {
                    *strength = strength.max(line.amplitude);
                }
            }
        }
    }
    if strength == [0.0; 2] {
        return hum_60;
    }
    let [at_50, at_60] = strength;
    (at_50.max(at_60) > 0.0).then_some(if at_60 > 1.5 * at_50 { 60.0 } else { USUAL_MAINS_HZ })
}
