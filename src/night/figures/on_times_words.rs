//! The words of the figure that shows when each noise of a night was there.

use crate::contrast::Character;
use crate::night::result::{NightPattern, Regularity};
use crate::report::verdict::kind_word;
use crate::text::{and_at_most, capital, clock, label, times};

/// Noises named in a title.
const NAMED: usize = 3;

/// The row's name: the known noise it resembles, else its kind. Where the level jumped but the comparison found no change, or
/// is void, there is neither.
pub fn on_times_label(known: Option<&str>, kind: Option<Character>) -> String {
    match (known, kind) {
        (Some(name), _) => format!("Like {}", label(name)),
        (None, Some(Character::None)) => "Not found again".to_owned(),
        (None, Some(Character::Unclear)) => "Of no clear kind".to_owned(),
        (None, Some(kind)) => capital(kind_word(kind)),
        (None, None) => "Kind not told".to_owned(),
    }
}

/// "4 times, every 7 min 00 s"; as much as is known.
pub fn on_times_note(came: usize, pattern: Option<&NightPattern>) -> String {
    let came = times(came);
    match pattern.map(|pattern| (pattern.told, pattern.period_s)) {
        Some((Regularity::Even, Some(period_s))) => format!("{came}, every {}", clock(period_s)),
        Some((Regularity::Chance, _)) => format!("{came}, not evenly"),
        _ => came,
    }
}

/// The finding: what comes back evenly, else how often each noise came. `rows`: name and how often each came.
pub fn on_times_title(patterns: &[NightPattern], rows: &[(String, usize)]) -> String {
    let even = patterns.iter().filter(|pattern| pattern.told == Regularity::Even);
    let surest = even.min_by(|a, b| a.chance.unwrap_or(1.0).total_cmp(&b.chance.unwrap_or(1.0)));
    if let Some((pattern, period_s)) = surest.and_then(|pattern| Some((pattern, pattern.period_s?))) {
        return format!("{} comes back every {}", capital(&noise_words(pattern)), clock(period_s));
    }
    let told: Vec<String> = rows.iter().map(|(name, came)| format!("{} {}", lower(name), times(*came))).collect();
    capital(&and_at_most(&told, NAMED))
}

/// "buzz", or "what resembles pump (buzz)".
pub(crate) fn noise_words(pattern: &NightPattern) -> String {
    let kind = kind_word(pattern.kind);
    pattern
        .known
        .as_ref()
        .map_or_else(|| kind.to_owned(), |name| format!("what resembles {} ({kind})", label(name)))
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pattern(told: Regularity, known: Option<&str>) -> NightPattern {
        NightPattern {
            kind: Character::Buzz,
            known: known.map(Into::into),
            episodes: vec![1, 2, 4, 5],
            total_s: 360.0,
            duty: 0.2,
            length_s: Some(90.0),
            length_sd_s: Some(1.0),
            told,
            period_s: Some(420.0),
            period_ci_s: Some([419.0, 421.0]),
            even_from_s: Some(125.0),
            missed: Some(0),
            chance: Some(0.001),
        }
    }

    #[test]
    fn rows_are_named_by_what_is_known() {
        assert_eq!(on_times_label(Some("pond pump"), Some(Character::Buzz)), "Like pond pump");
        assert_eq!(on_times_label(None, Some(Character::Buzz)), "Buzz");
        assert_eq!(on_times_label(None, None), "Kind not told");
        assert_eq!(on_times_note(4, Some(&pattern(Regularity::Even, None))), "4 times, every 7 min 00 s");
        assert_eq!(on_times_note(5, Some(&pattern(Regularity::Chance, None))), "5 times, not evenly");
        assert_eq!(on_times_note(1, None), "once");
    }

    #[test]
    fn the_title_is_the_finding() {
        let rows = [("Buzz".to_owned(), 3), ("Hash".to_owned(), 1)];
        assert_eq!(on_times_title(&[pattern(Regularity::TooFew, None)], &rows), "Buzz 3 times and hash once");
        let even = [pattern(Regularity::Even, Some("pump"))];
        assert_eq!(on_times_title(&even, &rows), "What resembles pump (buzz) comes back every 7 min 00 s");
    }
}
