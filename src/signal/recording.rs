//! One labelled file becomes a measurement, or a reason why it could not.

use std::path::Path;
use std::str::FromStr;
use std::sync::{Mutex, PoisonError};

use crate::audio::{ChannelChoice, Lost, Mono, Problem, ReadAccount, StreamFacts};
use crate::labels::{Fields, Label};
use crate::signal::measure::{MeasureSettings, Measurement};
use crate::signal::spectrum::{Passband, find_passband};
use crate::text::count;
use crate::warning::{Code, Warning};

/// A recording measured.
#[derive(Debug, Clone)]
pub struct Measured {
    /// What its sound tells; its warnings hold what the file tells as well.
    pub measurement: Measurement,
    /// What its file tells.
    pub facts: StreamFacts,
    /// What happened when it was read.
    pub account: ReadAccount,
}

/// A recording shorter than this has not even the shape of a spectrum. Chosen: a few frames.
const LEAST_S: f64 = 0.1;

/// Recordings with more samples a second are measured one after another, on however many cores. Chosen: one of 192
/// kHz takes some 50 MB while it is measured; receiver audio needs none of it.
const MANY_AT_ONCE_HZ: u32 = 96_000;

/// A recording that can't be used.
#[derive(Debug, Clone)]
pub struct Unusable {
    /// Why, and what to do.
    pub reason: String,
}

/// Reads and measures a labelled file. `channel` counts where the label names none.
///
/// # Errors
/// Whatever makes the file unusable, as the sentence that stands in the report.
pub fn measure_file(
    label: &Label,
    channel: ChannelChoice,
    settings: &MeasureSettings,
) -> Result<Measured, Unusable> {
    measure_labelled(&label.path, label, channel, settings)
}

/// Reads and measures the file at `path` that has these labels.
///
/// # Errors
/// As for [`measure_file`].
pub fn measure_labelled(
    path: &Path,
    label: &Fields,
    channel: ChannelChoice,
    settings: &MeasureSettings,
) -> Result<Measured, Unusable> {
    let channel = match &label.channel {
        Some(word) => ChannelChoice::from_str(word)
            .map_err(|error| Unusable { reason: error.to_string().replace("\n  try: ", "; try: ") })?,
        None => channel,
    };
    measure_path(path, channel, settings)
}

/// Reads and measures a file.
///
/// # Errors
/// As for [`measure_file`].
pub fn measure_path(path: &Path, channel: ChannelChoice, settings: &MeasureSettings) -> Result<Measured, Unusable> {
    let unusable = |reason: String| Unusable { reason };
    let mut audio = Mono::open(path, channel).map_err(|error| unusable(in_one_line(&error.problem)))?;
    let rate_hz = audio.facts().sample_rate_hz;
    static ALONE: Mutex<()> = Mutex::new(());
    let _alone = (rate_hz > MANY_AT_ONCE_HZ).then(|| ALONE.lock().unwrap_or_else(PoisonError::into_inner));
    if let Some(passband) = &settings.passband {
        within_the_samples(passband, rate_hz).map_err(unusable)?;
    }
    let mut sound = Measurement::stream(rate_hz, settings, |out| audio.read_block(out))
        .map_err(|error| unusable(in_one_line(&error.problem)))?;
    let account = audio.account();
    let whole_s = account.frames as f64 / f64::from(rate_hz);
    if whole_s < LEAST_S {
        let samples = count(account.frames as usize, "sample", "samples");
        return Err(unusable(format!(
            "holds only {samples} ({:.0} ms of sound); record it again, at least 20 s",
            1e3 * whole_s
        )));
    }
    let facts = audio.facts().clone();
    sound.warnings.splice(0..0, of_file(&facts, &account));
    if let Some(asked) = &settings.passband {
        sound.warnings.extend(outside_the_receivers(asked, &sound));
    }
    sound.slim();
    Ok(Measured { measurement: sound, facts, account })
}

/// The passband asked for must be in the samples at all: beyond half their rate there is nothing, and nothing would
/// compare as equal.
fn within_the_samples(asked: &Passband, rate_hz: u32) -> Result<(), String> {
    let highest_hz = f64::from(rate_hz) / 2.0;
    if asked.high_hz <= highest_hz {
        return Ok(());
    }
    Err(format!(
        "the passband asked for, {:.0}-{:.0} Hz, reaches beyond {highest_hz:.0} Hz, the highest frequency in its \
         {rate_hz} samples a second; ask for one that ends below",
        asked.low_hz, asked.high_hz
    ))
}

/// Least part of a passband asked for that ought to lie in the receiver's own. Chosen: a tenth for edges read off a
/// scale.
const LEAST_INSIDE: f64 = 0.9;

/// A passband asked for beyond the receiver's filter compares the sound card's noise, or what leaks past the
/// filter.
fn outside_the_receivers(asked: &Passband, sound: &Measurement) -> Option<Warning> {
    let found = find_passband(&sound.medians, sound.slices.bin_hz)?;
    let inside_hz = found.common(asked).map_or(0.0, |common| common.width_hz());
    (inside_hz < LEAST_INSIDE * asked.width_hz()).then(|| {
        Warning::new(
            Code::OutsidePassband,
            format!(
                "of the passband asked for, {:.0}-{:.0} Hz, only {inside_hz:.0} Hz lie within the receiver's \
                 own, which is {:.0}-{:.0} Hz; beyond it there is the sound card's noise and what leaks through \
                 the filter.",
                asked.low_hz, asked.high_hz, found.low_hz, found.high_hz
            ),
        )
    })
}

/// A problem and its advice as one line, to stand behind the file's name.
fn in_one_line(problem: &Problem) -> String {
    problem.to_string().replace("\n  try: ", "; try: ").replace('\n', " ")
}

/// What the file itself says against trusting the recording.
pub(crate) fn of_file(facts: &StreamFacts, account: &ReadAccount) -> Vec<Warning> {
    let mut found = Vec::new();
    if let Some(how) = &account.cut_short {
        found.push(Warning::new(
            if account.lost == Lost::Rest { Code::ReadError } else { Code::Truncated },
            format!("the file is not whole: {how}. What could be read was measured."),
        ));
    }
    if facts.lossy {
        found.push(Warning::new(
            Code::LossyCodec,
            format!(
                "it is coded as {}, which throws away what the ear does not miss - noise above all. Levels may \
                 be off by some dB; record WAV or FLAC.",
                facts.codec
            ),
        ));
    }
    if let Some(dead) = &account.dead_channel {
        found.push(Warning::new(
            Code::DeadChannel,
            format!("the channel {dead} carries nothing; used: {}.", account.channel_used),
        ));
    }
    if account.not_a_number > 0 {
        found.push(Warning::new(
            Code::NotANumber,
            format!(
                "{} are no numbers and were taken as silence. The recorder or a conversion is faulty.",
                count(account.not_a_number as usize, "sample", "samples")
            ),
        ));
    }
    found
}
