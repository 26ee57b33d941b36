//! A spacing that drifts evenly while carriers are recorded one after another: the harmonics of a supply that
//! warms up.
//!
//! A member recorded at t stands at k·(s + d·t). Two members with their numbers fix both; the others fit or they do
//! not. What that is worth is reckoned as for a steady spacing (`evidence`), averaged over the drift too: the drift
//! may have been any up to [`MOST_DRIFT`], so that one that is found by trying many costs its odds. Only harmonics
//! are looked for: with an offset besides, too many families fit a dozen carriers. Not here: supplies that wander
//! to and fro (`neighbours`).

use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::factorial::ln_binomial;

use super::evidence::{Near, average};
use super::finer::finer;
use super::fitting::{Error, LEAST_SD_HZ, LINE_ERROR, Placed, ROUNDS};
use super::judge::{DIVISORS, MULTIPLES};
use super::search::{Field, LEAST_PROMISE, missing, nearest};
use super::{
    CALLED_BELOW, Drift, Family, LEAST_MEMBERS, Listening, Member, Missing, Offset, RIVALS_BELOW, Refusal,
    SPACING_HZ,
};
use crate::signal::spectrum::statistics::ends;
use crate::units::SIGMAS_OF_95;

/// Most that a spacing is taken to change from the first recording to the last, relative. Supplies without a
/// quartz change by some percent from cold to warm (common practice).
pub const MOST_DRIFT: f64 = 0.06;
/// A drift is one unknown more than a steady spacing has.
const LEAST_DRIFTING: usize = LEAST_MEMBERS + 1;
/// Carriers from which on a drift is looked for. Chosen: five are never rarer than chance.
const LEAST_CARRIERS: usize = LEAST_DRIFTING + 1;
/// Spacings from here on are looked for; halves and thirds of those found are weighed below it too. Supplies switch
/// at some 18 to 150 kHz (common practice), and the search grows with the square of what is below.
const LEAST_SPACING_HZ: f64 = 15_000.0;
/// Random carriers' evidence exceeds x with a probability below this over x. Of 718 evenings of up to 20 random
/// carriers in which some drifting spacing was weighed (bench of combs, seed 5) it was above 1 in 4, above 3 and
/// above 10 in 1: as for steady spacings (`evidence::EXCEEDED`).
const EXCEEDED: f64 = 0.03;
/// Pairs of carriers that are taken for members. Chosen: with a third of all unrelated, all of them fail in one of
/// three hundred evenings.
const PAIRS: usize = 10;
/// How many of these one carrier is in. Chosen: an unrelated one spoils no more.
const PAIRS_OF_ONE: usize = 4;
/// Pairs are recorded at least so much of the whole time apart. Chosen: nearer ones tell nothing of a drift.
const APART: f64 = 0.25;
/// Candidates that are weighed exactly. Chosen: time; the promise orders them well.
const MOST_KEPT: usize = 60;
/// Numbers are shifted by so much at the most to see whether a bent course explains the carriers too. Chosen: a
/// supply in one band moves by a few of its spacings while it warms up.
const MOST_SHIFTED: i32 = 12;
/// Carriers from which on such a course may bend. Chosen: four more than its figures.
const LEAST_BENT: usize = 7;

/// A spacing over time.
#[derive(Debug, Clone, Copy)]
struct Course {
    /// When it is `spacing_hz`.
    at: f64,
    spacing_hz: f64,
    /// Change in a unit of time.
    rate_hz: f64,
}

impl Course {
    fn spacing(&self, at: f64) -> f64 {
        self.spacing_hz + self.rate_hz * (at - self.at)
    }
}

/// A drifting spacing with the carriers it explains.
#[derive(Debug, Clone)]
struct Drifting {
    course: Course,
    choice: usize,
    members: Vec<Placed>,
    ln_evidence: f64,
}

