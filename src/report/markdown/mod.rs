//! The report to read: the verdict first, then each device, what could spoil it, and how it was measured.
//! Not here: the sentences of the verdict (`verdict`), the figures themselves (`plot`).

pub mod closing;
pub mod device;
pub mod spoilers;
#[cfg(test)]
mod tests;

use crate::findings::picture::{FigureFile, FigureKind};
use crate::labels::State;
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::findings;
use crate::text::{Document, Words, count, label};
use device::{Device, devices};

/// What a verdict says where it gives a change in S-units.
const S_UNIT: &str = "S-unit";

/// The report as Markdown (CommonMark with tables), for `report.md`; figures are linked by their bare names.
///
/// The same report gives the same bytes. Labels are escaped, so they can't break a table or become markup.
pub fn markdown(report: &Report) -> String {
    let report = &report.readable();
    let mut doc = Document::default();
    if let Some(night) = &report.night {
        crate::report::night::section::write(&mut doc, report, night);
        return crate::text::markdown(&doc);
    }
    let devices = devices(report);
    head(&mut doc, report, &devices);
    for device in &devices {
        device.write(&mut doc, report);
    }
    findings::sections(&mut doc, report);
    other_figures(&mut doc, report);
    spoilers::write(&mut doc, report);
    closing::write(&mut doc, report);
    crate::text::markdown(&doc)
}

fn head(doc: &mut Document, report: &Report, devices: &[Device]) {
    let title = label(&report.session.title);
    doc.heading(1, if title.is_empty() { "Noise of the session" } else { &*title });
    if let Some(station) = &report.session.station {
        doc.paragraph(station.as_str());
    }
    doc.heading(2, "Verdict");
    let mut verdicts: Vec<Words> = devices.iter().map(|d| d.verdict(report)).collect();
    verdicts.extend(findings::verdicts(report));
    if report.contrasts.is_empty() && report.episodes.is_empty() {
        verdicts.push(nothing_compared(report).into());
    }
    let in_s_units = verdicts.iter().any(|v| v.contains(S_UNIT));
    doc.list(verdicts);
    if in_s_units {
        doc.paragraph(NOTES.s_units.as_str());
    }
    if !report.left_out.is_empty() {
        let files = count(report.left_out.len(), "file was", "files were");
        doc.paragraph(format!("{files} left out; the reasons are under \"What could spoil this\"."));
    }
    report.figures.iter().filter(|f| f.kind == FigureKind::Card).for_each(|f| doc.picture(f));
}

fn nothing_compared(report: &Report) -> String {
    let has = |state| report.recordings.iter().any(|r| r.state == state);
    let lack = match (has(State::Off), has(State::On)) {
        (true, true) => "no on recording has an off recording of the same setting",
        (true, false) => "there is no recording with a device on",
        (false, true) => "there is no recording with the device off",
        (false, false) => "there is neither an off nor an on recording",
    };
    format!("Nothing could be compared: {lack}.")
}

/// Figures that belong to no contrast of this report.
fn other_figures(doc: &mut Document, report: &Report) {
    let shown_above = [FigureKind::Card, FigureKind::Budget, FigureKind::ManMadeNoise];
    let known = |f: &FigureFile| {
        shown_above.contains(&f.kind) || report.contrasts.iter().any(|c| f.contrast.as_ref() == Some(&c.id))
    };
    let others: Vec<_> = report.figures.iter().filter(|f| !known(f)).collect();
    if !others.is_empty() {
        doc.heading(2, "The whole session");
        others.into_iter().for_each(|f| doc.picture(f));
    }
}
