//! Words for what warnings say, and changes in S-units. Not here: whole sentences (`verdict`), numbers and counts
//! (`text`).

use crate::warning::{Code, Warning};

/// How many S-units a change is, to the nearest half, in words; nothing below a quarter of a unit.
///
/// Source: 6 dB a unit, IARU Region 1 Technical Recommendation R.1. A change needs no anchor; a reading would.
pub(crate) fn s_units_of_change(change_db: f64) -> Option<String> {
    const WORDS: [&str; 11] = ["", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let halves = (change_db.abs() / 3.0).round();
    if !(1.0..=21.0).contains(&halves) {
        return None;
    }
    let (whole, half) = (halves as usize / 2, halves as usize % 2 == 1);
    Some(match (whole, half) {
        (0, _) => "half an S-unit".to_owned(),
        (1, false) => "one S-unit".to_owned(),
        (n, false) => format!("{} S-units", WORDS[n]),
        (n, true) => format!("{} and a half S-units", WORDS[n]),
    })
}

/// What a warning is about, in a few words that can follow "because of".
pub(crate) fn cause(code: Code) -> String {
    match code {
        Code::Clipped => "clipping".to_owned(),
        Code::Silent => "silence".to_owned(),
        Code::DcOffset => "a DC offset".to_owned(),
        Code::TooShort => "too short a recording".to_owned(),
        Code::Truncated => "a file cut short".to_owned(),
        Code::LossyCodec => "a lossy codec".to_owned(),
        Code::GainMoving => "a moving gain (AGC or fading)".to_owned(),
        Code::GainChanged => "a gain that differs between recordings".to_owned(),
        Code::MainsHum => "hum from the audio cabling".to_owned(),
        Code::DeadChannel => "a dead channel".to_owned(),
        Code::SettingsDiffer => "settings that differ".to_owned(),
        Code::OffNotRepeatable => "off recordings that differ".to_owned(),
        Code::NarrowPassband => "a narrow passband".to_owned(),
        Code::NotANumber => "samples that are no numbers".to_owned(),
        Code::Label => "labels that contradict".to_owned(),
        Code::Guessed => "a guess to confirm".to_owned(),
        Code::SetAside => "an off recording set aside".to_owned(),
        Code::NoRecording => "a missing recording".to_owned(),
        Code::SameSound => "two files with the same sound".to_owned(),
        Code::NoReference => "a reference carrier that is not there".to_owned(),
        Code::OutsidePassband => "a passband outside the receiver's own".to_owned(),
        Code::GainUnknown => "a gain that nothing shows to be fixed".to_owned(),
        Code::ReceiverNoise => "a receiver about as loud as the band".to_owned(),
        Code::ReceiverCheck => "a receiver that does not follow its input".to_owned(),
        // Codes may be added: their name in the JSON is plain enough.
        other => code_name(other).replace('_', " "),
    }
}

/// Whether a warning merely notes what was done, and speaks against no figure.
pub(crate) fn is_note(code: Code) -> bool {
    matches!(code, Code::SetAside | Code::Guessed)
}

/// What to do before the next try, as an order without its stop; nothing where no simple step helps.
pub(crate) fn next_step(code: Code) -> Option<&'static str> {
    Some(match code {
        Code::Clipped => "turn the recorder's input down",
        Code::Silent => "check the lead, the recorder's input and the volume",
        Code::TooShort => "record at least 20 s of each state",
        Code::Truncated => "let the recorder finish its file",
        Code::LossyCodec => "record WAV or FLAC",
        Code::ReceiverCheck => "switch AGC and noise reduction off and check the receiver again",
        Code::GainMoving | Code::GainChanged => "switch AGC off and touch no control between off and on",
        Code::SettingsDiffer => "use the same settings for off and on, at a quiet spot on the dial",
        Code::OffNotRepeatable => "record off and on in turn, several times",
        Code::NarrowPassband => "use a wider filter",
        Code::Dropouts => "let nothing else run on the recorder",
        Code::DeadChannel => "check the channel that carries nothing",
        Code::ReceiverNoise => "use a better antenna or less attenuation",
        Code::Label => "look the labels over",
        _ => return None,
    })
}

/// A warning's code as the JSON has it.
pub(crate) fn code_name(code: Code) -> String {
    serde_json::to_value(code).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}

/// The causes of some warnings, each once, in the order they came.
pub(crate) fn causes<'a>(warnings: impl IntoIterator<Item = &'a Warning>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for warning in warnings {
        let words = cause(warning.code);
        if !found.contains(&words) {
            found.push(words);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IARU Region 1 Technical Recommendation R.1: one S-unit is 6 dB.
    #[test]
    fn changes_are_told_in_s_units_of_6_db() {
        let told = [1.0, 3.0, 6.0, 9.1, 14.2, -12.0, 60.0, 90.0].map(s_units_of_change);
        let told: Vec<_> = told.iter().map(|t| t.as_deref().unwrap_or("-")).collect();
        assert_eq!(
            told,
            [
                "-",
                "half an S-unit",
                "one S-unit",
                "one and a half S-units",
                "two and a half S-units",
                "two S-units",
                "ten S-units",
                "-"
            ]
        );
    }
}
