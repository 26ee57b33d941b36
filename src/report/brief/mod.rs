//! The short report, which people read to the end: the verdict, a card a device, one table, what could spoil it,
//! what to do next, what to be careful with. Nothing is said twice, and all else stands in the details. Not here:
//! the details (`details`), a night's short report (`night`).

pub(super) mod device;
mod next;
mod spoilers;
mod table;

use crate::cautions::{About, in_every_report};
use crate::findings::picture::FigureKind;
use crate::findings::{ranking, supply};
use crate::labels::{Setting, State};
use crate::report::contract::Report;
use crate::report::devices::{Device, loudest_first};
use crate::report::findings;
use crate::text::{Document, Words, label};

/// Cards shown. Chosen: of more devices the ranking tells at one look which cards to open in the details.
const CARDS: usize = 4;

/// The short report of a session.
pub(crate) fn brief(report: &Report) -> Document {
    let mut doc = Document::default();
    let devices = loudest_first(report);
    let title = label(&report.session.title);
    doc.heading(1, if title.is_empty() { "Noise of the session" } else { &*title });
    if let Some(station) = &report.session.station {
        doc.paragraph(station.as_str());
    }
    if let Some(facts) = report.comparisons().main_setting().and_then(Setting::facts) {
        let others = if report.comparisons().are_of_several_settings() { " if not said otherwise" } else { "" };
        doc.paragraph(format!("Receiver: {facts}{others}."));
    }
    doc.heading(2, "Verdict");
    let mut verdict = supply::verdicts(&report.listening.supplies);
    verdict.extend(of_devices(report, &devices, true));
    verdict.extend(findings::verdicts(report));
    if report.tells_nothing() {
        verdict.push(nothing_compared(report).into());
    }
    doc.list(verdict);
    let shown = |kind| report.figures.iter().filter(move |f| f.kind == kind);
    shown(FigureKind::Ranking).for_each(|f| doc.picture(f));
    let of = |name: &str| {
        shown(FigureKind::Card)
            .find(|f| report.contrasts.iter().any(|c| f.contrast.as_ref() == Some(&c.id) && c.device == name))
    };
    devices.iter().filter(|d| !d.is_quiet()).filter_map(|d| of(d.name)).take(CARDS).for_each(|f| doc.picture(f));
    shown(FigureKind::Bands).take(CARDS).for_each(|f| doc.picture(f));
    for kind in [FigureKind::Budget, FigureKind::SwitchingComb, FigureKind::ManMadeNoise] {
        shown(kind).take(1).for_each(|f| doc.picture(f));
    }
    table::write(&mut doc, report, &devices);
    findings::short_sections(&mut doc, report);
    spoilers::write(&mut doc, report);
    next::write(&mut doc, report, &devices);
    cautions(&mut doc, report);
    doc.paragraph(format!("Made with {} {}.", report.tool.name, report.tool.version));
    doc
}

/// Who adds how much, and a line a device.
fn of_devices(report: &Report, devices: &[Device], heard: bool) -> Vec<Words> {
    let mut lines = ranking::words::verdict(&report.rankings(), &report.settings);
    lines.extend(device::verdicts(devices, report, heard));
    lines
}

/// The same and what could spoil it, for the terminal: of many devices a sentence each would hide the answer.
pub fn of_many_devices(report: &Report) -> Vec<String> {
    let report = &report.published();
    told(of_devices(report, &loudest_first(report), false), report)
}

/// That nothing could be compared, and why, for the terminal.
pub fn of_no_comparison(report: &Report) -> Vec<String> {
    let report = &report.published();
    told(vec![nothing_compared(report).into()], report)
}

fn told(mut lines: Vec<Words>, report: &Report) -> Vec<String> {
    lines.extend(spoilers::spoilers(report));
    lines.iter().map(Words::told).collect()
}

/// That nothing could be compared, and what lacks.
pub fn nothing_compared(report: &Report) -> String {
    let has = |state| report.recordings.iter().any(|r| r.state == Some(state));
    let lack = match (has(State::Off), has(State::On)) {
        (true, true) => "no on recording has an off recording of the same setting",
        (true, false) => "there is no recording with a device on",
        (false, true) => "there is no recording with the device off",
        (false, false) => "there is neither an off nor an on recording",
    };
    format!("Nothing could be compared: {lack}.")
}

/// What holds for all devices, then what concerns some.
fn cautions(doc: &mut Document, report: &Report) {
    doc.heading(2, "Before you change anything");
    let told: Vec<About> = report.listening.cautions.iter().map(|caution| caution.about).collect();
    let mut list: Vec<Words> = in_every_report(&told).into_iter().map(Words::from).collect();
    list.extend(supply::for_each_device(&report.listening.supplies, &report.listening.cautions));
    doc.list(list);
}
