//! Which comparisons are steps of one ladder, and all that is told of them: what is left after each, what each step
//! bought, which carriers stayed, what came to light, and what choke theory makes of it.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Contrast, Figures};
use crate::findings::anchor::Anchors;
use crate::findings::basis::Basis;
use crate::findings::ladder::result::Ladder;
use crate::findings::ladder::{appeared, choke_steps, followed, notes, step};
use crate::labels::{Label, Plan};
use crate::signal::measure::Measurement;
use crate::warning::Trust;

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
            on: plan.on.iter().filter_map(|id| basis.measured.get(id)).map(|one| &one.sound).collect(),
        }
    }

    /// Its figures, unless they mean nothing.
    pub(crate) fn figures(&self) -> Option<&'a Figures> {
        self.contrast.figures.as_ref().filter(|_| self.contrast.trust != Trust::Void)
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
    let (steps, shared_db) = step::steps(rungs, anchors);
    let tracks = followed::tracks(rungs);
    Ladder {
        device: rungs[0].plan.device.clone(),
        setting: rungs[0].plan.setting.clone(),
        steps,
        choke_fit: choke_steps::fit(rungs, shared_db),
        unmasked: appeared::appeared(rungs, &tracks),
        carriers: followed::followed(rungs, &tracks),
        notes: notes::notes(rungs),
    }
}
