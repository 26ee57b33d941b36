//! Weeks of nights as sentences, tables and a page.

use std::path::Path;
use std::sync::LazyLock;

use serde::Deserialize;

use super::calendar::{CalendarFigure, Lane, MOST_LANES};
use super::chance::TOLD_BELOW;
use super::conditions::OPPOSITE_OF;
use super::grid::{SHORTEST_S, weekday_name};
use super::result::{HabitKind, Pairing, TurnKind, WeekSource, Weeks, WeeksFacts};
use super::{Found, clock_word};
use crate::contrast::words::kind_word;
use crate::findings::picture::{FigureKind, Picture};
use crate::report::post::POST_LIMIT;
use crate::text::{
    self, Column, Document, Plain, Table, Words, and, and_at_most, capital, clock, count, db, interval, label,
    number, percent, plain, signed,
};

/// The picture's file.
pub const PICTURE: &str = "calendar.png";
/// Sources told on the terminal. Chosen: a handful of lines.
const ON_TERMINAL: usize = 6;
/// Gaps named one by one. Chosen: a line.
const GAPS_NAMED: usize = 4;

static PROSE: LazyLock<Prose> =
    LazyLock::new(|| toml::from_str(include_str!("prose.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Prose {
    counting: String,
    sameness: String,
    chances: String,
    cause: String,
    trend: String,
}

/// Lines for the terminal.
pub fn lines(weeks: &Weeks) -> Vec<String> {
    let weeks = &weeks.published().weeks;
    let mut lines = head(weeks);
    let told = ranked(weeks);
    lines.extend(told.iter().take(ON_TERMINAL).map(|source| sentence(source)));
    if told.len() > ON_TERMINAL {
        lines.push(format!("{} more in the report.", count(told.len() - ON_TERMINAL, "source", "sources")));
    }
    lines.extend(once_only(weeks));
    lines.extend(left_out(weeks));
    lines.extend(weeks.notes.iter().map(|note| format!("{note}.")));
    lines
}

/// The report as Markdown.
pub fn markdown(weeks: &Weeks) -> String {
    text::markdown(&document(&weeks.published()))
}

/// The same as one page, with the picture that stands in `dir`.
pub fn page(weeks: &Weeks, dir: &Path) -> String {
    text::sheets(&[&document(&weeks.published())], &|file| std::fs::read(dir.join(file)).ok())
}

/// The digest to paste into a forum, below [`POST_LIMIT`] characters, no line wider than 72 columns.
pub fn post(weeks: &Weeks) -> String {
    let weeks = &weeks.published().weeks;
    let told = ranked(weeks);
    let mut shown = told.len().min(12);
    loop {
        let mut doc = Document::default();
        doc.paragraph(title(weeks));
        doc.list(head(weeks).into_iter().map(Words::from).collect::<Vec<_>>());
        doc.list(told[..shown].iter().map(|source| sentence(source).into()).collect::<Vec<Words>>());
        if told.len() > shown {
            doc.paragraph(format!("... and {} in the report", count(told.len() - shown, "source", "sources")));
        }
        doc.paragraph(format!("made with {} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION")));
        let text = plain(&doc, Plain::POST);
        if text.encode_utf16().count() < POST_LIMIT || shown == 0 {
            return text;
        }
        shown -= 1;
    }
}

/// The calendar, ready to be drawn.
pub fn picture(found: &Found) -> Picture {
    let weeks = &found.weeks.published().weeks;
    let place = |source: &WeekSource| weeks.sources.iter().position(|other| other.id == source.id).unwrap_or(0);
    let lanes = ranked(weeks).into_iter().take(MOST_LANES).map(|source| Lane {
        id: source.id.clone(),
        kind: name(source),
        note: note(source),
        spans: found.spans[place(source)].iter().map(|(from, to)| (from - 43_200.0, to - 43_200.0)).collect(),
    });
    let figure = CalendarFigure {
        title: title(weeks),
        subtitle: [
            weeks.station.as_deref().map(label),
            Some(format!("{} to {}", day(&weeks.from), day(&weeks.until))),
            Some(clock_word(weeks.clock).to_owned()),
            Some("each column from noon to noon".to_owned()),
        ]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" · "),
        lanes: lanes.collect(),
        days: found.levels.iter().map(|(day, bins)| (*day, *bins)).collect(),
    };
    Picture {
        file: PICTURE.to_owned(),
        kind: FigureKind::Calendar,
        contrast: None,
        caption: "Noise level by day and hour, stations left out; below, when each source was on.".to_owned(),
        drawing: Box::new(figure),
    }
}

