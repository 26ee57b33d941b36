//! Which candidate is named, if any: rarer than chance, with no rival near.

use super::predict::telling;
use super::regression::{Line, Through, regress};
use super::search::{Candidate, Field, missing};
use super::tolerance::{LEAST_HZ, choices};
use super::{
    CALLED_BELOW, Carrier, Family, LEAST_MEMBERS, Listening, MOST_CARRIERS, Member, Offset, RIVALS_BELOW, Refusal,
    SPACING_HZ, Told,
};

/// Standard deviation of an error that all dials have in common (a beat oscillator off by up to 10 Hz), Hz.
const COMMON_SD_HZ: f64 = 6.0;
/// Submultiples of the best spacing that are weighed in any case.
const DIVISORS: std::ops::RangeInclusive<i64> = 2..=11;
/// The line itself is off by a part of what its carriers may be.
const LINE_ERROR: f64 = 1.2;
/// More carriers than this many times chance must come in for a wider tolerance.
const WORTH_WIDENING: f64 = 4.0;
/// Members that must lie off every multiple of the spacing: so many, and one in so many.
const LEAST_OFF: usize = 2;
const LEAST_OFF_SHARE: usize = 5;
/// Families looked for in one device's carriers.
const MOST_FAMILIES: usize = 3;
/// Rivals that are named.
const MOST_NAMED: usize = 4;

/// Finds the families among a device's carriers (any order; those beyond [`MOST_CARRIERS`] are not looked at, nor any
/// place that is no finite number).
pub fn find(carriers: &[Carrier], listenings: &[Listening]) -> Told {
    let is_sound = |c: &Carrier| {
        c.listening < listenings.len() && !c.places_hz.is_empty() && c.places_hz.iter().all(|hz| hz.is_finite())
    };
    let mut left: Vec<usize> = (0..carriers.len().min(MOST_CARRIERS)).filter(|&i| is_sound(&carriers[i])).collect();
    let mut told = Told { repeated: repeated(carriers, listenings, &mut left), ..Told::default() };
    while told.families.len() < MOST_FAMILIES {
        let some: Vec<Carrier> = left.iter().map(|&i| carriers[i].clone()).collect();
        match decide(&some, listenings) {
            Ok(mut family) => {
                family.members.iter_mut().for_each(|member| member.carrier = left[member.carrier]);
                family.outsiders = family.outsiders.iter().map(|&i| left[i]).collect();
                family.other_sideband.iter_mut().for_each(|hint| hint.0 = left[hint.0]);
                left.retain(|i| family.outsiders.contains(i));
                told.families.push(family);
            }
            Err(refusal) => {
                if told.families.is_empty() && !left.is_empty() {
                    told.refusal = Some(refusal);
                }
                break;
            }
        }
    }
    // What belongs to another family is no outsider.
    let taken: Vec<usize> = told.families.iter().flat_map(|f| f.members.iter().map(|m| m.carrier)).collect();
    told.families.iter_mut().for_each(|family| family.outsiders.retain(|i| !taken.contains(i)));
    told
}

/// Takes out carriers that may be another one heard again at an overlapping setting: they are no evidence of their own.
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

