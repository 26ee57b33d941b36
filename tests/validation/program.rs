//! A pair as a user has it judged: two files and no manifest, through the program's own reading, measuring,
//! comparing.

use std::path::Path;

use noisetally::contrast::Contrast;
use noisetally::labels::Session;
use noisetally::run::{SessionRun, Wishes};
use noisetally::warning::{Code, Trust};

/// What a user is told.
pub struct Answer {
    /// How far to rely on it.
    pub trust: Trust,
    /// Every code in the report that bears on the pair.
    pub codes: Vec<Code>,
    /// What it was called.
    pub called: &'static str,
    /// Excess, dB.
    pub excess_db: Option<f64>,
}

/// Has the program compare two files. No label says anything of the gain.
pub fn asked(off: &Path, on: &Path) -> Answer {
    let wishes = Wishes { mains_hz: Some(50.0), ..Wishes::default() };
    let tally = SessionRun::of(Session::of_pair(off, on), &wishes, &());
    let Some((plan, result)) = tally.contrasts.first() else {
        return Answer { trust: Trust::Void, codes: vec![Code::NoRecording], called: "unclear", excess_db: None };
    };
    let of_files = tally.measured.values().flat_map(|one| &one.measurement.warnings);
    let mut codes: Vec<Code> =
        of_files.chain(&plan.warnings).chain(&result.warnings).map(|warning| warning.code).collect();
    codes.sort();
    codes.dedup();
    Answer {
        trust: result.trust,
        codes,
        called: called(result),
        excess_db: result.figures.as_ref().map(|figures| figures.excess_db().value),
    }
}

fn called(result: &Contrast) -> &'static str {
    result.figures.as_ref().map_or("unclear", |figures| figures.verdict.character.code())
}
