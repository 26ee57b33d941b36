//! Sentences on what the noise means to a listener, without markup: for the report, the post and the terminal alike.
//! Not here: tables and layout (`markdown`), the figures (`tally`).

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::{LeftKind, SupplyVerdict};
use crate::findings::listening::result::{ListeningCost, NoiseLevel, StationNoise, SupplyCheck, TargetResult};
use crate::findings::man_made::p372::Standing;
use crate::findings::receiver_check::words::sentences;
use crate::findings::target::judge::Outcome;
use crate::report::contract::Report;
use crate::text::{and, capital, db, interval, label, number};
use crate::warning::Trust;

/// What a comparison costs.
pub(crate) fn cost_of<'a>(report: &'a Report, contrast: &str) -> Option<&'a ListeningCost> {
    report.listening.costs.iter().find(|cost| cost.contrast == contrast)
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

/// As what power others are heard with a device on, before and after its remedies; `None` where nothing sure is lost.
pub(crate) fn heard(contrasts: &[&ContrastResult], report: &Report) -> Option<String> {
    let first = contrasts.first()?;
    let last = contrasts.iter().rfind(|c| c.setting == first.setting)?;
    let told = |c: &ContrastResult| {
        let cost = cost_of(report, &c.id).filter(|_| c.trust == Trust::Sound)?;
        Some((watts_with_interval(cost.heard_100_w_as_w?, cost.heard_100_w_as_ci_w), cost))
    };
    let (power, cost) = told(first)?;
    let clicks = cost.between_clicks_db.map_or_else(String::new, |between| {
        format!(
            ", on average over the clicks and the quiet between (between them the noise is up by {})",
            db(between)
        )
    });
    let mut text =
        format!("To a listener it is as if every other station had turned 100 W down to {power}{clicks}");
    if last.id != first.id && last.trust == Trust::Sound {
        text = text.replacen(" is as if", " was as if", 1);
        text += &match told(last) {
            Some((power, _)) => format!("; with the last remedy, to {power}"),
            None => "; with the last remedy no sure loss is left".to_owned(),
        };
    }
    Some(format!("{text}."))
}

/// Where the station stands against published noise: everything off, then the loudest device.
pub(crate) fn station(noise: &StationNoise) -> String {
    let mut text = format!(
        "With everything off the noise at {} MHz {}.",
        number(noise.freq_mhz, 3),
        stands(&noise.off, noise)
    );
    let loudest = noise.on.iter().max_by(|a, b| a.noise_figure_db.total_cmp(&b.noise_figure_db));
    if let Some(on) = loudest.filter(|on| on.noise_figure_db > noise.off.noise_figure_db) {
        text += &format!(" With the {} on, the noise {}.", on_words(on), stands(on, noise));
    }
    text
}

/// "drill charger (remedy: porch socket)".
pub(crate) fn on_words(level: &NoiseLevel) -> String {
    let remedy = level.remedy.as_deref().map_or_else(String::new, |r| format!(" (remedy: {})", label(r)));
    format!("{}{remedy}", label(level.device.as_deref().unwrap_or("device")))
}

/// "(external noise figure 49.9 dB, 46.9 to 52.9) is 0.8 dB above the median of residential places, within …".
fn stands(level: &NoiseLevel, noise: &StationNoise) -> String {
    let category = noise.categories.iter().find(|c| c.category == level.nearest);
    let spread = category.map_or_else(String::new, |c| {
        format!(" ({} below it to {} above)", db(c.spread_lower_db), db(c.spread_upper_db))
    });
    let over = level.over_median_db;
    let side = if over < 0.0 { "below" } else { "above" };
    let standing = match level.standing {
        Standing::Within => format!("within their usual spread{spread}"),
        Standing::Above => format!("louder than nine in ten of them{spread}"),
        Standing::Below => format!("quieter than nine in ten of them{spread}"),
        Standing::Borderline => {
            format!("at the edge of their usual spread{spread}, too near to it for this calibration to tell")
        }
    };
    format!(
        "(external noise figure {}, {}) is {} {side} the median of {} places in ITU-R P.372, {standing}",
        db(level.noise_figure_db),
        interval(level.noise_figure_ci_db),
        db(over.abs()),
        level.nearest.word()
    )
}

