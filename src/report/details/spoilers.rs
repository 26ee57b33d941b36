//! What speaks against the figures: every warning once, with all it concerns, and the files left out.

use super::super::words::cause;
use crate::contrast::comparison::ContrastResult;
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::text::{Document, Words, and_at_most, capital, label};
use crate::warning::{Code, Warning};

/// Names given for one warning before the rest is counted.
const NAMES: usize = 6;

/// A warning's text and all it was said of.
pub(crate) struct Concern<'a> {
    pub(crate) code: Code,
    pub(crate) message: &'a str,
    pub(crate) of: Vec<String>,
}

pub(crate) fn write(doc: &mut Document, report: &Report) {
    doc.heading(2, "Every warning");
    let concerns = concerns(report);
    let mut items: Vec<Words> = concerns.iter().map(Concern::item).collect();
    for left_out in &report.left_out {
        items.push(format!("Left out, {}: {}", label(&left_out.file), left_out.reason).into());
    }
    if items.is_empty() {
        items.push(NOTES.nothing_against.as_str().into());
    }
    doc.list(items);
}

/// Every warning, in the order of codes, then of appearance.
pub(crate) fn concerns(report: &Report) -> Vec<Concern<'_>> {
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
            match of_recording(&mut found, warning) {
                Some(known) => known.add(name_of(contrast)),
                None => note(&mut found, warning, Some(name_of(contrast))),
            }
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
    if let Some(name) = of {
        concern.add(name);
    }
}

/// The concern of a recording that a contrast repeats with the file's name before it.
fn of_recording<'f, 'a>(found: &'f mut [Concern<'a>], warning: &Warning) -> Option<&'f mut Concern<'a>> {
    found.iter_mut().find(|c| {
        let repeated = |file: &String| warning.message.strip_prefix(file.as_str())?.strip_prefix(": ");
        c.code == warning.code && c.of.iter().any(|file| repeated(file) == Some(c.message))
    })
}

/// "pond pump on" or "pond pump on, ferrite ring".
pub(crate) fn name_of(contrast: &ContrastResult) -> String {
    match &contrast.remedy {
        Some(remedy) => format!("{} on ({})", label(&contrast.device), label(remedy)),
        None => format!("{} on", label(&contrast.device)),
    }
}

impl Concern<'_> {
    fn add(&mut self, name: String) {
        if !self.of.contains(&name) {
            self.of.push(name);
        }
    }

    fn item(&self) -> Words {
        let cause = capital(cause(self.code));
        let of = if self.of.is_empty() { String::new() } else { format!(", {}", and_at_most(&self.of, NAMES)) };
        Words::strong(cause).then(format!("{of}: {}", self.message))
    }
}
