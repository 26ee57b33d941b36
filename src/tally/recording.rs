//! One labelled file becomes a measurement, or a reason why it could not.

use std::str::FromStr;

use crate::audio::{ChannelChoice, Mono, ReadAccount, StreamFacts};
use crate::health::{Code, Warning};
use crate::measure::{MeasureSettings, Measurement};
use crate::session::Label;

/// A recording measured.
#[derive(Debug, Clone)]
pub struct Measured {
    /// What its sound tells; its warnings hold what the file tells as well.
    pub sound: Measurement,
    /// What its file tells.
    pub facts: StreamFacts,
    /// What happened when it was read.
    pub account: ReadAccount,
}

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
    let unusable = |reason: String| Unusable { reason };
    let channel = match &label.channel {
        Some(word) => ChannelChoice::from_str(word).map_err(|error| unusable(error.to_string()))?,
        None => channel,
    };
    let mut audio = Mono::open(&label.path, channel).map_err(|error| unusable(one_line(&error)))?;
    let mut sound = Measurement::stream(audio.facts().sample_rate_hz, settings, |out| audio.read_block(out))
        .map_err(|error| unusable(one_line(&error)))?;
    let account = audio.account();
    if account.frames == 0 {
        return Err(unusable("there are no samples in it. Record it again.".to_owned()));
    }
    let facts = audio.facts().clone();
    sound.warnings.splice(0..0, of_file(&facts, &account));
    Ok(Measured { sound, facts, account })
}

/// The chain of an error as one line of the report.
fn one_line(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(next) = cause {
        text = format!("{text} ({next})");
        cause = next.source();
    }
    text.replace("\n  try: ", " Try: ").replace('\n', " ")
}

/// What the file itself says against trusting the recording.
fn of_file(facts: &StreamFacts, account: &ReadAccount) -> Vec<Warning> {
    let mut found = Vec::new();
    if let Some(how) = &account.cut_short {
        found.push(Warning::new(
            Code::Truncated,
            format!("the file is not whole: {how}. What could be read was measured."),
        ));
    }
    if facts.lossy {
        found.push(Warning::new(
            Code::LossyCodec,
            format!(
                "it is coded as {}, which throws away what the ear does not miss - noise above all. Levels may be off \
                 by some dB; record WAV or FLAC.",
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
                crate::units::counted(account.not_a_number as usize, "sample")
            ),
        ));
    }
    found
}
