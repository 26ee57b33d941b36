//! A scene: noise, stations and devices at a receiver, mixed at stated powers into one take.
//!
//! ```
//! use noisetally::demo::synth::{Buzz, Receiver, Scene};
//! use noisetally::units::{Db, Dbfs};
//!
//! let quiet = Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(-45.0));
//! let off = quiet.clone().seed(1).render(5.0);
//! let on = quiet.seed(2).device(Buzz::gated(100.0, 0.3), Db(10.0)).render(5.0);
//! assert_eq!(off.samples.len(), on.samples.len());
//! assert!((on.truth.excess().0 - 10.0).abs() < 1e-9);
//! ```

use super::band::{BandNoise, Crashes, Fading};
use super::carriers::Carriers;
use super::device::Device;
use super::gauss::Gauss;
use super::passband::{Grid, Receiver, mean_square};
use super::source::{Antenna, Source};
use super::station::Station;
use super::trap::Trap;
use super::truth::{Kind, LineTruth, Part, Role, TakeTruth};
use crate::units::{Db, Dbfs};

/// How strong a part is to be, after the receiver's filter.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Strength {
    /// So that 10·lg((noise + part)/noise) is this.
    Excess(Db),
    /// Its mean power over the noise.
    Snr(Db),
    /// Its mean power.
    Level(Dbfs),
    /// The level of a carrier whose `relative_db` is 0.
    LineLevel(Dbfs),
}

/// What a stated power means for Gaussian noise, whose power differs a little from take to take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scaling {
    /// The mean over all takes: each take then differs as chance has it, by about 4.3/√(BT) dB. What a test of
    /// intervals needs, and the default. Clicks and carriers are scaled by the take itself even so.
    #[default]
    Ensemble,
    /// Each part's mean square in this very take is exact. Such takes spread less than real ones do.
    Exact,
}

/// A receiver, what it hears and how strong; `render` makes a take of it. Levels are of the audio, in the passband.
#[derive(Debug, Clone)]
pub struct Scene {
    receiver: Receiver,
    seed: u64,
    scaling: Scaling,
    band: Option<Dbfs>,
    band_fading: Option<Fading>,
    own: Option<Dbfs>,
    parts: Vec<(Piece, Strength)>,
    traps: Vec<Trap>,
}

#[derive(Debug, Clone)]
enum Piece {
    Station(Station),
    Crashes(Crashes),
    Device(Device),
}

impl Piece {
    fn source(&self) -> (&dyn Source, Kind, Role) {
        match self {
            Self::Station(station) => (station, Kind::Wanted, Role::Station),
            Self::Crashes(crashes) => (crashes, Kind::Crashes, Role::Crashes),
            Self::Device(device) => {
                let (source, kind) = device.source();
                (source, kind, Role::Device)
            }
        }
    }
}

/// A take: the audio and what is true of it.
#[derive(Debug, Clone)]
pub struct Take {
    /// Mono, full scale ±1 (may go beyond: nothing clips unless a trap does).
    pub samples: Vec<f32>,
    /// Samples a second.
    pub rate_hz: u32,
    /// What is true of it, before traps.
    pub truth: TakeTruth,
}

impl Take {
    /// Largest magnitude.
    pub fn peak(&self) -> f32 {
        self.samples.iter().fold(0.0, |peak, x| peak.max(x.abs()))
    }
}

impl Scene {
    /// Silence at this receiver, seed 0.
    pub fn new(receiver: Receiver) -> Self {
        Self {
            receiver,
            seed: 0,
            scaling: Scaling::Ensemble,
            band: None,
            band_fading: None,
            own: None,
            parts: Vec::new(),
            traps: Vec::new(),
        }
    }

