//! The man-made noise that Recommendation ITU-R P.372 publishes, and how a measured power stands against it.
//! Not here: which level is the station's (`station`), sentences (`words`).
//!
//! Source: Recommendation ITU-R P.372, part on man-made noise, tables of c, d and of decile deviations. The
//! constants are the same from edition -8 to -17 (08/2024); seen in published code annotated as checked against
//! P.372-17. That the column "location" is a decile both ways, and that the two deciles join as root of the sum of
//! squares, is from memory.

use serde::{Deserialize, Serialize};

use crate::labels::Antenna;
use crate::units::{Estimate, in_db};

/// Thermal noise density at 290 K as the Recommendation has it, dBm in 1 Hz: Pn = Fa + B − 204 dBW. By physics it
/// is −173.975; figures held against the Recommendation's keep to its own relation. Source: Recommendation ITU-R
/// P.372.
pub const THERMAL_DBM_PER_HZ: f64 = -174.0;

/// A place as the Recommendation divides them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Category {
    /// Curve A.
    City,
    /// Curve B.
    Residential,
    /// Curve C.
    Rural,
    /// Curve D.
    #[serde(rename = "quiet rural")]
    QuietRural,
}

/// One row of the tables.
struct Row {
    c: f64,
    d: f64,
    time_upper: f64,
    time_lower: f64,
    location: f64,
}

impl Category {
    /// From loud to quiet.
    pub const ALL: [Self; 4] = [Self::City, Self::Residential, Self::Rural, Self::QuietRural];

    /// Its word in JSON and in sentences ("city places").
    pub fn word(self) -> &'static str {
        match self {
            Self::City => "city",
            Self::Residential => "residential",
            Self::Rural => "rural",
            Self::QuietRural => "quiet rural",
        }
    }

    fn row(self) -> Row {
        let row = |c, d, time_upper, time_lower, location| Row { c, d, time_upper, time_lower, location };
        match self {
            Self::City => row(76.8, 27.7, 11.0, 6.7, 8.4),
            Self::Residential => row(72.5, 27.7, 10.6, 5.3, 5.8),
            Self::Rural => row(67.2, 27.7, 9.2, 4.6, 6.8),
            // The table gives no deciles for quiet rural places; code published by ITU-R takes the rural ones.
            Self::QuietRural => row(53.6, 28.6, 9.2, 4.6, 6.8),
        }
    }

    /// Whether the table itself gives its spread; else the rural one is borrowed.
    pub fn has_own_spread(self) -> bool {
        self != Self::QuietRural
    }

    /// Median external noise figure Fam = c − d·lg f, dB over k·T₀·b, for a short lossless vertical monopole over
    /// ground. `None` outside 0.3 to 250 MHz; for quiet rural places outside 0.3 to 30 MHz, as its curve ends there
    /// (from memory).
    pub fn median_db(self, freq_mhz: f64) -> Option<f64> {
        let top = if self == Self::QuietRural { 30.0 } else { 250.0 };
        let row = self.row();
        (0.3..=top).contains(&freq_mhz).then(|| row.c - row.d * freq_mhz.log10())
    }

    /// Upper and lower decile deviation in time, dB, both positive.
    pub fn time_deciles_db(self) -> (f64, f64) {
        (self.row().time_upper, self.row().time_lower)
    }

    /// Decile deviation from place to place, dB.
    pub fn location_decile_db(self) -> f64 {
        self.row().location
    }

    /// Upper and lower decile deviation of time and place together, dB, both positive: eight of ten such places and
    /// times lie between.
    pub fn deciles_db(self) -> (f64, f64) {
        let row = self.row();
        (row.time_upper.hypot(row.location), row.time_lower.hypot(row.location))
    }

    /// The category whose median lies nearest.
    pub fn nearest(noise_figure_db: f64, freq_mhz: f64) -> Option<Self> {
        let apart = |category: &Self| category.median_db(freq_mhz).map(|m| (noise_figure_db - m).abs());
        let known = Self::ALL.into_iter().filter_map(|category| Some((category, apart(&category)?)));
        known.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(category, _)| category)
    }
}

