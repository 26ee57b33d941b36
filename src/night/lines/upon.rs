//! Whether something is sent upon a carrier: a voice or keying puts mirror images on both sides of it, whose phases
//! add up to twice the carrier's. Noise, another station or another device does not.
//!
//! For an amplitude-modulated carrier A·(1 + m(t)), the spectrum at +δ and that at −δ are conjugate to each other
//! about the carrier's phase (the definition of amplitude modulation), so that X(+δ)·X(−δ)·X̄(0)² is real and
//! positive; for phase modulation it is negative, for anything unrelated its phase is even.

use std::ops::Range;

use realfft::num_complex::Complex32;

use crate::signal::spectrum::{FramePlan, Stft};

/// Offsets from the carrier that are looked at: nearer the window's lobe reaches, further a voice has little
/// (chosen).
const OFFSETS_HZ: (f64, f64) = (25.0, 1500.0);
/// Mains hum upon a device's carrier is no voice: multiples of these (the two mains in use) are left out …
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// … so many bins to each side, as are other lines. Chosen: half the main lobe of a Hann window.
const GUARD_BINS: f64 = 2.0;
/// How far the carrier may lie from where it is expected: it drifts. Chosen: two bins of the night's spectra.
const NEAR_HZ: f64 = 10.0;
/// A pair weighs as much as it stands over its usual product, up to so often; what is usual is that of about so
/// many frames. Chosen: so no single crash or syllable decides, and a hundred frames are some ten seconds.
const MOST_WEIGHT: f64 = 5.0;
const FORGETS: f64 = 100.0;
/// Mean cosine from which on something is upon the carrier: beyond chance (once in three million), and beyond what
/// a loud voice beside it brings about in a minute. A voice of 30 % modulation gives 0.06 on a carrier 5 dB over
/// the noise in its passband, 0.03 on one as strong as that, 0.014 on one 5 dB under it. Chosen between these.
const SIGMAS: f64 = 5.0;
const LEAST_COSINE: f64 = 0.01;

/// Samples of one recording in which a carrier stands, looked at piece by piece.
pub struct Upon {
    plan: FramePlan,
    stft: Stft,
    band: Range<usize>,
    expected: f64,
    offsets: Vec<usize>,
    /// Usual size of the product, by offset.
    usual: Vec<f64>,
    /// Of weight times cosine, of the weights, of their squares.
    sum: f64,
    weights: f64,
    squares: f64,
}

impl Upon {
    /// For a carrier at `freq_hz` in a passband; `others_hz`: other lines.
    pub fn new(rate_hz: u32, freq_hz: f64, passband_hz: (f64, f64), others_hz: &[f64]) -> Self {
        let plan = FramePlan::for_rate(rate_hz);
        let bin_hz = plan.bin_hz();
        let band = (passband_hz.0 / bin_hz).ceil() as usize..((passband_hz.1 / bin_hz) as usize).min(plan.bins());
        let is_near = |offset_hz: f64, line_hz: f64| (offset_hz - line_hz).abs() <= GUARD_BINS * bin_hz;
        let is_free = |bins: &usize| {
            let offset_hz = *bins as f64 * bin_hz;
            let of_mains = MAINS_HZ.iter().any(|hz| is_near(offset_hz, (offset_hz / hz).round() * hz));
            !of_mains && !others_hz.iter().any(|other| is_near(offset_hz, (other - freq_hz).abs()))
        };
        let [first, last] = [OFFSETS_HZ.0, OFFSETS_HZ.1].map(|hz| (hz / bin_hz).ceil() as usize);
        let offsets = (first..last).filter(is_free).collect();
        Self {
            stft: Stft::new(&plan),
            band,
            expected: freq_hz / bin_hz,
            offsets,
            usual: vec![0.0; plan.bins()],
            sum: 0.0,
            weights: 0.0,
            squares: 0.0,
            plan,
        }
    }

