//! A night's short report: what came and went, each noise once with its times, what could spoil it. Not here: the
//! details.

use crate::contrast::Character;
use crate::contrast::words::{self, kind_word};
use crate::findings::known_noise::words::known_noise;
use crate::findings::picture::FigureKind;
use crate::night::Clock;
use crate::night::figures::on_times::noise_words;
use crate::night::result::{Episode, NightFacts, NightPattern, Regularity, covered_s};
use crate::report::contract::Report;
use crate::report::night::details::{left_out, spoilt};
use crate::report::night::words::{between, span};
use crate::report::verdict::in_short as verdict;
use crate::text::{
    Document, Words, and_at_most, capital, clock, count, db, interval, label, percent, signed, times,
};

/// Noises told. Chosen: a page holds them; the details have all.
const NOISES: usize = 12;
/// Times named of one noise. Chosen: what a sentence bears; the details have all.
const TIMES: usize = 6;
/// Episodes told on the terminal. Chosen: a screen has 24 lines; all are in the report.
const MOST_LINES: usize = 20;

/// The short report of a night.
pub(crate) fn brief(report: &Report, night: &NightFacts) -> Document {
    let mut doc = Document::default();
    doc.heading(1, capital(&label(&report.session.title)));
    doc.paragraph(recorded(night));
    doc.heading(2, "What came and went");
    doc.paragraph(Words::strong(answer(report, night)));
    let mut noises = noises(report, night);
    let hidden = noises.len().saturating_sub(NOISES);
    noises.truncate(NOISES);
    doc.list(noises);
    if hidden > 0 {
        doc.paragraph(format!("{} in the details.", count(hidden, "weaker one is", "weaker ones are")));
    }
    let shown = |kind| report.figures.iter().filter(move |figure| figure.kind == kind);
    for kind in [FigureKind::Timeline, FigureKind::OnTimes, FigureKind::Waterfall] {
        shown(kind).for_each(|figure| doc.picture(figure));
    }
    let mut spoilt = spoilt(report, night);
    spoilt.extend(left_out(report));
    if !spoilt.is_empty() {
        doc.heading(2, "What could spoil it");
        doc.list(spoilt);
    }
    doc.paragraph(format!("Made with {} {}.", report.tool.name, report.tool.version));
    doc
}

/// Each noise once, the strongest first: those that came back with their times, the others by themselves.
pub(crate) fn noises(report: &Report, night: &NightFacts) -> Vec<Words> {
    let of = |pattern: &NightPattern| -> Vec<&Episode> {
        pattern.episodes.iter().filter_map(|number| report.episodes.get(number.checked_sub(1)?)).collect()
    };
    let loudest = |episodes: &[&Episode]| episodes.iter().map(|e| rise_db(e)).fold(f64::NEG_INFINITY, f64::max);
    let mut found: Vec<(f64, Words)> = Vec::new();
    for pattern in &night.patterns {
        let episodes = of(pattern);
        found.push((loudest(&episodes), came_back(pattern, &episodes, night)));
    }
    let alone = report
        .episodes
        .iter()
        .enumerate()
        .filter(|(at, _)| night.patterns.iter().all(|pattern| !pattern.episodes.contains(&(at + 1))));
    for (at, episode) in alone {
        let kind = Words::strong(capital(kind_word(episode.contrast.character)));
        let said = verdict(&episode.contrast, report.session.mains_hz);
        let line = kind.then(format!(" ({}): {}; {said}.", at + 1, between(episode, Some(night))));
        found.push((rise_db(episode), line));
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, words)| words).collect()
}

/// "Buzz: 3 times, 4 min 29 s in all, 19 % of the time searched, +6.2 to +6.8 dB: 21:32:05 to 21:33:35, …".
fn came_back(pattern: &NightPattern, episodes: &[&Episode], night: &NightFacts) -> Words {
    let rises: Vec<f64> = episodes.iter().map(|e| rise_db(e)).collect();
    let [low, high] = [
        rises.iter().copied().fold(f64::INFINITY, f64::min),
        rises.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    ]
    .map(|rise| signed(rise, 1));
    let rise = if low == high { format!("{low} dB") } else { format!("{low} to {high} dB") };
    let spans: Vec<String> = episodes.iter().map(|e| between(e, Some(night))).collect();
    let every = match (pattern.told, pattern.period_s) {
        (Regularity::Even, Some(period_s)) => format!(", every {}", clock(period_s)),
        _ => String::new(),
    };
    let doubt = if episodes.iter().any(|e| e.contrast.is_doubtful() || e.contrast.is_void()) {
        ", some of them doubtful"
    } else {
        ""
    };
    let said = format!(
        "{}{every}, {} in all, {} of the time searched, {rise}{doubt}: {}.",
        times(episodes.len()),
        clock(pattern.total_s),
        percent(pattern.duty),
        and_at_most(&spans, TIMES)
    );
    let numbers: Vec<String> = pattern.episodes.iter().map(ToString::to_string).collect();
    let numbers = format!(" ({}): ", and_at_most(&numbers, TIMES));
    Words::strong(capital(&noise_words(pattern))).then(numbers).then(said)
}

/// "Recorded from … to …, UTC: 8 h 00 min in 3 recordings."
pub(crate) fn recorded(night: &NightFacts) -> String {
    let clock_words = match night.clock {
        Clock::Utc => "UTC",
        Clock::Mixed => "UTC; the clock of some recordings has no zone and was taken as UTC, so check their order",
        Clock::Local => "the recorder's clock: nothing tells its zone, most often it is local time",
    };
    let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
    let told_by = and_at_most(&sources(night), 4);
    let all = count(night.recordings.len(), "recording", "recordings");
    format!(
        "Recorded from {} to {} ({clock_words}): {} in {all}. The start is told by {told_by}.{}",
        day(&night.start),
        day(&night.end),
        clock(night.recorded_s),
        stopped(night),
    )
}

