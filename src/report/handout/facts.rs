//! The sheet for a regulator or a maker: the facts that seven of their forms and guides ask for, each filled in from
//! the recordings where these tell it. Order and wording are our own. Not here: the neighbour's sheet.

use super::{Handout, PROSE, Subject, explained, is_open, open_episodes, without_since};
use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{how_often, mains_multiple, with_interval};
use crate::findings::ladder::result::LadderStep;
use crate::findings::listening::result::AnchorKind;
use crate::findings::picture::FigureKind;
use crate::labels::Setting;
use crate::night::result::NightFacts;
use crate::report::contract::Report;
use crate::report::level::OffLevel;
use crate::report::night::brief::{noises, recorded};
use crate::report::night::log::devices;
use crate::report::night::words::span;
use crate::report::words::{causes, is_note};
use crate::text::{
    Document, Words, and, and_at_most, capital, clock, count, db, each_once, full_sentence, interval, label,
    number, rate,
};
use crate::units::{in_db, s_reading};

/// Columns of an empty line. Chosen: the width of a telephone's screen.
pub(super) const LINE: usize = 36;
/// Carriers named. Chosen: more are no help to find one.
const CARRIERS: usize = 6;
/// Times named that the log of switchings leaves open. Chosen: what a sentence bears; the sheet has all sources.
const SPANS: usize = 6;
/// Share of the passband's parts in which the noise rises for sure, from which it fills it. Chosen: nearly all.
const FILLS: f64 = 0.9;
/// 0 dBm over 1 µV in 50 Ω, dB: 10·lg(0.001 W · 50 Ω) − 20·lg(1 µV).
const DBUV_AT_0_DBM: f64 = 106.99;

/// The sheet.
pub(super) fn sheet(handout: &Handout) -> Document {
    let (case, report, prose) = (&handout.case, handout.report(), &PROSE.facts);
    let mut doc = Document::default();
    doc.heading(1, prose.title.as_str());
    doc.paragraph(format!("{} {}", made_of(handout), prose.lead));
    if let Subject::Device(c) = handout.subject() {
        let doubts = doubts(c, report);
        if !doubts.is_empty() {
            doc.paragraph(Words::strong("Mind: ").then(doubts.join(" ")));
        }
    }
    let mut facts = Facts { doc, number: 0 };
    facts.told(
        "Who reports",
        [&case.name, &case.contact].into_iter().flatten().cloned().collect::<Vec<_>>().join(", "),
    );
    facts.told("Where", case.address.clone().unwrap_or_default());
    facts.told("Since when", case.since.as_deref().map(without_since).unwrap_or_default());
    match handout.subject() {
        Subject::Device(c) => of_device(&mut facts, handout, c),
        Subject::Night(night) => of_night(&mut facts, handout, night),
    }
    facts.told("Direction", case.direction.clone().unwrap_or_default());
    match &case.own_house_ruled_out {
        Some(how) => facts.told("Own house ruled out", how.clone()),
        None => facts.open("Own house ruled out", &prose.no_case_own_house),
    }
    facts.told("Steps tried, and what they bought", steps(handout));
    facts.told("Other services hit", case.services_hit.clone().unwrap_or_default());
    facts.told("Sound", sound_clips(handout));
    if let Some(note) = &case.note {
        facts.told("Note", note.clone());
    }
    let pictures = pictures(handout);
    if pictures.is_empty() {
        facts.told("Spectrum and waterfall", prose.no_pictures.clone());
    } else {
        facts.told("Spectrum and waterfall", "Below.".into());
        pictures.into_iter().for_each(|figure| facts.doc.picture(figure));
    }
    facts.doc
}

/// Facts in their order, numbered.
struct Facts {
    doc: Document,
    number: usize,
}

impl Facts {
    fn head(&mut self, head: &str) -> Words {
        self.number += 1;
        Words::strong(format!("{}. {head}: ", self.number))
    }

    /// A fact, or an empty line where it is not known.
    fn told(&mut self, head: &str, words: String) {
        let head = self.head(head);
        let rest = if words.is_empty() { Words::blank(LINE) } else { full_sentence(&capital(&words)).into() };
        self.doc.paragraph(head.then(rest));
    }

    /// What is to be filled in, with what is asked.
    fn open(&mut self, head: &str, asked: &str) {
        let head = self.head(head);
        self.doc.paragraph(head.then(format!("{asked} ")).then(Words::blank(LINE)));
    }
}

