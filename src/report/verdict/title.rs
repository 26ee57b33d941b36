//! A verdict in one short line, for the titles of figures. Not here: the full sentences.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{how_often, kind_word};
use crate::contrast::{Certainty, Change, Character};
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
        Trust::Sound | Trust::Unrepeated => format!("{who}: {}", short_verdict(contrast)),
    }
}

fn short_verdict(c: &ContrastResult) -> String {
    use Character::{Buzz, Carriers, Clicks, Comb, Hash, Mixed, None, Unclear};
    let kind = short_kind(c);
    match (c.character, c.change()) {
        (Mixed, change) if c.is_lines_only() || !change.is_up() => format!("{kind}{}", in_total(c)),
        (None | Hash | Buzz | Mixed | Unclear, Change::Down(drop, _)) => {
            format!("{} dB, quieter when on", signed(-drop, 1))
        }
        (None, Change::Unknown) => "no new line, noise not measurable".to_owned(),
        (None, Change::NotSure(..) | Change::Up(..)) => match c.detection_limit_db {
            Some(limit) if c.is_unspoilt() => format!("no change found, limit {}", db(limit)),
            _ => "no change found".to_owned(),
        },
        (Unclear, Change::Unknown) => "not measurable".to_owned(),
        (Unclear, Change::NotSure(v, _)) => format!("{} dB, unclear", signed(v, 1)),
        (Unclear, Change::Up(v, _)) => format!("{} dB, kind unclear", signed(v, 1)),
        (Clicks, Change::Unknown) => format!("{kind}, dB not measurable"),
        (Clicks, Change::NotSure(..)) => format!("{kind}, no sure rise on average"),
        (Clicks, Change::Up(v, _)) => format!("{kind}, {} dB on average", signed(v, 1)),
        (Clicks, Change::Down(drop, _)) => format!("{kind}, yet {} dB on average", signed(-drop, 1)),
        (Carriers | Comb, _) => format!("{kind}{}", in_total(c)),
        (Hash | Buzz | Mixed, Change::Unknown) => format!("{kind}, dB not measurable"),
        (Hash | Buzz | Mixed, Change::NotSure(v, _)) => format!("{} dB, no sure change", signed(v, 1)),
        (Hash | Buzz | Mixed, Change::Up(v, _)) if c.counts_clicks() => {
            format!("{kind}, {} dB on average", signed(v, 1))
        }
        (Hash | Buzz | Mixed, Change::Up(v, _)) if c.certainty() != Certainty::Stated => {
            format!("{} dB, {kind}", signed(v, 1))
        }
        (Hash | Buzz | Mixed, Change::Up(v, _)) => format!("{} dB of {kind}", signed(v, 1)),
    }
}

/// "buzz at 100 Hz", "probably hash", "perhaps clicks, one every 1.25 s".
fn short_kind(c: &ContrastResult) -> String {
    let kind = match c.character {
        Character::Carriers | Character::Comb => new_lines_short(c),
        Character::Clicks => {
            c.pulse_rate_hz.map_or_else(|| "clicks".to_owned(), |r| format!("clicks, {}", how_often(c, r)))
        }
        Character::Buzz => c.mains_rate_hz.map_or_else(|| "buzz".to_owned(), |r| format!("buzz at {} Hz", rate(r))),
        Character::Mixed if c.is_lines_only() => match c.beside_the_family() {
            0 => new_lines_short(c),
            others => format!("{} and {others} more", new_lines_short(c)),
        },
        Character::Mixed if c.counts_clicks() => "mixed noise with clicks".to_owned(),
        Character::Mixed => "mixed noise".to_owned(),
        Character::None | Character::Hash | Character::Unclear => kind_word(c.character).to_owned(),
    };
    match c.certainty() {
        Certainty::Perhaps => format!("perhaps {kind}"),
        Certainty::Probable => format!("probably {kind}"),
        Certainty::Stated => kind,
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
