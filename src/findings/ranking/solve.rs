//! What each of several devices adds, from recordings of any of them together: least squares in linear power, since
//! powers of noises that know nothing of each other add. Not here: which recordings these are (`mod`).
//!
//! A recording's power is that with everything off, plus one of each device that is on, plus what "everything on" has
//! beyond the devices named. The weights are those of generalised least squares with the covariance of the takes (A.
//! C. Aitken, Proc. Roy. Soc. Edinburgh 55, 42–48, 1935; from memory), which is one of decibels: in power it grows
//! with the level, so a little noise beside a lot is known badly.

use crate::contrast::excess::CALLED_AT_SIGMAS;
use crate::contrast::{Cholesky, TakeLevel, TakeScatter};
use crate::findings::draws::{DRAWS, Draws, estimate};
use crate::signal::spectrum::statistics::{mean, student_975};
use crate::units::{Estimate, SIGMAS_OF_95, in_db, ratio_of_db};

/// Times the weights are found anew from the powers that were fitted. Chosen: beyond three nothing moves.
const ROUNDS: usize = 5;
/// Keeps the equations solvable where a device can't be told from others; far below what any figure is worth.
const RIDGE: f64 = 1e-10;
/// A device is told by itself where its power comes out as one with nothing of the others in it, to this much.
const ALONE: f64 = 1e-4;
/// The least that a device with its error may leave of the noise before: below, nothing is meant by decibels
/// (chosen).
const LEAST: f64 = 0.1;

/// A recording: which devices are on, and how loud it is.
#[derive(Debug, Clone)]
pub struct Heard {
    /// Of each device, whether it is on.
    pub on: Vec<bool>,
    /// Whether "everything" is on, devices that nobody named too.
    pub rest: bool,
    /// Its level.
    pub level: TakeLevel,
}

/// One device's part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// What it alone does to the noise with everything off, dB.
    pub excess: Estimate,
    /// The smallest excess that would have been called, dB.
    pub limit_db: f64,
    /// Whether it adds noise for certain.
    pub is_called: bool,
    /// Its power over that with everything off.
    pub power: f64,
}

/// How takes differ with nothing touched: the band moves under a quiet house, and less is seen of that under a loud
/// one, while gain and devices move both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Where the level is near that with everything off.
    pub quiet: TakeScatter,
    /// Where devices lift it by more than `LOUD_DB`.
    pub loud: TakeScatter,
}

/// From here on above everything off the devices have most of the power. Mathematics: 3 dB, half of it.
const LOUD_DB: f64 = 3.0;

impl Scatter {
    /// From takes that repeat each other; `session`: what is known of all the session's, where none do.
    pub fn of(heard: &[Heard], session: TakeScatter) -> Self {
        let level_of = |takes: &[&Heard]| takes.iter().map(|t| t.level.level_db).sum::<f64>() / takes.len() as f64;
        let mut conditions: Vec<Vec<&Heard>> = Vec::new();
        for one in heard {
            match conditions.iter_mut().find(|known| known[0].on == one.on && known[0].rest == one.rest) {
                Some(known) => known.push(one),
                None => conditions.push(vec![one]),
            }
        }
        let off = conditions.iter().find(|takes| takes[0].is_off()).map_or(0.0, |takes| level_of(takes));
        let learned = |is_loud: bool| {
            let alike = conditions.iter().filter(|takes| (level_of(takes) - off > LOUD_DB) == is_loud).enumerate();
            let takes = alike
                .flat_map(|(condition, takes)| takes.iter().map(move |take| TakeLevel { condition, ..take.level }));
            let found = TakeScatter::learned(&[takes.collect()]);
            if found.dof > TakeScatter::default().dof { found } else { session }
        };
        Self { quiet: learned(false), loud: learned(true) }
    }

    /// Standard deviation of a take of this power over everything off, dB: of the quiet one's as much as the band has
    /// of the power.
    fn sd_db(&self, power: f64) -> f64 {
        let band = (1.0 / power.max(1.0)).powi(2);
        (band * self.quiet.sd_db.powi(2) + (1.0 - band) * self.loud.sd_db.powi(2)).sqrt()
    }
}