/// What it is about, and from what.
fn made_of(handout: &Handout) -> String {
    let (report, tool) = (handout.report(), &handout.report().tool);
    let by = format!("measured with {} {}", tool.name, tool.version);
    match handout.subject() {
        Subject::Device(c) => format!(
            "About the noise of: {}. From {} with it on and {} with it off, {by}.",
            label(&c.device),
            count(c.on.len(), "recording", "recordings"),
            c.off.len()
        ),
        Subject::Night(night) => format!(
            "About noise that came and went, of unknown origin. From {}, {by}: “{}”.{}",
            count(night.recordings.len(), "recording", "recordings"),
            label(&report.session.title),
            own_left_out(report, night)
        ),
    }
}

/// What the log of the reporter's own switchings explains is no part of the case.
fn own_left_out(report: &Report, night: &NightFacts) -> String {
    let Some(log) = explained(night) else { return String::new() };
    let (open, all) = (log.unexplained.len(), report.episodes.len());
    let own = all.saturating_sub(open);
    let spans: Vec<String> = open_episodes(report, night).map(|one| span(one, Some(night))).collect();
    format!(
        " Of {} this is about {open}: {}. A log of what the reporter switched explains the other {own} ({}).",
        count(all, "time", "times"),
        and_at_most(&spans, SPANS),
        devices(log)
    )
}

/// What speaks against a comparison.
fn doubts(c: &ContrastResult, report: &Report) -> Vec<String> {
    let mut found = Vec::new();
    if c.is_doubtful() {
        let own = c.warnings.iter().filter(|w| !is_note(w.code));
        let of_takes = report.comparisons().recordings_of(c).flat_map(|r| &r.warnings).filter(|w| !is_note(w.code));
        let why = causes(own.chain(of_takes));
        let why = if why.is_empty() { String::new() } else { format!(" because of {}", and(&why)) };
        found.push(format!("the figures are doubtful{why}."));
    }
    if c.is_unrepeated() {
        found.push("off or on was recorded once, and a band that moved would look the same.".into());
    }
    if !report.comparisons().is_gain_known(c) {
        found.push("nothing shows that the receiver's gain was fixed.".into());
    }
    found
}

fn of_device(facts: &mut Facts, handout: &Handout, c: &ContrastResult) {
    let (case, report) = (&handout.case, handout.report());
    let setting = report.comparisons().setting(&c.setting);
    let places = places(c, report);
    facts.told("Frequencies and bandwidth", format!("{places} {}", bandwidth(c, setting)).trim().to_owned());
    let times = case.times.clone().unwrap_or_default();
    let when = recorded_when(c, report);
    let steady = format!("{} while it is on. {when}", steadiness(c)).trim_end().to_owned();
    match times.is_empty() {
        true => facts.open(
            "Continuous or not; days, hours, lengths",
            &format!("{} Days, hours, lengths:", full_sentence(&steady)),
        ),
        false => facts.told(
            "Continuous or not; days, hours, lengths",
            format!("{} {}", full_sentence(&steady), capital(&times)),
        ),
    }
    facts.told("What it sounds like", capital(&sound(c, report.session.mains_hz)));
    let (level, is_known) = level(c, report, setting);
    match is_known {
        true => facts.told("Level at the receiver", level),
        false => facts.open("Level at the receiver", &format!("{level} In dBm, and how that was got:")),
    }
    facts.told("Antenna and receiver", station(report, setting));
}

fn of_night(facts: &mut Facts, handout: &Handout, night: &NightFacts) {
    let (case, report) = (&handout.case, handout.report());
    let passband = night.recordings.first().map(|r| r.passband_hz);
    let audio = passband.map_or_else(String::new, |[low, high]| {
        format!("The receiver passed {} to {} Hz of sound.", number(low, 0), number(high, 0))
    });
    let lines: Vec<String> = carriers_of_night(report, night);
    let lines = if lines.is_empty() { String::new() } else { format!(" Whistles at {} Hz in it.", and(&lines)) };
    facts.open("Frequencies and bandwidth", &format!("{audio}{lines} {} Dial and mode:", PROSE.facts.beyond));
    let told: Vec<String> =
        noises(report, night, |number| is_open(night, number)).iter().map(Words::told).collect();
    let when = format!("{} {}", recorded(night), told.join(" "));
    match &case.times {
        Some(times) => facts.told("Continuous or not; days, hours, lengths", format!("{when} {}", capital(times))),
        None => facts.open("Continuous or not; days, hours, lengths", &format!("{when} On other days:")),
    }
    let all = open_episodes(report, night).map(|e| &e.contrast).filter(|c| !c.is_void());
    let sounds = each_once(all.map(|c| sound(c, report.session.mains_hz)));
    facts.told("What it sounds like", capital(&and_at_most(&sounds, 4)));
    facts.open(
        "Level at the receiver",
        "How far it rises above the quiet beside it stands under 5. In dBm, and how that was got:",
    );
    let station = report.session.station.as_deref().map(label).unwrap_or_default();
    facts.told("Antenna and receiver", station);
}

