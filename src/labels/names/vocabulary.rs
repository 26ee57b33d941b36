//! The words that file names are read by, in six languages (`words.toml`), and the bands; which languages a folder
//! shows, by which words are settled that are common in several. Sources: the words of workshops (common practice);
//! bands below.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use serde::Deserialize;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// What a word says; told in the head of `words.toml`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Role {
    Off,
    On,
    With,
    Without,
    Unsure,
    Alone,
    Quiet,
    Terminated,
    Everything,
    All,
    But,
    Idle,
    Scene,
    Antenna,
    Ferrites,
    Many,
    One,
    Remedies,
    Changes,
    Untouched,
    Numbers,
    Turns,
    Lights,
    Again,
    Order,
    Takes,
    And,
    Usual,
}

/// A word in one of its meanings.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Word {
    /// Small letters without accents; may be several words.
    pub text: String,
    pub role: Role,
    pub language: &'static str,
    /// Whether it says so whatever the language of the folder.
    pub is_sure: bool,
    /// What a word for a number counts.
    pub count: u32,
}

const LANGUAGES: [&str; 6] = ["English", "German", "French", "Spanish", "Italian", "Dutch"];

static WORDS: LazyLock<BTreeMap<String, Vec<Word>>> = LazyLock::new(|| {
    let lists: BTreeMap<String, BTreeMap<Role, Vec<String>>> =
        toml::from_str(include_str!("words.toml")).expect("tests read the same text");
    let mut words: BTreeMap<String, Vec<Word>> = BTreeMap::new();
    for language in LANGUAGES {
        let lists = &lists[language];
        let unsure = lists.get(&Role::Unsure).map_or(&[][..], Vec::as_slice);
        for (&role, list) in lists.iter().filter(|(role, _)| **role != Role::Unsure) {
            for (i, entry) in list.iter().enumerate() {
                let forms: Vec<&str> = if role == Role::Numbers { entry.split(' ').collect() } else { vec![entry] };
                for text in forms.into_iter().map(str::to_owned) {
                    let is_sure = !unsure.contains(&text);
                    let count = if role == Role::Numbers { i as u32 + 1 } else { 0 };
                    let known = words.entry(text.clone()).or_default();
                    known.push(Word { text, role, language, is_sure, count });
                }
            }
        }
    }
    words
});

/// A word as the lists have it: small letters without accents; a curled apostrophe is a straight one.
pub(super) fn fold(text: &str) -> String {
    if text.is_ascii() {
        return text.to_ascii_lowercase();
    }
    let plain = text.nfd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase);
    plain.collect::<String>().replace('’', "'").replace('×', "x").replace('ß', "ss")
}

/// What a folded word or phrase may say.
pub(super) fn meanings(folded: &str) -> &'static [Word] {
    WORDS.get(folded).map_or(&[], Vec::as_slice)
}

/// Whether a word may say this, in whatever language.
pub(in crate::labels) fn says(word: &str, role: Role) -> bool {
    meanings(&fold(word)).iter().any(|meaning| meaning.role == role)
}

/// What a word for a number counts.
pub(super) fn count(folded: &str) -> Option<u32> {
    meanings(folded).iter().find(|meaning| meaning.role == Role::Numbers).map(|meaning| meaning.count)
}

/// Words of a phrase at most ("bruit de fond").
pub(super) const LONGEST_PHRASE: usize = 3;

/// The languages that the names of a folder show.
#[derive(Debug, Default)]
pub(crate) struct Tongues(BTreeSet<&'static str>);

impl Tongues {
    /// Of all names, each as its folded words. A word that only one language has tells it, and so do two different
    /// ones of a language that are unsure each.
    pub fn of<'a>(names: impl Iterator<Item = &'a [String]>) -> Self {
        let mut tongues = Self::default();
        let mut unsure: BTreeSet<(&'static str, &'static str)> = BTreeSet::new();
        for words in names {
            for span in 1..=LONGEST_PHRASE {
                for found in words.windows(span).map(|phrase| meanings(&phrase.join(" "))) {
                    let told: Vec<&Word> = found.iter().filter(|w| !COMMON.contains(&w.role)).collect();
                    unsure.extend(told.iter().filter(|w| !w.is_sure).map(|w| (w.language, w.text.as_str())));
                    if let Some(first) = told.first()
                        && told.iter().all(|w| w.is_sure && w.language == first.language)
                    {
                        tongues.0.insert(first.language);
                    }
                }
            }
        }
        for language in LANGUAGES {
            if unsure.iter().filter(|(of, _)| *of == language).count() > 1 {
                tongues.0.insert(language);
            }
        }
        tongues
    }

    /// Whether a word is to be taken for what it says.
    pub fn has(&self, word: &Word) -> bool {
        word.is_sure || self.0.contains(word.language)
    }
}

/// Lists whose words are too common in other languages to tell one.
const COMMON: [Role; 8] =
    [Role::Numbers, Role::Changes, Role::Lights, Role::Scene, Role::One, Role::Order, Role::Takes, Role::And];

/// Before a number: the same thing once more.
pub(super) const REPEAT: &[&str] = &["take", "run", "repeat", "rep", "try", "part", "nr", "no", "copy"];
/// Behind digits: the second, the third ("2nd", "2te", "2e"). Source: six languages (common practice).
const ORDINAL_ENDINGS: &[&str] = &["st", "nd", "rd", "th", "te", "de", "e", "eme"];