/// The sources of two days or more, those with something to tell first, then those that were there most.
fn ranked(weeks: &WeeksFacts) -> Vec<&WeekSource> {
    let mut told: Vec<&WeekSource> = weeks.sources.iter().filter(|source| source.days > 1).collect();
    let tells = |source: &WeekSource| !note(source).is_empty();
    told.sort_by(|a, b| {
        tells(b).cmp(&tells(a)).then(b.days.cmp(&a.days)).then(b.on_s.total_cmp(&a.on_s)).then(a.id.cmp(&b.id))
    });
    told
}

fn day(at: &str) -> String {
    at.split('T').next().unwrap_or(at).to_owned()
}

/// "2026-03-14 21:40".
fn minute(at: &str) -> String {
    at.get(..16).unwrap_or(at).replace('T', " ")
}

fn name(source: &WeekSource) -> String {
    source.known.as_deref().map_or_else(|| kind_word(source.character).to_owned(), label)
}

/// A chance as it is told: "chance 0.4 %".
fn chance(value: f64) -> String {
    match value * 100.0 {
        p if p < 0.01 => "chance below 0.01 %".to_owned(),
        p if p < 0.1 => format!("chance {} %", number(p, 2)),
        p if p < 1.0 => format!("chance {} %", number(p, 1)),
        p => format!("chance {} %", number(p, 0)),
    }
}

/// What was recorded, and the quiet level.
fn head(weeks: &WeeksFacts) -> Vec<String> {
    let missing: u32 = weeks.gaps.iter().map(|gap| gap.days).sum();
    let gaps: Vec<String> = weeks
        .gaps
        .iter()
        .map(|gap| if gap.days == 1 { gap.from.clone() } else { format!("{} to {}", gap.from, gap.until) })
        .collect();
    let missing = match missing {
        0 => "no day missing".to_owned(),
        n => format!("{} missing ({})", count(n as usize, "day", "days"), and_at_most(&gaps, GAPS_NAMED)),
    };
    let hours = match weeks.recorded_s / 3600.0 {
        hours if hours < 10.0 => clock(weeks.recorded_s),
        hours => format!("{} h", number(hours, 0)),
    };
    let days = match weeks.days {
        0 => format!("in all, less than {} a day: nothing is told of habits", shortest()),
        n => format!("on {}, {missing}", count(n, "day", "days")),
    };
    let mut lines = vec![format!(
        "{}, {} to {} ({}): {hours} recorded {days}.",
        count(weeks.nights.len(), "report", "reports"),
        minute(&weeks.from),
        minute(&weeks.until),
        clock_word(weeks.clock),
    )];
    lines.push(match (weeks.quiet_trend_db_per_week, weeks.quiet_trend_ci_db_per_week) {
        (Some(value), Some([low, high])) => {
            let (value, ends) = (signed(value, 2), format!("{} to {}", signed(low, 2), signed(high, 2)));
            match low > 0.0 || high < 0.0 {
                true => format!("Quiet level: {value} dB a week ({ends})."),
                false => format!("Quiet level: no trend shown ({ends} dB a week)."),
            }
        }
        _ => "Quiet level: too few days for a trend.".to_owned(),
    });
    lines
}