/// Said where the user stopped it.
fn stopped(night: &NightFacts) -> String {
    if night.unread_s > 0.0 {
        format!(" You stopped it: {} more was not read.", clock(night.unread_s))
    } else {
        String::new()
    }
}

/// What tells the start of the recordings, each once.
fn sources(night: &NightFacts) -> Vec<String> {
    let mut sources: Vec<String> = Vec::new();
    for recording in &night.recordings {
        let from = recording.start_from.to_string();
        if !sources.contains(&from) {
            sources.push(from);
        }
    }
    sources
}

/// "Noise came 7 times, 1 h 12 min in all; strongest from 22:10 to 22:40, +12.1 dB, buzz." Without markup.
pub(crate) fn answer(report: &Report, night: &NightFacts) -> String {
    let episodes = &report.episodes;
    if night.searched_s <= 0.0 {
        return "Nothing was looked for: no recording is a minute long. Short ones with a device off and on are for the \
                command session."
            .to_owned();
    }
    if episodes.is_empty() {
        return format!(
            "No noise came or went in {}. What was there all the time, what fades in and out slowly, single clicks, \
             and what rises by less than about 1 dB is not found this way.",
            clock(night.searched_s)
        );
    }
    let (told, open): (Vec<&Episode>, Vec<&Episode>) = episodes.iter().partition(|episode| is_claimed(episode));
    let more = match open.len() {
        0 => String::new(),
        n => format!(" {} the level changed, and what it was can't be told.", capital(&times(n))),
    };
    let lasted = |of: &[&Episode]| {
        let covered = clock(covered_s(of.iter().map(|episode| (episode.start_s, episode.end_s)).collect()));
        if of.len() == 1 { covered } else { format!("{covered} in all") }
    };
    match (strongest(&told), told.len()) {
        (None, _) => {
            format!("The level changed {}, {}; what it was can't be told.", times(open.len()), lasted(&open))
        }
        (Some(one), 1) => format!("Noise came once, {}, {}.{more}", lasted(&told), in_short(one, report)),
        (Some(one), n) => {
            format!("Noise came {}, {}; strongest {}.{more}", times(n), lasted(&told), in_short(one, report))
        }
    }
}

/// Whether it is claimed that there was a noise, and of which kind.
fn is_claimed(episode: &Episode) -> bool {
    let c = &episode.contrast;
    !c.is_void() && !c.is_too_wide() && !matches!(c.character, Character::None | Character::Unclear)
}

/// The answer's first sentence, without its stop: the title of the figures.
pub(crate) fn finding(report: &Report, night: &NightFacts) -> String {
    let answer = answer(report, night);
    let first = answer.split_inclusive(". ").next().unwrap_or_default();
    first.trim_end_matches([' ', '.']).to_owned()
}

/// By the excess where it means something, else by the jump of the level.
fn strongest<'a>(episodes: &[&'a Episode]) -> Option<&'a Episode> {
    episodes.iter().copied().max_by(|a, b| rise_db(a).total_cmp(&rise_db(b)))
}

/// How much louder it was while the episode lasted: the excess where it means something, else the jump of the
/// level, dB.
pub(crate) fn rise_db(episode: &Episode) -> f64 {
    let c = &episode.contrast;
    let excess = c.total_db();
    excess.or(episode.jump_db).unwrap_or(0.0)
}

/// "from 22:10 to 22:40, +12.1 dB, buzz".
fn in_short(episode: &Episode, report: &Report) -> String {
    let c = &episode.contrast;
    let rise = format!("+{}", db(rise_db(episode)).trim_start_matches('\u{2212}'));
    let kind = kind_word(c.character);
    let doubt = if c.is_doubtful() { " (doubtful)" } else { "" };
    format!("{}, {rise}, {kind}{doubt}", span(episode, report.night.as_ref()))
}

/// What came and went, in lines for the terminal: the answer, then each episode. Empty for a report of no night.
pub fn night_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let Some(night) = &report.night else { return Vec::new() };
    let mut lines = vec![answer(report, night) + &stopped(night)];
    lines.extend(report.episodes.iter().take(MOST_LINES).map(|episode| {
        let known = known_noise(&episode.contrast).map_or_else(String::new, |known| format!(". {known}"));
        line(episode, report) + &known
    }));
    let more = report.episodes.len().saturating_sub(MOST_LINES);
    if more > 0 {
        lines.push(format!("... and {more} more in the report."));
    }
    lines
}

/// "From 22:10 to 22:40: 14.2 dB (13.9 to 14.5), buzz, 100 a second" for the terminal.
fn line(episode: &Episode, report: &Report) -> String {
    let c = &episode.contrast;
    if c.is_void() {
        let jump = episode.jump_db.map_or_else(String::new, |jump| format!("a jump of {}, ", db(jump)));
        return format!("{}: {jump}could not be compared", capital(&span(episode, report.night.as_ref())));
    }
    let excess = match (c.excess_db, c.excess_ci_db) {
        (None, _) => "excess not measurable".to_owned(),
        _ if c.is_too_wide() => "excess can't be told".to_owned(),
        (Some(v), Some(ci)) => format!("{} ({})", db(v), interval(ci)),
        (Some(v), None) => db(v),
    };
    let trust = if c.is_doubtful() { ", doubtful" } else { "" };
    format!("{}: {excess}, {}{trust}", capital(&span(episode, report.night.as_ref())), words::kind(c))
}