    /// Takes a piece.
    pub fn add(&mut self, samples: &[f32]) {
        let near = (NEAR_HZ / self.plan.bin_hz()).ceil() as usize;
        let from = (self.expected.round() as usize).saturating_sub(near).max(self.band.start);
        let to = (self.expected.round() as usize + near + 1).min(self.band.end);
        let hop = self.plan.hop();
        let frames = (samples.len() / hop).saturating_sub(1);
        for frame in 0..frames {
            let spectrum = self.stft.transform(&samples[frame * hop..frame * hop + self.plan.len]);
            let strongest = (from..to).max_by(|&a, &b| spectrum[a].norm_sqr().total_cmp(&spectrum[b].norm_sqr()));
            let Some(carrier) = strongest else { return };
            let phase = unit(spectrum[carrier]).conj();
            let twice = phase * phase;
            for &offset in &self.offsets {
                if carrier < self.band.start + offset || carrier + offset >= self.band.end {
                    continue;
                }
                let mirrored = spectrum[carrier + offset] * spectrum[carrier - offset] * twice;
                let usual = &mut self.usual[offset];
                let size = f64::from(mirrored.norm());
                *usual = if *usual > 0.0 { *usual + (size - *usual) / FORGETS } else { size };
                if size > 0.0 {
                    let weight = (size / *usual).min(MOST_WEIGHT);
                    self.sum += weight * f64::from(mirrored.re) / size;
                    self.weights += weight;
                    self.squares += weight * weight;
                }
            }
        }
    }

    /// The mean cosine and what chance makes of it, standard deviation.
    pub fn cosine(&self) -> (f64, f64) {
        if self.weights == 0.0 {
            return (0.0, f64::INFINITY);
        }
        (self.sum / self.weights, (self.squares / 2.0).sqrt() / self.weights)
    }

    /// Whether something is sent upon the carrier.
    pub fn is_modulated(&self) -> bool {
        let (cosine, sd) = self.cosine();
        cosine > LEAST_COSINE.max(SIGMAS * sd)
    }
}

fn unit(value: Complex32) -> Complex32 {
    let norm = value.norm();
    if norm > 0.0 { value / norm } else { Complex32::new(0.0, 0.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::synth::{Gauss, Receiver, Scene, Station};
    use crate::units::{Db, Dbfs};
    use std::f64::consts::TAU;

    const RATE_HZ: u32 = 8000;

    fn judged(samples: &[f32]) -> bool {
        let mut upon = Upon::new(RATE_HZ, 1200.0, (300.0, 2700.0), &[]);
        upon.add(samples);
        upon.is_modulated()
    }

    /// A carrier 5 dB over a voice filter's noise, times 1 + what `upon` gives.
    fn carrier(seed: u64, upon: impl Fn(usize) -> f64) -> Vec<f32> {
        let receiver = Receiver::ssb(RATE_HZ);
        let band = Scene::new(receiver).band_noise(Dbfs(-30.0)).seed(seed).render(40.0);
        let amplitude = (2.0 * Dbfs(-25.0).mean_square()).sqrt();
        let turns = |n: usize| (1201.3 * n as f64 / f64::from(RATE_HZ)).fract();
        let tone = |n: usize| amplitude * (1.0 + upon(n)) * (TAU * turns(n)).sin();
        band.samples.iter().enumerate().map(|(n, x)| x + tone(n) as f32).collect()
    }

    /// Source: the definition of amplitude modulation.
    #[test]
    fn a_voice_upon_a_carrier_is_told_from_one_beside_it() {
        for seed in 0..5 {
            let voice = Scene::new(Receiver::ssb(RATE_HZ)).station(Station::voice(120.0), Db(40.0));
            let voice = voice.band_noise(Dbfs(-60.0)).seed(seed + 50);
            let voice = voice.render(40.0).samples;
            let sd = (voice.iter().map(|x| f64::from(x * x)).sum::<f64>() / voice.len() as f64).sqrt();
            let swing = |n: usize| (0.3 * f64::from(voice[n]) / sd).clamp(-1.0, 1.0);
            assert!(judged(&carrier(seed, swing)), "seed {seed}");
            let beside: Vec<f32> =
                carrier(seed, |_| 0.0).iter().zip(&voice).map(|(x, y)| x + y * (0.1 / sd) as f32).collect();
            assert!(!judged(&beside), "seed {seed}");
        }
    }

    #[test]
    fn a_bare_carrier_and_one_with_mains_hum_bear_nothing() {
        let hum = |n: usize| 0.5 * (TAU * 100.0 * n as f64 / f64::from(RATE_HZ)).cos();
        for seed in 0..5 {
            assert!(!judged(&carrier(seed, |_| 0.0)), "seed {seed}");
            assert!(!judged(&carrier(seed, hum)), "seed {seed}");
        }
        let mut gauss = Gauss::new(1, "noise");
        assert!(!judged(&gauss.white(40_000).iter().map(|&x| x as f32).collect::<Vec<_>>()));
        assert!(!judged(&[]));
        assert!(!judged(&[0.0; 40_000]));
    }
}
