//! Which candidate is named, if any: rarer than chance, with no rival near.

use super::drift;
use super::evidence::Explained;
use super::family::{chance, family};
use super::fitting::{LEAST_HZ, Places, Through, choices};
use super::neighbours::neighbours;
use super::predict::telling;
use super::search::Field;
use super::{
    Answer, CALLED_BELOW, Carrier, Family, Finer, LEAST_MEMBERS, Listening, MOST_CARRIERS, RIVALS_BELOW, Refusal,
};

/// Submultiples of the best spacing that are weighed in any case, and multiples with each of their offsets. Chosen:
/// time against a rival overlooked; held by the bench of combs.
pub(super) const DIVISORS: std::ops::RangeInclusive<i64> = 2..=11;
pub(super) const MULTIPLES: std::ops::RangeInclusive<i64> = 2..=5;
/// Families looked for in one device's carriers. Chosen: a device with more clocks than that has too few carriers
/// of each in an evening.
const MOST_FAMILIES: usize = 3;
/// A part of the spacing that is likelier than this is named as a candidate beside it, not behind it. Chosen: a
/// name is no name that is wrong in more than one of five cases.
const FINER_BELOW: f64 = 0.2;
/// Rivals that are named. Chosen for a readable sentence.
const MOST_NAMED: usize = 4;

/// Finds the families among a device's carriers (any order; those beyond [`MOST_CARRIERS`] are not looked at, nor
/// any place that is no finite number).
pub fn find(carriers: &[Carrier], listenings: &[Listening]) -> Answer {
    search(carriers, listenings, decide)
}

/// The same of spacings that keep still only.
pub fn find_still(carriers: &[Carrier], listenings: &[Listening]) -> Answer {
    search(carriers, listenings, |carriers, listenings| {
        let field = Field { carriers, listenings, choices: choices(carriers, listenings) };
        decide_still(&field).0
    })
}

fn search(
    carriers: &[Carrier],
    listenings: &[Listening],
    decide: impl Fn(&[Carrier], &[Listening]) -> Result<Family, Refusal>,
) -> Answer {
    let is_sound = |c: &Carrier| {
        c.listening < listenings.len() && !c.places_hz.is_empty() && c.places_hz.iter().all(|hz| hz.is_finite())
    };
    let mut left: Vec<usize> = (0..carriers.len().min(MOST_CARRIERS)).filter(|&i| is_sound(&carriers[i])).collect();
    let mut answer = Answer { repeated: repeated(carriers, listenings, &mut left), ..Answer::default() };
    while answer.families.len() < MOST_FAMILIES {
        let some: Vec<Carrier> = left.iter().map(|&i| carriers[i].clone()).collect();
        match decide(&some, listenings) {
            Ok(mut family) => {
                family.members.iter_mut().for_each(|member| member.carrier = left[member.carrier]);
                family.outsiders = family.outsiders.iter().map(|&i| left[i]).collect();
                family.other_sideband.iter_mut().for_each(|hint| hint.0 = left[hint.0]);
                left.retain(|i| family.outsiders.contains(i));
                answer.families.push(family);
            }
            Err(refusal) => {
                if answer.families.is_empty() && !left.is_empty() {
                    if matches!(refusal, Refusal::Chance { .. }) {
                        answer.neighbours = neighbours(&some, listenings);
                    }
                    answer.refusal = Some(refusal);
                }
                break;
            }
        }
    }
    // What belongs to another family is no outsider.
    let taken: Vec<usize> = answer.families.iter().flat_map(|f| f.members.iter().map(|m| m.carrier)).collect();
    answer.families.iter_mut().for_each(|family| family.outsiders.retain(|i| !taken.contains(i)));
    answer
}

