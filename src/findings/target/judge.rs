//! Whether what is left meets what was aimed at: met, not met, or not decidable from these recordings.
//! Not here: which comparison is a device's last (`devices`), sentences (`words`).

use serde::{Deserialize, Serialize};

use crate::units::{Estimate, ratio_of_db};

/// A carrier's strength over the noise scatters by about this much from take to take, dB (our own choice: at the
/// weakest that are found, some 10 dB over the noise in 1 Hz for ten seconds, its deviation is under 1 dB).
pub const CARRIER_SCATTER_DB: f64 = 1.0;

/// How a target stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Outcome {
    /// Surely reached.
    #[serde(rename = "met")]
    Met,
    /// The interval holds both.
    #[serde(rename = "can't be told")]
    CantTell,
    /// Surely not reached.
    #[serde(rename = "not met")]
    NotMet,
}

impl Outcome {
    /// Its word in JSON and in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::CantTell => "can't be told",
            Self::NotMet => "not met",
        }
    }

    /// Of all conditions together: one that is not met decides, then one that can't be told. `None` of none.
    pub fn of_all(outcomes: impl IntoIterator<Item = Self>) -> Option<Self> {
        outcomes.into_iter().max()
    }
}

/// An excess against the largest allowed, dB.
pub fn excess(left: Estimate, most_db: f64) -> Outcome {
    let (low, high) = left.ci95;
    if high <= most_db {
        Outcome::Met
    } else if low > most_db {
        Outcome::NotMet
    } else {
        Outcome::CantTell
    }
}

/// The strongest carrier found (dB over the noise in 1 Hz; `None`: none was) against the strongest allowed.
pub fn carrier(strongest_db_hz: Option<f64>, most_db_hz: f64) -> Outcome {
    let Some(strongest) = strongest_db_hz else { return Outcome::Met };
    let ci95 = (strongest - CARRIER_SCATTER_DB, strongest + CARRIER_SCATTER_DB);
    excess(Estimate { value: strongest, ci95 }, most_db_hz)
}

/// Whether no carrier stands above the floor.
pub fn no_carrier(found: usize) -> Outcome {
    if found == 0 { Outcome::Met } else { Outcome::NotMet }
}

/// What is left of a device, as its share over the off noise (a ratio of powers; 1 doubles the noise).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// By noise and clicks.
    pub noise: f64,
    /// By carriers.
    pub carriers: f64,
}

impl Left {
    /// From the excess of the noise and of everything, dB: powers are taken from powers.
    pub fn of(excess_db: f64, total_excess_db: f64) -> Self {
        Self {
            noise: (ratio_of_db(excess_db) - 1.0).max(0.0),
            carriers: (ratio_of_db(total_excess_db) - ratio_of_db(excess_db)).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_whole_interval_must_lie_on_one_side() {
        let left = |low: f64, high: f64| Estimate { value: (low + high) / 2.0, ci95: (low, high) };
        assert_eq!(excess(left(0.2, 0.9), 1.0), Outcome::Met);
        assert_eq!(excess(left(-0.2, 1.0), 1.0), Outcome::Met);
        assert_eq!(excess(left(0.8, 1.4), 1.0), Outcome::CantTell);
        assert_eq!(excess(left(1.9, 2.1), 1.0), Outcome::NotMet);
        assert_eq!(excess(Estimate { value: f64::NAN, ci95: (f64::NAN, f64::NAN) }, 1.0), Outcome::CantTell);
    }

    #[test]
    fn carriers_against_their_limit() {
        assert_eq!(carrier(None, 20.0), Outcome::Met);
        assert_eq!(carrier(Some(18.9), 20.0), Outcome::Met);
        assert_eq!(carrier(Some(20.4), 20.0), Outcome::CantTell);
        assert_eq!(carrier(Some(26.4), 20.0), Outcome::NotMet);
        assert_eq!((no_carrier(0), no_carrier(2)), (Outcome::Met, Outcome::NotMet));
    }

    #[test]
    fn the_worst_condition_decides() {
        use Outcome::{CantTell, Met, NotMet};
        assert_eq!(Outcome::of_all([Met, CantTell]), Some(CantTell));
        assert_eq!(Outcome::of_all([Met, NotMet, CantTell]), Some(NotMet));
        assert_eq!(Outcome::of_all([Met, Met]), Some(Met));
        assert_eq!(Outcome::of_all([]), None);
    }

    /// By sums of powers: noise 3.01 dB up is once the off noise more; 6.02 dB in all are two parts more by
    /// carriers.
    #[test]
    fn what_is_left_by_noise_and_by_carriers() {
        let left = Left::of(3.0103, 6.0206);
        assert_abs_diff_eq!(left.noise, 1.0, epsilon = 1e-4);
        assert_abs_diff_eq!(left.carriers, 2.0, epsilon = 1e-4);
        assert_eq!(Left::of(-0.2, -0.2), Left { noise: 0.0, carriers: 0.0 });
    }
}
