//! Which steps of a ladder speak of a choke: the device as it was, and those labelled with pieces of ferrite.

use super::{Rung, step};
use crate::contrast::Figures;
use crate::findings::{ChokeFit, ChokeStep, ChokeVerdict, Forecast};
use crate::report::contract::{ChokeForecast, ChokeResult};

/// The fit of one ladder's labelled steps.
pub(super) fn fit(rungs: &[Rung<'_>], shared_db: f64) -> Option<ChokeResult> {
    let labelled: Vec<(&Rung<'_>, &Figures, u32, u32)> = rungs
        .iter()
        .filter_map(|rung| {
            let (ferrites, turns) = windings(rung)?;
            Some((rung, rung.figures()?, ferrites, turns))
        })
        .collect();
    let by_mean = labelled.iter().any(|(_, figures, ..)| step::counts_clicks(figures));
    let steps: Vec<ChokeStep> = labelled
        .iter()
        .map(|&(_, figures, ferrites, turns)| ChokeStep { ferrites, turns, excess: step::excess(figures, by_mean) })
        .collect();
    let found = ChokeFit::of(&steps, shared_db)?;
    let mut order: Vec<usize> = (0..labelled.len()).collect();
    order.sort_by_key(|&i| steps[i].ferrites.saturating_mul(steps[i].turns.saturating_pow(2)));
    Some(ChokeResult {
        verdict: code(found.verdict).to_owned(),
        contrasts: order.iter().map(|&i| labelled[i].0.plan.id.clone()).collect(),
        ratio: found.ratio.map(|(value, ..)| value),
        ratio_ci: found.ratio.map(|(_, low, high)| (low, high)),
        chi2: found.chi2.0,
        degrees_of_freedom: found.chi2.1,
        bypass_share: found.bypass.map(|b| b.value),
        bypass_ci: found.bypass.map(|b| [b.ci95.0, b.ci95.1]),
        forecasts: found.forecasts.iter().map(forecast).collect(),
    })
}

/// Pieces and turns: labelled, or none where there is no remedy yet. Recordings of one step that differ count for none.
fn windings(rung: &Rung<'_>) -> Option<(u32, u32)> {
    let first = rung.labels.first()?;
    if rung.labels.iter().any(|label| (label.ferrites, label.turns) != (first.ferrites, first.turns)) {
        return None;
    }
    match (first.ferrites, &first.remedy) {
        (Some(ferrites), _) => Some((ferrites, first.turns.unwrap_or(1))),
        (None, None) => Some((0, 1)),
        (None, Some(_)) => None,
    }
}

fn forecast(f: &Forecast) -> ChokeForecast {
    ChokeForecast {
        ferrites: f.ferrites,
        turns: f.turns,
        attenuation_db: f.attenuation.value,
        attenuation_range_db: [f.attenuation.ci95.0, f.attenuation.ci95.1],
        excess_db: f.excess.value,
        excess_range_db: [f.excess.ci95.0, f.excess.ci95.1],
    }
}

fn code(verdict: ChokeVerdict) -> &'static str {
    match verdict {
        ChokeVerdict::Fits => "fits",
        ChokeVerdict::Unsure => "unsure",
        ChokeVerdict::NoUse => "no_use",
        ChokeVerdict::Flattens => "flattens",
        ChokeVerdict::Worse => "worse",
        ChokeVerdict::PoorFit => "poor_fit",
    }
}
