//! The family of what a spacing explains: its interval, offset, members, and who stands beside them.

use super::evidence::{EXCEEDED, Explained};
use super::finer::finer;
use super::fitting::{Error, LEAST_HZ, LEAST_SD_HZ, Line, Placed, Places, Through, line};
use super::search::{Field, missing};
use super::{Family, Member, Offset};
use crate::units::SIGMAS_OF_95;

/// The family, with an offset or without; `unknown` where the offset is only there to say that it can't be told.
pub fn family(field: &Field<'_>, explained: &Explained, through: Through, unknown: bool) -> Option<Family> {
    let errors = &field.choices[explained.choice];
    let line = line(&explained.members, &Places { through, ..explained.places }, errors)?;
    let fitted =
        Places { spacing_hz: line.spacing_hz, origin_hz: explained.places.origin_hz + line.offset_hz, through };
    // Number 0 lies below one spacing.
    let shift = (fitted.origin_hz / line.spacing_hz).floor();
    let offset_hz = fitted.origin_hz - shift * line.spacing_hz;
    let half_hz = offset_half(&line, shift);
    let offset = match through {
        Through::Zero => free_offset(&explained.members, errors),
        Through::Offset if unknown => Offset::Unknown { offset_hz, half_hz },
        Through::Offset => Offset::Beside { offset_hz, half_hz },
    };
    let mut members: Vec<Member> = explained
        .members
        .iter()
        .zip(&line.residuals_hz)
        .map(|(placed, &residual_hz)| Member {
            carrier: placed.carrier,
            rf_hz: placed.rf_hz,
            harmonic: (placed.number + shift) as i64,
            residual_hz,
        })
        .collect();
    members.sort_by(|a, b| a.rf_hz.total_cmp(&b.rf_hz));
    let outsiders: Vec<usize> =
        (0..field.carriers.len()).filter(|i| !members.iter().any(|member| member.carrier == *i)).collect();
    let other_sideband = outsiders
        .iter()
        .filter_map(|&i| {
            let (number, above_hz) = fitted.nearest(field.carriers[i].mirrored_hz?);
            // By chance one in ten would at most.
            let reach_hz = errors[i].reach_hz();
            let is_near = above_hz.abs() <= reach_hz && 20.0 * reach_hz < line.spacing_hz;
            is_near.then_some((i, (number + shift) as i64))
        })
        .collect();
    let numbers: Vec<i64> = members.iter().map(|m| m.harmonic).collect();
    let widest_hz = members.iter().map(|m| errors[m.carrier].reach_hz()).fold(0.0, f64::max);
    let missing = missing(field.listenings, (offset_hz, line.spacing_hz), &numbers, widest_hz);
    let half_hz = spacing_half(explained, &line, errors, through);
    Some(Family {
        spacing_hz: line.spacing_hz,
        spacing_ci_hz: (line.spacing_hz - half_hz, line.spacing_hz + half_hz),
        offset,
        residual_sd_hz: line.residual_sd_hz,
        members,
        outsiders,
        other_sideband,
        missing,
        chance: chance(explained),
        rivals: 0.0,
        finer: finer(field.listenings, &explained.members, fitted.origin_hz, &|_| line.spacing_hz),
        drift: None,
    })
}

/// The probability that random carriers speak as much for any spacing, at the most.
pub fn chance(explained: &Explained) -> f64 {
    (EXCEEDED * (-explained.ln_evidence).exp()).min(1.0)
}

/// Half of the spacing's 95 % interval, Hz: by what the carriers scatter, but no less than by what a dial's digits
/// leave open (carriers that happen to lie well make no dial better), and by an error that all dials have in
/// common. With an offset the last does nothing; through zero Σwk/Σwk² of it (derived).
fn spacing_half(explained: &Explained, line: &Line, errors: &[Error], through: Through) -> f64 {
    let scatter_hz = (line.t95 * line.spacing_sd_hz).max(SIGMAS_OF_95 * explained.spacing_sd_hz);
    if through == Through::Offset {
        return scatter_hz;
    }
    let weight = |m: &Placed| errors[m.carrier].sd_hz().powi(-2);
    let sums = explained.members.iter().map(|m| (weight(m) * m.number, weight(m) * m.number * m.number));
    let (once, squared) = sums.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    scatter_hz.hypot(SIGMAS_OF_95 * LEAST_SD_HZ * once / squared)
}

/// Half of the 95 % interval of the offset below one spacing, which lies `shift` numbers away from that of the
/// line.
fn offset_half(line: &Line, shift: f64) -> f64 {
    line.t95 * line.offset_sd_hz.hypot(shift * line.spacing_sd_hz).hypot(LEAST_HZ / 2.0)
}

/// Harmonics, with what the offset comes out as if it is fitted too.
fn free_offset(members: &[Placed], errors: &[Error]) -> Offset {
    let free = Places { spacing_hz: 0.0, origin_hz: 0.0, through: Through::Offset };
    match line(members, &free, errors) {
        Some(line) => Offset::Harmonics {
            free_hz: line.offset_hz,
            free_half_hz: line.t95 * line.offset_sd_hz.hypot(LEAST_SD_HZ),
        },
        None => Offset::Harmonics { free_hz: 0.0, free_half_hz: f64::INFINITY },
    }
}
