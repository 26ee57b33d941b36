//! The receiver's own noise, from recordings with a dummy load: how far the band's noise lies above it, and the
//! excess of what comes by the antenna alone. Not here: which recordings belong together (`planned`).
//!
//! Source: Recommendation ITU-R SM.1753-2 (09/2012), Annex 1, § 10.2 (correction for the equipment's own noise);
//! the formula is that of a background correction, ISO 3744:2010, § 8.2.3 (from memory).

use serde::{Deserialize, Serialize};

use super::cells::Cells;
use super::excess::{Excess, Take};
use super::take_scatter::TakeScatter;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::Passband;
use crate::units::{Estimate, in_db, ratio_of_db};
use crate::warning::{Code, Warning};

/// A margin below this is corrected for, dB: from here on the receiver lifts the band's noise by half a decibel or
/// more. Source: ISO 3744:2010, 8.2.3, has corrections from 15 dB down (formula from memory). Chosen: at 10 dB it
/// comes to 0.46 dB.
pub const CORRECTED_BELOW_DB: f64 = 10.0;
/// A margin below this leaves at most half of the noise to the band (our own choice), dB.
pub const LEAST_MARGIN_DB: f64 = 3.0;

/// The band's noise against the receiver's own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReceiverNoise {
    /// How far the noise with the device off lies above the receiver's own, dB with its 95 % interval.
    pub margin: Estimate,
    /// The excess without the receiver's own noise in either state, dB; `None` where the receiver adds nothing
    /// worth correcting, or where the band is too near to it to tell.
    pub corrected: Option<Estimate>,
}

impl ReceiverNoise {
    /// From the recordings of one setting: with a dummy load, with the device off, and the excess of on over off.
    /// `None` where they can't be compared. `passband`: where it is not to be found from the sound.
    pub fn of(
        terminated: &[&Measurement],
        off: &[&Measurement],
        excess: Estimate,
        passband: Option<Passband>,
        scatter: &TakeScatter,
    ) -> Option<Self> {
        let margin = noise_over(terminated, off, passband, scatter)?;
        let corrected = (margin.value < CORRECTED_BELOW_DB).then(|| corrected(excess, margin)).flatten();
        Some(Self { margin, corrected })
    }

    /// What to say where the receiver is nearly as loud as the band.
    pub fn warning(&self) -> Option<Warning> {
        let margin = self.margin.value;
        if margin >= LEAST_MARGIN_DB {
            return None;
        }
        let so = if self.margin.ci95.1 < 0.0 {
            format!(
                "with the dummy load the receiver is {:.1} dB louder than on the band, so the gain differed",
                -margin
            )
        } else if margin < 0.5 {
            "the band noise can't be told from the receiver's own".to_owned()
        } else {
            format!("the band noise lies only {margin:.1} dB above the receiver's own")
        };
        Some(Warning::new(
            Code::ReceiverNoise,
            format!(
                "{so}: a device's noise may be hidden under the receiver's, and the excess falls short of what \
                 it is on the air. Use a better antenna or less attenuation, with AGC off in all recordings."
            ),
        ))
    }
}

/// How far the noise of some recordings lies above that of others, lines and stations left out, dB with its 95 %
/// interval; `None` where they can't be compared.
pub fn noise_over(
    lower: &[&Measurement],
    upper: &[&Measurement],
    passband: Option<Passband>,
    scatter: &TakeScatter,
) -> Option<Estimate> {
    if lower.is_empty() || upper.is_empty() {
        return None;
    }
    let all: Vec<&Measurement> = lower.iter().chain(upper).copied().collect();
    let cells = Cells::of(&all, passband)?;
    let takes = |side: &[&Measurement]| -> Vec<Take> {
        side.iter().map(|m| Take { series: cells.series(m), at_min: 0.0, gain_db: 0.0 }).collect()
    };
    Some(Excess::of(&cells, &takes(lower), &takes(upper), scatter).steady)
}

/// What a background `margin_db` below a level adds to it, dB: to be taken off that level. NaN at 0 dB and less,
/// where nothing is left. 6 dB: 1.26; 10 dB: 0.46; 15 dB: 0.14.
pub fn background_correction(margin_db: f64) -> f64 {
    if margin_db > 0.0 { -in_db(1.0 - ratio_of_db(-margin_db)) } else { f64::NAN }
}

