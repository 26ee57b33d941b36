//! What the theory of a series choke makes of steps that differ by ferrites or turns: how its impedance stands to
//! the loop's, what more of the same would buy, and whether ferrite on this lead can help at all.
//!
//! The model: a common-mode current through a loop of impedance Z, with a choke's impedance in series, falls by
//! |1 + n·t²·r·e^{jφ}|, r = |Zf|/|Z| for one piece with one turn, φ the angle between the two. Impedances add by piece
//! and go with the square of the turns, up to the choke's own resonance. A receiver's level can't tell r and φ
//! apart with few steps: the fit is given for a resistive choke on a resistive loop (φ = 0), its forecasts for
//! every φ from 0 to 90° that the steps allow. Angles beyond make a choke help less or even harm, which is told
//! when it is seen.
//!
//! Not here: excess and its intervals (`contrast`), which steps are labelled how (`choke_steps`).

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::result::ChokeVerdict;
use super::steps::attenuation;
use crate::units::{Estimate, in_db, ratio_of_db};

/// A fall of the device's power below this is nothing (our own choice: half of what an ear may notice), dB.
const NOTHING_DB: f64 = 0.5;
/// A rise of it by more than this is worse. Chosen: smaller rises come by the band's own motion.
const WORSE_DB: f64 = 0.2;
/// Rise of chi² that bounds a 95 % interval of one figure (profile likelihood; Wilks 1938, from memory).
const CHI2_95: f64 = 3.841;
/// A fit is refused at this probability of its chi². Common practice: one true fit in a hundred is refused.
const MISFIT: f64 = 0.99;
/// Angles looked at: this many from 0 to 90°, every 3°. In simulated ladders of four steps, steps of 15° let one
/// angle in four go by between them, and forecasts held the truth in 80 % only.
const ANGLES: usize = 31;
/// Span of r looked at (powers of ten), and points in it. Chosen: from a thousandth of the loop's impedance to a
/// thousand times it, beyond which a choke does nothing or all; 10 points a decade, refined where it matters.
const RATIO_SPAN: (f64, f64) = (-3.0, 3.0);
const RATIO_POINTS: usize = 61;
/// Points between the ends of a row's 95 % interval, which may be narrower than the grid. Chosen: an interval's end
/// then lies within a tenth of its length.
const FINE_POINTS: usize = 12;
/// Shares of the power that pass the choke by. Chosen: hundredths, as printed.
const BYPASS_POINTS: usize = 100;

/// What n pieces with t turns through each are worth in impedance: n·t².
pub fn windings_worth(ferrites: u32, turns: u32) -> f64 {
    f64::from(ferrites) * f64::from(turns).powi(2)
}

/// A step by its number of pieces on the lead; 0 is the device as it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChokeStep {
    /// Pieces.
    pub ferrites: u32,
    /// Turns of the lead through them.
    pub turns: u32,
    /// Excess left, dB.
    pub excess: Estimate,
}

impl ChokeStep {
    fn worth(&self) -> f64 {
        windings_worth(self.ferrites, self.turns)
    }
}

/// What more pieces or turns would buy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Pieces in all.
    pub ferrites: u32,
    /// Turns.
    pub turns: u32,
    /// Further fall of the device's own power, dB.
    pub attenuation: Estimate,
    /// Excess then left, dB.
    pub excess: Estimate,
}

/// The fit.
#[derive(Debug, Clone, PartialEq)]
pub struct ChokeFit {
    /// What it comes to.
    pub verdict: ChokeVerdict,
    /// |Zf|/|Zloop| of one piece with one turn if both are resistive, with its 95 % interval (open end: `None`).
    pub ratio: Option<(f64, f64, Option<f64>)>,
    /// Smallest chi² of the model and its degrees of freedom.
    pub chi2: (f64, usize),
    /// Share of the device's power that passes the choke by, with its 95 % interval, where the steps flatten.
    pub bypass: Option<Estimate>,
    /// For twice as many pieces, and for one turn more; none where the model does not hold.
    pub forecasts: Vec<Forecast>,
}