/// The drifting family that explains the carriers, if one does; `Err` where several do. A steady spacing's
/// evidence is a rival's.
pub fn decide(field: &Field<'_>, steady: Option<f64>) -> Option<Result<Family, Refusal>> {
    let clock = Clock::of(field)?;
    let all = clock.explained();
    let (best, others) = all.split_first()?;
    let chance = (EXCEEDED * (-best.ln_evidence).exp()).min(1.0);
    let steady = steady.map_or(0.0, |ln_evidence| (ln_evidence - best.ln_evidence).exp());
    if chance > CALLED_BELOW || steady > RIVALS_BELOW {
        return None;
    }
    let mut rivals: Vec<(f64, f64)> = Vec::new();
    for other in others.iter().filter(|other| !other.is_same(best)) {
        let spacing_hz = other.course.spacing(best.course.at);
        let weight = (other.ln_evidence - best.ln_evidence).exp();
        if rivals.iter().all(|known| (known.0 / spacing_hz - 1.0).abs() > 1e-5) {
            rivals.push((spacing_hz, weight));
        }
    }
    let against = steady + rivals.iter().map(|rival| rival.1).sum::<f64>();
    if against > RIVALS_BELOW {
        let mut candidates = vec![(best.course.spacing_hz, 1.0 / (1.0 + against))];
        candidates.extend(rivals.iter().take(3).map(|rival| (rival.0, rival.1 / (1.0 + against))));
        return Some(Err(Refusal::Ambiguous { candidates, telling: None }));
    }
    let errors = &field.choices[best.choice];
    let other = other_numbers(&clock.points(&best.members, errors), &clock.reaches(&best.members, errors), false);
    if !other.is_empty() {
        return None;
    }
    Some(Ok(clock.family(best, chance, against)?))
}

/// The field with the times of its recordings.
struct Clock<'a> {
    field: &'a Field<'a>,
    /// Of every carrier.
    at: Vec<f64>,
    span: f64,
}

impl<'a> Clock<'a> {
    /// `None` where nothing can be told of a drift.
    fn of(field: &'a Field<'a>) -> Option<Self> {
        let at: Vec<f64> = field.carriers.iter().map(|c| field.listenings[c.listening].at).collect();
        let (first, last) = ends(at.iter().copied());
        let span = last - first;
        (field.carriers.len() >= LEAST_CARRIERS && span.is_finite() && span > 0.0).then_some(Self {
            field,
            at,
            span,
        })
    }

    /// What explains the carriers, by evidence.
    fn explained(&self) -> Vec<Drifting> {
        let likeliest = |course: Course| {
            let choices = 0..self.field.choices.len();
            let some = choices.filter_map(|choice| self.weigh(course, choice));
            some.max_by(|a, b| a.ln_evidence.total_cmp(&b.ln_evidence))
        };
        let by_evidence = |a: &Drifting, b: &Drifting| b.ln_evidence.total_cmp(&a.ln_evidence);
        let mut found: Vec<Drifting> = self.candidates().into_iter().filter_map(likeliest).collect();
        found.sort_by(by_evidence);
        let Some(best) = found.first().map(|best| best.course) else { return found };
        let scaled = |by: f64| Course { spacing_hz: best.spacing_hz * by, rate_hz: best.rate_hz * by, ..best };
        found.extend(DIVISORS.filter_map(|by| likeliest(scaled(1.0 / by as f64))));
        found.extend(MULTIPLES.filter_map(|by| likeliest(scaled(by as f64))));
        found.sort_by(by_evidence);
        found
    }

    fn candidates(&self) -> Vec<Course> {
        let mut kept: Vec<(f64, Course)> = Vec::new();
        for choice in 0..self.field.choices.len() {
            for (i, j) in self.pairs(choice) {
                for &one_hz in &self.field.carriers[i].places_hz {
                    for &other_hz in &self.field.carriers[j].places_hz {
                        self.along(choice, (i, one_hz), (j, other_hz), &mut kept);
                    }
                }
            }
        }
        self.trim(&mut kept);
        kept.into_iter().map(|candidate| candidate.1).collect()
    }

