//! Broadband hash: steady Gaussian noise over the whole passband; flat, sloping or humped.

use super::gauss::Gauss;
use super::passband::{Grid, Receiver, shape_spectrum};
use super::source::{Antenna, Source};

/// Broadband hash.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hash {
    slope_db_per_khz: f64,
    humps: Vec<Hump>,
}

/// A rise of the density around one frequency: Gaussian in dB over frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Hump {
    centre_hz: f64,
    width_hz: f64,
    height_db: f64,
}

impl Hash {
    /// The same density everywhere.
    pub fn flat() -> Self {
        Self::default()
    }

    /// Density rising by this many dB per kHz of audio frequency (falling where negative).
    pub fn sloping(db_per_khz: f64) -> Self {
        Self { slope_db_per_khz: db_per_khz, humps: Vec::new() }
    }

    /// The same with a hump: `height_db` at `centre_hz`, half that many dB `width_hz`/2 away.
    pub fn humped(mut self, centre_hz: f64, width_hz: f64, height_db: f64) -> Self {
        self.humps.push(Hump { centre_hz, width_hz, height_db });
        self
    }

    /// Amplitude response that turns white noise into this hash.
    pub fn shape(&self, freq_hz: f64) -> f64 {
        let humps_db: f64 = self.humps.iter().map(|h| h.db(freq_hz)).sum();
        10f64.powf((self.slope_db_per_khz * freq_hz / 1000.0 + humps_db) / 20.0)
    }
}

impl Hump {
    fn db(&self, freq_hz: f64) -> f64 {
        let half_widths = (freq_hz - self.centre_hz) / (self.width_hz / 2.0);
        self.height_db * 2f64.powf(-half_widths * half_widths)
    }
}

impl Source for Hash {
    fn at_antenna(&self, grid: &Grid, receiver: &Receiver, seed: u64, part: &str) -> Antenna {
        let white = Gauss::new(seed, part).white(grid.len);
        let wave = shape_spectrum(&white, grid.rate_hz, |f| self.shape(f));
        Antenna { expected: Some(receiver.noise_gain(|f| self.shape(f))), ..Antenna::plain(wave) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::mean_square;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    #[test]
    fn shapes_say_what_their_words_say() {
        let db = |hash: &Hash, f: f64| 20.0 * hash.shape(f).log10();
        assert_abs_diff_eq!(db(&Hash::flat(), 1234.0), 0.0);
        let sloping = Hash::sloping(-4.0);
        assert_abs_diff_eq!(db(&sloping, 2500.0) - db(&sloping, 500.0), -8.0, epsilon = 1e-9);
        let humped = Hash::flat().humped(1200.0, 400.0, 10.0);
        assert_abs_diff_eq!(db(&humped, 1200.0), 10.0, epsilon = 1e-9);
        assert_abs_diff_eq!(db(&humped, 1400.0), 5.0, epsilon = 1e-9);
    }

    /// The ensemble power against a long realisation; four standard errors of 2BT values, B the narrower width of
    /// the hump.
    #[test]
    fn expected_power_is_that_of_a_long_take() {
        let receiver = Receiver::ssb(8000);
        let grid = Grid::new(8000, 60.0);
        for hash in [Hash::flat(), Hash::sloping(-4.0), Hash::flat().humped(1200.0, 400.0, 10.0)] {
            let antenna = hash.at_antenna(&grid, &receiver, 3, "hash");
            let measured = mean_square(grid.cut(&receiver.filter(&antenna.wave)));
            let expected = antenna.expected.unwrap();
            assert_relative_eq!(measured, expected, max_relative = 4.0 / (400.0f64 * 60.0).sqrt());
        }
    }
}