/// "w2, buzz, 8.3 dB: on 24 days …".
fn sentence(source: &WeekSource) -> String {
    format!("{}: {}", heading(source), said(source))
}

fn heading(source: &WeekSource) -> String {
    let level = source.excess_db.map_or_else(String::new, |value| format!(", {}", db(value)));
    format!("{}, {}{level}", source.id, name(source))
}

fn said(source: &WeekSource) -> String {
    let mut said = format!(
        "{} on {}, {} of the time.",
        count(source.comings.len(), "coming", "comings"),
        count(source.days, "day", "days"),
        percent(source.duty)
    );
    for habit in &source.habits {
        let word = match habit.kind {
            HabitKind::TimeOfDay => format!("Mostly {}", habit.words),
            HabitKind::DayOfWeek => format!("Mostly on {}", habit.words),
        };
        said += &format!(
            " {word}: on for {} of the time then, {} of the rest ({}).",
            percent(habit.share_in),
            percent(habit.share_out),
            chance(habit.chance)
        );
    }
    for pair in source.conditions.iter().filter(|pair| pair.told) {
        let word = label(&pair.word);
        let (with, without) = (percent(pair.share_with), percent(pair.share_without));
        let of_time = format!("on for {with} of the time with it, {without} without");
        said += &match With::of(source, pair) {
            With::Only => {
                let days = count(pair.days_with, "day", "days");
                format!(" Comes only with {word}, on {} of {days} with it", pair.days_on_with)
            }
            With::More => format!(" Goes with {word}: {of_time}"),
            With::Less => format!(" Comes less with {word}: {of_time}"),
            With::Never => format!(" Never comes with {word}: on for {without} of the time without it"),
        };
        said += &format!(" ({}).", pair.chance.map_or_else(String::new, chance));
    }
    for turn in &source.turns {
        let days = count(turn.days_without, "recorded day", "recorded days");
        said += &match turn.kind {
            TurnKind::CameNew => {
                format!(" New on {}, after {days} without it ({}).", day(&turn.at), chance(turn.chance))
            }
            TurnKind::WentForGood => {
                format!(" Not heard since {}, {days} without it ({}).", day(&turn.at), chance(turn.chance))
            }
        };
    }
    if let (Some(value), Some([low, high])) = (source.excess_trend_db_per_week, source.excess_trend_ci_db_per_week)
        && (low > 0.0 || high < 0.0)
    {
        let word = if value > 0.0 { "Grew" } else { "Fell" };
        let ends = if value > 0.0 { [low, high] } else { [-high, -low] };
        let ends = format!("{} to {}", number(ends[0], 1), number(ends[1], 1));
        said += &format!(" {word} by {} a week ({ends}).", db(value.abs()));
    }
    if source.plain {
        said += " Even hash: many devices sound so, and several may be counted as one.";
    }
    if !source.may_be.is_empty() {
        said += &format!(" On some nights it may as well have been {}.", and_at_most(&source.may_be, 3));
    }
    said
}

/// What it keeps to, in a few words.
fn note(source: &WeekSource) -> String {
    let habits = source.habits.iter().map(|habit| short_days(&habit.words));
    let with = source.conditions.iter().filter(|pair| pair.told).map(|pair| {
        let word = match With::of(source, pair) {
            With::Only => "only with",
            With::More => "with",
            With::Less => "less with",
            With::Never => "never with",
        };
        format!("{word} {}", label(&pair.word))
    });
    let turns = source.turns.iter().map(|turn| match turn.kind {
        TurnKind::CameNew => format!("new on {}", day(&turn.at)),
        TurnKind::WentForGood => format!("gone since {}", day(&turn.at)),
    });
    habits.chain(with).chain(turns).collect::<Vec<_>>().join(", ")
}

/// How a source goes with a condition.
enum With {
    Only,
    More,
    Less,
    Never,
}

