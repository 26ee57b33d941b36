//! The least squares behind it: powers that are not negative and a band that walks, from levels of cells.
//!
//! For given powers the band is the solution of a tridiagonal system, so the powers alone are solved for (their
//! Schur complement), by the active sets of C. L. Lawson and R. J. Hanson, *Solving Least Squares Problems*, 1974,
//! ch. 23 (from memory).

/// What was measured of a stretch without an edge.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// Its middle.
    pub at_s: f64,
    pub power: f64,
    pub sd: f64,
    /// Which of the noises are on.
    pub on: Vec<bool>,
}

/// Powers and band, with what is needed for their variances.
pub(super) struct Solution {
    pub powers: Vec<f64>,
    /// Of each cell.
    pub band: Vec<f64>,
    system: Tridiagonal,
    /// For each noise: how the band of each cell answers to its power, with the sign turned.
    answers: Vec<Vec<f64>>,
    /// Covariance of the powers.
    covariance: Vec<Vec<f64>>,
    /// Squares left over per degree of freedom, where they are more than 1.
    misfit: f64,
}

/// Rounds in which the band's motion is taken relative to the band just found. Chosen: it hardly changes after.
const ROUNDS: usize = 3;
/// The band is taken to be no less than this share of the lowest level (chosen): a noise that changes its power must
/// not turn it negative.
const LEAST_BAND: f64 = 0.05;

/// `motion`: variance that the band gains a second in parts of its square. `None` where a power can't be told: there
/// is no cell without the noise, or the cells don't tell two noises apart.
pub(super) fn solve(cells: &[Cell], noises: usize, motion: f64) -> Option<Solution> {
    let lowest = cells.iter().map(|cell| cell.power).fold(f64::MAX, f64::min);
    let mut scale: Vec<f64> = vec![lowest; cells.len()];
    let mut found = None;
    for _ in 0..ROUNDS {
        let solution = once(cells, noises, motion, &scale)?;
        scale = solution.band.iter().map(|band| band.max(LEAST_BAND * lowest)).collect();
        found = Some(solution);
    }
    found
}

fn once(cells: &[Cell], noises: usize, motion: f64, scale: &[f64]) -> Option<Solution> {
    let count = cells.len();
    let weight: Vec<f64> = cells.iter().map(|cell| cell.sd.powi(-2)).collect();
    // One over the variance of each step of the walk.
    let stiff: Vec<f64> = (1..count)
        .map(|at| {
            let band = (scale[at - 1] + scale[at]) / 2.0;
            1.0 / (motion * (cells[at].at_s - cells[at - 1].at_s) * band * band)
        })
        .collect();
    let diagonal = (0..count).map(|at| {
        weight[at] + at.checked_sub(1).map_or(0.0, |before| stiff[before]) + stiff.get(at).copied().unwrap_or(0.0)
    });
    let system = Tridiagonal::of(diagonal.collect(), stiff.iter().map(|stiff| -stiff).collect());
    let is_on = |at: usize, noise: usize| if cells[at].on[noise] { 1.0 } else { 0.0 };
    let of_levels = system.solve((0..count).map(|at| weight[at] * cells[at].power).collect());
    let answers: Vec<Vec<f64>> = (0..noises)
        .map(|noise| system.solve((0..count).map(|at| weight[at] * is_on(at, noise)).collect()))
        .collect();
    let dot = |noise: usize, values: &dyn Fn(usize) -> f64| -> f64 {
        (0..count).filter(|&at| cells[at].on[noise]).map(|at| weight[at] * values(at)).sum()
    };
    let schur: Vec<Vec<f64>> =
        (0..noises).map(|a| (0..noises).map(|b| dot(a, &|at| is_on(at, b) - answers[b][at])).collect()).collect();
    let wanted: Vec<f64> = (0..noises).map(|noise| dot(noise, &|at| cells[at].power - of_levels[at])).collect();
    let covariance = inverse(&schur)?;
    let powers = not_negative(&schur, &wanted)?;
    let band: Vec<f64> = (0..count)
        .map(|at| of_levels[at] - (0..noises).map(|noise| powers[noise] * answers[noise][at]).sum::<f64>())
        .collect();
    let rest = |at: usize| {
        let on: f64 = (0..noises).map(|noise| is_on(at, noise) * powers[noise]).sum();
        cells[at].power - band[at] - on
    };
    let squares: f64 = (0..count).map(|at| weight[at] * rest(at).powi(2)).sum::<f64>()
        + (1..count).map(|at| stiff[at - 1] * (band[at] - band[at - 1]).powi(2)).sum::<f64>();
    // Levels and steps of the walk, less what was fitted: powers and band.
    let left = (count - 1).saturating_sub(noises).max(1) as f64;
    Some(Solution { powers, band, system, answers, covariance, misfit: (squares / left).max(1.0) })
}

impl Solution {
    pub fn power_variance(&self, a: usize, b: usize) -> f64 {
        self.misfit * self.covariance[a][b]
    }

