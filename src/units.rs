//! Levels and their differences, so that one cannot be taken for the other; S-units; conversions.
//!
//! A level minus a level is a [`Db`]; levels are never added: their powers are ([`Dbfs::from_mean_square`]).
//! Frequencies and times stay bare `f64` with the unit in the name (`freq_hz`, `duration_s`).

use std::fmt;
use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

/// A ratio of two powers in dB.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Db(pub f64);

/// A level in dB re the RMS of a full-scale sine (AES17-2015, 3.12): 10·log10(2·mean(x²)), x in −1..1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Dbfs(pub f64);

/// A power density: [`Dbfs`] in one hertz of bandwidth.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct DbfsPerHz(pub f64);

/// A ratio of two powers in dB; −∞ for 0, NaN below.
pub fn in_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// The ratio of powers that so many dB stand for.
pub fn ratio_of_db(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

impl Db {
    /// The ratio of two powers; −∞ where the first is 0, NaN where both are.
    pub fn from_ratio(ratio: f64) -> Self {
        Self(in_db(ratio))
    }

    /// The ratio of powers this many dB stand for.
    pub fn ratio(self) -> f64 {
        ratio_of_db(self.0)
    }
}

impl Dbfs {
    /// The level of a signal whose mean square is `mean_square` (full scale is 1).
    pub fn from_mean_square(mean_square: f64) -> Self {
        Self(in_db(2.0 * mean_square))
    }

    /// The mean square of a signal at this level.
    pub fn mean_square(self) -> f64 {
        ratio_of_db(self.0) / 2.0
    }
}

impl DbfsPerHz {
    /// The density level of a one-sided power density in FS²/Hz.
    pub fn from_density(density: f64) -> Self {
        Self(in_db(2.0 * density))
    }

    /// The level of this density over a bandwidth.
    pub fn over(self, bandwidth_hz: f64) -> Dbfs {
        Dbfs(self.0 + in_db(bandwidth_hz))
    }
}

impl Sub for Dbfs {
    type Output = Db;
    fn sub(self, floor: Self) -> Db {
        Db(self.0 - floor.0)
    }
}

impl Sub for DbfsPerHz {
    type Output = Db;
    fn sub(self, floor: Self) -> Db {
        Db(self.0 - floor.0)
    }
}

impl Add<Db> for Dbfs {
    type Output = Dbfs;
    fn add(self, change: Db) -> Dbfs {
        Dbfs(self.0 + change.0)
    }
}

impl fmt::Display for Db {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} dB", self.0)
    }
}

impl fmt::Display for Dbfs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} dBFS", self.0)
    }
}

/// Half of a 95 % interval in standard deviations. Mathematics: the normal distribution's quantile at 97.5 %.
pub const SIGMAS_OF_95: f64 = 1.96;

/// A value and the interval that holds the truth in 95 % of such measurements.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Lower and upper end of the 95 % interval.
    pub ci95: (f64, f64),
}

impl Estimate {
    /// A value whose 95 % interval reaches so far to each side.
    pub fn within(value: f64, reach: f64) -> Self {
        Self { value, ci95: (value - reach, value + reach) }
    }

    /// The interval as the JSON has it: lower and upper end.
    pub fn ends(self) -> [f64; 2] {
        [self.ci95.0, self.ci95.1]
    }
}

/// The bandwidth in which the trade states the signal-to-noise ratio of weak-signal modes. Common practice:
/// weak-signal modes' programs state it so.
pub const REFERENCE_BANDWIDTH_HZ: f64 = 2500.0;

/// The S-meter reading of a power at the receiver's input, in S-units, fractional.
///
/// Source: IARU Region 1 Technical Recommendation R.1: 6 dB a unit, S9 = −73 dBm below 30 MHz, −93 dBm above.
/// Above S9 the unit is still counted as 6 dB here; [`s_reading`] writes it the usual way.
pub fn s_units(dbm: f64, freq_hz: f64) -> f64 {
    let s9 = if freq_hz < 30e6 { -73.0 } else { -93.0 };
    9.0 + (dbm - s9) / 6.0
}

/// An S-meter reading as it is spoken: "S7", "S9+20 dB".
pub fn s_reading(dbm: f64, freq_hz: f64) -> String {
    let s = s_units(dbm, freq_hz);
    if s <= 9.0 { format!("S{:.0}", s.max(0.0)) } else { format!("S9+{:.0} dB", (s - 9.0) * 6.0) }
}

/// The power that an S-meter reading as it is written down ("S7", "s 9 + 20 dB") stands for, dBm; `None` for
/// anything else. Source as for [`s_units`].
pub fn dbm_of_reading(reading: &str, freq_hz: f64) -> Option<f64> {
    let plain: String = reading.to_ascii_lowercase().chars().filter(|c| !c.is_whitespace()).collect();
    let (units, over): (f64, f64) = match plain.strip_prefix('s')?.split_once('+') {
        Some((units, over)) => (units.parse().ok()?, over.trim_end_matches("db").parse().ok()?),
        None => (plain.strip_prefix('s')?.parse().ok()?, 0.0),
    };
    let sane = (0.0..=9.0).contains(&units) && (0.0..=80.0).contains(&over) && (over == 0.0 || units == 9.0);
    let s9 = if freq_hz < 30e6 { -73.0 } else { -93.0 };
    sane.then_some(s9 + 6.0 * (units - 9.0) + over)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: AES17-2015, 3.12 (0 dBFS is the RMS of a full-scale sine). Tolerance: a tenth of the last digit
    /// printed.
    #[test]
    fn levels_follow_aes17() {
        assert_abs_diff_eq!(Dbfs::from_mean_square(0.5).0, 0.0, epsilon = 0.001);
        assert_abs_diff_eq!(Dbfs::from_mean_square(1.0).0, 3.010, epsilon = 0.001);
        assert_abs_diff_eq!(Dbfs::from_mean_square(0.125).0, -6.021, epsilon = 0.001);
        assert_abs_diff_eq!(Dbfs::from_mean_square(0.01).0, -16.990, epsilon = 0.001);
        assert_abs_diff_eq!(Dbfs(-12.3).mean_square(), 0.029_442, epsilon = 1e-6);
    }

    /// Source: IARU Region 1 Technical Recommendation R.1 (Region 1 handbook v9.0, 2018, 4.1.3).
    #[test]
    fn s_units_follow_iaru_r1() {
        for (dbm, freq_hz, reading) in [
            (-73.0, 14e6, "S9"),
            (-79.0, 14e6, "S8"),
            (-121.0, 7e6, "S1"),
            (-53.0, 3.5e6, "S9+20 dB"),
            (-13.0, 29.9e6, "S9+60 dB"),
            (-93.0, 30.1e6, "S9"),
            (-141.0, 145e6, "S1"),
        ] {
            assert_eq!(s_reading(dbm, freq_hz), reading, "{dbm} dBm at {freq_hz} Hz");
            assert_eq!(dbm_of_reading(reading, freq_hz), Some(dbm), "{reading} at {freq_hz} Hz");
        }
    }

    #[test]
    fn what_is_no_reading_is_not_read() {
        assert_eq!(dbm_of_reading(" s 9 + 20 dB", 7e6), Some(-53.0));
        for text in ["", "S", "7", "S12", "S7+10", "S-1", "Snan", "S9+inf", "about S7"] {
            assert_eq!(dbm_of_reading(text, 7e6), None, "{text}");
        }
    }
}