impl With {
    fn of(source: &WeekSource, pair: &Pairing) -> Self {
        match pair.effect > 0.0 {
            // Also on no day that the table leaves out.
            true if pair.days_on_without == 0 && pair.days_on_with == source.days => Self::Only,
            true => Self::More,
            false if pair.days_on_with == 0 => Self::Never,
            false => Self::Less,
        }
    }
}

/// "Tue, Wed and Sat", where there is little room.
fn short_days(words: &str) -> String {
    (0..7).map(weekday_name).fold(words.to_owned(), |words, day| words.replace(day, &day[..3]))
}

/// "10 minutes".
fn shortest() -> String {
    format!("{} minutes", number(SHORTEST_S / 60.0, 0))
}

fn title(weeks: &WeeksFacts) -> String {
    let told = ranked(weeks);
    let telling: Vec<String> = told
        .iter()
        .filter(|source| !note(source).is_empty())
        .take(2)
        .map(|source| format!("{} ({}) {}", source.id, name(source), note(source)))
        .collect();
    let days = count(weeks.days, "day", "days");
    match (told.len(), telling.is_empty()) {
        _ if weeks.days == 0 => format!("No day with {} of sound: nothing to hold against another", shortest()),
        (0, _) => format!("{days}: no source came back"),
        (n, true) => format!("{days}, {}: no habit shown", count(n, "source", "sources")),
        (_, false) => format!("{days}: {}", telling.join("; ")),
    }
}

fn once_only(weeks: &WeeksFacts) -> Option<String> {
    let once: Vec<String> = weeks.sources.iter().filter(|source| source.days < 2).map(|s| s.id.clone()).collect();
    (!once.is_empty()).then(|| format!("Heard on one day only: {}.", and_at_most(&once, 8)))
}

fn left_out(weeks: &WeeksFacts) -> Vec<String> {
    weeks.left_out.iter().map(|one| format!("Left out: {}: {}.", label(&one.name), one.why)).collect()
}

fn document(weeks: &Weeks) -> Document {
    let figures = &weeks.figures;
    let weeks = &weeks.weeks;
    let mut doc = Document::default();
    doc.heading(1, weeks.station.as_deref().map_or("Weeks of nights".to_owned(), label));
    doc.list(head(weeks).into_iter().map(Words::from).collect::<Vec<_>>());
    figures.iter().for_each(|figure| doc.picture(figure));
    doc.heading(2, "Sources");
    let told = ranked(weeks);
    if told.is_empty() {
        doc.paragraph("No source was heard on two days.");
    }
    let sentence = |source: &&WeekSource| Words::strong(format!("{}: ", heading(source))).then(said(source));
    doc.list(told.iter().map(sentence).collect::<Vec<_>>());
    once_only(weeks).into_iter().for_each(|line| doc.paragraph(line));
    doc.table(sources(&told));
    if !weeks.conditions.is_empty() {
        doc.heading(2, "Conditions");
        let (shown, rest) = pairs(&told);
        if !shown.is_empty() {
            doc.table(conditions(&shown));
        }
        if !rest.is_empty() {
            doc.paragraph(Words::prose(&rest));
        }
        let held = weeks.conditions.iter().map(|one| {
            let why = match &one.why_not {
                None => String::new(),
                Some(why) if why.starts_with(OPPOSITE_OF) => format!("; {why}: the two are tried as one"),
                Some(why) => format!("; not tried: {why}"),
            };
            format!(
                "{}: {} recorded with it, {} without{why}.",
                capital(&label(&one.word)),
                clock(one.with_s),
                clock(one.without_s)
            )
        });
        doc.list(held.map(Words::from).collect::<Vec<_>>());
        doc.paragraph(PROSE.cause.trim());
    }
    let mind: Vec<String> =
        left_out(weeks).into_iter().chain(weeks.notes.iter().map(|note| format!("{note}."))).collect();
    if !mind.is_empty() {
        doc.heading(2, "What to mind");
        doc.list(mind.into_iter().map(Words::from).collect::<Vec<_>>());
    }
    doc.heading(2, "How this is reckoned");
    doc.paragraph(format!(
        "{} {}",
        PROSE.counting.trim(),
        count(weeks.tried, "habit, turn or pair was tried.", "habits, turns and pairs were tried.")
    ));
    for prose in [&PROSE.sameness, &PROSE.chances, &PROSE.trend] {
        doc.paragraph(Words::prose(prose.trim()));
    }
    doc.paragraph(
        Words::from("Each coming: ")
            .then(Words::code(super::COMINGS_CSV))
            .then("; each minute: ")
            .then(Words::code(super::MINUTES_CSV))
            .then("."),
    );
    doc
}

