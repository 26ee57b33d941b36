//! Which bands hold the skirts of a station. Where it stands in both states the device's noise shows less there, or
//! the station's fading shows as a change; where it came with the on state, its skirts look like the device's noise.
//! Noise is what lies between the stations, so these bands are left out of it.

use super::cells::Cells;
use super::excess::Band;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::{median, quantile};
use crate::units::ratio_of_db;

/// A band is lifted where a state has so much more there than the quieter bands around (ratio of powers, 1 dB).
/// Chosen: skirts that matter lift more, the slope of a passband less.
const LIFTED: f64 = 1.26;
/// The quieter bands: this quantile of those within so many on either side. Chosen: about 600 Hz, and a station's
/// skirts may then hold two thirds of it.
const QUIET: f64 = 0.3;
const AROUND_BANDS: usize = 6;
/// A station beside it, within this, stands so far over the band (ratio of powers, 10 dB). Chosen: two tones keyed
/// 45 times a second have skirts 20 dB down within 150 Hz (mathematics), a good filter's none. A band that stands so
/// far over the quieter ones around is full of stations itself: no passband has such a hump.
pub const NEAR_HZ: f64 = 300.0;
const STATION: f64 = 10.0;
/// A band so far below the middle one (ratio of powers, 20 dB) is outside the filter. As `passband` has it.
const OUTSIDE: f64 = 0.01;
/// It disagrees with the bands that are not lifted by so much, dB, and so many of its standard deviations. Chosen:
/// a dB is worth a word, and by chance one band in some hundred reaches three.
const DISAGREES_DB: f64 = 1.0;
const DISAGREES_SIGMAS: f64 = 3.0;
/// Bands that must be left for the noise. Chosen: a third.
const LEAST_LEFT: f64 = 1.0 / 3.0;

/// The middles of these bands, Hz; none where too few would be left.
pub fn skirted(bands: &[Band], cells: &Cells, off: &[&Measurement], on: &[&Measurement]) -> Vec<f64> {
    let before: Vec<f64> = bands.iter().map(|band| band.before.0).collect();
    let after: Vec<f64> = bands.iter().map(|band| band.before.0 * ratio_of_db(band.excess.value)).collect();
    // What is left out of the on state for a line may be the device's, with a hump of noise about it.
    let in_off = stations(cells, off, |_, _| true);
    let in_on = stations(cells, on, |m, k| m.occupied.get(k).is_some_and(|held| *held));
    let least = median(&mut before.clone()) * OUTSIDE;
    let inside: Vec<usize> = (0..bands.len()).filter(|&index| before[index] > least).collect();
    let over_quiet = |levels: &[f64], index: usize| {
        let around = inside.iter().filter(|other| other.abs_diff(index) <= AROUND_BANDS);
        levels[index] / quantile(&mut around.map(|&other| levels[other]).collect::<Vec<_>>(), QUIET)
    };
    let beside = |stations: &[(f64, f64)], levels: &[f64], index: usize| {
        let near = |hz: f64| (hz - bands[index].freq_hz).abs() < NEAR_HZ;
        stations.iter().any(|&(hz, density)| near(hz) && density > STATION * levels[index])
    };
    let over: Vec<f64> = (0..bands.len()).map(|index| over_quiet(&before, index)).collect();
    let lifted = |index: usize| {
        over[index] > STATION
            || (over[index] > LIFTED && beside(&in_off, &before, index))
            || (over_quiet(&after, index) > LIFTED && beside(&in_on, &after, index))
    };
    let (lifted, rest): (Vec<usize>, Vec<usize>) = inside.iter().partition(|&&index| lifted(index));
    if (rest.len() as f64) < LEAST_LEFT * bands.len() as f64 {
        return Vec::new();
    }
    let typical = median(&mut rest.iter().map(|&index| bands[index].excess.value).collect::<Vec<_>>());
    let disagrees = |&index: &usize| {
        let excess = &bands[index].excess;
        over[index] > STATION
            || (excess.value - typical).abs() > DISAGREES_DB.max(DISAGREES_SIGMAS * bands[index].within_db)
    };
    lifted.into_iter().filter(disagrees).map(|index| bands[index].freq_hz).collect()
}

/// Where something is left out, and the density that a state has there, FS²/Hz, in the bins that `counts` takes.
fn stations(cells: &Cells, side: &[&Measurement], counts: fn(&Measurement, usize) -> bool) -> Vec<(f64, f64)> {
    let density = |low: f64, high: f64| {
        let strongest = |m: &&Measurement| {
            let bins = m.slices.bin_of(low)..=m.slices.bin_of(high);
            bins.filter(|&k| counts(m, k)).map(|k| m.slices.mean[k]).fold(0.0, f64::max)
        };
        side.iter().map(strongest).sum::<f64>() / side.len().max(1) as f64
    };
    cells.left_out_hz().into_iter().map(|(low, high)| ((low + high) / 2.0, density(low, high))).collect()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::contrast::{Character, ContrastSettings, Figures, contrast};
    use crate::demo::synth::{Hash, Receiver, Scene};
    use crate::signal::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};

    /// 15 s of a scene at 12 kHz with two tones 170 Hz apart, 45.45 of them a second, all the time (radio teletype,
    /// common practice), so far over noise of -50 dBFS (ratio of powers).
    fn measured(scene: &Scene, seed: u64, station: f64) -> Measurement {
        let mut take = scene.clone().seed(seed).render(15.0);
        let (mut turns, mut bits, mut baud) = (0.0f64, seed, 0.0f64);
        let amplitude = (2.0 * station * 1e-5).sqrt();
        for x in &mut take.samples {
            baud += 45.45 / 12_000.0;
            if baud >= 1.0 {
                baud -= 1.0;
                bits = bits.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            }
            let hz = if bits >> 63 == 0 { 1415.0 } else { 1585.0 };
            turns = (turns + hz / 12_000.0).fract();
            *x += (amplitude * (TAU * turns).sin()) as f32;
        }
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    fn compared(off: &Measurement, on: &Measurement) -> Figures {
        contrast(&[off], &[on], &ContrastSettings::default()).figures.expect("both can be measured")
    }

    /// The station stands 20 dB over the noise in the passband: its skirts stand over most of it. Source: hash of 15
    /// dB as it is made. Tolerance: half a dB, where with the skirts counted it read 2 dB less.
    #[test]
    fn hash_beside_a_teletype_station_reads_what_was_added() {
        let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-50.0));
        let hash = quiet.clone().device(Hash::flat(), Db(15.0));
        let excess = compared(&measured(&quiet, 11, 100.0), &measured(&hash, 12, 100.0)).excess.steady.value;
        assert!((excess - 15.0).abs() < 0.5, "{excess}");
    }

    /// By construction: nothing but the station comes with the on state, 10 dB over the noise.
    #[test]
    fn the_skirts_of_a_station_that_came_are_no_hash() {
        let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-50.0));
        let figures = compared(&measured(&quiet, 11, 0.0), &measured(&quiet, 12, 10.0));
        assert_eq!(figures.verdict.character, Character::Unclear, "{:?}", figures.verdict);
        assert!(figures.excess.steady.value.abs() < 1.0, "{:?}", figures.excess.steady);
    }
}
