//! Whether the noise wanders within the on recordings as it does within the off recordings. Steady noise on top of
//! a band that wanders steadies it; so a rise that leaves it wandering may be the band's own. Not here: the interval
//! that such motion gives (`bootstrap`), and what repeated takes tell (`take_scatter`).

use super::cells::NoiseSeries;
use crate::signal::spectrum::statistics::{median, steady_level};
use crate::units::{in_db, ratio_of_db};

/// Stretches whose levels are compared. Chosen: longer than syllables and static, and a recording of ten seconds has
/// five.
const STRETCH_S: f64 = 2.0;
/// Wandering by less than this is noise's own, dB. Mathematics: the radiometer equation gives 0.2 dB in 2 s of 200
/// Hz; chosen: with room for so few stretches.
const LEAST_DB: f64 = 0.5;
/// What wanders so many times as far as the band does with the device off is no longer the band's. Chosen: the
/// wandering of four stretches is known to a factor of two.
const APART: f64 = 2.0;

/// How far the noise wanders, dB: the middle of the distances of stretches from their middle, which the start of a
/// recording and one burst of static leave alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wander {
    off_db: f64,
    on_db: f64,
}

impl Wander {
    /// Of each state's recordings; of several the middle.
    pub fn of(off: &[NoiseSeries], on: &[NoiseSeries]) -> Self {
        let side = |series: &[NoiseSeries]| median(&mut series.iter().map(of_one).collect::<Vec<_>>());
        Self { off_db: side(off), on_db: side(on) }
    }

    /// Whether noise that rose by so much wanders rather as the band alone would than as with steady noise on top,
    /// by which its motion shrinks as the band's share of the power does.
    pub fn is_the_bands(self, rise_db: f64) -> bool {
        let steadied = ratio_of_db(-rise_db.max(0.0));
        let as_the_band = (0.5 * (1.0 + steadied) * self.off_db..=APART * self.off_db).contains(&self.on_db);
        self.on_db > LEAST_DB && as_the_band
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
        assert!(Wander::of(&band(), &[louder]).is_the_bands(6.0));
        let device = series(&BAND.map(|level| in_db(ratio_of_db(level) + 3.0)));
        assert!(!Wander::of(&band(), &[device]).is_the_bands(6.0));
    }

    /// A band that rests leaves its motion to the device; so does one that moves far less. One burst is no motion.
    #[test]
    fn a_device_that_varies_over_a_band_at_rest_is_not_the_band() {
        let rest = || [series(&[0.0, 0.1, -0.1, 0.0, 0.1])];
        let varies = series(&BAND.map(|level| level + 9.0));
        assert!(!Wander::of(&rest(), &[varies]).is_the_bands(9.0));
        let burst = Wander::of(&rest(), &[series(&[6.0, 6.1, 12.0, 6.0, 6.1])]);
        assert!(!burst.is_the_bands(6.0));
        assert_abs_diff_eq!(burst.on_db, 0.1, epsilon = 1e-9);
    }
}