    /// Pairs that fix a drifting spacing best, each carrier in a few.
    fn pairs(&self, choice: usize) -> Vec<(usize, usize)> {
        let relative = |i: usize| self.field.choices[choice][i].reach_hz() / self.field.carriers[i].places_hz[0];
        let n = self.field.carriers.len();
        let mut all: Vec<(f64, usize, usize)> = Vec::new();
        for (i, j) in (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j))) {
            let apart = (self.at[j] - self.at[i]).abs() / self.span;
            if apart >= APART {
                all.push(((relative(i) + relative(j)) / apart, i, j));
            }
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut uses = vec![0; n];
        let mut pairs = Vec::new();
        for (_, i, j) in all {
            if pairs.len() < PAIRS && uses[i] < PAIRS_OF_ONE && uses[j] < PAIRS_OF_ONE {
                uses[i] += 1;
                uses[j] += 1;
                pairs.push((i, j));
            }
        }
        pairs
    }

    /// Every pair of numbers that these two may have.
    fn along(
        &self,
        choice: usize,
        (i, i_hz): (usize, f64),
        (j, j_hz): (usize, f64),
        kept: &mut Vec<(f64, Course)>,
    ) {
        let errors = &self.field.choices[choice];
        let apart = self.at[j] - self.at[i];
        let n = self.field.carriers.len() as u64;
        // Of every place of every other carrier: frequency, time after the first of the pair, how far it may lie
        // beside its place.
        let mut marks: Vec<(f64, f64, f64, f64)> = Vec::new();
        for (m, carrier) in self.field.carriers.iter().enumerate().filter(|(m, _)| ![i, j].contains(m)) {
            let after = self.at[m] - self.at[i];
            for &rf_hz in &carrier.places_hz {
                let of_one = (1.0 - after / apart).abs() * errors[i].reach_hz() / i_hz;
                let of_other = (after / apart).abs() * errors[j].reach_hz() / j_hz;
                let within_hz = errors[m].reach_hz() + rf_hz * (of_one + of_other);
                marks.push((rf_hz, after, within_hz, 2.0 * within_hz * carrier.places_hz.len() as f64));
            }
        }
        let range = (SPACING_HZ.end() / SPACING_HZ.start()).ln();
        let tries = (range * 4.0 * MOST_DRIFT * self.field.choices.len() as f64).ln();
        let most = MOST_DRIFT * apart.abs() / self.span;
        let first = (i_hz / SPACING_HZ.end()).ceil().max(1.0) as i64;
        for number in first..=(i_hz / LEAST_SPACING_HZ).floor() as i64 {
            let spacing_hz = i_hz / number as f64;
            let telling = marks.iter().filter(|mark| 2.0 * mark.3 < spacing_hz).count();
            if telling + 2 < LEAST_CARRIERS {
                break;
            }
            let (low, high) = (j_hz / (spacing_hz * (1.0 + most)), j_hz / (spacing_hz * (1.0 - most)));
            for other in (low.ceil().max(1.0) as i64)..=high.floor() as i64 {
                let rate_hz = (j_hz / other as f64 - spacing_hz) / apart;
                let fits = |&(rf_hz, after, within_hz, fits_hz): &(f64, f64, f64, f64)| {
                    let per_spacing = 1.0 / (spacing_hz + rate_hz * after);
                    let steps = rf_hz * per_spacing;
                    let is_near = (steps - nearest(steps)).abs() <= within_hz * per_spacing;
                    is_near & (2.0 * fits_hz * per_spacing < 1.0)
                };
                let fitting: usize = marks.iter().map(|mark| usize::from(fits(mark))).sum();
                if fitting + 2 < LEAST_DRIFTING {
                    continue;
                }
                let gains: f64 = marks.iter().filter(|m| fits(m)).map(|m| (spacing_hz / m.3).ln()).sum();
                let members = (fitting as u64 + 2).min(n);
                let numbers = (number as f64 * other as f64).ln();
                let ln_promise = gains - numbers - tries - ln_binomial(n, members);
                if ln_promise > LEAST_PROMISE {
                    kept.push((ln_promise, Course { at: self.at[i], spacing_hz, rate_hz }));
                }
            }
        }
        if kept.len() > 8 * MOST_KEPT {
            self.trim(kept);
        }
    }

    /// Keeps the most promising, one of those that give the same numbers.
    fn trim(&self, kept: &mut Vec<(f64, Course)>) {
        kept.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut unlike: Vec<(f64, Course)> = Vec::new();
        for (promise, course) in kept.drain(..) {
            let is_known = |known: &(f64, Course)| {
                self.field.carriers.iter().zip(&self.at).all(|(carrier, &at)| {
                    let number = |course: &Course| carrier.places_hz[0] / course.spacing(at);
                    (number(&course) - number(&known.1)).abs() < 0.3
                })
            };
            if unlike.len() < MOST_KEPT && !unlike.iter().any(is_known) {
                unlike.push((promise, course));
            }
        }
        *kept = unlike;
    }

    /// Carriers within so many times their greatest error of a place, one at each.
    fn members(&self, course: &Course, errors: &[Error], times: f64) -> Vec<Placed> {
        let mut found: Vec<(Placed, f64)> = Vec::new();
        for (carrier, one) in self.field.carriers.iter().enumerate() {
            let spacing_hz = course.spacing(self.at[carrier]);
            let beside = |hz: &f64| (hz - (hz / spacing_hz).round() * spacing_hz).abs();
            let Some(&rf_hz) = one.places_hz.iter().min_by(|a, b| beside(a).total_cmp(&beside(b))) else {
                continue;
            };
            let (number, beside_hz, reach_hz) =
                ((rf_hz / spacing_hz).round(), beside(&rf_hz), errors[carrier].reach_hz());
            if spacing_hz <= 0.0 || beside_hz > times * reach_hz || 4.0 * reach_hz > spacing_hz || number < 1.0 {
                continue;
            }
            let placed = (Placed { carrier, rf_hz, number }, beside_hz);
            match found.iter_mut().find(|known| known.0.number == number) {
                Some(known) if known.1 > beside_hz => *known = placed,
                Some(_) => {}
                None => found.push(placed),
            }
        }
        found.into_iter().map(|(placed, _)| placed).collect()
    }

    /// The drifting spacing near a course by least squares, and what speaks for it.
    fn weigh(&self, mut course: Course, choice: usize) -> Option<Drifting> {
        let errors = &self.field.choices[choice];
        let mut members = self.members(&course, errors, 2.0 * LINE_ERROR);
        for _ in 0..ROUNDS {
            course = fitted(&self.points(&members, errors))?.course;
            members = self.members(&course, errors, LINE_ERROR);
        }
        let line = fitted(&self.points(&members, errors))?;
        let course = line.course;
        let change = course.rate_hz.abs() * self.span / course.spacing_hz;
        if members.len() < LEAST_DRIFTING || !SPACING_HZ.contains(&course.spacing_hz) || change > MOST_DRIFT {
            return None;
        }
        let near = |m: &Placed| {
            let at = self.at[m.carrier];
            Near {
                above_hz: m.rf_hz - m.number * course.spacing(at),
                turn_hz: m.number * line.spacing_sd_hz,
                level_hz: m.number * (at - course.at) * line.rate_sd_hz,
                gain: course.spacing(at) / self.field.carriers[m.carrier].places_hz.len() as f64,
                error: errors[m.carrier],
            }
        };
        let near: Vec<Near> = members.iter().map(near).collect();
        let average = average(&near, true, self.field.carriers.len() - members.len());
        // Spacings are as likely on a logarithmic scale, drifts up to the greatest either way; this kind of family
        // as the two steady ones, and all choices of error, alike.
        let spacing = line.spacing_sd_hz / (course.spacing_hz * (SPACING_HZ.end() / SPACING_HZ.start()).ln());
        let drift = line.rate_sd_hz * self.span / (course.spacing_hz * 2.0 * MOST_DRIFT);
        let prior = spacing * drift / (2.0 * self.field.choices.len() as f64);
        let silent = self.silent(&course, &members, errors).len();
        let ln_evidence = (average * prior).ln() - ((silent + 1) as f64).ln();
        ln_evidence.is_finite().then_some(Drifting { course, choice, members, ln_evidence })
    }

    fn points(&self, members: &[Placed], errors: &[Error]) -> Vec<Point> {
        let point = |m: &Placed| Point {
            number: m.number,
            at: self.at[m.carrier],
            rf_hz: m.rf_hz,
            error_hz: errors[m.carrier].sd_hz(),
        };
        members.iter().map(point).collect()
    }

    fn reaches(&self, members: &[Placed], errors: &[Error]) -> Vec<f64> {
        members.iter().map(|m| errors[m.carrier].reach_hz()).collect()
    }

    /// Places listened to in vain, each where it stood then.
    fn silent(&self, course: &Course, members: &[Placed], errors: &[Error]) -> Vec<Missing> {
        let mut told: Vec<i64> = members.iter().map(|m| m.number as i64).collect();
        let widest_hz = members.iter().map(|m| errors[m.carrier].reach_hz()).fold(0.0, f64::max);
        let mut found = Vec::new();
        for (listening, one) in self.field.listenings.iter().enumerate() {
            let some = missing(std::slice::from_ref(one), (0.0, course.spacing(one.at)), &told, widest_hz);
            told.extend(some.iter().map(|m| m.harmonic));
            found.extend(some.into_iter().map(|m| Missing { listening, ..m }));
        }
        found
    }

    fn family(&self, best: &Drifting, chance: f64, rivals: f64) -> Option<Family> {
        let errors = &self.field.choices[best.choice];
        let line = fitted(&self.points(&best.members, errors))?;
        let course = line.course;
        let mut members: Vec<Member> = best
            .members
            .iter()
            .map(|m| Member {
                carrier: m.carrier,
                rf_hz: m.rf_hz,
                harmonic: m.number as i64,
                residual_hz: m.rf_hz - m.number * course.spacing(self.at[m.carrier]),
            })
            .collect();
        members.sort_by(|a, b| a.rf_hz.total_cmp(&b.rf_hz));
        let outsiders =
            (0..self.field.carriers.len()).filter(|i| !members.iter().any(|m| m.carrier == *i)).collect();
        // No less than what a dial's digits leave open, and an error that all dials have in common, as for a
        // steady spacing.
        let (once, squared) = best.members.iter().fold((0.0, 0.0), |(once, squared), m| {
            let weight = errors[m.carrier].sd_hz().powi(-2);
            (once + weight * m.number, squared + weight * m.number * m.number)
        });
        let scatter_hz = SIGMAS_OF_95.max(line.t95 * line.scatter) * line.spacing_sd_hz;
        let common_hz = SIGMAS_OF_95 * LEAST_SD_HZ * once / squared;
        // Members beside a straight course by more than their dials are wrong: it is bent, and in its middle by as
        // much (a parabola's greatest distance from its line is 1.1 times the mean square one; derived).
        let dials = &self.field.choices[0];
        let beyond = |m: &Member| (m.residual_hz.powi(2) - dials[m.carrier].sd_hz().powi(2)) / m.rf_hz.powi(2);
        let bent = (members.iter().map(beyond).sum::<f64>() / members.len() as f64).max(0.0).sqrt();
        let half_hz = scatter_hz.hypot(common_hz).hypot(SIGMAS_OF_95 * bent * course.spacing_hz);
        let rate_half_hz = SIGMAS_OF_95.max(line.t95 * line.scatter) * line.rate_sd_hz;
        let until = self.field.listenings.iter().map(|l| l.at).fold(f64::MIN, f64::max);
        let squares: f64 = members.iter().map(|m| m.residual_hz.powi(2)).sum();
        Some(Family {
            spacing_hz: course.spacing_hz,
            spacing_ci_hz: (course.spacing_hz - half_hz, course.spacing_hz + half_hz),
            drift: Some(Drift { rate_hz: course.rate_hz, half_hz: rate_half_hz, at: course.at, until }),
            offset: Offset::Harmonics { free_hz: 0.0, free_half_hz: f64::INFINITY },
            residual_sd_hz: (squares / (members.len() - 2) as f64).sqrt(),
            outsiders,
            other_sideband: self.other_sideband(&course, &best.members, errors),
            missing: self.silent(&course, &best.members, errors),
            chance,
            rivals,
            finer: finer(self.field.listenings, &best.members, 0.0, &|one: &Listening| course.spacing(one.at)),
            members,
        })
    }

    /// Outsiders that would fit had the other sideband been used.
    fn other_sideband(&self, course: &Course, members: &[Placed], errors: &[Error]) -> Vec<(usize, i64)> {
        let outside = (0..self.field.carriers.len()).filter(|i| !members.iter().any(|m| m.carrier == *i));
        let fitting = outside.filter_map(|i| {
            let (hz, reach_hz) = (self.field.carriers[i].mirrored_hz?, errors[i].reach_hz());
            let spacing_hz = course.spacing(self.at[i]);
            let number = (hz / spacing_hz).round();
            // By chance one in ten would at most.
            let is_near = (hz - number * spacing_hz).abs() <= reach_hz && 20.0 * reach_hz < spacing_hz;
            is_near.then_some((i, number as i64))
        });
        fitting.collect()
    }
}

