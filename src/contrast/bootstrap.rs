//! How far the steady level over slices would scatter if the recording were made again: a seeded block bootstrap.
//!
//! Source: H. R. Künsch, Ann. Statist. 17(3), 1989 (moving blocks; from memory), here circular.

use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hasher};
use std::sync::{Arc, Mutex, PoisonError};

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::signal::spectrum::statistics::{standard_deviation, steady_level_of_sorted};
use crate::units::in_db;

/// Copies drawn. Chosen: the scatter of a standard deviation from n copies is 1/√(2n), here 4 %; more cost time.
const REPLICATES: usize = 300;
/// Drawings kept, each of some 0.6 MB at most (512 slices). Chosen: takes of a session are of a few lengths.
const MOST_DRAWS: usize = 16;
/// Series kept, of some 100 bytes each. Chosen: those of a thousand takes in all bands.
const MOST_KNOWN: usize = 32_768;
/// How often a copy holds one of its values, mostly. Mathematics: more than four times in one of 270 (Poisson).
const USUAL_TIMES: usize = 4;
/// The same input gives the same bytes: the seed is fixed, never the clock's.
const SEED: u64 = 0x6e74_616c_6c79;

/// What was found before, by what it hangs on alone.
type Known<K, V> = Mutex<BTreeMap<K, V>>;

/// Scatter of a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation of the level, dB.
    pub sd_db: f64,
    /// Independent blocks it was got from.
    pub blocks: f64,
}

/// Scatter of the steady level (in dB) of a series of positive powers. An off take meets many devices, most often
/// in the same cells: what was found of a series is kept.
pub fn level_scatter(series: &[f64]) -> Scatter {
    static KNOWN: Known<[u64; 3], Scatter> = Mutex::new(BTreeMap::new());
    let known = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    let key = key(series);
    if let Some(scatter) = known().get(&key) {
        return *scatter;
    }
    let scatter = drawn_scatter(series);
    let mut known = known();
    if known.len() >= MOST_KNOWN {
        known.clear();
    }
    known.insert(key, scatter);
    scatter
}

/// What tells a series from any other: its length, the bits of all its values mixed, and of their sum.
fn key(series: &[f64]) -> [u64; 3] {
    let mut hasher = DefaultHasher::new();
    series.iter().for_each(|value| hasher.write_u64(value.to_bits()));
    [series.len() as u64, hasher.finish(), series.iter().sum::<f64>().to_bits()]
}

fn drawn_scatter(series: &[f64]) -> Scatter {
    let n = series.len();
    if n < 3 {
        return Scatter { sd_db: f64::INFINITY, blocks: n as f64 };
    }
    let block = block(series);
    // Sorted once for all copies: each is told by how often it drew the places, from that of the least value on.
    let mut places: Vec<u32> = (0..n as u32).collect();
    places.sort_unstable_by(|&a, &b| series[a as usize].total_cmp(&series[b as usize]));
    let room = || (vec![0_u32; n], vec![0.0; n + USUAL_TIMES]);
    let level = |(times, copy): &mut (Vec<u32>, Vec<f64>), drawn: &[u32]| {
        times.fill(0);
        drawn.iter().for_each(|&place| times[place as usize] += 1);
        let mut filled = 0;
        for &place in &places {
            let (value, times) = (series[place as usize], times[place as usize] as usize);
            // Written as often as it mostly is at the most, without a branch; what is too much is written over.
            copy[filled..filled + USUAL_TIMES].fill(value);
            if times > USUAL_TIMES {
                copy[filled..filled + times].fill(value);
            }
            filled += times;
        }
        in_db(steady_level_of_sorted(&copy[..n]).max(f64::MIN_POSITIVE))
    };
    // A single comparison has all cores for itself.
    let copies = draws(n, block.length);
    let levels: Vec<f64> = copies.par_chunks_exact(n).with_min_len(REPLICATES / 4).map_init(room, level).collect();
    let blocks = n as f64 / block.length as f64;
    Scatter { sd_db: standard_deviation(&levels) * blocks.powf(block.growth / 2.0), blocks }
}

/// The places that each copy draws from a series of `n` slices in blocks of `length`, copy by copy. They hang on
/// nothing else, so all series of a session share them.
fn draws(n: usize, length: usize) -> Arc<[u32]> {
    static KNOWN: Known<(usize, usize), Arc<[u32]>> = Mutex::new(BTreeMap::new());
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if known.len() >= MOST_DRAWS {
        known.clear();
    }
    let draw = || {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut drawn: Vec<u32> = Vec::with_capacity(REPLICATES * n);
        for copy in 1..=REPLICATES {
            while drawn.len() < copy * n {
                let start = (rng.next_u64() % n as u64) as usize;
                let left = copy * n - drawn.len();
                drawn.extend((start..start + length.min(left)).map(|k| (k % n) as u32));
            }
        }
        drawn.into()
    };
    known.entry((n, length)).or_insert_with(draw).clone()
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
