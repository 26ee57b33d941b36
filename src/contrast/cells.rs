//! A common grid of frequency for recordings that are compared: cells a little wider than a bin, whatever the
//! sample rates, lines and stations of either side left out.

use crate::signal::measure::Measurement;
use crate::signal::spectrum::Passband;

/// Least part of the common passband that must be free of lines and stations; else stations are taken into the
/// noise. Chosen: a fifth of an SSB passband still gives 500 Hz, some hundred bins a slice.
const LEAST_FREE: f64 = 0.2;
/// Parts of the passband that the excess over frequency is given for. Chosen: about 100 Hz each in an SSB passband,
/// fine enough to show a hump and wide enough for a narrow interval.
const BANDS: usize = 24;
/// A band needs so many free cells. Chosen: below that a single bin that a station touched decides.
const LEAST_CELLS_A_BAND: usize = 3;

/// Which cells of the common passband hold noise only.
#[derive(Debug, Clone)]
pub struct Cells {
    /// The common passband.
    pub passband: Passband,
    width_hz: f64,
    /// Index of every free cell.
    free: Vec<usize>,
    /// Whether stations had to be taken in.
    pub crowded: bool,
}

/// The noise of one recording on the grid.
#[derive(Debug, Clone)]
pub struct NoiseSeries {
    /// Mean density over all free cells, slice by slice, FS²/Hz.
    pub all: Vec<f64>,
    /// The same for each band; empty where a band has too few free cells.
    pub bands: Vec<Vec<f64>>,
    /// Distance of two slices.
    pub slice_s: f64,
}

impl Cells {
    /// The grid for these recordings. `None` where they have no passband in common.
    pub fn of(measurements: &[&Measurement], wanted: Option<Passband>) -> Option<Self> {
        let mut passbands = measurements.iter().map(|m| m.passband);
        let first = passbands.next()??;
        let mut passband = passbands.try_fold(first, |common, next| common.common(&next?))?;
        if let Some(wanted) = wanted {
            passband = passband.common(&wanted)?;
        }
        let width_hz = measurements.iter().map(|m| m.slices.bin_hz).fold(5.0, f64::max) * 2.0;
        let count = (passband.width_hz() / width_hz).floor() as usize;
        if count < 4 {
            return None;
        }
        let guards: Vec<(f64, f64)> = measurements.iter().flat_map(|m| m.line_guards()).collect();
        let bounds = |cell: usize| {
            let low = passband.low_hz + cell as f64 * width_hz;
            (low, low + width_hz)
        };
        let no_line: Vec<usize> = (0..count)
            .filter(|&cell| {
                let (low, high) = bounds(cell);
                !guards.iter().any(|&(from, to)| from < high && to > low)
            })
            .collect();
        let no_line = if no_line.len() < 4 { (0..count).collect() } else { no_line };
        let no_station: Vec<usize> = no_line
            .iter()
            .copied()
            .filter(|&cell| {
                let (low, high) = bounds(cell);
                !measurements.iter().any(|m| bins(m, low, high).any(|k| m.occupied[k]))
            })
            .collect();
        let crowded = (no_station.len() as f64) < LEAST_FREE * count as f64;
        let cells = |free| Self { passband, width_hz, free, crowded };
        Some(if crowded { cells(no_line) } else { cells(no_station).without_strays() })
    }

    /// The same without cells that are left of a band here and there among stations: they hold these stations'
    /// skirts and would outweigh the noise. As it is where that leaves less than half.
    fn without_strays(self) -> Self {
        let (mut of_band, mut free) = ([0; BANDS], [0; BANDS]);
        (0..(self.passband.width_hz() / self.width_hz) as usize).for_each(|cell| of_band[self.band_of(cell)] += 1);
        self.free.iter().for_each(|&cell| free[self.band_of(cell)] += 1);
        let enough = |&&cell: &&usize| {
            let band = self.band_of(cell);
            free[band] >= LEAST_CELLS_A_BAND.min(of_band[band])
        };
        let kept: Vec<usize> = self.free.iter().filter(enough).copied().collect();
        if 2 * kept.len() < self.free.len() { self } else { Self { free: kept, ..self } }
    }

    /// Bandwidth of all free cells.
    pub fn free_hz(&self) -> f64 {
        self.free.len() as f64 * self.width_hz
    }

