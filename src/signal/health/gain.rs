//! Did the gain move? With a fixed gain the bins of Gaussian noise move independently of each other; a gain that
//! moves (AGC, fading) moves them all together.

use serde::{Deserialize, Serialize};

use crate::signal::spectrum::Slices;
use crate::signal::spectrum::statistics::quantile;
use crate::units::in_db;

/// Parts of the passband that are compared. Chosen: some 400 Hz each in an SSB passband; with fewer, one station
/// moves them all.
const PARTS: usize = 6;
/// Common motion below this can't spoil a figure much, dB. Chosen: averaged over a recording it comes to less than
/// a tenth of a dB.
pub const HARMLESS_DB: f64 = 0.6;
/// Share of the parts' motion that must be common to all. Chosen: a fifth of the variance; held by the validation
/// bench (false cries on clean pairs).
pub const TELLING_SHARE: f64 = 0.2;

/// How the noise level moved within a recording.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GainMotion {
    /// Standard deviation of the motion that all parts of the passband make together, dB.
    pub common_db: f64,
    /// Its share of the variance of the single parts, 0..1.
    pub common_share: f64,
}

impl GainMotion {
    /// Measures it over the bins in `clean` (no lines, no stations) and the slices without a pulse (`pulsed`
    /// false): a click lifts all of the passband at once as well, and is no change of gain. `None` for fewer than
    /// 24 bins, or where fewer than 8 slices or a fifth of them are without pulses.
    pub fn of(slices: &Slices, clean: &[usize], pulsed: &[bool]) -> Option<Self> {
        let quiet: Vec<&[f32]> =
            slices.rows().zip(pulsed).filter(|(_, pulsed)| !**pulsed).map(|(row, _)| row).collect();
        if quiet.len() < 8.max(slices.len() / 5) || clean.len() < 4 * PARTS {
            return None;
        }
        // Bins are dealt out like cards, so that a station in one region does not make one part different.
        let mut levels = vec![Vec::new(); PARTS];
        for row in &quiet {
            for (part, levels) in levels.iter_mut().enumerate() {
                let power: f64 = clean.iter().skip(part).step_by(PARTS).map(|&k| row[k] as f64).sum();
                levels.push(in_db(power.max(f64::MIN_POSITIVE)));
            }
        }
        levels.iter_mut().for_each(|levels| centre(levels));
        let n = quiet.len() as f64;
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>() / n;
        let own = levels.iter().map(|part| product(part, part)).sum::<f64>() / PARTS as f64;
        let mut common = 0.0;
        for a in 0..PARTS {
            for b in 0..a {
                common += product(&levels[a], &levels[b]);
            }
        }
        common /= (PARTS * (PARTS - 1) / 2) as f64;
        Some(Self {
            common_db: common.max(0.0).sqrt(),
            common_share: if own > 0.0 { (common / own).clamp(0.0, 1.0) } else { 0.0 },
        })
    }

    /// Whether it is more than noise does by itself and enough to matter.
    pub fn matters(&self) -> bool {
        self.common_db > HARMLESS_DB && self.common_share > TELLING_SHARE
    }
}

/// Takes off the median and pulls in single moments (a crash, a click) to three times the typical deviation.
fn centre(levels: &mut [f64]) {
    let mut sorted = levels.to_vec();
    let middle = quantile(&mut sorted, 0.5);
    let spread = (quantile(&mut sorted, 0.84) - quantile(&mut sorted, 0.16)) / 2.0;
    for level in levels {
        *level = (*level - middle).clamp(-3.0 * spread, 3.0 * spread);
    }
}
