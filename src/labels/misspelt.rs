//! Devices and remedies that are counted as two because a letter differs, or because a name was cut short.

use super::key::{edit_distance, words};
use super::label::Session;
use super::printable::quoted;
use super::together::Present;
use crate::text::each_once;
use crate::warning::{Code, Warning};

/// Letters of a word from which one that differs is rather a slip than another name: "fan A" and "fan B" are two
/// fans. Chosen.
const LONG_WORD: usize = 5;

/// Says which devices, and which remedies of one device, differ by a letter, and which devices may be one.
pub(super) fn misspelt(session: &mut Session) {
    let devices = each_once(session.contrasts.iter().map(|plan| plan.device.clone()));
    let mut found = pairs(&devices, "devices");
    for device in &devices {
        let own = session.contrasts.iter().filter(|plan| plan.device == *device);
        found.extend(pairs(&each_once(own.filter_map(|plan| plan.remedy.clone())), "remedies"));
    }
    found.extend(cut_short(session, &devices));
    session.warnings.extend(found);
}

/// A device recorded only with a remedy lacks its first step, which one of a longer or shorter name may be: "lamp"
/// and "kitchen lamp". Where both were recorded without a remedy they are rather two.
fn cut_short(session: &Session, devices: &[String]) -> Vec<Warning> {
    let is_bare =
        |device: &&String| session.contrasts.iter().any(|plan| plan.device == **device && plan.remedy.is_none());
    let one = devices.iter().filter(|device| !Present::is_of_several(device));
    let (bare, treated): (Vec<&String>, Vec<&String>) = one.partition(is_bare);
    let said = |a: &String, b: &String| {
        let message = format!(
            "{} was recorded only with a remedy, and {} is counted as another device. If they are one, write them \
             alike.",
            quoted(a),
            quoted(b)
        );
        Warning::new(Code::Label, message)
    };
    let all = treated.iter().flat_map(|a| bare.iter().map(move |b| (*a, *b)));
    all.filter(|(a, b)| holds(a, b) || holds(b, a)).map(|(a, b)| said(a, b)).collect()
}

/// Whether all words of the shorter name, and not only they, are words of the longer one.
fn holds(longer: &str, shorter: &str) -> bool {
    let of = |name: &str| name.split_whitespace().map(words).collect::<Vec<String>>();
    let (longer, shorter) = (of(longer), of(shorter));
    shorter.len() < longer.len() && shorter.iter().all(|word| longer.contains(word))
}

fn pairs(names: &[String], what: &str) -> Vec<Warning> {
    let said = |a: &String, b: &String| {
        let message = format!(
            "{} and {} are counted as two {what}. If they are one, write them alike.",
            quoted(a),
            quoted(b)
        );
        Warning::new(Code::Label, message)
    };
    let later = |n: usize| names[n + 1..].iter().map(move |b| (&names[n], b));
    let all = (0..names.len()).flat_map(later);
    all.filter(|(a, b)| is_slip(a, b)).map(|(a, b)| said(a, b)).collect()
}

/// Whether two names differ by one letter of one long word.
fn is_slip(a: &str, b: &str) -> bool {
    let letters = |word: &str| word.chars().all(char::is_alphabetic) && word.chars().count() >= LONG_WORD;
    let (own, other): (Vec<&str>, Vec<&str>) = (a.split_whitespace().collect(), b.split_whitespace().collect());
    let mut differ = own.iter().zip(&other).filter(|(a, b)| words(a) != words(b));
    let (Some((a, b)), None) = (differ.next(), differ.next()) else { return false };
    own.len() == other.len() && letters(a) && letters(b) && edit_distance(&words(a), &words(b)) == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_a_letter_in_a_long_word() {
        for (a, b) in
            [("aquarium lamp", "aquarim lamp"), ("Charger", "chrager"), ("ferrite on lead", "ferite on lead")]
        {
            assert!(is_slip(a, b), "{a} {b}");
        }
        for (a, b) in [("fan A", "fan B"), ("lamp 1", "lamp 2"), ("lamp", "damp"), ("LED lamp", "led  LAMP")] {
            assert!(!is_slip(a, b), "{a} {b}");
        }
        assert!(!is_slip("kitchen lamp", "chicken lamps") && !is_slip("charger", "charger hall"));
    }

    #[test]
    fn a_name_holds_another_by_whole_words() {
        assert!(holds("pantry LED lamp", "Lamp") && holds("pantry LED lamp", "pantry lamp"));
        assert!(!holds("lamp", "lamp") && !holds("lampshade heater", "lamp") && !holds("lamp", "pantry lamp"));
    }
}
