//! What can be known of how a recording was made: the one list of its fields, which the manifest fills and the file
//! name, and which a label carries. Not here: reading them (`manifest`, `names`), which must be equal between
//! recordings that are compared (`group`).

use std::fmt;

use serde::{Deserialize, Serialize};

use super::printable::quoted;
use super::start::Start;

/// Where a guess comes from when a name gave it away.
pub(super) const FILE_NAME: &str = "the file name";

/// A field's value, as a line of the manifest has it.
trait Value {
    /// The text behind the `=`.
    fn written(&self, field: &str) -> String;
    /// Words given and empty mean "none, and don't guess".
    fn is_there(&self) -> bool {
        true
    }
}

impl Value for String {
    fn written(&self, _: &str) -> String {
        quoted(self)
    }

    fn is_there(&self) -> bool {
        !self.is_empty()
    }
}

impl Value for f64 {
    fn written(&self, field: &str) -> String {
        if field == "dial_khz" { format!("{self:?}") } else { self.to_string() }
    }
}

impl Value for u32 {
    fn written(&self, _: &str) -> String {
        self.to_string()
    }
}

impl Value for Mode {
    fn written(&self, _: &str) -> String {
        quoted(self.word())
    }
}

impl Value for Start {
    fn written(&self, _: &str) -> String {
        self.to_toml()
    }
}

/// Each field with its type and an example of its value in the manifest.
macro_rules! fields {
    ($($(#[$doc:meta])+ $name:ident: $kind:ty = $example:literal,)+) => {
        /// What is known of how a recording was made. `None`: nobody said.
        #[derive(Debug, Clone, Default, PartialEq)]
        pub struct Fields {
            $($(#[$doc])+ pub $name: Option<$kind>,)+
            /// What one more in the last digit of the dial means, where it is written down: 14100.0 has 100 Hz.
            pub dial_step_hz: Option<f64>,
        }

        /// Fields of a recording in the manifest, each with an example of its line.
        pub(super) const RECORDING_FIELDS: &[(&str, &str)] = &[
            ("file", "file = \"03-lamp-on.flac\""),
            ("state", "state = \"on\""),
            $((stringify!($name), concat!(stringify!($name), " = ", $example)),)+
        ];

        impl Fields {
            /// These, and what they leave open as the file name has it, which is noted as guessed.
            pub(super) fn or(self, name: Fields, guesses: &mut Vec<Guess>) -> Fields {
                $(if self.$name.is_none() && let Some(value) = &name.$name {
                    let value = value.written(stringify!($name));
                    guesses.push(Guess { field: stringify!($name), value, from: FILE_NAME.into() });
                })+
                Fields {
                    $($name: self.$name.or(name.$name).filter(Value::is_there),)+
                    dial_step_hz: self.dial_step_hz.or(name.dial_step_hz),
                }
            }

            /// The values as the manifest writes them, in its order.
            pub(super) fn written(&self) -> Vec<Option<String>> {
                vec![$(self.$name.as_ref().map(|value| value.written(stringify!($name)))),+]
            }
        }
    };
}

fields! {
    /// The device that is on, or whose off state this is; none on an `off` recording: everything is off.
    device: String = "\"aquarium lamp\"",
    /// What was changed to quieten the device; none: nothing yet.
    remedy: String = "\"linear supply\"",
    /// Place in the ladder of remedies.
    order: f64 = "2",
    /// Ferrite pieces on the lead.
    ferrites: u32 = "3",
    /// Turns of the lead through them.
    turns: u32 = "1",
    /// Dial frequency of the receiver.
    dial_khz: f64 = "14100.0",
    /// Band as named in metres ("40m"), where no dial frequency is given.
    band: String = "\"20m\"",
    /// Demodulation.
    mode: Mode = "\"USB\"",
    /// Bandwidth of the receiver's filter.
    bandwidth_hz: f64 = "2400",
    /// Antenna, in the user's words.
    antenna: String = "\"end-fed wire\"",
    /// Gain and AGC, in the user's words.
    gain: String = "\"AGC off, RF gain 60\"",
    /// When the recording began.
    started: Start = "2026-03-14T19:02:00Z",
    /// The receiver's own reading, as noted.
    meter: String = "\"S7\"",
    /// Power at the receiver's input, dBm.
    dbm: f64 = "-85.0",
    /// Which channel of the file to use: "left", "right", "mean" or a number counted from 1.
    channel: String = "\"left\"",
    /// Where the receiver stood.
    place: String = "\"by the fence\"",
    /// Direction in which the place lies, or the antenna pointed, degrees from north.
    bearing_deg: f64 = "135",
    /// Distance of the place, m.
    distance_m: f64 = "40",
    /// The user's note.
    note: String = "\"lamp warm\"",
}

/// A label that nobody wrote down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guess {
    /// Name of the field, as in the manifest.
    pub field: &'static str,
    /// What it was taken to be, as it would be written in the manifest.
    pub value: String,
    /// Where the guess comes from, such as "the file name".
    pub from: String,
}

/// State of the device under test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// The device is off.
    Off,
    /// The device is on.
    On,
    /// The antenna is replaced by a dummy load: the receiver's own noise.
    Terminated,
}

impl State {
    /// Every state there is.
    pub const ALL: [State; 3] = [State::Off, State::On, State::Terminated];

    /// The word the manifest and the JSON use.
    pub fn word(self) -> &'static str {
        match self {
            State::Off => "off",
            State::On => "on",
            State::Terminated => "terminated",
        }
    }

    /// The state a word stands for, in any case of letters.
    pub fn from_word(word: &str) -> Option<State> {
        State::ALL.into_iter().find(|state| state.word().eq_ignore_ascii_case(word.trim()))
    }
}

impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// How the receiver demodulates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Mode {
    /// Upper sideband.
    Usb,
    /// Lower sideband.
    Lsb,
    /// Keyed carrier (Morse).
    Cw,
    /// Amplitude modulation.
    Am,
    /// Frequency modulation.
    Fm,
}

impl Mode {
    /// Every mode there is.
    pub const ALL: [Mode; 5] = [Mode::Usb, Mode::Lsb, Mode::Cw, Mode::Am, Mode::Fm];

    /// The word the manifest and the JSON use.
    pub fn word(self) -> &'static str {
        match self {
            Mode::Usb => "USB",
            Mode::Lsb => "LSB",
            Mode::Cw => "CW",
            Mode::Am => "AM",
            Mode::Fm => "FM",
        }
    }

    /// The mode a word stands for, in any case of letters.
    pub fn from_word(word: &str) -> Option<Mode> {
        Mode::ALL.into_iter().find(|mode| mode.word().eq_ignore_ascii_case(word.trim()))
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
