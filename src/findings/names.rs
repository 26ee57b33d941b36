//! What figures are called: in titles, in captions, as files.

use crate::contrast::comparison::ContrastResult;
use crate::text::capital;

pub(crate) fn named(result: &ContrastResult) -> String {
    match &result.remedy {
        Some(remedy) => format!("{}, {remedy}", capital(&result.device)),
        None => capital(&result.device),
    }
}

/// Words as a part of a file name: lower-case letters and digits joined by hyphens, with a hyphen behind; empty
/// where nothing is left of them.
pub(crate) fn slug(words: &str) -> String {
    let mut out = String::new();
    for letter in words.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_alphanumeric() {
            out.push(letter);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.len() >= 40 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { String::new() } else { format!("{out}-") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_plain_whatever_the_labels() {
        assert_eq!(slug("Drill charger, 2x ferrite"), "drill-charger-2x-ferrite-");
        assert_eq!(slug("../../etc | \"x\""), "etc-x-");
        assert_eq!(slug("лампа"), "");
    }
}
