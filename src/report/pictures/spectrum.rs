//! Spectra and spectrograms of recordings as points and pixels.

use crate::plot::image::Image;
use crate::signal::excerpt::Excerpt;
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::median;
use crate::units::DbfsPerHz;

/// Most points of a curve; more than pixels are of no use.
const MOST_POINTS: usize = 1600;

/// A station stands so far above the floor (ratio), mean over mean. Chosen: 8 dB; noise averaged over some seconds
/// keeps within 2.
const STANDS_OVER: f64 = 6.3;
/// Two places within this belong to one station. Chosen: keying and a voice's neighbouring tones.
const STATION_HZ: f64 = 150.0;
/// A line's own skirts reach so far, Hz. Chosen: some seven bins.
const LINE_HZ: f64 = 40.0;
/// The floor is not known well on the filter's skirts, Hz; chosen.
const EDGE_HZ: f64 = 60.0;
/// Stations marked. Chosen: a voice has no end of them.
const MOST_STATIONS: usize = 3;

/// A density spectrum, FS²/Hz per bin.
pub(crate) struct Spectrum {
    bin_hz: f64,
    density: Vec<f64>,
}

impl Spectrum {
    /// Mean over those recordings that have the first one's bins.
    fn mean_of(side: &[&Measurement], pick: impl Fn(&Measurement) -> &Vec<f64>) -> Self {
        let first = side[0];
        let alike: Vec<&&Measurement> = side.iter().filter(|m| m.slices.bin_hz == first.slices.bin_hz).collect();
        let bins = alike.iter().map(|m| m.slices.bins).min().unwrap_or(0);
        let mut density = vec![0.0; bins];
        for m in &alike {
            density.iter_mut().zip(pick(m)).for_each(|(sum, value)| *sum += value / alike.len() as f64);
        }
        Self { bin_hz: first.slices.bin_hz, density }
    }

    /// (Hz, dBFS in 1 Hz) between two frequencies; where there are more bins than points, each point is the largest
    /// of its bins, so that no line is lost.
    pub(crate) fn points(&self, from_hz: f64, to_hz: f64) -> Vec<(f64, f64)> {
        let first = (from_hz / self.bin_hz).ceil() as usize;
        let end = ((to_hz / self.bin_hz).floor() as usize + 1).min(self.density.len());
        if first >= end {
            return Vec::new();
        }
        let together = (end - first).div_ceil(MOST_POINTS);
        (first..end)
            .step_by(together)
            .map(|start| {
                let bins = &self.density[start..(start + together).min(end)];
                let largest = bins.iter().copied().fold(0.0, f64::max);
                ((start as f64 + (bins.len() - 1) as f64 / 2.0) * self.bin_hz, DbfsPerHz::from_density(largest).0)
            })
            .collect()
    }

    /// Median level between two frequencies, dBFS in 1 Hz.
    pub(crate) fn median_within(&self, from_hz: f64, to_hz: f64) -> Option<f64> {
        let place = |hz: f64| ((hz / self.bin_hz).round().max(0.0) as usize).min(self.density.len());
        let mut inside = self.density.get(place(from_hz)..place(to_hz))?.to_vec();
        if inside.is_empty() {
            return None;
        }
        Some(DbfsPerHz::from_density(median(&mut inside)).0).filter(|level| level.is_finite())
    }

    /// What stands far above a floor between two frequencies, strongest first, beside what has a name: one place a
    /// station, a voice as a few.
    pub(crate) fn standing_over(&self, floor: &Self, (from_hz, to_hz): (f64, f64), named_hz: &[f64]) -> Vec<f64> {
        let hz = |bin: usize| bin as f64 * self.bin_hz;
        let mut found: Vec<f64> = Vec::new();
        let ratio = |bin: usize| self.density[bin] / floor.density.get(bin).copied().unwrap_or(0.0);
        while found.len() < MOST_STATIONS {
            let is_free = |bin: &usize| {
                (from_hz + EDGE_HZ..=to_hz - EDGE_HZ).contains(&hz(*bin))
                    && named_hz.iter().all(|line| (line - hz(*bin)).abs() > LINE_HZ)
                    && found.iter().all(|other| (other - hz(*bin)).abs() > STATION_HZ)
            };
            let bins = (0..self.density.len()).filter(is_free).filter(|bin| ratio(*bin).is_finite());
            match bins.max_by(|a, b| ratio(*a).total_cmp(&ratio(*b))) {
                Some(bin) if ratio(bin) > STANDS_OVER => {
                    let place = hz(bin);
                    found.push(place);
                }
                _ => break,
            }
        }
        found
    }

    pub(crate) fn level_near(&self, freq_hz: f64) -> f64 {
        let middle = (freq_hz / self.bin_hz).round() as usize;
        let (from, to) = (middle.saturating_sub(2), (middle + 3).min(self.density.len()));
        let largest = self.density.get(from..to).unwrap_or_default().iter().copied().fold(0.0, f64::max);
        DbfsPerHz::from_density(largest).0
    }
}

pub(crate) fn mean_spectrum(side: &[&Measurement]) -> Spectrum {
    Spectrum::mean_of(side, |m| &m.slices.mean)
}

pub(crate) fn floor_spectrum(side: &[&Measurement]) -> Spectrum {
    Spectrum::mean_of(side, |m| &m.floor)
}

pub(crate) fn image(measurement: &Measurement, top_hz: f64) -> Image {
    let slices = measurement.slices.here();
    let cols = (slices.bin_of(top_hz) + 1).min(slices.bins);
    Image {
        rows: slices.len(),
        cols,
        db: slices
            .rows()
            .flat_map(|row| row[..cols].iter().map(|&density| DbfsPerHz::from_density(density as f64).0 as f32))
            .collect(),
        duration_s: slices.len() as f64 * slices.slice_s,
        freq_hz: (0.0, (cols - 1) as f64 * slices.bin_hz),
    }
}

/// An excerpt as an image.
pub(crate) fn excerpt_image(excerpt: &Excerpt) -> Image {
    let level = |density: &f32| DbfsPerHz::from_density(f64::from(*density)).0 as f32;
    Image {
        rows: excerpt.moments(),
        cols: excerpt.bins,
        db: excerpt.density.read().iter().map(level).collect(),
        duration_s: excerpt.moments() as f64 * excerpt.step_s,
        freq_hz: (0.0, (excerpt.bins - 1) as f64 * excerpt.bin_hz),
    }
}
