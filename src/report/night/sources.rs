//! The sources of a night in words, each told once: what it is, when it was there, how strong over the quiet band,
//! beside what.

use crate::contrast::Character;
use crate::contrast::excess::is_too_wide;
use crate::contrast::words::{kind, kind_word};
use crate::findings::known_noise::words::known_noise;
use crate::night::figures::on_times::{noise_words, typical_of};
use crate::night::figures::source_of;
use crate::night::result::{Episode, NightFacts, Regularity, Source};
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::night::words::between;
use crate::text::{Document, Words, and, and_at_most, clock, count, db, interval, number, percent, times};
use crate::warning::Code;

/// The smallest chance that the draws can tell (`night::recurrence::pattern`: one of ten thousand).
const RAREST: f64 = 1e-4;
/// Lengths that scatter by less than this share of their mean are told as one. Chosen: with more scatter a mean
/// length says nothing.
const ALIKE: f64 = 0.3;
/// Times named of one source. Chosen: what a sentence bears; the details have all.
const TIMES: usize = 6;

/// A source with its episodes.
pub(crate) fn episodes_of<'a>(source: &Source, report: &'a Report) -> Vec<&'a Episode> {
    source.episodes.iter().filter_map(|number| report.episodes.get(number.checked_sub(1)?)).collect()
}

/// Episodes that belong to no source, by their places.
pub(crate) fn without_source(report: &Report) -> Vec<usize> {
    (0..report.episodes.len()).filter(|&place| source_of(&report.sources, place).is_none()).collect()
}

/// "n1, buzz: 3 times, every 7 min 00 s, …" for the short report.
pub(crate) fn item(source: &Source, report: &Report, night: &NightFacts) -> Words {
    let episodes = episodes_of(source, report);
    let spans: Vec<String> = episodes.iter().map(|episode| between(episode, Some(night))).collect();
    Words::strong(format!("{}, {}: ", source.id, what(source, report))).then(format!(
        "{}; {}: {}.",
        came(source),
        strong(source, report),
        and_at_most(&spans, TIMES)
    ))
}

/// "n1, buzz, 100 a second: 3 times, 4 min 29 s in all; 6.8 dB (6.2 to 7.4) over the quiet band" for the terminal.
pub(crate) fn line(source: &Source, report: &Report, night: &NightFacts) -> String {
    let episodes = episodes_of(source, report);
    let alike = typical_of(source, &report.episodes);
    let known =
        alike.and_then(|one| known_noise(&one.contrast)).map_or_else(String::new, |known| format!(". {known}"));
    let first = episodes.first().map_or_else(String::new, |one| between(one, Some(night)));
    let when = if episodes.len() > 1 { format!("{}, first {first}", came(source)) } else { first };
    format!("{}, {}: {when}; {}{known}", source.id, what(source, report), strong(source, report))
}

/// "buzz, 100 a second"; what the log explains or a known noise by its name.
fn what(source: &Source, report: &Report) -> String {
    let named = source.logged.as_ref().or(source.known.as_ref());
    match (named, typical_of(source, &report.episodes)) {
        (None, Some(one)) if source.character != Character::Carriers => kind(&one.contrast),
        _ => noise_words(source, &report.episodes),
    }
}

/// Whether it is clicks that do not show for sure in the mean noise.
fn hardly_rises(source: &Source) -> bool {
    source.character == Character::Clicks && source.excess_ci_db.is_some_and(|[low, _]| low <= 0.0)
}

/// "3 times, every 7 min 00 s, 4 min 29 s in all, 19 % of the time searched".
pub(crate) fn came(source: &Source) -> String {
    let every = match (source.told, source.period_s) {
        (Regularity::Even, Some(period_s)) => format!(", every {}", clock(period_s)),
        _ => String::new(),
    };
    let in_all = if source.episodes.len() > 1 { " in all" } else { "" };
    format!(
        "{}{every}, {}{in_all}, {} of the time searched",
        times(source.episodes.len()),
        clock(source.on_s),
        percent(source.duty)
    )
}

/// "6.8 dB (6.2 to 7.4) over the quiet band, at times beside n2".
pub(crate) fn strong(source: &Source, report: &Report) -> String {
    let excess = match (source.excess_db, source.excess_ci_db) {
        (_, Some([_, most])) if hardly_rises(source) => {
            format!("on average the noise rises by less than {}", db(most.max(0.0)))
        }
        (_, Some(ends)) if is_too_wide(ends) => "how strong can't be told".to_owned(),
        (Some(value), Some(ends)) => format!("{} ({}) over the quiet band", db(value), interval(ends)),
        // Of lines: what lies between them tells nothing.
        (Some(value), None) => format!("{} in all", db(value)),
        (None, _) => "how strong can't be told".to_owned(),
    };
    let doubt = if source.trust.is_doubtful() { doubtful(source, report) } else { String::new() };
    let beside = if source.beside.is_empty() {
        String::new()
    } else {
        format!(", at times beside {}", and_at_most(&source.beside, TIMES))
    };
    format!("{excess}{doubt}{beside}")
}

