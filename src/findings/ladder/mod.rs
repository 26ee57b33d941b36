//! Remedies of one device in order: what is left after each, what each step bought, what choke theory makes of the
//! ferrites, which carriers stayed, what came to light and what is new.
//!
//! Here: which comparisons are steps of one ladder, what is odd about their order, and all that is found joined:
//! [`steps`], `choke_steps` (by [`choke`]), [`tracks`] of carriers, what was [`unmasked`]. `result`, `table`,
//! `words` and `figure` are what is told of it in the JSON, the texts and the picture.

pub mod choke;
pub(crate) mod choke_steps;
pub mod figure;
pub mod figure_carriers;
pub mod floor;
pub mod result;
pub mod steps;
pub(crate) mod table;
pub mod tracks;
pub mod unmasked;
pub(crate) mod words;

use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Contrast, Figures};
use crate::findings::anchor::Anchors;
use crate::findings::basis::Basis;
use crate::findings::ladder::result::Ladder;
use crate::labels::{Label, Plan, printable};
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::ends;

pub use figure::figure;

/// A step with all that is known of it.
pub(crate) struct Rung<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) contrast: &'a Contrast,
    pub(crate) result: &'a ContrastResult,
    /// Labels of the on recordings.
    pub(crate) labels: Vec<&'a Label>,
    pub(crate) on: Vec<&'a Measurement>,
}

impl<'a> Rung<'a> {
    fn of(basis: &Basis<'a>, plan: &'a Plan, contrast: &'a Contrast, result: &'a ContrastResult) -> Self {
        let label = |id: &String| basis.session.recordings.iter().find(|label| label.id == *id);
        Self {
            plan,
            contrast,
            result,
            labels: plan.on.iter().filter_map(label).collect(),
            on: plan.on.iter().filter_map(|id| basis.measured.get(id)).map(|one| &one.measurement).collect(),
        }
    }

    /// Its figures, unless they mean nothing.
    pub(crate) fn figures(&self) -> Option<&'a Figures> {
        self.contrast.figures.as_ref().filter(|_| !self.contrast.trust.is_void())
    }

    /// What levels of its on recordings must be lowered by to be those of the off gain, dB.
    pub(crate) fn gain_db(&self) -> f64 {
        self.figures().map_or(0.0, Figures::gain_db)
    }
}

/// A ladder for every device and setting with more than one step, in the order of the contrasts.
pub fn of(basis: &Basis<'_>) -> Vec<Ladder> {
    let mut groups: Vec<Vec<Rung<'_>>> = Vec::new();
    for ((plan, contrast), result) in basis.contrasts.iter().zip(basis.results) {
        let rung = Rung::of(basis, plan, contrast, result);
        let same = |group: &&mut Vec<Rung<'_>>| {
            group.iter().all(|r| r.plan.device == plan.device && r.plan.setting == plan.setting)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(rung),
            None => groups.push(vec![rung]),
        }
    }
    groups.iter().filter(|group| group.len() > 1).map(|group| ladder(group, &basis.anchors)).collect()
}

fn ladder(rungs: &[Rung<'_>], anchors: &Anchors) -> Ladder {
    let (steps, shared_db) = steps::steps(rungs, anchors);
    let tracks = tracks::carriers(rungs);
    Ladder {
        device: rungs[0].plan.device.clone(),
        setting: rungs[0].plan.setting.clone(),
        steps,
        choke_fit: choke_steps::fit(rungs, shared_db),
        unmasked: unmasked::appeared(rungs, &tracks),
        carriers: tracks::followed(rungs, &tracks),
        notes: notes(rungs),
    }
}

/// Recordings of one step that lie further apart than this are worth a word, dB: devices and bands keep to a dB or
/// so from one take to the next (our own choice).
const ALIKE_DB: f64 = 1.5;

/// In the order of the steps.
pub(crate) fn notes(rungs: &[Rung<'_>]) -> Vec<String> {
    let mut notes = Vec::new();
    if rungs[0].plan.remedy.is_some() {
        notes.push(
            "There is no recording without a remedy, so what the first one took off can't be told.".to_owned(),
        );
    }
    for rung in rungs {
        let name = named(rung);
        if let Some(range_db) = differ(rung) {
            notes.push(format!(
                "The recordings with {name} differ by {range_db:.1} dB from each other and count as one step. If \
                 something was changed between them, give each remedy its own words."
            ));
        }
        if rung.figures().is_none() {
            notes.push(format!(
                "The step with {name} has no figures, so the next one is held against the one before it."
            ));
        }
    }
    notes.extend(choke_steps::note(rungs));
    notes.extend(taken_off_again(rungs));
    notes
}

fn named(rung: &Rung<'_>) -> String {
    rung.plan
        .remedy
        .as_deref()
        .map_or_else(|| "no remedy".to_owned(), |remedy| format!("\"{}\"", printable(remedy)))
}

/// How far the noise of one step's recordings lies apart, dB, where it is far: two remedies may go by one name.
fn differ(rung: &Rung<'_>) -> Option<f64> {
    let (low, high) = ends(rung.on.iter().filter_map(|sound| sound.floor_level()).map(|level| level.0));
    (high - low > ALIKE_DB).then_some(high - low)
}

/// Recordings without a remedy made after some with one: the remedy was taken off again, and they count among the
/// first ones, which shows whether the device itself stayed the same.
fn taken_off_again(rungs: &[Rung<'_>]) -> Option<String> {
    let first = rungs.first().filter(|rung| rung.plan.remedy.is_none())?;
    let remedied = rungs[1..]
        .iter()
        .flat_map(|rung| &rung.labels)
        .filter_map(|label| label.started)
        .map(|start| start.at)
        .min()?;
    let without = || first.labels.iter().filter_map(|label| label.started).map(|start| start.at);
    let (before, after) = (without().any(|at| at < remedied), without().any(|at| at > remedied));
    (before && after).then(|| {
        "Some recordings without a remedy were made after the first with one; all of them count as the first step."
            .to_owned()
    })
}
