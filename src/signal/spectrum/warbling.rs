//! Carriers whose pitch runs to and fro over more than a line is wide, as that of a supply does whose regulation
//! hunts: their power stays, and their pitch comes back at an even rate, as no station's does. Not here: such that
//! keep within a line (`lines`).

use std::ops::Range;

use super::lines::{GUARD_BINS, Line, STANDS_OUT};
use super::mixed_down::MixedDown;
use super::pitch::{Motion, Pitch};
use super::slices::Slices;
use super::standing::STANDS;
use super::statistics::{mean, quantile};

/// Bins that stand no further apart than this are of one signal, Hz. Chosen: as a sawtooth's ends have less power.
const GAP_HZ: f64 = 20.0;
/// How wide such a signal is, Hz. Chosen: narrower, a line is found; wider, pictures sent line by line come back at an
/// even rate as well (weather charts shift by 800 Hz; common practice).
const WIDTHS_HZ: Range<f64> = 15.0..250.0;
/// Signals looked at, the strongest first. Chosen: bounds the time.
const MOST: usize = 4;
/// How far beside its bins its tops are looked for, Hz. Mathematics: half the main lobe of a `pitch` window.
const BESIDE_HZ: f64 = 16.0;

/// Where to look.
pub struct WarblingSearch<'a> {
    /// The recording.
    pub slices: &'a Slices,
    /// Noise floor per bin, FS²/Hz.
    pub floor: &'a [f64],
    /// Bins to look in.
    pub bins: Range<usize>,
    /// Its first samples, and how many a second.
    pub head: &'a [f32],
    /// Samples a second.
    pub rate_hz: f64,
}

impl WarblingSearch<'_> {
    /// Such carriers beside the steady ones among `lines`.
    pub fn find(&self, lines: &[Line]) -> Vec<Line> {
        let bin_hz = self.slices.bin_hz;
        let guard_hz = GUARD_BINS * bin_hz;
        let over = |k: usize| (self.slices.mean[k] - self.floor[k]) * bin_hz;
        let known = |hz: f64| {
            let of = |line: &Line| (line.span_hz.0 - guard_hz..=line.span_hz.1 + guard_hz).contains(&hz);
            lines.iter().any(|line| line.steady && of(line))
        };
        let stands = |&k: &usize| self.slices.mean[k] > STANDS_OUT * self.floor[k] && !known(k as f64 * bin_hz);
        let standing: Vec<usize> = self.bins.clone().filter(stands).collect();
        let gap = (GAP_HZ / bin_hz) as usize + 1;
        let mut groups: Vec<(f64, Range<usize>)> = standing
            .chunk_by(|a, b| b - a <= gap)
            .map(|group| group[0]..group[group.len() - 1] + 1)
            .filter(|span| WIDTHS_HZ.contains(&(span.len() as f64 * bin_hz)))
            .map(|span| (span.clone().map(over).sum(), span))
            .collect();
        groups.sort_by(|a, b| b.0.total_cmp(&a.0));
        groups.truncate(MOST);
        groups.into_iter().filter_map(|(power, span)| self.warbles(power, span)).collect()
    }

    /// Whether its power stays in all of the recording: what does not in slices does not in shorter windows.
    fn stays(&self, span: &Range<usize>) -> bool {
        let floor: f64 = self.floor[span.clone()].iter().sum();
        let over = |row: &[f32]| row[span.clone()].iter().map(|&density| f64::from(density)).sum::<f64>() - floor;
        let mut powers: Vec<f64> = self.slices.rows().map(over).collect();
        let mean = powers.iter().sum::<f64>() / powers.len().max(1) as f64;
        quantile(&mut powers, 0.1) >= STANDS * mean
    }

    fn warbles(&self, power: f64, span: Range<usize>) -> Option<Line> {
        let bin_hz = self.slices.bin_hz;
        let span_hz = (span.start as f64 * bin_hz, (span.end - 1) as f64 * bin_hz);
        let middle_hz = (span_hz.0 + span_hz.1) / 2.0;
        let floor = mean(&self.floor[span.clone()]);
        if !self.stays(&span) {
            return None;
        }
        let mixed = MixedDown::of(self.head, self.rate_hz, MixedDown::WIDE_HZ, middle_hz, 0.0);
        let pitch = Pitch::of(&mixed, (span_hz.1 - span_hz.0) / 2.0 + BESIDE_HZ, floor);
        (pitch.motion() == Some(Motion::ToAndFro) && pitch.evenness() >= STANDS).then_some(Line {
            freq_hz: middle_hz,
            drift_hz_per_s: 0.0,
            span_hz,
            power,
            floor,
            presence: 1.0,
            steady: true,
            shown: true,
            unevenness: 0.0,
            mains_sidebands: false,
            beats: false,
            warbles: true,
        })
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use crate::contrast::{Character, ContrastSettings, contrast};
    use crate::demo::synth::{Receiver, Scene};
    use crate::signal::measure::{MeasureSettings, Measurement};
    use crate::units::Dbfs;

    fn measured(seed: u64, add: impl Fn(f64) -> f64) -> Measurement {
        let mut take = Scene::new(Receiver::ssb(12_000)).band_noise(Dbfs(-40.0)).seed(seed).render(10.0);
        let rate = f64::from(take.rate_hz);
        take.samples.iter_mut().enumerate().for_each(|(n, x)| *x += add(n as f64 / rate) as f32);
        Measurement::of_samples(take.rate_hz, &take.samples, &MeasureSettings::default())
    }

    /// Source: the signal as it is made, ±50 Hz about 1450 Hz twice a second, of mean square a²/2. Tolerance: a
    /// fifth of the power and a bin, as the weak edges are not told from noise.
    #[test]
    fn a_warbling_carrier_is_one_line_and_the_devices_only_where_it_came() {
        let warble = |t: f64| 0.014 * (TAU * 1450.0 * t + 50.0 / 2.0 * (TAU * 2.0 * t).sin()).sin();
        let (off, on) = (measured(1, |_| 0.0), measured(2, warble));
        let [line] = on.lines.as_slice() else { panic!("{:?}", on.lines) };
        assert!((line.power / 9.8e-5 - 1.0).abs() < 0.2 && (line.freq_hz - 1450.0).abs() < 6.0, "{line:?}");
        let kind = |off: &Measurement, on: &Measurement| {
            contrast(&[off], &[on], &ContrastSettings::default()).figures.expect("both can be measured").verdict
        };
        assert_eq!(kind(&off, &on).character, Character::Carriers);
        assert_eq!(kind(&measured(3, warble), &on).character, Character::None);
    }
}
