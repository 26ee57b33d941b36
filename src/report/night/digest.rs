//! The digest of a night: what came and went, those times first that nothing explains.
//!
//! What explains: an entry of a log of what was switched; without a log, a known noise that it resembles. Where both
//! speak of a source, the log does (`Source::logged`).

use crate::night::Clock;
use crate::night::figures::on_times::noise_words;
use crate::night::figures::source_of;
use crate::night::result::{NO_EXPLANATION, NightFacts, Source};
use crate::report::contract::Report;
use crate::report::night::brief::{answer, rise_db};
use crate::report::night::sources::{came, strong, without_source};
use crate::report::night::words::hours;
use crate::report::post::{POST_LIMIT, foot, part};
use crate::report::verdict::in_short;
use crate::report::words::{causes, is_note};
use crate::text::{Document, Plain, Words, and_at_most, clock, count, label, number, percent, plain};

/// Comings of one noise told by their numbers. Chosen: they fit in a line of the digest.
const NUMBERS: usize = 8;

/// Text of a night's digest, below [`POST_LIMIT`], no line wider than 72 columns.
pub(crate) fn post(report: &Report, night: &NightFacts) -> String {
    let digest = Digest::of(report, night);
    let mut others = 6;
    let mut rows = 24.min(digest.items.len());
    loop {
        let text = digest.text(rows, others);
        if text.encode_utf16().count() < POST_LIMIT || (rows, others) == (0, 0) {
            return text;
        }
        // What was found counts for more than its circumstances, and those for more than a long table.
        if rows > 6 || others == 0 {
            rows -= 1;
        } else {
            others -= 1;
        }
    }
}

struct Digest<'a> {
    report: &'a Report,
    head: Vec<Words>,
    answer: String,
    explained_by: ExplainedBy,
    explanations: Vec<String>,
    /// What came and went, in the order in which it first came.
    items: Vec<Item<'a>>,
    concerns: Vec<String>,
    foot: String,
}

/// A line of the digest.
#[derive(Clone, Copy)]
enum Item<'a> {
    Source(&'a Source),
    /// An episode without a source, by its place.
    Alone(usize),
}

impl Item<'_> {
    /// Places of its episodes.
    fn places(self) -> Vec<usize> {
        match self {
            Self::Source(source) => source.episodes.iter().filter_map(|number| number.checked_sub(1)).collect(),
            Self::Alone(place) => vec![place],
        }
    }
}

/// What tells where a noise came from.
#[derive(Debug, Clone, Copy, PartialEq)]
enum ExplainedBy {
    Log,
    KnownNoises,
    Nothing,
}

impl<'a> Digest<'a> {
    fn of(report: &'a Report, night: &NightFacts) -> Self {
        let named = report.episodes.iter().any(|episode| episode.contrast.known_noise.is_some());
        let explained_by = match (&night.switch_log, named) {
            (Some(_), _) => ExplainedBy::Log,
            (None, true) => ExplainedBy::KnownNoises,
            (None, false) => ExplainedBy::Nothing,
        };
        let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
        let zone = if night.clock == Clock::Utc { "UTC" } else { "the recorder's clock" };
        let mut explanations = log_fit(night);
        explanations.extend(by_log(night));
        explanations.extend(by_known(report));
        let mut items: Vec<Item<'_>> = report.sources.iter().map(Item::Source).collect();
        items.extend(without_source(report).into_iter().map(Item::Alone));
        items.sort_by_key(|item| item.places().first().copied());
        Self {
            report,
            head: vec![
                report.session.title.as_str().into(),
                format!("{} to {}, {zone}", day(&night.start), day(&night.end)).into(),
                format!(
                    "{} recorded in {}",
                    clock(night.recorded_s),
                    count(night.recordings.len(), "file", "files")
                )
                .into(),
            ],
            answer: answer(report, night),
            explained_by,
            explanations,
            items,
            concerns: concerns(report, night),
            foot: foot(report),
        }
    }