impl Drifting {
    /// Whether both give the carriers they share the same numbers.
    fn is_same(&self, other: &Self) -> bool {
        let of_other = |carrier: usize| other.members.iter().find(|m| m.carrier == carrier);
        let mut shared =
            self.members.iter().filter_map(|m| Some((m.number, of_other(m.carrier)?.number))).peekable();
        shared.peek().is_some() && shared.all(|(a, b)| a == b)
    }
}

/// A member to be fitted.
#[derive(Debug, Clone, Copy)]
pub struct Point {
    /// Its number.
    pub number: f64,
    /// When it was recorded.
    pub at: f64,
    /// Where it stood, Hz.
    pub rf_hz: f64,
    /// Its standard deviation, Hz.
    pub error_hz: f64,
}

/// A drifting spacing by least squares.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    course: Course,
    spacing_sd_hz: f64,
    rate_sd_hz: f64,
    /// What the members scatter, over what their errors are.
    scatter: f64,
    t95: f64,
}

/// Least squares of `rf = number·(spacing + rate·(at − t₀))`, weighted by the errors. t₀ = Σwk²t/Σwk², where
/// spacing and rate are independent of each other: spacing = Σwkf/Σwk², rate = Σwkτf/Σwk²τ² with τ = t − t₀
/// (derived; any handbook of statistics). `None` where no degree of freedom is left or all times are the same.
fn fitted(points: &[Point]) -> Option<Fitted> {
    let free = points.len().checked_sub(2).filter(|free| *free > 0)?;
    let sum = |of: &dyn Fn(&Point) -> f64| points.iter().map(|p| of(p) / p.error_hz.powi(2)).sum::<f64>();
    let squared = sum(&|p| p.number.powi(2));
    let at = sum(&|p| p.number.powi(2) * p.at) / squared;
    let spread = sum(&|p| (p.number * (p.at - at)).powi(2));
    if !(spread > 0.0 && spread.is_finite()) {
        return None;
    }
    let spacing_hz = sum(&|p| p.number * p.rf_hz) / squared;
    // Counted from the mean spacing, so that large products are not subtracted from each other.
    let rate_hz = sum(&|p| p.number * (p.at - at) * (p.rf_hz - p.number * spacing_hz)) / spread;
    let course = Course { at, spacing_hz, rate_hz };
    let squares = sum(&|p| (p.rf_hz - p.number * course.spacing(p.at)).powi(2));
    Some(Fitted {
        course,
        spacing_sd_hz: squared.sqrt().recip(),
        rate_sd_hz: spread.sqrt().recip(),
        scatter: (squares / free as f64).sqrt(),
        t95: StudentsT::new(0.0, 1.0, free as f64).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975)),
    })
}