/// Takes out carriers that may be another one heard again at an overlapping setting: they are no evidence of their
/// own.
fn repeated(carriers: &[Carrier], listenings: &[Listening], left: &mut Vec<usize>) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    let mut repeated = Vec::new();
    for &i in left.iter() {
        let is_again = |&j: &usize| {
            let (one, other) = (&listenings[carriers[i].listening], &listenings[carriers[j].listening]);
            let within_hz = if carriers[i].listening == carriers[j].listening {
                LEAST_HZ
            } else {
                2.0 * LEAST_HZ + one.half_step_hz + other.half_step_hz
            };
            let near = |a: &f64| carriers[j].places_hz.iter().any(|b| (a - b).abs() <= within_hz);
            carriers[i].places_hz.iter().any(near)
        };
        if kept.iter().any(is_again) { repeated.push(i) } else { kept.push(i) }
    }
    *left = kept;
    repeated
}

/// A spacing that keeps still, else one that drifts.
fn decide(carriers: &[Carrier], listenings: &[Listening]) -> Result<Family, Refusal> {
    let field = Field { carriers, listenings, choices: choices(carriers, listenings) };
    let (still, ln_evidence) = decide_still(&field);
    match still {
        // One that leaves more than it explains may be a part of one that drifts.
        Ok(family) if family.outsiders.len() < family.members.len() => Ok(family),
        Err(Refusal::TooFew { .. }) => still,
        _ => match drift::decide(&field, ln_evidence) {
            Some(Ok(family)) => whole(family, listenings),
            Some(refused) => refused,
            None => still,
        },
    }
}

/// The family, if no part of its spacing is too likely.
fn whole(family: Family, listenings: &[Listening]) -> Result<Family, Refusal> {
    let is_sure = family.finer.iter().all(|part| part.chance <= FINER_BELOW);
    if is_sure { Ok(family) } else { Err(or_finer(&family, listenings)) }
}

/// With the greatest evidence, as a natural logarithm.
fn decide_still(field: &Field<'_>) -> (Result<Family, Refusal>, Option<f64>) {
    if field.carriers.len() < LEAST_MEMBERS {
        return (Err(Refusal::TooFew { carriers: field.carriers.len() }), None);
    }
    let all = explained(field);
    let ln_evidence = all.first().map(|best| best.ln_evidence);
    (of_explained(field, &all), ln_evidence)
}

fn of_explained(field: &Field<'_>, all: &[Explained]) -> Result<Family, Refusal> {
    let Some((best, others)) = all.split_first() else { return Err(Refusal::Chance { best: None }) };
    let chance = chance(best);
    if chance > CALLED_BELOW {
        return Err(Refusal::Chance { best: Some((best.places.spacing_hz, chance)) });
    }
    let rivals = rivals(best, others);
    // As it is, or, where the numbers can't be told, with an offset of which nothing is known.
    for (through, unknown) in [(best.places.through, false), (Through::Offset, true)] {
        let Some(mut family) = family(field, best, through, unknown) else { continue };
        let (low, high) = family.spacing_ci_hz;
        let outside = |rival: &&(&Explained, f64)| !(low..=high).contains(&rival.0.places.spacing_hz);
        family.rivals = rivals.iter().filter(outside).map(|rival| rival.1).sum();
        if family.rivals <= RIVALS_BELOW {
            let instead = drift::instead(field, &family, best.choice);
            return if instead.is_empty() {
                whole(family, field.listenings)
            } else {
                Err(or_drifting(&family, &instead))
            };
        }
    }
    Err(ambiguous(field, best, &rivals))
}

/// What explains the carriers, with submultiples and multiples of the best, by evidence.
fn explained(field: &Field<'_>) -> Vec<Explained> {
    let by_evidence = |a: &Explained, b: &Explained| b.ln_evidence.total_cmp(&a.ln_evidence);
    let likeliest = |near: Places| {
        let choices = 0..field.choices.len();
        choices.filter_map(|choice| Explained::new(field, near, choice)).min_by(by_evidence)
    };
    let mut found: Vec<Explained> = field.candidates().into_iter().filter_map(likeliest).collect();
    found.sort_by(by_evidence);
    let Some(best) = found.first().map(|best| best.places) else { return found };
    let divided = |by: i64| Places { spacing_hz: best.spacing_hz / by as f64, ..best };
    found.extend(DIVISORS.filter_map(|by| likeliest(divided(by))));
    for by in MULTIPLES {
        let multiple = Places { spacing_hz: best.spacing_hz * by as f64, ..best };
        found.extend(likeliest(multiple));
        let beside = |class: i64| Places {
            origin_hz: best.origin_hz + class as f64 * best.spacing_hz,
            through: Through::Offset,
            ..multiple
        };
        found.extend((1..by).filter_map(|class| likeliest(beside(class))));
    }
    found.sort_by(by_evidence);
    found
}

