//! What the judgement of a kind looks at. Not here: the judgement (`character`) and what each kind finds in it
//! (`buzz`, `clicks`).

use crate::contrast::added_lines::LineChanges;
use crate::contrast::excess::Excess;
use crate::contrast::impulsive::AddedNoise;
use crate::contrast::surge::Surge;
use crate::contrast::visitor::Visitor;
use crate::signal::envelope::Envelope;

/// Everything the judgement looks at.
pub struct Facts<'a> {
    /// Noise without lines, gain changes taken off.
    pub excess: &'a Excess,
    /// Width of the common passband.
    pub width_hz: f64,
    /// Lines.
    pub lines: &'a LineChanges,
    /// Noise that came for a part of the time only.
    pub surge: Option<Surge>,
    /// A signal of the on state only that comes and goes.
    pub visitor: Option<Visitor>,
    /// Whether a voice is heard in one of the recordings.
    pub voice: bool,
    /// Gaussian part and the rest of the added noise, where they can be told.
    pub added: Option<AddedNoise>,
    /// Envelopes of the off recordings.
    pub off: Vec<&'a Envelope>,
    /// Envelopes of the on recordings.
    pub on: Vec<&'a Envelope>,
    /// What the on side's gain is above the off side's (ratio of powers).
    pub gain: f64,
    /// Mains frequency.
    pub mains_hz: f64,
}
