//! Amplitude probability distribution: for which share of the time the noise power exceeds each level, and what of
//! it stands above the part that is Gaussian noise.
//!
//! Source: Recommendation ITU-R SM.1753-2 (09/2012), Annex 1: § 10.3 (level of white Gaussian noise from the lowest
//! 20 % of values), § 10.6 (amplitude distribution). Powers of Gaussian noise are exponentially distributed only as
//! long as they are not averaged, so this works on the baseband's own values, not on the slower envelope.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::units::ratio_of_db;

/// Lowest level told apart and number of steps: 10·lg of FS²/Hz. What lies below is digital silence. Chosen: below
/// the rounding noise of 24 bit (−185 dB at 8 kHz) up to +10 dB; a step is below a level's scatter.
const LOWEST_DB: f64 = -200.0;
const STEP_DB: f64 = 0.25;
const STEPS: usize = 840;
/// Lower edges of the steps, FS²/Hz.
static EDGES: LazyLock<Vec<f64>> = LazyLock::new(|| (0..STEPS).map(|step| ratio_of_db(edge_db(step))).collect());
/// Mathematics: 10·lg 2.
const DB_AN_OCTAVE: f64 = 3.010_299_956_639_812;
/// Share of the values, the lowest, that tells the Gaussian level (SM.1753-2, § 10.3).
const LOWEST_SHARE: f64 = 0.2;
/// Standard deviation of that level, relative, times the root of the number of independent values: from the
/// influence function of the mean of the lowest 20 % of exponential values, √(E(ξ−x)₊² − (E(ξ−x)₊)²)/(0.2·0.10743).
/// Mathematics.
const LEVEL_SIGMA: f64 = 2.54;
/// Standard deviations beyond which a share above the Gaussian part is believed. Common practice: one in a
/// thousand.
const SIGMAS: f64 = 3.0;
/// Rounds in which level and share are brought to agree, and the largest share that leaves a level to be found.
/// Chosen: time against agreement; with more than this above, the lowest fifth is no noise.
const ROUNDS: usize = 4;
const MOST_ABOVE: f64 = 0.7;
/// Fewer values than this tell nothing. Chosen: the lowest fifth are then 200, and the level known to 8 %.
const LEAST_VALUES: u64 = 1000;

/// Mean of the lowest share `q` (0..1) of exponentially distributed powers, over the mean of all: 0.10743 for 20 %.
///
/// Derived: ∫₀^ξ x·e⁻ˣ dx / q with ξ = −ln(1 − q).
pub fn lowest_mean(q: f64) -> f64 {
    1.0 + (1.0 - q) / q * (-q).ln_1p()
}

/// Histogram of the noise power at every moment, per hertz of bandwidth, in steps of 0.25 dB.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AmplitudeDistribution {
    counts: Vec<u64>,
    /// Values counted, digital silence left out.
    total: u64,
    /// Independent values for each counted one (0..1).
    independence: f64,
}

/// What a distribution consists of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussianPart {
    /// Mean density of the Gaussian noise, FS²/Hz.
    pub density: f64,
    /// Standard deviation of `density`, relative.
    pub sigma: f64,
    /// Mean density of everything, FS²/Hz.
    pub mean: f64,
    /// Share of the time in which more than this noise is there, 0..1, at least: what is hardly stronger than the
    /// noise is told only in part. 0 where it can't be told from chance.
    pub time_share: f64,
}

impl GaussianPart {
    /// Mean density of what stands above the Gaussian part, FS²/Hz.
    pub fn above(&self) -> f64 {
        (self.mean - self.density).max(0.0)
    }
}

impl AmplitudeDistribution {
    /// An empty one. `independence`: noise bandwidth over the rate of the values.
    pub fn new(independence: f64) -> Self {
        Self { counts: vec![0; STEPS], total: 0, independence: independence.clamp(0.0, 1.0) }
    }

    /// Counts one value, FS²/Hz. Digital silence and what is no number are none.
    pub fn add(&mut self, density: f64) {
        let edges = &**EDGES;
        if density.is_nan() || density < edges[0] {
            return;
        }
        // Exponent and mantissa read as one number are less than the logarithm by up to a twelfth of an octave: half of
        // that is put on, and the edges tell the rest.
        let octaves = (density.to_bits() >> 32) as f64 / f64::from(1 << 20) - 1023.0 + 1.0 / 24.0;
        let mut step = (((octaves * DB_AN_OCTAVE - LOWEST_DB) / STEP_DB).max(0.0) as usize).min(STEPS - 1);
        while density < edges[step] {
            step -= 1;
        }
        while step + 1 < STEPS && density >= edges[step + 1] {
            step += 1;
        }
        self.counts[step] += 1;
        self.total += 1;
    }

