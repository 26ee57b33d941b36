//! The words for which known noise a comparison resembles.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::known_noise::{Answer, Compared, KnownCandidate, KnownNoise};
use crate::contrast::words::period;
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
    let speaks_against =
        |what: &&Compared| matches!(what, Compared::CarriersGone { .. } | Compared::CarriersNew { .. });
    contrast.resembled().map(|one| {
        let against = one.compared.iter().filter(speaks_against).map(|what| format!("; {}", in_words(what)));
        format!("It resembles the known noise {}{}.", named(one), against.collect::<String>())
    })
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

/// ": over frequency they differ by 0.4 dB; in the depth of their pulsing by 0.05".
fn by(one: &KnownCandidate) -> String {
    let traits: Vec<String> = one.compared.iter().map(in_words).collect();
    if traits.is_empty() { String::new() } else { format!(": {}", traits.join("; ")) }
}

fn in_words(what: &Compared) -> String {
    match *what {
        Compared::Shape { differ_db } => format!("over frequency they differ by {}", db(differ_db)),
        Compared::Pulsing { differ } => format!("in the depth of their pulsing by {}", number(differ, 2)),
        Compared::Clicks { per_s, known_per_s } => {
            format!("{} clicks a second now, {} then", number(per_s, 2), number(known_per_s, 2))
        }
        Compared::Beat { period_s, period_ci_s, known_period_s, known_period_ci_s } => format!(
            "a click every {} now, every {} then",
            period(period_s, period_ci_s),
            period(known_period_s, known_period_ci_s)
        ),
        Compared::Carriers { shared } => {
            format!("carriers at the same places with {} of the strength", percent(shared))
        }
        Compared::CarriersGone { count, known_hz } => format!("{} then, gone now", carriers(count, known_hz)),
        Compared::CarriersNew { count, hz } => format!("{} now, not there then", carriers(count, hz)),
        Compared::Spacing { hz: now, known_hz } => format!("carriers {} apart, {} then", hz(now), hz(known_hz)),
    }
}

/// "a carrier at 900.0 Hz"; of several the strongest.
fn carriers(count: usize, strongest_hz: f64) -> String {
    match count {
        1 => format!("a carrier at {}", hz(strongest_hz)),
        _ => format!("{count} carriers, the strongest at {},", hz(strongest_hz)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(name: &str, resemblance: f64) -> KnownCandidate {
        let compared = vec![Compared::Shape { differ_db: 0.42 }, Compared::Pulsing { differ: 0.05 }];
        KnownCandidate { name: name.into(), resemblance, compared }
    }

    #[test]
    fn what_differs_is_said_so_that_it_shows() {
        let beat =
            Compared::Beat { period_s: 1.3, period_ci_s: 0.0001, known_period_s: 1.2, known_period_ci_s: 0.0002 };
        assert_eq!(in_words(&beat), "a click every 1.300 s, ±0.1 ms now, every 1.200 s, ±0.2 ms then");
        let rates = Compared::Clicks { per_s: 0.77, known_per_s: 0.83 };
        assert_eq!(in_words(&rates), "0.77 clicks a second now, 0.83 then");
        let gone = Compared::CarriersGone { count: 1, known_hz: 900.0 };
        assert_eq!(in_words(&gone), "a carrier at 900.0 Hz then, gone now");
        let new = Compared::CarriersNew { count: 3, hz: 2100.0 };
        assert_eq!(in_words(&new), "3 carriers, the strongest at 2100.0 Hz, now, not there then");
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
