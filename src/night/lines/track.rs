//! Lines followed from spectrum to spectrum.

use super::{LineSeries, SpectrumRow};
use crate::signal::spectrum::statistics::{mean_power_quantile, median, quantile};

/// The level between lines is a low quantile over three pieces of this width. As in `spectrum::lines`: of a family
/// of lines 60 Hz apart more than half the bins are filled.
const PIECE_HZ: f64 = 80.0;
const FLOOR_QUANTILE: f64 = 0.3;
/// A peak stands this many times above it: plain noise of ten seconds (some 66 independent spectra, relative
/// scatter 0.12) does so once in 10⁸ bins (chosen).
const STANDS_OUT: f64 = 2.0;
/// Expected to stand less than this far out, a line is not missed if it is not seen. Chosen: so far below what a
/// peak needs that chance alone may hide it.
const HIDDEN_BELOW: f64 = 1.6;
/// Half the width of what belongs to a line, bins: the main lobe of Hann's window. Mathematics: it is four bins
/// wide from zero to zero.
const LOBE: usize = 2;
/// How far a line may move from one spectrum to the next, bins: supplies drift as they warm up. Chosen: less than
/// the lobe, so that a neighbour is not taken for it.
const MOVES: f64 = 1.5;
/// A spectrum with this share of a line's usual power is filled by it. Chosen: less than that, and it came or went
/// within the spectrum.
pub(crate) const WHOLE: f64 = 0.8;
/// Spectra in a row in which it may be missed. Chosen: a crash spoils one, what misses more has gone.
const MISSED: usize = 1;
/// Where keying and fast fading put their sidebands, Hz from the line; nearer ones the line hides. Chosen: from
/// where the lobe ends to where the sidebands of fast Morse have died away.
const BESIDE_HZ: (f64, f64) = (10.0, 40.0);

/// The level between lines for each spectrum, by pieces of the passband.
pub(crate) struct Floors {
    piece: usize,
    first: usize,
    levels: Vec<Vec<f64>>,
}

impl Floors {
    pub fn of(series: &LineSeries<'_>) -> Self {
        let piece = ((PIECE_HZ / series.bin_hz).round() as usize).clamp(4, series.band.len());
        let count = (series.band.len() / piece).max(1);
        let first = series.band.start;
        let mut window = Vec::new();
        let level = |row: &SpectrumRow<'_>, place: usize, window: &mut Vec<f64>| {
            let from = first + place.saturating_sub(1) * piece;
            let to = if place + 2 >= count { series.band.end } else { first + (place + 2) * piece };
            window.clear();
            window.extend(row.density[from..to].iter().map(|&value| f64::from(value)));
            quantile(window, FLOOR_QUANTILE)
        };
        // Nearly all spectra are means of equally many.
        let mut bias = (0.0, 1.0);
        let mut of_row = |row: &SpectrumRow<'_>| -> Vec<f64> {
            if row.averages != bias.0 {
                bias = (row.averages, mean_power_quantile(row.averages, FLOOR_QUANTILE));
            }
            (0..count).map(|n| level(row, n, &mut window) / bias.1).collect()
        };
        let levels = series.rows.iter().map(&mut of_row).collect();
        Self { piece, first, levels }
    }

    /// At a bin of the passband.
    pub fn at(&self, row: usize, bin: usize) -> f64 {
        let levels = &self.levels[row];
        levels[((bin.max(self.first) - self.first) / self.piece).min(levels.len() - 1)]
    }
}

/// A line's power in one spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place {
    pub row: usize,
    pub bin: usize,
    /// Power over the level around it.
    pub power: f64,
    /// What chance makes of it, standard deviation.
    pub sd: f64,
    /// Power in what lies beside it, over the level.
    pub beside: f64,
}

