//! What a carrier would have needed to be found at a step, had it been there. Not here: what follows from it
//! (`unmasked`, `tracks`).

use crate::findings::ladder::Rung;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::line_threshold;
use crate::signal::spectrum::{FALSE_ALARM_PER_RECORDING, HANN_ENBW_BINS, LEAST_RATIO};
use crate::units::in_db;

/// A line between two bins of a Hann window loses up to 1.42 dB of its peak (Harris 1978, from memory): over all
/// places 0.5 dB on average, with a standard deviation of as much.
const SCALLOP_DB: (f64, f64) = (0.5, 0.5);
/// Beyond the threshold a line must also stand steadily and in one place, which takes so many dB more with this
/// standard deviation (our own estimate, with which simulated lines agree near the threshold).
const KEPT_DB: (f64, f64) = (1.0, 1.0);

/// The level that a steady line needs to be found in a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Floor {
    /// dBFS.
    pub needed_db: f64,
    /// Standard deviation of that, dB.
    pub sd_db: f64,
}

impl Floor {
    /// From the noise density there (FS²/Hz), the width of a bin, how many independent spectra were averaged and
    /// how many bins were searched. `None` where there is no noise to speak of.
    pub fn of(density: f64, bin_hz: f64, averages: f64, cells: f64) -> Option<Self> {
        let usable = density > 0.0 && density.is_finite() && bin_hz > 0.0 && averages >= 1.0;
        if !usable {
            return None;
        }
        let ratio = line_threshold(averages, cells, FALSE_ALARM_PER_RECORDING).max(LEAST_RATIO);
        let over = ratio - 1.0;
        let power = over * density * bin_hz * HANN_ENBW_BINS;
        // A bin with a line has the relative variance (1 + 2·(ratio − 1))/averages of its noise: non-central chi².
        let chance_db = 10.0 / std::f64::consts::LN_10 * ((1.0 + 2.0 * over) / averages).sqrt() / over;
        let needed_db = in_db(2.0 * power) + SCALLOP_DB.0 + KEPT_DB.0;
        Some(Self { needed_db, sd_db: chance_db.hypot(SCALLOP_DB.1).hypot(KEPT_DB.1) })
    }
}

/// What a carrier here would have needed to be found in this step: of several recordings, in the quietest.
pub(crate) fn floor(rung: &Rung<'_>, freq_hz: f64) -> Option<Floor> {
    rung.figures()?;
    let floors = rung.on.iter().filter_map(|m| floor_of(m, freq_hz));
    let lowest = floors.min_by(|a, b| a.needed_db.total_cmp(&b.needed_db))?;
    Some(Floor { needed_db: lowest.needed_db - rung.gain_db(), ..lowest })
}

fn floor_of(measurement: &Measurement, freq_hz: f64) -> Option<Floor> {
    let slices = &measurement.slices;
    let passband = measurement.passband.filter(|p| p.contains(freq_hz))?;
    let density = *measurement.floor.get(slices.bin_of(freq_hz))?;
    Floor::of(density, slices.bin_hz, slices.averages(), passband.bins(slices.bin_hz, slices.bins).len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: the threshold is the quantile of a mean of 127 exponential values for a false alarm in 400 cells
    /// with probability 0.003 (statistics: 1.401 at 0.01), derived: a line of power (R − 1)·N·1.5 bins stands R
    /// over it. Tolerance: the allowances of 1.5 dB taken off exactly.
    #[test]
    fn a_line_needs_what_the_search_asks_for() {
        let floor = Floor::of(1e-9, 4.0, 127.0, 400.0).unwrap();
        let ratio = line_threshold(127.0, 400.0, FALSE_ALARM_PER_RECORDING);
        assert!(ratio > 1.401 && ratio < 1.5);
        assert_abs_diff_eq!(floor.needed_db, 10.0 * (2.0 * (ratio - 1.0) * 6e-9f64).log10() + 1.5, epsilon = 1e-9);
        assert!((1.0..4.0).contains(&floor.sd_db));
        assert_eq!(Floor::of(0.0, 4.0, 127.0, 400.0), None);
        assert_eq!(Floor::of(f64::NAN, 4.0, 127.0, 400.0), None);
    }
}