impl ChokeFit {
    /// Fits steps that differ in pieces or turns only. `shared_db`: standard deviation of the off level all of them
    /// stand over. `None` where fewer than two different windings are there, or none with a piece.
    pub fn of(steps: &[ChokeStep], shared_db: f64) -> Option<Self> {
        let mut steps = steps.to_vec();
        steps.retain(|s| s.excess.value.is_finite() && (s.excess.ci95.1 - s.excess.ci95.0).is_finite());
        steps.sort_by(|a, b| a.worth().total_cmp(&b.worth()));
        let (first, last) = (*steps.first()?, *steps.last()?);
        if last.worth() <= first.worth() {
            return None;
        }
        let data = Data::of(&steps, shared_db);
        let surface = data.surface();
        let best = surface.iter().map(|p| p.chi2).fold(f64::INFINITY, f64::min);
        let dof = steps.len().saturating_sub(2);
        let ratio = ratio(&surface);
        let mut fit =
            Self { verdict: ChokeVerdict::Fits, ratio, chi2: (best, dof), bypass: None, forecasts: vec![] };
        fit.verdict = fit.judged(&steps, &data, shared_db);
        if matches!(fit.verdict, ChokeVerdict::Fits | ChokeVerdict::Unsure) {
            let more = [(2 * last.ferrites, last.turns), (last.ferrites, last.turns + 1)];
            fit.forecasts =
                more.iter().filter_map(|&(ferrites, turns)| forecast(&surface, &last, ferrites, turns)).collect();
        } else if fit.verdict != ChokeVerdict::Flattens {
            fit.ratio = None;
        }
        Some(fit)
    }

    fn judged(&mut self, steps: &[ChokeStep], data: &Data, shared_db: f64) -> ChokeVerdict {
        let first = &steps[0];
        let fitted: Vec<_> = steps[1..].iter().filter(|s| s.worth() > 0.0).collect();
        let falls: Vec<_> = fitted.iter().map(|s| attenuation(&first.excess, &s.excess, shared_db)).collect();
        let upper = |i: usize| falls[i].as_ref().and_then(|a| a.high).unwrap_or(f64::INFINITY);
        if (0..falls.len()).any(|i| upper(i) < -WORSE_DB) {
            return ChokeVerdict::Worse;
        }
        if falls.len() >= 2 && (0..falls.len()).all(|i| upper(i) < NOTHING_DB) {
            return ChokeVerdict::NoUse;
        }
        let (chi2, dof) = self.chi2;
        if dof > 0 && chi2 > ChiSquared::new(dof as f64).map_or(f64::INFINITY, |c| c.inverse_cdf(MISFIT)) {
            self.bypass = data.bypass(dof.saturating_sub(1), chi2);
            return if self.bypass.is_some() { ChokeVerdict::Flattens } else { ChokeVerdict::PoorFit };
        }
        match self.ratio {
            Some((_, low, _)) if low > 0.0 => ChokeVerdict::Fits,
            _ => ChokeVerdict::Unsure,
        }
    }
}

/// One point of the surface of chi².
#[derive(Debug, Clone, Copy)]
struct Point {
    ratio: f64,
    cos: f64,
    chi2: f64,
    /// The device's own power without a choke over the off power, as fits best there.
    own: f64,
}

impl Point {
    /// Share of the power that is left with windings of this worth.
    fn left(&self, worth: f64) -> f64 {
        left(self.ratio, self.cos, worth)
    }
}

/// 1/|1 + r·w·e^{jφ}|².
fn left(ratio: f64, cos: f64, worth: f64) -> f64 {
    let x = ratio * worth;
    1.0 / (1.0 + 2.0 * x * cos + x * x)
}

/// The steps as the fit sees them.
struct Data {
    worth: Vec<f64>,
    excess_db: Vec<f64>,
    /// 1/variance of each excess without what all share.
    weight: Vec<f64>,
    /// 1/variance of the off level they share; infinite where it is exact.
    shared_weight: f64,
}

