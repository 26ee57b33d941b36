//! One comparison in words for titles, cells and sentences. Not here: its verdict (`report::verdict`).

use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Character, multiple_of_mains};
use crate::text::{Words, db, hz, interval, label, number, percent, rate};
use crate::warning::Trust;

/// "14.2 dB (13.9 to 14.5)"; says so where there is no interval.
pub(crate) fn with_interval(value: f64, ci: Option<[f64; 2]>) -> String {
    match ci {
        Some(ends) => format!("{} ({})", db(value), interval(ends)),
        None => format!("{} (interval not known)", db(value)),
    }
}

/// A kind of noise in one or two words, for titles and tables.
pub(crate) fn kind_word(character: Character) -> &'static str {
    match character {
        Character::None => "no change",
        Character::Hash
        | Character::Buzz
        | Character::Clicks
        | Character::Carriers
        | Character::Comb
        | Character::Mixed
        | Character::Unclear => character.code(),
    }
}

/// "the lamp"; a label that brings its own article or owner gets none.
pub(crate) fn thing(device: &str) -> String {
    let name = label(device);
    let first = name.split(' ').next().unwrap_or_default().to_lowercase();
    let owned =
        matches!(first.as_str(), "the" | "a" | "an" | "my" | "our" | "his" | "her" | "their" | "all" | "both")
            || first.ends_with("'s")
            || first.ends_with("’s");
    if owned || name.is_empty() {
        if name.is_empty() { "the device".to_owned() } else { name }
    } else {
        format!("the {name}")
    }
}

/// "14.2 (13.9 to 14.5)"; a dash where the figure means nothing.
pub(crate) fn excess(c: &ContrastResult) -> String {
    match (c.trust, c.excess_db, c.excess_ci_db) {
        (Trust::Void, ..) => "–".to_owned(),
        (_, None, _) => "not measurable".to_owned(),
        (_, Some(_), _) if c.is_too_wide() => "can't be told".to_owned(),
        (_, Some(v), Some(ci)) => format!("{} ({})", number(v, 1), interval(ci)),
        (_, Some(v), None) => format!("{} (interval not known)", number(v, 1)),
    }
}

/// The kind of noise, with rates and, for a mixture, its parts.
pub(crate) fn kind(c: &ContrastResult) -> String {
    if c.is_void() {
        return "–".to_owned();
    }
    let word = label(kind_word(c.character));
    match c.character {
        Character::Buzz => c.mains_rate_hz.map_or(word.clone(), |r| format!("{word}, {} a second", rate(r))),
        Character::Clicks => c.pulse_rate_hz.map_or(word.clone(), |r| format!("{word}, {}", how_often(c, r))),
        Character::Comb => {
            c.comb.as_ref().map_or(word.clone(), |comb| format!("{word}, every {}", hz(comb.spacing_hz)))
        }
        Character::Mixed if c.parts.len() > 1 => {
            let parts: Vec<_> =
                c.parts.iter().map(|p| format!("{} {}", p.character.code(), percent(p.share))).collect();
            format!("{word}: {}", parts.join(", "))
        }
        Character::None | Character::Hash | Character::Carriers | Character::Mixed | Character::Unclear => word,
    }
}

/// How often clicks come: "one every 1.27 s" where they keep a beat slow enough to count, else "13 a second".
pub(crate) fn how_often(c: &ContrastResult, rate_hz: f64) -> String {
    match c.pulse_period_s.filter(|period_s| *period_s >= COUNTED_S) {
        Some(period_s) => format!("one every {} s", number(period_s, 2)),
        None => format!("{} a second", rate(rate_hz)),
    }
}

/// Slower than this a beat is told by its period. Chosen: one counts "one every 0.6 s", but "five a second".
pub(crate) const COUNTED_S: f64 = 0.4;

/// "1.27 s, ±4 ms": a period with half its 95 % interval.
pub(crate) fn period(period_s: f64, ci_s: f64) -> String {
    let (ms, decimals) = (1000.0 * ci_s, usize::from(ci_s < 0.001));
    let digits = if ci_s >= 0.01 { 2 } else { 3 };
    let long = if period_s >= COUNTED_S {
        format!("{} s", number(period_s, digits))
    } else {
        format!("{} ms", number(1000.0 * period_s, decimals))
    };
    format!("{long}, ±{} ms", number(ms.max(0.1), decimals))
}

/// " (twice the 50 Hz mains)": where a rate is half, once or twice a mains frequency, else nothing.
pub(crate) fn mains_multiple(rate_hz: f64, mains_hz: f64) -> String {
    let Some((times, mains_hz)) = multiple_of_mains(rate_hz, mains_hz) else { return String::new() };
    let said = match times {
        t if t < 1.0 => "half ",
        t if t > 1.0 => "twice ",
        _ => "",
    };
    format!(" ({said}the {} Hz mains)", number(mains_hz, 0))
}

/// Trust; what is not sound stands out.
pub(crate) fn trust(c: &ContrastResult) -> Words {
    match c.trust {
        Trust::Sound => c.trust.word().into(),
        _ => Words::strong(c.trust.word()),
    }
}
