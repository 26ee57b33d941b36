//! Noise that pulses at the mains rates: how deep, at which rate, how surely.

use super::evidence::Facts;
use crate::signal::envelope::{Envelope, Modulation, RateLine};

/// Relative amplitude of the added noise's pulsing from which it is a buzz. Noise gated at any duty up to 60 % has
/// at least 1.0, full-wave ripple as |sin| 0.67; a well filtered supply leaves a few hundredths. Chosen between the
/// two; held by the validation bench.
pub(super) const BUZZ_AMPLITUDE: f64 = 0.25;
/// A buzz in noise whose rise is not certain must stand so many standard deviations above noise. Chosen: nothing
/// else says that anything came, so chance must be out of the question; held by the validation bench.
const BUZZ_ALONE_SIGMAS: f64 = 8.0;

/// Pulsing at a mains rate that came with the device.
#[derive(Debug, Clone)]
pub(super) struct Buzz {
    /// The rate.
    pub rate_hz: f64,
    /// Amplitude of the pulsing, all multiples together, over the added noise's power; 1 where that is not known.
    pub depth: f64,
    /// Share that stands at odd multiples of the rate only.
    odd_share: f64,
    /// Standard deviations above what plain noise leaves at the rate.
    pub sigmas: f64,
    /// Whether nothing like it stands at rates nearby.
    pub alone: bool,
}

/// In which envelope it is looked for.
#[derive(Debug, Clone, Copy)]
enum Tops {
    Whole,
    Capped,
}

impl Tops {
    /// The modulation spectrum and the mean power it is relative to.
    fn of(self, envelope: &Envelope) -> Option<(&Modulation, f64)> {
        match self {
            Self::Whole => envelope.modulation.as_ref().map(|modulation| (modulation, envelope.mean)),
            Self::Capped => envelope.capped.as_ref().map(|capped| (&capped.modulation, capped.mean)),
        }
    }
}

impl Facts<'_> {
    pub(super) fn buzz(&self, steady_power: f64, noise_called: bool) -> Option<Buzz> {
        self.buzz_in(Tops::Whole, steady_power, noise_called)
    }

    /// Clicks lift the modulation spectrum at every rate, so that what pulses beside them drowns: with their tops
    /// cut off it comes to light. Depth is then that of the capped envelope.
    pub(super) fn buzz_beside_clicks(&self, noise_called: bool) -> Option<Buzz> {
        let mean = |side: &[&Envelope]| {
            let means: Vec<f64> = side.iter().filter_map(|e| Some(e.capped.as_ref()?.mean)).collect();
            means.iter().sum::<f64>() / means.len().max(1) as f64
        };
        self.buzz_in(Tops::Capped, mean(&self.on) / self.gain - mean(&self.off), noise_called)
    }

    fn buzz_in(&self, tops: Tops, steady_power: f64, noise_called: bool) -> Option<Buzz> {
        let rates = [self.mains_hz, 2.0 * self.mains_hz];
        // A rate at which every full wave pulses has the half waves' multiples too: the lower rate only counts
        // where it adds something of its own.
        let found: Vec<Buzz> = rates.iter().filter_map(|&rate| self.buzz_at(tops, rate, steady_power)).collect();
        let best = match found.as_slice() {
            [half, full] if half.odd_share < 0.1 => full,
            [half, _] => half,
            [one] => one,
            _ => return None,
        };
        let deep = if noise_called { best.depth >= BUZZ_AMPLITUDE } else { best.sigmas > BUZZ_ALONE_SIGMAS };
        deep.then(|| best.clone())
    }

    fn buzz_at(&self, tops: Tops, rate_hz: f64, steady_power: f64) -> Option<Buzz> {
        // Each recording's line at the rate, its amplitude in power rather than relative to its own mean.
        let seen = |side: &[&Envelope], gain: f64| -> Vec<RateLine> {
            let at_rate = |e: &&Envelope| {
                let (modulation, mean) = tops.of(e)?;
                let line = modulation.at_rate(rate_hz);
                let scale = mean / gain;
                Some(RateLine { amplitude: line.amplitude * scale, sigma: line.sigma * scale, ..line })
            };
            side.iter().filter_map(at_rate).collect()
        };
        let (on, off) = (seen(&self.on, self.gain), seen(&self.off, 1.0));
        let mean = |lines: &[RateLine], of: &dyn Fn(&RateLine) -> f64| {
            lines.iter().map(of).sum::<f64>() / lines.len().max(1) as f64
        };
        let squared = |lines: &[RateLine]| mean(lines, &|line| line.amplitude.powi(2));
        let present = on.iter().filter(|line| line.present).count() * 2 > on.len();
        if !present || squared(&on) < 2.0 * squared(&off) {
            return None;
        }
        let amplitude = (squared(&on) - squared(&off)).max(0.0).sqrt();
        Some(Buzz {
            rate_hz: mean(&on, &|line| line.rate_hz),
            depth: if steady_power > 0.0 { amplitude / steady_power } else { 1.0 },
            odd_share: mean(&on, &|line| line.odd_share),
            alone: self
                .on
                .iter()
                .filter_map(|e| tops.of(e))
                .all(|(modulation, _)| modulation.stands_alone(rate_hz)),
            sigmas: amplitude / mean(&on, &|line| line.sigma).max(f64::MIN_POSITIVE),
        })
    }

    /// The smallest depth of pulsing that would have been seen in the added noise.
    pub(super) fn least_depth_seen(&self, steady_power: f64) -> Option<f64> {
        let limits: Vec<f64> = self
            .on
            .iter()
            .filter_map(|e| e.modulation.as_ref().map(|m| m.limit_at(2.0 * self.mains_hz) * e.mean / self.gain))
            .collect();
        (!limits.is_empty()).then(|| limits.iter().copied().fold(f64::MAX, f64::min) / steady_power)
    }
}