impl Data {
    fn of(steps: &[ChokeStep], shared_db: f64) -> Self {
        let own = |s: &ChokeStep| {
            let variance = crate::findings::draws::sd(&s.excess).powi(2) - shared_db * shared_db;
            1.0 / variance.max(0.02 * 0.02)
        };
        Self {
            worth: steps.iter().map(ChokeStep::worth).collect(),
            excess_db: steps.iter().map(|s| s.excess.value).collect(),
            weight: steps.iter().map(own).collect(),
            shared_weight: 1.0 / (shared_db * shared_db),
        }
    }

    /// Chi² of the excesses that these shares of `own` power leave; the shared off level is free within its error.
    fn chi2(&self, own: f64, left: &[f64]) -> f64 {
        let residual: Vec<f64> =
            self.excess_db.iter().zip(left).map(|(excess, left)| excess - in_db(1.0 + own * left)).collect();
        let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
            self.weight.iter().zip(&residual).map(|(w, r)| f(*w, *r)).sum()
        };
        let (total, weighted) = (sum(&|w, _| w), sum(&|w, r| w * r));
        // Least squares for the shared offset o with its own weight: o = Σwr/(Σw + ws).
        let offset = if self.shared_weight.is_finite() { weighted / (total + self.shared_weight) } else { 0.0 };
        let penalty = if offset == 0.0 { 0.0 } else { offset * offset * self.shared_weight };
        sum(&|w, r| w * (r - offset).powi(2)) + penalty
    }

    /// The own power that fits best, and its chi²: a coarse look over all sizes, then golden section.
    fn best_own(&self, left: &[f64]) -> (f64, f64) {
        let at = |db: f64| self.chi2(ratio_of_db(db), left);
        let top = self.excess_db.iter().copied().fold(0.0, f64::max);
        let (from, to, count) = (-25.0, top + 35.0, 30);
        let step = (to - from) / f64::from(count);
        let start = (0..=count).map(|i| from + f64::from(i) * step).min_by(|a, b| at(*a).total_cmp(&at(*b)));
        let start = start.unwrap_or(top);
        let db = golden(start - step, start + step, &at);
        (ratio_of_db(db), at(db))
    }

    fn point(&self, ratio: f64, cos: f64) -> Point {
        let shares: Vec<f64> = self.worth.iter().map(|&w| left(ratio, cos, w)).collect();
        let (own, chi2) = self.best_own(&shares);
        Point { ratio, cos, chi2, own }
    }

    /// Every ratio (0 among them) at every angle, and the best of each angle.
    fn surface(&self) -> Vec<Point> {
        let mut points = Vec::with_capacity(ANGLES * (RATIO_POINTS + FINE_POINTS + 2));
        for angle in 0..ANGLES {
            let cos = (90.0 * angle as f64 / (ANGLES - 1) as f64).to_radians().cos();
            let step = (RATIO_SPAN.1 - RATIO_SPAN.0) / (RATIO_POINTS - 1) as f64;
            let row: Vec<Point> = std::iter::once(0.0)
                .chain((0..RATIO_POINTS).map(|i| 10f64.powf(RATIO_SPAN.0 + step * i as f64)))
                .map(|ratio| self.point(ratio, cos))
                .collect();
            let best = row.iter().min_by(|a, b| a.chi2.total_cmp(&b.chi2)).map_or(0.0, |p| p.ratio);
            if best > 0.0 {
                points.extend(self.around(best.log10(), step, cos));
            }
            points.extend(row);
        }
        points
    }

    /// The exact best point near `log_ratio` and points throughout its 95 % interval.
    fn around(&self, log_ratio: f64, step: f64, cos: f64) -> Vec<Point> {
        let at = |log: f64| self.point(10f64.powf(log), cos);
        let exact = golden(log_ratio - step, log_ratio + step, &|log| at(log).chi2);
        let best = at(exact);
        let end = |towards: f64| {
            let (mut within, mut beyond) = (exact, towards);
            for _ in 0..14 {
                let middle = (within + beyond) / 2.0;
                let is_within = at(middle).chi2 <= best.chi2 + CHI2_95;
                if is_within { within = middle } else { beyond = middle }
            }
            within
        };
        let (low, high) = (end(RATIO_SPAN.0), end(RATIO_SPAN.1));
        let fine = (0..FINE_POINTS).map(|i| at(low + (high - low) * i as f64 / (FINE_POINTS - 1) as f64));
        std::iter::once(best).chain(fine).collect()
    }

    /// The share that passes the choke by, if letting it makes the fit good; the choke itself taken as resistive.
    fn bypass(&self, dof: usize, chi2_without: f64) -> Option<Estimate> {
        let mut profile: Vec<(f64, f64)> = Vec::new();
        for i in 0..BYPASS_POINTS {
            let share = i as f64 / BYPASS_POINTS as f64;
            let ratios = (0..61).map(|k| 10f64.powf(-2.0 + 5.0 * f64::from(k) / 60.0));
            let chi2 = ratios
                .map(|ratio| {
                    let shares: Vec<f64> =
                        self.worth.iter().map(|&w| (1.0 - share) * left(ratio, 1.0, w) + share).collect();
                    self.best_own(&shares).1
                })
                .fold(f64::INFINITY, f64::min);
            profile.push((share, chi2));
        }
        let &(value, best) = profile.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let limit = match dof {
            0 => CHI2_95,
            dof => ChiSquared::new(dof as f64).map_or(f64::INFINITY, |c| c.inverse_cdf(MISFIT)),
        };
        if best > limit || chi2_without - best < CHI2_95 {
            return None;
        }
        let within = || profile.iter().filter(|(_, chi2)| *chi2 <= best + CHI2_95).map(|(share, _)| *share);
        let (low, high) = (within().fold(value, f64::min), within().fold(value, f64::max));
        Some(Estimate { value, ci95: (low, high) })
    }
}