fn decide(carriers: &[Carrier], listenings: &[Listening]) -> Result<Family, Refusal> {
    if carriers.len() < LEAST_MEMBERS {
        return Err(Refusal::TooFew { carriers: carriers.len() });
    }
    let field = Field { carriers, listenings, choices: choices(carriers, listenings) };
    let mut candidates = field.candidates();
    let Some(best) = candidates.first().cloned() else { return Err(Refusal::Chance { best: None }) };
    let chance = best.ln_chance.exp();
    if chance > CALLED_BELOW || best.members.len() < LEAST_MEMBERS {
        return Err(Refusal::Chance { best: Some((best.spacing_hz, chance)) });
    }
    candidates.extend(DIVISORS.filter_map(|by| field.divided(&best, by)));
    let rivals = rivals(&best, candidates);
    // As it is, or, where the numbers can't be told, with an offset of which nothing is known.
    let as_it_is = if best.has_offset { Through::Offset } else { Through::Zero };
    for (through, unknown) in [(as_it_is, false), (Through::Offset, true)] {
        let Some(mut family) = family(&field, &best, through, unknown) else { continue };
        let (low, high) = family.spacing_ci_hz;
        let outside = |rival: &&(Candidate, f64)| !(low..=high).contains(&rival.0.spacing_hz);
        family.rivals = rivals.iter().filter(outside).map(|rival| rival.1).sum();
        let few = rests_on_few(&family);
        if family.rivals <= RIVALS_BELOW && few.is_none() {
            return Ok(family);
        }
        if let Some(multiple) = few {
            return Err(resting(&family, multiple));
        }
    }
    Err(ambiguous(&field, &best, &rivals))
}

/// The multiple of the spacing that explains nearly all members, if there is one: then one or two carriers, which may be
/// there by chance, make the difference between a spacing and its submultiple. With numbers as they come, half of them
/// would lie off a multiple; a fifth of them, and two, is asked for.
fn rests_on_few(family: &Family) -> Option<i64> {
    let is_free = !matches!(family.offset, Offset::Harmonics { .. });
    DIVISORS.filter(|&by| family.spacing_hz * by as f64 <= *SPACING_HZ.end()).find(|by| {
        let of_class = |class: i64| family.members.iter().filter(|m| m.harmonic.rem_euclid(*by) == class).count();
        let largest = if is_free { (0..*by).map(of_class).max().unwrap_or(0) } else { of_class(0) };
        family.members.len() - largest < LEAST_OFF.max(family.members.len().div_ceil(LEAST_OFF_SHARE))
    })
}

/// The refusal that names both; a carrier heard at a place that only the smaller spacing has would tell.
fn resting(family: &Family, multiple: i64) -> Refusal {
    let candidates = vec![(family.spacing_hz * multiple as f64, 0.5), (family.spacing_hz, 0.5)];
    Refusal::Ambiguous { candidates, telling: None }
}

/// Other spacings that explain mostly the same carriers, with their weight against the best, heaviest first.
fn rivals(best: &Candidate, candidates: Vec<Candidate>) -> Vec<(Candidate, f64)> {
    let mut found: Vec<(Candidate, f64)> = Vec::new();
    for candidate in candidates {
        let shares = |m: &&(usize, usize, i64)| best.members.iter().any(|b| b.0 == m.0);
        let common = candidate.members.iter().filter(shares).count();
        let known = found.iter().any(|(known, _)| known.is_same_spacing(&candidate));
        if 2 * common >= candidate.members.len() && !candidate.is_same_spacing(best) && !known {
            let weight = (best.ln_chance - candidate.ln_chance).exp();
            found.push((candidate, weight));
        }
    }
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found
}

fn ambiguous(field: &Field<'_>, best: &Candidate, rivals: &[(Candidate, f64)]) -> Refusal {
    let whole = 1.0 + rivals.iter().map(|rival| rival.1).sum::<f64>();
    let mut candidates = vec![(best.spacing_hz, 1.0 / whole)];
    candidates.extend(rivals.iter().take(MOST_NAMED - 1).map(|(c, weight)| (c.spacing_hz, weight / whole)));
    let fitted = |candidate: &Candidate| {
        let through = if candidate.has_offset { Through::Offset } else { Through::Zero };
        family(field, candidate, through, false)
    };
    let telling = rivals
        .iter()
        .take(MOST_NAMED - 1)
        .find_map(|(rival, _)| telling(&fitted(best)?, &fitted(rival)?, field.listenings));
    Refusal::Ambiguous { candidates, telling }
}

