//! Where a series of levels jumps: the cut into stretches of constant level that costs least, exactly, with a cost
//! that single wild values (a crash, a click) can't pull. Not here: what the stretches mean (`episodes`).
//!
//! Sources: the penalised cost and pruning of R. Killick, P. Fearnhead, I. Eckley, JASA 107, 1590–1598, 2012; the
//! biweight cost min((y − θ)², K²) with K = 3σ and the exact minimisation by piecewise quadratic functions of P.
//! Fearnhead, G. Rigaill, JASA 114, 169–183, 2019 (both from memory).

use crate::signal::spectrum::statistics::ends;

/// Values that lie further than this many standard deviations from a level count the same however far they lie.
/// Common practice: of normal values three in a thousand.
pub const WILD_SIGMAS: f64 = 3.0;

/// A series cut into stretches.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// First index of each stretch; the first is 0.
    pub starts: Vec<usize>,
    /// Level of each stretch.
    pub levels: Vec<f64>,
    /// What the cut costs: the sum over stretches and the penalty once for each change.
    pub cost: f64,
}

/// What a value's distance from a level costs: its square times a weight, up to a distance K; beyond, as much as
/// there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighing {
    /// Weight of the square.
    pub weight: f64,
    /// K for values above the level; infinite for the plain sum of squares.
    pub above: f64,
    /// K for values below it.
    pub below: f64,
}

impl Weighing {
    /// Squares as they are, the same to both sides.
    pub fn even(wild: f64) -> Self {
        Self { weight: 1.0, above: wild, below: wild }
    }
}

/// The cheapest cut of `series`. `penalty`: what each change must save at least. `weighing`: how the
/// value at each place counts. Values must be finite.
///
/// Time grows with the length times the number of pieces of the cost function, some tens for measured levels.
pub fn cut(series: &[f64], penalty: f64, weighing: impl Fn(usize) -> Weighing) -> Cut {
    if series.is_empty() {
        return Cut { starts: Vec::new(), levels: Vec::new(), cost: 0.0 };
    }
    // Levels are counted from the middle of the series: squares of large numbers would lose digits.
    let (low, high) = ends(series.iter().copied());
    let origin = 0.5 * (low + high);
    let mut cost = CostFunction::over(low - origin, high - origin);
    let mut bests = Vec::with_capacity(series.len());
    for (t, y) in series.iter().enumerate() {
        if t > 0 {
            let best = cost.best();
            cost.cap(best.cost + penalty, t);
            bests.push(best);
        }
        cost.add(y - origin, &weighing(t));
    }
    bests.push(cost.best());
    let mut found = Cut { starts: Vec::new(), levels: Vec::new(), cost: cost.best().cost };
    let mut end = series.len();
    while end > 0 {
        let best = bests[end - 1];
        found.starts.push(best.since);
        found.levels.push(best.level + origin);
        end = best.since;
    }
    found.starts.reverse();
    found.levels.reverse();
    found
}

/// The cheapest way to have come to a place.
#[derive(Debug, Clone, Copy)]
struct Best {
    cost: f64,
    /// Where its last stretch began.
    since: usize,
    level: f64,
}

/// Least cost of all values so far as a function of the level of the last stretch: a quadratic on each piece.
struct CostFunction {
    pieces: Vec<Segment>,
}

/// square·θ² + slope·θ + fixed on from..to, for a last stretch that began at `since`.
#[derive(Debug, Clone, Copy)]
struct Segment {
    from: f64,
    to: f64,
    square: f64,
    slope: f64,
    fixed: f64,
    since: usize,
}

impl CostFunction {
    fn over(low: f64, high: f64) -> Self {
        Self { pieces: vec![Segment { from: low, to: high, square: 0.0, slope: 0.0, fixed: 0.0, since: 0 }] }
    }

