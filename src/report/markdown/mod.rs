//! The report to read: the verdict first, then each device, what could spoil it, and how it was measured.
//! Not here: the sentences of the verdict (`verdict`), the figures themselves (`plot`).

pub mod cautions;
pub mod closing;
pub mod device;
pub mod episodes;
pub mod spoilers;
pub mod table;
#[cfg(test)]
mod tests;

use crate::findings::figure_file::{FigureFile, FigureKind};
use crate::labels::State;
pub(crate) use crate::night::section::{answer as night_answer, line as night_line};
use crate::report::contract::Report;
use crate::text::{count, label, one_line};
use device::{Device, devices};
use table::Table;

/// What a verdict says where it gives a change in S-units.
const S_UNIT: &str = "S-unit";
/// Source: IARU Region 1 Technical Recommendation R.1; the span of real meters is one published measurement.
const S_UNIT_CAUTION: &str = "S-units are reckoned at 6 dB each (IARU Region 1 recommendation R.1). Real meters differ \
    widely: one was measured to take from 1.5 to 10 dB for a unit, so a meter is no way to check these figures.";

/// The report as Markdown (CommonMark with tables), for `report.md`; figures are linked by their bare names.
///
/// The same report gives the same bytes. Labels are escaped, so they can't break a table or become markup.
pub fn markdown(report: &Report) -> String {
    let report = &report.readable();
    let mut doc = Document::default();
    if let Some(night) = &report.night {
        crate::night::section::write(&mut doc, report, night);
        return doc.text;
    }
    let devices = devices(report);
    head(&mut doc, report, &devices);
    for device in &devices {
        device.write(&mut doc, report);
    }
    crate::findings::listening::section::write(&mut doc, report);
    crate::findings::budget::section::write(&mut doc, report);
    episodes::write(&mut doc, report);
    crate::findings::switching_comb::section::write(&mut doc, report);
    other_figures(&mut doc, report);
    crate::findings::receiver_check::section::check(&mut doc, report);
    spoilers::write(&mut doc, report);
    closing::write(&mut doc, report);
    doc.text
}

/// Markdown under construction: blocks with one empty line between.
#[derive(Default)]
pub(crate) struct Document {
    text: String,
}

impl Document {
    /// A block that is Markdown already.
    pub(crate) fn block(&mut self, markdown: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.text.push_str(markdown.trim_end());
        self.text.push('\n');
    }

    pub(crate) fn heading(&mut self, level: usize, plain: &str) {
        self.block(&format!("{} {}", "#".repeat(level), escape(plain)));
    }

    /// A list; nothing if there are no items.
    pub(crate) fn list(&mut self, items: &[String]) {
        if !items.is_empty() {
            self.block(&items.iter().map(|i| format!("- {i}\n")).collect::<String>());
        }
    }

    pub(crate) fn table(&mut self, table: &Table) {
        if !table.is_empty() {
            self.block(&table.markdown());
        }
    }

    pub(crate) fn figure(&mut self, figure: &FigureFile) {
        self.block(&format!(
            "![{}]({})\n\n{}",
            escape(figure.kind.word()),
            link(&figure.file),
            escape(&figure.caption)
        ));
    }
}

/// Plain text as Markdown that shows just that text, on one line, in or out of a table.
///
/// What could open HTML or a cell becomes a character reference, since table parsers differ on backslashes.
pub(crate) fn escape(plain: &str) -> String {
    let text = one_line(plain);
    let mut out = String::with_capacity(text.len());
    let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    for (i, c) in text.char_indices() {
        // What would open a list or underline a heading at the start of a line.
        let numbers =
            i == digits && digits > 0 && matches!(c, '.' | ')') && !text[i + 1..].starts_with(|n| n != ' ');
        let opens_list = numbers || (i == 0 && matches!(c, '-' | '+' | '='));
        match c {
            '|' => out.push_str("&#124;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '~' | '$' => {
                out.push('\\');
                out.push(c);
            }
            _ if opens_list => {
                out.push('\\');
                out.push(c);
            }
            _ => out.push(c),
        }
    }
    out
}

/// A label in a table or heading: cut where very long, escaped.
pub(crate) fn cell(text: &str) -> String {
    escape(&label(text))
}

/// A file name as the target of a link: bytes outside the unreserved set of RFC 3986 as %XX.
fn link(file: &str) -> String {
    file.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => char::from(b).to_string(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}

fn head(doc: &mut Document, report: &Report, devices: &[Device]) {
    let title = label(&report.session.title);
    doc.heading(1, if title.is_empty() { "Noise of the session" } else { &title });
    if let Some(station) = &report.session.station {
        doc.block(&escape(station));
    }
    doc.heading(2, "Verdict");
    let mut verdicts: Vec<_> = devices.iter().map(|d| d.verdict(report)).collect();
    verdicts.extend(crate::findings::budget::section::largest_share(report));
    verdicts.extend(crate::findings::switching_comb::section::verdicts(report));
    verdicts.extend(crate::findings::listening::section::verdicts(report));
    verdicts.extend(cautions::verdicts(report));
    if report.contrasts.is_empty() && report.episodes.is_empty() {
        verdicts.push(nothing_compared(report));
    }
    doc.list(&verdicts);
    if verdicts.iter().any(|v| v.contains(S_UNIT)) {
        doc.block(S_UNIT_CAUTION);
    }
    if !report.left_out.is_empty() {
        let files = count(report.left_out.len(), "file was", "files were");
        doc.block(&format!("{files} left out; the reasons are under \"What could spoil this\"."));
    }
    report.figures.iter().filter(|f| f.kind == FigureKind::Card).for_each(|f| doc.figure(f));
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
        others.into_iter().for_each(|f| doc.figure(f));
    }
}