fn sources(told: &[&WeekSource]) -> Table {
    let mut table = Table::new([
        Column::text("Source"),
        Column::text("Kind"),
        Column::number("Excess, dB (least to most)"),
        Column::text("First heard"),
        Column::text("Last heard"),
        Column::number("Days"),
        Column::number("Comings"),
        Column::number("Time on"),
    ]);
    for source in told {
        let excess = source.excess_db.zip(source.excess_range_db);
        table.row([
            source.id.clone(),
            name(source),
            excess.map_or("–".to_owned(), |(value, range)| format!("{} ({})", number(value, 1), interval(range))),
            minute(&source.first),
            minute(&source.last),
            source.days.to_string(),
            source.comings.len().to_string(),
            percent(source.duty),
        ]);
    }
    table
}

/// Pairs of source and condition that by themselves are more than luck, the clearest first; and how many are not.
fn pairs<'a>(told: &[&'a WeekSource]) -> (Vec<(&'a WeekSource, &'a Pairing)>, String) {
    let all = told.iter().flat_map(|source| source.conditions.iter().map(|pair| (*source, pair)));
    let alone = |pair: &Pairing| pair.chance_alone.unwrap_or(f64::INFINITY);
    let (mut shown, rest): (Vec<_>, Vec<_>) = all.partition(|(_, pair)| alone(pair) < TOLD_BELOW);
    shown.sort_by(|a, b| alone(a.1).total_cmp(&alone(b.1)));
    let untried = rest.iter().filter(|(_, pair)| pair.chance_alone.is_none()).count();
    let mut words = Vec::new();
    if rest.len() > untried {
        words.push(format!("{} no more than luck brings", count(rest.len() - untried, "pair shows", "pairs show")));
    }
    if untried > 0 {
        words.push(format!("{} too few spells to tell", count(untried, "pair has", "pairs have")));
    }
    let told = if words.is_empty() { String::new() } else { format!("{}; all are in `report.json`.", and(&words)) };
    (shown, told)
}

fn conditions(shown: &[(&WeekSource, &Pairing)]) -> Table {
    let mut table = Table::new([
        Column::text("Source"),
        Column::text("Condition"),
        Column::number("On with it"),
        Column::number("On without"),
        Column::number("Difference, points (95 %)"),
        Column::text("Goes together?"),
    ]);
    let points = |share: f64| number(share * 100.0, 0);
    let row = |source: &WeekSource, pair: &Pairing| -> [Words; 6] {
        let ends = pair.effect_ci.map_or_else(String::new, |[a, b]| format!(" ({} to {})", points(a), points(b)));
        [
            source.id.clone().into(),
            label(&pair.word).into(),
            percent(pair.share_with).into(),
            percent(pair.share_without).into(),
            format!("{}{ends}", points(pair.effect)).into(),
            match pair.chance {
                Some(value) if pair.told => Words::strong(format!("yes, {}", chance(value))),
                Some(value) => format!("not told, {}", chance(value)).into(),
                None => "too few spells to tell".into(),
            },
        ]
    };
    shown.iter().for_each(|(source, pair)| table.row(row(source, pair)));
    table
}
