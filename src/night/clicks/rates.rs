//! Clicks without a beat: their number in a few seconds rises and falls abruptly, and stays in between.
//!
//! A device's are of one strength, more or less, and come evenly at random. Static comes in flocks whose number
//! swells and sinks, of all strengths.

use super::{Click, RunClicks, Stretch, within};
use crate::signal::spectrum::statistics::{median, standard_deviation};

/// Clicks are counted in bins of this length: edges are placed to it, and a click a second is well above chance
/// (chosen).
const BIN_S: f64 = 5.0;
/// Least clicks in a bin, and by what factor more than is usual in the bins around. Chosen.
const LEAST: f64 = 3.0;
const OVER_USUAL: f64 = 4.0;
/// What is usual: the median of the bins within so far (chosen: longer than most devices are on).
const USUAL_WITHIN_S: f64 = 1800.0;
/// Bins that may fail within a stretch, and its shortest length (chosen: a minute and a half holds enough bins to
/// tell chance from flocks).
const BRIDGED: usize = 2;
const LEAST_S: f64 = 60.0;
/// Variance over mean of the counts: one for events at random, less for even ones. Chosen: a device that wanders
/// some stays below; flocks of static have ten and more.
const MOST_DISPERSION: f64 = 3.0;
/// Standard deviation of their strengths, dB. Chosen: of one device's clicks the noise leaves one or two; static's
/// spread over five and more.
const MOST_SPREAD_DB: f64 = 3.0;
/// Their median in standard deviations of the noise. Chosen: the tops of a noise that pulses crowd just over the
/// pass's limit of 4.7.
const LEAST_SIGMAS: f64 = 5.5;
/// Just inside its ends a stretch has at least this share of its usual count, just outside at most that (chosen).
const INSIDE: f64 = 0.5;
const OUTSIDE: f64 = 0.34;

/// All stretches in which the clicks that are on no beat were many.
pub(super) fn rates(run: &RunClicks, clicks: &[Click]) -> Vec<Stretch> {
    let bins = (run.seconds / BIN_S) as usize;
    let counts: Vec<Option<f64>> = (0..bins)
        .map(|n| {
            let (from_s, to_s) = (n as f64 * BIN_S, (n + 1) as f64 * BIN_S);
            (run.drowned_share(from_s, to_s) < 0.5).then(|| within(clicks, from_s, to_s).len() as f64)
        })
        .collect();
    if counts.iter().flatten().all(|&count| count < LEAST) {
        return Vec::new();
    }
    let many: Vec<bool> = (0..bins)
        .map(|n| counts[n].is_some_and(|count| count >= LEAST.max(OVER_USUAL * usual(&counts, n))))
        .collect();
    stretches(&many)
        .into_iter()
        .filter(|&(from, to)| (to - from) as f64 * BIN_S >= LEAST_S)
        .filter_map(|(from, to)| device(clicks, &counts, from, to))
        .collect()
}

/// The usual count around a bin.
fn usual(counts: &[Option<f64>], at: usize) -> f64 {
    let reach = (USUAL_WITHIN_S / BIN_S) as usize;
    let mut around: Vec<f64> =
        counts[at.saturating_sub(reach)..(at + reach).min(counts.len())].iter().copied().flatten().collect();
    // What is there for most of the time around is what is usual: a device must be off for as long as it is on.
    if around.is_empty() { 0.0 } else { median(&mut around) }
}

/// Runs of many, short failures bridged.
fn stretches(many: &[bool]) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for (at, _) in many.iter().enumerate().filter(|(_, many)| **many) {
        match found.last_mut().filter(|last| at - last.1 <= BRIDGED) {
            Some(last) => last.1 = at + 1,
            None => found.push((at, at + 1)),
        }
    }
    found
}

/// The stretch where these clicks are a device's.
fn device(clicks: &[Click], counts: &[Option<f64>], from: usize, to: usize) -> Option<Stretch> {
    let inside: Vec<f64> = counts[from + 1..to - 1].iter().copied().flatten().collect();
    if inside.len() < 4 {
        return None;
    }
    let n = inside.len() as f64;
    let mean = inside.iter().sum::<f64>() / n;
    let variance = inside.iter().map(|count| (count - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let abrupt = |inner: usize, outer: Option<usize>| {
        let near = |place: usize| counts.get(place).copied().flatten();
        let rises = near(inner).is_none_or(|count| count >= INSIDE * mean);
        rises && outer.and_then(near).is_none_or(|count| count <= OUTSIDE * mean)
    };
    let edges = abrupt(from + 1, from.checked_sub(1)) && abrupt(to - 2, Some(to));
    let clicks = within(clicks, from as f64 * BIN_S, to as f64 * BIN_S);
    let mut sigmas: Vec<f64> = clicks.iter().map(|click| click.sigmas).collect();
    let strong = spread_db(&sigmas) <= MOST_SPREAD_DB && median(&mut sigmas) >= LEAST_SIGMAS;
    let (first, last) = (clicks.first()?, clicks.last()?);
    (edges && strong && variance <= MOST_DISPERSION * mean).then(|| Stretch {
        start_s: first.at_s,
        end_s: last.at_s,
        period_s: (last.at_s - first.at_s) / (clicks.len() - 1).max(1) as f64,
        beat: None,
        unsure_s: [0.0; 2],
    })
}

/// Standard deviation of some strengths, dB.
fn spread_db(sigmas: &[f64]) -> f64 {
    let levels: Vec<f64> = sigmas.iter().map(|sigmas| 20.0 * sigmas.log10()).collect();
    standard_deviation(&levels)
}
