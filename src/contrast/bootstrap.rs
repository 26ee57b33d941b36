//! How far the steady level over slices would scatter if the recording were made again: a seeded block bootstrap.
//!
//! Source: H. R. Künsch, Ann. Statist. 17(3), 1989 (moving blocks; from memory), here circular.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::signal::spectrum::statistics::steady_level_of_sorted;
use crate::units::in_db;

/// Copies drawn. Chosen: the scatter of a standard deviation from n copies is 1/√(2n), here 4 %; more cost time.
const REPLICATES: usize = 300;
/// The same input gives the same bytes: the seed is fixed, never the clock's.
const SEED: u64 = 0x6e74_616c_6c79;

/// Scatter of a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation of the level, dB.
    pub sd_db: f64,
    /// Independent blocks it was got from.
    pub blocks: f64,
}

/// Scatter of the steady level (in dB) of a series of positive powers.
pub fn level_scatter(series: &[f64]) -> Scatter {
    let n = series.len();
    if n < 3 {
        return Scatter { sd_db: f64::INFINITY, blocks: n as f64 };
    }
    let block = block(series);
    // Sorted once for all copies: each is told by how often it drew the values, from the least on.
    let mut places: Vec<usize> = (0..n).collect();
    places.sort_unstable_by(|&a, &b| series[a].total_cmp(&series[b]));
    let mut rank = vec![0; n];
    places.iter().enumerate().for_each(|(at, &place)| rank[place] = at);
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let (mut drawn, mut sample) = (vec![0_usize; n], Vec::with_capacity(n));
    let mut levels = Vec::with_capacity(REPLICATES);
    for _ in 0..REPLICATES {
        drawn.fill(0);
        let mut left = n;
        while left > 0 {
            let start = (rng.next_u64() % n as u64) as usize;
            let length = block.length.min(left);
            (start..start + length).for_each(|k| drawn[rank[k % n]] += 1);
            left -= length;
        }
        sample.clear();
        for (&place, &times) in places.iter().zip(&drawn) {
            sample.extend(std::iter::repeat_n(series[place], times));
        }
        levels.push(in_db(steady_level_of_sorted(&sample).max(f64::MIN_POSITIVE)));
    }
    let blocks = n as f64 / block.length as f64;
    Scatter { sd_db: standard_deviation(&levels) * blocks.powf(block.growth / 2.0), blocks }
}

/// Stretches of a series that are resampled whole.
struct Block {
    /// In slices.
    length: usize,
    /// How the variance of a mean, times its length, still grows with length at this one, as a power of it: 0 where
    /// longer stretches are independent of each other, 1 where a longer mean is no steadier than a short one. The
    /// bootstrap takes blocks for independent, so what it finds is carried on to the whole length by this.
    growth: f64,
}

/// One slice for noise whose slices are independent; longer where slow motion (fading) makes means of longer
/// stretches scatter more than independent slices would.
fn block(series: &[f64]) -> Block {
    let levels: Vec<f64> = series.iter().map(|p| in_db(p.max(f64::MIN_POSITIVE))).collect();
    let independent = scaled_variance(&levels, 1);
    let mut best = (Block { length: 1, growth: 0.0 }, independent);
    let (mut block, mut shorter) = (2, independent);
    while levels.len() / block >= 5 {
        let blocks = (levels.len() / block) as f64;
        let variance = scaled_variance(&levels, block);
        // Beyond what the scatter of a variance estimate from so few blocks explains.
        if variance > independent * (1.0 + 1.7 * (2.0 / blocks).sqrt()) && variance > best.1 {
            let growth = (variance / shorter).log2().clamp(0.0, 1.0);
            best = (Block { length: block, growth }, variance);
        }
        (block, shorter) = (2 * block, variance);
    }
    best.0
}

/// Variance of means over blocks, times their length: the same for any length where slices are independent.
fn scaled_variance(levels: &[f64], block: usize) -> f64 {
    let means: Vec<f64> = levels.chunks_exact(block).map(|c| c.iter().sum::<f64>() / block as f64).collect();
    standard_deviation(&means).powi(2) * block as f64
}

/// Standard deviation with n − 1; 0 for fewer than two.
pub fn standard_deviation(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}
