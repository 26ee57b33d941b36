//! A session of two files, for an answer in a second: the order they are given in is their state.

use std::path::Path;

use super::fields::{Fields, State};
use super::group::FIELDS;
use super::label::{Label, Plan, Session, Setting};
use super::names::{self, FromName};
use super::printable::printable;
use crate::warning::{Code, Warning};

impl Session {
    /// A session of one contrast: `on` against `off`. What the file names tell beyond the state is taken over;
    /// names that contradict the order they are given in, or each other's receiver settings, are warned of.
    pub fn of_pair(off: &Path, on: &Path) -> Session {
        let (off_name, on_name) = (file_name(off), file_name(on));
        let same = off_name == on_name;
        let shown = |name: &str, state: State| if same { format!("{name} ({state})") } else { name.to_owned() };
        let mut read = names::read_each([off_name.as_str(), on_name.as_str()].into_iter());
        let (on_read, off_read) = (read.remove(1), read.remove(0));
        let mut warnings: Vec<Warning> = contradictions(&off_name, &off_read, State::Off).into_iter().collect();
        warnings.extend(contradictions(&on_name, &on_read, State::On));
        let labels = vec![
            label("r1", shown(&off_name, State::Off), off, State::Off, &off_read),
            label("r2", shown(&on_name, State::On), on, State::On, &on_read),
        ];
        let device = labels[1].device.clone().or_else(|| labels[0].device.clone());
        warnings.extend(settings_differ(&labels[0], &labels[1]));
        Session {
            title: format!("{} against {}", printable(&labels[1].file), printable(&labels[0].file)),
            mains_hz: None,
            station: None,
            reference_hz: None,
            bands_khz: Vec::new(),
            listening: super::listening::ListeningLabels::default(),
            receiver_check: None,
            settings: vec![common_setting(&labels[0], &labels[1])],
            contrasts: vec![Plan {
                id: "c1".into(),
                device: device.unwrap_or_else(|| "device".into()),
                remedy: labels[1].remedy.clone(),
                setting: "s1".into(),
                off: vec!["r1".into()],
                on: vec!["r2".into()],
                warnings,
            }],
            warnings: guessed(&labels).into_iter().collect(),
            recordings: labels,
            complements: Vec::new(),
            places: Vec::new(),
            left_out: Vec::new(),
        }
    }
}

/// The file's name without its folders: a report names no place on the machine.
fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| "recording".into(), |name| name.to_string_lossy().into_owned())
}

fn contradictions(file: &str, name: &FromName, state: State) -> Option<Warning> {
    let read = name.state.ok().filter(|read| *read != state)?;
    let message = format!(
        "`{}` was given as `{state}`, and its name says {read}. The first file is off, the second on: are they \
         swapped?",
        printable(file)
    );
    Some(Warning::new(Code::Label, message))
}

fn label(id: &str, file: String, path: &Path, state: State, name: &FromName) -> Label {
    // Place and note tell nothing here; and a name that tells of another state tells of another recording.
    let mut read = Fields { order: None, note: None, ..name.fields.clone() };
    if name.state != Ok(state) {
        read = Fields { device: None, remedy: None, ferrites: None, turns: None, ..read };
    }
    let mut guesses = Vec::new();
    let fields = Fields::default().or(read, &mut guesses);
    Label { id: id.into(), file, path: path.to_owned(), state, fields, setting: "s1".into(), guesses }
}

/// Says what was read from the names.
fn guessed(labels: &[Label]) -> Option<Warning> {
    let mut read: Vec<String> = Vec::new();
    for guess in labels.iter().flat_map(|l| &l.guesses) {
        let text = format!("{} {}", guess.field, printable(&guess.value));
        if !read.contains(&text) {
            read.push(text);
        }
    }
    (!read.is_empty())
        .then(|| Warning::new(Code::Guessed, format!("Read from the file names: {}.", read.join(", "))))
}

/// The value both have, or the one that is given at all.
fn common<T: PartialEq + Clone>(a: &Option<T>, b: &Option<T>) -> Option<T> {
    match (a, b) {
        (Some(a), Some(b)) => (a == b).then(|| a.clone()),
        (a, b) => a.clone().or_else(|| b.clone()),
    }
}

fn common_setting(off: &Label, on: &Label) -> Setting {
    Setting {
        id: "s1".into(),
        dial_khz: common(&off.dial_khz, &on.dial_khz),
        band: common(&off.band, &on.band),
        mode: common(&off.mode, &on.mode),
        bandwidth_hz: common(&off.bandwidth_hz, &on.bandwidth_hz),
        antenna: None,
        gain: None,
    }
}

fn settings_differ(off: &Label, on: &Label) -> Option<Warning> {
    let differs: Vec<String> = FIELDS
        .iter()
        .filter(|field| (field.word)(off) == (field.word)(on))
        .filter_map(|field| Some(((field.word)(off), (field.shown)(off)?, (field.shown)(on)?)))
        .filter(|(_, a, b)| a != b)
        .map(|(what, a, b)| format!("{what} ({} and {})", printable(&a), printable(&b)))
        .collect();
    (!differs.is_empty()).then(|| {
        let message = format!(
            "By their names the recordings differ in {}. Noise changes with each of these: record both with equal \
             settings.",
            differs.join(", ")
        );
        Warning::new(Code::SettingsDiffer, message)
    })
}