/// The resistive ratio and the ends of its profile interval.
fn ratio(surface: &[Point]) -> Option<(f64, f64, Option<f64>)> {
    let row: Vec<&Point> = surface.iter().filter(|p| p.cos == 1.0).collect();
    let best = row.iter().min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
    let within = || row.iter().filter(|p| p.chi2 <= best.chi2 + CHI2_95).map(|p| p.ratio);
    let (low, high) = (within().fold(best.ratio, f64::min), within().fold(best.ratio, f64::max));
    Some((best.ratio, low, Some(high).filter(|high| *high < 0.99 * 10f64.powf(RATIO_SPAN.1))))
}

/// What other windings than the last step's would buy: the best fit's value, and the span of all that the steps
/// allow.
fn forecast(surface: &[Point], last: &ChokeStep, ferrites: u32, turns: u32) -> Option<Forecast> {
    let (now, then) = (last.worth(), windings_worth(ferrites, turns));
    let fall = |p: &Point| in_db(p.left(now) / p.left(then));
    let excess = |p: &Point| in_db(1.0 + p.own * p.left(then));
    let best = surface.iter().min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
    // A resistive choke, unless the steps speak against it: few steps leave the angle open.
    let resistive = surface.iter().filter(|p| p.cos == 1.0).min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
    let chosen = if resistive.chi2 < best.chi2 + 1.0 { resistive } else { best };
    let allowed = || surface.iter().filter(|p| p.chi2 <= best.chi2 + CHI2_95);
    let span = |f: &dyn Fn(&Point) -> f64| Estimate {
        value: f(chosen),
        ci95: (allowed().map(f).fold(f(chosen), f64::min), allowed().map(f).fold(f(chosen), f64::max)),
    };
    Some(Forecast { ferrites, turns, attenuation: span(&fall), excess: span(&excess) })
}