/// External noise figure of a noise density at the receiver's input, dB over k·T₀·b:
/// Fa = P − 10·lg b − 10·lg(k·T₀) + losses between antenna and receiver.
pub fn noise_figure_db(dbm_per_hz: f64, loss_db: f64) -> f64 {
    dbm_per_hz - THERMAL_DBM_PER_HZ + loss_db
}

/// The power an external noise figure stands for in a bandwidth, dBm.
pub fn noise_dbm(noise_figure_db: f64, bandwidth_hz: f64) -> f64 {
    noise_figure_db + THERMAL_DBM_PER_HZ + in_db(bandwidth_hz)
}

/// What to add to a noise figure of this antenna to have that of the short vertical in the same field, dB.
///
/// From the Recommendation's relations for the field strength, En = Fa + 20·lg f + B − 95.5 dB(µV/m) for the short
/// vertical and −98.9 for a half-wave dipole in free space. Over ground, or of another polarisation, a dipole
/// differs from that; for other antennas nothing is known.
pub fn to_short_vertical_db(antenna: Antenna) -> f64 {
    match antenna {
        Antenna::HalfWaveDipole => 95.5 - 98.9,
        Antenna::ShortVertical | Antenna::Other => 0.0,
    }
}

/// Where a level stands in a category's spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Below the lower decile with all of its interval.
    Below,
    /// Between the deciles with all of its interval.
    Within,
    /// Above the upper decile with all of its interval.
    Above,
    /// The interval crosses a decile.
    Borderline,
}

impl Standing {
    /// `over_median`: dB over the category's median with its interval.
    pub fn of(over_median: Estimate, category: Category) -> Self {
        let (upper, lower) = category.deciles_db();
        let (low, high) = over_median.ci95;
        if low > upper {
            Self::Above
        } else if high < -lower {
            Self::Below
        } else if low >= -lower && high <= upper {
            Self::Within
        } else {
            Self::Borderline
        }
    }

    /// Its word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Within => "within",
            Self::Above => "above",
            Self::Borderline => "borderline",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: Recommendation ITU-R P.372, Fam = c − d·lg f with its table's c and d; worked values by hand (Fam in
    /// dB, power in 2500 Hz in dBm), by its Pn = Fa + B − 204 dBW. Tolerance: the last printed digit.
    #[test]
    fn medians_and_powers_of_the_recommendation() {
        use Category::{City, QuietRural, Residential, Rural};
        for (freq_mhz, category, fam, dbm) in [
            (3.5, City, 61.73, -78.29),
            (3.5, Residential, 57.43, -82.59),
            (3.5, Rural, 52.13, -87.89),
            (3.5, QuietRural, 38.04, -101.98),
            (7.0, City, 53.39, -86.63),
            (7.0, Residential, 49.09, -90.93),
            (7.0, Rural, 43.79, -96.23),
            (7.0, QuietRural, 29.43, -110.59),
            (14.0, City, 45.05, -94.97),
            (14.0, Residential, 40.75, -99.27),
            (14.0, Rural, 35.45, -104.57),
            (14.0, QuietRural, 20.82, -119.20),
            (21.0, City, 40.17, -99.85),
            (21.0, Residential, 35.87, -104.15),
            (21.0, Rural, 30.57, -109.45),
            (21.0, QuietRural, 15.78, -124.24),
            (28.0, City, 36.71, -103.31),
            (28.0, Residential, 32.41, -107.61),
            (28.0, Rural, 27.11, -112.91),
            (28.0, QuietRural, 12.21, -127.81),
            (14.1, Residential, 40.67, -99.35),
        ] {
            let median = category.median_db(freq_mhz).unwrap();
            assert_abs_diff_eq!(median, fam, epsilon = 0.006);
            assert_abs_diff_eq!(noise_dbm(median, 2500.0), dbm, epsilon = 0.01);
        }
    }