/// The family fitted to a candidate's members, and to whatever else lies where it says.
fn family(field: &Field<'_>, candidate: &Candidate, through: Through, unknown: bool) -> Option<Family> {
    let origin = if through == Through::Zero { 0.0 } else { candidate.origin_hz };
    let mut members: Vec<(usize, f64, f64)> = candidate
        .members
        .iter()
        .map(|&(carrier, place, number)| {
            let rf_hz = field.carriers[carrier].places_hz[place];
            // Numbers of a candidate through zero stand when it is fitted with an offset too.
            let number = if through == Through::Zero || candidate.has_offset {
                number as f64
            } else {
                ((rf_hz - origin) / candidate.spacing_hz).round()
            };
            (carrier, rf_hz, number)
        })
        .collect();
    let tolerances = &field.choices[candidate.choice];
    let fit = |members: &[(usize, f64, f64)]| {
        let points: Vec<_> = members.iter().map(|&(i, hz, k)| (k, hz - origin, tolerances[i])).collect();
        regress(&points, through)
    };
    let mut line = fit(&members)?;
    // Enough tolerance for all that belong: a narrower one that does for some would pick those that lie near.
    let mut choice = candidate.choice;
    for _ in 0..2 {
        choice = widened(field, &line, origin, choice);
        members = fitting(field, &line, origin, &field.choices[choice]);
        if members.len() < LEAST_MEMBERS {
            return None;
        }
        line = fit(&members)?;
    }
    let mut candidate = candidate.clone();
    candidate.choice = choice;
    Some(assemble(field, &candidate, &line, &members, (origin, through, unknown)))
}

/// The widest choice of tolerance that brings in more carriers than chance would.
fn widened(field: &Field<'_>, line: &Line, origin: f64, choice: usize) -> usize {
    let mut taken = choice;
    for wider in choice + 1..field.choices.len() {
        let (now, then) = (&field.choices[taken], &field.choices[wider]);
        let members = fitting(field, line, origin, now);
        let gained = fitting(field, line, origin, then).len().saturating_sub(members.len());
        let outside = (0..field.carriers.len()).filter(|i| !members.iter().any(|member| member.0 == *i));
        let by_chance: f64 = outside.map(|i| 2.0 * (then[i] - now[i]) / line.spacing_hz).sum();
        if gained as f64 > WORTH_WIDENING * by_chance {
            taken = wider;
        }
    }
    taken
}

/// Carriers within their tolerance of the line, one of each number: (carrier, place, number).
fn fitting(field: &Field<'_>, line: &Line, origin: f64, tolerances: &[f64]) -> Vec<(usize, f64, f64)> {
    let mut found: Vec<(usize, f64, f64)> = Vec::new();
    for (i, carrier) in field.carriers.iter().enumerate() {
        let from_line = |hz: f64| {
            let number = ((hz - origin - line.offset_hz) / line.spacing_hz).round();
            (number, hz - origin - line.offset_hz - number * line.spacing_hz)
        };
        let nearest = carrier.places_hz.iter().min_by(|a, b| {
            let distance = |hz: f64| from_line(hz).1.abs();
            distance(**a).total_cmp(&distance(**b))
        });
        let Some(&hz) = nearest else { continue };
        let (number, residual) = from_line(hz);
        if residual.abs() > LINE_ERROR * tolerances[i] || 4.0 * tolerances[i] > line.spacing_hz {
            continue;
        }
        // One place holds one carrier: the nearest.
        match found.iter_mut().find(|member| member.2 == number) {
            Some(known) if from_line(known.1).1.abs() > residual.abs() => *known = (i, hz, number),
            Some(_) => {}
            None => found.push((i, hz, number)),
        }
    }
    found
}