/// What was aimed at: "within 1.0 dB of all off and no carrier above the floor".
pub(crate) fn aim(target: &TargetResult) -> String {
    let told: Vec<String> = [
        target.excess_db.map(|most| format!("noise, clicks and carriers within {} of off", db(most))),
        target.no_carrier.then(|| "no carrier above the floor".to_owned()),
        target.carrier_cnr_db_hz.map(|most| format!("no carrier more than {} over the noise in 1 Hz", db(most))),
    ]
    .into_iter()
    .flatten()
    .collect();
    and(&told)
}

/// Whether the target is met, by which device not, and the largest thing left.
pub(crate) fn target(target: &TargetResult) -> String {
    let of = |outcome: Outcome| -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for device in target.devices.iter().filter(|d| d.outcome == outcome) {
            let name = format!("the {}", label(&device.device));
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    };
    // A device heard at several settings counts by the worst of them.
    let but = |names: Vec<String>, worse: &[&[String]]| -> Vec<String> {
        names.into_iter().filter(|name| worse.iter().all(|list| !list.contains(name))).collect()
    };
    let missed = of(Outcome::NotMet);
    let open = but(of(Outcome::CantTell), &[&missed]);
    let met = but(of(Outcome::Met), &[&missed, &open]);
    let mut text = match target.outcome {
        Outcome::Met => format!("Yes. The aim, {}, is met by {}", aim(target), and(&met)),
        Outcome::NotMet => format!("Not yet. The aim, {}, is not met by {}", aim(target), and(&missed)),
        Outcome::CantTell => format!("That can't be told. The aim: {}", aim(target)),
    };
    if target.outcome != Outcome::Met && !met.is_empty() {
        text += &format!("; it is met by {}", and(&met));
    }
    if !open.is_empty() {
        text += &format!("; of {} it can't be told from these recordings", and(&open));
    }
    text += ".";
    if let Some(left) = &target.largest_left {
        text += &format!(
            " The largest thing left: the {} of the {}, which alone lift{} the noise of the passband by {}.",
            left.kind.word(),
            label(&left.device),
            if left.kind == LeftKind::Noise { "s" } else { "" },
            db(left.lifts_db)
        );
    }
    text
}

/// A supply's check in a sentence or more: "Supply for the lamp (linear supply): do not connect it. …".
pub(crate) fn supply(check: &SupplyCheck) -> String {
    let remedy = check.remedy.as_deref().map_or_else(String::new, |remedy| format!(" ({})", label(remedy)));
    let verdict = match check.verdict {
        SupplyVerdict::Stop => "it does NOT fit".to_owned(),
        SupplyVerdict::Check => "not safe to connect yet".to_owned(),
        SupplyVerdict::Fits => {
            "by the figures given, it fits the device's label. That is no check of the supply itself".to_owned()
        }
    };
    let found = check.findings.iter().map(|f| format!(" {f}")).collect::<String>();
    format!("Supply for the {}{remedy}: {verdict}.{found}", label(&check.device))
}

/// For the terminal: target, published noise, receiver check, supplies, cautions; one line each.
pub fn terminal_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let listening = &report.listening;
    let mut lines: Vec<String> = listening.target.iter().map(|t| format!("Quiet enough? {}", target(t))).collect();
    lines.extend(listening.station_noise.iter().map(station));
    lines.extend(report.receiver_check.iter().map(|check| format!("Receiver check: {}", sentences(check))));
    lines.extend(safety_lines(report));
    lines
}

/// Supplies and cautions only, for before anything is tried.
pub fn safety_lines(report: &Report) -> Vec<String> {
    let listening = &report.listening;
    let mut lines: Vec<String> = listening.supplies.iter().map(supply).collect();
    lines.extend(
        listening.cautions.iter().map(|c| format!("{}: take care. {}", capital(&label(&c.device)), c.text)),
    );
    lines
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
