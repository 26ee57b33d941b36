//! Carriers (birdies): single, drifting, wandering, modulated at the mains rate; and families at one spacing.

use std::f64::consts::TAU;

use super::gauss::Gauss;
use super::passband::{Grid, Receiver};
use super::source::{Antenna, Line, Source};

/// One carrier. Its level counts relative to the others of its [`Carriers`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carrier {
    /// Audio frequency at the take's first sample.
    pub freq_hz: f64,
    /// Level relative to the others, dB.
    pub relative_db: f64,
    /// Steady drift, Hz/s.
    pub drift_hz_per_s: f64,
    /// Random walk of the frequency: standard deviation after one second, Hz; grows as the root of time.
    pub wander_hz: f64,
    /// Amplitude modulation: rate and depth (0..1); none where `None`.
    pub hum: Option<(f64, f64)>,
}

impl Carrier {
    /// A steady carrier.
    pub fn at(freq_hz: f64) -> Self {
        Self { freq_hz, relative_db: 0.0, drift_hz_per_s: 0.0, wander_hz: 0.0, hum: None }
    }

    /// The same, this many dB above the others.
    pub fn relative(mut self, db: f64) -> Self {
        self.relative_db = db;
        self
    }

    /// The same, drifting.
    pub fn drifting(mut self, hz_per_s: f64) -> Self {
        self.drift_hz_per_s = hz_per_s;
        self
    }

    /// The same, wandering at random by this many Hz (standard deviation) in a second.
    pub fn wandering(mut self, hz: f64) -> Self {
        self.wander_hz = hz;
        self
    }

    /// The same, its amplitude modulated by 1 + depth·cos at `rate_hz`: sidebands of depth/2 of its amplitude.
    pub fn hummed(mut self, rate_hz: f64, depth: f64) -> Self {
        self.hum = Some((rate_hz, depth));
        self
    }
}

/// Carriers of one device, which drift and wander together on top of what each does by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Carriers {
    /// The carriers.
    pub members: Vec<Carrier>,
    /// Drift of all together, Hz/s.
    pub common_drift_hz_per_s: f64,
    /// Random walk of all together: standard deviation after one second, Hz.
    pub common_wander_hz: f64,
}

impl Carriers {
    /// These carriers, with no common motion.
    pub fn new(members: impl IntoIterator<Item = Carrier>) -> Self {
        Self { members: members.into_iter().collect(), common_drift_hz_per_s: 0.0, common_wander_hz: 0.0 }
    }

    /// A comb: one carrier at `offset_hz` + k·`spacing_hz` for each k of `members`, all at one level. Members that
    /// are to be missing are left out of the list.
    pub fn comb(spacing_hz: f64, offset_hz: f64, members: impl IntoIterator<Item = u32>) -> Self {
        Self::new(members.into_iter().map(|k| Carrier::at(offset_hz + f64::from(k) * spacing_hz)))
    }

    /// The same with levels drawn from a Gaussian of this many dB.
    pub fn levels_spread(mut self, db: f64, seed: u64) -> Self {
        let mut gauss = Gauss::new(seed, "levels of carriers");
        self.members.iter_mut().for_each(|m| m.relative_db += db * gauss.normal());
        self
    }

    /// The same with these levels relative to each other, in dB, in the members' order; members beyond the list
    /// keep theirs.
    pub fn levels(mut self, db: &[f64]) -> Self {
        self.members.iter_mut().zip(db).for_each(|(m, db)| m.relative_db = *db);
        self
    }

    /// The same, drifting together.
    pub fn drifting(mut self, hz_per_s: f64) -> Self {
        self.common_drift_hz_per_s = hz_per_s;
        self
    }

    /// The same, wandering together.
    pub fn wandering(mut self, hz: f64) -> Self {
        self.common_wander_hz = hz;
        self
    }
}

/// A random walk over the grid that is 0 at the take's first sample; `hz` its standard deviation after a second.
fn walk(grid: &Grid, hz: f64, gauss: &mut Gauss) -> Vec<f64> {
    if hz == 0.0 {
        return vec![0.0; grid.len];
    }
    let step = hz / grid.rate_hz.sqrt();
    let mut at = 0.0;
    let mut path: Vec<f64> = (0..grid.len)
        .map(|_| {
            at += step * gauss.normal();
            at
        })
        .collect();
    let origin = path[grid.lead.min(grid.len - 1)];
    path.iter_mut().for_each(|f| *f -= origin);
    path
}

/// Adds one carrier to the wave; returns what became of its frequency.
fn add(wave: &mut [f64], grid: &Grid, carrier: &Carrier, common: &[f64], gauss: &mut Gauss) -> Line {
    let amplitude = 10f64.powf(carrier.relative_db / 20.0);
    let own = walk(grid, carrier.wander_hz, gauss);
    let (mut phase, hum_phase) = (gauss.uniform(), TAU * gauss.uniform());
    let freq = |i: usize| carrier.freq_hz + carrier.drift_hz_per_s * grid.time(i) + own[i] + common[i];
    for (i, sample) in wave.iter_mut().enumerate() {
        let swell =
            carrier.hum.map_or(1.0, |(rate, depth)| 1.0 + depth * (TAU * rate * grid.time(i) + hum_phase).cos());
        // A carrier that drifts out of 0 .. half the rate is gone; it does not fold back as an alias.
        if (0.0..grid.rate_hz / 2.0).contains(&freq(i)) {
            *sample += amplitude * swell * (TAU * phase).sin();
        }
        phase = (phase + freq(i) / grid.rate_hz).fract();
    }
    let take = grid.lead..grid.lead + grid.take;
    Line {
        start_hz: freq(take.start.min(grid.len - 1)),
        end_hz: freq(take.end.saturating_sub(1)),
        mean_hz: take.clone().map(freq).sum::<f64>() / (take.len().max(1) as f64),
        amplitude,
    }
}

