//! What a remedy bought: in excess, which is what the ear gets, and in the device's own added power, which is what
//! a choke or a filter acts on; and the steps in the contract's words. Not here: order and names of the steps
//! (`ladder`), what a choke should do (`choke`).

use crate::contrast::{ContrastSettings, Figures, contrast};
use crate::findings::anchor::Anchors;
use crate::findings::draws::{DRAWS, Draws, middle_95, sd};
use crate::findings::ladder::Rung;
use crate::findings::ladder::result::{BoughtBy, LadderStep, StepLine};
use crate::units::{Dbfs, Estimate, SIGMAS_OF_95, in_db, ratio_of_db};

/// The direct comparison may differ from the two excesses' difference by this much (or by their intervals, where
/// these are narrower) before it is not believed: the cells left free of lines differ a little between the
/// comparisons, dB. Chosen: about what a band's motion between takes makes of two differences.
const AGREES_WITHIN_DB: f64 = 0.5;
/// No interval is narrower than a receiver's gain is steady between two recordings (common practice), dB.
const LEAST_REACH_DB: f64 = 0.05;

/// What the step from one rung to the next took away. Positive is better.
#[derive(Debug, Clone, PartialEq)]
pub struct Bought {
    /// Of the excess, dB with its 95 % interval.
    pub excess: Estimate,
    /// Whether the interval comes from the direct comparison of the two on states.
    pub direct: bool,
    /// Of the device's own power.
    pub attenuation: Option<Attenuation>,
    /// Standard deviation of the off level that both excesses stand over, as far as it can be told, dB.
    pub shared_db: f64,
}

/// By how much the device's own added power (on less off) fell, dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attenuation {
    /// Best value; `None` where nothing is left that could be measured, so that only a least value is known.
    pub value: Option<f64>,
    /// Lower end of the 95 % interval; with `value` missing, what it is at least.
    pub low: f64,
    /// Upper end; `None` where what is left can't be told from nothing.
    pub high: Option<f64>,
}

impl Attenuation {
    /// With the least value alone.
    pub fn at_least(self) -> Self {
        Self { value: None, high: None, ..self }
    }
}

/// What the step bought: `before` and `after` are the excesses, dB with their 95 % intervals.
///
/// Both excesses stand over the same off recordings, whose errors cancel in the difference. `direct`: the noise of
/// the earlier on state over that of the later one, compared as on over off is, where that comparison is sound (one
/// setting, one gain, off recordings that agree); its interval is then used. Without it, or where it does not agree
/// with the difference, the two intervals add in quadrature, which is too wide rather than too narrow.
pub fn bought(before: &Estimate, after: &Estimate, direct: Option<Estimate>) -> Bought {
    let value = before.value - after.value;
    let quadrature = (
        (before.value - before.ci95.0).hypot(after.ci95.1 - after.value),
        (before.ci95.1 - before.value).hypot(after.value - after.ci95.0),
    );
    let apart = |d: &Estimate| (d.value - value).abs();
    let reach = quadrature.0.max(quadrature.1);
    let direct = direct.filter(|d| apart(d) <= reach.min(AGREES_WITHIN_DB));
    let ci95 = match &direct {
        Some(d) => {
            let half = |end: f64| (end - d.value).abs().max(LEAST_REACH_DB).hypot(apart(d));
            (value - half(d.ci95.0), value + half(d.ci95.1))
        }
        None => (value - quadrature.0, value + quadrature.1),
    };
    let excess = Estimate { value, ci95 };
    let shared_db = shared_sd(before, after, direct.as_ref().map(|_| &excess));
    Bought { excess, direct: direct.is_some(), attenuation: attenuation(before, after, shared_db), shared_db }
}

/// Standard deviation of what both excesses share, the off level, dB: from var(a − b) = var a + var b − 2·shared.
fn shared_sd(a: &Estimate, b: &Estimate, difference: Option<&Estimate>) -> f64 {
    let Some(difference) = difference else { return 0.0 };
    let shared = (sd(a).powi(2) + sd(b).powi(2) - sd(difference).powi(2)) / 2.0;
    shared.clamp(0.0, sd(a).min(sd(b)).powi(2)).sqrt()
}

/// The fall of the device's own power between two excesses over one off level, 10·lg((eₐ − 1)/(e_b − 1)) with the
/// excesses as ratios of powers, dB.
///
/// `shared_db`: standard deviation of the off level both stand over. The interval comes from seeded draws. `None`
/// where the device can't be told from nothing beforehand (the interval of `before` reaches 0).
pub fn attenuation(before: &Estimate, after: &Estimate, shared_db: f64) -> Option<Attenuation> {
    if before.ci95.0 <= 0.0 {
        return None;
    }
    let own = |e: &Estimate| Estimate { value: e.value, ci95: narrowed(e, shared_db) };
    let (own_before, own_after) = (own(before), own(after));
    let mut draws = Draws::new();
    let mut values: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let off = shared_db * draws.next();
            fall(draws.from(&own_before) + off, draws.from(&own_after) + off)
        })
        .collect();
    let (low, high) = middle_95(&mut values);
    let can_tell = after.ci95.0 > 0.0 && high.is_finite();
    Some(Attenuation {
        value: can_tell.then(|| fall(before.value, after.value)),
        low,
        high: Some(high).filter(|_| can_tell),
    })
}