/// The smallest value of a function with one valley between two places, to a thousandth of their distance.
fn golden(mut low: f64, mut high: f64, f: &dyn Fn(f64) -> f64) -> f64 {
    // Mathematics: the golden section, (√5 − 1)/2.
    const SHARE: f64 = 0.618_033_988_75;
    for _ in 0..16 {
        let (a, b) = (high - SHARE * (high - low), low + SHARE * (high - low));
        if f(a) <= f(b) { high = b } else { low = a }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rustfft::num_complex::Complex64;

    fn ohm(re: f64, im: f64) -> Complex64 {
        Complex64::new(re, im)
    }

    /// Source: voltage divider (H. W. Ott, Electromagnetic Compatibility Engineering, 2009, from memory); values
    /// derived by hand from 20 lg|(Z + Zf)/Z|; negative where the choke makes the current larger.
    /// Tolerance: half of the last digit given.
    #[test]
    fn a_series_choke_loses_what_the_voltage_divider_says() {
        for (z_loop, choke, loss_db) in [
            (ohm(100.0, 0.0), ohm(100.0, 0.0), 6.021),
            (ohm(100.0, 0.0), ohm(200.0, 0.0), 9.542),
            (ohm(100.0, 0.0), ohm(400.0, 0.0), 13.979),
            (ohm(100.0, 0.0), ohm(900.0, 0.0), 20.000),
            (ohm(100.0, 0.0), ohm(100.0, 100.0), 6.990),
            (ohm(100.0, 0.0), ohm(0.0, 100.0), 3.010),
            (ohm(300.0, 0.0), ohm(400.0, 0.0), 7.360),
            (ohm(50.0, -150.0), ohm(0.0, 100.0), -6.990),
            (ohm(50.0, -150.0), ohm(100.0, 0.0), 2.553),
            (ohm(150.0, 0.0), ohm(100.0, 0.0), 4.437),
            (ohm(150.0, 0.0), ohm(300.0, 0.0), 9.542),
            (ohm(150.0, 0.0), ohm(600.0, 0.0), 13.979),
        ] {
            let of_loop = choke / z_loop;
            assert_abs_diff_eq!(-in_db(left(of_loop.norm(), of_loop.arg().cos(), 1.0)), loss_db, epsilon = 0.0006);
        }
        assert_eq!((windings_worth(4, 1), windings_worth(1, 3), windings_worth(2, 2)), (4.0, 9.0, 8.0));
    }

    /// A ladder that an ideal choke makes: own power `own_db` over off, excess known to `reach_db`.
    fn ladder(own_db: f64, loss_db: &[(u32, u32, f64)], reach_db: f64) -> Vec<ChokeStep> {
        loss_db
            .iter()
            .map(|&(ferrites, turns, loss)| {
                let value = 10.0 * (1.0 + 10f64.powf((own_db - loss) / 10.0)).log10();
                ChokeStep { ferrites, turns, excess: Estimate::within(value, reach_db) }
            })
            .collect()
    }

    /// Source: as above, derived: 6.021 dB for one bead and 9.542 for two give r = 1, and so 13.979 for four and
    /// 20.000 for one bead with three turns. Tolerance: the grid's and the intervals of 0.05 dB.
    #[test]
    fn two_steps_give_the_ratio_and_foretell_the_next() {
        let fit = ChokeFit::of(&ladder(20.0, &[(0, 1, 0.0), (1, 1, 6.021), (2, 1, 9.542)], 0.05), 0.0).unwrap();
        assert_eq!(fit.verdict, ChokeVerdict::Fits);
        let (ratio, low, high) = fit.ratio.unwrap();
        assert_abs_diff_eq!(ratio, 1.0, epsilon = 0.01);
        assert!(low < 1.0 && high.unwrap() > 1.0 && high.unwrap() < 1.1);
        let four = fit.forecasts[0];
        assert_eq!((four.ferrites, four.turns), (4, 1));
        assert_abs_diff_eq!(four.attenuation.value, 13.979 - 9.542, epsilon = 0.05);
        // Two turns through two pieces are worth eight: 20 lg 9 = 19.085.
        assert_abs_diff_eq!(fit.forecasts[1].attenuation.value, 19.085 - 9.542, epsilon = 0.1);
        let turns = ChokeFit::of(&ladder(20.0, &[(0, 1, 0.0), (1, 2, 13.979), (1, 1, 6.021)], 0.05), 0.0).unwrap();
        let three = turns.forecasts[1];
        assert_eq!((three.ferrites, three.turns), (1, 3));
        assert_abs_diff_eq!(three.attenuation.value, 20.0 - 13.979, epsilon = 0.05);
    }

    /// The ladder flattens at the off level: with 3 dB of excess left, four beads more can't take 10 off.
    #[test]
    fn the_forecast_of_what_is_left_flattens_at_the_off_level() {
        let fit = ChokeFit::of(&ladder(6.0, &[(0, 1, 0.0), (2, 1, 6.021), (4, 1, 9.542)], 0.1), 0.05).unwrap();
        let next = fit.forecasts[0];
        assert!(next.excess.value > 0.0 && next.excess.value < 1.2, "{next:?}");
        assert!(next.excess.ci95.0 >= 0.0);
    }

    /// One step leaves the angle open: an inductive choke that bought as much promises more (20 lg of 1 + x goes to
    /// that of √(1 + x²)), so the range must hold both.
    #[test]
    fn few_steps_leave_the_angle_open_and_the_range_holds_it() {
        let fit = ChokeFit::of(&ladder(20.0, &[(0, 1, 0.0), (1, 1, 6.021)], 0.1), 0.0).unwrap();
        let range = fit.forecasts[0].attenuation;
        let resistive = 9.542 - 6.021;
        let inductive = 10.0 * (1.0 + 4.0 * 3.0f64).log10() - 6.021;
        assert!(range.ci95.0 < resistive && range.ci95.1 > inductive, "{range:?}");
        assert_abs_diff_eq!(range.value, resistive, epsilon = 0.05);
    }

    #[test]
    fn what_no_choke_does_is_told() {
        let verdict = |loss: &[(u32, u32, f64)], reach| ChokeFit::of(&ladder(14.0, loss, reach), 0.0).unwrap();
        assert_eq!(verdict(&[(0, 1, 0.0), (1, 1, 0.05), (4, 1, 0.1)], 0.15).verdict, ChokeVerdict::NoUse);
        assert_eq!(verdict(&[(0, 1, 0.0), (1, 1, -3.0)], 0.3).verdict, ChokeVerdict::Worse);
        let flat = verdict(&[(0, 1, 0.0), (1, 1, 3.6), (2, 1, 3.65)], 0.2);
        assert_eq!(flat.verdict, ChokeVerdict::Flattens);
        // 3.6 dB is 0.437 of the power.
        assert!((flat.bypass.unwrap().ci95.0..flat.bypass.unwrap().ci95.1).contains(&0.43));
        assert!(flat.forecasts.is_empty());
        assert_eq!(
            verdict(&[(0, 1, 0.0), (1, 1, 6.0), (2, 1, 1.0), (3, 1, 8.0)], 0.2).verdict,
            ChokeVerdict::PoorFit
        );
        assert_eq!(verdict(&[(0, 1, 0.0), (1, 1, 0.4)], 1.0).verdict, ChokeVerdict::Unsure);
    }

    #[test]
    fn steps_that_do_not_differ_give_no_fit() {
        assert_eq!(ChokeFit::of(&[], 0.0), None);
        assert_eq!(ChokeFit::of(&ladder(14.0, &[(1, 1, 3.0), (1, 1, 3.0)], 0.1), 0.0), None);
        let mut holed = ladder(14.0, &[(0, 1, 0.0), (1, 1, 3.0)], 0.1);
        holed[1].excess.value = f64::NAN;
        assert_eq!(ChokeFit::of(&holed, 0.0), None);
    }
}
