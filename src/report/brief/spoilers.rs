//! What did spoil or limits the figures, and files left out, a line a cause; what was found that spoils nothing
//! stands in the details.

use crate::contrast::comparison::ContrastResult;
use crate::report::contract::Report;
use crate::report::details::spoilers::{Concern, concerns, name_of};
use crate::report::words::is_note;
use crate::text::{Document, Words, and_at_most, capital, each_once, first_sentence, full_sentence, label};
use crate::warning::Code;

/// Names given for one cause before the rest is counted.
const NAMES: usize = 3;
/// Causes told; the details have them all.
const CAUSES: usize = 8;
/// Files left out that are named.
const FILES: usize = 5;

pub(super) fn write(doc: &mut Document, report: &Report) {
    let items = spoilers(report);
    if !items.is_empty() {
        doc.heading(2, "What could spoil it");
        doc.list(items);
    }
}

/// A line a cause.
pub(super) fn spoilers(report: &Report) -> Vec<Words> {
    let mut items: Vec<Words> = Vec::new();
    items.extend(gain_unknown(report).map(Words::from));
    items.extend(unrepeated(report).map(Words::from));
    let mut found = concerns(report);
    // What was set aside spoils nothing.
    found.retain_mut(|concern| {
        let named = !concern.of.is_empty();
        concern.of.retain(|file| !is_set_aside(file, report));
        !(named && concern.of.is_empty())
    });
    let mut told: Vec<Code> = Vec::new();
    for concern in found.iter().filter(|c| !is_note(c.code)) {
        if concern.of.is_empty() {
            // Said of the session: its sentence is all that tells what is meant.
            items.push(in_a_line(concern.code, &[concern]));
        } else if !told.contains(&concern.code) {
            told.push(concern.code);
            let same: Vec<&Concern> = found.iter().filter(|c| c.code == concern.code && !c.of.is_empty()).collect();
            items.push(in_a_line(concern.code, &same));
        }
    }
    let rest = items.len().saturating_sub(CAUSES);
    items.truncate(CAUSES);
    if rest > 0 {
        items.push(format!("{rest} more in the details.").into());
    }
    let left_out = report.left_out.iter().take(FILES);
    items.extend(
        left_out.map(|o| {
            format!("Left out, {}: {}", label(&o.file), full_sentence(first_sentence(&o.reason).0)).into()
        }),
    );
    let more = report.left_out.len().saturating_sub(FILES);
    if more > 0 {
        items.push(format!("{more} more files were left out; the details name them.").into());
    }
    items
}

/// Whether every comparison that names a file says that it was set aside.
fn is_set_aside(file: &str, report: &Report) -> bool {
    let told = report.contrasts.iter().flat_map(|c| &c.warnings).filter(|w| w.message.starts_with(file));
    let mut told = told.peekable();
    told.peek().is_some() && told.all(|w| w.code == Code::SetAside)
}

/// A cause, what it was said of, and what is so: the first sentence where only one was said.
fn in_a_line(code: Code, same: &[&Concern]) -> Words {
    let names = each_once(same.iter().flat_map(|c| c.of.clone()));
    let of = if names.is_empty() { String::new() } else { format!(", {}", and_at_most(&names, NAMES)) };
    let said = match same {
        [only] => format!(": {}", full_sentence(first_sentence(only.message).0)),
        _ => ".".to_owned(),
    };
    Words::strong(capital(crate::report::words::cause(code))).then(format!("{of}{said}"))
}

/// The condition that all or some comparisons hang on, once for all.
fn gain_unknown(report: &Report) -> Option<String> {
    let of = |c: &&ContrastResult| !c.is_void() && c.warnings.iter().any(|w| w.code == Code::GainUnknown);
    let which = which(report, of)?;
    Some(format!("{which} if AGC was off: the labels don't say, and an AGC hides noise."))
}

/// What stands alone, once for all.
fn unrepeated(report: &Report) -> Option<String> {
    let which = which(report, |c| c.is_unrepeated())?;
    Some(format!("{which} only if no control was touched and the band kept still: off or on was recorded once."))
}

/// "All figures hold", "The figures of lamp and kettle hold"; `None` where none is meant.
fn which(report: &Report, of: impl Fn(&&ContrastResult) -> bool) -> Option<String> {
    let meant: Vec<&ContrastResult> = report.contrasts.iter().filter(|c| of(c)).collect();
    if meant.is_empty() {
        return None;
    }
    if meant.len() == report.contrasts.iter().filter(|c| !c.is_void()).count() {
        return Some("All figures hold".to_owned());
    }
    let is_meant = |c: &ContrastResult| meant.iter().any(|m| m.id == c.id);
    let is_whole = |name: &str| report.contrasts.iter().filter(|c| c.device == name && !c.is_void()).all(is_meant);
    let name = |c: &&ContrastResult| if is_whole(&c.device) { label(&c.device) } else { name_of(c) };
    let names = each_once(meant.iter().map(name));
    Some(format!("The figures of {} hold", and_at_most(&names, NAMES)))
}
