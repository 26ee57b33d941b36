//! What the findings say and draw: one list, in one order for all places where they do. What may hurt stands first
//! (in the verdict before all devices: `brief`), then where the noise comes from, what it costs, how the station
//! stands. Not here: what is said of one device (`brief::device`, `details::device`).

use crate::findings::picture::Picture;
use crate::findings::{
    bands, budget, ladder, listening, man_made, places, ranking, receiver_check, supply, switching_comb, target,
};
use crate::report::contract::Report;
use crate::text::{Document, Words, capital, label};

/// The bands of a session, edges in kHz.
type Bands<'a> = &'a [(f64, f64)];

/// What one finding says and draws of a report, in each place that asks.
struct Finding {
    /// Lines of the verdict, below those of the devices.
    verdict: fn(&Report) -> Vec<Words>,
    /// Its section in the short report.
    short_section: fn(&mut Document, &Report),
    /// What it advises to do next, a sentence each.
    next: fn(&Report) -> Vec<Words>,
    /// Its section in the details.
    section: fn(&mut Document, &Report),
    /// Lines of the digest, most telling first.
    digest: fn(&Report) -> Vec<String>,
    /// Lines on the terminal.
    terminal: fn(&Report) -> Vec<String>,
    /// Its pictures, given the bands where carriers are looked for.
    pictures: fn(&Report, Bands) -> Vec<Picture>,
}

/// A finding that says nothing: the rest of one that speaks in some places.
const SILENT: Finding = Finding {
    verdict: |_| Vec::new(),
    short_section: |_, _| {},
    next: |_| Vec::new(),
    section: |_, _| {},
    digest: |_| Vec::new(),
    terminal: |_| Vec::new(),
    pictures: |_, _| Vec::new(),
};

/// All findings, in the order in which they speak.
const FINDINGS: [Finding; 11] = [
    Finding { digest: |r| supply::digest(&r.listening.supplies), ..SILENT },
    Finding {
        next: |r| r.ladders.iter().filter_map(ladder::words::next_step).collect(),
        digest: |r| r.ladders.iter().filter_map(ladder::words::digest).collect(),
        ..SILENT
    },
    Finding {
        verdict: |r| places::verdict(&r.places),
        short_section: |doc, r| places::short_section(doc, &r.places, &r.figures),
        section: |doc, r| places::section(doc, &r.places),
        digest: |r| places::digest(&r.places),
        terminal: |r| places::terminal(&r.places),
        pictures: |r, _| places::figures(&r.places),
        ..SILENT
    },
    Finding { pictures: |r, _| bands::figures(&r.device_bands), ..SILENT },
    Finding {
        next: |r| ranking::words::next_steps(&r.rankings()),
        section: |doc, r| ranking::words::section(doc, &r.rankings(), &r.settings),
        digest: |r| ranking::words::digest(&r.rankings()),
        pictures: |r, _| ranking::figures(&r.rankings(), r.comparisons()),
        ..SILENT
    },
    Finding {
        verdict: |r| budget::largest_share(&r.budget).into_iter().collect(),
        section: |doc, r| budget::section(doc, &r.budget, &r.joint, &r.settings, &r.figures),
        digest: |r| budget::digest(&r.budget, &r.joint),
        pictures: |r, _| budget::figures(&r.budget, &r.contrasts),
        ..SILENT
    },
    Finding {
        verdict: |r| {
            switching_comb::verdicts(&r.switching_combs, &r.switching_combs_refused)
                .into_iter()
                .map(Words::from)
                .collect()
        },
        section: |doc, r| {
            switching_comb::section(doc, &r.switching_combs, &r.switching_combs_refused, &r.recordings);
        },
        digest: |r| switching_comb::digest(&r.switching_combs),
        pictures: |r, bands_khz| switching_comb::figures(&r.switching_combs, bands_khz),
        ..SILENT
    },
    Finding {
        section: |doc, r| listening::section(doc, &r.listening, &r.contrasts, &r.settings),
        digest: |r| listening::digest(&r.contrasts, &r.listening.costs).into_iter().collect(),
        ..SILENT
    },
    Finding {
        short_section: |doc, r| r.listening.target.iter().for_each(|aim| target::short_section(doc, aim)),
        next: |r| r.listening.target.iter().filter_map(target::next_step).collect(),
        section: |doc, r| r.listening.target.iter().for_each(|aim| target::section(doc, aim, &r.settings)),
        digest: |r| r.listening.target.iter().map(target::digest).collect(),
        terminal: |r| {
            let said = |aim| format!("Quiet enough? {}", target::words::target(aim));
            r.listening.target.iter().map(said).collect()
        },
        ..SILENT
    },
    Finding {
        verdict: |r| man_made::verdict(&r.listening.station_noise).into_iter().collect(),
        section: |doc, r| man_made::section(doc, &r.listening.station_noise, &r.settings),
        digest: |r| man_made::digest(&r.listening.station_noise).into_iter().collect(),
        terminal: |r| r.listening.station_noise.iter().map(man_made::words::station).collect(),
        pictures: |r, _| man_made::figures(&r.listening.station_noise).into_iter().collect(),
        ..SILENT
    },
    Finding {
        section: |doc, r| receiver_check::section(doc, r.receiver_check.as_ref()),
        terminal: |r| {
            let said = |check| format!("Receiver check: {}", receiver_check::words::sentences(check));
            r.receiver_check.iter().map(said).collect()
        },
        ..SILENT
    },
];

/// Lines of the verdict, below those of the devices.
pub(super) fn verdicts(report: &Report) -> Vec<Words> {
    FINDINGS.iter().flat_map(|finding| (finding.verdict)(report)).collect()
}

/// Their sections in the short report.
pub(super) fn short_sections(doc: &mut Document, report: &Report) {
    FINDINGS.iter().for_each(|finding| (finding.short_section)(doc, report));
}

/// What they advise to do next.
pub(super) fn next_steps(report: &Report) -> Vec<Words> {
    FINDINGS.iter().flat_map(|finding| (finding.next)(report)).collect()
}

/// Their sections in the details.
pub(super) fn sections(doc: &mut Document, report: &Report) {
    FINDINGS.iter().for_each(|finding| (finding.section)(doc, report));
}

/// For the digest: one line each.
pub(super) fn digest(report: &Report) -> Vec<String> {
    FINDINGS.iter().flat_map(|finding| (finding.digest)(report)).collect()
}

/// For the terminal: one line each, cautions last.
pub fn terminal_lines(report: &Report) -> Vec<String> {
    let report = &report.published();
    let mut lines: Vec<String> = FINDINGS.iter().flat_map(|finding| (finding.terminal)(report)).collect();
    lines.extend(safety_lines(report));
    lines
}

/// Supplies and cautions only, for before anything is tried.
pub fn safety_lines(report: &Report) -> Vec<String> {
    let found = &report.listening;
    let mut lines: Vec<String> = found.supplies.iter().map(supply::words::supply).collect();
    let cautions = found.cautions.iter();
    lines.extend(cautions.map(|c| format!("{}: take care. {}", capital(&label(&c.device)), c.text)));
    lines
}

/// Pictures, after those of the comparisons; `bands_khz` are the session's.
pub fn pictures(report: &Report, bands_khz: &[(f64, f64)]) -> Vec<Picture> {
    FINDINGS.iter().flat_map(|finding| (finding.pictures)(report, bands_khz)).collect()
}