/// The carriers of a night's episodes by their places in the sound, whole hertz.
fn carriers_of_night(report: &Report, night: &NightFacts) -> Vec<String> {
    let lines = open_episodes(report, night).flat_map(|e| &e.contrast.added_lines);
    each_once(lines.map(|line| number(line.freq_hz, 0))).into_iter().take(CARRIERS).collect()
}

/// Where on the air the device was heard, setting by setting, and its carriers.
fn places(c: &ContrastResult, report: &Report) -> String {
    let view = report.comparisons();
    let here = view.of_device(&c.device).filter(|one| one.remedy == c.remedy && !one.is_void());
    let mut told = Vec::new();
    for one in here {
        let Some(setting) = view.setting(&one.setting) else { continue };
        let adds = one.change().is_up() || one.character != Character::None;
        let carriers = carriers(one, setting);
        let is_lines = one.character.is_lines() || one.is_lines_only();
        let dial = dial(setting);
        told.extend(match (adds, is_lines, carriers, place(one, setting)) {
            (false, _, _, Some(place)) => Some(format!("not found at {place}")),
            (true, true, Some(carriers), _) => {
                Some(dial.map_or(carriers.clone(), |dial| format!("{carriers} ({dial})")))
            }
            (true, false, Some(carriers), Some(place)) => Some(format!("{place}, with {carriers}")),
            (true, _, None, place) => place,
            (true, false, carriers, None) => carriers,
            (false, _, _, None) => None,
        });
    }
    let combs = report.switching_combs.iter().filter(|comb| comb.device == c.device).map(|comb| {
        let ends = comb.members.first().zip(comb.members.last());
        let from = ends.map_or_else(String::new, |(first, last)| {
            format!(" from {} to {} kHz", number(first.rf_hz / 1000.0, 1), number(last.rf_hz / 1000.0, 1))
        });
        format!("carriers every {} kHz{from}", number(comb.spacing_hz / 1000.0, 3))
    });
    told.splice(0..0, combs);
    if told.is_empty() { String::new() } else { full_sentence(&capital(&told.join("; "))) }
}

/// "dial 7100 kHz, USB"; where no dial is known, the band.
fn dial(setting: &Setting) -> Option<String> {
    let mode = setting.mode.map_or_else(String::new, |mode| format!(", {mode}"));
    match setting.dial_khz {
        Some(khz) => Some(format!("dial {} kHz{mode}", number(khz, 2).trim_end_matches('0').trim_end_matches('.'))),
        None => setting.band.as_deref().map(|band| format!("the {} band{mode}", label(band))),
    }
}

/// "7100.3 to 7102.7 kHz (dial 7100 kHz, USB)".
fn place(c: &ContrastResult, setting: &Setting) -> Option<String> {
    let dial = dial(setting)?;
    match c.passband_hz.map(|ends| ends.map(|hz| setting.on_air_khz(hz))) {
        Some([Some(a), Some(b)]) => {
            Some(format!("{} to {} kHz ({dial})", number(a.min(b), 1), number(a.max(b), 1)))
        }
        _ => Some(dial),
    }
}

/// "8 carriers at 7100.43, 7100.65 and 6 more kHz".
fn carriers(c: &ContrastResult, setting: &Setting) -> Option<String> {
    if c.added_lines.is_empty() {
        return None;
    }
    let on_air: Option<Vec<f64>> = c.added_lines.iter().map(|line| setting.on_air_khz(line.freq_hz)).collect();
    let (mut places, decimals, unit) = match on_air {
        Some(khz) => (khz, 2, "kHz"),
        None => (c.added_lines.iter().map(|line| line.freq_hz).collect(), 0, "Hz of sound"),
    };
    places.sort_by(f64::total_cmp);
    let named: Vec<String> = places.iter().take(CARRIERS).map(|v| number(*v, decimals)).collect();
    let more = places.len().saturating_sub(CARRIERS);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let named = if more.is_empty() { and(&named) } else { named.join(", ") };
    Some(format!("{} at {named} {unit}{more}", count(places.len(), "carrier", "carriers")))
}

