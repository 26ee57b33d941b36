//! How far the band's own noise moves in a given time, by the parts of the night in which nothing came or went.
//!
//! Two takes of quiet beside an episode can't tell how far the band fades; hours of quiet can. What is asked is how
//! far means over half a minute lie apart at a given distance (a structure function, common practice in turbulence
//! and propagation work).

use super::pieces::{Piece, Sides};
use crate::contrast::TakeScatter;
use crate::night::Timeline;
use crate::night::episodes::runs::{Levels, Run, Spotted};
use crate::signal::spectrum::statistics::{SD_OF_MEDIAN, mean, median};

/// Length of a mean: about that of the parts compared (chosen: `pieces` takes some 30 s).
const MEAN_S: f64 = 24.0;
/// Left out on each side of an episode. Chosen: twice what an edge may be off.
const GUARD_S: f64 = 4.0;
/// Fewest pairs of means that tell anything. Chosen: as many as make two degrees of freedom.
const LEAST_PAIRS: usize = 8;
/// Pairs that overlap are not independent: this many count as one, about how often a mean's length holds the
/// distance from one mean to the next. At most sixty are counted (chosen): from there on Student's t is the normal
/// distribution to 2 %.
const PAIRS_PER_DOF: f64 = 4.0;
const MOST_DOF: f64 = 60.0;

/// Levels of all runs where nothing came or went, dB; NaN elsewhere.
pub(crate) struct Quiet {
    runs: Vec<QuietRun>,
}

struct QuietRun {
    from_s: f64,
    to_s: f64,
    /// Means over [`MEAN_S`], a quarter of that apart; NaN where not all of it is quiet.
    means_db: Vec<f64>,
}

/// Distance of neighbouring means.
const HOP_S: f64 = MEAN_S / PAIRS_PER_DOF;

impl Quiet {
    pub fn of(night: &Timeline, runs: &[Run], spotted: &[Spotted]) -> Self {
        let quiet = |(at, run): (usize, &Run)| {
            let levels = Levels::of(night, run);
            let step_s = levels.step_s;
            let mut level_db = levels.of_pauses();
            // Clicks leave the level as it is.
            for one in spotted.iter().filter(|one| one.run == at && !one.of_clicks) {
                let place = |at_s: f64| ((at_s - run.span_s.0) / step_s).round().max(0.0) as usize;
                let (from, to) = (place(one.start_s - GUARD_S), place(one.end_s + GUARD_S).min(level_db.len()));
                level_db[from.min(to)..to].fill(f64::NAN);
            }
            let (width, hop) = ((MEAN_S / step_s) as usize, (HOP_S / step_s).round().max(1.0) as usize);
            let means_db = level_db.windows(width.max(1)).step_by(hop).map(mean).collect();
            QuietRun { from_s: run.span_s.0, to_s: run.span_s.1, means_db }
        };
        Self { runs: runs.iter().enumerate().map(quiet).collect() }
    }

    /// Mean square of the difference of two means so far apart, dB², as a normal spread's median tells it (a
    /// passing car or a loud voice must not count for the band), and how many pairs it is from.
    fn apart(run: &QuietRun, seconds: f64) -> Option<(f64, usize)> {
        let lag = (seconds / HOP_S).round().max(PAIRS_PER_DOF) as usize;
        let pairs = run.means_db.iter().zip(run.means_db.iter().skip(lag));
        let mut apart: Vec<f64> = pairs.map(|(a, b)| (a - b).abs()).filter(|apart| !apart.is_nan()).collect();
        let count = apart.len();
        (count >= LEAST_PAIRS).then(|| ((SD_OF_MEDIAN * median(&mut apart)).powi(2), count))
    }
}

/// The motion that matters to one episode's comparison; `None` where there is too little quiet to tell.
pub(crate) fn motion(quiet: &Quiet, sides: &Sides) -> Option<TakeScatter> {
    let middle = |piece: &Piece| (piece.from_s + piece.to_s) / 2.0;
    let at_s = middle(sides.on.first()?);
    let run = quiet.runs.iter().find(|run| (run.from_s..=run.to_s).contains(&at_s))?;
    // Each end of the episode is a comparison of neighbours: the greater of their distances.
    let nearest = |off: &Piece| sides.on.iter().map(|on| (middle(on) - middle(off)).abs()).fold(f64::MAX, f64::min);
    let beside_s = sides.off.iter().map(nearest).fold(0.0, f64::max);
    let (square, pairs) = Quiet::apart(run, beside_s)?;
    let apart_s = match sides.off.as_slice() {
        [before, after] => middle(after) - middle(before),
        _ => beside_s,
    };
    // Where the quiet is never so far apart, what it does over the furthest there is.
    let furthest = (1..=8).find_map(|share| Quiet::apart(run, apart_s / f64::from(share)));
    Some(TakeScatter {
        drift: 0.0,
        sd_db: (square / 2.0).sqrt(),
        dof: (pairs as f64 / PAIRS_PER_DOF).clamp(2.0, MOST_DOF),
        apart_db: furthest.map_or(square, |far| far.0).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Two values of a·sin that lie τ apart differ by a sine of 2a·sin(ωτ/2); the median magnitude of a sine is its
    /// height over √2.
    #[test]
    fn a_sines_structure_function() {
        let (a, period_s) = (1.5, 600.0);
        let means_db: Vec<f64> =
            (0..2000).map(|n| a * (std::f64::consts::TAU * n as f64 * HOP_S / period_s).sin()).collect();
        let run = QuietRun { from_s: 0.0, to_s: 12_000.0, means_db };
        for seconds in [30.0, 150.0, 300.0] {
            let (square, _) = Quiet::apart(&run, seconds).unwrap();
            let height = 2.0 * a * (std::f64::consts::PI * seconds / period_s).sin();
            let expected = (SD_OF_MEDIAN * height).powi(2) / 2.0;
            assert_abs_diff_eq!(square, expected, epsilon = 0.05 * expected);
        }
    }
}