impl Source for Carriers {
    fn at_antenna(&self, grid: &Grid, _: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let mut common = walk(grid, self.common_wander_hz, &mut gauss);
        for (i, f) in common.iter_mut().enumerate() {
            *f += self.common_drift_hz_per_s * grid.time(i);
        }
        let mut wave = vec![0.0; grid.len];
        let lines = self.members.iter().map(|c| add(&mut wave, grid, c, &common, &mut gauss)).collect();
        Antenna { lines, ..Antenna::plain(wave) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::mean_square;
    use approx::assert_abs_diff_eq;

    /// Power of the wave at one frequency, as the mean square of a sine there.
    fn power_at(wave: &[f64], freq_hz: f64) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (i, x) in wave.iter().enumerate() {
            let angle = TAU * freq_hz * i as f64 / 8000.0;
            re += x * angle.cos();
            im += x * angle.sin();
        }
        2.0 * (re * re + im * im) / (wave.len() as f64).powi(2)
    }

    fn take(carriers: &Carriers, seconds: f64) -> (Vec<f64>, Vec<Line>) {
        let grid = Grid::new(8000, seconds);
        let antenna = carriers.at_antenna(&grid, &Receiver::ssb(8000), 9, "carriers");
        (grid.cut(&antenna.wave).to_vec(), antenna.lines)
    }

    #[test]
    fn a_steady_carrier_is_a_sine() {
        let (wave, lines) = take(&Carriers::new([Carrier::at(1000.0)]), 10.0);
        assert_abs_diff_eq!(power_at(&wave, 1000.0), 0.5, epsilon = 1e-6);
        assert_abs_diff_eq!(mean_square(&wave), 0.5, epsilon = 1e-6);
        assert_abs_diff_eq!(lines[0].mean_hz, 1000.0, epsilon = 1e-9);
    }

    /// Source: amplitude modulation of depth m: each sideband m²/4 of the carrier's power, in all 1 + m²/2.
    #[test]
    fn hum_makes_sidebands() {
        let (wave, _) = take(&Carriers::new([Carrier::at(1000.0).hummed(100.0, 0.6)]), 10.0);
        assert_abs_diff_eq!(power_at(&wave, 1000.0), 0.5, epsilon = 1e-6);
        assert_abs_diff_eq!(power_at(&wave, 1100.0), 0.5 * 0.09, epsilon = 1e-6);
        assert_abs_diff_eq!(power_at(&wave, 900.0), 0.5 * 0.09, epsilon = 1e-6);
        assert_abs_diff_eq!(mean_square(&wave), 0.5 * 1.18, epsilon = 1e-6);
    }

    /// A drifting carrier crosses each frequency when it should: over half a second around that time it is there.
    #[test]
    fn drift_moves_the_frequency() {
        let comb = Carriers::comb(200.0, 50.0, [5, 7]).drifting(0.5);
        let (wave, lines) = take(&comb, 20.0);
        for (line, start) in lines.iter().zip([1050.0, 1450.0]) {
            assert_abs_diff_eq!(line.start_hz, start, epsilon = 1e-6);
            assert_abs_diff_eq!(line.end_hz, start + 10.0, epsilon = 1e-3);
            assert_abs_diff_eq!(line.mean_hz, start + 5.0, epsilon = 1e-3);
            let middle = &wave[8000 * 10 - 2000..8000 * 10 + 2000];
            assert!(power_at(middle, start + 5.0) > 0.45, "{}", power_at(middle, start + 5.0));
            assert!(power_at(middle, start) < 0.05);
        }
    }

    /// Source: a random walk's variance grows with time. Forty seeded walks of 9 s: 3 times the 1 s value, within
    /// four standard errors 1/√(2·40).
    #[test]
    fn wander_is_a_random_walk() {
        let grid = Grid::new(1000, 9.0);
        let square: f64 = (0..40)
            .map(|seed| {
                let path = walk(&grid, 0.2, &mut Gauss::new(seed, "walk"));
                assert_eq!(path[grid.lead], 0.0);
                path[grid.lead + grid.take - 1].powi(2)
            })
            .sum();
        let ratio = (square / 40.0).sqrt() / 0.6;
        assert_abs_diff_eq!(ratio, 1.0, epsilon = 4.0 / 80f64.sqrt());
    }

    #[test]
    fn a_comb_has_its_members_and_its_gaps() {
        // Source: spacing, offset and members of the signal `comb` in the project's reference signals.
        let comb = Carriers::comb(173.3, 40.0, [2, 3, 5, 8, 11, 13]).levels(&[0.0, -3.0]);
        let (wave, _) = take(&comb, 20.0);
        assert_abs_diff_eq!(power_at(&wave, 40.0 + 2.0 * 173.3), 0.5, epsilon = 1e-3);
        assert_abs_diff_eq!(power_at(&wave, 40.0 + 3.0 * 173.3), 0.5 * 0.501_19, epsilon = 1e-3);
        assert!(power_at(&wave, 40.0 + 4.0 * 173.3) < 1e-4);
    }

    #[test]
    fn what_leaves_the_band_does_not_fold_back() {
        let (wave, _) = take(&Carriers::new([Carrier::at(3990.0).drifting(10.0)]), 4.0);
        assert!(mean_square(&wave[16_000..]) < 1e-12);
    }
}
