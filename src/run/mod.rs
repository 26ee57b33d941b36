//! A session's whole way from labels to results: every recording measured once, every contrast made, all of it put
//! into the contract's words and into figures.
//!
//! The rooms before it know nothing of each other; this one joins them and decides nothing about noise itself.

pub mod compare;
pub mod night;
pub mod results;

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;

use crate::report::pictures::{Picture, pictures};
use crate::signal::recording::{Measured, Unusable, measure_file};

pub use night::{Night, NightWishes};

use crate::audio::ChannelChoice;
use crate::contrast::{Contrast, ContrastSettings};
use crate::labels::{Label, Plan, Session, State};
use crate::report::contract::Report;
use crate::signal::health::Hum;
use crate::signal::measure::MeasureSettings;
use crate::signal::spectrum::Passband;
use crate::warning::{Code, Trust, Warning};
use crate::watch::{Stopped, Watch};

/// Mains frequency where nothing tells it.
const USUAL_MAINS_HZ: f64 = 50.0;

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

/// A session measured and contrasted.
pub struct Tally {
    /// Its labels.
    pub session: Session,
    /// What was measured, by recording id.
    pub measured: BTreeMap<String, Measured>,
    /// The contrasts, in the session's order.
    pub contrasts: Vec<(Plan, Contrast)>,
    /// All of it in the contract's words; no figures yet.
    pub report: Report,
}

impl Tally {
    /// Does the work. A recording that can't be used is named in the report; the others are done.
    pub fn of(mut session: Session, wishes: &Wishes, watch: &dyn Watch) -> Self {
        let known = wishes.mains_hz.or(session.mains_hz);
        let mut mains_hz = known.unwrap_or(USUAL_MAINS_HZ);
        let mut outcomes = measure_all(&session.recordings, wishes, mains_hz, watch);
        if known.is_none()
            && let Some(told_hz) = mains_told_by(outcomes.iter().filter_map(|o| o.as_ref().ok()))
            && told_hz != mains_hz
        {
            mains_hz = told_hz;
            session.warnings.push(Warning::new(
                Code::Guessed,
                format!("the mains frequency is not labelled; the noise pulses as {mains_hz:.0} Hz mains makes it, so that was taken"),
            ));
            outcomes = measure_all(&session.recordings, wishes, mains_hz, watch);
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
        let settings = ContrastSettings {
            passband: wishes.passband,
            mains_hz,
            reference_hz: wishes.reference_hz.or(session.reference_hz),
            motion: None,
        };
        let measuring = MeasureSettings { passband: wishes.passband, mains_hz };
        let check =
            crate::findings::receiver_check::gather::of_session(&session, &measured, wishes.channel, &measuring);
        session.warnings.extend(check.iter().flat_map(|(_, warnings)| warnings.clone()));
        let contrasts: Vec<(Plan, Contrast)> = session
            .contrasts
            .par_iter()
            .map(|plan| compare::compare(plan, &session, &measured, &settings))
            .collect();
        let mut report = results::report(&session, &measured, &contrasts, mains_hz);
        report.receiver_check = check.map(|(result, _)| result);
        Self { session, measured, contrasts, report }
    }

    /// Whether every recording was used and no contrast is void.
    pub fn is_whole(&self) -> bool {
        let planned = self.session.contrasts.iter().flat_map(|plan| plan.off.iter().chain(&plan.on));
        let used =
            |id: &String| self.contrasts.iter().any(|(plan, _)| plan.off.contains(id) || plan.on.contains(id));
        let on = self.session.recordings.iter().filter(|label| label.state == State::On).map(|label| &label.id);
        self.session.left_out.is_empty()
            && self.contrasts.iter().all(|(_, contrast)| contrast.trust != Trust::Void)
            && planned.chain(on).all(used)
    }

    /// Draws the report's pictures into `dir` and lists them in the report.
    ///
    /// # Errors
    /// A picture that can't be written; [`Stopped`].
    pub fn draw_into(&mut self, dir: &Path, watch: &dyn Watch) -> anyhow::Result<()> {
        let pictures = pictures(self);
        watch.begin("drawing", pictures.len());
        pictures.par_iter().try_for_each(|picture| {
            if watch.is_stopped() {
                return Err(Stopped.into());
            }
            picture.draw(dir)?;
            watch.done(picture.file());
            anyhow::Ok(())
        })?;
        self.report.figures = pictures.iter().map(Picture::listed).collect();
        Ok(())
    }
}

/// Measures every recording, in parallel, in the order of the labels.
fn measure_all(
    labels: &[Label],
    wishes: &Wishes,
    mains_hz: f64,
    watch: &dyn Watch,
) -> Vec<Result<Measured, Unusable>> {
    let settings = MeasureSettings { passband: wishes.passband, mains_hz };
    watch.begin("measuring", labels.len());
    labels
        .par_iter()
        .map(|label| {
            let outcome = measure_file(label, wishes.channel, &settings);
            watch.done(&label.file);
            outcome
        })
        .collect()
}

/// The mains frequency that noise in the recordings pulses with, if it clearly does with one of the two in use.
fn mains_told_by<'a>(measured: impl Iterator<Item = &'a Measured>) -> Option<f64> {
    let mut strength = [0.0f64; 2];
    let mut hum_60 = None;
    for one in measured {
        // Failing that, hum of the audio lead tells it.
        let hum_lines = |mains_hz: f64| Hum::find(&one.sound.slices, mains_hz).map_or(0, |hum| hum.lines.len());
        if hum_lines(60.0) > hum_lines(USUAL_MAINS_HZ) {
            hum_60 = Some(60.0);
        }
        let Some(modulation) = one.sound.envelope.as_ref().and_then(|e| e.modulation.as_ref()) else { continue };
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
