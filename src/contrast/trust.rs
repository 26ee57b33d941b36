//! How far the result can be relied on: the warnings of a contrast and what they add up to.

use super::added_lines::{LineChanges, is_hidden, is_in_all};
use super::character::Facts;
use super::excess::{Change, Excess};
use crate::signal::measure::Measurement;
use crate::signal::spectrum::statistics::{ends, mean};
use crate::warning::{Code, Trust, Warning};

/// Change of a reference's level that is a change of gain, dB. Chosen: above the scatter of two carriers at the
/// least strength (a third of a dB each), below a step of any gain control (common practice: 1 dB and more).
pub const GAIN_SHIFT_DB: f64 = 0.7;
/// Off recordings that lie further apart than this are worth a word, dB. Chosen: a band at rest moves by some
/// tenths from take to take (common practice).
pub const OFF_RANGE_DB: f64 = 0.8;
/// An on state this much quieter than the off state is no device's doing, dB. Chosen: beyond the band's own motion;
/// a device adds power and can't take any away.
const QUIETER_DB: f64 = 0.5;

/// What is wrong with the two sides as a pair.
pub fn pair_warnings(
    facts: &Facts<'_>,
    reference: Option<(f64, f64)>,
    corrected: bool,
    crowded: bool,
    off: &[&Measurement],
    on: &[&Measurement],
) -> Vec<Warning> {
    let Facts { excess, lines, .. } = facts;
    let mut found = Vec::new();
    if let Some((freq_hz, shift_db)) = reference.filter(|r| r.1.abs() > GAIN_SHIFT_DB) {
        found.push(Warning::new(
            Code::GainChanged,
            format!(
                "the steady carrier at {freq_hz:.1} Hz stands {shift_db:+.1} dB with the device on, so the gain \
                 changed (volume or RF gain touched, AGC on){}",
                if corrected {
                    "; the excess is taken against that carrier instead, which no gain change can spoil"
                } else {
                    ". Fix the gain and record again"
                }
            ),
        ));
    } else if let Some(drop_db) = quieter(excess) {
        found.push(Warning::new(
            Code::GainChanged,
            format!(
                "the on state is {drop_db:.1} dB quieter than the off state. No device takes noise away: the gain \
                 changed (AGC on, volume touched), on and off are swapped, or the band itself changed. Record \
                 off - on - off - on with the gain fixed."
            ),
        ));
    }
    if let Some((range_db, true)) = excess.off_range.filter(|r| r.0 > OFF_RANGE_DB) {
        found.push(Warning::new(
            Code::OffNotRepeatable,
            format!(
                "the off recordings differ by {range_db:.1} dB from each other, so part of the excess may be the \
                 band and not the device. Record off and on in turn, several times."
            ),
        ));
    }
    if let Some(count) = only_before(excess, lines, off, on) {
        found.push(Warning::new(
            Code::Label,
            format!(
                "{count} steady carriers stand in the off state and none came with the device on: off and on are \
                 swapped, or stations left the air. Look the labels over."
            ),
        ));
    }
    if crowded {
        found.push(Warning::new(
            Code::SettingsDiffer,
            "stations fill nearly all of the passband, so there is hardly any bare noise to compare. Choose a \
             quieter spot on the dial.",
        ));
    }
    if cut_short(off, on) {
        found.push(Warning::new(
            Code::SettingsDiffer,
            "a recording lacks a part of the passband that another one has: mode or filter were changed, or a \
             lossy recorder cut it off. Only what both have is compared; record both with the same settings, as \
             WAV or FLAC.",
        ));
    }
    let hum =
        |side: &[&Measurement]| side.iter().filter_map(|m| m.hum.as_ref()).map(|h| h.power()).fold(0.0, f64::max);
    let (before, after) = (hum(off), hum(on));
    if before > 0.0 && !(0.1..=10.0).contains(&(after / before)) || before == 0.0 && after > 0.0 {
        found.push(Warning::new(
            Code::MainsHum,
            "hum of the audio lead differs between off and on: the lead was moved, or the device feeds it \
             through its own supply. It is no radio noise and is kept out of the figures.",
        ));
    }
    let rates: Vec<u32> = off.iter().chain(on).map(|m| m.sample_rate_hz).collect();
    if rates.iter().any(|rate| *rate != rates[0]) {
        found.push(Warning::new(
            Code::SettingsDiffer,
            "the recordings have different sample rates, so they were not made with the same recorder settings; \
             levels may differ for that reason alone.",
        ));
    }
    found.extend(level_warnings(facts, reference.is_some()));
    found
}

