//! Wanted signals: a telegraphy station, something like a voice, a steady carrier; each may fade.
//!
//! The voice is no speech: a pulsing throat and breath behind three moving resonances, in syllables and phrases. It
//! has what matters to a noise measurement: harmonics, syllables at some four a second, and pauses.

use std::f64::consts::{PI, TAU};

use super::band::Fading;
use super::gauss::Gauss;
use super::morse;
use super::passband::{Grid, Receiver};
use super::source::{Antenna, Line, Source};

/// Rise and fall of a keyed carrier, seconds: long enough not to click (common practice: about 5 ms).
const KEY_EDGE_S: f64 = 0.005;

/// What a station sends.
#[derive(Debug, Clone, PartialEq)]
pub enum Mode {
    /// Morse: text (repeated, entered at random) or, where `None`, random words; words a minute; pitch.
    Cw {
        /// What is sent.
        text: Option<String>,
        /// Words a minute, by the word PARIS.
        wpm: f64,
        /// Audio frequency.
        pitch_hz: f64,
    },
    /// A voice, with the throat's mean pitch.
    Voice {
        /// Fundamental frequency.
        pitch_hz: f64,
    },
    /// A carrier that stands still.
    Carrier {
        /// Audio frequency.
        freq_hz: f64,
    },
}

/// A wanted signal.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// What it sends.
    pub mode: Mode,
    /// How it fades.
    pub fading: Option<Fading>,
}

impl Station {
    /// A telegraphy station that sends this text over and over.
    pub fn cw(text: &str, wpm: f64, pitch_hz: f64) -> Self {
        Self { mode: Mode::Cw { text: Some(text.to_owned()), wpm, pitch_hz }, fading: None }
    }

    /// A telegraphy station that sends random words.
    pub fn random_cw(wpm: f64, pitch_hz: f64) -> Self {
        Self { mode: Mode::Cw { text: None, wpm, pitch_hz }, fading: None }
    }

    /// A voice.
    pub fn voice(pitch_hz: f64) -> Self {
        Self { mode: Mode::Voice { pitch_hz }, fading: None }
    }

    /// A steady carrier.
    pub fn carrier(freq_hz: f64) -> Self {
        Self { mode: Mode::Carrier { freq_hz }, fading: None }
    }

    /// The same, fading.
    pub fn fading(mut self, fading: Fading) -> Self {
        self.fading = Some(fading);
        self
    }
}

impl Source for Station {
    fn at_antenna(&self, grid: &Grid, _: &Receiver, seed: u64, part: &str) -> Antenna {
        let mut gauss = Gauss::new(seed, part);
        let fading = self.fading.map(|f| f.gain(grid, &mut gauss));
        let mut antenna = match &self.mode {
            Mode::Cw { text, wpm, pitch_hz } => cw(text.as_deref(), *wpm, *pitch_hz, grid, &mut gauss),
            Mode::Voice { pitch_hz } => Antenna::plain(voice(*pitch_hz, grid, &mut gauss)),
            Mode::Carrier { freq_hz } => tone(*freq_hz, |_| 1.0, grid, &mut gauss),
        };
        if let Some(gain) = fading {
            antenna.wave.iter_mut().zip(gain).for_each(|(x, g)| *x *= g);
        }
        antenna
    }
}

/// A carrier under an amplitude that is a function of the sample.
fn tone(freq_hz: f64, amplitude: impl Fn(usize) -> f64, grid: &Grid, gauss: &mut Gauss) -> Antenna {
    let phase = TAU * gauss.uniform();
    let wave = (0..grid.len).map(|i| amplitude(i) * (TAU * freq_hz * grid.time(i) + phase).sin()).collect();
    let line = Line { start_hz: freq_hz, end_hz: freq_hz, mean_hz: freq_hz, amplitude: 1.0 };
    Antenna { lines: vec![line], ..Antenna::plain(wave) }
}

