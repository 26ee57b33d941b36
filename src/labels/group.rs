//! Which recordings can be compared: settings, and the contrasts to make within them.
//! Not here: where labels come from (`read`).

use std::collections::BTreeMap;

use super::fields::{FILE_NAME, Fields, Guess, State};
use super::key;
use super::label::{Label, PlacePlan, Plan, Session, Setting};
use super::misspelt::misspelt;
use super::names::ONLY_DEVICE;
use super::printable::{listing, printable, quoted, recordings};
use super::together::{Present, join};
use crate::warning::{Code, Warning};

/// One of the things that must be equal between the recordings of a contrast.
pub(super) struct Field {
    name: &'static str,
    /// The same in words.
    pub word: fn(&Fields) -> &'static str,
    /// The label as it is shown; `None`: not labelled.
    pub shown: fn(&Fields) -> Option<String>,
    copy: fn(&Fields, &mut Fields),
}

impl Field {
    /// What the label is compared by.
    fn key(&self, label: &Label) -> Option<String> {
        (self.shown)(label).as_deref().map(key::words)
    }
}

pub(super) const FIELDS: [Field; 5] = [
    Field {
        name: "dial_khz",
        word: |l| if l.dial_khz.is_some() { "dial" } else { "band" },
        shown: |l| l.dial_khz.map(|khz| format!("{khz} kHz")).or_else(|| l.band.clone()),
        copy: |from, to| (to.dial_khz, to.band) = (from.dial_khz, from.band.clone()),
    },
    Field {
        name: "mode",
        word: |_| "mode",
        shown: |l| l.mode.map(|m| m.to_string()),
        copy: |from, to| to.mode = from.mode,
    },
    Field {
        name: "bandwidth_hz",
        word: |_| "bandwidth",
        shown: |l| l.bandwidth_hz.map(|hz| format!("{hz} Hz")),
        copy: |from, to| to.bandwidth_hz = from.bandwidth_hz,
    },
    Field {
        name: "antenna",
        word: |_| "antenna",
        shown: |l| l.antenna.clone(),
        copy: |from, to| to.antenna = from.antenna.clone(),
    },
    Field {
        name: "gain",
        word: |_| "gain",
        shown: |l| l.gain.clone(),
        copy: |from, to| to.gain = from.gain.clone(),
    },
];

/// The antenna is what a terminated recording replaces: it has none, and none is missing.
fn applies(field: &Field, label: &Label) -> bool {
    field.name != "antenna" || label.state != State::Terminated
}

/// Groups the recordings into settings and plans the contrasts.
pub(super) fn group(session: &mut Session) {
    for field in &FIELDS {
        complete(session, field);
    }
    session.settings = settings(&mut session.recordings);
    let told = session.recordings.iter_mut().filter(|label| label.state != State::Terminated);
    join(told.filter_map(|label| label.fields.device.as_mut()));
    only_device(session);
    say_lent(session);
    session.places = places(session);
    contrasts(session);
    off_with_remedy(session);
    complements(session);
    misspelt(session);
}

/// The places of each setting where the same noise was recorded at two or more.
fn places(session: &Session) -> Vec<PlacePlan> {
    let mut found: Vec<PlacePlan> = Vec::new();
    for label in session.recordings.iter().filter(|label| label.state == State::On) {
        let Some(place) = &label.place else { continue };
        let same = |a: &str, b: &str| key::words(a) == key::words(b);
        let of_it = |plan: &&mut PlacePlan| {
            let device = plan.device.as_deref().map(key::words) == label.device.as_deref().map(key::words);
            plan.setting == label.setting && same(&plan.place, place) && device
        };
        match found.iter_mut().find(of_it) {
            Some(plan) => plan.on.push(label.id.clone()),
            None => found.push(PlacePlan {
                place: place.clone(),
                device: label.device.clone(),
                setting: label.setting.clone(),
                bearing_deg: label.bearing_deg,
                distance_m: label.distance_m,
                on: vec![label.id.clone()],
                off: Vec::new(),
                off_is_there: false,
            }),
        }
    }
    let of = |plan: &PlacePlan| (plan.setting.clone(), plan.device.as_deref().map(key::words));
    let all: Vec<_> = found.iter().map(of).collect();
    found.retain(|plan| all.iter().filter(|other| **other == of(plan)).count() > 1);
    for plan in &mut found {
        let device = plan.device.as_deref().map(key::words);
        let off: Vec<&Label> = session
            .recordings
            .iter()
            .filter(|label| label.setting == plan.setting && off_for(label, device.as_deref()))
            .collect();
        let is_there = |label: &&&Label| {
            label.place.as_deref().is_some_and(|place| key::words(place) == key::words(&plan.place))
        };
        let there: Vec<String> = off.iter().filter(is_there).map(|label| label.id.clone()).collect();
        plan.off_is_there = !there.is_empty();
        plan.off = if plan.off_is_there { there } else { off.iter().map(|label| label.id.clone()).collect() };
    }
    found
}