    /// Variance of a sum of bands and powers with these factors.
    pub fn variance(&self, of_band: &[f64], of_powers: &[f64]) -> f64 {
        let solved = self.system.solve(of_band.to_vec());
        let own: f64 = of_band.iter().zip(&solved).map(|(a, b)| a * b).sum();
        // The band answers to each power.
        let rest: Vec<f64> = of_powers
            .iter()
            .zip(&self.answers)
            .map(|(part, answer)| part - of_band.iter().zip(answer).map(|(a, b)| a * b).sum::<f64>())
            .collect();
        let of_rest: f64 = rest.iter().zip(&self.covariance).map(|(a, row)| a * dot(row, &rest)).sum();
        self.misfit * (own + of_rest)
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A symmetric tridiagonal system, eliminated (Thomas).
struct Tridiagonal {
    /// What is left of the diagonal.
    pivots: Vec<f64>,
    beside: Vec<f64>,
}

impl Tridiagonal {
    fn of(diagonal: Vec<f64>, beside: Vec<f64>) -> Self {
        let mut pivots = diagonal;
        for at in 1..pivots.len() {
            pivots[at] -= beside[at - 1].powi(2) / pivots[at - 1];
        }
        Self { pivots, beside }
    }

    fn solve(&self, mut right: Vec<f64>) -> Vec<f64> {
        let count = right.len();
        for at in 1..count {
            right[at] -= self.beside[at - 1] / self.pivots[at - 1] * right[at - 1];
        }
        for at in (0..count).rev() {
            let after = if at + 1 < count { self.beside[at] * right[at + 1] } else { 0.0 };
            right[at] = (right[at] - after) / self.pivots[at];
        }
        right
    }
}

/// Least ½pᵀAp − bᵀp with no p below 0.
pub(super) fn not_negative(a: &[Vec<f64>], b: &[f64]) -> Option<Vec<f64>> {
    let count = b.len();
    let mut free = vec![false; count];
    let mut p = vec![0.0; count];
    for _ in 0..3 * count + 3 {
        let gain = |at: usize, p: &[f64]| b[at] - dot(&a[at], p);
        let tiny = |at: usize| 1e-12 * b[at].abs().max(f64::MIN_POSITIVE);
        let next = (0..count)
            .filter(|&at| !free[at] && gain(at, &p) > tiny(at))
            .max_by(|&x, &y| gain(x, &p).total_cmp(&gain(y, &p)));
        let Some(next) = next else { return Some(p) };
        free[next] = true;
        loop {
            let places: Vec<usize> = (0..count).filter(|&at| free[at]).collect();
            let sub: Vec<Vec<f64>> = places.iter().map(|&i| places.iter().map(|&j| a[i][j]).collect()).collect();
            let inverse = inverse(&sub)?;
            let right: Vec<f64> = places.iter().map(|&at| b[at]).collect();
            let wished: Vec<f64> = inverse.iter().map(|row| dot(row, &right)).collect();
            if wished.iter().all(|value| *value > 0.0) {
                p = vec![0.0; count];
                places.iter().zip(&wished).for_each(|(&at, value)| p[at] = *value);
                break;
            }
            // As far towards it as none gets negative; what gets to 0 stays there.
            let share = places
                .iter()
                .zip(&wished)
                .filter(|(_, value)| **value <= 0.0)
                .map(|(&at, value)| p[at] / (p[at] - value))
                .fold(1.0, f64::min);
            for (&at, value) in places.iter().zip(&wished) {
                p[at] += share * (value - p[at]);
                free[at] = p[at] > 1e-12 * value.abs();
                p[at] = if free[at] { p[at] } else { 0.0 };
            }
        }
    }
    None
}

/// Of a symmetric positive definite matrix, by Gauss and Jordan; `None` of others.
fn inverse(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let count = matrix.len();
    // Scaled, so that what is singular shows.
    let scale: Vec<f64> = (0..count).map(|at| matrix[at][at].sqrt()).collect();
    if scale.iter().any(|scale| scale.is_nan() || *scale <= 0.0) {
        return None;
    }
    let mut left: Vec<Vec<f64>> =
        (0..count).map(|i| (0..count).map(|j| matrix[i][j] / scale[i] / scale[j]).collect()).collect();
    let mut right: Vec<Vec<f64>> =
        (0..count).map(|i| (0..count).map(|j| if i == j { 1.0 } else { 0.0 }).collect()).collect();
    for at in 0..count {
        let pivot = left[at][at];
        if pivot.is_nan() || pivot <= SINGULAR {
            return None;
        }
        left[at].iter_mut().chain(&mut right[at]).for_each(|value| *value /= pivot);
        let (row, own) = (left[at].clone(), right[at].clone());
        for other in (0..count).filter(|&other| other != at) {
            let factor = left[other][at];
            left[other].iter_mut().zip(&row).for_each(|(value, part)| *value -= factor * part);
            right[other].iter_mut().zip(&own).for_each(|(value, part)| *value -= factor * part);
        }
    }
    Some((0..count).map(|i| (0..count).map(|j| right[i][j] / scale[i] / scale[j]).collect()).collect())
}

/// What is left of a diagonal of ones where rows depend on each other, by rounding (chosen).
const SINGULAR: f64 = 1e-9;
