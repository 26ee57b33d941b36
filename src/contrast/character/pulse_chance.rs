//! How probable it is that chance alone, static or a voice, brings so many pulses more with the device on than off.
//!
//! Two tests: of the count, where pulses come independently of each other, and of stretches of half a second, where
//! they come in flocks: a static crash breaks into many, and so does a syllable. Not here: what follows from it
//! (`clicks`).

use statrs::distribution::{Binomial, DiscreteCDF, Poisson};

use crate::signal::envelope::{Pulse, Pulses};
use crate::signal::spectrum::statistics::normal_cdf;

/// Stretches in which pulses belong together: longer than a crash or a syllable, short enough that ten seconds hold
/// twenty. Chosen so.
const STRETCH_S: f64 = 0.5;
/// A stretch is a flock of its own when pulses at the rate of the others fill it so with at most this probability,
/// over all stretches; of such, this share of the stretches is passed over. Chosen: a burst of static or two in a
/// recording; what comes in more flocks does so by itself.
const FLOCK_CHANCE: f64 = 1e-3;
const MOST_FLOCKS: f64 = 0.1;

/// Pulses of all recordings of a state.
pub(super) struct Counted {
    /// How many.
    pub count: f64,
    seconds: f64,
    /// Mean power they add, FS².
    pub power: f64,
    /// Share of the time in which they stand, 0..1.
    pub time_share: f64,
    /// Width (energy over peak) at which half of their energy lies in narrower ones.
    pub typical_width_s: f64,
    /// Energy of the pulses of each stretch, FS²·s.
    stretches: Vec<f64>,
    /// Pulses in each stretch.
    counts: Vec<u64>,
}

impl Counted {
    /// `gain`: power of this state over that of the other one for the same noise.
    pub fn of(side: &[&Pulses], gain: f64) -> Self {
        let seconds = side.iter().map(|pulses| pulses.seconds).sum::<f64>().max(1e-3);
        let energy = side.iter().map(|pulses| pulses.energy).sum::<f64>() / gain;
        let kept: Vec<Pulse> = side.iter().flat_map(|pulses| pulses.kept.iter().copied()).collect();
        Self {
            count: side.iter().map(|pulses| pulses.count as f64).sum(),
            seconds,
            power: energy / seconds,
            time_share: kept.iter().map(|pulse| pulse.length_s).sum::<f64>() / seconds,
            typical_width_s: width_of_half_the_energy(kept),
            stretches: side.iter().flat_map(|p| by_stretch(p, |sum, pulse| *sum += pulse.energy / gain)).collect(),
            counts: side.iter().flat_map(|p| by_stretch(p, |sum: &mut u64, _| *sum += 1)).collect(),
        }
    }

    /// Pulses a second, single flocks passed over: a burst of static must not become the device's rate.
    pub fn typical_rate_hz(&self) -> f64 {
        let mut counts = self.counts.clone();
        counts.sort_unstable();
        let (all, mut left) = (counts.len() as f64, self.count);
        let most = (MOST_FLOCKS * all).ceil() as usize;
        for _ in 0..=most {
            let Some(fullest) = counts.pop().filter(|_| !counts.is_empty()) else { break };
            let others = (left - fullest as f64).max(0.0) / counts.len() as f64;
            let by_chance = match Poisson::new(others) {
                Ok(poisson) if fullest > 0 => all * poisson.sf(fullest - 1),
                _ => 1.0,
            };
            // No pulse at all elsewhere: then the flock is all there is.
            if by_chance > FLOCK_CHANCE || others == 0.0 {
                return left / (counts.len() + 1) as f64 / self.seconds * all;
            }
            left -= fullest as f64;
        }
        self.count / self.seconds
    }

    /// How many, single flocks passed over.
    pub fn typical_count(&self) -> f64 {
        self.typical_rate_hz() * self.seconds
    }

    /// Probability that as many pulses or more of all those counted fall into this state's time by chance, if they
    /// come independently, single flocks passed over.
    pub fn chance_by_count(&self, other: &Self) -> f64 {
        self.chance_of((self.typical_count(), other.typical_count()), other)
    }