/// Other spacings that explain mostly the same carriers, with their weight against the best, heaviest first.
fn rivals<'a>(best: &Explained, others: &'a [Explained]) -> Vec<(&'a Explained, f64)> {
    let mut found: Vec<(&Explained, f64)> = Vec::new();
    for other in others {
        let is_shared = |carrier: usize| best.members.iter().any(|member| member.carrier == carrier);
        let common = other.members.iter().filter(|member| is_shared(member.carrier)).count();
        let known = found.iter().any(|(known, _)| known.is_same_spacing(other));
        if 2 * common >= other.members.len() && !other.is_same_spacing(best) && !known {
            found.push((other, (other.ln_evidence - best.ln_evidence).exp()));
        }
    }
    found
}

fn ambiguous(field: &Field<'_>, best: &Explained, rivals: &[(&Explained, f64)]) -> Refusal {
    let whole = 1.0 + rivals.iter().map(|rival| rival.1).sum::<f64>();
    let named = &rivals[..rivals.len().min(MOST_NAMED - 1)];
    let mut candidates = vec![(best.places.spacing_hz, 1.0 / whole)];
    candidates.extend(named.iter().map(|(rival, weight)| (rival.places.spacing_hz, weight / whole)));
    let fitted = |one: &Explained| family(field, one, one.places.through, false);
    let telling = named.iter().find_map(|(rival, _)| telling(&fitted(best)?, &fitted(rival)?, field.listenings));
    Refusal::Ambiguous { candidates, telling }
}

/// A spacing of which half might be true as well, for all that was listened to.
fn or_finer(family: &Family, listenings: &[Listening]) -> Refusal {
    let likely: Vec<_> = family.finer.iter().filter(|part| part.chance > RIVALS_BELOW).collect();
    // A chance of p against the whole alone is a weight of p/(1 − p).
    let weight = |part: &Finer| part.chance / (1.0 - part.chance);
    let whole = 1.0 + likely.iter().map(|part| weight(part)).sum::<f64>();
    let mut candidates = vec![(family.spacing_hz, 1.0 / whole)];
    candidates.extend(likely.iter().map(|part| (family.spacing_hz / part.divisor as f64, weight(part) / whole)));
    let telling = likely.first().and_then(|part| {
        let divided = Family {
            spacing_hz: family.spacing_hz / part.divisor as f64,
            members: family
                .members
                .iter()
                .map(|m| super::Member { harmonic: m.harmonic * part.divisor, ..*m })
                .collect(),
            ..family.clone()
        };
        telling(family, &divided, listenings)
    });
    Refusal::Ambiguous { candidates, telling }
}

/// A spacing that keeps still, or others that drift.
fn or_drifting(family: &Family, drifting_hz: &[f64]) -> Refusal {
    let mut others: Vec<f64> = drifting_hz.to_vec();
    others.sort_by(|a, b| (a - family.spacing_hz).abs().total_cmp(&(b - family.spacing_hz).abs()));
    // None is likelier than another: what is known of drifts is too little.
    let all = others.iter().take(MOST_NAMED - 1).copied();
    let spacings: Vec<f64> = std::iter::once(family.spacing_hz).chain(all).collect();
    let share = 1.0 / spacings.len() as f64;
    Refusal::Ambiguous { candidates: spacings.into_iter().map(|hz| (hz, share)).collect(), telling: None }
}
