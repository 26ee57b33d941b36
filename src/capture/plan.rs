//! The takes of a session as data: what is switched, in which order, how long, under which file name.
//! Not here: how the plan is printed (`sheet`), walking through it (`take`).

use std::fmt::Write;

use serde::{Deserialize, Serialize};

use super::receiver_takes::{CHECK_S, check_takes};
use super::walk::{self, Way};
use crate::contrast::{TakeScatter, planned_limit_db};
use crate::labels::{ATTENUATORS_DB, Mode, State, labels_in_names, same_words};
use crate::text::count;

/// Length of a take where neither it nor the time at hand is given, s (chosen).
const USUAL_S: f64 = 30.0;
/// Shortest take that is planned by itself: the length the warnings ask for (`too_short`), s.
const SHORTEST_S: f64 = 20.0;
/// Longest take that is planned by itself: beyond it the band moves more than the noise scatters (chosen),
/// s.
const LONGEST_S: f64 = 60.0;
/// Lengths that can be asked for, s: below the first no figure can be trusted, above the second use a recorder
/// (chosen).
const ALLOWED_S: (f64, f64) = (3.0, 3600.0);
/// Times on and off are recorded in turn where nothing is said (chosen): two off takes show whether the band
/// moved.
const USUAL_ROUNDS: u32 = 2;
/// Most rounds planned by themselves, and most that can be asked for. Chosen: beyond four, time is better spent on
/// another remedy; twenty guard against a slip of the finger.
const MOST_ROUNDS: (u32, u32) = (4, 20);
/// Most takes: names count them with two digits.
const MOST_TAKES: usize = 99;
/// Time to switch a device and step back (chosen), s.
const SWITCHING_S: f64 = 15.0;
/// Time to go to the distribution board, switch a circuit and come back (chosen), s.
const CIRCUIT_S: f64 = 45.0;
/// Time to fit a remedy, or to change the antenna for a dummy load (chosen), s.
const FITTING_S: f64 = 180.0;
/// Share of the filter's width left for the noise, without edges and stations (chosen).
const FREE_SHARE: f64 = 0.8;
/// Filters by mode where none is named (common practice), Hz.
const USUAL_FILTER_HZ: f64 = 2400.0;
const USUAL_CW_HZ: f64 = 500.0;
const USUAL_AM_HZ: f64 = 6000.0;

/// A device and what is to be tried on it, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DeviceWords {
    /// The device.
    pub name: String,
    /// Remedies, in the order they will be fitted; each replaces or joins the one before, as their words say.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remedies: Vec<String>,
}

/// What the user says; the plan follows from it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanWords {
    /// Heads sheet, manifest and report.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Receiver, antenna, earth, in the user's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Mains frequency, Hz.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mains_hz: Option<f64>,
    /// Dial frequency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dial_khz: Option<f64>,
    /// Demodulation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Mode>,
    /// Width of the receiver's filter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bandwidth_hz: Option<f64>,
    /// Antenna.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub antenna: Option<String>,
    /// Gain and AGC.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gain: Option<String>,
    /// Time at hand, min.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    /// Length of a take, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
    /// Times each state is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounds: Option<u32>,
    /// Whether to leave the take with a dummy load out.
    #[serde(default)]
    pub no_dummy_load: bool,
    /// The attenuator to check the receiver with first, dB.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receiver_check_db: Option<f64>,
    /// Circuits of a house to walk over, in place of devices.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub circuits: Vec<String>,
    /// Which way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub walk: Option<Way>,
    /// The devices.
    #[serde(default, rename = "device", skip_serializing_if = "Vec::is_empty")]
    pub devices: Vec<DeviceWords>,
}

/// One recording to make.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// Its place, from 1.
    pub number: usize,
    /// Name of its file; read back, it gives the labels below.
    pub file: String,
    /// Off, on, or the antenna replaced.
    pub state: State,
    /// The device that is on.
    pub device: Option<String>,
    /// What is fitted to quieten it.
    pub remedy: Option<String>,
    /// Place of the remedy in their order, from 1.
    pub order: Option<u32>,
    /// What to do before it, as a sentence.
    pub before: String,
}

