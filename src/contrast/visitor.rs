//! Signals that stand in the on state only and come and go, or hop: a station that came up, a carrier that warbles.
//! They are in neither the noise nor the lines, so "nothing found" must not be said as if they were not there.

use crate::signal::measure::Measurement;
use crate::signal::spectrum::{GUARD_BINS, Passband};

/// Stretches of frequency in which both states are compared: a voice's harmonics move about within them. Chosen:
/// about the pitch of a voice (common practice: 100 to 250 Hz).
const CELL_HZ: f64 = 150.0;
/// In one of them the on state has so many times the power that the off state has (6 dB): a station of both states
/// is nearly as loud in both. Chosen: one S-unit (IARU Region 1, R.1).
const STANDS_OUT: f64 = 4.0;
/// All that stands out must have so much of the power of what signals hold in the off state, or it is a part of
/// these. Chosen: a station of both states may be half as loud again in one.
const OF_ITS_OWN: f64 = 0.5;
/// Share of the power that lies below, and above, the stretch of frequency that is named. Chosen: the middle 80 %,
/// as a reader would point at it.
const BEYOND: f64 = 0.1;

/// Signals of the on state only.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Visitor {
    /// Their mean square, FS², on the on state's scale.
    pub power: f64,
    /// Where four fifths of it lie.
    pub span_hz: (f64, f64),
}

impl Visitor {
    /// Looks for them, strip by strip, in the bins that a signal holds now and then. `gain`: what the on side's
    /// gain is above the off side's (ratio of powers). `None` where there are none.
    pub fn find(off: &[&Measurement], on: &[&Measurement], passband: &Passband, gain: f64) -> Option<Self> {
        // A line of the off state may stand there and have keyed, faded or hopped since: it counts as before.
        let came = |m: &Measurement, bin: usize| {
            let (freq_hz, guard_hz) = (bin as f64 * m.slices.bin_hz, GUARD_BINS * m.slices.bin_hz);
            let steady = m.lines.iter().filter(|line| line.steady);
            m.occupied.get(bin).is_some_and(|held| *held)
                && !steady
                    .map(|line| line.span_hz.0 - guard_hz..=line.span_hz.1 + guard_hz)
                    .any(|span| span.contains(&freq_hz))
        };
        let (before, after) = (above_floor(off, passband, |_, _| true), above_floor(on, passband, came));
        let mut places: Vec<(f64, f64)> = Vec::new();
        for (cell, (power, was)) in after.iter().zip(&before).enumerate() {
            let was = was * gain;
            if *power > STANDS_OUT * was {
                places.push((passband.low_hz + (cell as f64 + 0.5) * CELL_HZ, power - was));
            }
        }
        let power: f64 = places.iter().map(|place| place.1).sum();
        if power <= OF_ITS_OWN * before.iter().sum::<f64>() * gain {
            return None;
        }
        let reached = |share: f64| {
            let mut sum = 0.0;
            places.iter().find_map(|&(freq_hz, part)| {
                sum += part;
                (sum >= share * power).then_some(freq_hz)
            })
        };
        let (low, high) = (reached(BEYOND)?, reached(1.0 - BEYOND)?);
        Some(Self { power, span_hz: (low - CELL_HZ / 2.0, high + CELL_HZ / 2.0) })
    }

    /// As a sentence.
    pub fn sentence(&self) -> String {
        format!(
            "a signal between {:.0} and {:.0} Hz stands in the on state only and comes and goes; listen to \
             whether it is a station, or a carrier of the device that hops or warbles. It is in no figure",
            self.span_hz.0, self.span_hz.1
        )
    }
}

/// Power above the floor, FS², in every [`CELL_HZ`] of the passband, over those bins that `counts` takes: the mean
/// over recordings.
fn above_floor(
    side: &[&Measurement],
    passband: &Passband,
    counts: impl Fn(&Measurement, usize) -> bool,
) -> Vec<f64> {
    let mut cells = vec![0.0; (passband.width_hz() / CELL_HZ).ceil() as usize];
    for m in side {
        let bin_hz = m.slices.bin_hz;
        for k in passband.bins(bin_hz, m.slices.bins).filter(|&k| counts(m, k)) {
            let cell = ((k as f64 * bin_hz - passband.low_hz) / CELL_HZ).max(0.0) as usize;
            if let Some(sum) = cells.get_mut(cell) {
                *sum += (m.slices.mean[k] - m.floor[k]).max(0.0) * bin_hz / side.len() as f64;
            }
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::demo::synth::{Receiver, Scene, Station};
    use crate::signal::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};

    const WIDE: Passband = Passband { low_hz: 400.0, high_hz: 2600.0 };

    fn measured(scene: &Scene, seed: u64, add: impl Fn(f64) -> f64) -> Measurement {
        let mut take = scene.clone().seed(seed).render(10.0);
        let rate = f64::from(take.rate_hz);
        take.samples.iter_mut().enumerate().for_each(|(n, x)| *x += add(n as f64 / rate) as f32);
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    /// Source: the signal as it is made, eight tones that take turns, of mean square a²/2 within 1400 to 1500 Hz; the
    /// band noise has 0.01² in 2400 Hz. Tolerance: a fifth of the power, whose weak edges are not told from noise.
    #[test]
    fn a_station_is_found_where_it_is_and_one_of_both_states_is_not() {
        let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-40.0));
        let silence = |_: f64| 0.0;
        let off = measured(&quiet, 1, silence);
        // SplitMix64's last step (G. L. Steele et al., OOPSLA 2014; from memory).
        let tone = |slot: f64| {
            let z = (slot as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            ((z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB) >> 61) as f64
        };
        let turns = |t: f64| 0.014 * (TAU * (1406.0 + 12.5 * tone((t * 12.5).floor())) * t).sin();
        let on = measured(&quiet, 2, turns);
        let found = Visitor::find(&[&off], &[&on], &WIDE, 1.0).unwrap();
        assert!((found.power / 9.8e-5 - 1.0).abs() < 0.2, "{found:?}");
        // Named are whole strips of 150 Hz, those from 1300 to 1600 Hz.
        assert_eq!(found.span_hz, (1300.0, 1600.0));

        let nothing = Visitor::find(&[&off], &[&measured(&quiet, 3, silence)], &WIDE, 1.0);
        assert!(nothing.is_none_or(|found| found.power < 1e-6), "{nothing:?}");
        let keyed = quiet.station(Station::random_cw(18.0, 800.0), Db(6.0));
        let both = Visitor::find(&[&measured(&keyed, 4, silence)], &[&measured(&keyed, 5, silence)], &WIDE, 1.0);
        assert_eq!(both, None);
    }
}