impl Place {
    pub fn of(series: &LineSeries<'_>, floors: &Floors, row: usize, bin: usize) -> Self {
        let (density, floor) = (series.rows[row].density, floors.at(row, bin));
        let over = |bins: std::ops::Range<usize>| -> f64 {
            let bins = bins.start.max(series.band.start)..bins.end.min(series.band.end);
            density[bins.start.min(bins.end)..bins.end].iter().map(|&value| f64::from(value) - floor).sum::<f64>()
                * series.bin_hz
        };
        let lobe = bin.saturating_sub(LOBE)..bin + LOBE + 1;
        let power = over(lobe.clone());
        let [near, far] = [BESIDE_HZ.0, BESIDE_HZ.1].map(|hz| (hz / series.bin_hz).ceil() as usize);
        let near = near.max(LOBE + 1);
        let beside =
            over(bin.saturating_sub(far)..(bin + 1).saturating_sub(near)) + over(bin + near..bin + far + 1);
        // Noise alone, and its beat with the line.
        let noise = floor * series.bin_hz;
        let sd = ((2.0 * lobe.len() as f64 * noise * noise + 2.0 * power.max(0.0) * noise)
            / series.rows[row].averages)
            .sqrt();
        Self { row, bin, power, sd, beside }
    }
}

/// A line, spectrum by spectrum; those in which it was missed or hidden are left out.
#[derive(Debug, Clone)]
pub(crate) struct Track {
    pub rows: Vec<Place>,
    /// Spectra in which it was hidden by louder noise.
    hidden: Vec<usize>,
    missed: usize,
}

impl Track {
    fn last(&self) -> &Place {
        &self.rows[self.rows.len() - 1]
    }

    /// Without what it began and ended with at less than its own strength: a voice's overtone, say, that stood at
    /// its place before it came.
    pub fn trimmed(mut self) -> Self {
        let typical = median(&mut self.rows.iter().map(|place| place.power).collect::<Vec<_>>());
        let is_whole = |place: &Place| place.power >= WHOLE * typical - place.sd;
        let first = self.rows.iter().position(is_whole).unwrap_or(0);
        let last = self.rows.iter().rposition(is_whole).unwrap_or(0);
        self.rows.truncate(last + 1);
        self.rows.drain(..first.min(last));
        let (from, to) = (self.rows[0].row, self.last().row);
        self.hidden.retain(|row| (from..to).contains(row));
        self
    }

    /// Spectra in which it should have been seen and was not.
    pub fn gaps(&self) -> usize {
        (self.last().row + 1 - self.rows[0].row).saturating_sub(self.rows.len() + self.hidden.len())
    }
}

/// All lines that stand in two spectra or more.
pub(crate) fn tracks(series: &LineSeries<'_>, floors: &Floors) -> Vec<Track> {
    let mut done: Vec<Track> = Vec::new();
    let mut open: Vec<Track> = Vec::new();
    for row in 0..series.rows.len() {
        let mut free = peaks(series, floors, row);
        let mut still = Vec::with_capacity(open.len() + free.len());
        // The strongest choose first.
        open.sort_by(|a, b| b.last().power.total_cmp(&a.last().power));
        for mut track in open.drain(..) {
            let last = *track.last();
            let apart = |bin: &usize| bin.abs_diff(last.bin);
            let nearest = (0..free.len()).min_by_key(|&k| apart(&free[k]));
            match nearest.filter(|&k| apart(&free[k]) as f64 <= MOVES) {
                Some(k) => {
                    track.rows.push(Place::of(series, floors, row, free.swap_remove(k)));
                    track.missed = 0;
                }
                // Of a line's own noise bandwidth: 1.5 bins of Hann's window.
                None if 1.0 + last.power / (1.5 * series.bin_hz * floors.at(row, last.bin)) < HIDDEN_BELOW => {
                    track.hidden.push(row);
                }
                None => track.missed += 1,
            }
            if track.missed > MISSED { done.push(track) } else { still.push(track) }
        }
        let fresh = |bin| Track { rows: vec![Place::of(series, floors, row, bin)], hidden: Vec::new(), missed: 0 };
        still.extend(free.into_iter().map(fresh));
        open = still;
    }
    done.extend(open);
    done.retain(|track| track.rows.len() > 1);
    done
}

/// Bins that stand above the level and both their neighbours.
fn peaks(series: &LineSeries<'_>, floors: &Floors, row: usize) -> Vec<usize> {
    let density = series.rows[row].density;
    let inner = series.band.start.max(1)..series.band.end.min(density.len().saturating_sub(1));
    inner
        .filter(|&bin| {
            let value = density[bin];
            value >= density[bin - 1]
                && value > density[bin + 1]
                && f64::from(value) > STANDS_OUT * floors.at(row, bin)
        })
        .collect()
}
