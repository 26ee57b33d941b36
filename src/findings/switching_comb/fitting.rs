//! Which carriers stand at the places of a family, and the family by least squares through them.

use super::regression::{Line, Through, regress};
use super::search::Field;
use super::tolerance::Error;

/// The line itself is off by a part of what its carriers may be. Chosen: the line's own error is smaller than its
/// carriers', but not nothing.
const LINE_ERROR: f64 = 1.2;
/// Times that carriers are gathered about the line through those gathered before. Chosen: time against a set that
/// may still change.
const ROUNDS: usize = 3;

/// A carrier at a place of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Index of the carrier.
    pub carrier: usize,
    /// Which of the frequencies it may have, Hz.
    pub rf_hz: f64,
    /// Number of the place, a whole one.
    pub number: f64,
}

/// The places of a family: every spacing from an origin on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Places {
    /// Distance of neighbours, Hz.
    pub spacing_hz: f64,
    /// Place of number 0, Hz; 0 for [`Through::Zero`].
    pub origin_hz: f64,
    /// Whether the origin is zero.
    pub through: Through,
}

impl Places {
    /// Number of the nearest place, and how far above it a frequency stands, Hz.
    pub fn nearest(&self, rf_hz: f64) -> (f64, f64) {
        let number = ((rf_hz - self.origin_hz) / self.spacing_hz).round();
        (number, rf_hz - self.origin_hz - number * self.spacing_hz)
    }

    /// The places by least squares through the carriers that stand near, and those carriers.
    pub fn fitted(mut self, field: &Field<'_>, errors: &[Error]) -> Option<(Self, Vec<Placed>)> {
        let mut members = self.members(field, errors, 2.0 * LINE_ERROR);
        for _ in 0..ROUNDS {
            let line = line(&members, &self, errors)?;
            self.spacing_hz = line.spacing_hz;
            self.origin_hz += line.offset_hz;
            members = self.members(field, errors, LINE_ERROR);
        }
        Some((self, members))
    }

    /// Carriers within so many times their greatest error of a place, one at each.
    fn members(&self, field: &Field<'_>, errors: &[Error], times: f64) -> Vec<Placed> {
        let distance = |hz: f64| self.nearest(hz).1.abs();
        let mut found: Vec<Placed> = Vec::new();
        for (carrier, (one, error)) in field.carriers.iter().zip(errors).enumerate() {
            let by_distance = |a: &f64, b: &f64| distance(*a).total_cmp(&distance(*b));
            let Some(rf_hz) = one.places_hz.iter().copied().min_by(by_distance) else { continue };
            let number = self.nearest(rf_hz).0;
            let is_multiple = self.through == Through::Offset || number >= 1.0;
            let tells = 4.0 * error.reach_hz() <= self.spacing_hz;
            if distance(rf_hz) > times * error.reach_hz() || !tells || !is_multiple {
                continue;
            }
            let placed = Placed { carrier, rf_hz, number };
            match found.iter_mut().find(|known| known.number == number) {
                Some(known) if distance(known.rf_hz) > distance(rf_hz) => *known = placed,
                Some(_) => {}
                None => found.push(placed),
            }
        }
        found
    }
}

/// Least squares through members, the offset counted from the origin of `places`.
pub fn line(members: &[Placed], places: &Places, errors: &[Error]) -> Option<Line> {
    let point = |m: &Placed| (m.number, m.rf_hz - places.origin_hz, errors[m.carrier].sd_hz());
    regress(&members.iter().map(point).collect::<Vec<_>>(), places.through)
}
