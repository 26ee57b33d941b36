//! How alike two noises are: each trait's difference in units of what the measurement scatters and a device itself
//! varies, all of them as one distance d, and the resemblance exp(−d²/2).

use super::carriers::{carriers_apart, carriers_beside};
use super::{Clicks, Point, Signature};
use crate::contrast::known_noise::Compared;
use crate::units::{SIGMAS_OF_95, in_db};

/// Settings whose dials lie closer than this hear a carrier at the same audio frequency, kHz. Chosen: a hertz or
/// two of rounding in a label, with room; a step of any dial is more (common practice: 10 Hz).
const SAME_DIAL_KHZ: f64 = 0.005;
/// Noise that pulses less deeply than this has nothing of its own in that. Chosen: that from which noise is called
/// a buzz (`contrast`).
const TELLING_DEPTH: f64 = 0.25;
/// Where so much of the power is noise, its shape must be known: many devices pulse alike. Chosen with the bench of
/// known noises, seed 1.
pub(super) const NEEDS_SHAPE: f64 = 0.5;
/// A trait that makes up less than this share of the added power in both is not compared. Chosen with the bench of
/// known noises, seed 1: a trait of so little power is known badly.
pub(super) const LEAST_WEIGHT: f64 = 0.15;

// How much a device's own noise differs when it is heard again, beyond the scatter of the measurement: our own
// choice, from simulated devices (`tests/findings/known.rs`, seed 1).

/// Difference of what the power consists of (half the sum of the shares' differences). Chosen as said above, with
/// seed 1.
const SHARES: f64 = 0.25;
/// Difference of a band's density, in parts of itself, and in parts of the passband's mean. Chosen as said above,
/// with seed 1.
const DENSITY: f64 = 0.12;
const LEAST_DENSITY: f64 = 0.04;
/// Difference of a depth of pulsing, and in parts of itself. Chosen as said above, with seed 1.
const DEPTH: f64 = 0.1;
const DEPTH_SHARE: f64 = 0.1;
/// Difference of the natural logarithm of click rates. Chosen as said above, with seed 1.
const CLICK_RATE: f64 = 0.25;
/// Difference of two periods of a beat in parts of themselves. Common practice: energisers and timers run on a
/// controller's own RC oscillator, which keeps 1 to 3 % over temperature and supply (from memory); quartz keeps
/// far better, but nothing tells which it is.
const CLOCK: f64 = 0.02;
/// Difference of the irregularity of clicks. Chosen as said above, with seed 1.
const IRREGULARITY: f64 = 0.15;

/// How alike two noises are, by what.
#[derive(Debug, Clone, PartialEq)]
pub struct Resemblance {
    /// exp(−d²/2), 0..1: 1 where nothing differs; 0.61 where the traits differ, on the whole, by once what they
    /// scatter, 0.14 by twice, 0.01 by three times.
    pub value: f64,
    /// What was compared.
    pub compared: Vec<Compared>,
}

/// How alike a noise is to a known one. `None` where they have no trait in common that could tell.
///
/// Shape and carriers are compared at one dial frequency only, or where one of them is not known: at another one a
/// device has another spectrum.
pub fn resemblance(now: &Signature, known: &Signature) -> Option<Resemblance> {
    let here = same_place(now, known);
    let mut compared = Vec::new();
    let mut squared = (shares_apart(now, known) / SHARES).powi(2);
    // Without a trait by which one noise differs from another, two are not alike but unknown.
    let mut telling = false;
    let mut add = |distance: Option<(f64, Compared)>, weight: f64, tells: bool| {
        if let Some((z2, what)) = distance.filter(|_| weight >= LEAST_WEIGHT) {
            squared += weight * z2;
            telling |= tells;
            compared.push(what);
        }
    };
    let heavier = |share: fn(&Signature) -> f64| share(now).max(share(known));
    if here {
        let shapes = shapes_apart(&now.shape, &known.shape);
        if shapes.is_none() && heavier(|s| s.noise_share) >= NEEDS_SHAPE {
            return None;
        }
        add(shapes, heavier(|s| s.noise_share + s.clicks_share), true);
    }
    add(pulsing_apart(now, known), heavier(|s| s.noise_share), pulses(now) || pulses(known));
    add(clicks_apart(now, known), heavier(|s| s.clicks_share), true);
    let (missed_z2, missed) = if here { carriers_beside(now, known) } else { (0.0, Vec::new()) };
    let weight = heavier(|s| s.carriers_share);
    let by_power = carriers_apart(now, known, here).filter(|_| weight >= LEAST_WEIGHT);
    // Both look at the same carriers: the one that tells more counts, once.
    squared += by_power.map_or(0.0, |(z2, _)| weight * z2).max(missed_z2);
    telling |= by_power.is_some() || !missed.is_empty();
    compared.extend(if missed.is_empty() { by_power.map(|(_, what)| what).into_iter().collect() } else { missed });
    telling.then(|| Resemblance { value: (-0.5 * squared).exp(), compared })
}

fn pulses(one: &Signature) -> bool {
    one.pulsing.iter().any(|rate| rate.depth > TELLING_DEPTH)
}

pub(super) fn same_place(a: &Signature, b: &Signature) -> bool {
    let dials = a.dial_khz.zip(b.dial_khz).is_none_or(|(a, b)| (a - b).abs() <= SAME_DIAL_KHZ);
    dials && a.mode.as_ref().zip(b.mode.as_ref()).is_none_or(|(a, b)| a == b)
}

