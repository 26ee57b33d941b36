//! Each episode against the quiet beside it, by the very code that compares a session's recordings.
//!
//! Not here: which parts of the audio those are (`pieces`), how they are read (`listen`).

pub mod listen;
pub mod motion;
mod over_quiet;
pub mod pieces;

use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use crate::audio::{AudioError, ChannelChoice};
use crate::contrast::comparison::ContrastResult;
use crate::contrast::{Character, Contrast, ContrastSettings, Figures, contrast};
use crate::findings::known_noise::Signature;
use crate::findings::known_noise::folder::KnownNoises;
use crate::labels::Plan;
use crate::night::compared::listen::Recording;
use crate::night::compared::motion::{Quiet, motion};
use crate::night::compared::over_quiet::over_quiet;
use crate::night::compared::pieces::{Piece, Sides, choose, choose_clear};
use crate::night::episodes::runs::{Run, Spotted};
use crate::night::joint::{Joint, Ratio};
use crate::night::{Passage, Timeline};
use crate::signal::measure::Measurement;
use crate::signal::recording::of_file;
use crate::units::Estimate;
use crate::warning::{Code, Trust, Warning};

/// What is said of an episode's device where nothing names one.
const UNKNOWN_DEVICE: &str = "unknown noise";
/// Parts of the passband whose intervals end no further than this from the whole's excess rise alike, dB. Chosen: what
/// a receiver's own noise behind a turned control makes of it.
const ALIKE_DB: f64 = 0.5;

/// How the parts are measured.
pub(crate) struct Comparing<'a> {
    pub night: &'a Timeline,
    /// Channel of each recording of the timeline.
    pub channels: &'a [ChannelChoice],
    pub mains_hz: f64,
    /// Where nothing came or went, run by run.
    pub quiet: &'a Quiet,
    /// Noises to hold each episode against.
    pub known: Option<&'a KnownNoises>,
}

/// An episode that was compared.
pub(crate) struct Compared {
    pub spotted: Spotted,
    /// What was held against each other.
    pub sides: Sides,
    /// Its own power by the level, FS²/Hz.
    pub own: Option<Ratio>,
    /// How many dB it lifts the quiet band by itself.
    pub over_quiet: Option<Estimate>,
    /// Where it may have ended as well, by the level.
    pub or_end_s: Option<f64>,
    pub contrast: ContrastResult,
    /// What its noise is like.
    pub signature: Option<Signature>,
}

impl Compared {
    /// Whether it is nothing but lines, be it a mixture of them.
    pub fn stands_in_lines(&self) -> bool {
        self.contrast.character.is_lines() || self.contrast.is_lines_only()
    }

    /// Whether a touched control would look the same: hash that lifts the whole band alike, with a begin or an end
    /// alone. What pulses, clicks or whistles has a mark of its own.
    pub fn is_open_ended(&self) -> bool {
        let (c, spotted) = (&self.contrast, &self.spotted);
        let is_alike = |excess: f64| {
            c.bands.iter().all(|band| {
                let [low, high] = band.excess_ci_db;
                (low - ALIKE_DB..=high + ALIKE_DB).contains(&excess)
            })
        };
        spotted.from_before != spotted.until_after
            && !c.is_void()
            && c.character == Character::Hash
            && c.excess_db.is_some_and(is_alike)
    }

    fn is_confirmed(&self) -> bool {
        match (self.spotted.jump_db, self.spotted.of_clicks) {
            (Some(_), _) => true,
            (None, true) => self.contrast.parts.iter().any(|part| part.character == Character::Clicks),
            (None, false) => !self.contrast.added_lines.is_empty(),
        }
    }
}

/// An episode whose parts are being measured.
struct Heard {
    off: Vec<Option<Measurement>>,
    on: Vec<Option<Measurement>>,
    missing: usize,
    /// Recordings of which a part could not be read.
    unread: Vec<Warning>,
    /// The comparison, once it was made.
    result: Option<(ContrastResult, Option<Signature>)>,
}