    fn text(&self, rows: usize, others: usize) -> String {
        let mut doc = Document::default();
        doc.lines(self.head.clone());
        doc.paragraph(self.answer.as_str());
        let shown = self.shown(rows);
        let (open, rest): (Vec<Item<'_>>, Vec<Item<'_>>) =
            shown.iter().partition(|item| !self.is_explained(**item));
        let heads = match self.explained_by {
            ExplainedBy::Log => ["Not in the log:", "In the log:"],
            ExplainedBy::KnownNoises => ["Like no known noise:", "Like a known noise:"],
            ExplainedBy::Nothing => ["", ""],
        };
        for (head, items) in heads.into_iter().zip([open, rest]) {
            if !items.is_empty() && !head.is_empty() {
                doc.lead(head);
            }
            doc.list(items.iter().map(|&item| self.item(item)).collect::<Vec<_>>());
        }
        let hidden = self.items.len() - shown.len();
        if hidden > 0 {
            doc.paragraph(format!("... and {hidden} weaker in the report"));
        }
        part(&mut doc, "What may explain them:", &words(&self.explanations), others);
        part(&mut doc, "Mind:", &words(&self.concerns), others);
        doc.paragraph(self.foot.as_str());
        plain(&doc, Plain::POST)
    }

    /// Whether all of its times are.
    fn is_explained(&self, item: Item<'_>) -> bool {
        let log = self.report.night.as_ref().and_then(|night| night.switch_log.as_ref());
        item.places().into_iter().all(|at| match self.explained_by {
            ExplainedBy::Log => log.is_some_and(|log| !log.unexplained.contains(&(at + 1))),
            ExplainedBy::KnownNoises => {
                self.report.episodes.get(at).is_some_and(|episode| episode.contrast.resembled().is_some())
            }
            ExplainedBy::Nothing => false,
        })
    }

    /// What is most worth a row, in order of time: unexplained before explained, strong before weak.
    fn shown(&self, rows: usize) -> Vec<Item<'a>> {
        let rise = |item: Item<'_>| {
            let rises = item.places().into_iter().filter_map(|at| self.report.episodes.get(at)).map(rise_db);
            rises.fold(f64::NEG_INFINITY, f64::max)
        };
        let mut order: Vec<usize> = (0..self.items.len()).collect();
        let explained: Vec<bool> = self.items.iter().map(|&item| self.is_explained(item)).collect();
        order.sort_by(|&a, &b| {
            let louder = rise(self.items[b]).total_cmp(&rise(self.items[a]));
            explained[a].cmp(&explained[b]).then(louder).then(a.cmp(&b))
        });
        order.truncate(rows);
        order.sort_unstable();
        order.into_iter().map(|at| self.items[at]).collect()
    }

    /// "n1, hash: once, 2 min 59 s, 12 % of the time searched: 11.0 dB (10.1 to 11.9) over the quiet band; 3 from
    /// 21:41:43".
    fn item(&self, item: Item<'_>) -> String {
        let places = item.places();
        let first = places.first().and_then(|&at| self.report.episodes.get(at));
        let dated = self.report.night.as_ref().is_some_and(|night| night.duration_s >= 86_400.0);
        let from = first.map_or_else(String::new, |first| {
            let from = hours(first.start.as_deref(), first.start_s, true, dated);
            // The year stands in the head.
            let from = match from.split_once('-') {
                Some((_, rest)) if dated => rest.to_owned(),
                _ => from,
            };
            if first.from_before { format!("before {from}") } else { from }
        });
        match item {
            Item::Source(source) => {
                let numbers: Vec<usize> = places.iter().map(|at| at + 1).collect();
                let first = if numbers.len() > 1 { "first " } else { "" };
                format!(
                    "{}, {}: {}; {}; {first}{from} ({})",
                    source.id,
                    noise_words(source, &self.report.episodes),
                    came(source),
                    strong(source, self.report),
                    listed(&numbers)
                )
            }
            Item::Alone(at) => {
                let Some(episode) = first else { return String::new() };
                let on = if episode.until_after { "at least " } else { "" };
                let said = in_short(&episode.contrast, self.report.session.mains_hz);
                format!("{}: {from}, {on}{}: {said}", at + 1, clock(episode.end_s - episode.start_s))
            }
        }
    }
}

fn words(lines: &[String]) -> Vec<Words> {
    lines.iter().map(|line| line.as_str().into()).collect()
}

/// How the log fits as a whole.
fn log_fit(night: &NightFacts) -> Vec<String> {
    let Some(log) = &night.switch_log else { return Vec::new() };
    let odds = match log.chance {
        None => "nothing fits".to_owned(),
        Some(chance) if chance > NO_EXPLANATION => {
            format!("fits as well by chance in {}, so nothing is sure", percent(chance))
        }
        Some(chance) => format!("fits as well by chance in {}", percent(chance)),
    };
    vec![format!("log, {}: {odds}", count(log.entries, "entry", "entries"))]
}

