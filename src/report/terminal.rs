//! What the terminal says of a report beside its verdicts: one line each.

use crate::findings::{man_made, receiver_check, supply, target};
use crate::report::contract::Report;
use crate::text::{capital, label};

/// For the terminal: target, published noise, receiver check, supplies, cautions; one line each.
pub fn terminal_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let listening = &report.listening;
    let mut lines: Vec<String> =
        listening.target.iter().map(|t| format!("Quiet enough? {}", target::words::target(t))).collect();
    lines.extend(listening.station_noise.iter().map(man_made::words::station));
    lines.extend(
        report
            .receiver_check
            .iter()
            .map(|check| format!("Receiver check: {}", receiver_check::words::sentences(check))),
    );
    lines.extend(safety_lines(report));
    lines
}

/// Supplies and cautions only, for before anything is tried.
pub fn safety_lines(report: &Report) -> Vec<String> {
    let listening = &report.listening;
    let mut lines: Vec<String> = listening.supplies.iter().map(supply::words::supply).collect();
    lines.extend(
        listening.cautions.iter().map(|c| format!("{}: take care. {}", capital(&label(&c.device)), c.text)),
    );
    lines
}
