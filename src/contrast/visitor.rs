//! Signals that stand in the on state only and come and go, or hop: a station that came up, a carrier that warbles.
//! They are in neither the noise nor the lines, so "nothing found" must not be said as if they were not there.

use crate::measure::Measurement;
use crate::spectrum::Passband;

/// A bin of the on state has so many times the power that the off state has there (3 dB): a station of both states
/// moves by less from one take to the next.
const STANDS_OUT: f64 = 2.0;
/// Share of the power that lies below, and above, the stretch of frequency that is named.
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
    /// Looks for them in the bins that a signal holds now and then. `gain`: what the on side's gain is above the off
    /// side's (ratio of powers). `None` where there are none.
    pub fn find(off: &[&Measurement], on: &[&Measurement], passband: &Passband, gain: f64) -> Option<Self> {
        let mut places: Vec<(f64, f64)> = Vec::new();
        for measurement in on {
            let bin_hz = measurement.slices.bin_hz;
            let lines: Vec<(f64, f64)> =
                measurement.lines.iter().filter(|line| line.steady).map(|line| line.span_hz).collect();
            for k in passband.bins(bin_hz, measurement.slices.bins) {
                let freq_hz = k as f64 * bin_hz;
                let beside =
                    |&(low, high): &(f64, f64)| (low - 3.0 * bin_hz..=high + 3.0 * bin_hz).contains(&freq_hz);
                if !measurement.occupied.get(k).is_some_and(|held| *held) || lines.iter().any(beside) {
                    continue;
                }
                let above = above_floor(measurement, freq_hz);
                let before = off.iter().map(|m| above_floor(m, freq_hz)).sum::<f64>() / off.len() as f64 * gain;
                if above > STANDS_OUT * before.max(0.0) {
                    places.push((freq_hz, (above - before.max(0.0)) * bin_hz / on.len() as f64));
                }
            }
        }
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let power: f64 = places.iter().map(|place| place.1).sum();
        let reached = |share: f64| {
            let mut sum = 0.0;
            places.iter().find_map(|&(freq_hz, part)| {
                sum += part;
                (sum >= share * power).then_some(freq_hz)
            })
        };
        Some(Self { power, span_hz: (reached(BEYOND)?, reached(1.0 - BEYOND)?) })
    }

    /// As a sentence.
    pub fn told(&self) -> String {
        format!(
            "a signal between {:.0} and {:.0} Hz stands in the on state only and comes and goes: a station, or a carrier \
             of the device that hops or warbles. It is in no figure; listen to what it is",
            self.span_hz.0, self.span_hz.1
        )
    }
}

/// Mean density above the floor at a frequency, FS²/Hz.
fn above_floor(measurement: &Measurement, freq_hz: f64) -> f64 {
    let bin = measurement.slices.bin_of(freq_hz);
    measurement.slices.mean[bin] - measurement.floor.get(bin).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::demo::synth::{Receiver, Scene, Station};
    use crate::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};

    const WIDE: Passband = Passband { low_hz: 400.0, high_hz: 2600.0 };

    fn measured(scene: &Scene, seed: u64, add: impl Fn(f64) -> f64) -> Measurement {
        let mut take = scene.clone().seed(seed).render(10.0);
        let rate = f64::from(take.rate_hz);
        take.samples.iter_mut().enumerate().for_each(|(n, x)| *x += add(n as f64 / rate) as f32);
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    /// Source: the signal as it is made, of mean square a²/2 within 1400 to 1500 Hz; the band noise has 0.01² in
    /// 2400 Hz. Tolerance: a fifth of the power, whose weak edges are not told from noise.
    #[test]
    fn a_warbling_carrier_is_found_where_it_is_and_a_station_of_both_states_is_not() {
        let quiet = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-40.0));
        let silence = |_: f64| 0.0;
        let off = measured(&quiet, 1, silence);
        // The pitch runs up and down over ±50 Hz twice a second.
        let warble = |t: f64| 0.014 * (TAU * 1450.0 * t + 50.0 / 2.0 * (TAU * 2.0 * t).sin()).sin();
        let on = measured(&quiet, 2, warble);
        let found = Visitor::find(&[&off], &[&on], &WIDE, 1.0).unwrap();
        assert!((found.power / 9.8e-5 - 1.0).abs() < 0.2, "{found:?}");
        assert!(
            (1385.0..1430.0).contains(&found.span_hz.0) && (1470.0..1515.0).contains(&found.span_hz.1),
            "{found:?}"
        );

        let nothing = Visitor::find(&[&off], &[&measured(&quiet, 3, silence)], &WIDE, 1.0);
        assert!(nothing.is_none_or(|found| found.power < 1e-6), "{nothing:?}");
        let keyed = quiet.station(Station::random_cw(18.0, 800.0), Db(6.0));
        let both = Visitor::find(&[&measured(&keyed, 4, silence)], &[&measured(&keyed, 5, silence)], &WIDE, 1.0);
        assert!(both.is_none_or(|found| found.power < 2e-5), "{both:?}");
    }
}