/// Fall of the added power between two excesses in dB; infinite where nothing is left.
fn fall(before_db: f64, after_db: f64) -> f64 {
    let added = |db: f64| (ratio_of_db(db) - 1.0).max(0.0);
    match (added(before_db), added(after_db)) {
        (0.0, 0.0) => 0.0,
        (before, after) => in_db(before / after),
    }
}

/// The interval without what is shared.
fn narrowed(e: &Estimate, shared_db: f64) -> (f64, f64) {
    let shared = SIGMAS_OF_95 * shared_db;
    let rest = |reach: f64| (reach * reach - shared * shared).max(0.0).sqrt();
    (e.value - rest(e.value - e.ci95.0), e.value + rest(e.ci95.1 - e.value))
}

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
    let sound = |r: &Rung<'_>| r.contrast.trust.is_unspoilt();
    if before.plan.off != after.plan.off || !agree(a) || !agree(b) || !sound(before) || !sound(after) {
        return None;
    }
    let settings = ContrastSettings {
        passband: a.passband.common(&b.passband),
        scatter: a.excess.scatter,
        ..ContrastSettings::default()
    };
    let found = contrast(&after.on, &before.on, &settings);
    found.figures.filter(|figures| found.trust.is_unspoilt() && !figures.corrected && found.set_aside.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::dbm_of_reading;
    use approx::assert_abs_diff_eq;

    /// Source: errors of independent differences add in quadrature (defining property): 0.3 and 0.4 give 0.5.
    #[test]
    fn without_a_direct_comparison_intervals_add_in_quadrature() {
        let bought = bought(&Estimate::within(14.0, 0.3), &Estimate::within(10.0, 0.4), None);
        assert!(!bought.direct);
        assert_abs_diff_eq!(bought.excess.value, 4.0, epsilon = 1e-12);
        assert_abs_diff_eq!(bought.excess.ci95.0, 3.5, epsilon = 1e-12);
        assert_abs_diff_eq!(bought.excess.ci95.1, 4.5, epsilon = 1e-12);
    }

    #[test]
    fn the_direct_comparison_narrows_the_interval_unless_it_disagrees() {
        let (before, after) = (Estimate::within(14.0, 0.3), Estimate::within(10.0, 0.3));
        let direct = bought(&before, &after, Some(Estimate::within(4.01, 0.1)));
        assert!(direct.direct && direct.excess.ci95.1 - direct.excess.ci95.0 < 0.25);
        let other = bought(&before, &after, Some(Estimate::within(5.0, 0.1)));
        assert!(!other.direct && other.excess.ci95.1 - other.excess.ci95.0 > 0.8);
    }

    /// Source: the definition, powers subtracted: an excess of 14 dB is 24.12 times the off power of added power,
    /// one of 3.0103 dB is once: 13.82 dB. Derived. Tolerance: the last digit.
    #[test]
    fn the_devices_own_power_falls_further_than_the_excess() {
        let at = attenuation(&Estimate::within(14.0, 0.1), &Estimate::within(3.0103, 0.1), 0.0).unwrap();
        assert_abs_diff_eq!(at.value.unwrap(), 13.824, epsilon = 0.002);
        // By error propagation: d(10 lg(e − 1)) = de·e/(e − 1): 0.104 and 0.2 dB of half intervals.
        let half = 0.104f64.hypot(0.2);
        assert_abs_diff_eq!(at.low, 13.824 - half, epsilon = 0.03);
        assert_abs_diff_eq!(at.high.unwrap(), 13.824 + half, epsilon = 0.03);
    }

    #[test]
    fn what_can_not_be_told_from_nothing_gives_a_least_value_or_none() {
        let at = attenuation(&Estimate::within(10.0, 0.2), &Estimate::within(0.05, 0.2), 0.0).unwrap();
        assert_eq!((at.value, at.high), (None, None));
        // The upper end of what is left, 0.25 dB, is 0.059 of the off power: 9 of it before gives 21.8 dB.
        assert_abs_diff_eq!(at.low, 21.8, epsilon = 0.4);
        assert_eq!(attenuation(&Estimate::within(0.1, 0.2), &Estimate::within(0.05, 0.2), 0.0), None);
    }

    /// Common practice, no published source: a carrier read S7, S6, S4 and S1 as clips are added is 6, 18 and 36 dB
    /// down at 6 dB a unit (the unit itself: IARU Region 1 Technical Recommendation R.1).
    #[test]
    fn a_carrier_read_by_the_meter_falls_by_six_decibels_a_unit() {
        let dbm = |reading| dbm_of_reading(reading, 14e6).unwrap();
        for (reading, down_db) in [("S7", 0.0), ("S6", 6.0), ("S4", 18.0), ("S1", 36.0)] {
            assert_abs_diff_eq!(dbm("S7") - dbm(reading), down_db, epsilon = 1e-9);
        }
    }
}