impl Comparing<'_> {
    /// Compares all that was spotted, in its order. `done` is called once for each.
    ///
    /// What was spotted by its lines alone is an episode only if the comparison has them too: it looks at quarters
    /// of a second, and so tells a line that stands from one that flutters. The same goes for clicks.
    pub fn all(&self, spotted: Vec<Spotted>, runs: &[Run], done: impl Fn() + Sync) -> Vec<Compared> {
        let joint = Joint::of(self.night, runs, &spotted);
        let power = |place: usize| joint.power_over_quiet(place);
        let choose = |place: usize| {
            let choose = if spotted[place].of_clicks { choose_clear } else { choose };
            choose(self.night, runs, &spotted, &power, place)
        };
        let sides: Vec<Sides> = (0..spotted.len()).map(choose).collect();
        let contrasts = self.contrasts(&spotted, &sides, done);
        let mut all: Vec<Compared> = Vec::new();
        for (place, ((spotted_one, sides), (contrast, signature))) in
            spotted.iter().zip(sides).zip(contrasts).enumerate()
        {
            let own = joint.power(place);
            let or_end_s = joint.rival(place, &spotted).map(|rival| spotted[rival].end_s);
            let spotted = *spotted_one;
            let mut one = Compared { spotted, sides, own, over_quiet: None, or_end_s, contrast, signature };
            one.over_quiet = over_quiet(&joint, place, &one);
            one.doubt(or_end_s.map(|end_s| self.night.time_of(end_s)));
            all.push(one);
        }
        // What was not found again leaves, and the others move up.
        let kept: Vec<Option<usize>> = all
            .iter()
            .scan(0, |next, one| {
                let place = one.is_confirmed().then_some(*next);
                *next += usize::from(place.is_some());
                Some(place)
            })
            .collect();
        all.retain(Compared::is_confirmed);
        for (place, one) in all.iter_mut().enumerate() {
            one.contrast.id = episode_id(place);
            for others in [&mut one.sides.beside, &mut one.sides.unmatched] {
                *others = others.iter().filter_map(|&other| kept[other]).collect();
            }
        }
        all
    }

    fn contrasts(
        &self,
        spotted: &[Spotted],
        episodes: &[Sides],
        done: impl Fn() + Sync,
    ) -> Vec<(ContrastResult, Option<Signature>)> {
        let heard: Vec<Mutex<Heard>> = episodes.iter().map(|sides| Mutex::new(Heard::waiting(sides))).collect();
        let heard_of = |episode: usize| heard[episode].lock().unwrap_or_else(PoisonError::into_inner);
        let recordings = self.recordings(episodes);
        let finish = |episode: usize, heard: &mut Heard| {
            heard.result = Some(self.result(episode, spotted[episode].beat, &episodes[episode], heard));
            (heard.off, heard.on) = Default::default();
            done();
        };
        for &(at, ref recording) in recordings.iter().filter(|(_, one)| one.is_read_through()) {
            let (places, pieces) = pieces_in(episodes, at);
            let read = recording.listen(&pieces, |place, measured| {
                let mut heard = heard_of(places[place].0);
                heard.take(places[place], measured);
                if heard.missing == 0 {
                    finish(places[place].0, &mut heard);
                }
            });
            if let Err(error) = read {
                places.iter().for_each(|&(episode, ..)| heard_of(episode).not_read(recording.passage, &error));
            }
        }
        // The others are gone to: an episode at a time on each core, and none is held longer than it takes.
        let rest = |episode: usize| {
            let mut heard = heard_of(episode);
            if heard.result.is_none() {
                for &(at, ref recording) in recordings.iter().filter(|(_, one)| !one.is_read_through()) {
                    let (places, pieces) = pieces_in(&episodes[episode..=episode], at);
                    for ((_, is_on, part), piece) in places.into_iter().zip(&pieces) {
                        match recording.measure(piece) {
                            Ok(measured) => heard.take((episode, is_on, part), measured),
                            Err(error) => heard.not_read(recording.passage, &error),
                        }
                    }
                }
                finish(episode, &mut heard);
            }
            heard.result.take()
        };
        (0..episodes.len()).into_par_iter().filter_map(rest).collect()
    }

    /// The recordings that parts of episodes lie in, each with its place, opened to be read again.
    fn recordings(&self, episodes: &[Sides]) -> Vec<(usize, Recording<'_>)> {
        let wanted = |at: usize| episodes.iter().any(|one| one.off.iter().chain(&one.on).any(|p| p.passage == at));
        let passages = self.night.passages.par_iter().zip(self.channels).enumerate();
        passages
            .filter(|&(at, _)| wanted(at))
            .map(|(at, (passage, &channel))| (at, Recording::open(passage, channel, self.mains_hz)))
            .collect()
    }

    fn result(
        &self,
        episode: usize,
        beat: Option<Estimate>,
        sides: &Sides,
        heard: &Heard,
    ) -> (ContrastResult, Option<Signature>) {
        let off: Vec<&Measurement> = heard.off.iter().flatten().collect();
        let on: Vec<&Measurement> = heard.on.iter().flatten().collect();
        let settings = ContrastSettings {
            mains_hz: self.mains_hz,
            scatter: motion(self.quiet, sides).unwrap_or_default(),
            beat,
            ..ContrastSettings::default()
        };
        let compared = match nothing_beside(&off, &on) {
            Some(why) => Contrast::void(why),
            None => contrast(&off, &on, &settings),
        };
        let plan = Plan {
            id: episode_id(episode),
            device: UNKNOWN_DEVICE.to_owned(),
            remedy: None,
            setting: String::new(),
            off: ids(&sides.off),
            on: ids(&sides.on),
            warnings: heard.unread.clone(),
        };
        let mut result = ContrastResult::of(&plan, &compared);
        result.known_noise = self.known.map(|known| known.answer(&compared, None, None));
        // A carrier, or all that rose alike, tells of the gain in words that hold for a night too.
        let told = |figures: &Figures| figures.gain_shown_by().is_some() || figures.excess.steady.value > 0.0;
        let is_told = compared.figures.as_ref().is_some_and(told);
        result.warnings.iter_mut().for_each(|warning| in_words_of_a_night(warning, is_told));
        for (words, measured) in [("the quiet beside it", &off), ("the noise", &on)] {
            for warning in
                measured.iter().flat_map(|m| &m.warnings).filter(|w| compared.spoilt_by.contains(&w.code))
            {
                // Of several parts the first speaks for all.
                let told = |known: &Warning| known.code == warning.code && known.message.starts_with(words);
                if !result.warnings.iter().any(told) {
                    let message = format!("{words}: {}", warning.message);
                    result.warnings.push(Warning::new(warning.code, message));
                }
            }
        }
        (result, compared.figures.as_ref().and_then(Signature::of))
    }
}

