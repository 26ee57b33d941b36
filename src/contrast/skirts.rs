//! Which bands hold the skirts of a station that stands in both states: there the device's noise shows less, or the
//! station's fading shows as a change. Noise is what lies between the stations, so these bands are left out of it.

use super::cells::Cells;
use super::excess::Band;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::{median, quantile};

/// A band is lifted where the off state has so much more there than the quieter bands around (ratio of powers, 1
/// dB). Chosen: skirts that matter lift more, the slope of a passband less.
const LIFTED: f64 = 1.26;
/// The quieter bands: this quantile of those within so many on either side. Chosen: about 600 Hz, and a station's
/// skirts may then hold two thirds of it.
const QUIET: f64 = 0.3;
const AROUND_BANDS: usize = 6;
/// A station beside it, within this, stands so far over the band (ratio of powers, 10 dB). Chosen: two tones keyed
/// 45 times a second have skirts 20 dB down within 150 Hz (mathematics), a good filter's none. A band that stands so
/// far over the quieter ones around is full of stations itself: no passband has such a hump.
const NEAR_HZ: f64 = 300.0;
const STATION: f64 = 10.0;
/// It disagrees with the bands that are not lifted by so much, dB, and so many of its standard deviations. Chosen:
/// a dB is worth a word, and by chance one band in some hundred reaches three.
const DISAGREES_DB: f64 = 1.0;
const DISAGREES_SIGMAS: f64 = 3.0;
/// Bands that must be left for the noise. Chosen: a third.
const LEAST_LEFT: f64 = 1.0 / 3.0;

/// The middles of these bands, Hz; none where too few would be left.
pub fn skirted(bands: &[Band], cells: &Cells, off: &[&Measurement]) -> Vec<f64> {
    let stations = stations(cells, off);
    let over: Vec<f64> = (0..bands.len())
        .map(|index| {
            let around = index.saturating_sub(AROUND_BANDS)..(index + AROUND_BANDS + 1).min(bands.len());
            let mut before: Vec<f64> = bands[around].iter().map(|other| other.before.0).collect();
            bands[index].before.0 / quantile(&mut before, QUIET)
        })
        .collect();
    let lifted = |index: usize| {
        let band = &bands[index];
        let beside =
            |&(hz, density): &(f64, f64)| (hz - band.freq_hz).abs() < NEAR_HZ && density > STATION * band.before.0;
        over[index] > STATION || (over[index] > LIFTED && stations.iter().any(beside))
    };
    let (lifted, rest): (Vec<usize>, Vec<usize>) = (0..bands.len()).partition(|&index| lifted(index));
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

/// Where something is left out, and the density that the off state has there, FS²/Hz.
fn stations(cells: &Cells, off: &[&Measurement]) -> Vec<(f64, f64)> {
    let density = |low: f64, high: f64| {
        let strongest = |m: &&Measurement| {
            let bins = m.slices.bin_of(low)..=m.slices.bin_of(high);
            bins.map(|k| m.slices.mean[k]).fold(0.0, f64::max)
        };
        off.iter().map(strongest).sum::<f64>() / off.len().max(1) as f64
    };
    cells.left_out_hz().into_iter().map(|(low, high)| ((low + high) / 2.0, density(low, high))).collect()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::contrast::{ContrastSettings, contrast};
    use crate::demo::synth::{Hash, Receiver, Scene};
    use crate::signal::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};

    /// Two tones 170 Hz apart, 45.45 of them a second, all the time (radio teletype, common practice), 20 dB over
    /// the noise in the passband: its skirts stand over most of it. Source: hash of 15 dB as it is made. Tolerance:
    /// half a dB, where with the skirts counted it read 2 dB less.
    #[test]
    fn hash_beside_a_teletype_station_reads_what_was_added() {
        let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-50.0));
        let measured = |scene: &Scene, seed: u64| {
            let mut take = scene.clone().seed(seed).render(15.0);
            let (mut turns, mut bits) = (0.0f64, seed);
            let amplitude = (2.0 * 100.0 * 1e-5f64).sqrt();
            let mut baud = 0.0f64;
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
        };
        let off = measured(&quiet, 11);
        let on = measured(&quiet.clone().device(Hash::flat(), Db(15.0)), 12);
        let found = contrast(&[&off], &[&on], &ContrastSettings::default());
        let excess = found.figures.expect("both can be measured").excess.steady.value;
        assert!((excess - 15.0).abs() < 0.5, "{excess}");
    }
}