    /// The realisation: same seed, same bytes. Each part has a random stream of its own, so parts with the same
    /// seed share their waveforms between scenes; give each take its own seed.
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }

    /// What the stated powers of Gaussian noise mean.
    pub fn scaling(mut self, scaling: Scaling) -> Self {
        self.scaling = scaling;
        self
    }

    /// The antenna's noise, white before the filter, at this level after it.
    pub fn band_noise(mut self, level: Dbfs) -> Self {
        self.band = Some(level);
        self
    }

    /// Band noise that rises and falls; its level then is the mean over whole periods.
    pub fn band_fading(mut self, fading: Fading) -> Self {
        self.band_fading = Some(fading);
        self
    }

    /// The receiver's own noise, at this level after the filter; there with or without an antenna.
    pub fn receiver_noise(mut self, level: Dbfs) -> Self {
        self.own = Some(level);
        self
    }

    /// A wanted signal whose mean power, pauses included, stands `snr` over the noise in the passband.
    pub fn station(mut self, station: Station, snr: Db) -> Self {
        self.parts.push((Piece::Station(station), Strength::Snr(snr)));
        self
    }

    /// Static crashes whose mean power stands `over_noise` over the noise. If none happens to fall into the take,
    /// there is none.
    pub fn crashes(mut self, crashes: Crashes, over_noise: Db) -> Self {
        self.parts.push((Piece::Crashes(crashes), Strength::Snr(over_noise)));
        self
    }

    /// A device's noise such that it alone lifts the noise by `excess`: 10·lg((noise + device)/noise). Of several,
    /// the powers add. An excess of 0 or less adds nothing; without any noise to refer to, neither.
    pub fn device(mut self, device: impl Into<Device>, excess: Db) -> Self {
        self.parts.push((Piece::Device(device.into()), Strength::Excess(excess)));
        self
    }

    /// A device's noise at this mean level.
    pub fn device_level(mut self, device: impl Into<Device>, level: Dbfs) -> Self {
        self.parts.push((Piece::Device(device.into()), Strength::Level(level)));
        self
    }

    /// A device's carriers, one of `relative_db` 0 standing at `level` where the passband is flat.
    pub fn carriers(mut self, carriers: Carriers, level: Dbfs) -> Self {
        self.parts.push((Piece::Device(Device::Carriers(carriers)), Strength::LineLevel(level)));
        self
    }

    /// Something that spoils the finished audio; in the order given.
    pub fn trap(mut self, trap: Trap) -> Self {
        self.traps.push(trap);
        self
    }

    /// The take. Takes about 100 bytes of memory a sample while it works: meant for minutes, not for nights.
    pub fn render(&self, seconds: f64) -> Take {
        let grid = Grid::new(self.receiver.rate_hz, seconds);
        let (mut audio, noise_expected) = self.noise(&grid);
        let noise_measured = mean_square(&audio);
        let mut parts = Vec::new();
        for (i, (piece, strength)) in self.parts.iter().enumerate() {
            let (wave, part) = self.part(i, piece, *strength, noise_expected, &grid);
            audio.iter_mut().zip(wave).for_each(|(sum, x)| *sum += x);
            parts.push(part);
        }
        let noise_bandwidth_hz = self.receiver.noise_gain(|_| 1.0) * grid.rate_hz / 2.0;
        for (i, trap) in self.traps.iter().enumerate() {
            trap.apply(&mut audio, grid.rate_hz, &mut Gauss::new(self.seed, &format!("trap {i}")));
        }
        Take {
            samples: audio.iter().map(|&x| x as f32).collect(),
            rate_hz: self.receiver.rate_hz,
            truth: TakeTruth { noise_expected, noise_measured, noise_bandwidth_hz, parts },
        }
    }

    /// Band and receiver noise after the filter, and the mean square meant.
    fn noise(&self, grid: &Grid) -> (Vec<f64>, f64) {
        let mut sum = vec![0.0; grid.take];
        let mut expected = 0.0;
        let band = (self.band, BandNoise { fading: self.band_fading }, "band noise");
        let own = (self.own, BandNoise::default(), "receiver noise");
        for (level, source, name) in [band, own] {
            let Some(level) = level else { continue };
            let antenna = source.at_antenna(grid, &self.receiver, self.seed, name);
            let audio = self.receiver.filter(&antenna.wave);
            let gain = amplitude(level.mean_square(), antenna.expected.unwrap_or(0.0));
            sum.iter_mut().zip(grid.cut(&audio)).for_each(|(s, x)| *s += gain * x);
            expected += level.mean_square();
        }
        if self.scaling == Scaling::Exact {
            let gain = amplitude(expected, mean_square(&sum));
            sum.iter_mut().for_each(|x| *x *= gain);
        }
        (sum, expected)
    }

    /// One part after the filter at its strength, and what is true of it.
    fn part(&self, index: usize, piece: &Piece, strength: Strength, noise: f64, grid: &Grid) -> (Vec<f64>, Part) {
        let (source, kind, role) = piece.source();
        let antenna = source.at_antenna(grid, &self.receiver, self.seed, &format!("part {index}"));
        let filtered = self.receiver.filter(&antenna.wave);
        let audio = grid.cut(&filtered);
        let (gain, expected) = self.scale(strength, noise, &antenna, mean_square(audio));
        let wave: Vec<f64> = audio.iter().map(|x| gain * x).collect();
        let lines = antenna
            .lines
            .iter()
            .map(|line| {
                let peak = gain * line.amplitude * self.receiver.gain(line.mean_hz);
                let level = Dbfs::from_mean_square(peak * peak / 2.0);
                LineTruth { start_hz: line.start_hz, end_hz: line.end_hz, mean_hz: line.mean_hz, level }
            })
            .collect();
        let measured = mean_square(&wave);
        (wave, Part { role, kind, expected, measured, lines, pulses_s: antenna.pulses_s })
    }

    /// Amplitude factor for a part, and the mean square it is then expected to have.
    fn scale(&self, strength: Strength, noise: f64, antenna: &Antenna, measured: f64) -> (f64, f64) {
        let own = match self.scaling {
            Scaling::Ensemble => antenna.expected.unwrap_or(measured),
            Scaling::Exact => measured,
        };
        let gain = match strength {
            Strength::Excess(excess) => amplitude(noise * (excess.ratio() - 1.0).max(0.0), own),
            Strength::Snr(snr) => amplitude(noise * snr.ratio(), own),
            Strength::Level(level) => amplitude(level.mean_square(), own),
            Strength::LineLevel(level) => amplitude(level.mean_square(), 0.5),
        };
        (gain, gain * gain * own)
    }
}

