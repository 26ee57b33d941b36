//! Whether the receiver follows its input, as an attenuator put into the antenna lead tells it, and how far the
//! band's noise lies above the receiver's own.
//!
//! Here: the manifest's recordings measured and judged, and what to say where the receiver fails; [`solve`] is the
//! arithmetic, `result` and `words` are what is told of it. It comes before the comparisons, which a receiver that
//! fails spoils, and so is made from other things than the other findings.

pub mod result;
pub mod solve;
pub mod words;

use std::collections::BTreeMap;

use crate::audio::ChannelChoice;
use crate::contrast::{TakeScatter, noise_over};
use crate::findings::receiver_check::result::{Answer, ReceiverCheckResult};
use crate::findings::receiver_check::solve::{ATTENUATOR_WITHIN_DB, ReceiverCheck, Response, Untold, judge};
use crate::labels::{ReceiverCheckLabel, Session, State, printable};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::signal::recording::{Measured, Unusable, measure_path};
use crate::units::Estimate;
use crate::warning::{Code, Warning};

pub(crate) use words::section;

/// Faults by which a recording's level means nothing.
const SPOILS: [Code; 4] = [Code::Clipped, Code::Dropouts, Code::Silent, Code::NotANumber];

/// Measures the check of a session. Returns what it shows and what speaks against it; one of code
/// [`Code::ReceiverCheck`] spoils every comparison. `None` where the manifest has no check.
pub fn of(
    session: &Session,
    measured: &BTreeMap<String, Measured>,
    channel: ChannelChoice,
    settings: &MeasureSettings,
) -> Option<(ReceiverCheckResult, Vec<Warning>)> {
    let check = session.receiver_check.as_ref()?;
    let terminated: Vec<_> = session.recordings.iter().filter(|l| l.state == State::Terminated).collect();
    // Of several settings nothing tells which the check was made at.
    let is_one = terminated.iter().all(|label| label.setting == terminated[0].setting);
    let loads = terminated.iter().filter(|_| is_one).filter_map(|label| measured.get(&label.id));
    let loads: Vec<&Measurement> = loads.map(|one| &one.measurement).filter(|m| is_usable(m)).collect();
    Some(of_recordings(check, &loads, channel, settings))
}

/// Standard deviation of a take's level where takes follow each other within a minute or two, dB. Measured: noise
/// of six recordings of quiet bands, each against the next, lies 0.01 to 0.3 dB apart.
const IN_A_ROW_DB: f64 = 0.1;

/// The same with these recordings of a dummy load, of which there may be none.
pub fn of_recordings(
    check: &ReceiverCheckLabel,
    loads: &[&Measurement],
    channel: ChannelChoice,
    settings: &MeasureSettings,
) -> (ReceiverCheckResult, Vec<Warning>) {
    let mut warnings = Vec::new();
    let mut measure = |files: &[String]| -> Vec<Measurement> {
        let mut usable = Vec::new();
        for file in files {
            match measure_path(&check.dir.join(file), channel, settings).and_then(unspoilt) {
                Ok(sound) => usable.push(sound),
                Err(why) => warnings.push(Warning::new(
                    Code::NoRecording,
                    format!("the receiver check goes without {}: {}.", printable(file), why.reason),
                )),
            }
        }
        usable
    };
    let (out, inserted) = (measure(&check.out), measure(&check.inserted));
    let (out, inserted): (Vec<_>, Vec<_>) = (out.iter().collect(), inserted.iter().collect());
    let mut result = ReceiverCheckResult {
        attenuator_db: check.attenuator_db,
        attenuator_within_db: ATTENUATOR_WITHIN_DB,
        recordings: [out.len(), inserted.len()],
        response: Answer::Untold,
        why: Some(Untold::NoRecording),
        ..ReceiverCheckResult::default()
    };
    let scatter = TakeScatter { sd_db: IN_A_ROW_DB, ..TakeScatter::default() };
    let Some(step) = noise_over(&inserted, &out, settings.passband, &scatter) else { return (result, warnings) };
    let drop = noise_over(loads, &out, settings.passband, &scatter);
    fill(&mut result, step, drop, judge(check.attenuator_db, step, drop));
    let levels = out.iter().chain(&inserted).chain(loads).filter_map(|m| m.level).map(|level| level.0);
    result.seen_dbfs = levels.fold(None, |span, level| {
        let [low, high] = span.unwrap_or([level, level]);
        Some([level.min(low), level.max(high)])
    });
    warnings.extend(failure(&result));
    (result, warnings)
}

fn is_usable(sound: &Measurement) -> bool {
    sound.passband.is_some() && !sound.warnings.iter().any(|w| SPOILS.contains(&w.code))
}

fn unspoilt(one: Measured) -> Result<Measurement, Unusable> {
    let sound = one.measurement;
    if is_usable(&sound) {
        return Ok(sound);
    }
    let spoilt = sound.warnings.iter().find(|w| SPOILS.contains(&w.code));
    let reason = spoilt.map_or("there is no noise to measure in it", |w| w.message.as_str());
    Err(Unusable { reason: reason.trim_end_matches('.').to_owned() })
}

fn fill(result: &mut ReceiverCheckResult, step: Estimate, drop: Option<Estimate>, check: ReceiverCheck) {
    (result.step_db, result.step_ci_db) = (Some(step.value), Some(step.ends()));
    (result.dummy_load_drop_db, result.dummy_load_drop_ci_db) = (drop.map(|d| d.value), drop.map(Estimate::ends));
    result.expected_step_db = check.expected_step_db;
    result.slope = check.slope.map(|slope| slope.value);
    result.slope_ci = check.slope.map(Estimate::ends);
    (result.response, result.why) = answer(check.response);
    if check.response == Response::Follows {
        let (by_step, at_least) = check.own_by_step_db;
        result.own_noise_below_db = drop.map(|d| d.value).or(by_step);
        result.own_noise_below_at_least_db = drop.map(|d| d.ci95.0).or(at_least);
    }
}

fn answer(response: Response) -> (Answer, Option<Untold>) {
    match response {
        Response::Follows => (Answer::Follows, None),
        Response::Compressed => (Answer::Compressed, None),
        Response::Expanded => (Answer::Expanded, None),
        Response::Untold(why) => (Answer::Untold, Some(why)),
    }
}

/// Where the receiver surely does not follow, no excess of the session is what it is on the air.
fn failure(result: &ReceiverCheckResult) -> Option<Warning> {
    let step = result.step_db?;
    let so = format!("the attenuator of {} dB made a step of {step:.1} dB in the audio", result.attenuator_db);
    let message = match result.response {
        Answer::Compressed => format!(
            "{so}, too little even with the receiver's own noise reckoned in: AGC, or a recorder's automatic level, is at \
             work, and every excess reads too small. Switch it off, or turn the RF gain down until it no longer acts, and \
             record again."
        ),
        Answer::Expanded => format!(
            "{so}, more than it can: noise reduction or squelch is at work, the detector is not linear, another \
             attenuator was used, or something was touched between. The excess can't be relied on. Look, and record again."
        ),
        Answer::Follows | Answer::Untold => return None,
    };
    Some(Warning::new(Code::ReceiverCheck, message))
}
