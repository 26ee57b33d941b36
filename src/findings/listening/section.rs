//! The section on what the noise costs a listener.

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::{AnchorKind, Listening, ListeningCost, SignalNeeded};
use crate::findings::listening::words::{cost_of, watts_with_interval};
use crate::text::{Column, Document, Table, db, interval, label, number};

/// Nothing where there is nothing to say.
pub(crate) fn section(doc: &mut Document, listening: &Listening, contrasts: &[ContrastResult]) {
    if listening.costs.is_empty() && listening.not_told.is_empty() {
        return;
    }
    doc.heading(2, "What it costs a listener");
    let mut table = Table::new([
        Column::text("Device"),
        Column::text("Remedy"),
        Column::number("SNR lost by speech (2500 Hz), dB"),
        Column::number("SNR lost by Morse (500 Hz), dB"),
        Column::number("100 W is heard as"),
        Column::number("Between clicks, dB"),
        Column::number("Strongest carrier over the noise in 500 Hz, dB"),
        Column::text("Speech needs, off / on"),
        Column::text("Morse needs, off / on"),
        Column::text("Trust"),
    ]);
    for c in contrasts {
        let Some(cost) = cost_of(&listening.costs, &c.id) else { continue };
        let needed = cost.signal_needed.as_ref();
        let s = |pick: fn(&SignalNeeded) -> [&String; 2]| {
            needed.map_or_else(String::new, |n| pick(n).map(|s| label(s)).join(" / "))
        };
        table.row([
            label(&c.device),
            c.remedy.as_deref().map_or_else(|| "none".to_owned(), label),
            with_ends(cost.snr_loss_2500_db, cost.snr_loss_2500_ci_db),
            narrow(cost),
            cost.heard_100_w_as_w
                .map_or_else(|| "no sure loss".to_owned(), |w| watts_with_interval(w, cost.heard_100_w_as_ci_w)),
            cost.between_clicks_db.map_or_else(String::new, |v| number(v, 1)),
            cost.carrier_over_500_hz_db.map_or_else(String::new, |v| number(v, 1)),
            s(|n| [&n.speech_off_s, &n.speech_on_s]),
            s(|n| [&n.morse_off_s, &n.morse_on_s]),
            c.trust.word().to_owned(),
        ]);
    }
    doc.table(table);
    doc.list(notes(listening));
}

fn with_ends(value: Option<f64>, ci: Option<[f64; 2]>) -> String {
    match (value, ci) {
        (Some(value), Some(ci)) => format!("{} ({})", number(value, 1), interval(ci)),
        _ => "–".to_owned(),
    }
}

/// Best to worst place where they surely differ, else one figure for all.
fn narrow(cost: &ListeningCost) -> String {
    let (Some(best), Some(worst)) = (cost.snr_loss_500_best_db, cost.snr_loss_500_worst_db) else {
        return "–".to_owned();
    };
    let at = |hz: Option<f64>| hz.map_or_else(String::new, |hz| format!(" near {} Hz", number(hz, 0)));
    let differ = cost.snr_loss_500_worst_ci_db.zip(cost.snr_loss_500_best_ci_db).is_some_and(|(w, b)| w[0] > b[1]);
    if differ {
        let (best_hz, worst_hz) = (at(cost.snr_loss_500_best_hz), at(cost.snr_loss_500_worst_hz));
        return format!("{}{best_hz} to {}{worst_hz}", number(best, 1), number(worst, 1));
    }
    format!("{} anywhere", number((best + worst) / 2.0, 1))
}

/// What must be known to read the table, as far as it concerns this report.
fn notes(listening: &Listening) -> Vec<String> {
    let costs = &listening.costs;
    let mut told = Vec::new();
    if !costs.is_empty() {
        told.push(
            "As much as the noise rises in a signal's bandwidth, its SNR falls. Noise that is not even over the \
             passband costs a 500 Hz signal more in one place than in another."
                .to_owned(),
        );
    }
    if costs.iter().any(|c| c.carrier_over_500_hz_db.is_some()) {
        told.push("Carriers are not counted in: they cost only those who listen right beside them.".to_owned());
    }
    if costs.iter().any(|c| c.between_clicks_db.is_some()) {
        told.push(
            "Where the noise comes in clicks the loss is that of the mean power; between the clicks a signal loses \
             less. In 500 Hz it is not told: a narrow filter draws each click out."
                .to_owned(),
        );
    }
    if let Some(needed) = costs.iter().find_map(|c| c.signal_needed.as_ref()) {
        told.push(needs(needed));
    }
    told.extend(listening.not_told.iter().map(|why| format!("Not told: {}", lower(why))));
    told
}

fn needs(needed: &SignalNeeded) -> String {
    let anchor = if needed.anchor == AnchorKind::Dbm {
        format!("They hang on the power given as dbm and may all be off together by {}.", db(needed.tolerance_db))
    } else {
        format!(
            "They hang on the meter's reading alone and may all be off together by {} or more: real meters stray.",
            db(needed.tolerance_db)
        )
    };
    format!(
        "What a signal needs is its S value (6 dB a unit, IARU Region 1 recommendation R.1) for {} of SNR in 2500 Hz for \
         speech copied with ease, and {} in 500 Hz for Morse by ear: common practice, and ears differ. {anchor}",
        db(needed.speech_snr_db),
        db(needed.morse_snr_db)
    )
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
