//! When two labels mean the same: words compared without regard to case and spaces, names in natural order.

use std::cmp::Ordering;

use unicode_normalization::UnicodeNormalization;

/// What a user's words are compared by: "Linear supply", "linear  supply", "linear-supply" and "linearsupply" are
/// one, and so is a letter with its accent in one sign or in two (some systems cut names so). A hyphen is a space
/// only between letters: "-10 dB" is not "10 dB".
pub fn words(text: &str) -> String {
    let chars: Vec<char> = text.nfc().collect();
    let between_letters = |i: usize| {
        let before = i.checked_sub(1).and_then(|j| chars.get(j));
        [before, chars.get(i + 1)].iter().all(|c| c.is_some_and(|c| c.is_alphabetic()))
    };
    chars
        .iter()
        .enumerate()
        .filter(|&(i, &c)| !(c.is_whitespace() || c == '_' || (c == '-' && between_letters(i))))
        .flat_map(|(_, c)| c.to_lowercase())
        .collect()
}

/// Order of names as people count: "2" before "10", capitals beside small letters.
pub(super) fn natural(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    loop {
        let order = match (left.chars().next(), right.chars().next()) {
            (None, None) => return a.cmp(b),
            (None, _) => return Ordering::Less,
            (_, None) => return Ordering::Greater,
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let (number_left, rest_left) = split_digits(left);
                let (number_right, rest_right) = split_digits(right);
                (left, right) = (rest_left, rest_right);
                number_left.len().cmp(&number_right.len()).then_with(|| number_left.cmp(number_right))
            }
            (Some(x), Some(y)) => {
                (left, right) = (&left[x.len_utf8()..], &right[y.len_utf8()..]);
                x.to_lowercase().cmp(y.to_lowercase())
            }
        };
        if order != Ordering::Equal {
            return order;
        }
    }
}

/// The leading number without its leading zeros, and what follows it.
fn split_digits(text: &str) -> (&str, &str) {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    (text[..end].trim_start_matches('0'), &text[end..])
}

/// How many letters must be changed, added, left out or swapped with their neighbour to turn `a` into `b`
/// (optimal string alignment, a restricted form of Damerau 1964).
pub(super) fn edit_distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let changed = above[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut best = changed.min(above[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(before[j - 2] + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut above, row);
    }
    above[b.len()]
}

/// The known word that was most likely meant, if one is near enough.
pub(super) fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    // A long word would make the table large, and resembles nothing we know.
    if word.chars().count() > 40 {
        return None;
    }
    let word = word.to_lowercase();
    let plain = |s: &str| s.replace(['-', '_', ' '], "").to_lowercase();
    known
        .iter()
        .map(|k| (if plain(k) == plain(&word) { 0 } else { edit_distance(&word, &k.to_lowercase()) }, *k))
        .filter(|(distance, k)| *distance <= k.chars().count().max(3) / 3)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, k)| k)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_compared_without_case_and_spaces() {
        for same in ["Linear supply", "linear  SUPPLY", "linear-supply", "linearsupply", " linear_supply "] {
            assert_eq!(words(same), "linearsupply");
        }
        // The two forms of one letter: Unicode Standard Annex 15, figure 3.
        assert_eq!(words("Ku\u{308}che"), words("K\u{fc}che"));
        assert_ne!(words("-10 dB"), words("10 dB"));
        assert_ne!(words("ferrite 2"), words("ferrite 3"));
    }

    #[test]
    fn names_are_sorted_as_people_count() {
        let mut names = vec!["10-on", "2-on", "1-off", "02-on", "b", "A", "2-On"];
        names.sort_by(|a, b| natural(a, b));
        assert_eq!(names, ["1-off", "02-on", "2-On", "2-on", "10-on", "A", "b"]);
    }

    /// The worked distances of the textbook: kitten to sitting is 3 (Levenshtein), a swap of neighbours counts 1.
    #[test]
    fn distances_are_those_of_the_textbook() {
        for (a, b, distance) in
            [("kitten", "sitting", 3), ("", "abc", 3), ("abc", "", 3), ("devcie", "device", 1), ("same", "same", 0)]
        {
            assert_eq!(edit_distance(a, b), distance, "{a} to {b}");
        }
    }

    #[test]
    fn nearest_word_is_found_or_none() {
        let known = ["device", "remedy", "dial_khz", "mode", "on", "off"];
        assert_eq!(nearest("devcie", &known), Some("device"));
        assert_eq!(nearest("dialkHz", &known), Some("dial_khz"));
        assert_eq!(nearest("weather", &known), None);
    }
}