/// Spacings (Hz, at the mean time) that explain the members of a family that keeps still as well, with other
/// numbers and a drift: of carriers recorded one after another in one band nobody can tell the spacing from what it
/// moved meanwhile.
pub fn instead(field: &Field<'_>, family: &Family, choice: usize) -> Vec<f64> {
    let (members, errors) = (&family.members, &field.choices[choice]);
    let point = |m: &Member| Point {
        number: m.harmonic as f64,
        at: field.listenings[field.carriers[m.carrier].listening].at,
        rf_hz: m.rf_hz,
        error_hz: errors[m.carrier].sd_hz(),
    };
    let points: Vec<Point> = members.iter().map(point).collect();
    let reaches_hz: Vec<f64> = members.iter().map(|m| errors[m.carrier].reach_hz()).collect();
    let is_timed = points.iter().any(|p| p.at != points[0].at);
    // Harmonics with the numbers of what stands beside the multiples are something else, too.
    let is_beside = !matches!(family.offset, Offset::Harmonics { .. });
    if is_timed { other_numbers(&points, &reaches_hz, is_beside) } else { Vec::new() }
}

/// Spacings at the mean time by which all points lie at other numbers on a course that drifts and may bend:
/// (k + m)·(s + d·m) is a parabola, whatever k. The numbers are shifted alike or in proportion. With few points the
/// course is straight, or anything would fit. `unshifted`: their own numbers are others too.
fn other_numbers(points: &[Point], reaches_hz: &[f64], unshifted: bool) -> Vec<f64> {
    let terms = if points.len() >= LEAST_BENT { 3 } else { 2 };
    let lowest = points.iter().map(|p| p.number).fold(f64::MAX, f64::min).max(1.0);
    let mut found = Vec::new();
    let mut try_shifted = |by: &dyn Fn(&Point) -> f64| {
        let moved: Vec<Point> = points.iter().map(|p| Point { number: p.number + by(p), ..*p }).collect();
        if moved.iter().any(|p| p.number < 1.0) || (!unshifted && points.iter().all(|p| by(p) == 0.0)) {
            return;
        }
        let Some((course, above_hz)) = bent(&moved, terms) else { return };
        let is_near = |(hz, reach_hz): (&f64, &f64)| hz.abs() <= LINE_ERROR * reach_hz;
        if above_hz.iter().zip(reaches_hz).all(is_near) && course[1].abs() <= MOST_DRIFT * course[0] {
            found.push(course[0]);
        }
    };
    for shift in (-MOST_SHIFTED..=MOST_SHIFTED).map(f64::from) {
        try_shifted(&|_| shift);
        try_shifted(&|p| (shift * p.number / lowest).round());
    }
    found.sort_by(f64::total_cmp);
    found.dedup_by(|a, b| (*a - *b).abs() < 1e-6 * *b);
    found
}

