//! Every spacing that explains carriers better than chance, found from one carrier (harmonics) or from two (with an
//! offset) that are taken to be members.
//!
//! If a carrier at f is the k-th multiple, the spacing is f/k, and each further carrier fits by chance with probability
//! 2t/spacing, t its tolerance and what the first one's error makes of it. The expected number of spacings that would
//! fit random carriers as well is the number tried times these probabilities, times the choices of that many carriers:
//! the a-contrario reckoning of Desolneux, Moisan and Morel ("Meaningful alignments", Int. J. Computer Vision 40, 2000;
//! from memory). A submultiple is expected more often by 2 to the power of the members, so the largest spacing that
//! fits wins by itself. Places listened to where nothing was heard count against a spacing by the evidence integral of
//! an unknown share of audible harmonics.

use statrs::function::factorial::{ln_binomial, ln_factorial};

use super::tolerance::{LEAST_HZ, Tolerances};
use super::{Carrier, LEAST_MEMBERS, Listening, Missing, SPACING_HZ};

/// Candidates kept of one search.
const MOST_KEPT: usize = 400;
/// A place so near the edge of what was heard, in tolerances, does not count as listened to.
const EDGE: f64 = 1.5;
/// A carrier that fits by chance this often tells nothing for a spacing.
const TELLS_NOTHING: f64 = 0.5;

/// The carriers and where they were looked for.
pub struct Field<'a> {
    pub carriers: &'a [Carrier],
    pub listenings: &'a [Listening],
    /// Choices of tolerance, each with those of every carrier.
    pub choices: Vec<Tolerances>,
}

/// A spacing with the carriers it explains.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// As the anchor gives it, Hz.
    pub spacing_hz: f64,
    /// Where number 0 stands, Hz: 0, or the pivot's place.
    pub origin_hz: f64,
    /// Whether the origin is a carrier (else it is zero).
    pub has_offset: bool,
    /// (carrier, which of its places, number counted from the origin).
    pub members: Vec<(usize, usize, i64)>,
    /// Which choice of tolerance.
    pub choice: usize,
    /// Natural logarithm of how many spacings would fit random carriers as well.
    pub ln_chance: f64,
    /// The carrier, and its place, that fixes the spacing; what a submultiple is reckoned from.
    anchor: (usize, usize),
    /// The pivot of an offset.
    pivot: Option<(usize, usize)>,
    /// How far the spacing may be off by the errors of the ends, relative.
    slack: f64,
}

impl Candidate {
    /// Whether two spacings are the same within what their ends leave open.
    pub fn is_same_spacing(&self, other: &Self) -> bool {
        (self.spacing_hz / other.spacing_hz - 1.0).abs() <= self.slack + other.slack
    }
}

/// One end of the ruler: a carrier at one of its places, or zero.
#[derive(Clone, Copy)]
struct End {
    at_hz: f64,
    error_hz: f64,
    carrier: Option<(usize, usize)>,
}

