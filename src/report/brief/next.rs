//! What to do next: what mends doubtful comparisons, what one take more would settle, what the findings advise.

use crate::report::contract::Report;
use crate::report::devices::Device;
use crate::report::findings;
use crate::report::verdict::mend;
use crate::text::{Document, Words, and_at_most, capital, label};
use crate::warning::Code;

/// Steps told. Chosen: nobody does more in one evening.
const STEPS: usize = 6;
/// Devices named for one step.
const NAMES: usize = 3;

pub(super) fn write(doc: &mut Document, report: &Report, devices: &[Device]) {
    let mut steps: Vec<Words> = Vec::new();
    let mut of_step: Vec<(String, Vec<String>)> = Vec::new();
    for device in devices {
        for step in device.contrasts.iter().filter_map(|c| mend(c, report)) {
            let name = label(device.name);
            match of_step.iter_mut().find(|(known, _)| *known == step) {
                Some((_, names)) if names.contains(&name) => {}
                Some((_, names)) => names.push(name),
                None => of_step.push((step, vec![name])),
            }
        }
    }
    steps.extend(of_step.into_iter().map(|(step, names)| {
        Words::strong(format!("{}:", capital(&and_at_most(&names, NAMES)))).then(format!(" {step}."))
    }));
    if report.contrasts.iter().any(|c| c.is_unrepeated()) {
        steps.push("Record each off and on once more, in turn.".into());
    }
    if report.contrasts.iter().any(|c| c.warnings.iter().any(|w| w.code == Code::GainUnknown)) {
        steps.push("Switch AGC off, or fix the RF gain, and label the takes so.".into());
    }
    steps.extend(findings::next_steps(report));
    steps.truncate(STEPS);
    if !steps.is_empty() {
        doc.heading(2, "What to do next");
        doc.list(steps);
    }
}
