//! When a noise was there over a night: how often, for how long, and whether it comes back at even intervals,
//! tested against chance. Works on the times of episodes alone.
//!
//! Not here: which episodes are the same noise (`findings::known_noise`), what a regular one may be called.

use crate::signal::spectrum::statistics::{mean, standard_deviation, student_975};

/// Fewer times than this tell no period, however even. Chosen: three distances are the fewest that can agree by
/// more than luck.
const LEAST_TIMES: usize = 4;
/// Chance of as even a sequence below which a period is told. Chosen: a night has several noises to be tried, so
/// the usual 0.05 would call one too often.
const CALLED_BELOW: f64 = 0.01;
/// Sequences drawn for that chance: it is known to a tenth of itself at 0.01 (chosen).
const DRAWS: u32 = 9_999;
/// Comings missed in a row (hidden by another noise, or too short to be found) that a period may bridge. Chosen:
/// with more, nearly any sequence fits some period.
const MOST_MISSED: f64 = 3.0;

/// The stretches in which one noise was there; seconds from the night's origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Begin.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// Whether the begin was seen; else it was there before.
    pub start_seen: bool,
    /// Whether the end was seen.
    pub end_seen: bool,
}

/// How a noise came and went.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// All stretches together over the time that was searched, 0..1.
    pub duty: f64,
    /// Mean and standard deviation of the lengths of those whose begin and end were seen; of two or more.
    pub length_s: Option<(f64, f64)>,
    /// What can be said of a period.
    pub period: Period,
}

/// Whether it comes at even intervals.
#[derive(Debug, Clone, PartialEq)]
pub enum Period {
    /// It came too few times.
    TooFew,
    /// As even a sequence comes by chance, with this probability.
    Chance(f64),
    /// It comes back at even intervals.
    Even(Even),
}

/// A period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Even {
    /// Seconds from one start to the next.
    pub period_s: f64,
    /// First start of the even sequence.
    pub first_s: f64,
    /// Half of its 95 % interval.
    pub reach_s: f64,
    /// Probability that as many starts without a rule of their own are as even.
    pub chance: f64,
    /// Comings of the sequence that were not seen.
    pub missed: usize,
}

/// The pattern of a noise's stretches, in order of time; `searched_s`: the time that was gone through. `None` of
/// none.
pub fn pattern(spans: &[Span], searched_s: f64) -> Option<Pattern> {
    if spans.is_empty() {
        return None;
    }
    let total_s: f64 = spans.iter().map(|span| span.end_s - span.start_s).sum();
    let whole = spans.iter().filter(|span| span.start_seen && span.end_seen);
    let lengths: Vec<f64> = whole.map(|span| span.end_s - span.start_s).collect();
    let starts: Vec<f64> = spans.iter().filter(|span| span.start_seen).map(|span| span.start_s).collect();
    Some(Pattern {
        duty: (total_s / searched_s.max(total_s).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0),
        length_s: (lengths.len() > 1).then(|| (mean(&lengths), standard_deviation(&lengths))),
        period: period(&starts),
    })
}

/// Whether starts at these times, in order, are more even than chance makes them.
///
/// The null hypothesis is a Poisson process: given first and last, the others lie anywhere between, evenly
/// distributed (D. R. Cox, P. A. W. Lewis, *The Statistical Analysis of Series of Events*, 1966, ch. 2; from
/// memory). How even a sequence is, is the least scatter about a straight line of times over numbers, in periods;
/// its chance is the share of sequences drawn from the null that are as even, (1 + hits)/(1 + draws) (B. V. North
/// et al., Am. J. Hum. Genet. 71, 439, 2002). The same search is made of each, so that it is paid for.
pub fn period(starts_s: &[f64]) -> Period {
    let n = starts_s.len();
    if n < LEAST_TIMES {
        return Period::TooFew;
    }
    let Some(found) = fit(starts_s) else { return Period::Chance(1.0) };
    let (first, span) = (starts_s[0], starts_s[n - 1] - starts_s[0]);
    let mut dice = Dice::new();
    let mut hits = 0;
    let mut drawn = vec![0.0; n];
    for _ in 0..DRAWS {
        drawn.iter_mut().for_each(|at| *at = first + span * dice.share());
        (drawn[0], drawn[n - 1]) = (first, first + span);
        drawn.sort_by(f64::total_cmp);
        hits += u32::from(fit(&drawn).is_some_and(|one| one.unevenness() <= found.unevenness()));
    }
    let chance = f64::from(1 + hits) / f64::from(1 + DRAWS);
    if chance >= CALLED_BELOW {
        return Period::Chance(chance);
    }
    let reach_s = student_975((n - 2) as f64) * found.period_sd_s;
    Period::Even(Even {
        period_s: found.period_s,
        first_s: found.first_s,
        reach_s,
        chance,
        missed: found.numbers as usize + 1 - n,
    })
}

/// A straight line of times over numbers.
#[derive(Debug, Clone, Copy)]
struct Fit {
    period_s: f64,
    first_s: f64,
    period_sd_s: f64,
    jitter_s: f64,
    /// Number of the last start, the first being 0.
    numbers: f64,
}

impl Fit {
    /// Scatter in periods; a sequence with holes counts as less even, since it has more freedom.
    fn unevenness(&self) -> f64 {
        self.jitter_s / self.period_s * self.numbers
    }
}

