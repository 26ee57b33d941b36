//! Remedies of one device in order: the excess left after each.

use crate::report::contract::{ContrastResult, Ladder, LadderStep, StepLine};

/// A ladder for every device and setting with more than one step, in the order of the contrasts.
pub fn ladders(contrasts: &[ContrastResult]) -> Vec<Ladder> {
    let mut found: Vec<Ladder> = Vec::new();
    for contrast in contrasts {
        let step = LadderStep {
            remedy: contrast.remedy.clone(),
            contrast: contrast.id.clone(),
            excess_db: contrast.excess_db,
            excess_ci_db: contrast.excess_ci_db,
            lines: contrast
                .added_lines
                .iter()
                .map(|line| StepLine { freq_hz: line.freq_hz, level_db: line.level_db })
                .collect(),
        };
        match found.iter_mut().find(|l| l.device == contrast.device && l.setting == contrast.setting) {
            Some(ladder) => ladder.steps.push(step),
            None => found.push(Ladder {
                device: contrast.device.clone(),
                setting: contrast.setting.clone(),
                steps: vec![step],
                choke_fit: None,
                unmasked: Vec::new(),
            }),
        }
    }
    found.retain(|ladder| ladder.steps.len() > 1);
    found
}
