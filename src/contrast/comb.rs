//! Do some lines form a family at one spacing? Found only where chance would hardly fit them as well.

use serde::{Deserialize, Serialize};

/// Spacings looked for. Chosen: from half the mains frequency, below which lines are not told apart, to half an SSB
/// passband, in which three members must fit.
const SPACING_HZ: std::ops::RangeInclusive<f64> = 25.0..=1500.0;
/// Furthest a member may lie from its place. Chosen: a third of a bin, for lines that drift within the recording.
const TOLERANCE_HZ: f64 = 2.0;
/// The fit is never taken to be better than this when chance is reckoned. Chosen: some fortieth of a bin, to which
/// even a line that can hardly be told from noise is found (the bound of D. C. Rife and R. R. Boorstyn, IEEE Trans.
/// IT-20, 1974, is a hundredth of a Hz at 10 dB-Hz and 6 s).
pub(crate) const LEAST_RESIDUAL_HZ: f64 = 0.15;
/// Members that two neighbours may have between them missing. Chosen: odd families and such with weak members are
/// found; with more, chance finds families everywhere.
const MOST_MISSING: usize = 8;
/// Chance at which a family is called. Common practice: one in a hundred.
pub(super) const CALLED_BELOW: f64 = 0.01;
/// Chance at which it is worth a word that the lines may be one. Chosen: one in five; it costs a sentence and some
/// confidence.
const POSSIBLE_BELOW: f64 = 0.2;

/// A family of lines: frequency = offset + n · spacing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comb {
    /// Distance of neighbours.
    pub spacing_hz: f64,
    /// Frequency of the member below one spacing.
    pub offset_hz: f64,
    /// Indices of the lines that belong.
    pub members: Vec<usize>,
    /// Probability that so many random lines would fit as well.
    pub chance: f64,
}

/// The family that chance explains worst among `frequencies_hz` (any order). `None` for fewer than three lines or
/// where chance would do as well.
pub fn find_comb(frequencies_hz: &[f64]) -> Option<Comb> {
    best_comb(frequencies_hz).filter(|comb| comb.chance < CALLED_BELOW)
}

/// A family that these lines may be, but chance can't be ruled out. `None` where there is one for certain.
pub fn possible_comb(frequencies_hz: &[f64]) -> Option<Comb> {
    best_comb(frequencies_hz).filter(|comb| (CALLED_BELOW..POSSIBLE_BELOW).contains(&comb.chance))
}

/// Of spacings that explain the same lines the largest wins, since every submultiple explains them too.
fn best_comb(frequencies_hz: &[f64]) -> Option<Comb> {
    let mut tried = 0usize;
    let mut best: Option<Comb> = None;
    for (i, &a) in frequencies_hz.iter().enumerate() {
        for &b in &frequencies_hz[i + 1..] {
            for steps in 1..=MOST_MISSING + 1 {
                let spacing = (a - b).abs() / steps as f64;
                if !SPACING_HZ.contains(&spacing) {
                    continue;
                }
                tried += 1;
                let Some(comb) = fit(frequencies_hz, a, spacing) else { continue };
                let better = best.as_ref().is_none_or(|old| {
                    comb.chance < old.chance * 0.999
                        || (comb.members == old.members && comb.spacing_hz > old.spacing_hz * 1.01)
                });
                if better {
                    best = Some(comb);
                }
            }
        }
    }
    best.map(|comb| Comb { chance: (comb.chance * tried as f64).min(1.0), ..comb })
}