/// The most even sequence through these times: without holes, or with the period that the shorter intervals have.
fn fit(times: &[f64]) -> Option<Fit> {
    let intervals: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = (times[times.len() - 1] - times[0]) / intervals.len() as f64;
    let each = intervals.iter().copied().filter(|interval| *interval > 0.0);
    each.chain([mean])
        .filter_map(|period| line(times, &intervals, period))
        .min_by(|a, b| a.unevenness().total_cmp(&b.unevenness()))
}

/// Numbers by rounding each interval to whole periods, then least squares.
fn line(times: &[f64], intervals: &[f64], period: f64) -> Option<Fit> {
    let mut number = 0.0;
    let mut numbers = vec![0.0];
    for interval in intervals {
        let steps = (interval / period).round();
        if !(1.0..=1.0 + MOST_MISSED).contains(&steps) {
            return None;
        }
        number += steps;
        numbers.push(number);
    }
    let n = times.len() as f64;
    let (mean_k, mean_t) = (numbers.iter().sum::<f64>() / n, times.iter().sum::<f64>() / n);
    let sxx: f64 = numbers.iter().map(|k| (k - mean_k).powi(2)).sum();
    let sxy: f64 = numbers.iter().zip(times).map(|(k, t)| (k - mean_k) * (t - mean_t)).sum();
    let period_s = sxy / sxx;
    let rest = |(k, t): (&f64, &f64)| (t - mean_t - period_s * (k - mean_k)).powi(2);
    let jitter_s = (numbers.iter().zip(times).map(rest).sum::<f64>() / (n - 2.0)).sqrt();
    let first_s = mean_t - period_s * mean_k;
    (period_s > 0.0).then_some(Fit {
        period_s,
        first_s,
        period_sd_s: jitter_s / sxx.sqrt(),
        jitter_s,
        numbers: number,
    })
}

/// Numbers in 0..1 from a fixed seed, so that the same night gives the same report.
struct Dice(rand_chacha::ChaCha8Rng);

impl Dice {
    fn new() -> Self {
        Self(rand::SeedableRng::seed_from_u64(1))
    }

    fn share(&mut self) -> f64 {
        (rand::Rng::next_u64(&mut self.0) >> 11) as f64 / (1u64 << 53) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn even(starts: &[f64]) -> Even {
        match period(starts) {
            Period::Even(even) => even,
            other => panic!("{other:?}"),
        }
    }

    /// A straight line through (0, 0), (1, 101), (2, 199), (3, 301), (4, 399), (5, 500) by hand: Σ(k−k̄)(t−t̄) =
    /// −151.5 − 99.5 + 150.5 + 598.5 + 1250 = 1748, Σ(k−k̄)² = 17.5.
    #[test]
    fn a_thermostat_has_its_period_and_its_interval() {
        let found = even(&[0.0, 101.0, 199.0, 301.0, 399.0, 500.0]);
        assert_abs_diff_eq!(found.period_s, 1748.0 / 17.5, epsilon = 1e-9);
        assert_abs_diff_eq!(found.first_s, 250.0 - 2.5 * 1748.0 / 17.5, epsilon = 1e-9);
        assert!((found.period_s - 100.0).abs() < found.reach_s && found.reach_s < 1.0, "{found:?}");
        assert!(found.chance < 0.001 && found.missed == 0, "{found:?}");
    }

    #[test]
    fn one_coming_missed_leaves_the_period() {
        let found = even(&[0.0, 600.0, 1202.0, 2399.0, 3001.0, 3600.0, 4199.0]);
        assert_abs_diff_eq!(found.period_s, 600.0, epsilon = 1.0);
        assert_eq!(found.missed, 1);
    }

    #[test]
    fn few_tell_nothing() {
        assert_eq!(period(&[0.0, 100.0, 200.0]), Period::TooFew);
        assert_eq!(period(&[]), Period::TooFew);
        assert_eq!(pattern(&[], 100.0), None);
        assert!(matches!(period(&[5.0; 6]), Period::Chance(_)));
    }

    /// The test itself: of sequences drawn from the null one in a hundred is called, by definition; of 200 two are
    /// expected, and more than seven come by chance once in two hundred times.
    #[test]
    fn chance_is_seldom_called_a_period() {
        let mut dice = Dice::new();
        (0..1000).for_each(|_| {
            dice.share();
        });
        let called = (0..200).filter(|i| {
            let mut times: Vec<f64> = (0..5 + i % 6).map(|_| 28_800.0 * dice.share()).collect();
            times.sort_by(f64::total_cmp);
            matches!(period(&times), Period::Even(_))
        });
        let called = called.count();
        assert!(called <= 7, "{called} of 200");
    }

    #[test]
    fn lengths_and_duty_are_sums() {
        let span = |start_s: f64, end_s: f64| Span { start_s, end_s, start_seen: true, end_seen: true };
        let found = pattern(&[span(100.0, 160.0), span(400.0, 480.0)], 1400.0).unwrap();
        assert_eq!(found.duty, 140.0 / 1400.0);
        let (mean, sd) = found.length_s.unwrap();
        assert_abs_diff_eq!(mean, 70.0);
        assert_abs_diff_eq!(sd, 200f64.sqrt(), epsilon = 1e-9);
    }
}