    /// The same of all of them, flocks too.
    pub fn chance_of_all(&self, other: &Self) -> f64 {
        self.chance_of((self.count, other.count), other)
    }

    /// The conditional test of two Poisson rates (J. Przyborowski, H. Wilenski, Biometrika 31, 1940; from memory).
    fn chance_of(&self, (here, there): (f64, f64), other: &Self) -> f64 {
        let share = self.seconds / (self.seconds + other.seconds);
        let (here, all) = (here.round() as u64, (here + there).round() as u64);
        match Binomial::new(share, all) {
            Ok(_) if here == 0 => 1.0,
            Ok(binomial) => binomial.sf(here - 1),
            Err(_) => 1.0,
        }
    }

    /// Probability that the stretches of this state hold so much more in pulses than those of the other one by
    /// chance.
    pub fn chance_by_stretches(&self, other: &Self) -> f64 {
        chance_of_ranks(&self.stretches, &other.stretches)
    }
}

/// A sum over a recording's pulses, stretch by stretch; what is left over at the end belongs to the last one.
fn by_stretch<T: Clone + Default>(pulses: &Pulses, add: impl Fn(&mut T, &Pulse)) -> Vec<T> {
    let count = ((pulses.seconds / STRETCH_S) as usize).max(1);
    let mut sums = vec![T::default(); count];
    for pulse in &pulses.kept {
        add(&mut sums[((pulse.at_s / STRETCH_S) as usize).min(count - 1)], pulse);
    }
    sums
}

/// Probability that values of the same distribution rank so high against `others` by chance: the one-sided test of
/// H. B. Mann and D. R. Whitney (Annals of Mathematical Statistics 18, 1947), in its normal approximation,
/// corrected for ties and for continuity. 1 where all are equal or one side is empty.
fn chance_of_ranks(values: &[f64], others: &[f64]) -> f64 {
    let (n, m) = (values.len() as f64, others.len() as f64);
    let mut all: Vec<(f64, bool)> =
        values.iter().map(|&value| (value, true)).chain(others.iter().map(|&value| (value, false))).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut ranks, mut ties, mut below) = (0.0, 0.0, 0.0);
    for equal in all.chunk_by(|a, b| a.0 == b.0) {
        let count = equal.len() as f64;
        ranks += equal.iter().filter(|one| one.1).count() as f64 * (below + (count + 1.0) / 2.0);
        ties += count.powi(3) - count;
        below += count;
    }
    let above = ranks - n * (n + 1.0) / 2.0;
    let variance = n * m / 12.0 * (n + m + 1.0 - ties / ((n + m) * (n + m - 1.0)));
    if variance > 0.0 { 1.0 - normal_cdf((above - n * m / 2.0 - 0.5) / variance.sqrt()) } else { 1.0 }
}

