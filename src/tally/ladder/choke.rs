//! Which steps of a ladder speak of a choke: the device as it was, and those labelled with pieces of ferrite.

use super::{Rung, step};
use crate::contrast::Figures;
use crate::findings::{ChokeFit, ChokeStep, ChokeVerdict, Forecast};
use crate::report::contract::{ChokeForecast, ChokeResult};

/// The fit of one ladder's labelled steps.
pub(super) fn fit(rungs: &[Rung<'_>], shared_db: f64) -> Option<ChokeResult> {
    let lead = fitted_lead(rungs);
    let labelled: Vec<(&Rung<'_>, &Figures, u32, u32)> = rungs
        .iter()
        .filter(|rung| lead_of(rung).is_none_or(|its| Some(&its) == lead.as_ref()))
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

/// What a remedy's words say of ferrite and its count; the other words tell on which lead it is.
const OF_FERRITE: [&str; 44] = [
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "x", "more",
    "ferrite", "ferrites", "clip", "clips", "clipon", "bead", "beads", "clamp", "clamps", "choke", "chokes",
    "toroid", "toroids", "ring", "rings", "core", "cores", "turn", "turns", "piece", "pieces", "of", "with", "and",
    "on", "at", "the", "a", "its", "snap",
];

/// The lead that a step's ferrites are on, by the words of its remedy; `None` where they name none or there is none.
fn lead_of(rung: &Rung<'_>) -> Option<String> {
    windings(rung).filter(|windings| windings.0 > 0)?;
    let words = rung.plan.remedy.as_deref()?.to_lowercase();
    let named: Vec<&str> = words
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty() && !OF_FERRITE.contains(word))
        .collect();
    (!named.is_empty()).then(|| named.join(" "))
}

/// The lead with most steps, the first of several: every lead is a loop of its own, and a series of ferrites is only one
/// on one of them.
fn fitted_lead(rungs: &[Rung<'_>]) -> Option<String> {
    let leads: Vec<String> = rungs.iter().filter_map(lead_of).collect();
    let steps = |lead: &String| leads.iter().filter(|other| *other == lead).count();
    leads.iter().rev().max_by_key(|lead| steps(lead)).cloned()
}

/// Steps whose ferrites are on another lead than those of the fit, by the words of their remedies.
pub(super) fn on_other_leads<'a>(rungs: &'a [Rung<'_>]) -> Vec<&'a str> {
    let fitted = fitted_lead(rungs);
    let other = rungs.iter().filter(|rung| lead_of(rung).is_some_and(|its| Some(its) != fitted));
    other.filter_map(|rung| rung.plan.remedy.as_deref()).collect()
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
