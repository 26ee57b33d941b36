//! The level that noise keeps to between the lines: robust in time (static crashes, keying) and in frequency
//! (carriers). Not here: finding the lines (`lines`), the edges of the passband (`passband`).

use super::passband::Passband;
use super::slices::Slices;
use super::statistics::{median, median_over_mean, normal_quantile, quantile};

/// Half the width of the running quantile. Chosen: some forty bins for a quantile, and narrow against the slopes of
/// a passband.
const HALF_WIDTH_HZ: f64 = 100.0;
/// Bins on each side that tell the level on a skirt, and what counts as clearly below the passband's. Chosen: three
/// bins are 18 Hz at the widest; 1.2 dB is beyond the scatter of a floor over 10 s.
const SKIRT_BINS: usize = 3;
const CLEARLY_BELOW: f64 = 0.75;
/// Which quantile: below the middle, since what disturbs the floor (carriers, stations) only ever lifts it. Chosen:
/// well over half of the bins may then be lifted; lower ones scatter more.
const QUANTILE: f64 = 0.35;

/// Median over slices of every bin, divided by the bias that a median has for Gaussian noise: FS²/Hz.
///
/// A steady carrier comes out too strong by that factor (1.6 dB at the most, here 0.5): take levels of lines from
/// the mean.
pub fn median_over_slices(slices: &Slices) -> Vec<f64> {
    let bias = median_over_mean(slices.averages_per_slice());
    let mut column = Vec::with_capacity(slices.len());
    (0..slices.bins)
        .map(|k| {
            column.clear();
            column.extend(slices.rows().map(|row| row[k] as f64));
            median(&mut column) / bias
        })
        .collect()
}

/// The floor over frequency: a running quantile of `medians` (see [`median_over_slices`]) within the passband,
/// corrected for where that quantile lies in plain noise; outside the passband the medians themselves.
pub fn frequency_floor(medians: &[f64], slices: &Slices, passband: &Passband) -> Vec<f64> {
    let range = passband.bins(slices.bin_hz, slices.bins);
    let half = (HALF_WIDTH_HZ / slices.bin_hz).round() as usize;
    let correction = 1.0 + relative_spread(slices) * normal_quantile(QUANTILE);
    let mut floor = medians.to_vec();
    for k in range.clone() {
        let (from, to) = (k.saturating_sub(half), k + half + 1);
        // Near an edge only the inner side tells the level; the outer one has the filter's skirt in it.
        let (near_start, near_end) = (k < range.start + 2 * half, k + 2 * half >= range.end);
        let (from, to) = match (near_start, near_end) {
            (true, false) => (k, to.min(range.end)),
            (false, true) => (from.max(range.start), k + 1),
            _ => (from.max(range.start), to.min(range.end)),
        };
        let level = quantile(&mut medians[from..to].to_vec(), QUANTILE) / correction;
        floor[k] = if near_start || near_end { skirt(medians, &range, k, level) } else { level };
    }
    floor
}

/// The level of the skirt itself where it lies clearly below `level`, that of the passband beside it.
fn skirt(medians: &[f64], range: &std::ops::Range<usize>, k: usize, level: f64) -> f64 {
    let around = &medians[k.saturating_sub(SKIRT_BINS).max(range.start)..(k + SKIRT_BINS + 1).min(range.end)];
    let here = median(&mut around.to_vec());
    if here < CLEARLY_BELOW * level { here } else { level }
}

/// Standard deviation over mean of one bin's median over slices, for plain noise: π/2 times the variance of the
/// mean.
fn relative_spread(slices: &Slices) -> f64 {
    (std::f64::consts::FRAC_PI_2 / (slices.averages_per_slice() * slices.len().max(1) as f64)).sqrt().min(1.0)
}