impl Field<'_> {
    fn end(&self, choice: usize, carrier: usize, place: usize) -> End {
        let at_hz = self.carriers[carrier].places_hz[place];
        End { at_hz, error_hz: self.choices[choice][carrier], carrier: Some((carrier, place)) }
    }

    /// All candidates, best first.
    pub fn candidates(&self) -> Vec<Candidate> {
        let mut kept = Vec::new();
        for choice in 0..self.choices.len() {
            self.ruled_from_zero(choice, &mut kept);
            self.ruled_by_pairs(choice, &mut kept);
        }
        trim(&mut kept, MOST_KEPT);
        kept.iter_mut().for_each(|candidate| candidate.ln_chance += self.ln_absence(candidate));
        kept.sort_by(|a, b| a.ln_chance.total_cmp(&b.ln_chance));
        kept
    }

    /// Carriers in order of how exactly they fix a spacing: high and well known first.
    fn by_exactness(&self, choice: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.carriers.len()).collect();
        let exactness = |i: &usize| self.carriers[*i].places_hz[0] / self.choices[choice][*i];
        order.sort_by(|a, b| exactness(b).total_cmp(&exactness(a)));
        order
    }

    fn ruled_from_zero(&self, choice: usize, kept: &mut Vec<Candidate>) {
        let zero = End { at_hz: 0.0, error_hz: 0.0, carrier: None };
        // One of these is a member if two fifths of all are.
        let anchors = (self.carriers.len() * 3).div_ceil(5) + 1;
        for carrier in self.by_exactness(choice).into_iter().take(anchors) {
            for place in 0..self.carriers[carrier].places_hz.len() {
                self.along(choice, zero, self.end(choice, carrier, place), kept);
            }
        }
    }

    fn ruled_by_pairs(&self, choice: usize, kept: &mut Vec<Candidate>) {
        let mut order: Vec<usize> = (0..self.carriers.len()).collect();
        order.sort_by(|a, b| self.carriers[*a].places_hz[0].total_cmp(&self.carriers[*b].places_hz[0]));
        let (pivots, n) = (5.min(order.len()), order.len());
        for pivot in (0..pivots).map(|i| order[(2 * i + 1) * n / (2 * pivots)]) {
            for pivot_place in 0..self.carriers[pivot].places_hz.len() {
                for &carrier in order.iter().filter(|&&carrier| carrier != pivot) {
                    for place in 0..self.carriers[carrier].places_hz.len() {
                        let (from, to) = (self.end(choice, pivot, pivot_place), self.end(choice, carrier, place));
                        self.along(choice, from, to, kept);
                    }
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
        for number in first..=last {
            if ruler.is_worth_a_look(number) {
                kept.extend(ruler.candidate(number));
            }
        }
        if kept.len() > 8 * MOST_KEPT {
            trim(kept, MOST_KEPT);
        }
    }

    /// The same family at a submultiple of its spacing, if that lies within the range.
    pub fn divided(&self, candidate: &Candidate, by: i64) -> Option<Candidate> {
        let from = match candidate.pivot {
            Some((carrier, place)) => self.end(candidate.choice, carrier, place),
            None => End { at_hz: 0.0, error_hz: 0.0, carrier: None },
        };
        let to = self.end(candidate.choice, candidate.anchor.0, candidate.anchor.1);
        let number = ((to.at_hz - from.at_hz).abs() / candidate.spacing_hz).round() as i64 * by;
        if candidate.spacing_hz / (by as f64) < *SPACING_HZ.start() {
            return None;
        }
        let mut divided = Ruler::new(self, candidate.choice, from, to).candidate(number)?;
        divided.ln_chance += self.ln_absence(&divided);
        Some(divided)
    }

    /// What silence at places listened to adds to the logarithm of chance: h members heard and x not, with any share
    /// of audible harmonics as likely as another, have the probability h!·x!/(h+x+1)!.
    fn ln_absence(&self, candidate: &Candidate) -> f64 {
        let numbers: Vec<i64> = candidate.members.iter().map(|m| m.2).collect();
        let tolerances = &self.choices[candidate.choice];
        let widest_hz = candidate.members.iter().map(|m| tolerances[m.0]).fold(0.0, f64::max);
        let missing = missing(self.listenings, (candidate.origin_hz, candidate.spacing_hz), &numbers, widest_hz);
        let (heard, silent) = (numbers.len() as u64, missing.len() as u64);
        ln_factorial(heard + silent + 1) - ln_factorial(heard) - ln_factorial(silent)
    }
}

/// The way from one end to another with the other carriers along it, to be divided into spacings.
struct Ruler {
    from: End,
    to: End,
    way_hz: f64,
    choice: usize,
    /// Of how many carriers, and in how many ways, one is chosen.
    carriers: u64,
    ln_choices: f64,
    marks: Vec<Mark>,
}

/// One place of a carrier along a ruler.
struct Mark {
    carrier: usize,
    place: usize,
    /// Above the ruler's beginning.
    above_hz: f64,
    /// Its own tolerance and what the errors of the ends make at its place.
    within_hz: f64,
    /// Twice that, times the places the carrier may have: over the spacing it is the probability of a chance fit.
    fits_hz: f64,
}

impl Mark {
    /// The number of the family's place at which it lies, if it lies at one.
    #[inline]
    fn number(&self, spacing_hz: f64, per_spacing: f64) -> Option<f64> {
        let steps = self.above_hz * per_spacing;
        let number = nearest(steps);
        ((steps - number).abs() * spacing_hz <= self.within_hz).then_some(number)
    }
}

/// The nearest whole number: adding 1.5·2⁵² leaves no digits after the point. `round` is a call on many processors, and
/// this is most of the search's work.
#[inline]
fn nearest(value: f64) -> f64 {
    const NO_DIGITS: f64 = 6_755_399_441_055_744.0;
    (value + NO_DIGITS) - NO_DIGITS
}

impl Ruler {
    fn new(field: &Field<'_>, choice: usize, from: End, to: End) -> Self {
        let way_hz = to.at_hz - from.at_hz;
        let is_end = |i: usize| [from, to].iter().any(|end| end.carrier.is_some_and(|c| c.0 == i));
        let mut marks = Vec::new();
        for (i, carrier) in field.carriers.iter().enumerate().filter(|(i, _)| !is_end(*i)) {
            for (place, at_hz) in carrier.places_hz.iter().enumerate() {
                let above_hz = at_hz - from.at_hz;
                let along = above_hz / way_hz;
                let within_hz =
                    field.choices[choice][i] + from.error_hz * (1.0 - along).abs() + to.error_hz * along.abs();
                let fits_hz = 2.0 * within_hz * carrier.places_hz.len() as f64;
                marks.push(Mark { carrier: i, place, above_hz, within_hz, fits_hz });
            }
        }
        let carriers = field.carriers.len() as u64;
        let ln_choices = (2.0 * field.choices.len() as f64 * carriers as f64).ln();
        Self { from, to, way_hz, choice, carriers, ln_choices, marks }
    }

    /// Natural logarithm of how many spacings are expected to fit random carriers so: `product` that of the members'
    /// probabilities.
    fn ln_chance(&self, number: i64, product: f64, members: u64) -> f64 {
        let tried = number as f64 * (SPACING_HZ.end() / SPACING_HZ.start()).ln();
        tried.ln() + self.ln_choices + product.ln() + ln_binomial(self.carriers, members.min(self.carriers))
    }

    fn ends(&self) -> u64 {
        1 + u64::from(self.from.carrier.is_some())
    }

    /// A quick look at the spacing that has `number` steps to the other end: whether less than one would fit by chance.
    fn is_worth_a_look(&self, number: i64) -> bool {
        let spacing_hz = self.way_hz.abs() / number as f64;
        let per_spacing = 1.0 / spacing_hz;
        let (mut product, mut fitting) = (1.0, 0u64);
        for mark in &self.marks {
            if mark.number(spacing_hz, per_spacing).is_some() {
                product *= (mark.fits_hz * per_spacing).min(1.0);
                fitting += 1;
            }
        }
        // Carriers with two places, or two at one place of the family, may count twice here: never too few.
        let members = (self.ends() + fitting).min(self.carriers);
        members >= LEAST_MEMBERS as u64
            && product * (number as f64) < 1.0
            && (members == self.carriers || self.ln_chance(number, product, members) < 0.0)
    }

    /// That spacing with its members; `None` where chance explains it (expected once or more).
    fn candidate(&self, number: i64) -> Option<Candidate> {
        let spacing_hz = self.way_hz.abs() / number as f64;
        let per_spacing = 1.0 / spacing_hz;
        let mut members: Vec<(usize, usize, i64)> = Vec::new();
        for end in [self.from, self.to] {
            let Some((carrier, place)) = end.carrier else { continue };
            members.push((carrier, place, nearest((end.at_hz - self.from.at_hz) * per_spacing) as i64));
        }
        let mut product = 1.0;
        for mark in &self.marks {
            let Some(number) = mark.number(spacing_hz, per_spacing) else { continue };
            let probability = mark.fits_hz * per_spacing;
            let is_multiple = self.from.carrier.is_some() || number >= 1.0;
            let number = number as i64;
            // One place of the family holds one carrier, and a carrier stands at one of its places.
            let is_free = members.iter().all(|m| m.2 != number && m.0 != mark.carrier);
            if is_free && is_multiple && probability < TELLS_NOTHING {
                product *= probability;
                members.push((mark.carrier, mark.place, number));
            }
        }
        let ln_chance = self.ln_chance(number, product, members.len() as u64);
        if members.len() < LEAST_MEMBERS || ln_chance > 0.0 {
            return None;
        }
        Some(Candidate {
            spacing_hz,
            origin_hz: self.from.at_hz,
            has_offset: self.from.carrier.is_some(),
            members,
            choice: self.choice,
            ln_chance,
            anchor: self.to.carrier?,
            pivot: self.from.carrier,
            slack: (self.from.error_hz + self.to.error_hz) / self.way_hz.abs(),
        })
    }
}

/// Places of the family (origin, spacing) that were listened to, beside those of these numbers. What lies within the
/// tolerance of the edge of what was heard does not count, nor does number 0 and below of a family through zero.
pub fn missing(
    listenings: &[Listening],
    (origin_hz, spacing_hz): (f64, f64),
    heard: &[i64],
    widest_hz: f64,
) -> Vec<Missing> {
    let mut found: Vec<Missing> = Vec::new();
    for (listening, one) in listenings.iter().enumerate() {
        let edge_hz = EDGE * (one.half_step_hz.min(widest_hz) + LEAST_HZ);
        for &(low, high) in &one.heard_hz {
            let number = |hz: f64| (hz - origin_hz) / spacing_hz;
            let (first, last) = (number(low + edge_hz).ceil() as i64, number(high - edge_hz).floor() as i64);
            for harmonic in first..=last {
                let rf_hz = origin_hz + harmonic as f64 * spacing_hz;
                let is_told = heard.contains(&harmonic) || found.iter().any(|known| known.harmonic == harmonic);
                if !is_told && rf_hz > 0.0 {
                    found.push(Missing { listening, rf_hz, harmonic });
                }
            }
        }
    }
    found
}

/// Keeps the best, of each spacing one with an offset and one without.
fn trim(kept: &mut Vec<Candidate>, most: usize) {
    kept.sort_by(|a, b| a.ln_chance.total_cmp(&b.ln_chance));
    let mut unlike: Vec<Candidate> = Vec::new();
    for candidate in kept.drain(..) {
        let known = |c: &Candidate| c.has_offset == candidate.has_offset && c.is_same_spacing(&candidate);
        if unlike.len() < most && !unlike.iter().any(known) {
            unlike.push(candidate);
        }
    }
    *kept = unlike;
}
