//! A night's short report: what came and went, each noise once with its times, what could spoil it. Not here: the
//! details.

use crate::contrast::Character;
use crate::contrast::excess::is_too_wide;
use crate::contrast::words::kind_word;
use crate::findings::picture::FigureKind;
use crate::night::Clock;
use crate::night::figures::on_times::kind_in_full;
use crate::night::result::{Episode, NightFacts, Source, covered_s};
use crate::report::contract::Report;
use crate::report::night::details::{left_out, spoilt};
use crate::report::night::log;
use crate::report::night::sources::{self, item, without_source};
use crate::report::night::words::{between, span};
use crate::report::verdict::in_short as verdict;
use crate::text::{Document, Words, and_at_most, capital, clock, count, db, label, times};
use crate::warning::Code;

/// Noises told. Chosen: a page holds them; the details have all.
const NOISES: usize = 12;
/// Sources told on the terminal. Chosen: a screen has 24 lines; all are in the report.
const MOST_LINES: usize = 20;

/// The short report of a night.
pub(crate) fn brief(report: &Report, night: &NightFacts) -> Document {
    let mut doc = Document::default();
    doc.heading(1, capital(&label(&report.session.title)));
    if let Some(station) = &report.session.station {
        doc.paragraph(station.as_str());
    }
    doc.paragraph(recorded(night));
    doc.heading(2, "What came and went");
    doc.paragraph(Words::strong(answer(report, night)));
    log::verdict(report, night).into_iter().for_each(|line| doc.paragraph(line));
    let mut noises = noises(report, night, |_| true);
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

/// Each source once, the strongest first; then what belongs to none: those of which an episode is wanted, by its
/// number.
pub(crate) fn noises(report: &Report, night: &NightFacts, is_wanted: impl Fn(usize) -> bool) -> Vec<Words> {
    let is_of_them = |source: &&Source| source.episodes.iter().any(|number| is_wanted(*number));
    let mut sources: Vec<_> = report.sources.iter().filter(is_of_them).collect();
    sources.sort_by(|a, b| b.excess_db.unwrap_or(0.0).total_cmp(&a.excess_db.unwrap_or(0.0)));
    let mut found: Vec<Words> = sources.into_iter().map(|source| item(source, report, night)).collect();
    found.extend(without_source(report).into_iter().filter(|at| is_wanted(at + 1)).map(|at| {
        let episode = &report.episodes[at];
        let said = verdict(&episode.contrast, report.session.mains_hz);
        Words::strong(capital(kind_word(episode.contrast.character))).then(format!(
            " ({}): {}; {said}.",
            at + 1,
            between(episode, Some(night))
        ))
    }));
    found
}

/// "Recorded from … to …, UTC: 8 h 00 min in 3 recordings."
pub(crate) fn recorded(night: &NightFacts) -> String {
    let clock_words = match night.clock {
        Clock::Utc => "UTC",
        Clock::Mixed => "UTC; the clock of some recordings has no zone and was taken as UTC, so check their order",
        Clock::Local => "the recorder's clock: nothing tells its zone, most often it is local time",
    };
    let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
    let told_by = and_at_most(&start_told_by(night), 4);
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
fn start_told_by(night: &NightFacts) -> Vec<String> {
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
        let provided = match night.gain_fixed {
            Some(true) => "",
            Some(false) => " that shows with AGC on, as the labels have it",
            None => ", if AGC was off (the labels don't say)",
        };
        return format!(
            "No noise came or went in {}{provided}. What was there all the time, what fades in and out slowly, \
             single clicks, and what rises by less than about 1 dB is not found this way.",
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
    let is_wide = episode.quiet_excess_ci_db.map_or(c.is_too_wide(), is_too_wide);
    !c.is_void() && !is_wide && !matches!(c.character, Character::None | Character::Unclear)
}

/// The answer's first sentence, without its stop: the title of the figures.
pub(crate) fn finding(report: &Report, night: &NightFacts) -> String {
    let answer = answer(report, night);
    let first = answer.split_inclusive(". ").next().unwrap_or_default();
    first.trim_end_matches([' ', '.']).to_owned()
}

/// By the excess where it means something, else by the jump of the level. One whose power may be another's, or no
/// noise's at all, is it only where nothing else came.
fn strongest<'a>(episodes: &[&'a Episode]) -> Option<&'a Episode> {
    let is_its_own = |episode: &Episode| {
        let c = &episode.contrast;
        let in_question = c.character == Character::Mixed || c.warnings.iter().any(|w| w.code == Code::OpenEnded);
        !(c.is_doubtful() && in_question)
    };
    let rank =
        |a: &&Episode, b: &&Episode| is_its_own(a).cmp(&is_its_own(b)).then(rise_db(a).total_cmp(&rise_db(b)));
    episodes.iter().copied().max_by(rank)
}