/// Everything on against everything but one device, for each that was switched off so.
fn complements(session: &mut Session) {
    let mut plans: Vec<Plan> = Vec::new();
    let mut lonely: Vec<String> = Vec::new();
    let on = |label: &&Label| label.state == State::On && label.remedy.is_none();
    for label in session.recordings.iter().filter(on) {
        let Some(Present::AllBut(names)) = label.device.as_deref().map(Present::of) else { continue };
        let is_all = |other: &&Label| {
            other.setting == label.setting && other.device.as_deref().map(Present::of) == Some(Present::All)
        };
        let all: Vec<String> = session.recordings.iter().filter(on).filter(is_all).map(|l| l.id.clone()).collect();
        let [name] = names.as_slice() else { continue };
        let same = |plan: &&mut Plan| plan.setting == label.setting && same_device(&plan.device, name);
        match plans.iter_mut().find(same) {
            Some(plan) => plan.off.push(label.id.clone()),
            None if all.is_empty() => lonely.push(label.file.clone()),
            None => plans.push(Plan {
                id: format!("w{}", plans.len() + 1),
                device: as_first_written(session, name),
                remedy: None,
                setting: label.setting.clone(),
                off: vec![label.id.clone()],
                on: all,
                warnings: Vec::new(),
            }),
        }
    }
    if !lonely.is_empty() {
        let message = format!(
            "Nothing to compare {} with: record everything on in the same setting too (`device = \"all\"`).",
            listing(&lonely)
        );
        session.warnings.push(Warning::new(Code::Label, message));
    }
    session.complements = plans;
}

fn same_device(a: &str, b: &str) -> bool {
    key::words(a) == key::words(b)
}

/// A device as the session has it by itself, where it has.
fn as_first_written(session: &Session, name: &str) -> String {
    let written = session.recordings.iter().filter_map(|label| label.device.as_ref());
    written.into_iter().find(|device| same_device(device, name)).map_or_else(|| name.to_owned(), Clone::clone)
}

/// Whether a recording is of all but some devices: of none of them by itself.
fn is_all_but(label: &Label) -> bool {
    label.device.as_deref().is_some_and(|device| matches!(Present::of(device), Present::AllBut(_)))
}

/// Where a session names one value only, the recordings that name none are taken to have it; where it names
/// several, no value is a value of its own. Both are said.
fn complete(session: &mut Session, field: &Field) {
    let mut values: Vec<(String, Label)> = Vec::new();
    for label in session.recordings.iter().filter(|l| applies(field, l)) {
        if let Some(value) = field.key(label)
            && !values.iter().any(|(known, _)| *known == value)
        {
            values.push((value, label.clone()));
        }
    }
    let lacks = |label: &Label| applies(field, label) && field.key(label).is_none();
    let missing = session.recordings.iter().filter(|l| lacks(l)).count();
    if values.is_empty() || missing == 0 {
        return;
    }
    let shown: Vec<String> = values.iter().filter_map(|(_, source)| (field.shown)(source)).collect();
    let message = if let [(_, source)] = values.as_slice() {
        for label in session.recordings.iter_mut().filter(|l| lacks(l)) {
            (field.copy)(source, &mut label.fields);
            let from = format!("`{}`, the only value in this session", printable(&source.file));
            label.guesses.push(Guess { field: field.name, value: printable(&shown.join("")), from });
        }
        let n = recordings(missing);
        format!("{n} without `{}`: taken as {}, the only one this session names.", field.name, listing(&shown))
    } else {
        let files: Vec<&str> = session.recordings.iter().filter(|l| lacks(l)).map(|l| l.file.as_str()).collect();
        format!(
            "No `{}` is given for {}, while others have {}: not compared with those. Write it into the manifest.",
            field.name,
            listing(&files),
            listing(&shown)
        )
    };
    let code = if values.len() == 1 { Code::Guessed } else { Code::Label };
    session.warnings.push(Warning::new(code, message));
}