/// The takes, their length, and what they can show.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What it was made of.
    pub words: PlanWords,
    /// Length of each take, s.
    pub seconds: f64,
    /// Times each state is recorded.
    pub rounds: u32,
    /// In order.
    pub takes: Vec<Take>,
}

/// Words no plan can be made of. Each says what to write instead.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Nothing to test.
    #[error(
        "no device is named\n  try: --device \"aquarium lamp: three ferrites, linear supply\", or --circuits \"kitchen \
         ring, upstairs lights, cellar\""
    )]
    NoDevice,
    /// A walk and devices at once, or a way without circuits.
    #[error("{0}\n  try: --circuits \"kitchen ring, upstairs lights, cellar\" alone; devices on another evening")]
    NoWalk(&'static str),
    /// The words could not be read back from the file name.
    #[error(
        "the {what} `{words}` can't be told from a file name: `{file}` would be read otherwise\n  try: other \
         words for it, plain ones, without `on`, `off`, numbers or units"
    )]
    Unreadable {
        /// "device" or "remedy".
        what: &'static str,
        /// As given.
        words: String,
        /// The name that would be misread.
        file: String,
    },
    /// Two devices, or two remedies of a device, that names can't keep apart.
    #[error("`{0}` is named twice\n  try: words that tell the two apart")]
    Twice(String),
    /// Too much for the time.
    #[error(
        "{takes} takes of {SHORTEST_S:.0} s and the switching between them need {needed:.0} min, not \
         {given:.0}\n  try: --minutes {needed:.0}, or fewer devices or remedies at a time"
    )]
    NoTime {
        /// Takes at least needed.
        takes: usize,
        /// Minutes they need.
        needed: f64,
        /// Minutes there are.
        given: f64,
    },
    /// More than can be counted.
    #[error(
        "that makes {0} takes; at most {MOST_TAKES} can be planned\n  try: fewer devices at a time, or fewer rounds"
    )]
    TooMany(usize),
    /// A number outside what makes sense.
    #[error("{what} of {value} makes no sense\n  try: {advice}")]
    Number {
        /// What it was given for.
        what: &'static str,
        /// As given.
        value: f64,
        /// What can be given.
        advice: &'static str,
    },
}

impl Plan {
    /// Makes the plan.
    ///
    /// # Errors
    /// Words of which none can be made, each with what to write instead.
    pub fn of(words: PlanWords) -> Result<Self, PlanError> {
        check_numbers(&words)?;
        if words.circuits.is_empty() && words.walk.is_some() {
            return Err(PlanError::NoWalk("a walk names no circuits"));
        }
        if !words.circuits.is_empty() {
            check_walk(&words)?;
        } else if words.devices.is_empty() || words.devices.iter().any(|device| device.name.trim().is_empty()) {
            return Err(PlanError::NoDevice);
        }
        no_twins(&words)?;
        let (rounds, seconds) = rounds_and_length(&words)?;
        let takes = takes(&words, rounds);
        if takes.len() > MOST_TAKES {
            return Err(PlanError::TooMany(takes.len()));
        }
        readable(&takes, &words)?;
        Ok(Self { words, seconds, rounds, takes })
    }

    /// Time the whole takes, min.
    pub fn minutes(&self) -> f64 {
        minutes(&self.words, self.takes.len(), self.seconds)
    }

    /// Takes with everything off.
    pub fn off_takes(&self) -> usize {
        self.takes.iter().filter(|take| take.state == State::Off).count()
    }

    /// Width of the noise that will be measured, Hz: of the filter named, or of the one usual in this mode.
    pub fn free_hz(&self) -> f64 {
        let filter_hz = self.words.bandwidth_hz.unwrap_or(match self.words.mode {
            Some(Mode::Cw) => USUAL_CW_HZ,
            Some(Mode::Am) => USUAL_AM_HZ,
            Some(Mode::Usb | Mode::Lsb | Mode::Fm) | None => USUAL_FILTER_HZ,
        });
        // Of an AM filter's width the audio has half: both sidebands fall on the same frequencies.
        let audio_hz = if self.words.mode == Some(Mode::Am) { filter_hz / 2.0 } else { filter_hz };
        FREE_SHARE * audio_hz
    }