/// Half the sum of the differences (total variation), 0..1.
fn shares_apart(a: &Signature, b: &Signature) -> f64 {
    let shares = |s: &Signature| [s.noise_share, s.clicks_share, s.carriers_share];
    shares(a).iter().zip(shares(b)).map(|(a, b)| (a - b).abs()).sum::<f64>() / 2.0
}

/// Mean square of the bands' differences in units of their scatter, at the ratio of strengths that makes it least.
fn shapes_apart(now: &[Point], known: &[Point]) -> Option<(f64, Compared)> {
    let pairs: Vec<(Point, Point)> = now.iter().filter_map(|a| Some((*a, at(known, a.hz)?))).collect();
    if pairs.len() < super::LEAST_BANDS {
        return None;
    }
    let apart = |ratio: f64| {
        let each = pairs.iter().map(|(a, b)| {
            let (level, sd) = (ratio * b.relative, ratio * b.sd);
            let own = DENSITY * a.relative.max(level).max(0.0) + LEAST_DENSITY;
            (a.relative - level).powi(2) / (a.sd.powi(2) + sd.powi(2) + own.powi(2))
        });
        each.sum::<f64>() / pairs.len() as f64
    };
    // ±12 dB in quarters: both are relative to their own mean, so that the ratio is near 1.
    let ratios = (-48..=48).map(|quarter| 10f64.powf(f64::from(quarter) / 40.0));
    let (z2, ratio) = ratios.map(|ratio| (apart(ratio), ratio)).min_by(|a, b| a.0.total_cmp(&b.0))?;
    let floor = LEAST_DENSITY;
    let db = |a: f64, b: f64| in_db(a.max(floor) / b.max(floor));
    let weight = |(a, b): &(Point, Point)| a.relative.max(ratio * b.relative).max(0.0);
    let total: f64 = pairs.iter().map(weight).sum();
    let square: f64 = pairs.iter().map(|p| weight(p) * db(p.0.relative, ratio * p.1.relative).powi(2)).sum();
    Some((z2, Compared::Shape { differ_db: (square / total.max(floor)).sqrt() }))
}

/// Density at a frequency by a straight line between two neighbours; `None` outside.
pub(super) fn at(points: &[Point], hz: f64) -> Option<Point> {
    let step = points.windows(2).map(|pair| pair[1].hz - pair[0].hz).fold(f64::MAX, f64::min);
    let outside = points.first()?.hz - hz > 0.5 * step || hz - points.last()?.hz > 0.5 * step;
    if outside {
        return None;
    }
    let next = points.iter().position(|point| point.hz >= hz).unwrap_or(points.len() - 1).max(1);
    let (a, b) = (points[next - 1], points.get(next)?);
    let part = ((hz - a.hz) / (b.hz - a.hz)).clamp(0.0, 1.0);
    let mix = |a: f64, b: f64| a + part * (b - a);
    Some(Point { hz, relative: mix(a.relative, b.relative), sd: mix(a.sd, b.sd) })
}

/// The largest difference counts: a depth that one has and the other has not is another noise.
fn pulsing_apart(now: &Signature, known: &Signature) -> Option<(f64, Compared)> {
    let mut worst: Option<(f64, f64)> = None;
    for a in &now.pulsing {
        let Some(b) = known.pulsing.iter().find(|b| (a.hz - b.hz).abs() < 0.5) else { continue };
        let own = DEPTH + DEPTH_SHARE * a.depth.max(b.depth);
        let z2 = (a.depth - b.depth).powi(2) / (a.sd.powi(2) + b.sd.powi(2) + own.powi(2));
        if worst.is_none_or(|(most, _)| z2 > most) {
            worst = Some((z2, (a.depth - b.depth).abs()));
        }
    }
    worst.map(|(z2, differ)| (z2, Compared::Pulsing { differ }))
}

/// By their beat where both keep one, else by their rate; and by how even they are.
pub(super) fn clicks_apart(now: &Signature, known: &Signature) -> Option<(f64, Compared)> {
    let (a, b) = (now.clicks?, known.clicks?);
    let counts = 1.0 / a.count.max(1) as f64 + 1.0 / b.count.max(1) as f64;
    let (often, compared) = beats_apart(&a, &b).unwrap_or_else(|| {
        // Random clicks scatter in count as Poisson's do; a coefficient of variation by about half as much.
        let rate = (a.per_s / b.per_s).ln().powi(2) / (CLICK_RATE.powi(2) + counts);
        (rate, Compared::Clicks { per_s: a.per_s, known_per_s: b.per_s })
    });
    let irregular = a.irregularity.max(b.irregularity);
    let scatter = IRREGULARITY.powi(2) + (irregular * irregular * counts) + (0.2 * irregular).powi(2);
    let even = (a.irregularity - b.irregularity).powi(2) / scatter;
    (often.is_finite() && even.is_finite()).then_some((often + even, compared))
}

fn beats_apart(a: &Clicks, b: &Clicks) -> Option<(f64, Compared)> {
    let (period_s, period_ci_s) = a.period_s.zip(a.period_ci_s)?;
    let (known_period_s, known_period_ci_s) = b.period_s.zip(b.period_ci_s)?;
    let measured = (period_ci_s / period_s).hypot(known_period_ci_s / known_period_s) / SIGMAS_OF_95;
    let z = (period_s / known_period_s).ln() / CLOCK.hypot(measured);
    Some((z * z, Compared::Beat { period_s, period_ci_s, known_period_s, known_period_ci_s }))
}