/// The factor that brings a wave of mean square `own` to `wanted`; 0 where the wave is silent.
fn amplitude(wanted: f64, own: f64) -> f64 {
    if own > 0.0 { (wanted / own).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::{Buzz, Carrier, Clicks, Hash};
    use approx::assert_abs_diff_eq;

    fn quiet(seed: u64) -> Scene {
        Scene::new(Receiver::ssb(8000)).band_noise(Dbfs(-45.0)).receiver_noise(Dbfs(-62.0)).seed(seed)
    }

    fn devices() -> Vec<Device> {
        vec![
            Hash::flat().into(),
            Hash::sloping(-3.0).humped(1200.0, 300.0, 8.0).into(),
            Buzz::gated(100.0, 0.3).jittered(0.01).into(),
            Buzz::sine(120.0).into(),
            Clicks::poisson(5.0).spread(3.0).into(),
            Carriers::comb(217.0, 30.0, 2..12).levels_spread(4.0, 1).drifting(0.3).into(),
            Carrier::at(1000.0).hummed(100.0, 0.5).into(),
        ]
    }

    /// Source: relation of excess and added power (ISO 3744:2010, 8.2.3; formula from memory, values derived): a
    /// device 9.136 dB below, 0.021 dB below and 9.542 dB above the noise lifts it by 0.5, 3 and 10 dB.
    #[test]
    fn the_achieved_excess_is_exact() {
        for device in devices() {
            for (excess, device_over_off) in [(0.5, -9.136), (3.0, -0.021), (10.0, 9.542), (20.0, 19.956)] {
                let scene = quiet(3).scaling(Scaling::Exact).device(device.clone(), Db(excess));
                let truth = scene.render(10.0).truth;
                assert_abs_diff_eq!(truth.total_excess().0, excess, epsilon = 1e-6);
                let ratio = Db::from_ratio(truth.parts[0].measured / truth.noise_measured);
                assert_abs_diff_eq!(ratio.0, device_over_off, epsilon = 0.01);
            }
        }
    }

    /// The samples themselves, against takes without the device: within four standard errors of the radiometer
    /// equation (4.343·√(1/BT₁ + 1/BT₂) dB, R. H. Dicke 1946, from memory), doubled for buzz, which is on for a
    /// third of the time.
    #[test]
    fn the_samples_show_the_excess() {
        let level = |take: &Take| {
            let x: Vec<f64> = take.samples.iter().map(|&x| f64::from(x)).collect();
            Dbfs::from_mean_square(mean_square(&x))
        };
        let off = level(&quiet(1).render(20.0));
        assert_abs_diff_eq!(off.0, Dbfs(-45.0).0 + 0.0858, epsilon = 4.0 * 4.343 / (2400.0f64 * 20.0).sqrt());
        for (i, device) in devices().into_iter().enumerate() {
            let on = level(&quiet(10 + i as u64).device(device, Db(6.0)).render(20.0));
            assert_abs_diff_eq!((on - off).0, 6.0, epsilon = 2.0 * 4.0 * 4.343 * (2.0f64 / 48_000.0).sqrt());
        }
    }

    /// Takes differ as chance has it: the spread of the noise's level over 60 takes is the radiometer equation's,
    /// within four standard errors (1/√(2·60)). B is the noise bandwidth that counts for a spread, (∫H²)²/∫H⁴.
    #[test]
    fn takes_spread_as_the_radiometer_equation_says() {
        let receiver = Receiver::ssb(8000);
        let (h2, h4) = (receiver.noise_gain(|_| 1.0), receiver.noise_gain(|f| receiver.gain(f)));
        let b = h2 * h2 / h4 * 4000.0;
        let levels: Vec<f64> =
            (0..60).map(|s| quiet(s).render(4.0).truth.noise_measured).map(|p| 10.0 * p.log10()).collect();
        let mean = levels.iter().sum::<f64>() / 60.0;
        let sd = (levels.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / 59.0).sqrt();
        let expected = 4.343 / (b * 4.0).sqrt();
        assert_abs_diff_eq!(sd / expected, 1.0, epsilon = 4.0 / 120f64.sqrt());
        assert_abs_diff_eq!(mean, -45.0 + 0.0858 - 3.0103, epsilon = 4.0 * expected / 60f64.sqrt());
    }

    #[test]
    fn lines_stand_at_their_levels() {
        let carriers = Carriers::new([Carrier::at(1000.0), Carrier::at(1500.0).relative(-6.0), Carrier::at(300.0)]);
        let truth = quiet(1).carriers(carriers, Dbfs(-50.0)).render(5.0).truth;
        let levels: Vec<f64> = truth.device_lines().map(|l| l.level.0).collect();
        for (level, expected) in levels.iter().zip([-50.0, -56.0, -56.0206]) {
            assert_abs_diff_eq!(*level, expected, epsilon = 1e-3);
        }
        let sum: f64 = levels.iter().map(|&l| Dbfs(l).mean_square()).sum();
        assert_abs_diff_eq!(truth.parts[0].measured / sum, 1.0, epsilon = 1e-3);
        assert_eq!(truth.excess(), Db(0.0));
        assert!(truth.total_excess().0 > 0.5);
    }

    #[test]
    fn stations_stand_at_their_snr() {
        let scene = quiet(1)
            .station(Station::cw("the heron came at six", 20.0, 700.0).fading(Fading::new(3.0, 9.0)), Db(8.0))
            .station(Station::voice(125.0), Db(3.0))
            .crashes(Crashes::new(1.0, 0.05), Db(-3.0));
        let truth = scene.render(20.0).truth;
        for (part, snr) in truth.parts.iter().zip([8.0, 3.0, -3.0]) {
            assert_abs_diff_eq!(Db::from_ratio(part.measured / truth.noise_expected).0, snr, epsilon = 1e-9);
        }
        assert_eq!(truth.excess(), Db(0.0));
    }

    #[test]
    fn scenes_repeat_by_seed_and_parts_do_not_disturb_each_other() {
        let samples = |scene: Scene| scene.render(1.0).samples;
        assert_eq!(samples(quiet(1)), samples(quiet(1)));
        assert_ne!(samples(quiet(1)), samples(quiet(2)));
        let noise = quiet(1).render(1.0).truth.noise_measured;
        assert_eq!(noise, quiet(1).device(Hash::flat(), Db(9.0)).render(1.0).truth.noise_measured);
    }

    #[test]
    fn nothing_gives_silence_and_no_time_gives_nothing() {
        let silent = Scene::new(Receiver::ssb(8000));
        assert_eq!(silent.render(0.5).peak(), 0.0);
        assert_eq!(silent.device(Hash::flat(), Db(10.0)).render(0.5).peak(), 0.0);
        assert!(quiet(1).device(Carrier::at(700.0), Db(3.0)).render(0.0).samples.is_empty());
    }
}