/// How much of what the receiver passed the noise fills.
fn bandwidth(c: &ContrastResult, setting: Option<&Setting>) -> String {
    if c.character.is_lines() || c.is_lines_only() {
        let spacing =
            c.comb.as_ref().map_or_else(String::new, |comb| format!(", {} Hz apart", number(comb.spacing_hz, 1)));
        return format!("Single carriers{spacing}, no wide noise. {}", PROSE.facts.beyond);
    }
    let Some([low, high]) = c.passband_hz else { return String::new() };
    let width = format!("{} kHz", number((high - low) / 1000.0, 2));
    let rises = c.bands.iter().filter(|band| band.excess_ci_db[0] > 0.0).count();
    let said = match rises {
        _ if c.bands.is_empty() => format!("The receiver passed {width}."),
        n if n as f64 >= FILLS * c.bands.len() as f64 => format!("It fills all {width} that the receiver passed."),
        n => format!("It rises in {n} of {} parts of the {width} that the receiver passed.", c.bands.len()),
    };
    let filter = setting.and_then(|s| s.bandwidth_hz);
    let filter = filter.map_or_else(String::new, |hz| format!(" Receiver's filter: {} Hz.", number(hz, 0)));
    format!("{said}{filter} {}", PROSE.facts.beyond)
}

/// "Recorded on 2026-03-14 from 19:02 to 19:20 UTC, 40 s of it with the device on."
fn recorded_when(c: &ContrastResult, report: &Report) -> String {
    let on = report.recordings.iter().filter(|r| c.on.contains(&r.id));
    let seconds: f64 = on.map(|r| r.duration_s).sum();
    let starts = report.comparisons().recordings_of(c).filter_map(|r| r.started.as_deref());
    let mut starts: Vec<&str> = starts.collect();
    starts.sort_unstable();
    let with_it = format!("{} with it on", clock(seconds));
    match (starts.first().and_then(|at| day_and_hour(at)), starts.last().and_then(|at| day_and_hour(at))) {
        (Some((day, from, zone)), Some((_, to, _))) => {
            let hours = if from == to { from } else { format!("{from} to {to}") };
            format!("Recorded on {day}, {hours}{zone}: {with_it}.")
        }
        _ => format!("Recorded: {with_it}."),
    }
}

/// Day, hour and zone out of RFC 3339; without one in it, nothing tells it.
fn day_and_hour(at: &str) -> Option<(String, String, &'static str)> {
    let (day, time) = at.split_once('T')?;
    let zone = if time.ends_with('Z') { " UTC" } else { " (time zone not known)" };
    Some((day.to_owned(), time.get(..5)?.to_owned(), zone))
}

fn steadiness(c: &ContrastResult) -> &'static str {
    match c.character {
        Character::Clicks => "In clicks, again and again,",
        Character::Buzz => "Continuous, pulsing with the mains,",
        Character::Hash | Character::Carriers | Character::Comb => "Continuous",
        Character::None | Character::Mixed | Character::Unclear => "There",
    }
}

/// What it sounds like, with its rates; a mixture by its parts.
fn sound(c: &ContrastResult, mains_hz: f64) -> String {
    let one = |kind: Character| {
        let words = PROSE.sound.of(kind);
        match kind {
            Character::Buzz => c.mains_rate_hz.map_or_else(
                || words.to_owned(),
                |hz| format!("{words}, {} pulses a second{}", rate(hz), mains_multiple(hz, mains_hz)),
            ),
            Character::Clicks => {
                c.pulse_rate_hz.map_or_else(|| words.to_owned(), |hz| format!("{words}, {}", how_often(c, hz)))
            }
            Character::None
            | Character::Hash
            | Character::Carriers
            | Character::Comb
            | Character::Mixed
            | Character::Unclear => words.to_owned(),
        }
    };
    match c.character {
        Character::Mixed if !c.parts.is_empty() => and(&each_once(c.parts.iter().map(|part| one(part.character)))),
        kind => one(kind),
    }
}

