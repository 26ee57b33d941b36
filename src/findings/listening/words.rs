//! What the noise means to a listener: sentences without markup, the section, the line of the digest. Not here: the
//! figures (`listening`).

use crate::contrast::comparison::ContrastResult;
use crate::contrast::comparisons::setting_name;
use crate::findings::listening::result::{AnchorKind, Listening, ListeningCost, SignalNeeded};
use crate::labels::Setting;
use crate::text::{Column, Document, Table, db, interval, label, number};

/// What a comparison costs.
pub(crate) fn cost_of<'a>(costs: &'a [ListeningCost], contrast: &str) -> Option<&'a ListeningCost> {
    costs.iter().find(|cost| cost.contrast == contrast)
}

/// A power: "40 W", "4.1 W", "0.32 W", "25 mW".
pub(crate) fn watts(power_w: f64) -> String {
    let (value, unit) = if power_w < 0.1 { (power_w * 1000.0, "mW") } else { (power_w, "W") };
    format!("{} {unit}", figure(value))
}

/// "4.1 W (4.0 to 4.2)", its ends in the unit of the value.
pub(crate) fn watts_with_interval(power_w: f64, ci: Option<[f64; 2]>) -> String {
    let scale = if power_w < 0.1 { 1000.0 } else { 1.0 };
    let ends = ci
        .map_or_else(String::new, |[low, high]| format!(" ({} to {})", figure(low * scale), figure(high * scale)));
    format!("{}{ends}", watts(power_w))
}

/// Two figures that count.
fn figure(value: f64) -> String {
    number(
        value,
        if value >= 9.95 {
            0
        } else if value >= 0.995 {
            1
        } else {
            2
        },
    )
}

/// As what power a station of 100 W is heard with the device on; `None` where nothing sure is lost.
pub(crate) fn heard_as(contrast: &ContrastResult, costs: &[ListeningCost]) -> Option<String> {
    let cost = cost_of(costs, &contrast.id).filter(|_| contrast.is_unspoilt())?;
    cost.heard_100_w_as_w.map(watts)
}

/// Nothing where there is nothing to say.
pub(crate) fn section(
    doc: &mut Document,
    listening: &Listening,
    contrasts: &[ContrastResult],
    settings: &[Setting],
) {
    if listening.costs.is_empty() && listening.not_told.is_empty() {
        return;
    }
    doc.heading(2, "What it costs a listener");
    let several = contrasts.iter().any(|c| c.setting != contrasts[0].setting);
    let mut table = Table::new([
        Column::text("Setting"),
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
            if several { setting_name(settings, &c.setting) } else { String::new() },
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
    let mut sentences = Vec::new();
    if !costs.is_empty() {
        sentences.push(
            "A signal's SNR falls by as much as the noise rises in its bandwidth. Uneven noise costs a 500 Hz signal more \
             in one place than in another."
                .to_owned(),
        );
    }
    if costs.iter().any(|c| c.carrier_over_500_hz_db.is_some()) {
        sentences.push("Carriers don't count here: they cost only those who listen right beside them.".to_owned());
    }
    if costs.iter().any(|c| c.between_clicks_db.is_some()) {
        sentences.push(
            "Of clicks it is the loss by their mean power; between them a signal loses less. In 500 Hz it is not told: a \
             narrow filter draws each click out."
                .to_owned(),
        );
    }
    if let Some(needed) = costs.iter().find_map(|c| c.signal_needed.as_ref()) {
        sentences.push(needs(needed));
    }
    sentences.extend(listening.not_told.iter().map(|why| format!("Not told: {}", lower(why))));
    sentences
}

fn needs(needed: &SignalNeeded) -> String {
    let anchor = if needed.anchor == AnchorKind::Dbm {
        format!("They rest on the power given as dbm and may all be off together by {}.", db(needed.tolerance_db))
    } else {
        format!(
            "They rest on the meter's reading alone and may all be off together by {} or more: real meters stray.",
            db(needed.tolerance_db)
        )
    };
    format!(
        "What a signal needs is its S value (6 dB a unit) for {} of SNR in 2500 Hz for \
         speech copied with ease, and {} in 500 Hz for Morse by ear: common practice, and ears differ. {anchor}",
        db(needed.speech_snr_db),
        db(needed.morse_snr_db)
    )
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Devices named in the line on what is heard.
const DEVICES: usize = 3;

/// "Without remedy, 100 W is heard as: drill charger 4.1 W; pond pump 40 W"; where none was tried, without the
/// first words.
pub(crate) fn digest(contrasts: &[ContrastResult], costs: &[ListeningCost]) -> Option<String> {
    let mut named: Vec<&str> = Vec::new();
    let mut powers = Vec::new();
    for c in contrasts.iter().filter(|c| c.is_unspoilt() && c.remedy.is_none()) {
        let power = cost_of(costs, &c.id).and_then(|cost| cost.heard_100_w_as_w);
        if let Some(power) = power.filter(|_| !named.contains(&c.device.as_str())) {
            named.push(&c.device);
            powers.push(format!("{} {}", label(&c.device), watts(power)));
        }
    }
    let more = if powers.len() > DEVICES { "; ..." } else { "" };
    powers.truncate(DEVICES);
    let any_remedy = contrasts.iter().any(|c| c.remedy.is_some());
    let without = if any_remedy { "Without remedy, " } else { "" };
    (!powers.is_empty()).then(|| format!("{without}100 W is heard as: {}{more}", powers.join("; ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_as_people_say_them() {
        for (power, said) in
            [(63.1, "63 W"), (9.96, "10 W"), (4.07, "4.1 W"), (0.996, "1.0 W"), (0.32, "0.32 W"), (0.025, "25 mW")]
        {
            assert_eq!(watts(power), said);
        }
        assert_eq!(watts_with_interval(4.07, Some([3.98, 4.17])), "4.1 W (4.0 to 4.2)");
        assert_eq!(watts_with_interval(0.05, Some([0.04, 0.0632])), "50 mW (40 to 63)");
    }
}
