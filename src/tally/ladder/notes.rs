//! What is odd about a ladder's order or steps, in plain sentences: said, and nothing broken by it.

use super::Rung;
use crate::session::{Label, printable};

/// In the order of the steps.
pub(super) fn notes(rungs: &[Rung<'_>]) -> Vec<String> {
    let mut notes = Vec::new();
    if rungs[0].plan.remedy.is_some() {
        notes
            .push("There is no recording without a remedy, so what the first one bought can't be told.".to_owned());
    }
    for rung in rungs {
        let name = named(rung);
        if one_name_for_several(rung) {
            notes.push(format!(
                "Recordings with {name} have different places in the order and count as one step; give each remedy its \
                 own words."
            ));
        }
        if rung.figures().is_none() {
            notes.push(format!(
                "The step with {name} has no figures, so the next one is held against the one before it."
            ));
        }
    }
    notes.extend(taken_off_again(rungs));
    notes
}

fn named(rung: &Rung<'_>) -> String {
    rung.plan
        .remedy
        .as_deref()
        .map_or_else(|| "no remedy".to_owned(), |remedy| format!("\"{}\"", printable(remedy)))
}

/// Places that were read from numbers in file names only tell the order of the takes.
fn one_name_for_several(rung: &Rung<'_>) -> bool {
    let guessed = |label: &&Label| label.guesses.iter().any(|guess| guess.field == "order");
    let labelled = rung.labels.iter().copied().filter(|label| rung.plan.remedy.is_some() && !guessed(label));
    let mut orders = labelled.filter_map(|label| label.order);
    orders.next().is_some_and(|first| orders.any(|order| order != first))
}

/// Recordings without a remedy made after some with one: the remedy was taken off again, and they count among the
/// first ones, which shows whether the device itself stayed the same.
fn taken_off_again(rungs: &[Rung<'_>]) -> Option<String> {
    let first = rungs.first().filter(|rung| rung.plan.remedy.is_none())?;
    let remedied = rungs[1..].iter().flat_map(|rung| &rung.labels).filter_map(|label| label.started).min()?;
    let without = || first.labels.iter().filter_map(|label| label.started);
    let (before, after) = (without().any(|at| at < remedied), without().any(|at| at > remedied));
    (before && after).then(|| {
        "Some recordings without a remedy were made after the first with one; all of them count as the first step."
            .to_owned()
    })
}