/// The level in words, and whether it is one at the receiver's input.
fn level(c: &ContrastResult, report: &Report, setting: Option<&Setting>) -> (String, bool) {
    let rise = match c.excess_db {
        Some(_) if c.is_too_wide() => "How far the noise rises can't be told from these takes.".to_owned(),
        Some(value) if c.change().is_up() => {
            let mean = if c.counts_clicks() { " on average" } else { "" };
            format!("With the device on the noise rises by {}{mean}.", with_interval(value, c.excess_ci_db))
        }
        Some(_) if c.added_lines.is_empty() => "The noise does not rise for sure.".to_owned(),
        Some(_) => "The noise between the carriers does not rise for sure.".to_owned(),
        None => String::new(),
    };
    let (Some(off), Some([low, high])) = (OffLevel::of(report, &c.setting), c.passband_hz) else {
        return (rise, false);
    };
    let noise_off = off.dbm_per_hz + in_db(high - low);
    let freq_hz = setting.and_then(|s| s.dial_khz).map(|khz| khz * 1000.0);
    let dbm = |value: f64| {
        let s = freq_hz.map_or_else(String::new, |hz| format!(", {}", s_reading(value, hz)));
        format!("{} dBm ({} dBµV in 50 Ω{s})", number(value, 1), number(value + DBUV_AT_0_DBM, 1))
    };
    let width = format!("{} Hz", number(high - low, 0));
    let mut said = format!("{rise} Noise in {width}: {} with it off", dbm(noise_off));
    if let Some(excess) = c.excess_db.filter(|_| c.change().is_up() && !c.is_too_wide()) {
        said += &format!(", {} with it on", dbm(noise_off + excess));
    }
    said.push('.');
    if let Some(line) = c.added_lines.iter().max_by(|a, b| a.level_db.total_cmp(&b.level_db)) {
        said += &format!(" Strongest carrier: {}.", dbm(off.dbm_at_full_scale + line.level_db));
    }
    let tolerance = db(off.tolerance_db);
    let how = match off.anchor {
        AnchorKind::Dbm => format!(
            " Got from a known power at the receiver's input, good to ±{tolerance}; all levels shift together."
        ),
        AnchorKind::Meter => format!(
            " Got from the receiver's own S-meter, rough: ±{tolerance}; all levels shift together, and the rise \
             does not depend on it."
        ),
    };
    (said.trim().to_owned() + &how, true)
}

fn station(report: &Report, setting: Option<&Setting>) -> String {
    let antenna = setting.and_then(|s| s.antenna.as_deref()).map(label);
    let gain = setting.and_then(|s| s.gain.as_deref()).map(label);
    let station = report.session.station.as_deref().map(label);
    [antenna, station, gain].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// What each remedy bought.
fn steps(handout: &Handout) -> String {
    let Subject::Device(c) = handout.subject() else { return String::new() };
    let ladders = handout.report().ladders.iter();
    let steps = ladders.filter(|l| l.device == c.device && l.setting == c.setting).flat_map(|ladder| &ladder.steps);
    let told: Vec<String> = steps.filter_map(step).collect();
    capital(&told.join("; "))
}

fn step(step: &LadderStep) -> Option<String> {
    let remedy = label(step.remedy.as_deref()?);
    let left = step.excess_db.zip(step.excess_ci_db);
    let left = left.map_or_else(String::new, |(v, ends)| format!(", {} left ({})", db(v), interval(ends)));
    Some(match step.bought_db.zip(step.bought_ci_db) {
        Some((value, [low, high])) if low > 0.0 => {
            format!("{remedy}: took off {} ({}){left}", db(value), interval([low, high]))
        }
        Some((value, [low, high])) if high < 0.0 => {
            format!("{remedy}: made it {} louder ({}){left}", db(-value), interval([-high, -low]))
        }
        Some(_) => format!("{remedy}: nothing that shows{left}"),
        None => {
            format!("{remedy}: {}", if left.is_empty() { "no figure".to_owned() } else { left[2..].to_owned() })
        }
    })
}

fn sound_clips(handout: &Handout) -> String {
    if handout.clips.is_empty() {
        return String::new();
    }
    let mode = match handout.subject() {
        Subject::Device(c) => handout.report().comparisons().setting(&c.setting).and_then(|s| s.mode),
        Subject::Night(_) => None,
    };
    let mode = mode.map_or_else(String::new, |mode| format!(", in {mode}"));
    let clips: Vec<String> = handout.clips.iter().map(|clip| clip.told()).collect();
    format!(
        "Without and with the noise in turn, from the recordings themselves, all at one gain{mode}: {}",
        and(&clips)
    )
}

/// Spectrum and waterfall.
fn pictures(handout: &Handout) -> Vec<&crate::findings::picture::FigureFile> {
    let is_there = |file: &str| handout.png(file).is_some();
    let figures = handout.report().figures.iter();
    let kinds: &[FigureKind] = match handout.subject() {
        Subject::Device(_) => &[FigureKind::Spectra, FigureKind::Spectrogram],
        Subject::Night(_) => &[FigureKind::Waterfall, FigureKind::Timeline],
    };
    let of = |kind: FigureKind| {
        figures.clone().find(|f| {
            let is_meant = match handout.subject() {
                Subject::Device(c) => f.contrast.as_ref() == Some(&c.id),
                Subject::Night(_) => true,
            };
            f.kind == kind && is_meant && is_there(&f.file)
        })
    };
    kinds.iter().filter_map(|kind| of(*kind)).collect()
}
