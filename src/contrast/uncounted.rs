//! What on has more than off in the places that are left out of the noise, as lines or stations: power that is in
//! no other figure. A comparison that says "nothing" must not say it as if this were not there.

use serde::{Deserialize, Serialize};

use super::added_lines::LineChanges;
use super::cells::Cells;
use super::cluster::Cluster;
use super::excess::Excess;
use crate::signal::measure::Measurement;
use crate::units::in_db;

/// It counts where it has this share of the louder noise, and as much of what is left out of the off state: there
/// stations come and go. Chosen as for a `visitor`.
const STRONG_SHARE: f64 = 0.5;
/// How far beside an added line its own power reaches, bins. Mathematics: the Hann window's main lobe, and one.
const GUARD_BINS: f64 = 3.0;

/// Power in no other figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Uncounted {
    /// On less off, FS² on the off state's scale; below 0 where stations were louder in off.
    pub power: f64,
    /// What the off state has there, FS².
    pub before: f64,
}

impl Uncounted {
    /// Adds it up. `gain`: what the on side's gain is above the off side's (ratio of powers).
    pub fn of(
        cells: &Cells,
        off: &[&Measurement],
        on: &[&Measurement],
        gain: f64,
        excess: &Excess,
        lines: &LineChanges,
        cluster: Option<&Cluster>,
    ) -> Self {
        let places = cells.left_out_hz();
        let spans: Vec<(f64, f64)> = lines
            .added
            .iter()
            .map(|found| found.line.span_hz)
            .chain(cluster.map(|cluster| cluster.span_hz))
            .collect();
        let side = |takes: &[&Measurement]| {
            let one = |m: &&Measurement| {
                let (bin_hz, guard_hz) = (m.slices.bin_hz, GUARD_BINS * m.slices.bin_hz);
                let counted =
                    |hz: f64| spans.iter().any(|&(low, high)| hz > low - guard_hz && hz < high + guard_hz);
                let bins = places.iter().flat_map(|&(low, high)| {
                    ((low / bin_hz).ceil() as usize..).take_while(move |&k| (k as f64) * bin_hz < high)
                });
                let bins = bins.filter(|&k| k < m.floor.len() && !counted(k as f64 * bin_hz));
                bins.map(|k| m.slices.mean[k] - m.floor[k]).sum::<f64>() * bin_hz
            };
            takes.iter().map(one).sum::<f64>() / takes.len().max(1) as f64
        };
        // What lifts the mean of all of the passband (clicks) is in the excess already.
        let width_hz: f64 = places.iter().map(|(low, high)| high - low).sum();
        let lifted = |mean: f64, steady: f64| (mean - steady).max(0.0) * width_hz;
        let clicks =
            lifted(excess.mean_density.1, excess.density.1) - lifted(excess.mean_density.0, excess.density.0);
        let before = side(off);
        Self { power: side(on) / gain - before - clicks.max(0.0), before: before.max(0.0) }
    }

    /// How much louder it makes the noise before, dB.
    pub fn db(&self, excess: &Excess, width_hz: f64) -> f64 {
        in_db(1.0 + self.power.max(0.0) / (excess.density.0 * width_hz))
    }

    /// Whether it is more than stations that every band has.
    pub fn is_strong(&self, excess: &Excess, width_hz: f64) -> bool {
        let noise = excess.density.0.max(excess.density.1) * width_hz;
        self.power > STRONG_SHARE * noise && self.power > STRONG_SHARE * self.before
    }
}
