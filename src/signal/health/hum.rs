//! Hum: lines at multiples of the mains frequency in the sound itself. They come from the audio lead and the supply
//! of recorder or receiver, not from the air, and must not be taken for radio noise.

use serde::{Deserialize, Serialize};

use crate::signal::spectrum::Slices;
use crate::signal::spectrum::statistics::median;
use crate::units::in_db;

/// Highest multiple looked at; from about 400 Hz on a carrier at a round frequency is as likely. Chosen so.
const HIGHEST_HZ: f64 = 420.0;
/// Height over the neighbourhood that counts, dB: one line so strong, or two of `PAIR_DB`. Chosen: by chance a
/// carrier stands at one multiple more easily than at two.
const SINGLE_DB: f64 = 12.0;
const PAIR_DB: f64 = 8.0;
/// Hum with so many lines has more above them, up to about here, each so near to its multiple. Chosen: hum of a
/// rectifier reaches to a kilohertz with falling multiples; a quarter of a bin.
const RICH: usize = 3;
const RICH_TO_HZ: f64 = 1000.0;
const HIGHER_WITHIN_HZ: f64 = 1.5;
/// One of the lines must be this multiple or a lower one: hum of a lead has those before all others, while stations
/// may stand at round frequencies within the receiver's passband. Common practice: hum is strongest at once, twice
/// or three times the mains frequency.
const LOWEST_AT_MOST: usize = 3;
/// How far the mains may be off, as a share of its frequency. Common practice: large networks keep within 0.4 %;
/// chosen twice that, for the recorder's clock and small generators.
const TOLERANCE: f64 = 0.008;

/// Hum in a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hum {
    /// Multiples of the mains frequency at which a line stands: (frequency, mean square).
    pub lines: Vec<(f64, f64)>,
    /// The mains frequency as the lines tell it.
    pub mains_hz: f64,
}

impl Hum {
    /// Looks for hum in the mean spectrum of a recording.
    pub fn find(slices: &Slices, mains_hz: f64) -> Option<Self> {
        let mut lines = Vec::new();
        let (mut strong, mut pairs) = (0, 0);
        for multiple in 1..=(HIGHEST_HZ / mains_hz) as usize {
            let Some((freq_hz, power, over_db)) = line_at(slices, mains_hz * multiple as f64) else { continue };
            if over_db < PAIR_DB {
                continue;
            }
            strong += usize::from(over_db >= SINGLE_DB && multiple <= 2);
            pairs += 1;
            lines.push((freq_hz, power, multiple));
        }
        let is_low = lines.iter().any(|&(_, _, multiple)| multiple <= LOWEST_AT_MOST);
        if strong == 0 && (pairs < 2 || !is_low) {
            return None;
        }
        let strongest = lines.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let mains_hz = strongest.0 / strongest.2 as f64;
        Some(Self { lines: lines.iter().map(|&(freq_hz, power, _)| (freq_hz, power)).collect(), mains_hz })
    }

    /// Mean square of all its lines.
    pub fn power(&self) -> f64 {
        self.lines.iter().map(|line| line.1).sum()
    }

    /// Whether a frequency belongs to it: one of its lines, or, where there are several, a higher multiple.
    pub fn explains(&self, freq_hz: f64) -> bool {
        let multiple = (freq_hz / self.mains_hz).round();
        let higher = self.lines.len() >= RICH
            && freq_hz < RICH_TO_HZ
            && (freq_hz - multiple * self.mains_hz).abs() < HIGHER_WITHIN_HZ;
        higher || self.lines.iter().any(|line| (line.0 - freq_hz).abs() < 3.0)
    }
}

/// The peak at a frequency: (refined frequency, mean square, dB over the neighbourhood).
fn line_at(slices: &Slices, freq_hz: f64) -> Option<(f64, f64, f64)> {
    let mean = &slices.mean;
    let middle = slices.bin_of(freq_hz);
    if middle < 3 || middle + 8 >= mean.len() {
        return None;
    }
    let k = (middle - 1..=middle + 1).max_by(|&a, &b| mean[a].total_cmp(&mean[b]))?;
    if mean[k] < mean[k - 1] || mean[k] < mean[k + 1] {
        return None;
    }
    // The neighbourhood up to the next multiples, without the peak itself and the rumble below 20 Hz.
    let reach = ((45.0 / slices.bin_hz) as usize).max(4);
    let least = (20.0 / slices.bin_hz).ceil() as usize;
    let mut around: Vec<f64> = (k.saturating_sub(reach).max(least)..(k + reach).min(mean.len()))
        .filter(|&j| j.abs_diff(k) > 2)
        .map(|j| mean[j])
        .collect();
    let local = median(&mut around);
    let power: f64 = (mean[k - 2..=k + 2].iter().sum::<f64>() - 5.0 * local) * slices.bin_hz;
    let (l, m, r) = (mean[k - 1].ln(), mean[k].ln(), mean[k + 1].ln());
    let bend = l - 2.0 * m + r;
    let offset = if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    let found_hz = (k as f64 + offset) * slices.bin_hz;
    let near = (found_hz - freq_hz).abs() < (freq_hz * TOLERANCE).max(0.25 * slices.bin_hz);
    (near && local > 0.0 && power > 0.0).then(|| (found_hz, power, in_db(mean[k] / local)))
}
