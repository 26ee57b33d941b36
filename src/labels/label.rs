//! The words a session consists of: recording, setting, plan of a contrast.
//! Not here: where they come from (`manifest`, `names`), how they are grouped (`group`).

use std::ops::Deref;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::fields::{Fields, Guess, Mode, State};
use super::listening::ListeningLabels;
use crate::warning::Warning;

/// A folder of labelled recordings, and what is to be compared with what.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Title from the manifest, else the folder's name.
    pub title: String,
    /// Mains frequency in Hz, where the manifest gives it.
    pub mains_hz: Option<f64>,
    /// The user's own words about receiver, antenna, earth.
    pub station: Option<String>,
    /// Audio frequency in Hz of a steady carrier that stands in both states.
    pub reference_hz: Option<f64>,
    /// Bands (low, high, kHz) in which carriers are to be predicted.
    pub bands_khz: Vec<(f64, f64)>,
    /// What it aims at, its calibration, antenna and supplies.
    pub listening: ListeningLabels,
    /// Recordings by which the receiver can be checked.
    pub receiver_check: Option<ReceiverCheckLabel>,
    /// The recordings that can be used, in the order of the manifest, else of their names.
    pub recordings: Vec<Label>,
    /// What must be equal for two recordings to be compared.
    pub settings: Vec<Setting>,
    /// The contrasts to make.
    pub contrasts: Vec<Plan>,
    /// Devices that were switched off one by one with all else on: all on against all but each, for what kind of
    /// noise it makes. They stand in no list of comparisons, since their off is not quiet.
    pub complements: Vec<Plan>,
    /// The places of a walk, each with what was recorded there; empty where there is but one.
    pub places: Vec<PlacePlan>,
    /// Files that can't be used: name, and why with what to do about it.
    pub left_out: Vec<(String, String)>,
    /// What was guessed, and labels that contradict each other.
    pub warnings: Vec<Warning>,
}

/// Recordings of the band with a known attenuator ahead of the receiver, out and in.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReceiverCheckLabel {
    /// What is written on the attenuator, dB.
    pub attenuator_db: f64,
    /// Files with it out, relative to the session's folder.
    pub out: Vec<String>,
    /// Files with it in.
    pub inserted: Vec<String>,
    /// The session's folder.
    pub dir: PathBuf,
}

/// One recording and all that is known about how it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// "r1", "r2" … in the order of the session.
    pub id: String,
    /// File name relative to the session's folder, parts divided by `/`. May hold any character a file name can:
    /// use [`printable`](super::printable) before it reaches a terminal.
    pub file: String,
    /// Where to open it.
    pub path: PathBuf,
    /// The device off, on, or the antenna replaced.
    pub state: State,
    /// How it was made.
    pub fields: Fields,
    /// Id of its setting, "s1" ….
    pub setting: String,
    /// Which of the fields above were guessed.
    pub guesses: Vec<Guess>,
}

/// A label is its fields, and which recording they belong to.
impl Deref for Label {
    type Target = Fields;

    fn deref(&self) -> &Fields {
        &self.fields
    }
}

/// What was equal between the recordings that are compared, as `report.json` has it. `None`: not labelled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Setting {
    /// "s1", "s2" … in order of first appearance.
    pub id: String,
    /// Dial frequency.
    pub dial_khz: Option<f64>,
    /// Band as named in metres, where no dial frequency is given.
    pub band: Option<String>,
    /// Demodulation.
    pub mode: Option<Mode>,
    /// Bandwidth of the receiver's filter.
    pub bandwidth_hz: Option<f64>,
    /// Antenna.
    pub antenna: Option<String>,
    /// Gain and AGC.
    pub gain: Option<String>,
}

/// One contrast to make: a device, with one remedy or none, on against off in one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// "c1", "c2" ….
    pub id: String,
    /// The device; "device" where no label names one.
    pub device: String,
    /// The remedy; none: nothing changed yet.
    pub remedy: Option<String>,
    /// Id of the setting.
    pub setting: String,
    /// Ids of the off recordings; never empty.
    pub off: Vec<String>,
    /// Ids of the on recordings; never empty.
    pub on: Vec<String>,
    /// What speaks against this comparison already from its labels.
    pub warnings: Vec<Warning>,
}

/// A place where a noise was recorded by the same receiver as at others.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacePlan {
    /// In the user's words.
    pub place: String,
    /// Whose noise, where a label names it.
    pub device: Option<String>,
    /// Id of the setting.
    pub setting: String,
    /// Direction in which the place lies, or the antenna pointed, degrees.
    pub bearing_deg: Option<f64>,
    /// Distance from where the user measures it, m.
    pub distance_m: Option<f64>,
    /// Ids of the recordings there with the noise; never empty.
    pub on: Vec<String>,
    /// Ids of those without it: made there, else anywhere.
    pub off: Vec<String>,
    /// Whether those without it were made there.
    pub off_is_there: bool,
}

/// Whether a gain label says that the gain was fixed: AGC off, fixed, manual, in whatever spelling.
pub fn tells_fixed_gain(label: &str) -> bool {
    let letters = letters(label);
    ["agcoff", "noagc", "withoutagc", "fixed", "manual"].iter().any(|word| letters.contains(word))
}

/// Whether a gain label says that an AGC was at work: on, fast, slow, automatic.
pub fn tells_agc(label: &str) -> bool {
    let letters = letters(label);
    let says = ["agcon", "agcfast", "agcslow", "agcmed", "agcauto", "fastagc", "slowagc", "mediumagc", "autoagc"];
    says.iter().any(|word| letters.contains(word)) && !tells_fixed_gain(label)
}

fn letters(label: &str) -> String {
    label.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect()
}
