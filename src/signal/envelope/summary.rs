//! All that later stages need to know of a recording's envelope, gathered as the recording streams by.

use realfft::num_complex::Complex32;
use serde::{Deserialize, Serialize};

use super::apd::AmplitudeDistribution;
use super::baseband::EnvelopeSource;
use super::beat::Beat;
use super::modulation::{Modulation, ModulationBuilder};
use super::pulses::{Pulses, SIGMAS_ON_A_BEAT, loud_limit};

/// Pulses are looked for in stretches of this length: the noise may change from one to the next. Chosen: long
/// enough for 2000 values, short against fading.
pub const STRETCH_S: f64 = 2.0;
/// Power at which the capped envelope ends, over the stretch's median. Noise keeps half its motion below it and a
/// buzz nearly all, a click of any strength is no more than that (our own choice).
const CAP: f32 = 3.0;

/// A recording's envelope in figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Envelope {
    /// Values a second of the envelope these figures come from.
    pub rate_hz: f64,
    /// Mean power, FS².
    pub mean: f64,
    /// Mean over the stretches' medians of mean over median: larger than noise's own where the power comes in
    /// pulses.
    pub mean_over_median: f64,
    /// Fourth over squared second moment about the mean (3 for a normal distribution).
    pub kurtosis: f64,
    /// Modulation spectrum; `None` for a recording under a few seconds.
    pub modulation: Option<Modulation>,
    /// The envelope with its tops cut off, in which clicks do not hide what pulses beside them.
    pub capped: Option<Capped>,
    /// Pulses above what the noise does by itself; the tops of a buzz are among them.
    pub pulses: Pulses,
    /// Pulses above what the loudest moments do by themselves: clicks over a buzz.
    pub loud: Pulses,
    /// The beat of some pulses, looked for between the stations.
    pub beat: Option<Beat>,
    /// Distribution of the power at every moment.
    pub apd: AmplitudeDistribution,
}

/// What pulses where no moment counts for more than three times the typical power.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Capped {
    /// Mean power, FS².
    pub mean: f64,
    /// Modulation spectrum.
    pub modulation: Modulation,
}

/// Gathers an envelope.
pub struct EnvelopeBuilder {
    source: EnvelopeSource,
    between: EnvelopeSource,
    moments_between: Vec<f32>,
    done_between: usize,
    pulses_between: Pulses,
    modulation: ModulationBuilder,
    stretch: Vec<f32>,
    stretch_len: usize,
    fresh: Vec<f32>,
    done: usize,
    pulses: Pulses,
    loud: Pulses,
    capped: ModulationBuilder,
    capped_sum: f64,
    apd: AmplitudeDistribution,
    moments: [f64; 4],
    medians: f64,
    stretches: usize,
}

impl EnvelopeBuilder {
    /// Gathers what this source gives; `between`: the same with stations weakened.
    pub fn new(source: EnvelopeSource, between: EnvelopeSource) -> Self {
        let rate = source.rate_hz();
        Self {
            between,
            moments_between: Vec::new(),
            done_between: 0,
            pulses_between: Pulses::default(),
            modulation: ModulationBuilder::new(rate),
            stretch: Vec::new(),
            stretch_len: (STRETCH_S * rate) as usize,
            fresh: Vec::new(),
            done: 0,
            pulses: Pulses::default(),
            loud: Pulses::default(),
            capped: ModulationBuilder::new(rate),
            capped_sum: 0.0,
            apd: AmplitudeDistribution::new(source.noise_width_hz() / source.base_rate_hz()),
            moments: [0.0; 4],
            medians: 0.0,
            stretches: 0,
            source,
        }
    }

    /// Takes the next transformed frame.
    pub fn add(&mut self, spectrum: &[Complex32]) {
        self.fresh.clear();
        let width_hz = self.source.noise_width_hz();
        self.source.push(spectrum, &mut self.fresh, |power| self.apd.add(f64::from(power) / width_hz));
        self.modulation.push(&self.fresh);
        self.between.push(spectrum, &mut Vec::new(), |power| self.moments_between.push(power));
        if self.moments_between.len() as f64 >= STRETCH_S * self.between.base_rate_hz() {
            self.close_between();
        }
        self.stretch.extend_from_slice(&self.fresh);
        while self.stretch.len() >= self.stretch_len {
            let rest = self.stretch.split_off(self.stretch_len);
            self.close_stretch();
            self.stretch = rest;
        }
    }

    fn close_between(&mut self) {
        let rate = self.between.base_rate_hz();
        let start_s = self.done_between as f64 / rate;
        self.pulses_between.look_over(SIGMAS_ON_A_BEAT, &self.moments_between, rate, start_s);
        self.done_between += self.moments_between.len();
        self.moments_between.clear();
    }

    fn close_stretch(&mut self) {
        let rate = self.source.rate_hz();
        let start_s = self.done as f64 / rate;
        self.pulses.look(&self.stretch, rate, start_s);
        let mut sorted = self.stretch.clone();
        sorted.sort_unstable_by(f32::total_cmp);
        let median = sorted[sorted.len() / 2];
        self.loud.look_above((loud_limit(&sorted), f64::from(median)), &self.stretch, rate, start_s);
        for &power in &self.stretch {
            let power = power as f64;
            self.moments[0] += power;
            self.moments[1] += power * power;
            self.moments[2] += power.powi(3);
            self.moments[3] += power.powi(4);
        }
        self.medians += f64::from(median);
        self.stretches += 1;
        self.done += self.stretch.len();
        self.stretch.iter_mut().for_each(|power| *power = power.min(CAP * median));
        self.capped_sum += self.stretch.iter().map(|&power| f64::from(power)).sum::<f64>();
        self.capped.push(&self.stretch);
    }

    /// What was gathered; `None` for a recording too short for one value.
    pub fn finish(mut self) -> Option<Envelope> {
        if self.stretch.len() * 4 >= self.stretch_len || (self.stretches == 0 && !self.stretch.is_empty()) {
            self.close_stretch();
        }
        if self.done == 0 {
            return None;
        }
        self.close_between();
        let n = self.done as f64;
        let [m1, m2, m3, m4] = self.moments.map(|sum| sum / n);
        let variance = (m2 - m1 * m1).max(f64::MIN_POSITIVE);
        let fourth = m4 - 4.0 * m1 * m3 + 6.0 * m1 * m1 * m2 - 3.0 * m1.powi(4);
        Some(Envelope {
            rate_hz: self.source.rate_hz(),
            mean: m1,
            mean_over_median: m1 / (self.medians / self.stretches as f64).max(f64::MIN_POSITIVE),
            kurtosis: fourth / (variance * variance),
            modulation: self.modulation.finish(),
            capped: self.capped.finish().map(|modulation| Capped { mean: self.capped_sum / n, modulation }),
            pulses: self.pulses,
            loud: self.loud,
            beat: Beat::find(&self.pulses_between),
            apd: self.apd,
        })
    }
}
