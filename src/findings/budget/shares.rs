//! What each of several devices, switched one at a time, adds: shares of the added power, and how much quieter the
//! band would be without it; and whether devices recorded together add up. Not here: which comparisons count
//! (`select`).

use serde::{Deserialize, Serialize};

use crate::findings::draws::{DRAWS, Draws, estimate};
use crate::units::{Estimate, in_db, ratio_of_db};

/// Together and added up must differ by more than this besides the interval: below, nothing follows from it (our
/// own choice), dB.
const LEAST_DIFFERENCE_DB: f64 = 0.5;

/// One device's added power: noise and carriers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    /// Noise without carriers, on over off, dB with its 95 % interval.
    pub excess: Estimate,
    /// Power of its carriers over the off noise in the passband (ratio).
    pub carriers: f64,
    /// Standard deviation of the carriers' level, dB.
    pub carriers_sd_db: f64,
}

impl Contribution {
    /// Added power over the off noise; never below 0.
    fn added(&self) -> f64 {
        (ratio_of_db(self.excess.value) - 1.0).max(0.0) + self.carriers
    }

    fn drawn(&self, draws: &mut Draws) -> f64 {
        let noise = (ratio_of_db(draws.from(&self.excess)) - 1.0).max(0.0);
        noise + self.carriers * ratio_of_db(self.carriers_sd_db * draws.next())
    }
}

/// A device's part in all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Share of the power that all devices add, 0..1.
    pub share: Estimate,
    /// How much quieter the band would be without it, all others on, dB.
    pub without: Estimate,
}

/// Shares of the devices, in their order; intervals by seeded draws from those of the excesses, taken as
/// independent, which is a little too wide where they share their off recordings. `None` for fewer than two
/// devices, or where nothing was added at all.
pub fn shares(devices: &[Contribution]) -> Option<Vec<Share>> {
    let powers: Vec<f64> = devices.iter().map(Contribution::added).collect();
    let sum: f64 = powers.iter().sum();
    let finite = devices.iter().all(|d| d.excess.value.is_finite() && d.carriers.is_finite());
    if devices.len() < 2 || !finite || sum <= 0.0 {
        return None;
    }
    let mut draws = Draws::new();
    let mut drawn = vec![(Vec::with_capacity(DRAWS), Vec::with_capacity(DRAWS)); devices.len()];
    for _ in 0..DRAWS {
        let parts: Vec<f64> = devices.iter().map(|d| d.drawn(&mut draws)).collect();
        let sum: f64 = parts.iter().sum();
        for ((shares, withouts), part) in drawn.iter_mut().zip(parts) {
            shares.push(if sum > 0.0 { part / sum } else { 0.0 });
            withouts.push(without(sum, part));
        }
    }
    Some(
        powers
            .iter()
            .zip(&mut drawn)
            .map(|(&part, (shares, withouts))| Share {
                share: estimate(part / sum, shares),
                without: estimate(without(sum, part), withouts),
            })
            .collect(),
    )
}

/// Fall of the band's level when one part of the added power goes, dB; the off noise is 1.
fn without(sum: f64, part: f64) -> f64 {
    in_db((1.0 + sum) / (1.0 + sum - part).max(f64::MIN_POSITIVE))
}

/// How several devices together stand to each by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Balance {
    /// As the sum of their powers.
    AddsUp,
    /// Louder: some act only together, or one feeds the other.
    More,
    /// Quieter: one loads or shields another, or the receiver is overloaded.
    Less,
}

impl Balance {
    /// Of how much more was measured than added up, dB.
    pub(crate) fn of(difference: &Estimate) -> Self {
        match difference.ci95 {
            (low, _) if low > 0.0 && difference.value > LEAST_DIFFERENCE_DB => Self::More,
            (_, high) if high < 0.0 && difference.value < -LEAST_DIFFERENCE_DB => Self::Less,
            _ => Self::AddsUp,
        }
    }
}

/// Several devices on at once, held against each by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// What their powers add up to, all over off, dB.
    pub sum: Estimate,
    /// What was measured with all on, over off, dB.
    pub joint: Estimate,
    /// Measured over added up, dB.
    pub difference: Estimate,
    /// What that comes to.
    pub balance: Balance,
}

/// Holds a joint recording against the single ones. Independent devices add in power (uncorrelated noise).
pub fn balance(singles: &[Contribution], joint: &Contribution) -> Together {
    let level = |added: f64| in_db(1.0 + added);
    let mut draws = Draws::new();
    let (mut sums, mut joints, mut differences) = (vec![], vec![], vec![]);
    for _ in 0..DRAWS {
        let sum = level(singles.iter().map(|d| d.drawn(&mut draws)).sum());
        let all = level(joint.drawn(&mut draws));
        sums.push(sum);
        joints.push(all);
        differences.push(all - sum);
    }
    let sum = level(singles.iter().map(Contribution::added).sum());
    let all = level(joint.added());
    let difference = estimate(all - sum, &mut differences);
    let balance = Balance::of(&difference);
    Together { sum: estimate(sum, &mut sums), joint: estimate(all, &mut joints), difference, balance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn device(excess_db: f64, reach_db: f64) -> Contribution {
        Contribution { excess: Estimate::within(excess_db, reach_db), carriers: 0.0, carriers_sd_db: 0.0 }
    }

    /// Source: powers add (derived): 10 lg 4 and 10 lg 2 of excess are 3 and 1 times the off power: shares of 3/4
    /// and 1/4; with both on the band stands at 5, without the first at 2: 3.979 dB quieter, without the second
    /// 0.969.
    #[test]
    fn shares_are_of_power() {
        let found = shares(&[device(6.0206, 0.1), device(3.0103, 0.1)]).unwrap();
        assert_abs_diff_eq!(found[0].share.value, 0.75, epsilon = 1e-4);
        assert_abs_diff_eq!(found[0].without.value, 3.979, epsilon = 1e-3);
        assert_abs_diff_eq!(found[1].without.value, 0.969, epsilon = 1e-3);
        assert!(found.iter().all(|s| s.share.ci95.0 < s.share.value && s.share.value < s.share.ci95.1));
    }

    #[test]
    fn carriers_count_and_nothing_measurable_may_be_nothing() {
        let strip = Contribution { carriers: 3.0, carriers_sd_db: 0.3, ..device(0.0, 0.2) };
        let found = shares(&[strip, device(-0.1, 0.3)]).unwrap();
        assert_abs_diff_eq!(found[0].share.value, 1.0, epsilon = 1e-12);
        assert!(found[0].share.ci95.0 < 1.0 && found[1].share.ci95.1 > 0.0);
        assert_eq!(shares(&[device(3.0, 0.1)]), None);
        assert_eq!(shares(&[device(-1.0, 0.1), device(0.0, 0.1)]), None);
        assert_eq!(shares(&[device(f64::NAN, 0.1), device(1.0, 0.1)]), None);
    }

    /// Source: powers add (derived): 3 and 1 times the off power make 10 lg 5 = 6.990 dB together.
    #[test]
    fn devices_that_act_together_are_noticed() {
        let singles = [device(6.0206, 0.2), device(3.0103, 0.2)];
        let told = |joint_db| balance(&singles, &device(joint_db, 0.2));
        assert_abs_diff_eq!(told(7.0).sum.value, 6.990, epsilon = 1e-3);
        assert_eq!(told(7.0).balance, Balance::AddsUp);
        assert_eq!(told(9.0).balance, Balance::More);
        assert_eq!(told(5.0).balance, Balance::Less);
        assert_eq!(balance(&singles, &device(9.0, 4.0)).balance, Balance::AddsUp, "an interval that reaches 0");
    }
}