    /// The distribution of several recordings together; `None` of none.
    pub fn together<'a>(all: impl IntoIterator<Item = &'a Self>) -> Option<Self> {
        all.into_iter().fold(None, |sum: Option<Self>, one| {
            let Some(mut sum) = sum else { return Some(one.clone()) };
            sum.counts.iter_mut().zip(&one.counts).for_each(|(sum, count)| *sum += count);
            sum.total += one.total;
            sum.independence = sum.independence.min(one.independence);
            Some(sum)
        })
    }

    /// Values counted.
    pub fn total(&self) -> u64 {
        self.total
    }

    /// Level (10·lg of FS²/Hz) and the probability that it is exceeded, from low to high levels; only where both
    /// happen, exceeding it and not.
    pub fn exceeded(&self) -> impl Iterator<Item = (f64, f64)> {
        let total = self.total as f64;
        let mut below = 0;
        self.counts.iter().enumerate().filter_map(move |(step, count)| {
            below += count;
            let above = self.total - below;
            (below > 0 && above > 0).then(|| (edge_db(step + 1), above as f64 / total))
        })
    }

    /// The Gaussian noise in it, and what stands above. `None` for too few values.
    ///
    /// Where something stands above the noise for a share s of the time, the lowest 20 % of all values are the
    /// lowest 20 %/(1 − s) of those of the noise; level and share are brought to agree.
    pub fn gaussian(&self) -> Option<GaussianPart> {
        let mut density = self.density_of_lowest()?;
        let independent = (self.total as f64 * self.independence).max(1.0);
        let sigma = LEVEL_SIGMA / independent.sqrt();
        let lowest = self.mean_of_lowest(LOWEST_SHARE);
        let mut time_share = 0.0;
        for _ in 0..ROUNDS {
            time_share = self.time_above(density, sigma, independent);
            density = lowest / lowest_mean(LOWEST_SHARE / (1.0 - time_share.min(MOST_ABOVE)));
        }
        Some(GaussianPart { density, sigma, mean: self.mean_of_lowest(1.0), time_share })
    }

    /// Mean density of Gaussian noise with the same lowest 20 % of values, FS²/Hz: its line on Rayleigh paper runs
    /// through that part. Above [`GaussianPart::density`] by 1/(1 − s) where something else is there for a share s
    /// of the time. `None` for too few values.
    pub fn density_of_lowest(&self) -> Option<f64> {
        (self.total >= LEAST_VALUES).then(|| self.mean_of_lowest(LOWEST_SHARE) / lowest_mean(LOWEST_SHARE))
    }

    /// Mean of the lowest share of the values, FS²/Hz.
    fn mean_of_lowest(&self, share: f64) -> f64 {
        let wanted = share * self.total as f64;
        let (mut sum, mut left) = (0.0, wanted);
        for (step, &count) in self.counts.iter().enumerate() {
            let taken = (count as f64).min(left);
            sum += taken * ratio_of_db(edge_db(step) + STEP_DB / 2.0);
            left -= taken;
        }
        sum / wanted
    }

    /// Share of the time in which more than Gaussian noise of this density is there, taken at the level at which
    /// the surplus over what such noise exceeds by itself is surest.
    fn time_above(&self, density: f64, sigma: f64, independent: f64) -> f64 {
        let mut best = (0.0, 0.0);
        for (level_db, probability) in self.exceeded() {
            let over = ratio_of_db(level_db) / density;
            let gaussian = (-over).exp();
            let counting = gaussian * (1.0 - gaussian) / independent;
            let doubt = SIGMAS * (counting + (gaussian * over * sigma).powi(2)).sqrt();
            let surplus = probability - gaussian;
            if surplus - doubt > best.0 {
                best = (surplus - doubt, surplus / (1.0 - gaussian));
            }
        }
        best.1.min(1.0)
    }
}

