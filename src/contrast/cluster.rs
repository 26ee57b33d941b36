//! A crowd of carriers that came with the device, too near each other to part them all: such as each module of a
//! plant makes. Its bins stand, slice by slice, as those of no station do. Not here: single carriers and families
//! (`added_lines`, `comb`).

use serde::{Deserialize, Serialize};

use super::added_lines::LineChanges;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::Passband;
use crate::signal::spectrum::lines::STANDS_OUT;
use crate::signal::spectrum::statistics::{mean_power_quantile, quantile};

/// A bin stands where its weakest tenth of slices has this part of the way from what noise has to all of its mean.
/// Measured: of 5 to 30 carriers within 1 kHz (steady, or wandering by 0.5 Hz) such bins hold 0.65 to 1.0 of the
/// power; of two and eight tones, phase keying, keying by hand, and all the stations of 13 recordings off the air,
/// at most 0.07.
const STANDS: f64 = 0.4;
const WEAK: f64 = 0.1;
/// Least share of the crowd's power in bins that stand. Chosen in the middle of the above.
const LEAST_STANDING: f64 = 0.5;
/// Bins that stand further apart belong to different crowds, Hz. Chosen: twice the mean distance of 14 carriers in
/// 1 kHz, as published of solar optimisers.
const GAP_HZ: f64 = 150.0;
/// Bins on each side that belong to the outermost carriers. Mathematics: the Hann window's main lobe.
const LOBE_BINS: usize = 2;
/// Spacings that the sidebands of even keying have, the steps in which they are tried, and how well each carrier is
/// placed, Hz. Chosen: 20 to 65 dots or reversals a second (common practice); a step moves the tenth sideband by a
/// Hz; a quarter of a bin.
const KEYING_HZ: std::ops::RangeInclusive<f64> = 20.0..=65.0;
const KEYING_STEP_HZ: f64 = 0.1;
const PLACED_HZ: f64 = 1.5;
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
    /// The strongest crowd of the on state only; without off recordings, of what stands. `gain`: what the on side's
    /// gain is above the off side's (ratio of powers). `None` where there is none, its carriers form a family, or
    /// the recordings' rates differ.
    pub fn find(
        off: &[&Measurement],
        on: &[&Measurement],
        passband: &Passband,
        gain: f64,
        lines: &LineChanges,
    ) -> Option<Self> {
        let slices = &on.first()?.slices;
        let alike = |m: &&Measurement| m.slices.bin_hz == slices.bin_hz && m.floor.len() == m.slices.bins;
        if !off.iter().chain(on).all(alike) {
            return None;
        }
        let bins = passband.bins(slices.bin_hz, slices.bins);
        let over = |side: &[&Measurement], k: usize| {
            side.iter().map(|m| m.slices.mean[k] - m.floor[k]).sum::<f64>() / side.len().max(1) as f64
        };
        let came = |k: &usize| over(on, *k) > STANDS_OUT * gain * over(off, *k).max(0.0);
        let mut standing: Vec<usize> = bins.clone().filter(came).collect();
        on.iter().for_each(|m| stay_standing(m, &mut standing));
        let gap = (GAP_HZ / slices.bin_hz) as usize;
        let crowd = |group: &[usize]| -> Option<Self> {
            let (first, last) = (*group.first()?, *group.last()?);
            let span = first.saturating_sub(LOBE_BINS).max(bins.start)..(last + LOBE_BINS + 1).min(bins.end);
            let held: f64 = group.iter().map(|&k| over(on, k)).sum();
            let all: f64 = span.clone().map(|k| over(on, k).max(0.0)).sum();
            let peaks = group.iter().filter(|&&k| over(on, k) >= over(on, k - 1).max(over(on, k + 1)));
            let centre = |k: usize| {
                let three = [k - 1, k, k + 1].map(|k| (k as f64, over(on, k).max(0.0)));
                three.iter().map(|(k, power)| k * power).sum::<f64>() / three.iter().map(|one| one.1).sum::<f64>()
            };
            let places: Vec<f64> = peaks.map(|&k| centre(k) * slices.bin_hz).collect();
            let at_least = places.len();
            if at_least < LEAST_CARRIERS || held < LEAST_STANDING * all || are_even(&places) {
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

/// Whether all places are multiples of one narrow spacing apart, as the sidebands of a station that keys evenly.
fn are_even(places: &[f64]) -> bool {
    let steps = ((KEYING_HZ.end() - KEYING_HZ.start()) / KEYING_STEP_HZ) as usize;
    (0..=steps).map(|step| KEYING_HZ.start() + step as f64 * KEYING_STEP_HZ).any(|spacing| {
        let off = |hz: f64| hz - (hz / spacing).round() * spacing;
        places.iter().all(|hz| off(hz - places[0]).abs() <= PLACED_HZ)
    })
}

/// Keeps of some bins those that keep their power from slice to slice, well above the floor.
fn stay_standing(m: &Measurement, bins: &mut Vec<usize>) {
    if bins.is_empty() {
        return;
    }
    let slices = m.slices.here();
    let noise = mean_power_quantile(slices.averages_per_slice(), WEAK);
    let stands = |k: usize| {
        let mut powers: Vec<f64> = slices.rows().map(|row| f64::from(row[k])).collect();
        let mean = powers.iter().sum::<f64>() / powers.len().max(1) as f64;
        mean > STANDS_OUT * m.floor[k] && quantile(&mut powers, WEAK) > (noise + STANDS * (1.0 - noise)) * mean
    };
    bins.retain(|&k| stands(k));
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::contrast::{Character, ContrastSettings, Figures, contrast};
    use crate::demo::synth::{Carrier, Carriers, Hash, Receiver, Scene};
    use crate::signal::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};

    fn measured(scene: &Scene, seed: u64, add: impl Fn(f64) -> f64) -> Measurement {
        let mut take = scene.clone().seed(seed).render(12.0);
        let rate = f64::from(take.rate_hz);
        take.samples.iter_mut().enumerate().for_each(|(n, x)| *x += add(n as f64 / rate) as f32);
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    fn compared(off: &Measurement, on: &Measurement) -> Figures {
        contrast(&[off], &[on], &ContrastSettings::default()).figures.expect("both can be measured")
    }

    fn quiet() -> Scene {
        Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-45.0))
    }

    fn optimisers() -> Carriers {
        let places = [-493.0, -441.0, -310.0, -291.0, -203.0, -160.0, -88.0, 5.0, 17.0, 121.0, 212.0, 330.0, 338.0];
        Carriers::new(places.into_iter().chain([466.0]).map(|hz| Carrier::at(1500.0 + hz)))
    }

    /// Source: 14 carriers within ±500 Hz, one a module, as published of solar optimisers, and their power as it is
    /// made: 9.7 dB over the noise, it and theirs together. Tolerance: half a dB; 4 of the 14 stand nearer to
    /// another than the main lobe is wide.
    #[test]
    fn a_crowd_of_carriers_is_told_with_its_power() {
        let off = measured(&quiet(), 1, |_| 0.0);
        let figures = compared(&off, &measured(&quiet().device(optimisers(), Db(9.7)), 2, |_| 0.0));
        let crowd = figures.cluster.expect("a crowd");
        assert_eq!(figures.verdict.character, Character::Carriers, "{:?}", figures.verdict);
        assert!((10..=14).contains(&crowd.at_least), "{crowd:?}");
        assert!(crowd.span_hz.0 < 1010.0 && crowd.span_hz.1 > 1960.0, "{crowd:?}");
        assert!((figures.total_db - 9.7).abs() < 0.5, "{}", figures.total_db);
        assert!(figures.uncounted.db(&figures.excess, figures.passband.width_hz()) < 0.3);
    }

    /// Six stations of eight tones, 6.25 Hz and 0.16 s each (common practice), of the on state only, adding 9.7 dB:
    /// no crowd of carriers, but power that is said to be in no figure, and no sound "nothing".
    #[test]
    fn a_crowd_of_stations_is_none_and_leaves_the_verdict_open() {
        let tone = |t: f64, seed: u64| {
            // SplitMix64's last step (G. L. Steele et al., OOPSLA 2014; from memory): multiples of one number, as
            // they were, run to and fro.
            let z = ((t / 0.16) as u64 + 977 * seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB) >> 61
        };
        let noise = Dbfs(-45.0).mean_square();
        let amplitude = (2.0 * noise * (10f64.powf(0.97) - 1.0) / 6.0).sqrt();
        let stations = |t: f64| {
            let one = |k: u64| (TAU * (700.0 + 230.0 * k as f64 + 6.25 * tone(t, k) as f64) * t).sin();
            amplitude * (0..6).map(one).sum::<f64>()
        };
        let (off, on) = (measured(&quiet(), 3, |_| 0.0), measured(&quiet(), 4, stations));
        let found = contrast(&[&off], &[&on], &ContrastSettings::default());
        let figures = found.figures.as_ref().expect("both can be measured");
        assert_eq!(figures.cluster, None);
        assert_eq!(figures.verdict.character, Character::Unclear, "{:?}", figures.verdict);
        assert!(!found.trust.is_unspoilt());
        let uncounted = figures.uncounted.db(&figures.excess, figures.passband.width_hz());
        assert!((uncounted - 9.7).abs() < 1.0, "{uncounted}");
    }

    /// Hash of 8 dB is worth a remedy whatever stands beside it: here a carrier a hundred times as strong.
    #[test]
    fn hash_beside_a_strong_carrier_is_named() {
        let device = quiet().device(Hash::flat(), Db(8.0)).device(Carriers::new([Carrier::at(1311.0)]), Db(28.0));
        let figures = compared(&measured(&quiet(), 5, |_| 0.0), &measured(&device, 6, |_| 0.0));
        let parts: Vec<Character> = figures.verdict.parts.iter().map(|part| part.character).collect();
        assert_eq!(figures.verdict.character, Character::Mixed);
        assert_eq!(parts, [Character::Carriers, Character::Hash]);
    }
}
