//! The causes for mistrust. A warning says what is so, and what to do about it, in the user's words.

use serde::{Deserialize, Serialize};

/// What is wrong; the names are a contract of the JSON output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Code {
    /// Samples stand at full scale in runs.
    Clipped,
    /// Short holes of silence in the sound.
    Dropouts,
    /// Nothing to hear.
    Silent,
    /// Digital silence before or after the sound, which was left out.
    SilentEnds,
    /// The mean is far from zero.
    DcOffset,
    /// Too little sound for a figure with a useful interval.
    TooShort,
    /// The file ends before its header says, or its header never was completed.
    Truncated,
    /// The file could not be read, or decoded, to its end.
    ReadError,
    /// A codec that throws away what it deems inaudible: noise is just that.
    LossyCodec,
    /// AGC or fading moved the gain within the recording.
    GainMoving,
    /// The gain differs between two recordings.
    GainChanged,
    /// Hum of the audio cabling, not of the radio.
    MainsHum,
    /// One channel of a stereo recording carries nothing.
    DeadChannel,
    /// The recordings of a contrast were not made with equal settings.
    SettingsDiffer,
    /// Off and on were recorded at times too far apart for one band.
    FarApart,
    /// The off recordings differ from each other.
    OffNotRepeatable,
    /// The on state has power where stations and lines stand that is in no figure.
    UncountedPower,
    /// Nothing shows that the gain was fixed, and the verdict hangs on it.
    GainUnknown,
    /// One of several off recordings was left out of a comparison.
    SetAside,
    /// The passband is narrow: few independent values a second.
    NarrowPassband,
    /// Samples that are no numbers (NaN, infinity) were replaced by silence.
    NotANumber,
    /// Something was guessed that the user should confirm.
    Guessed,
    /// A label that contradicts another or the sound.
    Label,
    /// A side of a comparison has no recording that could be used.
    NoRecording,
    /// Nothing without it lies beside a noise of a night.
    NoQuiet,
    /// A rise of a night with a begin or an end alone, which a touched control makes as well.
    OpenEnded,
    /// Off and on hold the very same samples: one file is a copy of the other.
    SameSound,
    /// The carrier named as a reference does not stand in both states.
    NoReference,
    /// The passband asked for lies outside the receiver's own.
    OutsidePassband,
    /// The band's noise hardly stands above the receiver's own.
    ReceiverNoise,
    /// Noises overlap so that what was measured may be of another one.
    Overlapped,
    /// A known step at the receiver's input came out as another one.
    ReceiverCheck,
}

impl Code {
    /// The name in the JSON contract.
    pub fn word(self) -> String {
        serde_json::to_value(self).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
    }
}

/// One cause for mistrust, in plain words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Warning {
    /// What is wrong.
    pub code: Code,
    /// What is so, and what to do, as one or two sentences.
    pub message: String,
}

impl Warning {
    /// A warning of this code with this text.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }
}

/// How far the result of a contrast can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Trust {
    /// Nothing found that spoils the figures.
    Sound,
    /// Nothing either, but off or on stands alone: a touched control or a band that moved would look the same.
    Unrepeated,
    /// The figures may be off; the warnings say why.
    Doubtful,
    /// The figures mean nothing.
    Void,
}

impl Trust {
    /// The name in the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Unrepeated => "unrepeated",
            Self::Doubtful => "doubtful",
            Self::Void => "void",
        }
    }

    /// Whether nothing was found that spoils the figures.
    pub fn is_unspoilt(self) -> bool {
        match self {
            Self::Sound | Self::Unrepeated => true,
            Self::Doubtful | Self::Void => false,
        }
    }

    /// Whether nothing was found, but one take of a state stands alone.
    pub fn is_unrepeated(self) -> bool {
        match self {
            Self::Unrepeated => true,
            Self::Sound | Self::Doubtful | Self::Void => false,
        }
    }

    /// Whether the figures may be off.
    pub fn is_doubtful(self) -> bool {
        match self {
            Self::Doubtful => true,
            Self::Sound | Self::Unrepeated | Self::Void => false,
        }
    }

    /// Whether the figures mean nothing.
    pub fn is_void(self) -> bool {
        match self {
            Self::Void => true,
            Self::Sound | Self::Unrepeated | Self::Doubtful => false,
        }
    }
}