/// The settings in order of first appearance; each label is told its own.
fn settings(labels: &mut [Label]) -> Vec<Setting> {
    let mut settings: Vec<(Setting, Vec<Option<String>>)> = Vec::new();
    // A terminated recording joins a setting that is equal but for the antenna, so those with an antenna come
    // first.
    for terminated in [false, true] {
        for label in labels.iter_mut().filter(|l| (l.state == State::Terminated) == terminated) {
            let keys: Vec<Option<String>> = FIELDS.iter().map(|f| f.key(label)).collect();
            let counts: Vec<bool> = FIELDS.iter().map(|f| applies(f, label)).collect();
            let equal = |other: &Vec<Option<String>>| (0..FIELDS.len()).all(|i| !counts[i] || other[i] == keys[i]);
            label.setting = match settings.iter().find(|(_, other)| equal(other)) {
                Some((setting, _)) => setting.id.clone(),
                None => {
                    let setting = setting_of(label, settings.len() + 1);
                    let id = setting.id.clone();
                    settings.push((setting, keys));
                    id
                }
            };
        }
    }
    settings.into_iter().map(|(setting, _)| setting).collect()
}

fn setting_of(label: &Label, number: usize) -> Setting {
    Setting {
        id: format!("s{number}"),
        dial_khz: label.dial_khz,
        band: label.band.clone(),
        mode: label.mode,
        bandwidth_hz: label.bandwidth_hz,
        antenna: label.antenna.clone().filter(|_| label.state != State::Terminated),
        gain: label.gain.clone(),
    }
}

/// A session of one device only means that device wherever something is on.
fn only_device(session: &mut Session) {
    let devices = devices(&session.recordings);
    let [(_, device)] = devices.as_slice() else { return };
    for label in session.recordings.iter_mut().filter(|l| l.state == State::On && l.device.is_none()) {
        label.fields.device = Some(device.clone());
        label.guesses.push(Guess { field: "device", value: quoted(device), from: ONLY_DEVICE.into() });
    }
}

/// Says which recordings were given the device of others, and which could not be.
fn say_lent(session: &mut Session) {
    let several = devices(&session.recordings).len() > 1;
    let (mut only, mut before, mut unknown) = (Vec::new(), Vec::new(), Vec::new());
    // At a place it is the noise that is looked for, whoever makes it.
    let told = |label: &&Label| label.state == State::On && label.place.is_none();
    for label in session.recordings.iter().filter(told) {
        let guess = label.guesses.iter().find(|g| g.field == "device" && g.from != FILE_NAME);
        match (guess, &label.device) {
            (Some(guess), Some(device)) if guess.from == ONLY_DEVICE => only.push(device),
            (Some(_), Some(device)) => {
                let file = printable(&label.file);
                before.push(format!("`{file}` ({})", printable(device)));
            }
            (_, None) => unknown.push(label.file.as_str()),
            _ => {}
        }
    }
    let mut say = |code, message: String| session.warnings.push(Warning::new(code, message));
    if let Some(device) = only.first() {
        let message = format!(
            "{} with something on and no `device`: taken as `{}`, the only one this session names.",
            recordings(only.len()),
            printable(device)
        );
        say(Code::Guessed, message);
    }
    if !before.is_empty() {
        let message = format!(
            "Something on and no `device`, taken to be that of the recording before: {}.",
            before.join(", ")
        );
        say(Code::Guessed, message);
    }
    if !unknown.is_empty() && several {
        let message = format!(
            "Something on, and none of the devices of this session named: {}. Compared as one called `device`; \
             write into the manifest which it is.",
            listing(&unknown)
        );
        say(Code::Label, message);
    }
}

/// The devices in order of first appearance: what they are compared by, and how they were written first.
fn devices(labels: &[Label]) -> Vec<(String, String)> {
    let mut devices: Vec<(String, String)> = Vec::new();
    let of_one = |label: &&Label| label.state != State::Terminated && !is_all_but(label);
    for device in labels.iter().filter(of_one).filter_map(|l| l.device.as_ref()) {
        let same = key::words(device);
        if !devices.iter().any(|(known, _)| *known == same) {
            devices.push((same, device.clone()));
        }
    }
    devices
}