    /// The smallest rise in dB that will be called with takes `longer` times as long and `more` times as many,
    /// where the band moves by `wander_db` (standard deviation) from take to take.
    pub fn limit_db(&self, longer: f64, more: usize, wander_db: f64) -> f64 {
        let on = self.rounds as usize * more;
        let off = self.off_takes() * more;
        let steps =
            self.takes.iter().filter(|take| take.state == State::On).count() / (self.rounds as usize).max(1);
        let scatter = TakeScatter::expected(wander_db, (off - 1) + steps * (on - 1));
        planned_limit_db(self.free_hz(), self.seconds * longer, off, on, &scatter)
    }

    /// Heads sheet, manifest and report.
    pub fn title(&self) -> String {
        let names: Vec<&str> = self.words.devices.iter().map(|device| device.name.trim()).collect();
        if !self.words.circuits.is_empty() {
            return self.words.title.clone().unwrap_or_else(|| described(&self.words));
        }
        self.words.title.clone().unwrap_or_else(|| names.join(", "))
    }
}

fn check_numbers(words: &PlanWords) -> Result<(), PlanError> {
    let within = |value: Option<f64>, low: f64, high: f64, what, advice| match value {
        Some(value) if !(low..=high).contains(&value) => Err(PlanError::Number { what, value, advice }),
        _ => Ok(()),
    };
    within(
        words.seconds,
        ALLOWED_S.0,
        ALLOWED_S.1,
        "a take in seconds",
        "20 to 60 s, at least 3 s, at most an hour",
    )?;
    within(words.minutes, 1.0, 1440.0, "a time in minutes", "a number from 1 to 1440")?;
    within(words.dial_khz, 10.0, 1e7, "a dial frequency in kHz", "such as 7100")?;
    within(words.bandwidth_hz, 200.0, 1e4, "a bandwidth in Hz", "such as 2400, from 200 to 10000")?;
    let (least_db, most_db) = (*ATTENUATORS_DB.start(), *ATTENUATORS_DB.end());
    within(words.receiver_check_db, least_db, most_db, "an attenuator in dB", "such as 10, from 3 to 40")?;
    within(words.mains_hz, 40.0, 70.0, "a mains frequency", "50 or 60")?;
    within(
        words.rounds.map(f64::from),
        1.0,
        f64::from(MOST_ROUNDS.1),
        "a number of rounds",
        "2 or more, at most 20",
    )
}

fn check_walk(words: &PlanWords) -> Result<(), PlanError> {
    match words.circuits.as_slice() {
        _ if !words.devices.is_empty() => Err(PlanError::NoWalk("circuits and devices are named at once")),
        [_] => Err(PlanError::NoWalk("a walk needs two circuits or more")),
        some if some.iter().any(|name| name.trim().is_empty()) => {
            Err(PlanError::NoWalk("one of the circuits has no name"))
        }
        _ => Ok(()),
    }
}

/// Names must be told apart the way labels are.
fn no_twins(words: &PlanWords) -> Result<(), PlanError> {
    let twin = |names: &[&str]| {
        let repeated = |(i, name): (usize, &&str)| names[..i].iter().any(|other| same_words(other, name));
        names.iter().enumerate().find(|&(i, name)| repeated((i, name))).map(|(_, name)| (*name).to_owned())
    };
    let devices: Vec<&str> =
        words.devices.iter().map(|device| &device.name).chain(&words.circuits).map(String::as_str).collect();
    let of_remedies = words.devices.iter().find_map(|device| {
        let remedies: Vec<&str> = device.remedies.iter().map(String::as_str).collect();
        twin(&remedies)
    });
    twin(&devices).or(of_remedies).map_or(Ok(()), |name| Err(PlanError::Twice(name)))
}

/// Steps of the ladder over all devices: each without a remedy, and with each of its remedies.
fn steps(words: &PlanWords) -> usize {
    words.devices.iter().map(|device| 1 + device.remedies.len()).sum()
}

fn count_of_takes(words: &PlanWords, rounds: u32) -> usize {
    if !words.circuits.is_empty() {
        return takes(words, rounds).len();
    }
    2 * rounds as usize * steps(words) + 1 + usize::from(!words.no_dummy_load)
}

