//! The part of the spectrum that the receiver lets through: found from the noise itself, robust against lines and
//! hum.

use serde::{Deserialize, Serialize};

use super::statistics::{mean, quantile};
use crate::units::{in_db, ratio_of_db};

/// Edges of the receiver's audio passband.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Passband {
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
}

impl Passband {
    /// Width.
    pub fn width_hz(&self) -> f64 {
        self.high_hz - self.low_hz
    }

    /// Whether a frequency lies within.
    pub fn contains(&self, freq_hz: f64) -> bool {
        (self.low_hz..=self.high_hz).contains(&freq_hz)
    }

    /// What two have in common, if it is wider than 50 Hz.
    pub fn common(&self, other: &Self) -> Option<Self> {
        let both = Self { low_hz: self.low_hz.max(other.low_hz), high_hz: self.high_hz.min(other.high_hz) };
        (both.width_hz() > 50.0).then_some(both)
    }

    /// First and last bin whose middle lies within, for bins of this width; empty ranges are given as one bin.
    pub fn bins(&self, bin_hz: f64, bins: usize) -> std::ops::Range<usize> {
        let last = bins.saturating_sub(1);
        let first = ((self.low_hz / bin_hz).ceil().max(0.0) as usize).min(last);
        let end = ((self.high_hz / bin_hz).floor().max(0.0) as usize + 1).min(bins);
        first..end.max(first + 1).min(bins)
    }
}

/// Below this, hum and rumble of the audio lead are more likely than radio. Common practice: the mains hum at 50
/// and 60 Hz.
const LOWEST_HZ: f64 = 60.0;
/// How far below the passband's typical level its edge may lie, dB: deep enough for noise that slopes, not so deep
/// that skirts are taken in. Chosen; common practice: filters are stated at −6 dB.
const LOWEST_EDGE_DB: f64 = -20.0;
const HIGHEST_EDGE_DB: f64 = -6.0;
/// Step between outside and inside of a filter, dB; noise without a filter scatters less. Chosen; common practice:
/// the stopband of a receiver's filter lies 40 dB and more down.
const LEAST_STEP_DB: f64 = 10.0;
/// Levels further below the strongest than this are taken as equal: digital filters leave next to nothing. Chosen:
/// about the range of 16 bit.
const DEEPEST_DB: f64 = -90.0;
/// Half the width of the neighbourhood in which stations are passed over, and the quantile that does it. Chosen: as
/// wide as most of a voice's harmonics stand apart; a station may then hold two thirds of it.
const STATION_HALF_HZ: f64 = 120.0;
const STATION_QUANTILE: f64 = 0.3;
/// Half the width of the smoothing at the edges: a line or hum is narrower, a filter's skirt is not softened much.
/// Chosen so.
const EDGE_HALF_HZ: f64 = 40.0;
/// A gap this wide is bridged: a notch of the receiver, not an edge. Chosen; common practice: notches are some 50
/// to 150 Hz wide.
const NOTCH_HZ: f64 = 160.0;

/// Finds the passband in a noise density spectrum (robust over time; FS²/Hz per bin of `bin_hz`).
///
/// A low running quantile passes over stations that hold less than two thirds of their neighbourhood. What is left
/// falls into two classes of level, inside and outside the filter, which are told apart by their spread (N. Otsu,
/// IEEE Trans. SMC-9(1), 1979); where they lie close together all of the spectrum is passband. The passband is the
/// stretch with most power above the middle between the classes; its edges are then taken from a finer smoothing.
/// `None` for a spectrum without power.
pub fn find_passband(density: &[f64], bin_hz: f64) -> Option<Passband> {
    let first = (LOWEST_HZ / bin_hz).ceil() as usize;
    // The last 2 % before the Nyquist frequency belong to the recorder's own filter.
    let end = ((density.len() as f64) * 0.98) as usize;
    if end <= first + 8 {
        return None;
    }
    let bins = |hz: f64| (hz / bin_hz).round() as usize;
    let coarse = running_quantile(&density[first..end], bins(STATION_HALF_HZ), STATION_QUANTILE);
    let limit = edge_level(&coarse)?;
    let (mut start, mut stop) = strongest_stretch(&coarse, limit, bins(NOTCH_HZ))?;
    let fine = running_quantile(&density[first..end], bins(EDGE_HALF_HZ), 0.5);
    // The low quantile pulls the edges in by up to its own half width.
    let reach = bins(STATION_HALF_HZ);
    let (lowest, highest) = (start.saturating_sub(reach), (stop + reach).min(fine.len() - 1));
    while start > lowest && fine[start - 1] >= limit {
        start -= 1;
    }
    while stop < highest && fine[stop + 1] >= limit {
        stop += 1;
    }
    Some(Passband { low_hz: (first + start) as f64 * bin_hz, high_hz: (first + stop) as f64 * bin_hz })
}

