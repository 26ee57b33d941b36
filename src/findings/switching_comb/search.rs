//! Spacings that may explain carriers, found from one carrier (harmonics) or from two (with an offset) that are
//! taken to be members.
//!
//! If a carrier at f is the k-th multiple, the spacing is about f/k, and the others lie at its multiples too or
//! they do not. What may be worth keeping is guessed here; what it is worth is reckoned afterwards (`evidence`).

use statrs::function::factorial::ln_binomial;

use super::fitting::{Errors, LEAST_HZ, Places, Through};
use super::{Carrier, LEAST_MEMBERS, Listening, Missing, SPACING_HZ};

/// Candidates kept of one search. Chosen: bounds the time of the exact weighing that follows.
const MOST_KEPT: usize = 200;
/// A place so near the edge of what was heard, in errors, does not count as listened to. Chosen: a carrier there
/// may lie on either side.
const EDGE: f64 = 1.5;
/// Carriers in turn that are taken for a member where there is an offset. Chosen: of five carriers one is a member
/// in all but hopeless cases; time grows with them.
const PIVOTS: usize = 5;
/// Candidates that promise less are not kept. The evidence is more than is promised, by about a factor a member.
/// Chosen: a natural logarithm; a factor of 400 is more than promise and evidence differ by.
pub(super) const LEAST_PROMISE: f64 = -6.0;
/// A carrier that fits by chance this often tells nothing for a spacing. Chosen: no more than a coin.
const TELLS_NOTHING: f64 = 0.5;

/// The carriers and where they were looked for.
pub struct Field<'a> {
    /// The carriers.
    pub carriers: &'a [Carrier],
    /// Where was listened.
    pub listenings: &'a [Listening],
    /// Choices of error, each with those of every carrier.
    pub choices: Vec<Errors>,
}

/// A spacing that may explain carriers.
struct Candidate {
    /// As the ruler gives it; the origin is the pivot's place, if not zero.
    places: Places,
    /// Natural logarithm of a guess of the evidence: the ends' errors are counted as chances of the other carriers.
    ln_promise: f64,
    /// How far the spacing may be off by the errors of the ends, relative.
    slack: f64,
}

/// One end of the ruler: a carrier at one of its places, or zero.
#[derive(Clone, Copy)]
struct End {
    at_hz: f64,
    error_hz: f64,
    carrier: Option<usize>,
}

impl Field<'_> {
    /// All candidates, the most promising first.
    pub fn candidates(&self) -> Vec<Places> {
        let mut kept = Vec::new();
        for choice in 0..self.choices.len() {
            self.ruled_from_zero(choice, &mut kept);
            self.ruled_by_pairs(choice, &mut kept);
        }
        trim(&mut kept);
        kept.into_iter().map(|candidate| candidate.places).collect()
    }

    /// The carrier at each of its places.
    fn ends(&self, choice: usize, carrier: usize) -> impl Iterator<Item = End> {
        let error_hz = self.choices[choice][carrier].reach_hz();
        self.carriers[carrier].places_hz.iter().map(move |&at_hz| End { at_hz, error_hz, carrier: Some(carrier) })
    }

    fn ruled_from_zero(&self, choice: usize, kept: &mut Vec<Candidate>) {
        let zero = End { at_hz: 0.0, error_hz: 0.0, carrier: None };
        // High and well known carriers fix a spacing best. One of these is a member if two fifths of all are.
        let mut order: Vec<usize> = (0..self.carriers.len()).collect();
        let exactness = |i: usize| self.carriers[i].places_hz[0] / self.choices[choice][i].reach_hz();
        order.sort_by(|a, b| exactness(*b).total_cmp(&exactness(*a)));
        for &carrier in order.iter().take((order.len() * 3).div_ceil(5) + 1) {
            self.ends(choice, carrier).for_each(|end| self.along(choice, zero, end, kept));
        }
    }

    fn ruled_by_pairs(&self, choice: usize, kept: &mut Vec<Candidate>) {
        let mut order: Vec<usize> = (0..self.carriers.len()).collect();
        order.sort_by(|a, b| self.carriers[*a].places_hz[0].total_cmp(&self.carriers[*b].places_hz[0]));
        let (pivots, n) = (PIVOTS.min(order.len()), order.len());
        for pivot in (0..pivots).map(|i| order[(2 * i + 1) * n / (2 * pivots)]) {
            for from in self.ends(choice, pivot) {
                for &carrier in order.iter().filter(|&&carrier| carrier != pivot) {
                    self.ends(choice, carrier).for_each(|to| self.along(choice, from, to, kept));
                }
            }
        }
    }

    /// Every spacing that divides the way from one end to the other.
    fn along(&self, choice: usize, from: End, to: End, kept: &mut Vec<Candidate>) {
        let ruler = Ruler::new(self, choice, from, to);
        let least_hz = SPACING_HZ.start().max(4.0 * (from.error_hz + to.error_hz));
        let first = (ruler.way_hz.abs() / SPACING_HZ.end()).ceil().max(1.0) as i64;
        let last = (ruler.way_hz.abs() / least_hz).floor() as i64;
        kept.extend((first..=last).filter_map(|number| ruler.candidate(number)));
        if kept.len() > 8 * MOST_KEPT {
            trim(kept);
        }
    }
}

/// The way from one end to another with the other carriers along it, to be divided into spacings.
struct Ruler {
    from: End,
    to: End,
    way_hz: f64,
    /// Natural logarithm of what so many members must outweigh: the ways to choose them and the choices.
    ln_choices: Vec<f64>,
    marks: Vec<Mark>,
}