impl Compared {
    /// What overlaps so that the level, or the parts compared, can't tell the two apart. `or_end`: the time at which
    /// it may have ended as well.
    fn doubt(&mut self, or_end: Option<String>) {
        if self.contrast.is_void() {
            return;
        }
        if self.is_open_ended() {
            self.contrast.trust = self.contrast.trust.max(Trust::Doubtful);
            let so = match self.spotted.until_after {
                true => "it began and never ended: a touched control looks the same.",
                false => "it was there from the start and ended once: a touched control looks the same.",
            };
            self.contrast.warnings.push(Warning::new(Code::OpenEnded, so));
        }
        if !self.sides.unmatched.is_empty() {
            self.contrast.trust = self.contrast.trust.max(Trust::Doubtful);
            self.contrast.warnings.push(Warning::new(
                Code::Overlapped,
                "there is no part of it and no part beside it in which the same other noises are on: the kind is that \
                 of what comes and goes together there.",
            ));
        }
        if let Some(time) = or_end.as_deref().and_then(|end| end.split('T').nth(1)) {
            self.contrast.warnings.push(Warning::new(
                Code::Overlapped,
                format!(
                    "a noise that overlaps it adds as much, within the uncertainty: by the level, it may as well have \
                     ended at {}, and the other one when this is told to have.",
                    time.trim_end_matches('Z')
                ),
            ));
        }
    }
}

