//! Remedies of one device in order: what is left after each, what each step bought, which carriers stayed, what came to
//! light, and what choke theory makes of it. Joins labels with figures; the arithmetic is in `findings`.

use std::collections::BTreeMap;

use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Contrast, Figures};
use crate::findings::anchor::Anchors;
use crate::findings::ladder::result::Ladder;
use crate::labels::{Label, Plan, Session};
use crate::signal::measure::Measurement;
use crate::signal::recording::Measured;
use crate::warning::Trust;

/// All that ladders are made of.
pub struct Known<'a> {
    /// Labels.
    pub session: &'a Session,
    /// What was measured, by recording id.
    pub measured: &'a BTreeMap<String, Measured>,
    /// The contrasts, in the session's order.
    pub contrasts: &'a [(Plan, Contrast)],
    /// The same in the contract's words.
    pub results: &'a [ContrastResult],
    /// Readings to hang levels on.
    pub anchors: &'a Anchors,
}

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
pub fn ladders(known: &Known<'_>) -> Vec<Ladder> {
    let mut groups: Vec<Vec<Rung<'_>>> = Vec::new();
    for ((plan, contrast), result) in known.contrasts.iter().zip(known.results) {
        let rung = known.rung(plan, contrast, result);
        let same = |group: &&mut Vec<Rung<'_>>| {
            group.iter().all(|r| r.plan.device == plan.device && r.plan.setting == plan.setting)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(rung),
            None => groups.push(vec![rung]),
        }
    }
    groups.iter().filter(|group| group.len() > 1).map(|group| ladder(group, known.anchors)).collect()
}

impl<'a> Known<'a> {
    fn rung(&self, plan: &'a Plan, contrast: &'a Contrast, result: &'a ContrastResult) -> Rung<'a> {
        let label = |id: &String| self.session.recordings.iter().find(|label| label.id == *id);
        Rung {
            plan,
            contrast,
            result,
            labels: plan.on.iter().filter_map(label).collect(),
            on: plan.on.iter().filter_map(|id| self.measured.get(id)).map(|one| &one.sound).collect(),
        }
    }
}

fn ladder(rungs: &[Rung<'_>], anchors: &Anchors) -> Ladder {
    let (steps, shared_db) = crate::findings::ladder::step::steps(rungs, anchors);
    let tracks = crate::findings::ladder::followed::tracks(rungs);
    Ladder {
        device: rungs[0].plan.device.clone(),
        setting: rungs[0].plan.setting.clone(),
        steps,
        choke_fit: crate::findings::ladder::choke_steps::fit(rungs, shared_db),
        unmasked: crate::findings::ladder::appeared::appeared(rungs, &tracks),
        carriers: crate::findings::ladder::followed::followed(rungs, &tracks),
        notes: crate::findings::ladder::notes::notes(rungs),
    }
}
