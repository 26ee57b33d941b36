//! The words for which known noise a comparison resembles.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::known_noise::{Answer, Compared, KnownCandidate, KnownNoise};
use crate::contrast::words::period;
use crate::text::{and, count, db, hz, label, number, percent};

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
    contrast.resembled().map(|one| format!("It resembles the known noise {}{}.", named(one), against(one)))
}

/// "; a carrier at 900.0 Hz then, gone now": what speaks against it all the same.
fn against(one: &KnownCandidate) -> String {
    let speaks = |what: &&Compared| matches!(what, Compared::CarriersGone { .. } | Compared::CarriersNew { .. });
    one.compared.iter().filter(speaks).map(|what| format!("; {}", in_words(what))).collect()
}

fn sentence(known: &KnownNoise) -> String {
    let all = count(known.held_against, "known noise", "known noises");
    let first = known.candidates.first();
    let mut text = match (known.answer, first) {
        (Answer::One, Some(one)) => {
            format!("It resembles the known noise {}{}.", named(one), by(one))
        }
        (Answer::Either, Some(one)) => {
            let further = |one: &KnownCandidate| format!("{} ({})", label(&one.name), number(one.resemblance, 2));
            let mut several = vec![named(one)];
            several.extend(known.candidates[1..].iter().map(further));
            let last = several.pop().unwrap_or_default();
            format!("It could be {} or {last}{}.", several.join(", "), against(one))
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
            format!("It can't be held against the {all}: no trait of both tells one noise from another.")
        }
    };
    if let Some(first) = known.same_carrier.first() {
        let names: Vec<String> = known.same_carrier.iter().map(|one| label(&one.name)).collect();
        text += &format!(" But a carrier stands at {}, where {} had one.", hz(first.hz), and(&names));
    }
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
        Compared::Beat { period_s, period_ci_s, known_period_s, known_period_ci_s } => {
            let both = [(period_s, period_ci_s), (known_period_s, known_period_ci_s)];
            // Without its interval: that holds the question whether they differ, and is answered.
            let [now, then] =
                both.map(|(s, ci_s)| period(s, ci_s).split(',').next().unwrap_or_default().to_owned());
            match now == then || (period_s - known_period_s).abs() <= period_ci_s.hypot(known_period_ci_s) {
                true => format!("a click every {now}, now as then"),
                false => format!("a click every {now} now, {then} then"),
            }
        }
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
    use crate::contrast::known_noise::SameCarrier;

    fn one(name: &str, resemblance: f64) -> KnownCandidate {
        let compared = vec![Compared::Shape { differ_db: 0.42 }, Compared::Pulsing { differ: 0.05 }];
        KnownCandidate { name: name.into(), resemblance, compared }
    }

    #[test]
    fn what_differs_is_said_so_that_it_shows() {
        let beat =
            Compared::Beat { period_s: 1.3, period_ci_s: 0.0001, known_period_s: 1.2, known_period_ci_s: 0.0002 };
        assert_eq!(in_words(&beat), "a click every 1.300 s now, 1.200 s then");
        let same =
            Compared::Beat { period_s: 1.2, period_ci_s: 1e-4, known_period_s: 1.2001, known_period_ci_s: 1e-4 };
        assert_eq!(in_words(&same), "a click every 1.200 s, now as then");
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
            let same_carrier = vec![];
            super::sentence(&KnownNoise { answer, candidates, plain, held_against: 10, same_carrier })
        };
        assert_eq!(
            said(Answer::One, vec![one("lamp", 0.93)], false),
            "It resembles the known noise lamp (resemblance 0.93): over frequency they differ by 0.4 dB; in the depth of \
             their pulsing by 0.05."
        );
        let either = said(Answer::Either, vec![one("lamp", 0.93), one("pump", 0.6)], true);
        assert!(
            either.starts_with("It could be lamp (resemblance 0.93) or pump (0.60). Plain, even hash"),
            "{either}"
        );
        assert!(either.ends_with("many devices sound so."), "{either}");
        let none = said(Answer::None, vec![one("lamp", 0.01)], false);
        assert!(
            none.starts_with("It is none of the 10 known noises; the nearest is lamp (resemblance 0.01)"),
            "{none}"
        );
        assert!(said(Answer::NotTold, vec![], true).starts_with("It can't be held against the 10 known noises"));
        let same_carrier = vec![SameCarrier { name: "router".into(), hz: 1234.5 }];
        let answer = Answer::NotTold;
        let known = KnownNoise { answer, candidates: vec![], plain: false, held_against: 4, same_carrier };
        assert!(
            super::sentence(&known).ends_with("But a carrier stands at 1234.5 Hz, where router had one."),
            "{}",
            super::sentence(&known)
        );
    }
}