    /// The same without the bands whose middles these are.
    pub fn without(mut self, bands_hz: &[f64]) -> Self {
        let centres = self.band_centres_hz();
        let kept = |cell: &usize| !bands_hz.contains(&centres[self.band_of(*cell)]);
        self.free = self.free.iter().copied().filter(kept).collect();
        self
    }

    /// Stretches of frequency (low, high) that are left out.
    pub fn left_out_hz(&self) -> Vec<(f64, f64)> {
        let count = (self.passband.width_hz() / self.width_hz).floor() as usize;
        let low_hz = |cell: usize| self.passband.low_hz + cell as f64 * self.width_hz;
        let taken = (0..count).filter(|cell| self.free.binary_search(cell).is_err());
        taken.map(|cell| (low_hz(cell), low_hz(cell + 1))).collect()
    }

    /// Middle of each band.
    pub fn band_centres_hz(&self) -> Vec<f64> {
        let step = self.passband.width_hz() / BANDS as f64;
        (0..BANDS).map(|band| self.passband.low_hz + (band as f64 + 0.5) * step).collect()
    }

    /// Bandwidth of the free cells of each band.
    pub fn band_free_hz(&self) -> Vec<f64> {
        let mut free = vec![0.0; BANDS];
        self.free.iter().for_each(|&cell| free[self.band_of(cell)] += self.width_hz);
        free
    }

    fn band_of(&self, cell: usize) -> usize {
        let share = (cell as f64 + 0.5) * self.width_hz / self.passband.width_hz();
        ((share * BANDS as f64) as usize).min(BANDS - 1)
    }

    /// The noise of a recording, slice by slice.
    pub fn series(&self, measurement: &Measurement) -> NoiseSeries {
        let members: Vec<(usize, Vec<usize>)> = self
            .free
            .iter()
            .map(|&cell| {
                let low = self.passband.low_hz + cell as f64 * self.width_hz;
                (self.band_of(cell), bins(measurement, low, low + self.width_hz).collect())
            })
            .collect();
        let mut in_band = [0usize; BANDS];
        members.iter().for_each(|(band, _)| in_band[*band] += 1);
        let slices = measurement.slices.here();
        let mut series = NoiseSeries {
            all: Vec::with_capacity(slices.len()),
            bands: vec![Vec::new(); BANDS],
            slice_s: slices.slice_s,
        };
        for row in slices.rows() {
            let mut sums = [0f64; BANDS];
            for (band, bins) in &members {
                sums[*band] += bins.iter().map(|&k| row[k] as f64).sum::<f64>() / bins.len().max(1) as f64;
            }
            series.all.push(sums.iter().sum::<f64>() / members.len().max(1) as f64);
            for (band, sum) in sums.iter().enumerate().filter(|(band, _)| in_band[*band] >= LEAST_CELLS_A_BAND) {
                series.bands[band].push(sum / in_band[band] as f64);
            }
        }
        series
    }
}

/// Bins of a recording whose middle lies in `low..high`.
fn bins(measurement: &Measurement, low_hz: f64, high_hz: f64) -> impl Iterator<Item = usize> {
    let bin_hz = measurement.slices.bin_hz;
    let first = (low_hz / bin_hz).ceil().max(0.0) as usize;
    let last = measurement.slices.bins.saturating_sub(1);
    (first..).take_while(move |&k| k <= last && (k as f64) * bin_hz < high_hz)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By construction: of 24 bands of 8 cells the first twelve are free, and of one more two cells.
    #[test]
    fn a_cell_left_here_and_there_does_not_count() {
        let cells = |free: Vec<usize>| {
            let passband = Passband { low_hz: 300.0, high_hz: 300.0 + 24.0 * 8.0 * 12.0 };
            Cells { passband, width_hz: 12.0, free, crowded: false }.without_strays().free
        };
        let free: Vec<usize> = (0..12 * 8).collect();
        assert_eq!(cells([free.clone(), vec![17 * 8 + 2, 17 * 8 + 5]].concat()), free);
        // Where strays are all there is, they must do.
        let strays: Vec<usize> = (0..24).map(|band| band * 8 + 3).collect();
        assert_eq!(cells(strays.clone()), strays);
    }
}