/// "heater: 1, 2 and 4", by what the log names.
fn by_log(night: &NightFacts) -> Vec<String> {
    let mut devices: Vec<(&str, Vec<usize>)> = Vec::new();
    for one in night.switch_log.iter().flat_map(|log| &log.matches) {
        match devices.iter_mut().find(|(device, _)| *device == one.device) {
            Some((_, numbers)) if numbers.contains(&one.episode) => {}
            Some((_, numbers)) => numbers.push(one.episode),
            None => devices.push((&one.device, vec![one.episode])),
        }
    }
    devices.into_iter().map(|(device, numbers)| format!("{}: {}", label(device), listed(&numbers))).collect()
}

/// "like pump (resemblance 0.44 to 0.61 of 1): 1, 2 and 4", by the known noise that each resembles.
fn by_known(report: &Report) -> Vec<String> {
    let mut names: Vec<(&str, Vec<usize>, Vec<f64>)> = Vec::new();
    for (at, episode) in report.episodes.iter().enumerate() {
        let Some(one) = episode.contrast.resembled() else { continue };
        // What the log names goes by that alone; its line says what contradicts.
        if source_of(&report.sources, at).is_some_and(|source| source.logged.is_some()) {
            continue;
        }
        match names.iter_mut().find(|(known, ..)| *known == one.name) {
            Some((_, numbers, how)) => {
                numbers.push(at + 1);
                how.push(one.resemblance);
            }
            None => names.push((&one.name, vec![at + 1], vec![one.resemblance])),
        }
    }
    let lines = names.into_iter().map(|(name, numbers, how)| {
        let ends = [how.iter().copied().fold(1.0, f64::min), how.iter().copied().fold(0.0, f64::max)];
        let [low, high] = ends.map(|resemblance| number(resemblance, 2));
        let range = if low == high { low } else { format!("{low} to {high}") };
        format!("like {} (resemblance {range} of 1): {}", label(name), listed(&numbers))
    });
    lines.collect()
}

fn listed(numbers: &[usize]) -> String {
    and_at_most(&numbers.iter().map(usize::to_string).collect::<Vec<_>>(), NUMBERS)
}

