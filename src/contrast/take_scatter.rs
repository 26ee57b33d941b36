//! How far the level of a band moves from one take to the next with nothing touched, and what that leaves of the
//! difference between two states: every repeated take of a session tells of it, and before the first repeat, what
//! is known of bands and receivers. Not here: the scatter within a take (`bootstrap`).

use serde::{Deserialize, Serialize};

use crate::signal::spectrum::statistics::median;

/// What is known before the first repeat: standard deviation of a take's level, dB, and for how many degrees of
/// freedom that stands. Common practice: a band at rest and a receiver left alone hold a level to some tenths of a
/// dB. Chosen: so that intervals from one take a state still hold the truth in nine of ten sessions where takes
/// move by 0.5 dB, and in 93 to 99 % over 0 to 0.5 dB (simulated apart from this program, and the validation
/// bench).
const PRIOR_SD_DB: f64 = 0.28;
const PRIOR_DOF: f64 = 3.0;
/// Standard deviation of a take's level that a band at rest does not exceed, dB: beyond it the takes tell of
/// something that changed. Chosen: as above, the most that intervals from few takes are made for.
const RESTLESS_DB: f64 = 0.5;
/// How fast the level may drift, as a random walk: variance gained a minute, in units of a take's own; and how
/// probable each is before the session has told. Chosen: steps of about ten from a band at rest to one that moves
/// within the minute as much as takes scatter in an hour; most evenings need none.
const DRIFTS: [(f64, f64); 5] = [(0.0, 0.7), (0.1, 0.1), (0.5, 0.1), (2.0, 0.05), (8.0, 0.05)];

/// Takes of a condition that scatter with so many times the variance of all others stand for themselves: the
/// device, not the band, is another each time. Mathematics: of two alike, among some ten, one in a thousand does.
const APART: f64 = 20.0;

/// One take's level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeLevel {
    /// Which takes ought to be alike: off is one, each device with each remedy another.
    pub condition: usize,
    /// When it was made, minutes from any start; equal for all where that is not known.
    pub at_min: f64,
    /// Its level, dB.
    pub level_db: f64,
    /// Standard deviation of that by the take's own slices, dB.
    pub within_db: f64,
}

/// The model: level = its condition's + slow drift + scatter of each take.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TakeScatter {
    /// Standard deviation of a take's level beside what its own slices explain, dB.
    pub sd_db: f64,
    /// Degrees of freedom of that.
    pub dof: f64,
    /// Variance that drift adds a minute, in units of `sd_db`².
    pub drift: f64,
    /// Standard deviation of a difference of two off takes beyond which the band was not at rest, dB.
    pub apart_db: f64,
}

impl Default for TakeScatter {
    fn default() -> Self {
        Self { sd_db: PRIOR_SD_DB, dof: PRIOR_DOF, drift: 0.0, apart_db: RESTLESS_DB * 2f64.sqrt() }
    }
}

/// What a difference of two states rests on.
pub(super) struct Difference {
    /// What each take's level counts for in it; those of on sum to 1, those of off to −1.
    pub weights: Vec<f64>,
    /// Variance that takes add to it, dB².
    pub between: f64,
}

impl TakeScatter {
    /// From the takes of several settings, which share how they scatter and drift. The moderated variance is G. K.
    /// Smyth's (Stat. Appl. Genet. Mol. Biol. 3(1), article 3, 2004; from memory); of the drifts, the most probable
    /// by the residuals' likelihood (REML: H. D. Patterson and R. Thompson, Biometrika 58(3), 545–554, 1971; from
    /// memory).
    pub fn learned(settings: &[Vec<TakeLevel>]) -> Self {
        let repeated = alike(settings.iter().map(|takes| repeated(takes)).collect());
        let mut best = (f64::MIN, Self::default());
        for (drift, prior) in DRIFTS {
            let fits: Vec<Residuals> = repeated.iter().filter_map(|takes| Residuals::of(takes, drift)).collect();
            let dof = PRIOR_DOF + fits.iter().map(|fit| fit.dof).sum::<f64>();
            let sum = PRIOR_DOF * PRIOR_SD_DB.powi(2) + fits.iter().map(|fit| fit.sum_of_squares).sum::<f64>();
            let log_likelihood = -0.5 * fits.iter().map(|fit| fit.log_determinants).sum::<f64>();
            let score = log_likelihood - 0.5 * dof * sum.ln() + prior.ln();
            if score > best.0 {
                best = (score, Self { sd_db: (sum / dof).sqrt(), dof, drift, ..Self::default() });
            }
        }
        best.1
    }