/// A remedy changes little while the device is off, so such a recording serves for every step, and it is said.
fn off_with_remedy(session: &mut Session) {
    let fitted = session.recordings.iter().filter(|l| l.state == State::Off && l.remedy.is_some());
    let serves = |label: &&Label| session.contrasts.iter().any(|plan| plan.off.contains(&label.id));
    let files: Vec<&str> = fitted.filter(serves).map(|l| l.file.as_str()).collect();
    if !files.is_empty() {
        let message = format!(
            "Off with a remedy fitted: {}. Used as off for every step of that device's remedies.",
            listing(&files)
        );
        session.warnings.push(Warning::new(Code::Label, message));
    }
}

/// The place of a contrast in the list: device, setting, then the ladder.
#[derive(Debug, Clone)]
struct Step {
    device: usize,
    setting: usize,
    remedy: Option<String>,
    on: Vec<usize>,
}

fn contrasts(session: &mut Session) {
    let devices = devices(&session.recordings);
    let steps = steps(session, &devices);
    let mut used = vec![false; session.recordings.len()];
    for step in steps {
        let device = devices.get(step.device);
        let setting = session.settings[step.setting].id.clone();
        let serves = |label: &Label| off_for(label, device.map(|(same, _)| same.as_str()));
        let off: Vec<usize> = (0..session.recordings.len())
            .filter(|&i| session.recordings[i].setting == setting && serves(&session.recordings[i]))
            .collect();
        let name = device.map_or("device", |(_, name)| name.as_str());
        if off.is_empty() {
            let message = lonely(session, &step, name, device.map(|(same, _)| same.as_str()));
            session.warnings.push(Warning::new(Code::Label, message));
            continue;
        }
        off.iter().for_each(|&i| used[i] = true);
        let ids = |indices: &[usize]| indices.iter().map(|&i| session.recordings[i].id.clone()).collect();
        let plan = Plan {
            id: format!("c{}", session.contrasts.len() + 1),
            device: name.to_owned(),
            remedy: session.recordings[step.on[0]].remedy.clone(),
            setting,
            off: ids(&off),
            on: ids(&step.on),
            warnings: unequal_pieces(session, &step.on),
        };
        session.contrasts.push(plan);
    }
    for plan in &session.places {
        let serves = |label: &Label| plan.off.contains(&label.id);
        session.recordings.iter().zip(&mut used).filter(|(l, _)| serves(l)).for_each(|(_, used)| *used = true);
    }
    idle_off(session, &used);
}

/// Whether a recording serves as off for this device: its own, or one with everything off.
fn off_for(label: &Label, device: Option<&str>) -> bool {
    label.state == State::Off && label.device.as_deref().is_none_or(|d| device == Some(key::words(d).as_str()))
}

/// The sets of on recordings, each with one device, setting and remedy, in the order of the report.
fn steps(session: &Session, devices: &[(String, String)]) -> Vec<Step> {
    let mut steps: BTreeMap<(usize, usize, Option<String>), Vec<usize>> = BTreeMap::new();
    let on_a_walk = |label: &Label| session.places.iter().any(|plan| plan.on.contains(&label.id));
    let compared = |label: &Label| label.state == State::On && !is_all_but(label) && !on_a_walk(label);
    for (i, label) in session.recordings.iter().enumerate().filter(|(_, label)| compared(label)) {
        let same = label.device.as_deref().map(key::words);
        // What names no device among several comes last, under the name "device".
        let device = devices.iter().position(|(d, _)| Some(d) == same.as_ref()).unwrap_or(devices.len());
        let setting = session.settings.iter().position(|s| s.id == label.setting).unwrap_or(0);
        steps.entry((device, setting, label.remedy.as_deref().map(key::words))).or_default().push(i);
    }
    let mut steps: Vec<Step> =
        steps.into_iter().map(|((device, setting, remedy), on)| Step { device, setting, remedy, on }).collect();
    steps.sort_by(|a, b| {
        (a.device, a.setting, a.remedy.is_some())
            .cmp(&(b.device, b.setting, b.remedy.is_some()))
            .then_with(|| rung(session, &a.on, &b.on))
    });
    steps
}

