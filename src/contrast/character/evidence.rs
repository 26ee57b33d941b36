//! What the judgement of a kind looks at, and what a verdict rests on, in plain sentences with figures. Not here:
//! the judgement (`character`) and what each kind finds (`buzz`, `clicks`).

use super::buzz::BUZZ_AMPLITUDE;
use super::confidence::RIPPLE_DEPTH;
use super::{BUZZ_DEPTH, Character, Heard, Part};
use crate::contrast::added_lines::LineChanges;
use crate::contrast::cluster::Cluster;
use crate::contrast::excess::Excess;
use crate::contrast::impulsive::{AddedNoise, Impulsive};
use crate::contrast::surge::Surge;
use crate::contrast::uncounted::Uncounted;
use crate::contrast::visitor::Visitor;
use crate::contrast::wander::{QuietMoments, Wander};
use crate::contrast::words::{mains_multiple, period};
use crate::signal::envelope::{AtOnce, Envelope};
use crate::units::Estimate;

impl Facts<'_> {
    pub(super) fn evidence(&self, heard: &Heard, parts: &[Part], impulsive: Option<&Impulsive>) -> Vec<String> {
        let Heard { steady_power, pulsing_hz, .. } = *heard;
        let (buzz, clicks) = (heard.buzz.as_ref(), heard.clicks.as_ref());
        let mut said = Vec::new();
        said.extend(pulsing_hz.map(|hz| format!("the added noise pulses at {hz:.1} Hz, which is no mains rate")));
        if let Some(buzz) = buzz {
            let deep = match buzz.depth {
                _ if !self.excess.is_called() => "",
                depth if depth < RIPPLE_DEPTH => ", by a part of its strength",
                depth if depth < BUZZ_DEPTH => ", all but dying away between the pulses",
                _ => ", in bursts with quiet between",
            };
            let times = mains_multiple(buzz.rate_hz, self.mains_hz);
            said.push(format!("the added noise pulses at {:.1} Hz{times}{deep}", buzz.rate_hz));
        } else if pulsing_hz.is_none() && parts.iter().any(|part| part.character == Character::Hash) {
            match self.least_depth_seen(steady_power) {
                Some(depth) if depth < BUZZ_AMPLITUDE => said.push(format!(
                    "the added noise is steady: pulsing at the mains rate deeper than {depth:.2} would have been \
                     seen"
                )),
                _ => said.push(
                    "the added noise is too weak or the recording too short to say whether it pulses".to_owned(),
                ),
            }
        }
        if let Some(clicks) = clicks {
            said.push(match clicks.beat {
                Some(beat) => format!(
                    "one pulse every {} with the device on: {} stand on the {} places of that beat (pulses at \
                     random would do so {})",
                    period(beat.period_s, beat.period_ci_s),
                    beat.hits,
                    beat.places,
                    odds(beat.chance)
                ),
                None => format!(
                    "{:.1} pulses a second more than with the device off{}",
                    clicks.rate_hz,
                    if clicks.are_regular() == Some(false) { ", at random" } else { "" }
                ),
            });
        }
        if !parts.is_empty() || self.left_open(heard).is_none() {
            said.extend(heard.few_pulses(self));
        }
        if let Some(comb) = &self.lines.comb {
            said.push(format!(
                "{} added lines stand {:.1} Hz apart or at multiples of it (random lines would do so {})",
                comb.members.len(),
                comb.spacing_hz,
                odds(comb.chance)
            ));
        }
        let warbling = self.lines.added.iter().map(|found| &found.line).filter(|line| line.warbles);
        said.extend(warbling.map(|line| {
            format!(
                "the pitch of the line at {:.0} Hz runs to and fro over {:.0} Hz at an even rate: it warbles",
                line.freq_hz,
                line.span_hz.1 - line.span_hz.0
            )
        }));
        said.extend(self.cluster.map(|cluster| cluster.sentence()));
        if let Some(comb) = &self.lines.possible_comb {
            said.push(format!(
                "{} of the added lines would fit a family every {:.1} Hz, as so many random lines do {}: it may \
                 be one",
                comb.members.len(),
                comb.spacing_hz,
                odds(comb.chance)
            ));
        }
        if self.may_be_a_station() {
            said.push(
                "added lines stand so near each other that together they rise and fall as a keyed station does: \
                 listen to whether it is one"
                    .to_owned(),
            );
        }
        if !self.lines.added.is_empty() && self.stand_perhaps() {
            said.push(
                "the added lines are too weak, or too near each other, to show at every moment that they stand: \
                 perhaps they are a station's. Record off and on several times"
                    .to_owned(),
            );
        }
        let visitor = self.strong_visitor();
        if self.lines.unsteady > 0 && visitor.is_none() {
            said.push(match self.lines.unsteady {
                1 => {
                    let or_weak = if self.voice { ", or is as weak as a voice's overtones," } else { "" };
                    format!(
                        "1 line in the on state only that keys or fades as a station does{or_weak} was not counted"
                    )
                }
                count => {
                    let or_weak = if self.voice { ", or are as weak as a voice's overtones," } else { "" };
                    format!(
                        "{count} lines in the on state only that key or fade as stations do{or_weak} were not counted"
                    )
                }
            });
        }
        // Where no kind is named it is said first.
        said.extend(visitor.filter(|_| !parts.is_empty()).map(Visitor::sentence));
        if buzz.is_some() || clicks.is_some() {
            said.extend(impulsive.and_then(Impulsive::sentence));
        }
        if parts.is_empty() && self.leans_to_a_rise() {
            let rise = self.excess.steady;
            said.push(format!(
                "the noise reads {:.1} dB higher ({:.1} to {:.1}), which chance brings too often to be called: \
                 record longer, and off and on several times",
                rise.value, rise.ci95.0, rise.ci95.1
            ));
        }
        said.extend(heard.bursts_sentence().filter(|_| !parts.is_empty()));
        if self.more_than_clicks(heard) {
            said.push("that is for longer than clicks last: there is more than clicks in it".to_owned());
        }
        said
    }
}