    /// As it will be known from takes yet to be made, `repeats` more than their conditions, if they scatter by
    /// `sd_db`.
    pub fn expected(sd_db: f64, repeats: usize) -> Self {
        let repeats = repeats as f64;
        let dof = PRIOR_DOF + repeats;
        let sum = PRIOR_DOF * PRIOR_SD_DB.powi(2) + repeats * sd_db.powi(2);
        Self { sd_db: (sum / dof).sqrt(), dof, ..Self::default() }
    }

    /// For one comparison: where its own takes scatter far more, by those and what is known before any.
    pub(super) fn heeding(self, takes: &[TakeLevel]) -> Self {
        let (mut own, mut dof) = (0.0, 0.0);
        for state in [0, 1] {
            let spread = Spread::of(takes.iter().filter(|take| take.condition == state));
            (own, dof) = (own + spread.sum_of_squares, dof + spread.dof);
        }
        if own <= APART * self.sd_db.powi(2) * dof {
            return self;
        }
        let (sum, dof) = (PRIOR_DOF * PRIOR_SD_DB.powi(2) + own, PRIOR_DOF + dof);
        Self { sd_db: (sum / dof).sqrt(), dof, ..self }
    }

    /// Covariance of the takes' levels, dB²: what they scatter and drift by together, each with a standard deviation of
    /// its own, and what each scatters by its slices.
    pub fn covariance(&self, takes: &[TakeLevel], sd_db: impl Fn(usize) -> f64) -> impl Fn(usize, usize) -> f64 {
        let between = self.between(takes, sd_db);
        move |i, j| between(i, j) + if i == j { own_variance(&takes[i]) } else { 0.0 }
    }

    fn between(&self, takes: &[TakeLevel], sd_db: impl Fn(usize) -> f64) -> impl Fn(usize, usize) -> f64 {
        let (drift, start) = (self.drift, first(takes));
        move |i, j| {
            let both = f64::from(u8::from(i == j)) + drift * (takes[i].at_min.min(takes[j].at_min) - start);
            sd_db(i) * sd_db(j) * both
        }
    }

    /// How levels of condition 1 are best set against those of condition 0 (generalised least squares).
    pub(super) fn difference(&self, takes: &[TakeLevel]) -> Difference {
        let between = self.between(takes, |_| self.sd_db);
        let factor = Cholesky::of(takes.len(), self.covariance(takes, |_| self.sd_db));
        let states = [0, 1].map(|state| {
            let member: Vec<f64> = takes.iter().map(|take| f64::from(u8::from(take.condition == state))).collect();
            factor.solved(&member)
        });
        // (Xᵀ C⁻¹ X)⁻¹ of the two states, written out.
        let sum = |column: &[f64], state: usize| {
            takes.iter().zip(column).filter(|(take, _)| take.condition == state).map(|(_, v)| v).sum::<f64>()
        };
        let (a, b, d) = (sum(&states[0], 0), sum(&states[0], 1), sum(&states[1], 1));
        let determinant = a * d - b * b;
        let weights: Vec<f64> = states[0]
            .iter()
            .zip(&states[1])
            .map(|(off, on)| ((a + b) * on - (b + d) * off) / determinant)
            .collect();
        let between = (0..takes.len())
            .map(|i| (0..takes.len()).map(|j| weights[i] * weights[j] * between(i, j)).sum::<f64>())
            .sum();
        Difference { weights, between }
    }
}

/// Scatter of takes of one condition beyond what their slices explain.
struct Spread {
    sum_of_squares: f64,
    dof: f64,
}

