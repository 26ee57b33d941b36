//! Numbers with their units, counted words and lists as running text. Not here: what the sentences say.

/// The minus of typeset text.
pub(super) const MINUS: char = '\u{2212}';

/// A number with so many decimals and a typeset minus; never "−0.0".
pub(crate) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        Some(digits) => format!("{MINUS}{digits}"),
        None => text,
    }
}

/// The same with a plus where it is above zero.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if text.starts_with(MINUS) || zero { text } else { format!("+{text}") }
}

/// A figure with one decimal, or a dash where it could not be had.
pub(crate) fn or_dash(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |v| number(v, 1))
}

/// "14.2 dB".
pub(crate) fn db(value: f64) -> String {
    format!("{} dB", number(value, 1))
}

/// A frequency of a line: "1234.5 Hz".
pub(crate) fn hz(value: f64) -> String {
    format!("{} Hz", number(value, 1))
}

/// "13.9 to 14.5".
pub(crate) fn interval(ends: [f64; 2]) -> String {
    format!("{} to {}", number(ends[0], 1), number(ends[1], 1))
}

/// A rate as it is spoken: whole where it is whole, else one decimal; below one a second, two.
pub(crate) fn rate(value: f64) -> String {
    if value < 0.95 {
        number(value, 2)
    } else if (value - value.round()).abs() < 0.05 {
        number(value, 0)
    } else {
        number(value, 1)
    }
}

/// A share as whole percent; what is not all is never printed as all, nor what is not nothing as nothing.
pub(crate) fn percent(share: f64) -> String {
    let whole = (share * 100.0).round();
    if whole >= 100.0 && share < 0.9995 {
        "over 99 %".to_owned()
    } else if share < 0.01 && share > 0.0005 {
        "under 1 %".to_owned()
    } else {
        format!("{} %", number(whole, 0))
    }
}

/// "1 recording", "2 recordings".
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// "once", "twice", "3 times".
pub(crate) fn times(n: usize) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// A stretch of time: "12.0 s", "3 min 05 s", "2 h 07 min".
pub(crate) fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match whole {
        0..60 => format!("{} s", number(seconds, 1)),
        60..3600 => format!("{} min {:02} s", whole / 60, whole % 60),
        _ => format!("{} h {:02} min", (whole + 30) / 3600, (whole + 30) % 3600 / 60),
    }
}

/// "a", "a and b", "a, b and c".
pub(crate) fn and(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Each once, in the order they came.
pub(crate) fn each_once(items: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for item in items {
        if !found.contains(&item) {
            found.push(item);
        }
    }
    found
}

/// The same with the tail counted, so that a long list stays one line.
pub(crate) fn and_at_most(items: &[String], limit: usize) -> String {
    if items.len() <= limit {
        return and(items);
    }
    let rest = items.len() - limit;
    let mut shown = items[..limit].to_vec();
    shown.push(format!("{rest} more"));
    and(&shown)
}

/// Words that stay on the line of the number before them.
const UNITS: [&str; 16] = [
    "dB", "dBFS", "dBm", "Hz", "kHz", "MHz", "s", "ms", "min", "h", "%", "W", "mW", "S-units", "S-unit", "a second",
];

/// Whether a line may end at the space that stands at `at`: not between a number and its unit.
pub(crate) fn may_break(text: &str, at: usize) -> bool {
    let (before, after) = (&text[..at], &text[at + 1..]);
    let is_unit = |unit: &&str| {
        after.strip_prefix(*unit).is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric()))
    };
    !(before.ends_with(|c: char| c.is_ascii_digit()) && UNITS.iter().any(is_unit))
}

/// The first letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// With a stop where it has none.
pub(crate) fn full_sentence(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

/// The first sentence, up to the stop before a capital letter, and what follows it.
pub(crate) fn first_sentence(text: &str) -> (&str, &str) {
    let mut stops = text.match_indices(". ").map(|(at, _)| at);
    let ends = stops.find(|at| text[at + 2..].starts_with(char::is_uppercase));
    ends.map_or((text, ""), |at| (&text[..at], &text[at + 2..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_proper_minus_and_no_negative_zero() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(number(-2.06, 1), "−2.1");
        assert_eq!(signed(14.2, 1), "+14.2");
        assert_eq!(signed(-0.01, 1), "0.0");
        assert_eq!(signed(0.01, 1), "0.0");
        assert_eq!(signed(0.06, 1), "+0.1");
    }

    #[test]
    fn shares_never_claim_all_or_nothing_wrongly() {
        let told: Vec<_> = [0.0, 0.003, 0.61, 0.997, 1.0].map(percent).into();
        assert_eq!(told, ["0 %", "under 1 %", "61 %", "over 99 %", "100 %"]);
    }

    #[test]
    fn counted_words_agree() {
        assert_eq!(count(1, "recording", "recordings"), "1 recording");
        assert_eq!(count(0, "recording", "recordings"), "0 recordings");
        let names: Vec<String> = ["a", "b", "c", "d"].map(String::from).into();
        assert_eq!(and(&names[..3]), "a, b and c");
        assert_eq!(and_at_most(&names, 2), "a, b and 2 more");
    }
}