    /// Source: k = 1.380649e-23 J/K (SI), T₀ = 290 K: −173.975 dBm in 1 Hz, which the Recommendation writes as
    /// −204 dBW. Tolerance: that rounding. 2400 Hz then hold −140.2 dBm, 500 Hz −147.0 dBm (last printed digit).
    #[test]
    fn thermal_noise() {
        assert_abs_diff_eq!(10.0 * (1.380_649e-23f64 * 290.0 / 1e-3).log10(), THERMAL_DBM_PER_HZ, epsilon = 0.026);
        assert_abs_diff_eq!(noise_dbm(0.0, 2400.0), -140.2, epsilon = 0.05);
        assert_abs_diff_eq!(noise_dbm(0.0, 500.0), -147.0, epsilon = 0.05);
        // −120 dBm in 2500 Hz: −120 + 174 − 33.979, and 1.5 dB of losses.
        assert_abs_diff_eq!(noise_figure_db(-120.0 - 10.0 * 2500f64.log10(), 1.5), 21.521, epsilon = 0.001);
    }

    /// Source: a second opinion on the same curves, CCIR Report 258 as quoted in 2001: −110.4, −114.7 and −120.0
    /// dBm in 1 Hz at 3 MHz for city, residential and rural places. Tolerance: the last printed digit.
    #[test]
    fn an_older_edition_agrees() {
        for (category, dbm) in
            [(Category::City, -110.4), (Category::Residential, -114.7), (Category::Rural, -120.0)]
        {
            assert_abs_diff_eq!(noise_dbm(category.median_db(3.0).unwrap(), 1.0), dbm, epsilon = 0.06);
        }
    }

    /// Source: field strengths of residential noise for the short vertical in 2500 Hz, dB(µV/m), worked from
    /// En = Fa + 20·lg f + B − 95.5; the dipole's relation has −98.9 in its place.
    #[test]
    fn a_dipole_in_the_same_field() {
        for (freq_mhz, en) in [(3.5, 6.79), (7.0, 4.47), (14.0, 2.15), (21.0, 0.80), (28.0, -0.16)] {
            let vertical = Category::Residential.median_db(freq_mhz).unwrap();
            let field =
                |fa: f64, constant: f64| fa + 20.0 * f64::log10(freq_mhz) + 10.0 * 2500f64.log10() + constant;
            assert_abs_diff_eq!(field(vertical, -95.5), en, epsilon = 0.01);
            let dipole = en - field(0.0, -98.9);
            assert_abs_diff_eq!(dipole + to_short_vertical_db(Antenna::HalfWaveDipole), vertical, epsilon = 0.01);
        }
    }

    #[test]
    fn outside_its_range_nothing_is_said() {
        assert_eq!(Category::City.median_db(0.29), None);
        assert_eq!(Category::City.median_db(251.0), None);
        assert_eq!(Category::QuietRural.median_db(31.0), None);
        assert_eq!(Category::Rural.median_db(f64::NAN), None);
        assert_eq!(Category::nearest(40.0, 0.1), None);
    }

    /// Source: decile deviations of the Recommendation's table: residential 10.6 and 5.3 dB in time, 5.8 dB in
    /// place.
    #[test]
    fn the_spread_decides_how_a_level_stands() {
        let (upper, lower) = Category::Residential.deciles_db();
        assert_abs_diff_eq!(upper, 12.08, epsilon = 0.01);
        assert_abs_diff_eq!(lower, 7.86, epsilon = 0.01);
        for (value, standing) in [
            (6.0, Standing::Within),
            (-3.0, Standing::Within),
            (11.0, Standing::Borderline),
            (15.2, Standing::Above),
            (-6.0, Standing::Borderline),
            (-11.0, Standing::Below),
        ] {
            assert_eq!(Standing::of(Estimate::within(value, 3.0), Category::Residential), standing, "{value}");
        }
        assert_eq!(Category::nearest(42.0, 14.1), Some(Category::Residential));
        assert_eq!(Category::nearest(10.0, 14.1), Some(Category::QuietRural));
    }
}