impl Spread {
    fn of<'a>(takes: impl Iterator<Item = &'a TakeLevel>) -> Self {
        let takes: Vec<&TakeLevel> = takes.collect();
        let mean = takes.iter().map(|take| take.level_db).sum::<f64>() / takes.len() as f64;
        let dof = takes.len().saturating_sub(1) as f64;
        let within = median(&mut takes.iter().map(|take| take.within_db.powi(2)).collect::<Vec<_>>());
        let squares = takes.iter().map(|take| (take.level_db - mean).powi(2)).sum::<f64>();
        Self { sum_of_squares: (squares - dof * within).max(0.0), dof }
    }
}

/// Without the conditions that scatter far more than all others.
fn alike(mut settings: Vec<Vec<TakeLevel>>) -> Vec<Vec<TakeLevel>> {
    loop {
        let mut spreads: Vec<(usize, usize, Spread)> = Vec::new();
        for (setting, takes) in settings.iter().enumerate() {
            let conditions = takes.iter().map(|take| take.condition + 1).max().unwrap_or(0);
            spreads.extend((0..conditions).filter_map(|condition| {
                let spread = Spread::of(takes.iter().filter(|take| take.condition == condition));
                (spread.dof > 0.0).then_some((setting, condition, spread))
            }));
        }
        let sum = PRIOR_DOF * PRIOR_SD_DB.powi(2) + spreads.iter().map(|s| s.2.sum_of_squares).sum::<f64>();
        let dof = PRIOR_DOF + spreads.iter().map(|s| s.2.dof).sum::<f64>();
        let is_apart = |spread: &Spread| {
            spread.sum_of_squares / spread.dof > APART * (sum - spread.sum_of_squares) / (dof - spread.dof)
        };
        let Some((setting, condition, _)) = spreads.iter().find(|s| is_apart(&s.2)) else { return settings };
        let (setting, condition) = (*setting, *condition);
        settings[setting].retain(|take| take.condition != condition);
        // The others are numbered from 0 again.
        settings[setting] = repeated(&settings[setting]);
    }
}

/// Of a take's level by its slices, dB². Levels that are known to nothing at all weigh alike.
fn own_variance(take: &TakeLevel) -> f64 {
    take.within_db.min(100.0).powi(2) + f64::EPSILON
}

fn first(takes: &[TakeLevel]) -> f64 {
    takes.iter().map(|take| take.at_min).fold(f64::MAX, f64::min)
}

/// Takes that have another of their condition, those numbered anew from 0.
fn repeated(takes: &[TakeLevel]) -> Vec<TakeLevel> {
    let mut conditions: Vec<usize> = takes.iter().map(|take| take.condition).collect();
    conditions.sort_unstable();
    conditions.dedup();
    conditions.retain(|&c| takes.iter().filter(|take| take.condition == c).count() > 1);
    let numbered = |take: &TakeLevel| {
        conditions.iter().position(|&c| c == take.condition).map(|condition| TakeLevel { condition, ..*take })
    };
    takes.iter().filter_map(numbered).collect()
}

/// What is left of a setting's levels beside their conditions' means.
struct Residuals {
    dof: f64,
    /// In units of the takes' covariance, less what their slices explain, dB².
    sum_of_squares: f64,
    log_determinants: f64,
}