/// Least squares of number·(spacing + rate·τ + bend·τ²), τ from −½ to ½ over the points' time, of so many terms:
/// the coefficients, and how far each point stands above. The normal equations by Gauss's elimination (any
/// handbook); `None` where they have no solution.
fn bent(points: &[Point], terms: usize) -> Option<([f64; 3], Vec<f64>)> {
    let (first, last) = ends(points.iter().map(|point| point.at));
    let tau = |p: &Point| (p.at - (first + last) / 2.0) / (last - first).max(f64::MIN_POSITIVE);
    let of = |p: &Point| [p.number, p.number * tau(p), p.number * tau(p) * tau(p), p.rf_hz];
    let mut rows = [[0.0; 4]; 3];
    for p in points {
        let (x, weight) = (of(p), p.error_hz.powi(-2));
        for (row, xi) in rows.iter_mut().zip(x) {
            row.iter_mut().zip(x).for_each(|(sum, xj)| *sum += weight * xi * xj);
        }
    }
    for pivot in 0..terms {
        let head = rows[pivot];
        for (_, row) in rows.iter_mut().enumerate().filter(|(i, _)| *i != pivot) {
            let by = row[pivot] / head[pivot];
            row.iter_mut().zip(head).for_each(|(one, above)| *one -= by * above);
        }
    }
    let found: [f64; 3] = std::array::from_fn(|i| if i < terms { rows[i][3] / rows[i][i] } else { 0.0 });
    let above = |p: &Point| p.rf_hz - found.iter().zip(of(p)).map(|(a, x)| a * x).sum::<f64>();
    found.iter().all(|x| x.is_finite()).then(|| (found, points.iter().map(above).collect()))
}

/// The drifting spacing through members: (t₀, spacing, rate) and the standard deviations of the last two by the
/// errors alone.
pub fn regress(points: &[Point]) -> Option<[f64; 5]> {
    let line = fitted(points)?;
    Some([line.course.at, line.course.spacing_hz, line.course.rate_hz, line.spacing_sd_hz, line.rate_sd_hz])
}
