//! What is odd about a ladder's order or steps, in plain sentences: said, and nothing broken by it.

use crate::findings::ladder::choke_steps as choke;
use crate::findings::ladder::rungs::Rung;
use crate::labels::printable;

/// Recordings of one step that lie further apart than this are worth a word, dB: devices and bands keep to a dB or so
/// from one take to the next (our own choice).
const ALIKE_DB: f64 = 1.5;

/// In the order of the steps.
pub(crate) fn notes(rungs: &[Rung<'_>]) -> Vec<String> {
    let mut notes = Vec::new();
    if rungs[0].plan.remedy.is_some() {
        notes
            .push("There is no recording without a remedy, so what the first one bought can't be told.".to_owned());
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
    notes.extend(choke::note(rungs));
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
    let levels: Vec<f64> = rung.on.iter().filter_map(|sound| sound.floor_level()).map(|level| level.0).collect();
    let (low, high) =
        levels.iter().fold((f64::MAX, f64::MIN), |(low, high), &level| (low.min(level), high.max(level)));
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
