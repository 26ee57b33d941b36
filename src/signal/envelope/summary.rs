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
/// The same for pulses that count only where they stand on a beat: stations steer a receiver's gain by 10 dB within a
/// second, and in the quiet half of two seconds a pulse drowned. Measured (fences in the recordings hf-01 to hf-13,
/// seeds 1301, 1302): of 96 beats 79 are found with two seconds, 87 with this, 80 with half of it.
const BEAT_STRETCH_S: f64 = 0.125;
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
    /// Modulation spectrum of the noise between the stations, whose beats pulse too; `None` for a recording under a
    /// few seconds.
    pub modulation: Option<Modulation>,
    /// Mean power that it is relative to, FS².
    pub modulated_mean: f64,
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

impl Envelope {
    /// How unevenly the pulses follow each other: standard deviation over mean of their distances, 1 for random
    /// ones; on a beat that of the pulses from their places, whatever is missing or stands between. `None` for
    /// fewer than six without a beat.
    pub fn irregularity(&self) -> Option<f64> {
        match self.beat.as_ref().filter(|beat| beat.is_believed()) {
            Some(beat) => Some(beat.jitter_s / beat.period_s),
            None => self.pulses.irregularity(),
        }
    }
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
    /// Between the stations: single values for the beat, the envelope for what pulses.
    between: EnvelopeSource,
    between_values: Vec<f32>,
    between_done: usize,
    between_pulses: Pulses,
    between_stretch: Vec<f32>,
    between_sum: f64,
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
            between_values: Vec::new(),
            between_done: 0,
            between_pulses: Pulses::default(),
            between_stretch: Vec::new(),
            between_sum: 0.0,
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
        self.stretch.extend_from_slice(&self.fresh);
        self.fresh.clear();
        self.between.push(spectrum, &mut self.fresh, |power| self.between_values.push(power));
        if self.between_values.len() as f64 >= BEAT_STRETCH_S * self.between.base_rate_hz() {
            self.look_for_a_beat();
        }
        self.modulation.push(&self.fresh);
        self.between_stretch.extend_from_slice(&self.fresh);
        while self.stretch.len() >= self.stretch_len {
            let rest = self.stretch.split_off(self.stretch_len);
            self.close_stretch();
            self.stretch = rest;
        }
        while self.between_stretch.len() >= self.stretch_len {
            let rest = self.between_stretch.split_off(self.stretch_len);
            self.cap_stretch();
            self.between_stretch = rest;
        }
    }

    fn look_for_a_beat(&mut self) {
        let rate = self.between.base_rate_hz();
        let start_s = self.between_done as f64 / rate;
        self.between_pulses.look_over(SIGMAS_ON_A_BEAT, &self.between_values, rate, start_s);
        self.between_done += self.between_values.len();
        self.between_values.clear();
    }

    fn cap_stretch(&mut self) {
        self.between_sum += self.between_stretch.iter().map(|&power| f64::from(power)).sum::<f64>();
        let mut sorted = self.between_stretch.clone();
        let middle = sorted.len() / 2;
        let median = *sorted.select_nth_unstable_by(middle, f32::total_cmp).1;
        self.between_stretch.iter_mut().for_each(|power| *power = power.min(CAP * median));
        self.capped_sum += self.between_stretch.iter().map(|&power| f64::from(power)).sum::<f64>();
        self.capped.push(&self.between_stretch);
    }

    fn close_stretch(&mut self) {
        let rate = self.source.rate_hz();
        let start_s = self.done as f64 / rate;
        self.pulses.look(&self.stretch, rate, start_s);
        let mut values = self.stretch.clone();
        let middle = values.len() / 2;
        let median = *values.select_nth_unstable_by(middle, f32::total_cmp).1;
        self.loud.look_above((loud_limit(&mut values), f64::from(median)), &self.stretch, rate, start_s);
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
    }

    /// What was gathered; `None` for a recording too short for one value.
    pub fn finish(mut self) -> Option<Envelope> {
        if self.stretch.len() * 4 >= self.stretch_len || (self.stretches == 0 && !self.stretch.is_empty()) {
            // Both envelopes are of the same frames and rate, so as long.
            self.close_stretch();
            self.cap_stretch();
        }
        if self.done == 0 {
            return None;
        }
        self.look_for_a_beat();
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
            modulated_mean: self.between_sum / n,
            capped: self.capped.finish().map(|modulation| Capped { mean: self.capped_sum / n, modulation }),
            pulses: self.pulses,
            loud: self.loud,
            beat: Beat::find(&self.between_pulses),
            apd: self.apd,
        })
    }
}