fn running_quantile(values: &[f64], half: usize, q: f64) -> Vec<f64> {
    let mut window = Vec::with_capacity(2 * half + 1);
    (0..values.len())
        .map(|k| {
            window.clear();
            window.extend_from_slice(&values[k.saturating_sub(half)..(k + half + 1).min(values.len())]);
            quantile(&mut window, q)
        })
        .collect()
}

/// The density at which the filter's edges are taken: half-way in dB between outside and inside, within bounds
/// about the median inside.
fn edge_level(density: &[f64]) -> Option<f64> {
    let strongest = density.iter().copied().fold(0.0, f64::max);
    if !(strongest > 0.0 && strongest.is_finite()) {
        return None;
    }
    let mut levels: Vec<f64> = density.iter().map(|value| in_db(value / strongest).max(DEEPEST_DB)).collect();
    levels.sort_unstable_by(f64::total_cmp);
    let split = split_in_two(&levels);
    let (outside, inside) = levels.split_at(split);
    let half_way = if outside.is_empty() { f64::NEG_INFINITY } else { (mean(outside) + mean(inside)) / 2.0 };
    let typical = inside[inside.len() / 2];
    let edge = half_way.clamp(typical + LOWEST_EDGE_DB, typical + HIGHEST_EDGE_DB);
    Some(strongest * ratio_of_db(edge))
}

/// Index at which sorted levels part into two classes with the largest variance between them; 0 where the classes'
/// means lie too close together to be inside and outside of a filter.
fn split_in_two(sorted: &[f64]) -> usize {
    let total: f64 = sorted.iter().sum();
    let n = sorted.len() as f64;
    let (mut below, mut best) = (0.0, (0, 0.0, 0.0));
    for (k, &level) in sorted.iter().enumerate().skip(1) {
        below += sorted[k - 1];
        // Equal levels stay together.
        if level == sorted[k - 1] {
            continue;
        }
        let (low, high) = (below / k as f64, (total - below) / (n - k as f64));
        let between = k as f64 * (n - k as f64) * (high - low).powi(2);
        if between > best.1 {
            best = (k, between, high - low);
        }
    }
    if best.2 < LEAST_STEP_DB { 0 } else { best.0 }
}

/// The stretch of values at or above `limit`, gaps of up to `bridge` allowed, that holds most power: first and
/// last.
fn strongest_stretch(values: &[f64], limit: f64, bridge: usize) -> Option<(usize, usize)> {
    let mut stretches: Vec<(usize, usize, f64)> = Vec::new();
    for (k, &value) in values.iter().enumerate().filter(|&(_, &value)| value >= limit) {
        match stretches.last_mut() {
            Some((_, last, power)) if k - *last <= bridge + 1 => {
                *last = k;
                *power += value;
            }
            _ => stretches.push((k, k, value)),
        }
    }
    stretches.into_iter().max_by(|a, b| a.2.total_cmp(&b.2)).map(|(first, last, _)| (first, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A spectrum with 300–2700 Hz at 0 dB, 40 dB down outside, a line, hum at 50 and 100 Hz 50 dB up.
    fn ssb(bin_hz: f64, nyquist_hz: f64) -> Vec<f64> {
        (0..(nyquist_hz / bin_hz) as usize)
            .map(|k| {
                let f = k as f64 * bin_hz;
                let noise = if (300.0..=2700.0).contains(&f) { 1.0 } else { 1e-4 };
                let hum = if (f - 50.0).abs() < 12.0 || (f - 100.0).abs() < 12.0 { 1e5 } else { 0.0 };
                let line = if (f - 1000.0).abs() < 10.0 { 1e4 } else { 0.0 };
                noise + hum + line
            })
            .collect()
    }

    #[test]
    fn edges_are_found_beside_hum_and_lines_at_any_rate() {
        for (bin_hz, nyquist_hz) in [(5.86, 6000.0), (5.86, 24000.0), (3.9, 4000.0), (5.86, 96000.0)] {
            let found = find_passband(&ssb(bin_hz, nyquist_hz), bin_hz).unwrap();
            assert!((found.low_hz - 300.0).abs() < 15.0, "{found:?}");
            assert!((found.high_hz - 2700.0).abs() < 15.0, "{found:?}");
        }
    }

    #[test]
    fn silence_has_no_passband() {
        assert_eq!(find_passband(&vec![0.0; 1025], 5.86), None);
        assert_eq!(find_passband(&[1.0; 3], 5.86), None);
    }

    #[test]
    fn common_part_of_two() {
        let a = Passband { low_hz: 300.0, high_hz: 2700.0 };
        assert_eq!(a.common(&Passband { low_hz: 200.0, high_hz: 2400.0 }).unwrap().width_hz(), 2100.0);
        assert_eq!(a.common(&Passband { low_hz: 2690.0, high_hz: 4000.0 }), None);
    }
}
