//! Does the audio follow the receiver's input decibel for decibel, and how far does the receiver's own noise lie
//! below the band's? From an attenuator of known size, switched out and in, and from a dummy load in place of the
//! antenna.
//!
//! With g the gain, R the receiver's own noise and B what the antenna brings beyond a resistor at room temperature,
//! the audio's powers are g(B + R) with the attenuator out, g(B/a + R) with it in, gR with the dummy load. R is the
//! same in all three: a passive attenuator at room temperature gives back the thermal noise it takes away, so that
//! its noise figure is its loss (H. T. Friis, "Noise Figures of Radio Receivers", Proc. IRE 32, 419-422, 1944; from
//! memory).
//!
//! A gain that yields to the level (AGC) makes every step smaller: audio steps are `slope` times those of the
//! input, slope 1 is dB for dB. The step and the drop to the dummy load are two equations for the two unknowns,
//! slope and R/B. Without the dummy load a small step has two explanations, and neither is called. Not here:
//! measuring the levels (`contrast`), which recordings they come from (`recordings`).

use serde::{Deserialize, Serialize};

use crate::units::{Estimate, in_db, ratio_of_db};

/// How far an attenuator may be off what is written on it, dB: our own choice, between that of a coaxial pad (some
/// 0.3 dB) and of a receiver's own switch (1 dB and more, common practice).
pub const ATTENUATOR_WITHIN_DB: f64 = 0.5;
/// A slope is called other than 1 where it certainly lies beyond this (our own choice): at 0.9 a rise of 10 dB
/// reads 9.
const SLOPE_OFF_BY: f64 = 0.1;
/// "Follows" is only said where the slope is known to about a fifth (our own choice).
const SLOPE_FOLLOWS: (f64, f64) = (0.8, 1.25);
/// Below this drop to the dummy load the band can't be heard over the receiver's own noise, dB (our own choice).
const LEAST_DROP_DB: f64 = 0.5;
/// Slopes looked for. Chosen: a receiver beyond either does not follow its input at all.
const SLOPES: (f64, f64) = (1e-3, 1e3);

/// How the audio answers to the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Response {
    /// Decibel for decibel, as far as could be measured.
    Follows,
    /// Steps come out too small: an AGC, a compressor or the recorder's automatic level at work.
    Compressed,
    /// Steps come out too large: noise reduction, squelch, a detector that is not linear, or another attenuator.
    Expanded,
    /// It can't be told.
    Untold(Untold),
}

/// Why it can't be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Untold {
    /// A side has no recording that could be used.
    NoRecording,
    /// The step is too small; receiver noise explains it as well as a moving gain does. A dummy load would tell.
    #[serde(rename = "no_dummy_load")]
    NoLoad,
    /// The band hardly stands above the receiver's own noise, or the gain levels everything.
    BandTooWeak,
    /// With the dummy load it is louder than with the antenna: something else was changed.
    LoadLouder,
    /// The figures scatter too much.
    Scatter,
}

/// The outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReceiverCheck {
    /// How the audio answers.
    pub response: Response,
    /// Audio dB for one dB of the input, with its 95 % interval; needs the dummy load. Its upper end may be
    /// infinite.
    pub slope: Option<Estimate>,
    /// The step that a linear receiver with this drop to the dummy load would have shown, dB.
    pub expected_step_db: Option<f64>,
    /// How far the receiver's own noise lies below the antenna's and its own together by the step alone, taken for
    /// a linear receiver's: the value, where one can be had, and the least that is sure, dB.
    pub own_by_step_db: (Option<f64>, Option<f64>),
}

/// What share of the audio with the attenuator out is the receiver's own, where its noise lies so far below, dB.
fn share_of(below_db: f64) -> f64 {
    ratio_of_db(-below_db)
}

/// The step in dB that an attenuator makes in a linear receiver whose own noise is `own_share` (0 to 1) of the
/// power with the attenuator out.
pub fn step_db(attenuator_db: f64, own_share: f64) -> f64 {
    -in_db((1.0 - own_share) * share_of(attenuator_db) + own_share)
}

/// The other way round: the receiver's own share that makes this step in a linear receiver; below 0 where the step
/// is larger than the attenuator.
pub fn own_share(attenuator_db: f64, step_db: f64) -> f64 {
    (share_of(step_db) - share_of(attenuator_db)) / (1.0 - share_of(attenuator_db))
}

/// The slope at which an attenuator makes this step, where the dummy load makes this drop, all in dB and the last
/// two of the audio. 0 where there is no step; infinite where even a boundless slope gives less.
fn slope(attenuator_db: f64, step: f64, drop: f64) -> f64 {
    // Concave in the drop, so this rises with the slope: from 0 to the share of the drop that the attenuator takes.
    let step_at = |slope: f64| slope * step_db(attenuator_db, share_of(drop / slope));
    if step <= 0.0 {
        return 0.0;
    }
    if step >= step_at(SLOPES.1) {
        return f64::INFINITY;
    }
    let (mut low, mut high) = SLOPES;
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if step_at(middle) < step { low = middle } else { high = middle }
    }
    (low * high).sqrt()
}