/// On less receiver over off less receiver, dB. The interval spans all that both intervals allow together: the off
/// level has a part in both. `None` where it would have no end.
fn corrected(excess: Estimate, margin: Estimate) -> Option<Estimate> {
    let at =
        |excess: f64, margin: f64| excess - background_correction(margin + excess) + background_correction(margin);
    let ends = [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(e, m)| {
        let pick = |estimate: Estimate, end: usize| estimate.ends()[end];
        at(pick(excess, e), pick(margin, m))
    });
    let value = at(excess.value, margin.value);
    let finite = value.is_finite() && ends.iter().all(|end| end.is_finite());
    finite.then(|| Estimate {
        value,
        ci95: (ends.into_iter().fold(f64::INFINITY, f64::min), ends.into_iter().fold(f64::NEG_INFINITY, f64::max)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::{Hash, Receiver, Scene};
    use crate::signal::measure::MeasureSettings;
    use crate::units::{Db, Dbfs};
    use approx::assert_abs_diff_eq;

    /// Source: ISO 3744:2010, § 8.2.3 (formula from memory); its values at 6 and 10 dB as in ECMA TR/107; the
    /// others derived from the formula.
    #[test]
    fn what_a_background_adds() {
        for (margin_db, correction_db) in
            [(0.5, 9.636), (1.0, 6.868), (3.0, 3.021), (6.0, 1.256), (10.0, 0.458), (15.0, 0.140), (20.0, 0.044)]
        {
            assert_abs_diff_eq!(background_correction(margin_db), correction_db, epsilon = 0.001);
        }
        assert!(background_correction(0.0).is_nan() && background_correction(-1.0).is_nan());
    }

    fn measured(scene: Scene) -> Measurement {
        Measurement::of_samples(12_000, &scene.render(20.0).samples, &MeasureSettings::default())
    }

    /// Receiver noise at −50 dBFS, the band `band_db` above it, a device that adds `excess_db` to both together.
    fn evening(band_db: f64, excess_db: f64) -> (ReceiverNoise, Estimate) {
        let receiver = |seed| Scene::new(Receiver::ssb(12_000)).receiver_noise(Dbfs(-50.0)).seed(seed);
        let band = |seed| receiver(seed).band_noise(Dbfs(-50.0 + band_db));
        let (terminated, off) = (measured(receiver(1)), measured(band(2)));
        let on = measured(band(3).device(Hash::flat(), Db(excess_db)));
        let settings = crate::contrast::ContrastSettings::default();
        let excess = super::super::contrast(&[&off], &[&on], &settings).figures.unwrap().excess_db();
        (ReceiverNoise::of(&[&terminated], &[&off], excess, None, &TakeScatter::default()).unwrap(), excess)
    }

    /// Truth: band 2 dB above the receiver gives 4.12 dB of margin; the device, in powers, is then known.
    #[test]
    fn the_excess_of_the_antenna_alone() {
        let (noise, excess) = evening(2.0, 5.0);
        let (receiver, off) = (1.0, 1.0 + Db(2.0).ratio());
        let on = off * Db(5.0).ratio();
        assert_abs_diff_eq!(excess.value, 5.0, epsilon = 0.3);
        assert_abs_diff_eq!(noise.margin.value, Db::from_ratio(off).0, epsilon = 0.3);
        let truth = Db::from_ratio((on - receiver) / (off - receiver)).0;
        let corrected = noise.corrected.unwrap();
        assert_abs_diff_eq!(corrected.value, truth, epsilon = 0.4);
        assert!(corrected.ci95.0 < truth && truth < corrected.ci95.1, "{truth} {corrected:?}");
        assert_eq!(noise.warning(), None);
    }

    #[test]
    fn a_quiet_receiver_needs_no_correction() {
        let (noise, _) = evening(17.0, 5.0);
        assert_abs_diff_eq!(noise.margin.value, 17.09, epsilon = 0.3);
        assert_eq!((noise.corrected, noise.warning()), (None, None));
    }

    #[test]
    fn a_band_no_louder_than_the_receiver_is_said() {
        let (noise, _) = evening(-25.0, 3.0);
        assert_abs_diff_eq!(noise.margin.value, 0.0, epsilon = 0.3);
        assert_eq!(noise.corrected, None);
        assert_eq!(noise.warning().unwrap().code, Code::ReceiverNoise);
        let louder = ReceiverNoise { margin: Estimate { value: -6.0, ci95: (-6.2, -5.8) }, corrected: None };
        assert!(louder.warning().unwrap().message.contains("6.0 dB louder"));
    }
}
