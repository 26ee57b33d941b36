//! Words for what warnings say, and changes in S-units. Not here: whole sentences (`verdict`), numbers and counts
//! (`text`).

use crate::report::prose::PROSE;
use crate::warning::{Code, Warning};

/// How many S-units a change is, to the nearest half, in words; nothing below a quarter of a unit.
///
/// Source: 6 dB a unit, IARU Region 1 Technical Recommendation R.1. A change needs no anchor; a reading would.
pub(crate) fn s_units_of_change(change_db: f64) -> Option<String> {
    const WORDS: [&str; 11] = ["", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let halves = (change_db.abs() / 3.0).round();
    if !(1.0..=21.0).contains(&halves) {
        return None;
    }
    let (whole, half) = (halves as usize / 2, halves as usize % 2 == 1);
    Some(match (whole, half) {
        (0, _) => "half an S-unit".to_owned(),
        (1, false) => "one S-unit".to_owned(),
        (n, false) => format!("{} S-units", WORDS[n]),
        (n, true) => format!("{} and a half S-units", WORDS[n]),
    })
}

/// What a warning is about, in a few words that can follow "because of".
pub(crate) fn cause(code: Code) -> &'static str {
    &PROSE.warnings[&code].cause
}

/// Whether a warning merely notes what was done or on what a figure hangs, and speaks against none.
pub(crate) fn is_note(code: Code) -> bool {
    matches!(code, Code::SetAside | Code::Guessed | Code::GainUnknown | Code::SilentEnds)
}

/// What to do before the next try, as an order without its stop; nothing where no simple step helps.
pub(crate) fn next_step(code: Code) -> Option<&'static str> {
    PROSE.warnings.get(&code)?.next_step.as_deref()
}

/// The causes of some warnings, each once, in the order they came.
pub(crate) fn causes<'a>(warnings: impl IntoIterator<Item = &'a Warning>) -> Vec<String> {
    let mut found: Vec<&str> = Vec::new();
    for words in warnings.into_iter().map(|warning| cause(warning.code)) {
        if !found.contains(&words) {
            found.push(words);
        }
    }
    found.into_iter().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IARU Region 1 Technical Recommendation R.1: one S-unit is 6 dB.
    #[test]
    fn changes_are_told_in_s_units_of_6_db() {
        let told = [1.0, 3.0, 6.0, 9.1, 14.2, -12.0, 60.0, 90.0].map(s_units_of_change);
        let told: Vec<_> = told.iter().map(|t| t.as_deref().unwrap_or("-")).collect();
        assert_eq!(
            told,
            [
                "-",
                "half an S-unit",
                "one S-unit",
                "one and a half S-units",
                "two and a half S-units",
                "two S-units",
                "ten S-units",
                "-"
            ]
        );
    }
}
