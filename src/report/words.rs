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
pub(crate) fn cause(code: Code) -> &'static str {
    match code {
        Code::Clipped => "clipping",
        Code::Dropouts => "dropouts",
        Code::Silent => "silence",
        Code::DcOffset => "a DC offset",
        Code::TooShort => "too short a recording",
        Code::Truncated => "a file cut short",
        Code::LossyCodec => "a lossy codec",
        Code::GainMoving => "a moving gain (AGC or fading)",
        Code::GainChanged => "a gain that differs between recordings",
        Code::MainsHum => "hum from the audio cabling",
        Code::DeadChannel => "a dead channel",
        Code::SettingsDiffer => "settings that differ",
        Code::OffNotRepeatable => "off recordings that differ",
        Code::NarrowPassband => "a narrow passband",
        Code::NotANumber => "samples that are no numbers",
        Code::Label => "labels that contradict",
        Code::Guessed => "a guess to confirm",
        Code::SetAside => "an off recording set aside",
        Code::NoRecording => "a missing recording",
        Code::SameSound => "two files with the same sound",
        Code::NoReference => "a reference carrier that is not there",
        Code::OutsidePassband => "a passband outside the receiver's own",
        Code::GainUnknown => "a gain that nothing shows to be fixed",
        Code::ReceiverNoise => "a receiver about as loud as the band",
        Code::ReceiverCheck => "a receiver that does not follow its input",
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
        Code::DcOffset | Code::MainsHum | Code::NotANumber | Code::GainUnknown | Code::SetAside | Code::Guessed => {
            return None;
        }
        Code::NoRecording | Code::SameSound | Code::NoReference | Code::OutsidePassband => return None,
    })
}

/// The causes of some warnings, each once, in the order they came.
pub(crate) fn causes<'a>(warnings: impl IntoIterator<Item = &'a Warning>) -> Vec<String> {
    let mut found: Vec<&str> = Vec::new();
    for words in warnings.into_iter().map(|warning| cause(warning.code)) {
        if !found.contains(&words) {
            found.push(words);
        }
    }
    found.into_iter().map(str::to_owned).collect()
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
