//! All that the short report leaves out: every comparison with what it rests on, the findings in full, what could
//! spoil them, the recordings, the method, how to read it. Not here: the verdict, the cards, the cautions (`brief`),
//! the figures themselves (`plot`).

pub mod closing;
mod device;
pub mod spoilers;

use crate::findings::picture::{FigureFile, FigureKind};
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::devices::devices;
use crate::report::findings;
use crate::text::{Document, label};

/// What a sentence says where it gives a change in S-units.
const S_UNIT: &str = "S-unit";

/// The details of a session.
pub(crate) fn details(report: &Report) -> Document {
    let mut doc = Document::default();
    let title = label(&report.session.title);
    doc.heading(1, if title.is_empty() { "Details".to_owned() } else { format!("{title}: details") });
    for device in devices(report) {
        device.write(&mut doc, report);
    }
    let in_s_units = |c| crate::report::sentence(c, report).contains(S_UNIT);
    if report.contrasts.iter().any(in_s_units) {
        doc.paragraph(NOTES.s_units.as_str());
    }
    findings::sections(&mut doc, report);
    other_figures(&mut doc, report);
    spoilers::write(&mut doc, report);
    closing::write(&mut doc, report);
    doc
}

/// Figures that belong to no comparison of this report, and to no finding that shows them.
fn other_figures(doc: &mut Document, report: &Report) {
    let shown_above = [FigureKind::Card, FigureKind::Budget];
    let known = |f: &FigureFile| {
        shown_above.contains(&f.kind) || report.contrasts.iter().any(|c| f.contrast.as_ref() == Some(&c.id))
    };
    let others: Vec<_> = report.figures.iter().filter(|f| !known(f)).collect();
    if !others.is_empty() {
        doc.heading(2, "The whole session");
        others.into_iter().for_each(|f| doc.picture(f));
    }
}