/// One place of a carrier along a ruler.
struct Mark {
    /// Above the ruler's beginning.
    above_hz: f64,
    /// Its own error and what the errors of the ends make at its place.
    within_hz: f64,
    /// Over the spacing it is the probability of a chance fit, Hz.
    fits_hz: f64,
}

/// The nearest whole number: adding 1.5·2⁵² leaves no digits after the point. `round` is a call on many processors,
/// and this is most of the search's work.
#[inline]
pub fn nearest(value: f64) -> f64 {
    const NO_DIGITS: f64 = 6_755_399_441_055_744.0;
    (value + NO_DIGITS) - NO_DIGITS
}

impl Ruler {
    fn new(field: &Field<'_>, choice: usize, from: End, to: End) -> Self {
        let way_hz = to.at_hz - from.at_hz;
        let is_end = |i: usize| [from, to].iter().any(|end| end.carrier == Some(i));
        let mut marks = Vec::new();
        for (i, carrier) in field.carriers.iter().enumerate().filter(|(i, _)| !is_end(*i)) {
            let error = field.choices[choice][i];
            for at_hz in &carrier.places_hz {
                let above_hz = at_hz - from.at_hz;
                let along = above_hz / way_hz;
                let within_hz = error.reach_hz() + from.error_hz * (1.0 - along).abs() + to.error_hz * along.abs();
                let fits_hz = 2.0 * within_hz * carrier.places_hz.len() as f64;
                marks.push(Mark { above_hz, within_hz, fits_hz });
            }
        }
        let carriers = field.carriers.len() as u64;
        let range = (SPACING_HZ.end() / SPACING_HZ.start()).ln();
        let all = (carriers as f64 + 1.0) * range * 2.0 * field.choices.len() as f64;
        let ln_choices = (0..=carriers).map(|members| ln_binomial(carriers, members) + all.ln()).collect();
        Self { from, to, way_hz, ln_choices, marks }
    }

    /// The spacing that has `number` steps to the other end, if it may explain the carriers better than chance.
    fn candidate(&self, number: i64) -> Option<Candidate> {
        let spacing_hz = self.way_hz.abs() / number as f64;
        let per_spacing = 1.0 / spacing_hz;
        let fits = |mark: &Mark| {
            let steps = mark.above_hz * per_spacing;
            let is_near = (steps - nearest(steps)).abs() <= mark.within_hz * per_spacing;
            is_near & (mark.fits_hz * per_spacing < TELLS_NOTHING)
        };
        // Most rulers have too few: a sum without branches tells that soonest.
        let fitting: usize = self.marks.iter().map(|mark| usize::from(fits(mark))).sum();
        // Carriers with two places, or two at one place of the family, may count twice here: never too few.
        let members = (1 + usize::from(self.from.carrier.is_some()) + fitting).min(self.ln_choices.len() - 1);
        if members < LEAST_MEMBERS {
            return None;
        }
        // Of the other end's gain, its error over the spacing, as much is lost as the spacing is then known better.
        let gains = self.marks.iter().filter(|mark| fits(mark)).map(|mark| spacing_hz / mark.fits_hz);
        let odds = gains.product::<f64>() / number as f64;
        let ln_promise = odds.ln() - self.ln_choices[members];
        let through = if self.from.carrier.is_some() { Through::Offset } else { Through::Zero };
        (ln_promise > LEAST_PROMISE).then(|| Candidate {
            places: Places { spacing_hz, origin_hz: self.from.at_hz, through },
            ln_promise,
            slack: (self.from.error_hz + self.to.error_hz) / self.way_hz.abs(),
        })
    }
}

/// Places of the family (origin, spacing) that were listened to, beside those of these numbers. What lies within
/// the error of the edge of what was heard does not count, nor does number 0 and below of a family through zero.
pub fn missing(listenings: &[Listening], family: (f64, f64), heard: &[i64], widest_hz: f64) -> Vec<Missing> {
    let mut found: Vec<Missing> = Vec::new();
    for (listening, one) in listenings.iter().enumerate() {
        for (harmonic, rf_hz) in places(one, family, widest_hz) {
            let is_told = heard.contains(&harmonic) || found.iter().any(|known| known.harmonic == harmonic);
            if !is_told {
                found.push(Missing { listening, rf_hz, harmonic });
            }
        }
    }
    found
}

/// Places of the family (origin, spacing) within a setting's passband, as numbers and Hz, but for its edges.
pub fn places(
    one: &Listening,
    (origin_hz, spacing_hz): (f64, f64),
    widest_hz: f64,
) -> impl Iterator<Item = (i64, f64)> {
    let edge_hz = EDGE * (one.half_step_hz.min(widest_hz) + LEAST_HZ);
    let number = move |hz: f64| (hz - origin_hz) / spacing_hz;
    let numbers = one
        .heard_hz
        .iter()
        .flat_map(move |&(low, high)| number(low + edge_hz).ceil() as i64..=number(high - edge_hz).floor() as i64);
    let place = move |harmonic: i64| (harmonic, origin_hz + harmonic as f64 * spacing_hz);
    numbers.map(place).filter(|place| place.1 > 0.0)
}

/// Keeps the best, of each spacing one with an offset and one without.
fn trim(kept: &mut Vec<Candidate>) {
    kept.sort_by(|a, b| b.ln_promise.total_cmp(&a.ln_promise));
    let mut unlike: Vec<Candidate> = Vec::new();
    for candidate in kept.drain(..) {
        let known = |c: &Candidate| {
            let apart = (c.places.spacing_hz / candidate.places.spacing_hz - 1.0).abs();
            c.places.through == candidate.places.through && apart <= c.slack + candidate.slack
        };
        if unlike.len() < MOST_KEPT && !unlike.iter().any(known) {
            unlike.push(candidate);
        }
    }
    *kept = unlike;
}