/// Power that the level does not show, that came by the gain, or that is in no figure.
fn level_warnings(facts: &Facts<'_>, has_reference: bool) -> Vec<Warning> {
    let Facts { excess, uncounted, width_hz, .. } = facts;
    let mut found = Vec::new();
    if let Some((rate_hz, least_db)) = facts.levelled() {
        found.push(Warning::new(
            Code::GainChanged,
            format!(
                "the noise pulses {rate_hz:.1} times a second with the device on, so deeply that it must be at least \
                 {least_db:.1} dB louder, and its level does not show it: an AGC at work, or a control was turned \
                 down. Fix the gain and record again."
            ),
        ));
    }
    if let Some(rise_db) = uncounted.rose_alike_db(excess, *width_hz).filter(|_| !has_reference) {
        found.push(Warning::new(
            Code::GainChanged,
            format!(
                "the noise and the stations in it stand {rise_db:.1} dB higher alike, as a gain that was turned up has it \
                 (volume, RF gain, AGC). Fix it and record again."
            ),
        ));
    }
    if uncounted.is_strong(excess, *width_hz) {
        found.push(Warning::new(
            Code::UncountedPower,
            format!(
                "where stations and lines stand, the on state has more power than the off state, as much as {:.1} dB \
                 of noise would be. It is in no figure: listen to whether it is a station that came, or the device; \
                 then record off and on several times.",
                uncounted.db(excess, *width_hz)
            ),
        ));
    }
    found
}

/// So many carriers do not leave at once. Chosen: one or two stations may go off the air between two takes.
const LEAVE_TOGETHER: usize = 3;

/// How many carriers every off recording has and no on recording could hide, where nothing came with the device on.
fn only_before(excess: &Excess, lines: &LineChanges, off: &[&Measurement], on: &[&Measurement]) -> Option<usize> {
    let count = lines.lost.iter().filter(|line| line.shown && is_in_all(line, off) && !is_hidden(line, on)).count();
    (count >= LEAVE_TOGETHER && lines.added.is_empty() && !excess.is_called()).then_some(count)
}

/// By how much the steady noise fell, dB, where that is no device's doing.
fn quieter(excess: &Excess) -> Option<f64> {
    match excess.change(false) {
        Change::Down(drop_db, _) if drop_db > QUIETER_DB => Some(drop_db),
        Change::Down(..) | Change::Up(..) | Change::NotSure(..) | Change::Unknown => None,
    }
}

/// Part of all passbands together that a recording must lack, and how far (ratio of powers) it must lie there below
/// its own passband, to be called cut short. Chosen: a lossy codec cuts the whole top off, filters that merely
/// differ lack less; 20 dB is below any skirt's first step.
const CUT_SHARE: f64 = 0.15;
const CUT_RATIO: f64 = 0.01;

/// Whether a recording has next to nothing where another one has its passband.
fn cut_short(off: &[&Measurement], on: &[&Measurement]) -> bool {
    let all = || off.iter().chain(on);
    let edges = all().filter_map(|m| m.passband);
    let (low, high) = ends(edges.flat_map(|p| [p.low_hz, p.high_hz]));
    all().any(|m| {
        let Some(own) = m.passband else { return false };
        let level = |from_hz: f64, to_hz: f64| {
            let bin = |hz: f64| ((hz / m.slices.bin_hz).round().max(0.0) as usize).min(m.medians.len() - 1);
            mean(&m.medians[bin(from_hz)..bin(to_hz) + 1])
        };
        let inside = level(own.low_hz, own.high_hz);
        // The slope of a filter is no lack: the first tenth beyond the edge is passed over.
        let slope = 0.1 * own.width_hz();
        [(low, own.low_hz - slope), (own.high_hz + slope, high)].into_iter().any(|(from, to)| {
            to - from + slope > CUT_SHARE * (high - low) && to > from && level(from, to) < CUT_RATIO * inside
        })
    })
}

/// Faults of a recording that may falsify its level.
pub(super) const SPOILS: [Code; 6] =
    [Code::Clipped, Code::Dropouts, Code::TooShort, Code::ReadError, Code::LossyCodec, Code::NotANumber];

/// What the warnings of both sides and of the pair add up to, and which of the recordings' own codes had a part in
/// it.
pub fn trust(
    excess: &Excess,
    pair: &[Warning],
    off: &[&Measurement],
    on: &[&Measurement],
    corrected: bool,
) -> (Trust, Vec<Code>) {
    let own = |side: &[&Measurement], code: Code| side.iter().any(|m| m.warnings.iter().any(|w| w.code == code));
    let pair_has = |code: Code| pair.iter().any(|w| w.code == code);
    let mut spoilt_by: Vec<Code> = SPOILS.into_iter().filter(|&code| own(off, code) || own(on, code)).collect();
    // In the on state it may be the device that comes and goes; then too no single figure tells its excess, and a
    // voice or a station over the on recording looks just the same.
    if own(off, Code::GainMoving) || own(on, Code::GainMoving) {
        spoilt_by.push(Code::GainMoving);
    }
    let trust = if quieter(excess).is_some() && !corrected {
        Trust::Void
    } else if !spoilt_by.is_empty()
        || pair_has(Code::GainChanged)
        || pair_has(Code::OffNotRepeatable)
        || pair_has(Code::SettingsDiffer)
        || pair_has(Code::UncountedPower)
        || pair_has(Code::Label)
    {
        Trust::Doubtful
    } else {
        Trust::Sound
    };
    (trust, spoilt_by)
}