    fn best(&self) -> Best {
        let mut best = Best { cost: f64::INFINITY, since: 0, level: 0.0 };
        for piece in &self.pieces {
            let level = piece.lowest();
            let cost = piece.at(level);
            if cost < best.cost {
                best = Best { cost, since: piece.since, level };
            }
        }
        best
    }

    /// No level costs more than a fresh stretch that begins at `since`.
    fn cap(&mut self, most: f64, since: usize) {
        let mut capped: Vec<Segment> = Vec::with_capacity(self.pieces.len() + 2);
        let mut push = |piece: Segment| match capped.last_mut() {
            Some(last) if last.since == since && piece.since == since => last.to = piece.to,
            _ if piece.to >= piece.from => capped.push(piece),
            _ => {}
        };
        for piece in &self.pieces {
            let fresh = |from: f64, to: f64| Segment { from, to, square: 0.0, slope: 0.0, fixed: most, since };
            match piece.below(most) {
                None => push(fresh(piece.from, piece.to)),
                Some((from, to)) => {
                    if from > piece.from {
                        push(fresh(piece.from, from));
                    }
                    push(Segment { from, to, ..*piece });
                    if to < piece.to {
                        push(fresh(to, piece.to));
                    }
                }
            }
        }
        self.pieces = capped;
    }

    /// One more value.
    fn add(&mut self, y: f64, weighing: &Weighing) {
        let Weighing { weight, above, below } = *weighing;
        // Of the levels that lie too low for it to count in full, and too high.
        let (low, high) = (y - above, y + below);
        let square = |distance: f64| weight * distance * distance;
        let mut added = Vec::with_capacity(self.pieces.len() + 2);
        for piece in &self.pieces {
            let inner = (piece.from.max(low), piece.to.min(high));
            let far = |from: f64, to: f64, most: f64| Segment { from, to, fixed: piece.fixed + most, ..*piece };
            if inner.0 > inner.1 {
                let most = if piece.from > high { below } else { above };
                added.push(far(piece.from, piece.to, square(most)));
                continue;
            }
            if piece.from < inner.0 {
                added.push(far(piece.from, inner.0, square(above)));
            }
            added.push(Segment {
                from: inner.0,
                to: inner.1,
                square: piece.square + weight,
                slope: piece.slope - 2.0 * weight * y,
                fixed: piece.fixed + weight * y * y,
                since: piece.since,
            });
            if inner.1 < piece.to {
                added.push(far(inner.1, piece.to, square(below)));
            }
        }
        self.pieces = added;
    }
}

impl Segment {
    fn at(&self, level: f64) -> f64 {
        (self.square * level + self.slope) * level + self.fixed
    }

    /// The level within the piece at which it is lowest.
    fn lowest(&self) -> f64 {
        if self.square > 0.0 { (-0.5 * self.slope / self.square).clamp(self.from, self.to) } else { self.from }
    }

