//! Short pulses in one recording: the beat they keep, or how often they come at random. Not here: finding them
//! (`signal::envelope`), and whether a device made them; natural static clicks too.

use std::collections::BTreeSet;

use super::pulsing::Pulsing;
use crate::signal::envelope::pulses::short_s;
use crate::signal::envelope::{Beat, Envelope, Pulse, Pulses};
use crate::signal::measure::Measurement;

/// Half seconds that hold a pulse, at least, for pulses at random to be told: a crash of static or two breaks into
/// many. Chosen; and this share of a recording's half seconds is enough of a short one.
const STRETCH_S: f64 = 0.5;
const LEAST_STRETCHES: usize = 6;
/// Share of all pulses that must be short: syllables and crashes are not.
const MOSTLY_SHORT: f64 = 0.7;

/// How sure of a beat, at most; of pulses at random; of these beside stations, whose keying makes pulses too. Held
/// by `tests/description`.
const BEAT: f64 = 0.97;
const AT_RANDOM: f64 = 0.8;
const BESIDE_STATIONS: f64 = 0.5;

/// Short pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clicks {
    /// So many a second.
    pub rate_hz: f64,
    /// The beat they keep.
    pub beat: Option<Beat>,
    /// How sure they are there, 0..1.
    pub confidence: f64,
}

impl Clicks {
    /// The clicks of a recording, beside noise that pulses so and so many stations.
    pub fn find(
        envelope: &Envelope,
        measurement: &Measurement,
        pulsing: Option<&Pulsing>,
        stations: usize,
    ) -> Option<Self> {
        Self::on_a_beat(envelope, pulsing).or_else(|| Self::at_random(envelope, measurement, pulsing, stations))
    }

    fn on_a_beat(envelope: &Envelope, pulsing: Option<&Pulsing>) -> Option<Self> {
        let beat = envelope.beat.filter(|beat| beat.is_believed() && beat.is_short())?;
        let apart = beat.is_slow() && !pulsing.is_some_and(|pulsing| beat.is_of_rate(pulsing.rate_hz));
        apart.then(|| Self {
            rate_hz: beat.rate_hz(),
            beat: Some(beat),
            confidence: (1.0 - beat.chance).clamp(0.0, BEAT),
        })
    }

    fn at_random(
        envelope: &Envelope,
        measurement: &Measurement,
        pulsing: Option<&Pulsing>,
        stations: usize,
    ) -> Option<Self> {
        // The tops of noise that pulses are none.
        let pulses: &Pulses = if pulsing.is_some() { &envelope.loud } else { &envelope.pulses };
        let width_hz = measurement.passband?.width_hz();
        let short_s = short_s(width_hz);
        let short: Vec<&Pulse> = pulses.kept.iter().filter(|pulse| pulse.width_s() <= short_s).collect();
        let stretches: BTreeSet<u64> = short.iter().map(|pulse| (pulse.at_s / STRETCH_S) as u64).collect();
        let mostly = short.len() as f64 >= MOSTLY_SHORT * pulses.kept.len() as f64;
        let enough = stretches.len() >= LEAST_STRETCHES && mostly && !measurement.has_voice();
        let confidence = if stations > 0 { BESIDE_STATIONS } else { AT_RANDOM };
        // The ticks of a station are weakened where a beat is looked for; among all pulses they keep it.
        let even = Beat::find(pulses).filter(|beat| beat.is_believed() && beat.is_slow());
        enough.then(|| match even {
            Some(beat) => Self { rate_hz: beat.rate_hz(), beat: Some(beat), confidence },
            None => Self { rate_hz: pulses.rate_hz(), beat: None, confidence },
        })
    }
}
