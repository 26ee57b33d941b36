//! Which of a night's rises belongs to which fall: all of them decided together, for a fall that fits one rise well
//! may fit another better.
//!
//! Not here: whether a pair can belong together at all, and at what cost (`episodes`).

/// A rise and a fall that may belong together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Candidate {
    pub rise: usize,
    pub fall: usize,
    /// What is gained by pairing them over leaving both alone; above 0.
    pub gain: f64,
}

/// For each rise its fall, so that the gains sum to the most; a rise or fall belongs to one pair at most.
///
/// Pairs are added one at a time along the alternating path that gains most, until none gains anything (successive
/// augmentation; common practice for weighted bipartite matching). Time grows with pairs × jumps × candidates.
pub(crate) fn best_pairs(rises: usize, falls: usize, candidates: &[Candidate]) -> Vec<Option<usize>> {
    let mut of_rise: Vec<Option<usize>> = vec![None; rises];
    let mut of_fall: Vec<Option<usize>> = vec![None; falls];
    loop {
        // The most gained by a path that begins at a free rise and ends at this fall; and the last candidate on it.
        let mut gained: Vec<f64> = vec![f64::NEG_INFINITY; falls];
        let mut by: Vec<Option<usize>> = vec![None; falls];
        loop {
            let mut is_better = false;
            for (at, one) in candidates.iter().enumerate() {
                let so_far = match of_rise[one.rise] {
                    None => 0.0,
                    Some(own) if candidates[own].fall == one.fall => continue,
                    // The path comes to this rise by taking its fall from it.
                    Some(own) => gained[candidates[own].fall] - candidates[own].gain,
                };
                if so_far + one.gain > gained[one.fall] + LEAST_GAIN {
                    gained[one.fall] = so_far + one.gain;
                    by[one.fall] = Some(at);
                    is_better = true;
                }
            }
            if !is_better {
                break;
            }
        }
        // It ends at a free fall.
        let free = (0..falls).filter(|&fall| of_fall[fall].is_none());
        let best = free.max_by(|&a, &b| gained[a].total_cmp(&gained[b])).filter(|&fall| gained[fall] > LEAST_GAIN);
        let Some(mut fall) = best else { break };
        // Backwards along the path, each rise takes its new fall; the one before takes that which it had.
        while let Some(at) = by[fall] {
            let rise = candidates[at].rise;
            let before = of_rise[rise].replace(at);
            of_fall[fall] = Some(rise);
            let Some(before) = before else { break };
            fall = candidates[before].fall;
        }
    }
    of_rise.into_iter().map(|at| at.map(|at| candidates[at].fall)).collect()
}

/// Gains that differ by less are equal: sums of rounded numbers must not go round in circles. Chosen: far above
/// rounding, far below any real gain.
const LEAST_GAIN: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, SeedableRng};

    /// By trying all ways.
    fn most(rises: usize, candidates: &[Candidate], taken: &mut Vec<usize>, rise: usize) -> f64 {
        if rise == rises {
            return 0.0;
        }
        let mut best = most(rises, candidates, taken, rise + 1);
        for one in candidates.iter().filter(|one| one.rise == rise) {
            if !taken.contains(&one.fall) {
                taken.push(one.fall);
                best = best.max(one.gain + most(rises, candidates, taken, rise + 1));
                taken.pop();
            }
        }
        best
    }

    #[test]
    fn no_other_way_of_pairing_gains_more() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut uniform = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        for case in 0..300 {
            let (rises, falls) = (1 + (uniform() * 6.0) as usize, 1 + (uniform() * 6.0) as usize);
            let mut candidates = Vec::new();
            for rise in 0..rises {
                for fall in 0..falls {
                    if uniform() < 0.6 {
                        candidates.push(Candidate { rise, fall, gain: 9.0 * uniform() });
                    }
                }
            }
            let pairs = best_pairs(rises, falls, &candidates);
            let gain: f64 = pairs
                .iter()
                .enumerate()
                .filter_map(|(rise, fall)| candidates.iter().find(|c| c.rise == rise && Some(c.fall) == *fall))
                .map(|c| c.gain)
                .sum();
            let expected = most(rises, &candidates, &mut Vec::new(), 0);
            assert!((gain - expected).abs() < 1e-9, "case {case}: {gain}, {expected}");
            let mut taken: Vec<usize> = pairs.iter().flatten().copied().collect();
            let count = taken.len();
            taken.sort_unstable();
            taken.dedup();
            assert_eq!(taken.len(), count);
        }
    }

    #[test]
    fn nothing_to_pair() {
        assert!(best_pairs(0, 0, &[]).is_empty());
        assert_eq!(best_pairs(2, 1, &[]), [None, None]);
    }
}