/// Whether a folded word tells which take it is: "second", "2nd", "v2".
pub(super) fn is_order(low: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    let is_ordinal = ORDINAL_ENDINGS.iter().any(|ending| low.strip_suffix(ending).is_some_and(digits));
    is_ordinal || low.strip_prefix('v').is_some_and(digits) || says(low, Role::Order)
}

/// Whether a word joins two things: "and", "+".
pub(in crate::labels) fn is_and(word: &str) -> bool {
    matches!(word, "+" | "&") || says(word, Role::And)
}

/// Phrases in which "on" is no state: clip-on ferrite.
pub(super) const BEFORE_ON: &[&str] = &["clip", "snap", "add", "bolt", "screw", "stick", "slip", "push", "based"];
/// On-board charger.
pub(super) const AFTER_ON: &[&str] = &["board", "line", "air", "site", "demand", "grid"];
/// Phrases in which "off" is no state: cut-off filter.
pub(super) const BEFORE_OFF: &[&str] = &["cut", "roll", "take", "hold", "lift", "stand", "trade", "drop", "spin"];
/// Off-centre-fed antenna, off-grid inverter.
pub(super) const AFTER_OFF: &[&str] = &["centre", "center", "grid", "peak", "road", "set", "shore", "line", "air"];

/// Before these, "an", "aus", "aan" and "uit" are "at" and "from": "Lampe an der Wand".
pub(super) const ARTICLES: &[&str] = &["der", "die", "das", "dem", "den", "einer", "einem", "de", "het"];

/// Beside a number of metres: a length, no band.
pub(super) const LENGTHS: &[&str] = &[
    "moved",
    "away",
    "cable",
    "lead",
    "leads",
    "wire",
    "apart",
    "closer",
    "further",
    "at",
    "from",
    "long",
    "length",
    "distance",
    "by",
    "high",
    "up",
    "mast",
    "coax",
    "cord",
    "extension",
    "kabel",
    "leitung",
    "lang",
    "entfernt",
    "abstand",
    "distancia",
    "cavo",
    "distanza",
    "afstand",
];

/// Bands named by their wavelength: amateur (IARU Region 1 HF band plan) and broadcasting (common practice).
pub(super) const BANDS_M: &[u32] =
    &[160, 120, 90, 80, 75, 60, 49, 41, 40, 31, 30, 25, 22, 20, 19, 17, 16, 15, 13, 12, 11, 10];

/// Amateur bands in MHz, the widest of the three IARU regions (ITU Radio Regulations, article 5; from memory).
pub(super) const AMATEUR_MHZ: &[(f64, f64)] = &[
    (1.8, 2.0),
    (3.5, 4.0),
    (5.25, 5.45),
    (7.0, 7.3),
    (10.1, 10.15),
    (14.0, 14.35),
    (18.068, 18.168),
    (21.0, 21.45),
    (24.89, 24.99),
    (28.0, 29.7),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// A word that is not written as names are compared would never be found; an unsure one of no list is a slip.
    #[test]
    fn the_lists_are_written_as_they_are_compared() {
        let lists: BTreeMap<String, BTreeMap<Role, Vec<String>>> =
            toml::from_str(include_str!("words.toml")).unwrap();
        assert_eq!(lists.len(), LANGUAGES.len());
        for (language, lists) in &lists {
            for (role, word) in lists.iter().flat_map(|(role, list)| list.iter().map(move |word| (role, word))) {
                assert_eq!(*word, fold(word), "{language}");
                assert!(*role == Role::Numbers || word.split(' ').count() <= LONGEST_PHRASE, "{language}: {word}");
                let same = lists.values().filter(|list| list.contains(word)).count();
                assert!(*role != Role::Unsure || same > 1, "{language}: {word}");
            }
            assert_eq!(lists[&Role::Numbers].len(), 10, "{language}");
        }
    }

    /// Unicode Standard Annex 15, figure 3: a letter with its mark in one sign or two is the same letter.
    #[test]
    fn accents_and_capitals_make_no_difference() {
        for (written, folded) in
            [("KÜCHE", "kuche"), ("Ku\u{308}che", "kuche"), ("L’Arrêt", "l'arret"), ("Gießen", "giessen")]
        {
            assert_eq!(fold(written), folded);
        }
    }

    #[test]
    fn a_folder_shows_its_languages() {
        let shown = |names: &[&[&str]]| {
            let names: Vec<Vec<String>> =
                names.iter().map(|name| name.iter().map(|word| fold(word)).collect()).collect();
            Tongues::of(names.iter().map(Vec::as_slice)).0.into_iter().collect::<Vec<_>>()
        };
        assert_eq!(shown(&[&["Lampe", "an"], &["Lampe", "aus"]]), ["German"]);
        assert_eq!(shown(&[&["lamp", "an"], &["lamp", "off"]]), ["English"]);
        assert_eq!(shown(&[&["con", "radio"], &["sin", "radio"]]), ["Spanish"]);
        assert_eq!(shown(&[&["con", "radio"]]), [""; 0]);
        assert_eq!(shown(&[&["bruit", "de", "fond"]]), ["French"]);
        // German and Dutch alike.
        assert_eq!(shown(&[&["alles"]]), [""; 0]);
    }
}