impl Residuals {
    /// `None` without a repeated take.
    fn of(takes: &[TakeLevel], drift: f64) -> Option<Self> {
        let conditions = takes.iter().map(|take| take.condition).max()? + 1;
        let start = first(takes);
        let covariance = |i: usize, j: usize| {
            f64::from(u8::from(i == j)) + drift * (takes[i].at_min.min(takes[j].at_min) - start)
        };
        let factor = Cholesky::of(takes.len(), covariance);
        let whitened = |values: Vec<f64>| factor.whitened(&values);
        let levels = whitened(takes.iter().map(|take| take.level_db).collect());
        let columns: Vec<Vec<f64>> = (0..conditions)
            .map(|c| whitened(takes.iter().map(|take| f64::from(u8::from(take.condition == c))).collect()))
            .collect();
        let normal = Cholesky::of(conditions, |i, j| dot(&columns[i], &columns[j]));
        let explained = normal.whitened(&columns.iter().map(|column| dot(column, &levels)).collect::<Vec<_>>());
        let dof = (takes.len() - conditions) as f64;
        // The middle: one take that fades must not take the scatter of all the others away.
        let within = median(&mut takes.iter().map(|take| take.within_db.powi(2)).collect::<Vec<_>>());
        let sum_of_squares = dot(&levels, &levels) - dot(&explained, &explained) - dof * within;
        Some(Self {
            dof,
            sum_of_squares: sum_of_squares.max(0.0),
            log_determinants: factor.log_determinant() + normal.log_determinant(),
        })
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Lower triangle L with L·Lᵀ the matrix, which must be positive definite.
pub(crate) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    pub fn of(n: usize, matrix: impl Fn(usize, usize) -> f64) -> Self {
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(n);
        for i in 0..n {
            let mut row = Vec::with_capacity(i + 1);
            for j in 0..i {
                let above: &Vec<f64> = &rows[j];
                row.push((matrix(i, j) - dot(&row, above)) / above[j]);
            }
            row.push((matrix(i, i) - dot(&row, &row)).sqrt());
            rows.push(row);
        }
        Self(rows)
    }

    /// L⁻¹·v.
    pub fn whitened(&self, values: &[f64]) -> Vec<f64> {
        let mut found: Vec<f64> = Vec::with_capacity(values.len());
        for (row, value) in self.0.iter().zip(values) {
            found.push((value - dot(row, &found)) / row[found.len()]);
        }
        found
    }

    /// L·v.
    pub fn coloured(&self, values: &[f64]) -> Vec<f64> {
        self.0.iter().map(|row| dot(row, values)).collect()
    }

    /// (L·Lᵀ)⁻¹·v.
    pub fn solved(&self, values: &[f64]) -> Vec<f64> {
        let mut found = self.whitened(values);
        for i in (0..found.len()).rev() {
            found[i] /= self.0[i][i];
            for j in 0..i {
                found[j] -= self.0[i][j] * found[i];
            }
        }
        found
    }

    /// Of the matrix.
    fn log_determinant(&self) -> f64 {
        self.0.iter().enumerate().map(|(i, row)| 2.0 * row[i].ln()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use crate::signal::spectrum::statistics::student_975;

    fn gauss(rng: &mut ChaCha8Rng) -> f64 {
        let mut unit = || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        (-2.0 * (1.0 - unit()).ln()).sqrt() * (std::f64::consts::TAU * unit()).cos()
    }

    /// Off and on in turn, a minute apart where dated.
    fn in_turn(levels_db: &[f64], dated: bool) -> Vec<TakeLevel> {
        let take = |(k, &level_db): (usize, &f64)| TakeLevel {
            condition: k % 2,
            at_min: if dated { k as f64 } else { 0.0 },
            level_db,
            within_db: 0.0,
        };
        levels_db.iter().enumerate().map(take).collect()
    }

    fn value(takes: &[TakeLevel], difference: &Difference) -> f64 {
        takes.iter().zip(&difference.weights).map(|(take, weight)| weight * take.level_db).sum()
    }

    /// Source: the moderated variance (G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 3(1), article 3, 2004; from
    /// memory), worked by hand: residuals of ±0.1 and ±0.3 dB have squares of 0.2 dB² with two degrees of freedom:
    /// (3·0.28² + 0.2)/5. Two takes a side: each counts a half, the variance of the difference is that once.
    #[test]
    fn the_moderated_variance_and_a_plain_difference() {
        let takes = in_turn(&[-0.1, 2.7, 0.1, 3.3], false);
        let scatter = TakeScatter::learned(std::slice::from_ref(&takes));
        let variance = (3.0 * 0.28f64.powi(2) + 0.2) / 5.0;
        assert_abs_diff_eq!(scatter.sd_db, variance.sqrt(), epsilon = 1e-9);
        assert_eq!((scatter.dof, scatter.drift), (5.0, 0.0));
        let difference = scatter.difference(&takes);
        for (weight, expected) in difference.weights.iter().zip([-0.5, 0.5, -0.5, 0.5]) {
            assert_abs_diff_eq!(*weight, expected, epsilon = 1e-9);
        }
        assert_abs_diff_eq!(difference.between, variance, epsilon = 1e-9);
        assert_eq!(TakeScatter::learned(&[in_turn(&[0.0, 4.0], true)]), TakeScatter::default());
    }

    /// Source: the definition of a 95 % interval, over sessions where takes scatter by 0 to 0.5 dB with nothing
    /// touched; what a prior of about this size gives was simulated apart from this program (for s₀ = 0.3 dB and
    /// ν₀ = 3: 95, 92, 92 % at 0.5 dB for 1, 2 and 3 takes a side, widths of 2.7, 1.45 and 1.11 dB at 0.3 dB).
    #[test]
    fn intervals_hold_between_takes() {
        let mut rng = ChaCha8Rng::seed_from_u64(29);
        for (rounds, widest) in [(1, 2.7), (2, 1.6), (3, 1.3)] {
            let (mut held, mut at_most) = (0, 0);
            let mut widths = Vec::new();
            for session in 0..2000 {
                let w = [0.0, 0.1, 0.2, 0.3, 0.5][session % 5];
                let levels: Vec<f64> = (0..2 * rounds).map(|_| w * gauss(&mut rng)).collect();
                let takes = in_turn(&levels, true);
                let scatter = TakeScatter::learned(std::slice::from_ref(&takes));
                let difference = scatter.difference(&takes);
                let reach = student_975(scatter.dof) * difference.between.sqrt();
                let holds = usize::from(value(&takes, &difference).abs() <= reach);
                held += holds;
                if w == 0.5 {
                    at_most += holds;
                } else {
                    widths.push(2.0 * reach);
                }
            }
            let width = median(&mut widths);
            assert!((1860..=1980).contains(&held), "{rounds}: {held} of 2000");
            assert!(at_most >= 352, "{rounds}: {at_most} of 400");
            assert!(width <= widest, "{rounds}: {width}");
        }
    }

    /// By arithmetic: a level that climbs by 1 dB from take to take lifts the mean of on over that of off by 1 dB,
    /// and each on take lies in the middle of its two off takes. Dated takes tell which it is.
    #[test]
    fn off_on_off_on_takes_a_drift_away() {
        let levels: Vec<f64> = (0..6).map(|k| f64::from(k) + [0.0, 4.0][k as usize % 2]).collect();
        let [blind, dated] = [false, true].map(|dated| {
            let takes = in_turn(&levels, dated);
            let scatter = TakeScatter::learned(std::slice::from_ref(&takes));
            let difference = scatter.difference(&takes);
            (value(&takes, &difference), student_975(scatter.dof) * difference.between.sqrt())
        });
        assert_abs_diff_eq!(blind.0, 5.0, epsilon = 1e-9);
        assert!((dated.0 - 4.0).abs() < 0.4 && dated.1 < 0.7 * blind.1, "{blind:?} {dated:?}");
    }

    /// A device that is another at each take must not widen the intervals of all others.
    #[test]
    fn a_condition_that_scatters_alone_stands_for_itself() {
        let mut takes = in_turn(&[0.0, 4.0, 0.1, 4.1, -0.1, 4.0], false);
        let calm = TakeScatter::learned(std::slice::from_ref(&takes));
        let of_the_other = |level_db| TakeLevel { condition: 2, at_min: 0.0, level_db, within_db: 0.0 };
        takes.extend([of_the_other(3.0), of_the_other(12.0)]);
        assert_eq!(TakeScatter::learned(&[takes]), calm);
        let own = calm.heeding(&in_turn(&[0.0, 3.0, 0.1, 12.0], false));
        assert!(own.sd_db > 2.0 && own.dof == 5.0, "{own:?}");
        assert_eq!(calm.heeding(&in_turn(&[0.0, 3.0, 0.1, 3.2], false)), calm);
    }
}