/// The slope with its interval: what the attenuator, the step and the drop leave open, each by itself, added in
/// quadrature (they are independent) on the scale of ratios.
fn slope_within(attenuator_db: f64, step: Estimate, drop: Estimate) -> Estimate {
    let value = slope(attenuator_db, step.value, drop.value);
    // Lower ends first: the slope falls with the attenuator and the drop, and rises with the step.
    let end = |sign: f64, step_end: f64, drop_end: f64| {
        let attenuator_end = (attenuator_db - sign * ATTENUATOR_WITHIN_DB).max(0.1);
        if value <= 0.0 || value.is_infinite() {
            return slope(attenuator_end, step_end, drop_end);
        }
        let alone = [
            slope(attenuator_end, step.value, drop.value),
            slope(attenuator_db, step_end, drop.value),
            slope(attenuator_db, step.value, drop_end),
        ];
        let reach = alone.map(|one| (one / value).ln().powi(2)).iter().sum::<f64>().sqrt();
        value * (sign * reach).exp()
    };
    Estimate { value, ci95: (end(-1.0, step.ci95.0, drop.ci95.1), end(1.0, step.ci95.1, drop.ci95.0)) }
}

/// Judges a check. `attenuator_db`: as it is written on it, above 0; `step`: audio with it out over audio with it
/// in; `drop`: audio with it out over audio with the dummy load.
pub fn judge(attenuator_db: f64, step: Estimate, drop: Option<Estimate>) -> ReceiverCheck {
    let own_by_step_db = own_by_step(attenuator_db, step);
    let Some(drop) = drop else {
        let response = without_load(attenuator_db, step);
        return ReceiverCheck { response, slope: None, expected_step_db: None, own_by_step_db };
    };
    let response = if drop.ci95.1 < 0.0 { Some(Untold::LoadLouder) } else { None };
    let response = response.or((drop.ci95.0 < LEAST_DROP_DB).then_some(Untold::BandTooWeak));
    if let Some(why) = response {
        return ReceiverCheck {
            response: Response::Untold(why),
            slope: None,
            expected_step_db: None,
            own_by_step_db,
        };
    }
    let slope = slope_within(attenuator_db, step, drop);
    ReceiverCheck {
        response: by_slope(slope),
        slope: Some(slope),
        expected_step_db: Some(step_db(attenuator_db, share_of(drop.value))),
        own_by_step_db,
    }
}

fn by_slope(slope: Estimate) -> Response {
    let (low, high) = slope.ci95;
    if high < 1.0 - SLOPE_OFF_BY {
        Response::Compressed
    } else if low > 1.0 + SLOPE_OFF_BY {
        Response::Expanded
    } else if low >= SLOPE_FOLLOWS.0 && high <= SLOPE_FOLLOWS.1 {
        Response::Follows
    } else {
        Response::Untold(Untold::Scatter)
    }
}

/// Neither receiver noise nor a compressing gain makes a step larger, so a full step shows that there is little of
/// both.
fn without_load(attenuator_db: f64, step: Estimate) -> Response {
    let (low, high) = (step.ci95.0 - ATTENUATOR_WITHIN_DB, step.ci95.1 + ATTENUATOR_WITHIN_DB);
    if low > attenuator_db * (1.0 + SLOPE_OFF_BY) {
        Response::Expanded
    } else if low >= attenuator_db * SLOPE_FOLLOWS.0
        && high >= attenuator_db
        && high <= attenuator_db * SLOPE_FOLLOWS.1
    {
        Response::Follows
    } else if high < attenuator_db {
        Response::Untold(Untold::NoLoad)
    } else {
        Response::Untold(Untold::Scatter)
    }
}

fn own_by_step(attenuator_db: f64, step: Estimate) -> (Option<f64>, Option<f64>) {
    let below = |attenuator_db: f64, step: f64| {
        let share = own_share(attenuator_db, step);
        (share > 0.0 && share <= 1.0).then(|| -in_db(share))
    };
    // The value is only worth its name where the attenuator's own uncertainty does not swallow it.
    let value = below(attenuator_db, step.value)
        .filter(|_| own_share((attenuator_db - ATTENUATOR_WITHIN_DB).max(0.1), step.ci95.1) > 0.0);
    (value, below(attenuator_db + ATTENUATOR_WITHIN_DB, step.ci95.0))
}

#[cfg(test)]
#[path = "receiver_check_tests.rs"]
mod tests;