/// Lower edge of a step, 10·lg of FS²/Hz.
fn edge_db(step: usize) -> f64 {
    LOWEST_DB + step as f64 * STEP_DB
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::Gauss;
    use approx::assert_abs_diff_eq;

    const MEAN: f64 = 1e-8;

    fn noise(count: usize, also: impl Fn(usize, f64) -> f64) -> AmplitudeDistribution {
        let mut random = Gauss::new(11, "amplitudes");
        let mut apd = AmplitudeDistribution::new(1.0);
        (0..count).for_each(|n| apd.add(also(n, random.exponential(MEAN))));
        apd
    }

    fn db(ratio: f64) -> f64 {
        10.0 * ratio.log10()
    }

    /// Source: derived from the exponential distribution; mean of the lowest 20 % is 0.10743 of all (−9.689 dB).
    #[test]
    fn the_lowest_fifth_of_exponential_powers() {
        assert_abs_diff_eq!(lowest_mean(0.2), 0.107_43, epsilon = 1e-5);
        assert_abs_diff_eq!(db(lowest_mean(0.2)), -9.689, epsilon = 1e-3);
        assert_abs_diff_eq!(lowest_mean(1.0 - 1e-12), 1.0, epsilon = 1e-9);
    }

    /// Source: power of Gaussian noise exceeded with probability P is −ln P times its mean (derived; the straight
    /// line of the paper of ITU-R SM.1753-2, § 10.6), from 90 % at −9.77 dB to 0.1 % at +8.39 dB. Tolerance: the
    /// scatter of 1e5 values at 0.1 %, 0.2 dB.
    #[test]
    fn gaussian_noise_is_the_published_line() {
        let apd = noise(100_000, |_, power| power);
        let line: Vec<_> = apd.exceeded().filter(|(_, share)| (0.001..=0.9).contains(share)).collect();
        assert_abs_diff_eq!(line[0].0 - db(MEAN), -9.773, epsilon = 0.2 + STEP_DB);
        assert_abs_diff_eq!(line[line.len() - 1].0 - db(MEAN), 8.393, epsilon = 0.2 + STEP_DB);
        for (level_db, share) in line {
            assert_abs_diff_eq!(level_db - db(MEAN), db(-share.ln()), epsilon = 0.2);
        }
        let part = apd.gaussian().unwrap();
        assert_abs_diff_eq!(db(part.density / MEAN), 0.0, epsilon = 0.15);
        assert_abs_diff_eq!(part.mean / MEAN, 1.0, epsilon = 0.02);
        assert_eq!(part.time_share, 0.0);
    }

    /// The scatter promised for the level is the scatter it has (300 trials: ±12 % at three standard deviations).
    #[test]
    fn the_level_scatters_as_it_says() {
        let mut random = Gauss::new(5, "scatter");
        let levels: Vec<f64> = (0..300)
            .map(|_| {
                let mut apd = AmplitudeDistribution::new(1.0);
                (0..5000).for_each(|_| apd.add(random.exponential(MEAN)));
                apd.mean_of_lowest(LOWEST_SHARE) / lowest_mean(LOWEST_SHARE) / MEAN
            })
            .collect();
        let mean = levels.iter().sum::<f64>() / 300.0;
        let sd = (levels.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / 299.0).sqrt();
        assert_abs_diff_eq!(sd * 5000f64.sqrt() / LEVEL_SIGMA, 1.0, epsilon = 0.12);
        assert_abs_diff_eq!(mean, 1.0, epsilon = 0.006);
    }

    /// Pulses bend the line up where P is small; the level stays, and their time and power are as they were made.
    #[test]
    fn pulses_bend_it_up_and_leave_the_level() {
        for every in [200, 20, 3] {
            let strength = 300.0 * MEAN;
            let apd = noise(100_000, |n, power| if n % every == 0 { power + strength } else { power });
            let (share, part) = (1.0 / every as f64, apd.gaussian().unwrap());
            assert_abs_diff_eq!(db(part.density / MEAN), 0.0, epsilon = 0.2);
            assert_abs_diff_eq!(part.time_share, share, epsilon = 0.001 + 0.03 * share);
            assert_abs_diff_eq!(part.above() / (share * strength), 1.0, epsilon = 0.05);
            // Noise alone is 20 dB over its mean once in 10⁴³ values.
            let (_, far_above) = apd.exceeded().find(|(level, _)| level - db(MEAN) > 20.0).unwrap();
            assert_abs_diff_eq!(far_above, share, epsilon = 1e-4);
        }
    }

    /// Noise gated for a third of the time, as a buzz: its own powers are exponential again.
    #[test]
    fn gated_noise_stands_above_while_the_gate_is_open() {
        let apd = noise(90_000, |n, power| if n % 30 < 10 { 60.0 * power } else { power });
        let part = apd.gaussian().unwrap();
        assert_abs_diff_eq!(db(part.density / MEAN), 0.0, epsilon = 0.3);
        assert_abs_diff_eq!(part.time_share, 1.0 / 3.0, epsilon = 0.04);
        assert_abs_diff_eq!(part.mean / MEAN, 20.67, epsilon = 0.6);
    }

    /// By the definition: a step holds what lies from its lower edge up to the next one.
    #[test]
    fn every_level_is_counted_in_its_step() {
        for tenths in -1999..=98 {
            let level_db = f64::from(tenths) / 10.0 + 0.01;
            let mut apd = AmplitudeDistribution::new(1.0);
            apd.add(ratio_of_db(level_db));
            let step = ((level_db - LOWEST_DB) / STEP_DB) as usize;
            assert_eq!(apd.counts.iter().position(|&count| count == 1), Some(step), "{level_db}");
        }
    }

    #[test]
    fn silence_and_what_is_no_number_are_not_counted() {
        let mut apd = AmplitudeDistribution::new(1.0);
        [0.0, f64::NAN, -1.0, 1e-30].into_iter().for_each(|value| apd.add(value));
        assert_eq!((apd.total(), apd.gaussian(), apd.exceeded().count()), (0, None, 0));
        apd.add(f64::INFINITY);
        assert_eq!((apd.total(), apd.exceeded().count()), (1, 0));
    }
}
