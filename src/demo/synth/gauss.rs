//! Seeded randomness: the same seed and part give the same numbers, on any machine.
//!
//! Uniform numbers come from ChaCha (8 rounds), whose stream is fixed by its definition. Gaussian ones follow by
//! Marsaglia's polar method, whose accept-or-reject step needs only exactly rounded arithmetic: platforms can
//! differ in the last bit of a logarithm, never in which numbers are drawn.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A stream of random numbers for one part of a scene.
pub struct Gauss {
    rng: ChaCha8Rng,
    spare: Option<f64>,
}

impl Gauss {
    /// The stream of `part` under `seed`. Different parts of one seed are independent of each other, so adding a
    /// part to a scene leaves the others' waveforms as they were.
    pub fn new(seed: u64, part: &str) -> Self {
        let mut key = [0u8; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        key[8..16].copy_from_slice(&fnv1a(part).to_le_bytes());
        Self { rng: ChaCha8Rng::from_seed(key), spare: None }
    }

    /// Evenly spread over 0 ≤ u < 1, with 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly spread over `low` ≤ u < `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Gaussian of mean 0 and variance 1 (polar method: Marsaglia and Bray, SIAM Review 6, 1964; from memory).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let scale = (-2.0 * s.ln() / s).sqrt();
                self.spare = Some(v * scale);
                return u * scale;
            }
        }
    }

    /// Exponentially spread with this mean: the gap to the next event of a Poisson process.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.uniform()).ln()
    }

    /// White Gaussian noise of variance 1, `len` samples.
    pub fn white(&mut self, len: usize) -> Vec<f64> {
        (0..len).map(|_| self.normal()).collect()
    }
}

/// FNV-1a, 64 bits (public domain): names to numbers, the same ones in every version of Rust.
fn fnv1a(text: &str) -> u64 {
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(x: &[f64]) -> (f64, f64, f64) {
        let n = x.len() as f64;
        let mean = x.iter().sum::<f64>() / n;
        let m2 = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
        let m4 = x.iter().map(|v| (v - mean).powi(4)).sum::<f64>() / n;
        (mean, m2, m4 / (m2 * m2))
    }

    /// Source: moments of the Gaussian distribution: 0, 1, kurtosis 3. Tolerance: four standard errors,
    /// 1/√n, √(2/n) and √(24/n).
    #[test]
    fn white_noise_has_the_moments_of_a_gaussian() {
        for seed in [1, 2, 3] {
            let x = Gauss::new(seed, "test").white(400_000);
            let n = x.len() as f64;
            let (mean, variance, kurtosis) = moments(&x);
            assert!(mean.abs() < 4.0 / n.sqrt(), "mean {mean}");
            assert!((variance - 1.0).abs() < 4.0 * (2.0 / n).sqrt(), "variance {variance}");
            assert!((kurtosis - 3.0).abs() < 4.0 * (24.0 / n).sqrt(), "kurtosis {kurtosis}");
        }
    }

    /// Source: the normal table: P(|z| > 1, 2, 3) = 0.31731, 0.04550, 0.00270. Tolerance: four standard errors.
    #[test]
    fn white_noise_has_the_tails_of_a_gaussian() {
        let x = Gauss::new(7, "tails").white(400_000);
        let n = x.len() as f64;
        for (z, p) in [(1.0, 0.31731), (2.0, 0.04550), (3.0, 0.00270)] {
            let share = x.iter().filter(|v| v.abs() > z).count() as f64 / n;
            assert!((share - p).abs() < 4.0 * (p * (1.0 - p) / n).sqrt(), "beyond {z}: {share}");
        }
    }

    /// Neighbouring samples, and the same samples of two parts or seeds, have nothing in common: correlation within
    /// four times 1/√n.
    #[test]
    fn streams_are_independent() {
        let n = 100_000;
        let a = Gauss::new(1, "a").white(n);
        let correlation =
            |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(p, q)| p * q).sum::<f64>() / (x.len() as f64);
        for other in [Gauss::new(1, "b").white(n), Gauss::new(2, "a").white(n)] {
            assert!(correlation(&a, &other).abs() < 4.0 / (n as f64).sqrt());
        }
        for lag in [1, 2, 3, 80] {
            assert!(correlation(&a[lag..], &a[..n - lag]).abs() < 4.0 / (n as f64).sqrt(), "lag {lag}");
        }
    }

    /// Source: an exponential of mean m has standard deviation m. Tolerance: four standard errors.
    #[test]
    fn gaps_are_exponential() {
        let mut gauss = Gauss::new(4, "gaps");
        let gaps: Vec<f64> = (0..100_000).map(|_| gauss.exponential(0.25)).collect();
        let n = gaps.len() as f64;
        let (mean, variance, _) = moments(&gaps);
        assert!((mean - 0.25).abs() < 4.0 * 0.25 / n.sqrt());
        assert!((variance.sqrt() - 0.25).abs() < 4.0 * 0.25 * (2.0 / n).sqrt());
    }

    /// Source: an implementation of ChaCha8, FNV-1a and the polar method apart from this one (in Python, itself
    /// checked on the published first bytes of ChaCha8 under a zero key, 3e00ef2f 895f40d6, and on FNV-1a of "a",
    /// af63dc4c8601ec8c). Uniform numbers to the bit; Gaussian ones to the last bits of a logarithm.
    #[test]
    fn the_stream_is_the_one_its_definition_gives() {
        assert_eq!(fnv1a("a"), 0xaf63_dc4c_8601_ec8c);
        let mut gauss = Gauss::new(1, "band noise");
        assert_eq!([gauss.uniform(), gauss.uniform()], [0.705_236_425_579_089_3, 0.460_532_418_901_444_14]);
        let normals = Gauss::new(1, "band noise").white(4);
        let expected =
            [1.834_319_142_684_310_8, -0.352_745_080_802_57, 0.986_739_658_311_299, -0.229_133_853_532_654_2];
        for (x, e) in normals.iter().zip(expected) {
            assert!((x - e).abs() < 1e-14, "{x} for {e}");
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_numbers() {
        assert_eq!(Gauss::new(5, "x").white(1000), Gauss::new(5, "x").white(1000));
        assert_ne!(Gauss::new(5, "x").white(10), Gauss::new(6, "x").white(10));
    }
}