impl Heard {
    fn is_off(&self) -> bool {
        !self.rest && self.on.iter().all(|on| !on)
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// Of each device; `None` where the recordings don't part it from others.
    pub parts: Vec<Option<Part>>,
    /// All devices together over everything off, dB; `None` where one of them is not told.
    pub sum: Option<Estimate>,
    /// Everything on over everything off, and that over the sum, dB; `None` where it was not recorded.
    pub all: Option<(Estimate, Estimate)>,
    /// Powers of everything on over everything off, as the parts make it.
    pub all_power: f64,
}

/// Solves for the devices' powers; `None` without a recording of everything off.
pub fn solve(heard: &[Heard], devices: usize, scatter: &Scatter) -> Option<Solved> {
    let reference = heard.iter().find(|one| one.is_off())?.level.level_db;
    let columns = devices + 2;
    let row = |one: &Heard| -> Vec<f64> {
        let on = one.on.iter().copied().chain([one.rest]).map(|on| f64::from(u8::from(on)));
        std::iter::once(1.0).chain(on).collect()
    };
    let rows: Vec<Vec<f64>> = heard.iter().map(row).collect();
    let powers: Vec<f64> = heard.iter().map(|one| ratio_of_db(one.level.level_db - reference)).collect();
    let takes: Vec<TakeLevel> = heard.iter().map(|one| one.level).collect();
    let least = powers.iter().copied().fold(f64::MAX, f64::min);
    let mut fitted = powers.clone();
    let mut weights = Vec::new();
    for _ in 0..ROUNDS {
        weights = {
            let covariance = scatter.quiet.covariance(&takes, |i| scatter.sd_db(fitted[i]));
            inverse(&rows, columns, |i, j| fitted[i] * fitted[j] * covariance(i, j))
        };
        let found = times(&weights, &powers);
        fitted = rows.iter().map(|row| dot(row, &found).max(LEAST * least)).collect();
    }
    let column = |k: usize| rows.iter().map(|row| row[k]).collect::<Vec<_>>();
    // What each figure has of each power: itself, and nothing of the others.
    let mixed: Vec<Vec<f64>> = (0..columns).map(|k| times(&weights, &column(k))).collect();
    let is_told = |k: usize| (0..columns).all(|l| (mixed[l][k] - f64::from(u8::from(k == l))).abs() < ALONE);
    if !is_told(0) {
        return None;
    }
    let found = times(&weights, &powers);
    let factor = Cholesky::of(takes.len(), scatter.quiet.covariance(&takes, |i| scatter.sd_db(fitted[i])));
    let stretch = stretch(&takes, &scatter.quiet).max(stretch(&takes, &scatter.loud));
    let mut draws = Draws::new();
    let drawn: Vec<Vec<f64>> = (0..DRAWS)
        .map(|_| {
            let scatter = factor.coloured(&(0..takes.len()).map(|_| draws.next()).collect::<Vec<_>>());
            let moved: Vec<f64> =
                powers.iter().zip(&scatter).map(|(power, db)| power * ratio_of_db(stretch * db)).collect();
            over_off(&times(&weights, &moved))
        })
        .collect();
    let found = over_off(&found);
    let part = |k: usize| {
        let values: Vec<f64> = drawn.iter().map(|one| one[k]).collect();
        let excess = level_estimate(found[k], values.clone());
        let mean = mean(&values);
        let sd = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt();
        let limit = (CALLED_AT_SIGMAS * sd / stretch).max(SIGMAS_OF_95 * sd);
        Part {
            excess,
            limit_db: level(limit),
            is_called: found[k] >= limit && excess.ci95.0 > 0.0,
            power: found[k],
        }
    };
    let sum_of = |one: &[f64]| one[1..=devices].iter().sum::<f64>();
    let told: Vec<bool> = (1..=devices).map(is_told).collect();
    let is_whole = told.iter().all(|told| *told);
    let has_all = heard.iter().any(|one| one.rest) && is_told(devices + 1) && is_whole;
    let of =
        |what: &dyn Fn(&[f64]) -> f64| level_estimate(what(&found), drawn.iter().map(|one| what(one)).collect());
    let rest = |one: &[f64]| sum_of(one) + one[devices + 1];
    let beyond = |one: &[f64]| (1.0 + rest(one)).max(LEAST) / (1.0 + sum_of(one)).max(LEAST) - 1.0;
    Some(Solved {
        parts: (1..=devices).map(|k| told[k - 1].then(|| part(k))).collect(),
        sum: is_whole.then(|| of(&sum_of)),
        all: has_all.then(|| (of(&rest), of(&beyond))),
        all_power: 1.0 + rest(&found),
    })
}

/// Powers over that with everything off.
fn over_off(powers: &[f64]) -> Vec<f64> {
    let off = powers[0].max(f64::MIN_POSITIVE);
    powers.iter().map(|power| power / off).collect()
}

fn level(added: f64) -> f64 {
    in_db((1.0 + added).max(LEAST))
}

fn level_estimate(added: f64, drawn: Vec<f64>) -> Estimate {
    estimate(level(added), &mut drawn.into_iter().map(level).collect::<Vec<_>>())
}

/// How much farther an interval reaches than a normal one, as the takes' scatter is known from few of them (F. E.
/// Satterthwaite, Biometrics Bulletin 2(6), 1946, from memory).
fn stretch(takes: &[TakeLevel], scatter: &TakeScatter) -> f64 {
    let within = takes.iter().map(|take| take.within_db.powi(2)).sum::<f64>() / takes.len() as f64;
    let between = scatter.sd_db.powi(2);
    let dof = scatter.dof * ((within + between) / between.max(f64::MIN_POSITIVE)).powi(2);
    student_975(dof) / SIGMAS_OF_95
}

/// (XᵀC⁻¹X)⁻¹XᵀC⁻¹, a row for each column of X.
fn inverse(rows: &[Vec<f64>], columns: usize, covariance: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
    let factor = Cholesky::of(rows.len(), covariance);
    let column = |k: usize| rows.iter().map(|row| row[k]).collect::<Vec<_>>();
    let solved: Vec<Vec<f64>> = (0..columns).map(|k| factor.solved(&column(k))).collect();
    let normal = |i: usize, j: usize| dot(&column(i), &solved[j]);
    let largest = (0..columns).map(|k| normal(k, k)).fold(0.0, f64::max);
    let factor = Cholesky::of(columns, |i, j| normal(i, j) + if i == j { RIDGE * largest } else { 0.0 });
    let each: Vec<Vec<f64>> = (0..rows.len())
        .map(|take| factor.solved(&solved.iter().map(|column| column[take]).collect::<Vec<_>>()))
        .collect();
    (0..columns).map(|k| each.iter().map(|take| take[k]).collect()).collect()
}

fn times(matrix: &[Vec<f64>], values: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, values)).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// What is known before any take.
    fn usual() -> Scatter {
        Scatter { quiet: TakeScatter::default(), loud: TakeScatter::default() }
    }

    /// Recordings of powers over off: which devices are on, whether everything is.
    fn heard(of: &[(&[u8], bool, f64)]) -> Vec<Heard> {
        of.iter()
            .enumerate()
            .map(|(condition, &(on, rest, power))| Heard {
                on: on.iter().map(|&on| on == 1).collect(),
                rest,
                level: TakeLevel { condition, at_min: 0.0, level_db: in_db(power), within_db: 0.02 },
            })
            .collect()
    }

    /// By the defining sum: powers 1 (off), 7, 1 and 0 of three devices. One alone: 1 + P; all but one: 9 − P. Both
    /// walks and both together give the powers back, and all on is explained.
    #[test]
    fn both_ways_give_the_powers_back() {
        let alone: &[(&[u8], bool, f64)] = &[
            (&[0, 0, 0], false, 1.0),
            (&[1, 0, 0], false, 8.0),
            (&[0, 1, 0], false, 2.0),
            (&[0, 0, 1], false, 1.0),
        ];
        let all: &[(&[u8], bool, f64)] = &[(&[1, 1, 1], true, 9.0)];
        let but: &[(&[u8], bool, f64)] =
            &[(&[0, 1, 1], true, 2.0), (&[1, 0, 1], true, 8.0), (&[1, 1, 0], true, 9.0)];
        let scatter = usual();
        for takes in [[alone, all].concat(), [&alone[..1], all, but].concat(), [alone, all, but].concat()] {
            let solved = solve(&heard(&takes), 3, &scatter).unwrap();
            for (part, power) in solved.parts.iter().zip([7.0, 1.0, 0.0]) {
                assert_abs_diff_eq!(part.unwrap().power, power, epsilon = 1e-6);
            }
            assert_abs_diff_eq!(solved.sum.unwrap().value, in_db(9.0), epsilon = 1e-6);
            let (all, beyond) = solved.all.unwrap();
            assert_abs_diff_eq!(all.value, in_db(9.0), epsilon = 1e-6);
            assert_abs_diff_eq!(beyond.value, 0.0, epsilon = 1e-6);
        }
        // Beside all others a device of nothing is known worse than by itself.
        let reach =
            |takes: &[(&[u8], bool, f64)]| solve(&heard(takes), 3, &scatter).unwrap().parts[2].unwrap().limit_db;
        let (beside, by_itself) = (reach(&[&alone[..1], all, but].concat()), reach(&[alone, all].concat()));
        assert!(beside > 3.0 * by_itself, "{beside} {by_itself}");
    }

    /// By the defining sum: everything on has 2 of power that no device explains: 10 lg(6/4) = 1.761 dB.
    #[test]
    fn what_no_device_explains_is_left() {
        let takes: &[(&[u8], bool, f64)] =
            &[(&[0, 0], false, 1.0), (&[1, 0], false, 3.0), (&[0, 1], false, 2.0), (&[1, 1], true, 6.0)];
        let (_, beyond) = solve(&heard(takes), 2, &usual()).unwrap().all.unwrap();
        assert_abs_diff_eq!(beyond.value, 1.761, epsilon = 1e-3);
    }

    /// Source: the normal equations as in N. R. Draper and H. Smith, Applied Regression Analysis (from memory), worked
    /// by hand for y = a + b·x at x = 0, 0, 1, 1: a is the mean of the first two, b the difference of the means.
    #[test]
    fn least_squares_as_in_the_textbook() {
        let rows = [vec![1.0, 0.0], vec![1.0, 0.0], vec![1.0, 1.0], vec![1.0, 1.0]];
        let weights = inverse(&rows, 2, |i, j| f64::from(u8::from(i == j)));
        let found = times(&weights, &[1.0, 3.0, 6.0, 8.0]);
        assert_abs_diff_eq!(found[0], 2.0, epsilon = 1e-6);
        assert_abs_diff_eq!(found[1], 5.0, epsilon = 1e-6);
        // Unequal errors: each weighs by the inverse of its variance: (1·1 + 3/3)/(1 + 1/3) = 1.5.
        let weights = inverse(&rows[..2], 1, |i, j| if i == j { [1.0, 3.0][i] } else { 0.0 });
        assert_abs_diff_eq!(times(&weights, &[1.0, 3.0])[0], 1.5, epsilon = 1e-6);
    }

    #[test]
    fn what_is_not_parted_is_not_told() {
        let takes: &[(&[u8], bool, f64)] =
            &[(&[0, 0, 0], false, 1.0), (&[1, 1, 0], false, 4.0), (&[0, 0, 1], false, 2.0)];
        let solved = solve(&heard(takes), 3, &usual()).unwrap();
        assert_eq!(solved.parts.iter().map(Option::is_some).collect::<Vec<_>>(), [false, false, true]);
        assert_eq!((solved.sum, solved.all), (None, None));
        assert_eq!(solve(&heard(&takes[1..]), 3, &usual()), None);
    }

    /// Source: the definition of a 95 % interval, over walks with six circuits where gain and devices move
    /// by 0.15 dB from take to take and the band by 0.3 dB (standard deviations): powers of 9, 3, 1 and 0 dB over
    /// off, one alone and all but one, two takes of each. Tolerance: 92 to 99.5 % of 480 intervals, since takes
    /// that move less than what is known beforehand have wider ones; and the smallest noise is called alone, and
    /// beside the others never wrongly quiet.
    #[test]
    fn intervals_hold_the_truth_both_ways() {
        let truths: [f64; 6] = [9.0, 3.0, 1.0, 0.0, 0.0, 0.0];
        let powers = truths.map(|db| ratio_of_db(db) - 1.0);
        let (mut held, mut of, mut sums) = (0, 0, 0);
        for (session, but) in (0..80).map(|n| (n, n % 2 == 1)) {
            let mut draws = Draws::seeded(session);
            let mut takes: Vec<Heard> = Vec::new();
            let mut add = |on: Vec<bool>, rest: bool, condition: usize| {
                let power = 1.0 + on.iter().zip(powers).map(|(on, p)| if *on { p } else { 0.0 }).sum::<f64>();
                // Gain and devices move all of it, the band its own part.
                let level_db = in_db(power - 1.0 + ratio_of_db(0.3 * draws.next())) + 0.15 * draws.next();
                takes.push(Heard {
                    on,
                    rest,
                    level: TakeLevel { condition, at_min: 0.0, level_db, within_db: 0.04 },
                });
            };
            for _ in 0..2 {
                (0..2).for_each(|_| add(vec![false; 6], false, 0));
                (0..2).for_each(|_| add(vec![true; 6], true, 1));
                (0..6).for_each(|k| add((0..6).map(|i| (i == k) != but).collect(), but, 2 + k));
            }
            let solved = solve(&takes, 6, &Scatter::of(&takes, TakeScatter::default())).unwrap();
            for (part, truth) in solved.parts.iter().zip(truths) {
                let excess = part.unwrap().excess;
                held += usize::from(excess.ci95.0 <= truth && truth <= excess.ci95.1);
                of += 1;
            }
            let (_, beyond) = solved.all.unwrap();
            sums += usize::from(beyond.ci95.0 <= 0.0 && 0.0 <= beyond.ci95.1);
        }
        assert!((442..=478).contains(&held), "{held} of {of}");
        assert!((72..=80).contains(&sums), "{sums} of 80 sums");
    }
}