fn assemble(
    field: &Field<'_>,
    candidate: &Candidate,
    line: &Line,
    members: &[(usize, f64, f64)],
    (origin, through, unknown): (f64, Through, bool),
) -> Family {
    let tolerances = &field.choices[candidate.choice];
    let half_hz = line.t95 * line.spacing_sd_hz.hypot(common_sd(members, tolerances, through));
    // Number 0 lies below one spacing.
    let shift = ((origin + line.offset_hz) / line.spacing_hz).floor();
    let offset_hz = origin + line.offset_hz - shift * line.spacing_hz;
    let offset_half_hz = offset_half(line, shift);
    let offset = match through {
        Through::Zero => free_offset(members, tolerances),
        Through::Offset if unknown => Offset::Unknown { offset_hz, half_hz: offset_half_hz },
        Through::Offset => Offset::Beside { offset_hz, half_hz: offset_half_hz },
    };
    let mut told: Vec<Member> = members
        .iter()
        .zip(&line.residuals_hz)
        .map(|(&(carrier, rf_hz, number), &residual_hz)| Member {
            carrier,
            rf_hz,
            harmonic: (number + shift) as i64,
            residual_hz,
        })
        .collect();
    told.sort_by(|a, b| a.rf_hz.total_cmp(&b.rf_hz));
    let outsiders: Vec<usize> =
        (0..field.carriers.len()).filter(|i| !members.iter().any(|member| member.0 == *i)).collect();
    let place = |hz: f64| {
        let number = ((hz - origin - line.offset_hz) / line.spacing_hz).round();
        (number + shift, (hz - origin - line.offset_hz - number * line.spacing_hz).abs())
    };
    let other_sideband = outsiders
        .iter()
        .filter_map(|&i| {
            let (number, distance) = place(field.carriers[i].mirrored_hz?);
            // By chance one in ten would at most.
            let is_near = distance <= tolerances[i] && 20.0 * tolerances[i] < line.spacing_hz;
            is_near.then_some((i, number as i64))
        })
        .collect();
    let numbers: Vec<i64> = told.iter().map(|m| m.harmonic).collect();
    let widest_hz = members.iter().map(|m| tolerances[m.0]).fold(0.0, f64::max);
    let missing = missing(field.listenings, (offset_hz, line.spacing_hz), &numbers, widest_hz);
    Family {
        spacing_hz: line.spacing_hz,
        spacing_ci_hz: (line.spacing_hz - half_hz, line.spacing_hz + half_hz),
        offset,
        residual_sd_hz: line.residual_sd_hz,
        members: told,
        outsiders,
        other_sideband,
        missing,
        chance: candidate.ln_chance.exp(),
        rivals: 0.0,
    }
}

/// What an error common to all dials does to a spacing through zero: Σwk/Σwk² of it. With an offset it does nothing.
fn common_sd(members: &[(usize, f64, f64)], tolerances: &[f64], through: Through) -> f64 {
    if through == Through::Offset {
        return 0.0;
    }
    let weight = |i: usize| tolerances[i].powi(-2);
    let sums = members.iter().map(|m| (weight(m.0) * m.2, weight(m.0) * m.2 * m.2));
    let (once, squared) = sums.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    COMMON_SD_HZ * once / squared
}

/// Half of the 95 % interval of the offset below one spacing, which lies `shift` numbers away from that of the line.
fn offset_half(line: &Line, shift: f64) -> f64 {
    line.t95 * line.offset_sd_hz.hypot(shift * line.spacing_sd_hz).hypot(LEAST_HZ / 2.0)
}

/// Harmonics, with what the offset comes out as if it is fitted too.
fn free_offset(members: &[(usize, f64, f64)], tolerances: &[f64]) -> Offset {
    let points: Vec<_> = members.iter().map(|&(i, hz, k)| (k, hz, tolerances[i])).collect();
    match regress(&points, Through::Offset) {
        Some(line) => Offset::Harmonics {
            free_hz: line.offset_hz,
            free_half_hz: line.t95 * line.offset_sd_hz.hypot(COMMON_SD_HZ),
        },
        None => Offset::Harmonics { free_hz: 0.0, free_half_hz: f64::INFINITY },
    }
}
