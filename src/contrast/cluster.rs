//! A crowd of carriers that came with the device, too near each other to part them all: such as each module of a
//! plant makes. Its bins stand, slice by slice, as those of no station do. Not here: single carriers and families
//! (`added_lines`, `comb`).

use serde::{Deserialize, Serialize};

use super::added_lines::LineChanges;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::Passband;
use crate::signal::spectrum::statistics::{mean_power_quantile, quantile};

/// A bin stands where its weakest tenth of slices has this part of the way from what noise has to all of its mean.
/// Measured: of 5 to 30 carriers within 1 kHz (steady, or wandering by 0.5 Hz) such bins hold 0.65 to 1.0 of the
/// power; of two and eight tones, phase keying, keying by hand, and all the stations of 13 recordings off the air, at
/// most 0.07.
const STANDS: f64 = 0.4;
const WEAK: f64 = 0.1;
/// Least share of the crowd's power in bins that stand. Chosen in the middle of the above.
const LEAST_STANDING: f64 = 0.5;
/// A bin of the crowd stands so far above the floor, and above what the off state has there (ratios): 3 dB. Chosen: a
/// doubling, as for single lines.
const STANDS_OUT: f64 = 2.0;
/// Bins that stand further apart belong to different crowds, Hz. Chosen: twice the mean distance of 14 carriers in 1
/// kHz, as published of solar optimisers.
const GAP_HZ: f64 = 150.0;
/// Bins on each side that belong to the outermost carriers. Mathematics: the Hann window's main lobe.
const LOBE_BINS: usize = 2;
/// Fewer carriers are no crowd. Chosen: they can be told one by one.
const LEAST_CARRIERS: usize = 5;

/// The crowd.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cluster {
    /// Where it lies.
    pub span_hz: (f64, f64),
    /// How many carriers can be told apart.
    pub at_least: usize,
    /// Its power less what the off state has there, FS², on the on state's scale.
    pub power: f64,
    /// What of that is in no single added line.
    pub beside_lines: f64,
}

impl Cluster {
    /// The strongest crowd of the on state only. `gain`: what the on side's gain is above the off side's (ratio of
    /// powers). `None` where there is none, its carriers form a family, or the recordings' rates differ.
    pub fn find(
        off: &[&Measurement],
        on: &[&Measurement],
        passband: &Passband,
        gain: f64,
        lines: &LineChanges,
    ) -> Option<Self> {
        let slices = &on.first()?.slices;
        let alike = |m: &&Measurement| m.slices.bin_hz == slices.bin_hz && m.floor.len() == slices.bins;
        if !off.iter().chain(on).all(alike) {
            return None;
        }
        let bins = passband.bins(slices.bin_hz, slices.bins);
        let over = |side: &[&Measurement], k: usize| {
            side.iter().map(|m| m.slices.mean[k] - m.floor[k]).sum::<f64>() / side.len() as f64
        };
        let stands = |k: usize| {
            let came = over(on, k);
            came > STANDS_OUT * gain * over(off, k).max(0.0) && on.iter().all(|m| bin_stands(m, k))
        };
        let standing: Vec<usize> = bins.clone().filter(|&k| stands(k)).collect();
        let gap = (GAP_HZ / slices.bin_hz) as usize;
        let crowd = |group: &[usize]| -> Option<Self> {
            let (first, last) = (*group.first()?, *group.last()?);
            let span = first.saturating_sub(LOBE_BINS).max(bins.start)..(last + LOBE_BINS + 1).min(bins.end);
            let held: f64 = group.iter().map(|&k| over(on, k)).sum();
            let all: f64 = span.clone().map(|k| over(on, k).max(0.0)).sum();
            let peaks = group.iter().filter(|&&k| over(on, k) >= over(on, k - 1).max(over(on, k + 1)));
            let at_least = peaks.count();
            if at_least < LEAST_CARRIERS || held < LEAST_STANDING * all {
                return None;
            }
            let power = span.clone().map(|k| over(on, k) - gain * over(off, k)).sum::<f64>() * slices.bin_hz;
            let span_hz = (span.start as f64 * slices.bin_hz, (span.end - 1) as f64 * slices.bin_hz);
            let within = |hz: f64| (span_hz.0..=span_hz.1).contains(&hz);
            let own = lines.added.iter().filter(|found| within(found.line.freq_hz));
            let beside_lines = (power - own.map(|found| found.added_power).sum::<f64>()).max(0.0);
            let family = lines.comb.iter().flat_map(|comb| &comb.members);
            let members = family.filter(|&&member| within(lines.added[member].line.freq_hz)).count();
            (2 * members <= at_least).then_some(Self { span_hz, at_least, power, beside_lines })
        };
        let groups = standing.chunk_by(|a, b| b - a <= gap);
        groups.filter_map(crowd).max_by(|a, b| a.power.total_cmp(&b.power))
    }

    /// As a sentence.
    pub fn sentence(&self) -> String {
        format!(
            "at least {} carriers crowd between {:.0} and {:.0} Hz and stand in the on state only, too near each \
             other to tell them all apart",
            self.at_least, self.span_hz.0, self.span_hz.1
        )
    }
}

/// Whether a bin keeps its power from slice to slice, well above the floor.
fn bin_stands(m: &Measurement, k: usize) -> bool {
    let mut powers: Vec<f64> = m.slices.rows().map(|row| f64::from(row[k])).collect();
    let mean = powers.iter().sum::<f64>() / powers.len().max(1) as f64;
    let noise = mean_power_quantile(m.slices.averages_per_slice(), WEAK);
    mean > STANDS_OUT * m.floor[k] && quantile(&mut powers, WEAK) > (noise + STANDS * (1.0 - noise)) * mean
}
