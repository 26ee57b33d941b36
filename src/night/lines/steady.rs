//! Whether a line is a device's: it keeps an even level, and nothing is keyed, faded or spoken upon it.

use super::track::Track;
use super::{LineSeries, LineStretch};
use crate::signal::spectrum::statistics::{median, quantile};

/// Of the spectra from its first to its last, it may be missed in this share. Chosen: a crash hides a spectrum now
/// and then, a keyed or fading carrier more.
const MOST_GAPS: f64 = 0.1;
/// The tenth of its powers that are lowest lie no further below the median than this share of it, beyond chance;
/// the quarter that are highest no further above it (a voice may cross it). Chosen: 1.5 dB down, where slow fading
/// of ±3 dB gives 2.5 dB.
const LEAST_LOW: f64 = 0.7;
const MOST_HIGH: f64 = 1.5;
/// Normal quantiles of a tenth and a quarter (1.28 and 0.67, mathematics), with a margin for few rows (chosen).
const LOW_SIGMAS: f64 = 1.8;
const HIGH_SIGMAS: f64 = 1.2;
/// Most power in its near sidebands, of its own, beyond chance: keying at eighteen words a minute puts 0.07 there,
/// for its slowest swings the line itself hides; a carrier 0.00. Chosen between the two.
const MOST_BESIDE: f64 = 0.05;
/// How far on each side of a begin or end the power in the passband is looked at, and how much more it must move
/// from second to second with the line than without to be called keyed, beyond what chance makes of it; and by
/// what share of the line's power: Morse gives a quarter. Chosen: a minute and a half has every word; twice, and a
/// tenth, stand well below what Morse does; fewer than twenty steps tell no scatter.
const BESIDE_S: f64 = 90.0;
const MOVES_MORE: f64 = 2.0;
const MOVES_LEAST: f64 = 0.1;
const LEAST_STEPS: usize = 20;
/// From the lowest tenth to the highest, in standard deviations of a normal spread: 2 · 1.2816 (mathematics).
const TENTH_TO_TENTH: f64 = 2.563;

/// By its powers from spectrum to spectrum.
pub(crate) fn is_steady(track: &Track) -> bool {
    let rows = &track.rows;
    if track.gaps() as f64 > MOST_GAPS * rows.len() as f64 {
        return false;
    }
    // The first and the last may be filled in part.
    let inner = &rows[1..rows.len() - 1];
    let mut powers: Vec<f64> = inner.iter().map(|place| place.power).collect();
    let mut scatter: Vec<f64> = inner.iter().map(|place| place.sd).collect();
    let mut beside: Vec<f64> = inner.iter().map(|place| place.beside / place.power).collect();
    let typical = median(&mut powers);
    let chance = median(&mut scatter) / typical;
    let (low, high) = (quantile(&mut powers, 0.1) / typical, quantile(&mut powers, 0.75) / typical);
    low >= LEAST_LOW - LOW_SIGMAS * chance
        && high <= MOST_HIGH + HIGH_SIGMAS * chance
        && median(&mut beside) <= MOST_BESIDE + chance
}

/// Whether the power in the passband begins to move with the lines, and ceases to with them: they are keyed.
pub(crate) fn is_keyed(series: &LineSeries<'_>, one: &LineStretch) -> bool {
    let middle_s = (one.start_s + one.end_s) / 2.0;
    let start = (!one.from_before)
        .then(|| ((one.start_s - BESIDE_S, one.start_s), (one.start_s, middle_s.min(one.start_s + BESIDE_S))));
    let end = (!one.until_after)
        .then(|| ((one.end_s, one.end_s + BESIDE_S), (middle_s.max(one.end_s - BESIDE_S), one.end_s)));
    let mut edges = [start, end].into_iter().flatten().peekable();
    edges.peek().is_some() && edges.all(|(without, with)| moves_more(series, one.power, without, with))
}

fn moves_more(series: &LineSeries<'_>, power: f64, without: (f64, f64), with: (f64, f64)) -> bool {
    let motion = |(from_s, to_s): (f64, f64)| -> Option<f64> {
        let (total, noise) =
            (series.steps_in(series.total, from_s, to_s), series.steps_in(series.noise, from_s, to_s));
        let mut over: Vec<f64> = total.iter().zip(&noise).map(|(total, noise)| total - noise).collect();
        (over.len() >= LEAST_STEPS).then(|| (quantile(&mut over, 0.9) - quantile(&mut over, 0.1)) / TENTH_TO_TENTH)
    };
    let (Some(quiet), Some(loud)) = (motion(without), motion(with)) else { return false };
    // The noise's beat with a line: in n independent values of it, 2·line·noise/n.
    let values = series.step_s * series.band.len() as f64 * series.bin_hz;
    let mut noise = series.steps_in(series.noise, with.0, with.1);
    let beat = (2.0 * power * median(&mut noise) / values).sqrt();
    loud > MOVES_MORE * quiet.hypot(beat) && loud > MOVES_LEAST * power
}
