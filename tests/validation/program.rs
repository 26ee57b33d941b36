//! Recordings as a user has them judged: files, with a manifest or without, through the program's own reading,
//! measuring, comparing.

use std::path::Path;

use noisetally::contrast::Contrast;
use noisetally::labels::{MANIFEST, Session};
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
pub fn pair(off: &Path, on: &Path, mains_hz: Option<f64>) -> SessionRun {
    let wishes = Wishes { mains_hz, ..Wishes::default() };
    SessionRun::of(Session::of_pair(off, on), &wishes, &())
}

/// Has the program judge a folder of recordings with this manifest.
pub fn session(dir: &Path, manifest: &str) -> SessionRun {
    let written = std::fs::write(dir.join(MANIFEST), manifest);
    assert!(written.is_ok(), "{}: can't be written", dir.display());
    let session = Session::read(dir).unwrap_or_else(|e| panic!("{}: {e}", dir.display()));
    SessionRun::of(session, &Wishes::default(), &())
}

/// What the program says of two files.
pub fn asked(off: &Path, on: &Path) -> Answer {
    let tally = pair(off, on, Some(50.0));
    let Some((_, result)) = tally.contrasts.first() else {
        return Answer { trust: Trust::Void, codes: vec![Code::NoRecording], called: "unclear", excess_db: None };
    };
    Answer {
        trust: result.trust,
        codes: codes(&tally),
        called: called(result),
        excess_db: result.figures.as_ref().map(|figures| figures.excess_db().value),
    }
}

/// Every code that bears on the first comparison.
pub fn codes(tally: &SessionRun) -> Vec<Code> {
    let of_files = tally.measured.values().flat_map(|one| &one.measurement.warnings);
    let of_pair = tally.contrasts.first().into_iter().flat_map(|(plan, c)| plan.warnings.iter().chain(&c.warnings));
    let mut codes: Vec<Code> = of_files.chain(of_pair).map(|warning| warning.code).collect();
    codes.sort();
    codes.dedup();
    codes
}

fn called(result: &Contrast) -> &'static str {
    result.figures.as_ref().map_or("unclear", |figures| figures.verdict.character.code())
}