fn minutes(words: &PlanWords, takes: usize, seconds: f64) -> f64 {
    let fittings = steps(words) - words.devices.len() + usize::from(!words.no_dummy_load);
    let checks = words.receiver_check_db.map_or(0, |attenuator_db| check_takes(attenuator_db).len());
    let checking_s = checks as f64 * (CHECK_S + SWITCHING_S);
    let switching_s = if words.circuits.is_empty() { SWITCHING_S } else { CIRCUIT_S };
    (takes as f64 * (seconds + switching_s) + fittings as f64 * FITTING_S + checking_s) / 60.0
}

/// How often and how long: as asked, else as many rounds as the time at hand allows with takes of the usual length,
/// and what is left of it for longer ones.
fn rounds_and_length(words: &PlanWords) -> Result<(u32, f64), PlanError> {
    let Some(given) = words.minutes else {
        return Ok((words.rounds.unwrap_or(USUAL_ROUNDS), words.seconds.unwrap_or(USUAL_S)));
    };
    let fits = |rounds: u32, seconds: f64| minutes(words, count_of_takes(words, rounds), seconds) <= given;
    let mut rounds: Vec<u32> =
        words.rounds.map_or_else(|| (2..=MOST_ROUNDS.0).rev().collect(), |asked| vec![asked]);
    // More than two rounds only where takes need not be short for it; one round is the last resort.
    let mut choices: Vec<(u32, f64)> = rounds.iter().map(|&r| (r, USUAL_S)).collect();
    rounds.reverse();
    choices.extend(rounds.first().map(|&fewest| (fewest, SHORTEST_S)));
    choices.extend(words.rounds.is_none().then_some((1, SHORTEST_S)));
    if let Some(asked) = words.seconds {
        choices.iter_mut().for_each(|choice| choice.1 = asked);
    }
    let Some(&(rounds, shortest)) = choices.iter().find(|&&(rounds, seconds)| fits(rounds, seconds)) else {
        let (rounds, seconds) = (words.rounds.unwrap_or(1), words.seconds.unwrap_or(SHORTEST_S));
        let takes = count_of_takes(words, rounds);
        return Err(PlanError::NoTime { takes, needed: minutes(words, takes, seconds).ceil(), given });
    };
    if words.seconds.is_some() {
        return Ok((rounds, shortest));
    }
    let whole = |seconds: f64| (seconds / 5.0).floor() * 5.0;
    let spare = (given - minutes(words, count_of_takes(words, rounds), 0.0)) * 60.0;
    let longest = whole(spare / count_of_takes(words, rounds) as f64);
    Ok((rounds, longest.clamp(shortest, LONGEST_S)))
}

/// Off, on, off, on for each device, without a remedy and with each; off at the end; a dummy load last, for which
/// the antenna must be touched.
fn takes(words: &PlanWords, rounds: u32) -> Vec<Take> {
    let mut takes = Vec::new();
    let mut before_off = "Everything off.".to_owned();
    for device in &words.devices {
        let steps = std::iter::once(None).chain(device.remedies.iter().map(Some));
        for (order, remedy) in steps.enumerate() {
            for round in 0..rounds {
                let fit = remedy.filter(|_| round == 0);
                push(&mut takes, State::Off, None, None, before_off.clone());
                let fitting =
                    fit.map_or_else(String::new, |fit| format!("Unplug the {}, fit: {fit}. ", device.name));
                let on = format!("{fitting}Switch on: {}. Everything else stays off.", device.name);
                push(&mut takes, State::On, Some(&device.name), remedy.map(|r| (r, order)), on);
                before_off = format!("Switch off: {}.", device.name);
            }
        }
    }
    if words.circuits.is_empty() {
        push(&mut takes, State::Off, None, None, before_off);
    }
    for step in walk::steps(&words.circuits, words.walk.unwrap_or_default(), rounds) {
        push(&mut takes, step.state, step.device.as_deref(), None, step.before);
    }
    if !words.no_dummy_load {
        let load = "Everything off. Put the dummy load in place of the antenna.".to_owned();
        push(&mut takes, State::Terminated, None, None, load);
    }
    for take in &mut takes {
        take.file = file_name(take, words);
    }
    takes
}