/// A keyed carrier of amplitude 1 while the key is down.
fn cw(text: Option<&str>, wpm: f64, pitch_hz: f64, grid: &Grid, gauss: &mut Gauss) -> Antenna {
    let dot_s = 1.2 / wpm;
    let (from, to) = grid.span();
    let dots = ((to - from) / dot_s).ceil() as usize + 1;
    let key = match text {
        Some(text) => morse::keying(text),
        None => morse::random_keying(dots, gauss),
    };
    if key.is_empty() {
        return Antenna::plain(vec![0.0; grid.len]);
    }
    let entry = (gauss.uniform() * key.len() as f64) as usize;
    let down: Vec<f64> = (0..grid.len)
        .map(|i| ((grid.time(i) - from) / dot_s) as usize + entry)
        .map(|dot| f64::from(u8::from(key[dot % key.len()])))
        .collect();
    let soft = soften(&down, (KEY_EDGE_S * grid.rate_hz) as usize);
    tone(pitch_hz, |i| soft[i], grid, gauss)
}

/// Two running means in a row, each `width` samples: corners become curves.
fn soften(x: &[f64], width: usize) -> Vec<f64> {
    let once = running_mean(x, width.max(1));
    running_mean(&once, width.max(1))
}

fn running_mean(x: &[f64], width: usize) -> Vec<f64> {
    let mut sum = 0.0;
    (0..x.len())
        .map(|i| {
            sum += x[i] - if i >= width { x[i - width] } else { 0.0 };
            sum / width as f64
        })
        .collect()
}

/// One syllable: its resonances, whether the throat sounds, how loud.
struct Syllable {
    start: usize,
    len: usize,
    formants_hz: [f64; 3],
    voiced: bool,
    loud: f64,
    pitch: f64,
}

/// Syllables in phrases with pauses between, over the whole grid.
fn syllables(grid: &Grid, gauss: &mut Gauss) -> Vec<Syllable> {
    let mut list = Vec::new();
    let mut at = (gauss.between(0.0, 0.6) * grid.rate_hz) as usize;
    while at < grid.len {
        for _ in 0..3 + (gauss.uniform() * 8.0) as usize {
            let len = (gauss.between(0.12, 0.32) * grid.rate_hz) as usize;
            let formants_hz =
                [gauss.between(320.0, 800.0), gauss.between(900.0, 2000.0), gauss.between(2200.0, 2700.0)];
            let voiced = gauss.uniform() < 0.75;
            let (loud, pitch) = (10f64.powf(gauss.between(-8.0, 0.0) / 20.0), gauss.between(0.85, 1.2));
            list.push(Syllable { start: at, len, formants_hz, voiced, loud, pitch });
            at += len + (gauss.between(0.01, 0.06) * grid.rate_hz) as usize;
        }
        at += (gauss.between(0.25, 1.1) * grid.rate_hz) as usize;
    }
    list
}

/// The voice's waveform.
fn voice(pitch_hz: f64, grid: &Grid, gauss: &mut Gauss) -> Vec<f64> {
    let mut wave = vec![0.0; grid.len];
    for syllable in syllables(grid, gauss) {
        speak(&syllable, pitch_hz, grid.rate_hz, &mut wave, gauss);
    }
    wave
}

/// Adds one syllable: source, then the three resonances side by side, under half a sine.
fn speak(syllable: &Syllable, pitch_hz: f64, rate_hz: f64, wave: &mut [f64], gauss: &mut Gauss) {
    let mut resonators = syllable.formants_hz.map(|f| Resonator::new(f, 90.0, rate_hz));
    let mut turn = gauss.uniform();
    for i in 0..syllable.len {
        turn += pitch_hz * syllable.pitch / rate_hz;
        let throat = if turn >= 1.0 { (rate_hz / pitch_hz).sqrt() } else { 0.0 };
        turn = turn.fract();
        let source = if syllable.voiced { throat + 0.05 * gauss.normal() } else { 0.5 * gauss.normal() };
        let sound: f64 = resonators.iter_mut().zip([1.0, 0.6, 0.35]).map(|(r, g)| g * r.step(source)).sum();
        let envelope = (PI * i as f64 / syllable.len as f64).sin();
        if let Some(x) = wave.get_mut(syllable.start + i) {
            *x += syllable.loud * envelope * sound;
        }
    }
}