/// A small probability in words.
fn odds(chance: f64) -> String {
    if chance < 1e-6 {
        return "less than once in a million cases".to_owned();
    }
    format!("once in {:.0} cases", (1.0 / chance).min(1e6))
}

/// Everything the judgement looks at.
pub struct Facts<'a> {
    /// Noise without lines, gain changes taken off.
    pub excess: &'a Excess,
    /// Width of the common passband.
    pub width_hz: f64,
    /// Lines.
    pub lines: &'a LineChanges,
    /// Carriers that came, too many to tell them all apart.
    pub cluster: Option<Cluster>,
    /// What is in no other figure.
    pub uncounted: Uncounted,
    /// Noise that came for a part of the time only.
    pub surge: Option<Surge>,
    /// A signal of the on state only that comes and goes.
    pub visitor: Option<Visitor>,
    /// Whether a station holds a part of the passband in one of the recordings.
    pub station: bool,
    /// Whether a voice is heard in one of the recordings.
    pub voice: bool,
    /// Whether a carrier runs to and fro in one of them.
    pub warbles: bool,
    /// How far the noise rose in its quietest moments.
    pub quiet_moments: QuietMoments,
    /// How far the noise wanders within the recordings, where a state was recorded once.
    pub wander: Option<Wander>,
    /// Whether the noise level moves within one of the recordings.
    pub moves: bool,
    /// Gaussian part and the rest of the added noise, where they can be told.
    pub added: Option<AddedNoise>,
    /// Envelopes of the off recordings.
    pub off: Vec<&'a Envelope>,
    /// Envelopes of the on recordings.
    pub on: Vec<&'a Envelope>,
    /// Whether the parts of the passband pulse at once in each of the on recordings.
    pub at_once: Vec<&'a [AtOnce]>,
    /// What the on side's gain is above the off side's (ratio of powers).
    pub gain: f64,
    /// Mains frequency.
    pub mains_hz: f64,
    /// From one click to the next, s, as a longer look than these recordings told it.
    pub longer_beat: Option<Estimate>,
}
