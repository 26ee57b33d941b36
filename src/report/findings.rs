//! What the findings say and draw, in the order of each place where they do: the verdict, the sections, the digest,
//! the terminal, the pictures. The orders differ: the verdict begins with where the noise comes from, the sections
//! with what it costs. Not here: what is said of one device, which `markdown::device` weaves together.

use crate::findings::picture::Picture;
use crate::findings::{
    budget, ladder, listening, man_made, ranking, receiver_check, supply, switching_comb, target,
};
use crate::report::contract::Report;
use crate::text::{Document, Words, capital, label};

/// Lines of the verdict, below those of the devices.
pub(super) fn verdicts(report: &Report) -> Vec<Words> {
    let found = &report.listening;
    let mut lines = budget::largest_share(&report.budget);
    lines.extend(switching_comb::verdicts(&report.switching_combs).into_iter().map(Words::from));
    lines.extend(found.target.iter().map(target::verdict));
    lines.extend(man_made::verdicts(&found.station_noise));
    lines.extend(supply::verdicts(&found.supplies));
    lines
}

/// Sections of the report that come before the figures of the whole session.
pub(super) fn sections(doc: &mut Document, report: &Report) {
    let found = &report.listening;
    listening::section(doc, found, &report.contrasts);
    man_made::section(doc, &found.station_noise, &report.figures);
    found.target.iter().for_each(|result| target::section(doc, result));
    budget::section(doc, &report.budget, &report.joint, &report.figures);
    let (combs, refused) = (&report.switching_combs, &report.switching_combs_refused);
    switching_comb::section(doc, combs, refused, &report.recordings);
}

/// The last section of a finding, before what could spoil it all.
pub(super) fn last_section(doc: &mut Document, report: &Report) {
    receiver_check::section(doc, report.receiver_check.as_ref());
}

/// For the digest: families of carriers over the dial.
pub(super) fn over_the_dial(report: &Report) -> Vec<String> {
    switching_comb::digest(&report.switching_combs)
}

/// For the digest: what the noise means to a listener, and supplies that must not be connected.
pub(super) fn for_a_listener(report: &Report) -> Vec<String> {
    let found = &report.listening;
    let mut lines: Vec<String> = listening::digest(&report.contrasts, &found.costs).into_iter().collect();
    lines.extend(found.target.iter().map(target::digest));
    lines.extend(man_made::digest(&found.station_noise));
    lines.extend(supply::digest(&found.supplies));
    lines
}

/// For the digest: what several comparisons together tell, one line each, most telling first.
pub(super) fn taken_together(report: &Report) -> Vec<String> {
    let ladders = || report.ladders.iter();
    let mut lines: Vec<String> = ladders().filter_map(ladder::words::choke_digest).collect();
    lines.extend(budget::digest(&report.budget, &report.joint));
    lines.extend(ladders().filter_map(ladder::words::appeared_digest));
    lines
}

/// For the terminal: target, published noise, receiver check, supplies, cautions; one line each.
pub fn terminal_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let found = &report.listening;
    let target = found.target.iter().map(|t| format!("Quiet enough? {}", target::words::target(t)));
    let check = report.receiver_check.iter().map(receiver_check::words::sentences);
    let mut lines: Vec<String> = target.collect();
    lines.extend(found.station_noise.iter().map(man_made::words::station));
    lines.extend(check.map(|said| format!("Receiver check: {said}")));
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
    let mut found = switching_comb::figures(&report.switching_combs, bands_khz);
    found.extend(man_made::figures(&report.listening.station_noise));
    found.extend(ranking::figures(report.comparisons()));
    found.extend(budget::figures(&report.budget, &report.contrasts));
    found
}