    /// The part of the piece that lies at or below a cost; `None` if nowhere.
    fn below(&self, most: f64) -> Option<(f64, f64)> {
        if self.at(self.lowest()) > most {
            return None;
        }
        if self.square == 0.0 {
            return Some((self.from, self.to));
        }
        let middle = -0.5 * self.slope / self.square;
        let half = (middle * middle - (self.fixed - most) / self.square).max(0.0).sqrt();
        Some((self.from.max(middle - half), self.to.min(middle + half)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Levels −62 (40 values), −50 (25), −62 (35), −59 (20) with Gaussian noise of 0.8, seeded, four decimals.
    const SERIES: [f64; 120] = [
        -63.1283, -62.677, -62.8563, -61.775, -62.5244, -60.4749, -61.4241, -60.3581, -61.4182, -62.416, -61.6282,
        -61.5077, -61.2949, -61.8871, -62.4326, -61.1748, -61.7944, -62.2777, -62.3869, -62.0156, -62.4723,
        -61.091, -61.5305, -60.9361, -62.205, -62.7596, -61.5902, -62.6881, -60.731, -62.0048, -62.7962, -61.8333,
        -59.8578, -61.7441, -61.7617, -62.2945, -62.9874, -60.5046, -62.6303, -62.0552, -50.3519, -50.0891,
        -50.1522, -50.1422, -49.6368, -48.8087, -50.0994, -50.081, -50.2263, -49.9644, -50.1726, -50.4857,
        -49.7096, -50.7899, -50.5614, -51.4174, -51.3835, -49.6262, -49.3762, -50.0093, -50.7192, -48.6682,
        -50.3062, -48.2331, -50.4966, -62.3858, -60.8099, -60.5129, -61.3056, -62.9393, -61.5981, -62.3041,
        -61.7787, -62.0228, -61.8717, -64.3955, -61.3763, -62.311, -61.685, -61.7018, -62.7555, -61.2197, -61.9538,
        -62.3455, -62.3269, -61.241, -61.7557, -61.5522, -62.1369, -62.0067, -61.8174, -61.4452, -62.4382,
        -62.0035, -62.6142, -62.2207, -61.5386, -62.3729, -61.4093, -61.3564, -59.8767, -58.8913, -58.9823,
        -59.5259, -58.2938, -57.7176, -59.6668, -58.1579, -59.3353, -58.656, -59.9505, -59.1455, -58.4655,
        -58.6497, -58.4935, -59.6901, -58.5511, -58.5527, -58.8633, -57.6553,
    ];

    fn plain(_: usize) -> Weighing {
        Weighing::even(f64::INFINITY)
    }

    fn with_wild_values() -> Vec<f64> {
        let mut series = SERIES.to_vec();
        (series[12], series[50], series[85]) = (-40.0, -30.0, -42.0);
        series
    }

    /// Source: an exact dynamic programme in NumPy 2.4.6 and the PELT of the Python package ruptures 1.1.10, which
    /// agree (sum of squares). Tolerance: places exact, costs by the digits given.
    #[test]
    fn places_and_costs_of_the_plain_sum_of_squares() {
        for (penalty, starts, cost) in [
            (6.127_99, vec![0, 40, 65, 100], 80.1855),
            (20.0, vec![0, 40, 65, 100], 121.8015),
            (200.0, vec![0, 40, 65], 581.9724),
        ] {
            let found = cut(&SERIES, penalty, plain);
            assert_eq!(found.starts, starts, "penalty {penalty}");
            assert_abs_diff_eq!(found.cost, cost, epsilon = 1e-4);
        }
        let found = cut(&with_wild_values(), 6.127_99, plain);
        assert_eq!(found.starts, [0, 12, 13, 40, 50, 51, 65, 85, 86, 100]);
        assert_abs_diff_eq!(found.cost, 115.9170, epsilon = 1e-4);
    }

    /// Source: an exact dynamic programme in NumPy 2.4.6 with the biweight cost of Fearnhead & Rigaill, K = 2.4.
    #[test]
    fn wild_values_make_no_changes_with_the_biweight() {
        let found = cut(&with_wild_values(), 6.127_99, |_| Weighing::even(2.4));
        assert_eq!(found.starts, [0, 40, 65, 100]);
        assert_abs_diff_eq!(found.cost, 96.2449, epsilon = 1e-4);
        for (level, truth) in found.levels.iter().zip([-62.0, -50.0, -62.0, -59.0]) {
            assert_abs_diff_eq!(*level, truth, epsilon = 0.5);
        }
    }

    #[test]
    fn nothing_one_value_and_constant_series() {
        let three = |_| Weighing::even(3.0);
        assert!(cut(&[], 1.0, three).starts.is_empty());
        assert_eq!(cut(&[7.0], 1.0, three).levels, [7.0]);
        let found = cut(&[-3.0; 500], 1.0, three);
        assert_eq!(found.starts, [0]);
        assert_abs_diff_eq!(found.cost, 0.0, epsilon = 1e-9);
    }
}