impl Heard {
    fn waiting(sides: &Sides) -> Self {
        let none = |pieces: &[Piece]| pieces.iter().map(|_| None).collect();
        Self {
            off: none(&sides.off),
            on: none(&sides.on),
            missing: sides.off.len() + sides.on.len(),
            unread: Vec::new(),
            result: None,
        }
    }

    fn take(&mut self, (_, is_on, part): (usize, bool, usize), measured: Measurement) {
        let side = if is_on { &mut self.on } else { &mut self.off };
        side[part] = Some(measured);
        self.missing -= 1;
    }

    fn not_read(&mut self, passage: &Passage, error: &AudioError) {
        let why = error.problem.to_string().replace('\n', " ");
        let message = format!("{} could not be read a second time: {why}", passage.file);
        if self.result.is_none() && !self.unread.iter().any(|known| known.message == message) {
            self.unread.push(Warning::new(Code::NoRecording, message));
        }
    }
}

/// The parts that lie in one recording, and whose they are: episode, side (on or off), place in that side.
fn pieces_in(episodes: &[Sides], passage: usize) -> (Vec<(usize, bool, usize)>, Vec<Piece>) {
    let mut places = Vec::new();
    let mut pieces = Vec::new();
    for (episode, sides) in episodes.iter().enumerate() {
        for (is_on, side) in [(false, &sides.off), (true, &sides.on)] {
            for (part, piece) in side.iter().enumerate().filter(|(_, piece)| piece.passage == passage) {
                places.push((episode, is_on, part));
                pieces.push(*piece);
            }
        }
    }
    (places, pieces)
}

fn ids(pieces: &[Piece]) -> Vec<String> {
    let mut ids: Vec<String> = pieces.iter().map(|piece| recording_id(piece.passage)).collect();
    ids.dedup();
    ids
}

/// "e1" for the first episode of the night.
fn episode_id(place: usize) -> String {
    format!("e{}", place + 1)
}

/// "r1" for the first recording of the night.
pub(crate) fn recording_id(place: usize) -> String {
    format!("r{}", place + 1)
}

fn nothing_beside(off: &[&Measurement], on: &[&Measurement]) -> Option<Warning> {
    let (code, why) = match (off.is_empty(), on.is_empty()) {
        (false, false) => return None,
        (true, _) => (
            Code::NoQuiet,
            "there is no quiet to compare with: it was there when the recording began and when it ended, or other \
             noises come and go right beside it.",
        ),
        (false, true) => {
            (Code::Overlapped, "there is too little of it without another noise coming or going in it.")
        }
    };
    Some(Warning::new(code, why))
}

/// Advice for the bench, where it can't be followed in a night's recording, becomes what it means there.
/// `is_told`: what showed the gain to have changed needs no other words.
fn in_words_of_a_night(warning: &mut Warning, is_told: bool) {
    let message = match warning.code {
        Code::OffNotRepeatable => {
            "the quiet before it and the quiet after it differ by more than chance, so part of the excess may be the \
             band and not the noise that came."
        }
        Code::GainChanged if !is_told => {
            "the band is quieter while it lasts than beside it. No device takes noise away: the gain changed (AGC on, \
             volume touched), or what came and went is the quiet and not the noise."
        }
        Code::Label => {
            "steady carriers stand in the quiet beside it and not while it lasts: stations left the air, or what came \
             and went is the quiet and not the noise."
        }
        _ => return,
    };
    warning.message = message.to_owned();
}

/// Files that were read to make the timeline and are not whole or not as they should be.
pub(crate) fn of_recording(passage: &Passage) -> Vec<Warning> {
    of_file(&passage.facts, &passage.account)
}
