//! What speaks against the figures: every warning once, with all it concerns, and the files left out.

use super::super::contract::{ContrastResult, Report};
use super::super::words::{and_at_most, capital, cause, label};
use super::{Document, escape};
use crate::health::{Code, Warning};

/// Names given for one warning before the rest is counted.
const NAMES: usize = 6;

/// A warning's text and all it was said of.
struct Concern<'a> {
    code: Code,
    message: &'a str,
    of: Vec<String>,
}

pub(super) fn write(doc: &mut Document, report: &Report) {
    doc.heading(2, "What could spoil this");
    let concerns = concerns(report);
    let mut items: Vec<String> = concerns.iter().map(Concern::item).collect();
    for left_out in &report.left_out {
        items.push(escape(&format!("Left out, {}: {}", label(&left_out.file), left_out.reason)));
    }
    if items.is_empty() {
        items.push("Nothing was found that speaks against these figures.".to_owned());
    }
    if report.contrasts.iter().any(|c| c.off.len() == 1) {
        items.push(
            "Some comparisons rest on one off recording. The intervals then cover chance within the recordings only, \
             not what may have changed between them: record off, on, off."
                .to_owned(),
        );
    }
    doc.list(&items);
}

/// Every warning, in the order of codes, then of appearance.
fn concerns(report: &Report) -> Vec<Concern<'_>> {
    let mut found = Vec::new();
    for warning in &report.warnings {
        note(&mut found, warning, None);
    }
    for recording in &report.recordings {
        for warning in &recording.warnings {
            note(&mut found, warning, Some(label(&recording.file)));
        }
    }
    for contrast in report.contrasts.iter().chain(report.episodes.iter().map(|e| &e.contrast)) {
        for warning in &contrast.warnings {
            note(&mut found, warning, Some(name_of(contrast)));
        }
    }
    found.sort_by_key(|c| c.code);
    found
}

fn note<'a>(found: &mut Vec<Concern<'a>>, warning: &'a Warning, of: Option<String>) {
    let position = found.iter().position(|c| c.code == warning.code && c.message == warning.message);
    let concern = match position {
        Some(i) => &mut found[i],
        None => {
            found.push(Concern { code: warning.code, message: &warning.message, of: vec![] });
            let last = found.len() - 1;
            &mut found[last]
        }
    };
    if let Some(name) = of.filter(|name| !concern.of.contains(name)) {
        concern.of.push(name);
    }
}

/// "pond pump on" or "pond pump on, ferrite ring".
fn name_of(contrast: &ContrastResult) -> String {
    match &contrast.remedy {
        Some(remedy) => format!("{} on ({})", label(&contrast.device), label(remedy)),
        None => format!("{} on", label(&contrast.device)),
    }
}

impl Concern<'_> {
    fn item(&self) -> String {
        let cause = capital(&cause(self.code));
        let of = if self.of.is_empty() { String::new() } else { format!(", {}", and_at_most(&self.of, NAMES)) };
        format!("**{}**{}: {}", escape(&cause), escape(&of), escape(self.message))
    }
}
