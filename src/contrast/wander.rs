//! Whether the noise wanders within the on recordings as it does within the off recordings. Steady noise on top of
//! a band that wanders steadies it; so a rise that leaves it wandering may be the band's own, and one that is not
//! there in the quietest moments is no steady noise. Not here: the interval that such motion gives (`bootstrap`),
//! and what repeated takes tell (`take_scatter`).

use super::cells::NoiseSeries;
use super::excess::radiometer_sd_db;
use crate::signal::spectrum::statistics::{median, quantile, steady_level};
use crate::units::{in_db, ratio_of_db};

/// Stretches whose levels are compared. Chosen: longer than syllables and static, and a recording of ten seconds has
/// five.
const STRETCH_S: f64 = 2.0;
/// Wandering by less than this, dB, and so many times what the radiometer equation gives a stretch, is noise's own.
/// Chosen: steps of a tenth of a dB are any receiver's; with room for so few stretches.
const LEAST_DB: f64 = 0.3;
const RADIOMETER: f64 = 2.0;
/// What wanders so many times as far as the band does with the device off is no longer the band's. Chosen: the
/// wandering of four stretches is known to a factor of two.
const APART: f64 = 2.0;
/// The part of the time that quietest and loudest moments have. Common practice: speech pauses for a fifth of the time
/// and more.
const MOMENTS: f64 = 0.1;

/// How far the noise wanders, dB: the middle of the distances of stretches from their middle, which the start of a
/// recording and one burst of static leave alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wander {
    off_db: f64,
    on_db: f64,
    least_db: f64,
}

impl Wander {
    /// Of each state's recordings, over `free_hz` of noise; of several the middle.
    pub fn of(off: &[NoiseSeries], on: &[NoiseSeries], free_hz: f64) -> Self {
        let side = |series: &[NoiseSeries]| median(&mut series.iter().map(of_one).collect::<Vec<_>>());
        let least_db = LEAST_DB.max(RADIOMETER * radiometer_sd_db(free_hz, STRETCH_S));
        Self { off_db: side(off), on_db: side(on), least_db }
    }

    /// Whether noise that rose by so much wanders rather as the band alone would than as with steady noise on top,
    /// by which its motion shrinks as the band's share of the power does.
    pub fn is_the_bands(self, rise_db: f64) -> bool {
        let steadied = ratio_of_db(-rise_db.max(0.0));
        let as_the_band = (0.5 * (1.0 + steadied) * self.off_db..=APART * self.off_db).contains(&self.on_db);
        self.on_db > self.least_db && as_the_band
    }
}

/// How the quietest moments of the on recordings lie to off recordings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuietMoments {
    /// Over the quietest of off, dB: what steady noise adds is there in a voice's pauses too.
    pub over_quiet_db: f64,
    /// Over the loudest of off, dB: above 0 the noise rose by more than it moves with the device off.
    pub over_loud_db: f64,
}

impl QuietMoments {
    /// Of several recordings the middle. `gain`: what the on side's gain is above the off side's (ratio of powers).
    pub fn of(off: &[NoiseSeries], on: &[NoiseSeries], gain: f64) -> Self {
        let side = |series: &[NoiseSeries], part: f64| {
            let one = |one: &NoiseSeries| in_db(quantile(&mut one.all.clone(), part).max(f64::MIN_POSITIVE));
            median(&mut series.iter().map(one).collect::<Vec<_>>())
        };
        let quiet = side(on, MOMENTS) - in_db(gain);
        Self { over_quiet_db: quiet - side(off, MOMENTS), over_loud_db: quiet - side(off, 1.0 - MOMENTS) }
    }
}

fn of_one(series: &NoiseSeries) -> f64 {
    let stretch = ((STRETCH_S / series.slice_s) as usize).max(1);
    let mut levels: Vec<f64> =
        series.all.chunks(stretch).map(|slices| in_db(steady_level(slices).max(f64::MIN_POSITIVE))).collect();
    let middle = median(&mut levels);
    median(&mut levels.iter().map(|level| (level - middle).abs()).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Stretches of these levels, dB.
    fn series(levels_db: &[f64]) -> NoiseSeries {
        let all = levels_db.iter().flat_map(|&level| [ratio_of_db(level); 8]).collect();
        NoiseSeries { all, bands: Vec::new(), slice_s: 0.25 }
    }

    const BAND: [f64; 5] = [0.0, 2.0, -2.0, 3.0, -1.0];

    /// By arithmetic: a band that wanders, the same band 6 dB louder, and with steady noise of 6 dB on top.
    #[test]
    fn a_band_that_rises_wanders_on_and_a_device_steadies_it() {
        let louder = series(&BAND.map(|level| level + 6.0));
        let band = || [series(&BAND)];
        assert!(Wander::of(&band(), &[louder], 2400.0).is_the_bands(6.0));
        let device = series(&BAND.map(|level| in_db(ratio_of_db(level) + 3.0)));
        assert!(!Wander::of(&band(), &[device], 2400.0).is_the_bands(6.0));
        // In 2 s of 2 Hz noise itself wanders as far.
        let louder = series(&BAND.map(|level| level + 6.0));
        assert!(!Wander::of(&band(), &[louder], 2.0).is_the_bands(6.0));
    }

    /// A band that rests leaves its motion to the device; so does one that moves far less. One burst is no motion.
    #[test]
    fn a_device_that_varies_over_a_band_at_rest_is_not_the_band() {
        let rest = || [series(&[0.0, 0.1, -0.1, 0.0, 0.1])];
        let varies = series(&BAND.map(|level| level + 9.0));
        assert!(!Wander::of(&rest(), &[varies], 2400.0).is_the_bands(9.0));
        let burst = Wander::of(&rest(), &[series(&[6.0, 6.1, 12.0, 6.0, 6.1])], 2400.0);
        assert!(!burst.is_the_bands(6.0));
        assert_abs_diff_eq!(burst.on_db, 0.1, epsilon = 1e-9);
    }

    /// By arithmetic: steady noise of 6 dB over a band that goes up and down by 3 dB for a tenth of the time and more;
    /// a voice of 10 dB that rests for a fifth.
    #[test]
    fn steady_noise_is_there_in_the_quietest_moments_and_a_voice_is_not() {
        let off = || [series(&[-3.0, 0.0, 0.0, 0.0, 3.0])];
        let moments = |on: NoiseSeries| QuietMoments::of(&off(), &[on], 1.0);
        let steady = moments(series(&[4.0, 6.0, 6.0, 6.0, 8.0]));
        assert_abs_diff_eq!(steady.over_quiet_db, 7.0, epsilon = 1e-9);
        assert_abs_diff_eq!(steady.over_loud_db, 1.0, epsilon = 1e-9);
        let voice = moments(series(&[10.0, -3.0, 10.0, 10.0, 10.0]));
        assert_abs_diff_eq!(voice.over_quiet_db, 0.0, epsilon = 1e-9);
    }
}
