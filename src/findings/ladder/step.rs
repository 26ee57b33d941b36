//! The steps of a ladder in the contract's words: what is left, what was bought since the step before.

use crate::contrast::{ContrastSettings, Figures, contrast};
use crate::findings::anchor::Anchors;
use crate::findings::ladder::result::{BoughtBy, LadderStep, StepLine};
use crate::findings::ladder::rungs::Rung;
use crate::findings::ladder::steps::{Bought, bought};
use crate::units::Dbfs;

/// The steps, and the standard deviation of the off level they share (0 where it can't be told), dB.
pub(crate) fn steps(rungs: &[Rung<'_>], anchors: &Anchors) -> (Vec<LadderStep>, f64) {
    let mut shared_db: Option<f64> = None;
    let mut before: Option<&Rung<'_>> = None;
    let steps = rungs
        .iter()
        .map(|rung| {
            let mut step = plain(rung, anchors);
            if let Some(found) = before.and_then(|before| between(before, rung)) {
                shared_db = Some(shared_db.map_or(found.shared_db, |known| known.min(found.shared_db)));
                fill(&mut step, &found);
            }
            if rung.figures().is_some() {
                before = Some(rung);
            }
            step
        })
        .collect();
    (steps, shared_db.unwrap_or(0.0))
}

fn plain(rung: &Rung<'_>, anchors: &Anchors) -> LadderStep {
    let result = rung.result;
    let power = rung.on.iter().filter_map(|m| m.level).map(Dbfs::mean_square).sum::<f64>();
    let level = Dbfs::from_mean_square(power / rung.on.len().max(1) as f64).0 - rung.gain_db();
    let usable = rung.figures().is_some() && level.is_finite();
    LadderStep {
        remedy: result.remedy.clone(),
        contrast: result.id.clone(),
        excess_db: result.excess_db,
        excess_ci_db: result.excess_ci_db,
        lines: result
            .added_lines
            .iter()
            .map(|line| StepLine { freq_hz: line.freq_hz, level_db: line.level_db })
            .collect(),
        ferrites: rung.labels.iter().find_map(|label| label.ferrites),
        turns: rung.labels.iter().find_map(|label| label.turns),
        s_reading: anchors.reading(&rung.plan.setting, level).map(|reading| reading.1).filter(|_| usable),
        ..LadderStep::default()
    }
}

fn fill(step: &mut LadderStep, found: &Bought) {
    step.bought_db = Some(found.excess.value);
    step.bought_ci_db = Some(found.excess.ends());
    step.bought_by = Some(if found.direct { BoughtBy::Direct } else { BoughtBy::Quadrature });
    if let Some(attenuation) = &found.attenuation {
        step.attenuation_db = attenuation.value;
        step.attenuation_ci_db = attenuation.high.map(|high| [attenuation.low, high]);
        // "At least" helps only where it says that something went.
        let least = attenuation.value.is_none() && attenuation.low > 0.0;
        step.attenuation_at_least_db = Some(attenuation.low).filter(|_| least);
    }
}

/// What the later step bought; `None` where one of them has no figures.
fn between(before: &Rung<'_>, after: &Rung<'_>) -> Option<Bought> {
    let (a, b) = (before.figures()?, after.figures()?);
    // A mean over clicks and a level between them can't be subtracted: where one counts clicks, both do.
    let by_mean = a.counts_clicks() || b.counts_clicks();
    let direct = directly(before, after).map(|figures| figures.excess.by(by_mean));
    let found = bought(&a.excess.by(by_mean), &b.excess.by(by_mean), direct);
    // Where no rise is called there is no own power to tell: before, none that could fall; after, a least fall.
    let rose = |figures: &Figures| figures.excess.change(by_mean).is_up();
    let attenuation = found.attenuation.filter(|_| rose(a));
    Some(Bought { attenuation: attenuation.map(|fall| if rose(b) { fall } else { fall.at_least() }), ..found })
}

/// The earlier on state over the later one, where that comparison is as good as those with the off state: the same
/// off recordings, which agree with each other; no gain that moved.
fn directly(before: &Rung<'_>, after: &Rung<'_>) -> Option<Figures> {
    let (a, b) = (before.figures()?, after.figures()?);
    let agree = |f: &Figures| !f.corrected && f.excess.off_range.is_none_or(|(_, surprising)| !surprising);
    let sound = |r: &Rung<'_>| r.contrast.trust.is_sound();
    if before.plan.off != after.plan.off || !agree(a) || !agree(b) || !sound(before) || !sound(after) {
        return None;
    }
    let settings = ContrastSettings { passband: a.passband.common(&b.passband), ..ContrastSettings::default() };
    let found = contrast(&after.on, &before.on, &settings);
    found.figures.filter(|figures| found.trust.is_sound() && !figures.corrected && found.set_aside.is_empty())
}

#[cfg(test)]
mod tests {
    use crate::units::dbm_of_reading;
    use approx::assert_abs_diff_eq;

    /// Common practice, no published source: a carrier read S7, S6, S4 and S1 as clips are added is 6, 18 and 36 dB down
    /// at 6 dB a unit (the unit itself: IARU Region 1 Technical Recommendation R.1).
    #[test]
    fn a_carrier_read_by_the_meter_falls_by_six_decibels_a_unit() {
        let dbm = |reading| dbm_of_reading(reading, 14e6).unwrap();
        for (reading, down_db) in [("S7", 0.0), ("S6", 6.0), ("S4", 18.0), ("S1", 36.0)] {
            assert_abs_diff_eq!(dbm("S7") - dbm(reading), down_db, epsilon = 1e-9);
        }
    }
}
