//! What stands in one recording, without another to hold it against: how the noise pulses, its clicks, carriers and
//! stations, its level where that is calibrated; what is typical of what, and the take to record next.
//!
//! Nothing here says that a device made it: the band, a station, the receiver or the audio lead may have. Here: the
//! judgement of a [`Measurement`]. [`pulsing`], [`clicks`] and [`lines`] find what there is, [`typical`] what it is
//! typical of and the next take; `result` and `words` are what is told in the JSON and the texts. Not here: which
//! files (`run::describe`), the picture (`report::pictures`).

pub mod clicks;
pub mod lines;
pub mod pulsing;
pub mod result;
pub mod typical;
pub(crate) mod words;

use crate::contrast::Character;
use crate::contrast::comparison::{ClusterResult, CombResult};
use crate::signal::measure::Measurement;
use crate::units::{Dbfs, SIGMAS_OF_95};
use clicks::Clicks;
use lines::Lines;
use pulsing::Pulsing;
use result::{CarrierFound, Described, DescribedPart};

/// What was heard in a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// Noise that pulses with the mains.
    pub pulsing: Option<Pulsing>,
    /// The smallest depth of pulsing at twice the mains frequency that would have been told; `None` for a recording
    /// too short to tell.
    pub least_depth: Option<f64>,
    /// Short pulses with quiet between.
    pub clicks: Option<Clicks>,
    /// Carriers and stations.
    pub lines: Lines,
}

impl Heard {
    /// Listens to one recording. `mains_hz`: mains frequency.
    pub fn of(measurement: &Measurement, mains_hz: f64) -> Self {
        let lines = Lines::of(measurement, mains_hz);
        let envelope = measurement.envelope.as_ref();
        let pulsing = Pulsing::find(measurement, mains_hz, &lines);
        let clicks =
            envelope.and_then(|envelope| Clicks::find(envelope, measurement, pulsing.as_ref(), lines.stations));
        let modulation = envelope.and_then(|envelope| envelope.modulation.as_ref());
        Self {
            pulsing,
            clicks,
            least_depth: modulation.map(|m| m.limit_at(2.0 * mains_hz)).filter(|limit| limit.is_finite()),
            lines,
        }
    }

    /// In the contract's words, of the recording with this id; level, resemblance and advice are still missing.
    pub fn told(&self, recording: &str) -> Described {
        let mut parts = Vec::new();
        let mut add = |character, confidence: f64| parts.push(DescribedPart { character, confidence });
        if let Some(pulsing) = &self.pulsing {
            add(Character::Buzz, pulsing.confidence);
        }
        if let Some(clicks) = &self.clicks {
            add(Character::Clicks, clicks.confidence);
        }
        let lines = &self.lines;
        if lines.comb.is_some() {
            add(Character::Comb, lines.confidence_of_comb());
        }
        if lines.has_single_carriers() {
            add(Character::Carriers, lines.confidence_of_carriers());
        }
        parts.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
        let beat = self.clicks.as_ref().and_then(|clicks| clicks.beat);
        Described {
            recording: recording.to_owned(),
            parts,
            mains_rate_hz: self.pulsing.map(|pulsing| pulsing.rate_hz),
            pulsing_depth: self.pulsing.map(|pulsing| pulsing.depth),
            pulsing_depth_ci: self.pulsing.map(|p| {
                let half = SIGMAS_OF_95 * p.sd;
                [(p.depth - half).max(0.0), p.depth + half]
            }),
            pulsing_depth_limit: self.least_depth,
            pulse_rate_hz: self.clicks.as_ref().map(|clicks| clicks.rate_hz),
            pulse_period_s: beat.map(|beat| beat.period_s),
            pulse_period_ci_s: beat.map(|b| [b.period_s - b.period_ci_s, b.period_s + b.period_ci_s]),
            carriers: lines
                .carriers
                .iter()
                .zip(&lines.of_a_station)
                .map(|(found, &of_a_station)| CarrierFound {
                    freq_hz: found.line.freq_hz,
                    level_db: Dbfs::from_mean_square(found.line.power).0,
                    cnr_db_hz: found.line.cnr_db_hz(),
                    drift_hz_per_s: found.line.drift_hz_per_s,
                    mains_sidebands: found.line.mains_sidebands,
                    shown: found.sure,
                    perhaps_keyed: of_a_station,
                })
                .collect(),
            comb: lines.comb.as_ref().map(|family| CombResult {
                spacing_hz: family.comb.spacing_hz,
                lines: family.comb.members.len(),
                offset_hz: family.comb.offset_hz,
            }),
            comb_spacing_ci_hz: lines.comb.as_ref().map(|family| family.spacing_ci_hz),
            clusters: lines
                .cluster
                .iter()
                .map(|crowd| ClusterResult {
                    low_hz: crowd.span_hz.0,
                    high_hz: crowd.span_hz.1,
                    at_least: crowd.at_least,
                    level_db: Dbfs::from_mean_square(crowd.power).0,
                })
                .collect(),
            stations: lines.stations,
            crowded: lines.crowded,
            noise: None,
            typical_of: Vec::new(),
            next_take: String::new(),
            known_noise: None,
            not_told: Vec::new(),
        }
    }
}
