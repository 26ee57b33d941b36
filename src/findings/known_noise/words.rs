//! The words for which known noise a comparison resembles.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::known_noise::{Answer, Compared, KnownCandidate, KnownNoise};
use crate::text::{count, db, hz, label, number, percent};

/// A resemblance below this is printed as 0.00.
const NEAR: f64 = 0.005;

/// The same of one recording by itself, of which only carriers, clicks and the pattern of the pulsing can be held
/// against a known noise.
pub fn of_recording(known: &KnownNoise) -> String {
    sentence(known)
}

/// As sentences; `None` where no folder of known noises was named.
pub fn known_noise(contrast: &ContrastResult) -> Option<String> {
    contrast.known_noise.as_ref().map(sentence)
}

/// The one known noise that a comparison is taken for, without what agrees.
pub fn in_short(contrast: &ContrastResult) -> Option<String> {
    contrast.resembled().map(|one| format!("It resembles the known noise {}.", named(one)))
}

fn sentence(known: &KnownNoise) -> String {
    let all = count(known.held_against, "known noise", "known noises");
    let first = known.candidates.first();
    let mut text = match (known.answer, first) {
        (Answer::One, Some(one)) => {
            format!("It resembles the known noise {}{}.", named(one), by(one))
        }
        (Answer::Either, Some(one)) => {
            let several: Vec<String> = known.candidates.iter().map(named).collect();
            let last = several.len() - 1;
            format!(
                "It could be either {} or {}, which can't be told apart here (the first{}).",
                several[..last].join(", "),
                several[last],
                by(one)
            )
        }
        // What agrees of a noise of another kind would only mislead.
        (Answer::None, Some(one)) if one.resemblance < NEAR && known.held_against > 1 => {
            format!("It is none of the {all}, nor near to one.")
        }
        (Answer::None, Some(one)) if one.resemblance < NEAR => format!("It is not the known noise {}.", named(one)),
        (Answer::None, Some(one)) if known.held_against == 1 => {
            format!("It is not the known noise {}{}.", named(one), by(one))
        }
        (Answer::None, Some(one)) => format!("It is none of the {all}; the nearest is {}{}.", named(one), by(one)),
        (Answer::NotTold, _) | (_, None) => {
            format!("It can't be held against the {all}: nothing was found that tells one noise from another.")
        }
    };
    if known.plain && known.answer != Answer::NotTold {
        text += " Plain, even hash has little of its own: many devices sound so.";
    }
    text
}

/// "lamp (resemblance 0.93)".
fn named(one: &KnownCandidate) -> String {
    format!("{} (resemblance {})", label(&one.name), number(one.resemblance, 2))
}

/// ": shape within 0.4 dB, pulsing within 0.05".
fn by(one: &KnownCandidate) -> String {
    let traits: Vec<String> = one
        .compared
        .iter()
        .map(|what| match *what {
            Compared::Shape { differ_db } => format!("over frequency they differ by {}", db(differ_db)),
            Compared::Pulsing { differ } => format!("in the depth of their pulsing by {}", number(differ, 2)),
            Compared::Clicks { per_s, known_per_s } => {
                format!("{} clicks a second now, {} then", number(per_s, 1), number(known_per_s, 1))
            }
            Compared::Carriers { shared } => {
                format!("carriers at the same places with {} of the strength", percent(shared))
            }
            Compared::Spacing { hz: now, known_hz } => format!("carriers {} apart, {} then", hz(now), hz(known_hz)),
        })
        .collect();
    if traits.is_empty() { String::new() } else { format!(": {}", traits.join("; ")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(name: &str, resemblance: f64) -> KnownCandidate {
        let compared = vec![Compared::Shape { differ_db: 0.42 }, Compared::Pulsing { differ: 0.05 }];
        KnownCandidate { name: name.into(), resemblance, compared }
    }

    #[test]
    fn every_answer_has_its_words() {
        let said = |answer: Answer, candidates: Vec<KnownCandidate>, plain: bool| {
            super::sentence(&KnownNoise { answer, candidates, plain, held_against: 10 })
        };
        assert_eq!(
            said(Answer::One, vec![one("lamp", 0.93)], false),
            "It resembles the known noise lamp (resemblance 0.93): over frequency they differ by 0.4 dB; in the depth of \
             their pulsing by 0.05."
        );
        let either = said(Answer::Either, vec![one("lamp", 0.93), one("pump", 0.6)], true);
        assert!(
            either.starts_with("It could be either lamp (resemblance 0.93) or pump (resemblance 0.60)"),
            "{either}"
        );
        assert!(either.ends_with("many devices sound so."), "{either}");
        let none = said(Answer::None, vec![one("lamp", 0.01)], false);
        assert!(
            none.starts_with("It is none of the 10 known noises; the nearest is lamp (resemblance 0.01)"),
            "{none}"
        );
        assert!(said(Answer::NotTold, vec![], true).starts_with("It can't be held against the 10 known noises"));
    }
}
