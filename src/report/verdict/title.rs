//! A verdict in one short line, for the titles of figures. Not here: the full sentences.

use super::{Change, PROBABLE, SURE, beside_the_family, counts_clicks, is_lines_only, is_noticeable};
use crate::contrast::comparison::ContrastResult;
use crate::text::{capital, db, hz, label, rate, shorten, signed};
use crate::warning::Trust;

/// Columns for device and remedy in a title.
const TITLE_COLUMNS: usize = 32;

/// One short line, such as "Charger: +14.2 dB of buzz at 100 Hz"; a title for figures. No markup; typeset signs.
pub fn headline(contrast: &ContrastResult) -> String {
    let device = capital(&shorten(&label(&contrast.device), TITLE_COLUMNS));
    let who = match &contrast.remedy {
        Some(remedy) => format!("{device} ({})", shorten(&label(remedy), TITLE_COLUMNS)),
        None => device,
    };
    match contrast.trust {
        Trust::Void => format!("{who}: no result, the comparison is void"),
        Trust::Doubtful => format!("{who}: {}, doubtful", short_verdict(contrast)),
        Trust::Sound => format!("{who}: {}", short_verdict(contrast)),
    }
}

fn short_verdict(c: &ContrastResult) -> String {
    let change = Change::of(c);
    let kind = short_kind(c);
    match (c.character.as_str(), change) {
        ("none" | "hash" | "buzz" | "unclear", Change::Down(drop, _)) if is_noticeable(drop, c) => {
            format!("{} dB, quieter when on", signed(-drop, 1))
        }
        ("none", Change::Unknown) => "no new line, noise not measurable".to_owned(),
        ("none", _) => match c.detection_limit_db {
            Some(limit) if c.trust == Trust::Sound => format!("no change found, limit {}", db(limit)),
            _ => "no change found".to_owned(),
        },
        ("unclear", Change::Unknown) => "not measurable".to_owned(),
        ("unclear", Change::NotSure(v, _)) => format!("{} dB, unclear", signed(v, 1)),
        ("unclear", Change::Up(v, _)) => format!("{} dB, kind unclear", signed(v, 1)),
        ("clicks", Change::Unknown) => format!("{kind}, dB not measurable"),
        ("clicks", Change::NotSure(..)) => format!("{kind}, no sure rise on average"),
        ("clicks", Change::Up(v, _)) => format!("{kind}, {} dB on average", signed(v, 1)),
        ("clicks", Change::Down(drop, _)) => format!("{kind}, yet {} dB on average", signed(-drop, 1)),
        ("carriers" | "comb", _) => format!("{kind}{}", in_total(c)),
        ("mixed", _) if is_lines_only(c) => format!("{kind}{}", in_total(c)),
        ("mixed", Change::Unknown | Change::NotSure(..) | Change::Down(..)) => format!("{kind}{}", in_total(c)),
        (_, Change::Unknown) => format!("{kind}, dB not measurable"),
        (_, Change::NotSure(v, _)) => format!("{} dB, no sure change", signed(v, 1)),
        (_, Change::Down(drop, _)) => format!("{} dB, quieter when on", signed(-drop, 1)),
        (_, Change::Up(v, _)) if counts_clicks(c) => format!("{kind}, {} dB on average", signed(v, 1)),
        (_, Change::Up(v, _)) if c.confidence < SURE => format!("{} dB, {kind}", signed(v, 1)),
        (_, Change::Up(v, _)) => format!("{} dB of {kind}", signed(v, 1)),
    }
}

/// "buzz at 100 Hz", "probably hash", "perhaps clicks, 1.3 a second".
fn short_kind(c: &ContrastResult) -> String {
    let kind = match c.character.as_str() {
        "carriers" | "comb" => new_lines_short(c),
        "clicks" => {
            c.pulse_rate_hz.map_or_else(|| "clicks".to_owned(), |r| format!("clicks, {} a second", rate(r)))
        }
        "buzz" => c.mains_rate_hz.map_or_else(|| "buzz".to_owned(), |r| format!("buzz at {} Hz", rate(r))),
        "mixed" if is_lines_only(c) => match beside_the_family(c) {
            0 => new_lines_short(c),
            others => format!("{} and {others} more", new_lines_short(c)),
        },
        "mixed" if counts_clicks(c) => "mixed noise with clicks".to_owned(),
        "mixed" => "mixed noise".to_owned(),
        other => label(other),
    };
    match c.confidence {
        sure if sure < PROBABLE => format!("perhaps {kind}"),
        sure if sure < SURE => format!("probably {kind}"),
        _ => kind,
    }
}

fn in_total(c: &ContrastResult) -> String {
    c.total_excess_db.map_or_else(String::new, |total| format!(", {} dB in all", signed(total, 1)))
}

fn new_lines_short(c: &ContrastResult) -> String {
    match &c.comb {
        Some(comb) => format!("{} carriers every {}", comb.lines, hz(comb.spacing_hz)),
        None => match c.added_lines.as_slice() {
            [] => "new carriers".to_owned(),
            [only] => format!("1 new carrier at {}", hz(only.freq_hz)),
            [strongest, ..] => {
                format!("{} new carriers, strongest at {}", c.added_lines.len(), hz(strongest.freq_hz))
            }
        },
    }
}