/// What speaks against it, worst first.
fn concerns(report: &Report, night: &NightFacts) -> Vec<String> {
    let mut of_cause: Vec<(String, Vec<usize>)> = Vec::new();
    let mut order: Vec<usize> = (0..report.episodes.len()).collect();
    order.sort_by_key(|&at| std::cmp::Reverse(report.episodes[at].contrast.trust));
    for at in order {
        let against = report.episodes[at].contrast.warnings.iter().filter(|w| !is_note(w.code));
        for cause in causes(against) {
            match of_cause.iter_mut().find(|(known, _)| *known == cause) {
                Some((_, of)) => of.push(at + 1),
                None => of_cause.push((cause, vec![at + 1])),
            }
        }
    }
    let mut found: Vec<String> = of_cause
        .into_iter()
        .map(|(cause, mut of)| {
            of.sort_unstable();
            format!("{cause}: {}", listed(&of))
        })
        .collect();
    if !report.left_out.is_empty() {
        found.push(format!("{} left out", count(report.left_out.len(), "file was", "files were")));
    }
    let of_files = night.recordings.iter().flat_map(|recording| &recording.warnings);
    let whole = of_files.chain(&report.warnings).filter(|w| !is_note(w.code));
    found.extend(causes(whole).into_iter().map(|cause| format!("{cause}: the recordings as such")));
    let gaps = night.joins.iter().filter(|join| join.gap_s > 0.0).count();
    if gaps > 0 {
        found.push(format!("{} between the recordings", count(gaps, "gap", "gaps")));
    }
    // Where nothing came, the answer hangs on it.
    if !report.episodes.is_empty() && night.gain_fixed != Some(true) {
        found.push("an AGC at work would look like noise that comes and goes".to_owned());
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::known_noise::{Answer, KnownCandidate, KnownNoise};
    use crate::report::sample::{sample_night, sample_source};
    use crate::report::{POST_LIMIT, post};
    use insta::assert_snapshot;
    use unicode_width::UnicodeWidthStr;

    #[test]
    fn what_the_log_does_not_explain_comes_first() {
        assert_snapshot!(post(&sample_night()), @"
        Shed night
        2026-03-14 21:00:05 to 2026-03-14 23:00:05, UTC
        2 h 00 min recorded in 0 files

        Noise came 4 times, 16 min 00 s in all; strongest until 21:14:05,
        +14.4 dB, buzz. Once the level changed, and what it was can't be told.

        Not in the log:
        - n1, buzz: twice, 3 min 00 s in all, 20 % of the time searched; 7.0 dB
          (6.6 to 7.4) over the quiet band; first before 21:10:05 (1 and 2)
        - n3, 2 carriers, the strongest at 1234.5 Hz: once, 1 min 30 s, 20 % of
          the time searched; 7.0 dB in all; 22:10:05 (4)
        - 5: 22:30:05, 4 min 00 s: no result, void: clipping

        In the log:
        - n2, hash: once, 1 min 30 s, 20 % of the time searched; 2.3 dB (2.0 to
          2.6) over the quiet band; 21:50:05 (3)

        What may explain them:
        - log, 4 entries: fits as well by chance in under 1 %
        - pump: 2
        - lamp: 3

        Mind:
        - clipping: 5
        - 1 file was left out
        - an AGC at work would look like noise that comes and goes

        made with noisetally 0.1.0
        ");
    }

    #[test]
    fn without_a_log_the_known_noises_explain() {
        let mut report = sample_night();
        report.night.as_mut().unwrap().switch_log = None;
        let known = |answer| KnownNoise {
            answer,
            candidates: vec![KnownCandidate { name: "lamp".into(), resemblance: 0.9, compared: vec![] }],
            plain: false,
            held_against: 2,
            same_carrier: vec![],
        };
        report.episodes[0].contrast.known_noise = Some(known(Answer::One));
        report.episodes[1].contrast.known_noise = Some(known(Answer::None));
        report.sources[0].episodes = vec![1];
        report.sources.insert(1, sample_source("n4", &[2]));
        let text = post(&report);
        let (open, rest) = text.split_once("Like a known noise:").unwrap();
        assert!(open.contains("Like no known noise:") && open.contains("\n- n4, buzz: once"), "{text}");
        assert!(
            rest.contains("\n- n1, buzz: once") && rest.contains("- like lamp (resemblance 0.90 of 1): 1\n"),
            "{text}"
        );
        let agc = "an AGC at work would look like noise that comes and goes";
        assert!(text.contains(agc), "{text}");
        report.night.as_mut().unwrap().gain_fixed = Some(true);
        assert!(!post(&report).contains(agc));
        report.night.as_mut().unwrap().gain_fixed = None;
        report.episodes.clear();
        report.sources.clear();
        let text = post(&report);
        assert!(text.contains("No noise came or went in 2 h 00 min, if AGC was off"), "{text}");
    }

    #[test]
    fn where_both_speak_the_log_names() {
        let mut report = sample_night();
        let lamp = KnownCandidate { name: "lamp".into(), resemblance: 0.9, compared: vec![] };
        let known = KnownNoise {
            answer: Answer::One,
            candidates: vec![lamp],
            plain: false,
            held_against: 2,
            same_carrier: vec![],
        };
        for at in [0, 1, 2] {
            report.episodes[at].contrast.known_noise = Some(known.clone());
        }
        report.sources[0].known = Some("lamp".into());
        report.sources[0].logged = Some("pump".into());
        let text = post(&report).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("- n1, what the log calls pump (buzz, though it resembles lamp): twice"), "{text}");
        assert!(text.contains("- like lamp (resemblance 0.90 of 1): 3 Mind"), "{text}");
    }

    /// Any number of episodes with labels of any length: what is dropped is counted, and the unexplained stay.
    #[test]
    fn always_below_the_limit_and_never_wider_than_72_columns() {
        for (count, name) in [(0, "a"), (1, "灯|"), (40, "a name that is far too long "), (900, "\u{202E}\n`")] {
            let mut report = sample_night();
            report.session.title = name.repeat(40);
            let base = report.episodes.clone();
            report.episodes = (0..count).map(|at| base[at % 5].clone()).collect();
            report.sources = (0..count / 7).map(|at| sample_source(&format!("n{}", at + 1), &[at + 1])).collect();
            let night = report.night.as_mut().unwrap();
            let log = night.switch_log.as_mut().unwrap();
            log.matches.iter_mut().for_each(|one| one.device = name.repeat(20));
            log.unexplained = (1..=count).filter(|number| number % 5 == 1).collect();
            let text = post(&report);
            assert!(text.encode_utf16().count() < POST_LIMIT, "{count}");
            assert!(text.lines().all(|line| line.width() <= Plain::POST.width), "{text}");
            assert!(text.contains("made with noisetally"), "{text}");
            if count > 30 {
                assert!(text.contains("Not in the log:") && text.contains("weaker in the report"), "{text}");
            }
        }
    }
}
