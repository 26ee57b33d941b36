//! Which steps of a ladder speak of a choke: the device as it was, and those labelled with pieces of ferrite.

use crate::contrast::Figures;
use crate::findings::ladder::Rung;
use crate::findings::ladder::choke::{ChokeFit, ChokeStep, Forecast};
use crate::findings::ladder::result::{ChokeForecast, ChokeResult};
use crate::labels::printable;
use crate::units::Estimate;

/// The fit of one ladder's labelled steps.
pub(crate) fn fit(rungs: &[Rung<'_>], shared_db: f64) -> Option<ChokeResult> {
    let lead = fitted_lead(&leads(rungs));
    let labelled: Vec<(&Rung<'_>, &Figures, u32, u32)> = rungs
        .iter()
        .filter(|rung| lead.is_none() || lead_of(rung).is_none_or(|its| Some(its) == lead))
        .filter_map(|rung| {
            let (ferrites, turns) = windings(rung)?;
            Some((rung, rung.figures()?, ferrites, turns))
        })
        .collect();
    let by_mean = labelled.iter().any(|(_, figures, ..)| figures.counts_clicks());
    let steps: Vec<ChokeStep> = labelled
        .iter()
        .map(|&(_, figures, ferrites, turns)| ChokeStep { ferrites, turns, excess: figures.excess.by(by_mean) })
        .collect();
    let found = ChokeFit::of(&steps, shared_db)?;
    let mut order: Vec<usize> = (0..labelled.len()).collect();
    order.sort_by_key(|&i| steps[i].ferrites.saturating_mul(steps[i].turns.saturating_pow(2)));
    Some(ChokeResult {
        verdict: found.verdict,
        contrasts: order.iter().map(|&i| labelled[i].0.plan.id.clone()).collect(),
        ratio: found.ratio.map(|(value, ..)| value),
        ratio_ci: found.ratio.map(|(_, low, high)| (low, high)),
        chi2: found.chi2.0,
        degrees_of_freedom: found.chi2.1,
        bypass_share: found.bypass.map(|b| b.value),
        bypass_ci: found.bypass.map(Estimate::ends),
        forecasts: found.forecasts.iter().map(forecast).collect(),
    })
}

/// Pieces and turns: labelled, or none where there is no remedy yet. Recordings of one step that differ count for
/// none.
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
const OF_FERRITE: [&str; 48] = [
    "first", "second", "third", "another", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    "ten", "eleven", "twelve", "x", "more", "ferrite", "ferrites", "clip", "clips", "clipon", "bead", "beads",
    "clamp", "clamps", "choke", "chokes", "toroid", "toroids", "ring", "rings", "core", "cores", "turn", "turns",
    "piece", "pieces", "of", "with", "and", "on", "at", "the", "a", "its", "snap",
];

/// What is said of ferrites that are not all on one lead: every lead is a loop of its own.
pub(crate) fn note(rungs: &[Rung<'_>]) -> Option<String> {
    let leads = leads(rungs);
    if leads.iter().all(|lead| *lead == leads[0]) {
        return None;
    }
    let Some(fitted) = fitted_lead(&leads) else {
        return Some(
            "The remedies' words suggest ferrites on different leads; they are treated as one choke, so this holds roughly."
                .to_owned(),
        );
    };
    let other = rungs.iter().filter(|rung| lead_of(rung).is_some_and(|its| its != fitted));
    let named: Vec<String> =
        other.filter_map(|rung| rung.plan.remedy.as_deref()).map(|r| format!("\"{}\"", printable(r))).collect();
    Some(format!(
        "What is said of a choke in series leaves out {}: each lead is a loop of its own.",
        named.join(", ")
    ))
}

/// The lead of every step with ferrites whose remedy names one.
fn leads(rungs: &[Rung<'_>]) -> Vec<String> {
    rungs.iter().filter_map(lead_of).collect()
}

/// The lead that a step's ferrites are on; `None` where no words tell or there are none.
fn lead_of(rung: &Rung<'_>) -> Option<String> {
    windings(rung).filter(|windings| windings.0 > 0)?;
    lead_in(rung.plan.remedy.as_deref()?)
}

/// The words of a remedy beside ferrite and its count.
fn lead_in(remedy: &str) -> Option<String> {
    let words = remedy.to_lowercase();
    let named: Vec<&str> = words
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty() && !OF_FERRITE.contains(word))
        .collect();
    (!named.is_empty()).then(|| named.join(" "))
}

/// The lead to fit where they differ: the one with most steps, if that is more than one. `None`: all together.
fn fitted_lead(leads: &[String]) -> Option<String> {
    let steps = |lead: &String| leads.iter().filter(|other| *other == lead).count();
    leads.iter().rev().max_by_key(|lead| steps(lead)).filter(|lead| steps(lead) > 1).cloned()
}

fn forecast(f: &Forecast) -> ChokeForecast {
    ChokeForecast {
        ferrites: f.ferrites,
        turns: f.turns,
        attenuation_db: f.attenuation.value,
        attenuation_range_db: f.attenuation.ends(),
        excess_db: f.excess.value,
        excess_range_db: f.excess.ends(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lead_is_what_else_a_remedy_says() {
        let lead = |remedy| lead_in(remedy).unwrap_or_default();
        assert_eq!(lead("three ferrites on sensor lead"), "sensor lead");
        assert_eq!(lead("One clip-on ferrite, mains lead"), "mains lead");
        assert_eq!(lead("3x ferrite"), "");
    }

    #[test]
    fn a_series_is_one_on_one_lead() {
        let fitted = |leads: &[&str]| fitted_lead(&leads.iter().map(|lead| (*lead).to_owned()).collect::<Vec<_>>());
        assert_eq!(fitted(&["sensor lead", "mains lead", "mains lead"]).as_deref(), Some("mains lead"));
        assert_eq!(fitted(&["sensor lead", "sensor lead"]).as_deref(), Some("sensor lead"));
        assert_eq!(fitted(&["sensor lead", "mains lead"]), None);
        assert_eq!(fitted(&[]), None);
    }
}