/// Members of the family through `anchor` with about this spacing, fitted by regression on their numbers.
fn fit(frequencies: &[f64], anchor: f64, spacing: f64) -> Option<Comb> {
    let (mut offset, mut spacing) = (anchor, spacing);
    let mut members = Vec::new();
    for _ in 0..3 {
        members.clear();
        for (index, &freq) in frequencies.iter().enumerate() {
            let number = ((freq - offset) / spacing).round();
            if (freq - offset - number * spacing).abs() <= TOLERANCE_HZ {
                members.push((index, number, freq));
            }
        }
        if members.len() < 3 {
            return None;
        }
        let n = members.len() as f64;
        let mean_number = members.iter().map(|m| m.1).sum::<f64>() / n;
        let mean_freq = members.iter().map(|m| m.2).sum::<f64>() / n;
        let spread: f64 = members.iter().map(|m| (m.1 - mean_number).powi(2)).sum();
        if spread == 0.0 {
            return None;
        }
        spacing = members.iter().map(|m| (m.1 - mean_number) * (m.2 - mean_freq)).sum::<f64>() / spread;
        offset = mean_freq - mean_number * spacing;
    }
    if !SPACING_HZ.contains(&spacing) {
        return None;
    }
    let worst = members.iter().map(|m| (m.2 - offset - m.1 * spacing).abs()).fold(0.0, f64::max);
    let window = 2.0 * worst.max(LEAST_RESIDUAL_HZ);
    // Two lines always fit. Each further member had to fall into the window by chance, and any choice of that many
    // among the lines would have done.
    let chance = (window / spacing).min(1.0).powi(members.len() as i32 - 2)
        * binomial(frequencies.len() - 2, members.len() - 2);
    Some(Comb {
        spacing_hz: spacing,
        offset_hz: offset.rem_euclid(spacing),
        members: members.iter().map(|m| m.0).collect(),
        chance,
    })
}

fn binomial(n: usize, k: usize) -> f64 {
    (0..k.min(n)).map(|i| (n - i) as f64 / (i + 1) as f64).product()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Offset 40 Hz, spacing 173.3 Hz, harmonics 2, 3, 5, 8, 11, 13: the reference signal `comb`, whose published
    /// method is the regression of N. Sidiropoulos et al., IEEE TSP 53(2), 2005 (from memory).
    fn reference() -> Vec<f64> {
        [2.0, 3.0, 5.0, 8.0, 11.0, 13.0].iter().map(|k| 40.0 + 173.3 * k).collect()
    }

    #[test]
    fn a_family_with_missing_members_is_found_with_its_spacing_not_a_part_of_it() {
        let comb = find_comb(&reference()).unwrap();
        assert_abs_diff_eq!(comb.spacing_hz, 173.3, epsilon = 0.01);
        assert_abs_diff_eq!(comb.offset_hz, 40.0, epsilon = 0.05);
        assert_eq!(comb.members.len(), 6);
    }

    #[test]
    fn outsiders_are_left_out() {
        let mut lines = reference();
        lines.extend([700.7, 1811.1]);
        let comb = find_comb(&lines).unwrap();
        assert_abs_diff_eq!(comb.spacing_hz, 173.3, epsilon = 0.01);
        assert_eq!(comb.members, [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn few_or_random_lines_are_no_family() {
        assert_eq!(find_comb(&[]), None);
        assert_eq!(find_comb(&[500.0, 700.0]), None);
        assert_eq!(find_comb(&[431.7, 802.4, 1296.9, 2011.3]), None);
        assert_eq!(find_comb(&[500.0, 500.0, 500.0]), None);
    }

    /// Three lines at 2 and 1 spacings of 82.2 Hz within a 500 Hz filter: chance does so now and then.
    #[test]
    fn three_lines_that_fit_are_a_possible_family() {
        let lines = [557.1, 721.5, 803.7];
        assert_eq!(find_comb(&lines), None);
        assert_abs_diff_eq!(possible_comb(&lines).unwrap().spacing_hz, 82.2, epsilon = 0.1);
        assert_eq!(possible_comb(&reference()), None, "that one is certain");
        assert_eq!(possible_comb(&[431.7, 802.4, 1296.9, 2011.3]), None);
    }

    /// Four members every 65.3 Hz and a stranger: their chance is that of the window they fit, over all tries.
    #[test]
    fn a_family_is_told_beside_a_stranger() {
        let comb = find_comb(&[560.0, 690.6, 755.9, 821.2, 652.3]).unwrap();
        assert_abs_diff_eq!(comb.spacing_hz, 65.3, epsilon = 0.01);
        assert_eq!(comb.members, [0, 1, 2, 3]);
    }
}