/// Width of pulse at which half of the energy of all lies in narrower ones; 0 for none.
fn width_of_half_the_energy(mut pulses: Vec<Pulse>) -> f64 {
    pulses.sort_by(|a, b| a.width_s().total_cmp(&b.width_s()));
    let half = pulses.iter().map(|pulse| pulse.energy).sum::<f64>() / 2.0;
    let mut energy = 0.0;
    let middle = pulses.iter().find(|pulse| {
        energy += pulse.energy;
        energy >= half
    });
    middle.map_or(0.0, Pulse::width_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: SciPy 1.17.1, `scipy.stats.mannwhitneyu(…, alternative='greater', method='asymptotic')`.
    #[test]
    fn ranks_as_the_reference_library_has_them() {
        let mut few = vec![0.0; 16];
        few.extend([1.0, 2.0, 3.0, 4.0]);
        assert_abs_diff_eq!(chance_of_ranks(&few, &[0.0; 20]), 0.020_080_671_438_941_59, epsilon = 1e-9);
        let (tied, other) = ([3.0, 0.0, 0.0, 5.0, 1.0, 0.0, 2.0], [0.0, 0.0, 1.0, 0.0, 0.0, 4.0]);
        assert_abs_diff_eq!(chance_of_ranks(&tied, &other), 0.218_351_104_151_276_57, epsilon = 1e-9);
        let (plain, other) = ([1.1, 2.2, 3.3, 4.4], [0.5, 1.5, 2.5, 3.5, 4.5]);
        assert_abs_diff_eq!(chance_of_ranks(&plain, &other), 0.548_738_374_911_160_3, epsilon = 1e-9);
    }

    #[test]
    fn ranks_of_nothing_tell_nothing() {
        assert_abs_diff_eq!(chance_of_ranks(&[], &[1.0]), 1.0);
        assert_abs_diff_eq!(chance_of_ranks(&[0.0; 5], &[0.0; 7]), 1.0);
    }

    fn pulses(times_s: &[f64]) -> Pulses {
        let kept: Vec<Pulse> = times_s
            .iter()
            .map(|&at_s| Pulse { at_s, length_s: 0.001, energy: 1e-6, peak: 1e-3, peak_at_s: at_s })
            .collect();
        Pulses { count: kept.len(), energy: 1e-6 * kept.len() as f64, seconds: 10.0, kept }
    }

    /// By construction: one pulse a second in 20 s, and twelve more in one crash of half a second.
    #[test]
    fn a_burst_of_static_is_not_the_rate() {
        let even = (0..10).map(|k| 0.25 + f64::from(k));
        let crash = (0..12).map(|k| 6.6 + 0.03 * f64::from(k));
        let both = pulses(&even.clone().chain(crash).collect::<Vec<_>>());
        assert_abs_diff_eq!(Counted::of(&[&both], 1.0).typical_rate_hz(), 1.0, epsilon = 0.06);
        let alone = pulses(&even.collect::<Vec<_>>());
        assert_abs_diff_eq!(Counted::of(&[&alone], 1.0).typical_rate_hz(), 1.0, epsilon = 1e-9);
        // A device that comes in flocks itself keeps what it has: four of eight pulses in 10 s.
        let flocks = (0..32).map(|k| 1.1 + 2.3 * f64::from(k / 8) + 0.012 * f64::from(k % 8));
        let flocks = pulses(&flocks.collect::<Vec<_>>());
        assert_abs_diff_eq!(Counted::of(&[&flocks], 1.0).typical_rate_hz(), 3.2, epsilon = 1e-9);
        assert_abs_diff_eq!(Counted::of(&[&pulses(&[])], 1.0).typical_rate_hz(), 0.0);
    }

    /// Five of five pulses fall into one of two equal times once in 2^5 (the defining sum of the binomial
    /// distribution); twelve out of one crash are one event, which says nothing.
    #[test]
    fn a_flock_is_one_event() {
        let (none, apart) = (pulses(&[]), pulses(&[0.7, 2.1, 4.4, 6.6, 9.9]));
        let (off, on) = (Counted::of(&[&none], 1.0), Counted::of(&[&apart], 1.0));
        assert_abs_diff_eq!(on.chance_by_count(&off), 1.0 / 32.0, epsilon = 1e-9);
        assert!(on.chance_by_stretches(&off) < 0.05);
        let crash = pulses(&std::array::from_fn::<f64, 12, _>(|n| 3.0 + 0.02 * n as f64));
        let on = Counted::of(&[&crash], 1.0);
        assert!(on.chance_by_count(&off) < 0.001 && on.chance_by_stretches(&off) > 0.15);
    }

    /// One crash of twelve pulses and one pulse elsewhere: without the crash that one is left.
    #[test]
    fn a_flock_is_not_counted_beside_a_single_pulse() {
        let crash = std::array::from_fn::<f64, 12, _>(|n| 3.0 + 0.02 * n as f64);
        let on = pulses(&crash.into_iter().chain([8.2]).collect::<Vec<_>>());
        let (off, on) = (Counted::of(&[&pulses(&[])], 1.0), Counted::of(&[&on], 1.0));
        assert_abs_diff_eq!(on.typical_count(), 1.0, epsilon = 0.06);
        assert_abs_diff_eq!(on.chance_by_count(&off), 0.5, epsilon = 1e-9);
    }
}