/// ", doubtful"; with the reason where there may be no noise at all.
fn doubtful(source: &Source, report: &Report) -> String {
    let warnings = episodes_of(source, report).into_iter().flat_map(|episode| &episode.contrast.warnings);
    let open_ended = warnings.into_iter().find(|warning| warning.code == Code::OpenEnded);
    open_ended.map_or_else(
        || ", doubtful".to_owned(),
        |warning| format!(", doubtful: {}", warning.message.trim_end_matches('.')),
    )
}

/// What the short report leaves out of those that came more than once.
pub(crate) fn write(doc: &mut Document, report: &Report) {
    if report.sources.is_empty() {
        return;
    }
    doc.heading(2, "Source by source");
    doc.list(report.sources.iter().filter_map(|source| paragraph(source, report)).collect::<Vec<_>>());
    let by_name = report.sources.iter().any(|source| source.known.is_some());
    doc.paragraph(if by_name { &*NOTES.night_resemblances } else { &*NOTES.night_sources });
}

/// "n1 (1, 2 and 4): each about 1 min 30 s …; it comes back every …".
fn paragraph(source: &Source, report: &Report) -> Option<Words> {
    if source.episodes.len() < 2 {
        return None;
    }
    let numbers: Vec<String> = source.episodes.iter().map(usize::to_string).collect();
    let length = match (source.length_s, source.length_sd_s) {
        (Some(mean_s), Some(sd_s)) if sd_s < ALIKE * mean_s => {
            let scatter = if sd_s < 1.0 { "less than a second".to_owned() } else { clock(sd_s) };
            format!("Each time about {} (they scatter by {scatter}). ", clock(mean_s))
        }
        _ => String::new(),
    };
    let mut text = match (source.told, source.period_s, source.period_ci_s, source.chance) {
        (Regularity::Even, Some(period_s), Some(ends), chance) => format!(
            "It comes back every {} ({}), as a thermostat or a timer does; chance is as even {}",
            clock(period_s),
            reach(ends),
            rarely(chance.unwrap_or(RAREST))
        ),
        (Regularity::Chance, _, _, Some(chance)) => {
            format!("Its times are no more even than chance (as even in {} of the cases)", percent(chance))
        }
        _ => "Too few repeats to name a period".to_owned(),
    };
    if let Some(missed) = source.missed.filter(|missed| *missed > 0) {
        text += &format!("; {} not seen", count(missed, "repeat in between was", "repeats in between were"));
    }
    text += ".";
    if is_of_two_kinds(source, report) {
        text += " Parts of different kinds always came and went together, so they are told as one.";
    }
    Some(Words::strong(format!("{} ({}):", source.id, and(&numbers))).then(format!(" {length}{text}")))
}

/// Whether some of its episodes were there at once.
fn is_of_two_kinds(source: &Source, report: &Report) -> bool {
    let episodes = episodes_of(source, report);
    episodes.windows(2).any(|pair| pair[1].start_s < pair[0].end_s)
}

/// The interval of a period: "give or take 0.4 s".
fn reach([low_s, high_s]: [f64; 2]) -> String {
    format!("give or take {}, 95 %", clock(((high_s - low_s) / 2.0).max(0.1)))
}

/// "once in 250"; the rarest that can be told as such.
fn rarely(chance: f64) -> String {
    let at_most = if chance <= RAREST { "at most " } else { "" };
    format!("{at_most}once in {}", number((1.0 / chance.max(RAREST)).round(), 0))
}

/// "beside 3, a buzz: 7.1 dB (6.4 to 7.8) over the quiet band"; where nothing was on beside it, nothing.
pub(crate) fn over_quiet(episode: &Episode, report: &Report) -> Option<String> {
    let beside: Vec<String> = episode
        .beside
        .iter()
        .filter_map(|&number| {
            let kind = report.episodes.get(number.checked_sub(1)?)?.contrast.character;
            let article = if kind == Character::Unclear { "an " } else { "a " };
            let plural =
                matches!(kind, Character::Hash | Character::Clicks | Character::Carriers | Character::None);
            Some(format!("{number}, {}{}", if plural { "" } else { article }, kind_word(kind)))
        })
        .collect();
    let c = &episode.contrast;
    let by_level = c.is_void() || c.is_too_wide();
    let excess = episode.quiet_excess_db.filter(|_| by_level || !beside.is_empty())?;
    let ends = episode.quiet_excess_ci_db.map_or_else(String::new, |ends| format!(" ({})", interval(ends)));
    let head = if beside.is_empty() { "by the level".to_owned() } else { format!("beside {}", and(&beside)) };
    Some(format!("{head}: by itself it lifts the quiet band by {}{ends}", db(excess)))
}