/// How many dB it lifts the quiet band; of what is lines or clicks or was not told over it, how much louder it was
/// while it lasted; failing that, the jump of the level.
pub(crate) fn rise_db(episode: &Episode) -> f64 {
    let c = &episode.contrast;
    let is_lines = c.character.is_lines() || c.is_lines_only();
    let noise = episode.quiet_excess_db.filter(|_| !episode.beside.is_empty() && !is_lines);
    noise.or(c.total_db()).or(episode.quiet_excess_db).or(episode.jump_db).unwrap_or(0.0)
}

/// "from 22:10 to 22:40, +12.1 dB, buzz".
fn in_short(episode: &Episode, report: &Report) -> String {
    let c = &episode.contrast;
    let rise = format!("+{}", db(rise_db(episode)).trim_start_matches('\u{2212}'));
    let kind = kind_in_full(c);
    let doubt = if c.is_doubtful() { " (doubtful)" } else { "" };
    format!("{}, {rise}, {kind}{doubt}", span(episode, report.night.as_ref()))
}

/// What came and went, in lines for the terminal: the answer, then each episode. Empty for a report of no night.
pub fn night_lines(report: &Report) -> Vec<String> {
    let report = &report.published();
    let Some(night) = &report.night else { return Vec::new() };
    let explained = log::verdict(report, night).map_or_else(String::new, |line| format!(" {line}"));
    let mut lines = vec![answer(report, night) + &stopped(night) + &explained];
    lines.extend(report.warnings.iter().filter(|w| w.code == Code::Label).map(|w| capital(&w.message)));
    lines.extend(report.sources.iter().map(|source| sources::line(source, report, night)));
    lines.extend(without_source(report).into_iter().map(|at| untold(&report.episodes[at], report)));
    let more = lines.len().saturating_sub(MOST_LINES + 1);
    if more > 0 {
        lines.truncate(MOST_LINES + 1);
        lines.push(format!("... and {more} more in the report."));
    }
    lines
}

/// "From 22:10 to 22:40: a jump of 3.1 dB, what it was can't be told" for the terminal.
fn untold(episode: &Episode, report: &Report) -> String {
    let jump = episode.jump_db.map_or_else(String::new, |jump| format!("a jump of {}, ", db(jump)));
    format!("{}: {jump}what it was can't be told", capital(&span(episode, report.night.as_ref())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::sample_night;
    use crate::warning::{Trust, Warning};

    fn told(report: &Report) -> String {
        answer(report, report.night.as_ref().unwrap())
    }

    /// An AGC hides all that comes and goes.
    #[test]
    fn that_nothing_came_hangs_on_the_gain() {
        let mut report = sample_night();
        report.episodes.clear();
        for (gain_fixed, so) in [
            (Some(true), "No noise came or went in 2 h 00 min. "),
            (Some(false), "No noise came or went in 2 h 00 min that shows with AGC on, as the labels have it. "),
            (None, "No noise came or went in 2 h 00 min, if AGC was off (the labels don't say). "),
        ] {
            report.night.as_mut().unwrap().gain_fixed = gain_fixed;
            assert!(told(&report).starts_with(so), "{}", told(&report));
            assert_eq!(finding(&report, report.night.as_ref().unwrap()), so.trim_end_matches(". "));
        }
    }

    /// By the sample: 14.4, 14.3, 2.5 and 6.2 dB in all.
    #[test]
    fn what_may_be_no_noise_of_its_own_is_not_the_strongest() {
        let mut report = sample_night();
        let first = &mut report.episodes[0].contrast;
        (first.character, first.trust) = (Character::Mixed, Trust::Doubtful);
        assert!(told(&report).contains("strongest from 21:30:05 to 21:34:05, "), "{}", told(&report));
        let second = &mut report.episodes[1].contrast;
        (second.character, second.trust) = (Character::Hash, Trust::Doubtful);
        second.warnings.push(Warning::new(Code::OpenEnded, "it began and never ended."));
        assert!(
            told(&report).contains("strongest from 22:10:05 to 22:14:05, +6.2 dB, 2 carriers, "),
            "{}",
            told(&report)
        );
        report.episodes.truncate(2);
        assert!(told(&report).contains("strongest until 21:14:05, "), "{}", told(&report));
    }

    #[test]
    fn a_touched_control_is_named_where_the_source_is_told() {
        let mut report = sample_night();
        let c = &mut report.episodes[2].contrast;
        (c.trust, report.sources[1].trust) = (Trust::Doubtful, Trust::Doubtful);
        c.warnings
            .push(Warning::new(Code::OpenEnded, "it began and never ended: a touched control looks the same."));
        let line = night_lines(&report).into_iter().find(|line| line.starts_with("n2, hash")).unwrap();
        let reason = "over the quiet band, doubtful: it began and never ended: a touched control looks the same";
        assert!(line.ends_with(reason), "{line}");
    }
}
