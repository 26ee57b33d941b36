//! Stretches of a night in which a device was there that makes no noise: it stands in a carrier or a family of
//! carriers alone, and lifts nothing between them.
//!
//! A device's carriers come at once, stand at an even level and go at once. Those of stations fade, are keyed, or
//! have a voice upon them; the last shows in the sound only ([`Upon`]). Not here: noise that jumps
//! (`super::episodes`), what lines a short recording holds (`spectrum::lines`).

pub mod edge;
pub mod followed;
pub mod standing;
pub mod steady;
#[cfg(test)]
mod tests;
pub mod track;
pub mod upon;

use std::ops::Range;

use crate::signal::spectrum::statistics::median;
use track::{Floors, Track, tracks};

pub use followed::{Followed, followed};
pub use upon::Upon;

/// Lines whose begins and ends both lie this close, in lengths of a spectrum, come from one device: weak ones are
/// placed badly where a voice crosses them (chosen).
const TOGETHER_ROWS: f64 = 2.5;
/// Least power of a device's lines together over the noise in the passband: one line of so much is heard as a clear
/// tone (our own choice).
const LEAST_SHARE: f64 = 0.1;
/// A shorter one is likely somebody tuning up (chosen); and this many rows tell whether a line keeps its level.
const LEAST_S: f64 = 60.0;
const LEAST_ROWS: usize = 6;

/// A mean spectrum.
#[derive(Debug, Clone, Copy)]
pub struct SpectrumRow<'a> {
    /// Begin, seconds from the start of the series.
    pub from_s: f64,
    /// End.
    pub to_s: f64,
    /// FS²/Hz, from 0 Hz on.
    pub density: &'a [f32],
    /// Independent spectra in it.
    pub averages: f64,
}

impl SpectrumRow<'_> {
    fn seconds(&self) -> f64 {
        self.to_s - self.from_s
    }
}

/// A run of recordings as spectra, and as powers in the passband.
#[derive(Debug, Clone)]
pub struct LineSeries<'a> {
    /// Spectra in order of time.
    pub rows: Vec<SpectrumRow<'a>>,
    /// Bins of the passband.
    pub band: Range<usize>,
    /// Their width.
    pub bin_hz: f64,
    /// Power of the noise in the passband, at even steps; NaN where nothing was recorded.
    pub noise: &'a [f64],
    /// Power in the passband, all of it.
    pub total: &'a [f64],
    /// Distance of two of these.
    pub step_s: f64,
}

/// A stretch in which a device's lines stood.
#[derive(Debug, Clone, PartialEq)]
pub struct LineStretch {
    /// Begin, seconds from the start of the series.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// Whether they stood when the series began.
    pub from_before: bool,
    /// Whether they stood when it ended.
    pub until_after: bool,
    /// Power of all of them.
    pub power: f64,
    /// Where they stood, Hz, in order.
    pub freqs_hz: Vec<f64>,
    /// Where the strongest of them did.
    pub strongest_hz: f64,
}

/// All stretches in order of their begin.
pub fn line_stretches(series: &LineSeries<'_>) -> Vec<LineStretch> {
    if series.rows.len() < LEAST_ROWS || series.band.len() < LEAST_ROWS {
        return Vec::new();
    }
    let floors = Floors::of(series);
    let lines = tracks(series, &floors)
        .into_iter()
        .map(Track::trimmed)
        .filter(|track| track.rows.len() >= LEAST_ROWS && steady::is_steady(track))
        .filter_map(|track| edge::placed(series, &floors, &track))
        .filter(|line| !(line.from_before && line.until_after))
        .collect();
    let within_s = TOGETHER_ROWS * median(&mut series.rows.iter().map(SpectrumRow::seconds).collect::<Vec<_>>());
    let mut found: Vec<LineStretch> = devices(lines, within_s).collect();
    found.retain(|one| one.end_s - one.start_s >= LEAST_S && is_heard(series, one));
    found.retain(|one| !steady::is_keyed(series, one));
    found.sort_by(|a, b| a.start_s.total_cmp(&b.start_s).then(a.end_s.total_cmp(&b.end_s)));
    found
}

/// Lines that come and go together, within so much time, are one device's.
fn devices(mut lines: Vec<LineStretch>, within_s: f64) -> impl Iterator<Item = LineStretch> {
    // The strongest first: its edges are the surest.
    lines.sort_by(|a, b| b.power.total_cmp(&a.power).then(a.freqs_hz[0].total_cmp(&b.freqs_hz[0])));
    let mut groups: Vec<Vec<LineStretch>> = Vec::new();
    for line in lines {
        let alike = |group: &&mut Vec<LineStretch>| {
            let first = &group[0];
            let near = |open: bool, own_open: bool, a: f64, b: f64| {
                open == own_open && (open || (a - b).abs() <= within_s)
            };
            near(first.from_before, line.from_before, first.start_s, line.start_s)
                && near(first.until_after, line.until_after, first.end_s, line.end_s)
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.push(line),
            None => groups.push(vec![line]),
        }
    }
    groups.into_iter().map(|group| {
        let middle = |value: fn(&LineStretch) -> f64| median(&mut group.iter().map(value).collect::<Vec<_>>());
        let mut freqs_hz: Vec<f64> = group.iter().flat_map(|line| line.freqs_hz.clone()).collect();
        freqs_hz.sort_by(f64::total_cmp);
        LineStretch {
            start_s: middle(|line| line.start_s),
            end_s: middle(|line| line.end_s),
            power: group.iter().map(|line| line.power).sum(),
            freqs_hz,
            ..group[0].clone()
        }
    })
}

fn is_heard(series: &LineSeries<'_>, one: &LineStretch) -> bool {
    let mut noise = series.steps_in(series.noise, one.start_s, one.end_s);
    !noise.is_empty() && one.power >= LEAST_SHARE * median(&mut noise)
}

impl LineSeries<'_> {
    /// The values of a series of steps that lie wholly within a span, without gaps.
    fn steps_in(&self, values: &[f64], from_s: f64, to_s: f64) -> Vec<f64> {
        let place = |at: f64| (at.max(0.0) as usize).min(values.len());
        let (from, to) = (place((from_s / self.step_s).ceil()), place((to_s / self.step_s).floor()));
        values[from.min(to)..to].iter().copied().filter(|value| value.is_finite()).collect()
    }
}