/// Two poles: y = x + 2r cosθ·y₁ − r²·y₂, scaled to about 1 at resonance.
struct Resonator {
    a1: f64,
    a2: f64,
    scale: f64,
    y1: f64,
    y2: f64,
}

impl Resonator {
    fn new(freq_hz: f64, width_hz: f64, rate_hz: f64) -> Self {
        let r = (-PI * width_hz / rate_hz).exp();
        let theta = TAU * freq_hz / rate_hz;
        Self { a1: 2.0 * r * theta.cos(), a2: -r * r, scale: (1.0 - r) * 2.0 * theta.sin(), y1: 0.0, y2: 0.0 }
    }

    fn step(&mut self, x: f64) -> f64 {
        let y = self.scale * x + self.a1 * self.y1 + self.a2 * self.y2;
        (self.y2, self.y1) = (self.y1, y);
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::mean_square;
    use approx::assert_abs_diff_eq;

    fn take(station: &Station, seconds: f64, seed: u64) -> Vec<f64> {
        let grid = Grid::new(8000, seconds);
        grid.cut(&station.at_antenna(&grid, &Receiver::ssb(8000), seed, "station").wave).to_vec()
    }

    /// Source: in PARIS with its gap the key is down for 22 of 50 dots (counted from M.1677-1). A dot at 24 words a
    /// minute lasts 1.2/24 s (common practice). Tolerance: the softened edges take a little off each mark.
    #[test]
    fn keyed_power_is_the_share_of_marks() {
        let wave = take(&Station::cw("PARIS", 24.0, 700.0), 50.0, 1);
        assert_abs_diff_eq!(mean_square(&wave), 0.5 * 22.0 / 50.0, epsilon = 0.015);
    }

    #[test]
    fn a_fading_carrier_goes_up_and_down() {
        let wave = take(&Station::carrier(1000.0).fading(Fading::new(4.0, 10.0)), 20.0, 2);
        let levels: Vec<f64> = wave.chunks(1600).map(|c| 10.0 * mean_square(c).log10()).collect();
        let (low, high) = levels.iter().fold((f64::MAX, f64::MIN), |(l, h), &x| (l.min(x), h.max(x)));
        assert_abs_diff_eq!(high - low, 8.0, epsilon = 0.2);
    }

    /// Speech-like: pauses, some two to six swells a second, most power below 1 kHz.
    #[test]
    fn the_voice_has_syllables_and_pauses() {
        let wave = take(&Station::voice(125.0), 30.0, 3);
        let mean = mean_square(&wave);
        let frames: Vec<f64> = wave.chunks(160).map(mean_square).collect();
        let quiet = frames.iter().filter(|&&p| p < 0.01 * mean).count() as f64 / frames.len() as f64;
        assert!((0.1..0.6).contains(&quiet), "share of pauses {quiet}");
        let loud: Vec<bool> = wave.chunks(400).map(|c| mean_square(c) > 0.3 * mean).collect();
        let swells = loud.windows(2).filter(|w| !w[0] && w[1]).count() as f64 / 30.0;
        assert!((1.0..6.0).contains(&swells), "swells a second {swells}");
    }

    #[test]
    fn stations_differ_from_seed_to_seed() {
        for station in [Station::random_cw(20.0, 650.0), Station::voice(120.0)] {
            assert_eq!(take(&station, 2.0, 1), take(&station, 2.0, 1));
            assert_ne!(take(&station, 2.0, 1), take(&station, 2.0, 2));
        }
        assert_eq!(mean_square(&take(&Station::cw("", 20.0, 650.0), 1.0, 1)), 0.0);
    }
}