fn push(
    takes: &mut Vec<Take>,
    state: State,
    device: Option<&str>,
    remedy: Option<(&String, usize)>,
    before: String,
) {
    takes.push(Take {
        number: takes.len() + 1,
        file: String::new(),
        state,
        device: device.map(str::to_owned),
        remedy: remedy.map(|(words, _)| words.clone()),
        order: remedy.and_then(|(_, order)| u32::try_from(order).ok()),
        before,
    });
}

/// `02-lamp-on-three-ferrites-7100kHz-USB-2400Hz.wav`.
fn file_name(take: &Take, words: &PlanWords) -> String {
    let mut parts = vec![format!("{:02}", take.number)];
    parts.extend(take.device.as_deref().map(hyphened));
    parts.push(match take.state {
        State::Terminated => "dummy-load".to_owned(),
        state => state.word().to_owned(),
    });
    parts.extend(take.remedy.as_deref().map(hyphened));
    parts.extend(words.dial_khz.map(|khz| format!("{khz}kHz")));
    parts.extend(words.mode.map(|mode| mode.to_string()));
    // Without a mode beside it a width may be a tone.
    let width = |hz: f64| if words.mode.is_some() { format!("{hz}Hz") } else { format!("bw{hz}") };
    parts.extend(words.bandwidth_hz.map(width));
    parts.join("-") + ".wav"
}

/// Letters and digits of any script; all else as one hyphen.
fn hyphened(words: &str) -> String {
    let mut out = String::new();
    for c in words.trim().chars() {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') {
            // Writing to a String cannot fail.
            let _ = out.write_char('-');
        }
    }
    out.trim_matches('-').to_owned()
}

/// Every name, read as `draft` reads a folder's names, must give the labels it was made of.
fn readable(takes: &[Take], words: &PlanWords) -> Result<(), PlanError> {
    let names: Vec<&str> = takes.iter().map(|take| take.file.as_str()).collect();
    let same = |planned: Option<&str>, read: Option<&str>| match (planned, read) {
        (None, None) => true,
        (Some(planned), Some(read)) => same_words(&hyphened(planned).replace('-', " "), read),
        _ => false,
    };
    for (take, name) in takes.iter().zip(labels_in_names(names.into_iter())) {
        let unreadable = |what, words: Option<&String>| PlanError::Unreadable {
            what,
            words: words.cloned().unwrap_or_default(),
            file: take.file.clone(),
        };
        let read = &name.fields;
        let device = name.state == Ok(take.state) && same(take.device.as_deref(), read.device.as_deref());
        if !device && (take.remedy.is_none() || name.state == Ok(take.state)) {
            return Err(unreadable("device", take.device.as_ref()));
        }
        let tuned =
            read.dial_khz == words.dial_khz && read.mode == words.mode && read.bandwidth_hz == words.bandwidth_hz;
        let remedy = same(take.remedy.as_deref(), read.remedy.as_deref());
        if !device || !remedy || !tuned || name.is_unclear() {
            let of_remedy = take.remedy.is_some();
            let words = if of_remedy { take.remedy.as_ref() } else { take.device.as_ref() };
            return Err(unreadable(if of_remedy { "remedy" } else { "device" }, words));
        }
    }
    Ok(())
}

/// "2 devices, 3 remedies".
pub(super) fn described(words: &PlanWords) -> String {
    if !words.circuits.is_empty() {
        let way = match words.walk.unwrap_or_default() {
            Way::Alone => "each on alone",
            Way::AllBut => "each off alone",
        };
        return format!("{} circuits, {way}", words.circuits.len());
    }
    let remedies: usize = words.devices.iter().map(|device| device.remedies.len()).sum();
    let remedies = match remedies {
        0 => String::new(),
        1 => ", 1 remedy".to_owned(),
        many => format!(", {many} remedies"),
    };
    format!("{}{remedies}", count(words.devices.len(), "device", "devices"))
}

#[cfg(test)]
#[path = "plan_tests.rs"]
mod tests;