/// Order of two remedies: place in the ladder, then time, then file name.
fn rung(session: &Session, a: &[usize], b: &[usize]) -> std::cmp::Ordering {
    let labels = |on: &[usize]| on.iter().map(|&i| &session.recordings[i]).collect::<Vec<_>>();
    let (a, b) = (labels(a), labels(b));
    let order = |on: &[&Label]| on.iter().filter_map(|l| l.order).fold(f64::INFINITY, f64::min);
    let started =
        |on: &[&Label]| on.iter().filter_map(|l| l.started).map(|s| s.at).min().unwrap_or(jiff::Timestamp::MAX);
    let file =
        |on: &[&Label]| on.iter().map(|l| l.file.clone()).min_by(|x, y| key::natural(x, y)).unwrap_or_default();
    order(&a)
        .total_cmp(&order(&b))
        .then_with(|| started(&a).cmp(&started(&b)))
        .then_with(|| key::natural(&file(&a), &file(&b)))
}

/// The same words are the same remedy, so other counts of ferrites under them would be averaged unseen.
fn unequal_pieces(session: &Session, on: &[usize]) -> Vec<Warning> {
    let first = &session.recordings[on[0]];
    let pieces = |l: &Label| (l.ferrites, l.turns);
    if on.iter().all(|&i| pieces(&session.recordings[i]) == pieces(first)) {
        return Vec::new();
    }
    let message = format!(
        "The recordings of `{}` have unequal `ferrites` or `turns` and count as one remedy; give each its own \
         words, such as `3 ferrites`.",
        printable(first.remedy.as_deref().unwrap_or("no remedy"))
    );
    vec![Warning::new(Code::Label, message)]
}

/// Why on recordings have nothing to be compared with, and what to record or correct.
fn lonely(session: &Session, step: &Step, name: &str, device: Option<&str>) -> String {
    let label = &session.recordings[step.on[0]];
    let files: Vec<&str> = step.on.iter().map(|&i| session.recordings[i].file.as_str()).collect();
    let what = format!("Nothing to compare {} with", listing(&files));
    let name = printable(name);
    let elsewhere = session.recordings.iter().filter(|l| off_for(l, device));
    let differences = |off: &&Label| FIELDS.iter().filter(|f| f.key(off) != f.key(label)).count();
    if let Some(off) = elsewhere.min_by_key(differences) {
        let shown = |value: Option<String>| match value {
            None => "not labelled".to_owned(),
            Some(several) if several.contains([',', ';']) => quoted(&several),
            Some(one) => printable(&one),
        };
        let differs: Vec<String> = FIELDS
            .iter()
            .filter(|f| f.key(off) != f.key(label))
            .map(|f| format!("`{}` ({} here, {} there)", f.name, shown((f.shown)(label)), shown((f.shown)(off))))
            .collect();
        return format!(
            "{what}: the nearest off recording, `{}`, differs in {}. Record `{name}` off with the same receiver \
             settings, or correct the label.",
            printable(&off.file),
            differs.join(" and ")
        );
    }
    let others = devices(&session.recordings.iter().filter(|l| l.state == State::Off).cloned().collect::<Vec<_>>());
    let others: Vec<&str> = others.iter().map(|(_, name)| name.as_str()).collect();
    if others.is_empty() {
        return format!("{what}: there is no off recording. Record the same frequency with `{name}` off.");
    }
    format!(
        "{what}: the off recordings are of {}. Record `{name}` off too; an off recording without a `device` \
         counts as everything off and serves for every device.",
        listing(&others)
    )
}

/// Off recordings that no contrast uses.
fn idle_off(session: &mut Session, used: &[bool]) {
    let idle = session.recordings.iter().zip(used).filter(|(label, used)| label.state == State::Off && !**used);
    let files: Vec<&str> = idle.map(|(label, _)| label.file.as_str()).collect();
    if !files.is_empty() {
        let message = format!("Off recordings that no on recording is compared with: {}.", listing(&files));
        session.warnings.push(Warning::new(Code::Label, message));
    }
}

/// Gives every supply its device's name as the comparisons spell it. A device that no recording names is a slip of
/// the pen: its check would stand where nobody looks, so that is said.
pub(super) fn match_supplies(session: &mut Session) {
    let labelled = session.recordings.iter().filter_map(|label| label.device.as_ref());
    let known: Vec<String> = session.contrasts.iter().map(|plan| &plan.device).chain(labelled).cloned().collect();
    for supply in &mut session.listening.supplies {
        if let Some(name) = known.iter().find(|name| key::words(name) == key::words(&supply.device)) {
            supply.device.clone_from(name);
            continue;
        }
        let device = printable(&supply.device);
        session.warnings.push(Warning::new(
            Code::Label,
            format!("the manifest has a supply for \"{device}\", and no recording has a device of that name."),
        ));
    }
}
