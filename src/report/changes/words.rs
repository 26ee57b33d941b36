//! What changed between evenings, as sentences, a table and a page.

use std::path::Path;
use std::sync::LazyLock;

use serde::Deserialize;

use super::figure::{ChangesFigure, Row};
use super::result::{Change, Changes, ComparedReport, FloorBasis, FloorChange, OnlyIn, Shows, SpacingChange};
use crate::contrast::Character;
use crate::contrast::words::kind_word;
use crate::findings::picture::{FigureKind, Picture};
use crate::text::{
    self, Column, Document, Table, Words, and, capital, count, db, hz, interval, label, number, signed,
};
use crate::warning::Trust;

/// The picture's file.
pub const PICTURE: &str = "changes.png";

/// The total is worth its own words where it stands this much above the noise between lines and clicks, dB. Chosen,
/// as in the verdict.
const TOTAL_STANDS_OUT_DB: f64 = 1.0;
/// From so many days on they are told as months. Chosen: below, the number of days is clearer.
const MONTHS_FROM_DAYS: f64 = 60.0;
/// Days of a month (365.25 / 12).
const MONTH_DAYS: f64 = 30.44;

static PROSE: LazyLock<Prose> =
    LazyLock::new(|| toml::from_str(include_str!("prose.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Prose {
    reading: String,
    intervals: String,
    own: String,
}

/// Lines for the terminal: the reports, then what changed.
pub fn lines(changes: &Changes) -> Vec<String> {
    let changes = changes.published();
    let mut lines: Vec<String> = changes.reports.iter().map(|report| told(report, &changes)).collect();
    lines.extend(changes.changes.iter().map(|change| plain(sentence(change, &changes))));
    lines.extend(changes.floors.iter().map(|one| format!("Everything off, {}", floor(one))));
    lines.extend(changes.switching_combs.iter().map(spacing));
    lines.extend(not_compared(&changes));
    lines.extend(notes(&changes));
    lines
}

/// Words without what they are.
fn plain(words: (String, String)) -> String {
    format!("{}: {}", words.0, words.1)
}

/// The short report as Markdown.
pub fn markdown(changes: &Changes) -> String {
    text::markdown(&document(&changes.published()))
}

/// The same as one page, with the picture that stands in `dir`.
pub fn page(changes: &Changes, dir: &Path) -> String {
    text::sheets(&[&document(&changes.published())], &|file| std::fs::read(dir.join(file)).ok())
}

/// The picture, ready to be drawn.
pub fn picture(changes: &Changes) -> Picture {
    let changes = &changes.published();
    let several = settings(changes).len() > 1;
    let rows = changes.changes.iter().map(|c| Row::of(c, several.then_some(c.setting.as_str()))).collect();
    let evenings: Vec<String> = changes.reports.iter().filter_map(|r| r.started.as_deref().map(day)).collect();
    let subtitle = match evenings.as_slice() {
        [first, .., last] if evenings.len() == changes.reports.len() => {
            let place = settings(changes).into_iter().next().filter(|_| !several);
            [Some(format!("{first} to {last}")), place].into_iter().flatten().collect::<Vec<_>>().join(" · ")
        }
        _ => String::new(),
    };
    Picture {
        file: PICTURE.to_owned(),
        kind: FigureKind::Changes,
        contrast: None,
        caption: "What each device added then and adds now, with 95 % intervals.".to_owned(),
        drawing: Box::new(ChangesFigure { title: title(changes), subtitle, rows }),
    }
}

impl Change {
    /// What became of its carriers, which the noise between them does not tell.
    pub(super) fn news_of_carriers(&self) -> Option<&'static str> {
        match (self.then_carriers, self.now_carriers) {
            _ if self.trust.is_void() => None,
            _ if self.comb.as_ref().is_some_and(|comb| comb.moved) => Some("carriers moved"),
            (0, 1..) => Some("new carriers"),
            (1.., 0) => Some("carriers not found"),
            _ => None,
        }
    }
}

/// The settings that changes are of, each once.
fn settings(changes: &Changes) -> Vec<String> {
    text::each_once(changes.changes.iter().map(|c| label(&c.setting)))
}

fn document(changes: &Changes) -> Document {
    let mut doc = Document::default();
    doc.heading(1, "Then and now");
    doc.list(changes.reports.iter().map(|report| told(report, changes)).collect::<Vec<_>>());
    doc.heading(2, "What changed");
    let sentences = changes.changes.iter().map(|change| {
        let (name, said) = sentence(change, changes);
        Words::strong(format!("{name}: ")).then(said)
    });
    let sentences: Vec<Words> = sentences.collect();
    match sentences.is_empty() {
        true => doc.paragraph("No device is in two of the reports in one setting."),
        false => doc.list(sentences),
    }
    changes.figures.iter().for_each(|figure| doc.picture(figure));
    doc.table(table(changes));
    if !changes.floors.is_empty() {
        doc.heading(2, "The noise with everything off");
        doc.list(changes.floors.iter().map(floor).collect::<Vec<_>>());
    }
    if !changes.switching_combs.is_empty() {
        doc.heading(2, "Carriers over the dial");
        doc.list(changes.switching_combs.iter().map(spacing).collect::<Vec<_>>());
    }
    for (heading, lines) in [("Not compared", not_compared(changes)), ("What to mind", notes(changes))] {
        if !lines.is_empty() {
            doc.heading(2, heading);
            doc.list(lines);
        }
    }
    doc.heading(2, "How to read this");
    doc.paragraph(PROSE.reading.as_str());
    doc.paragraph(PROSE.intervals.as_str());
    if changes.changes.iter().any(|c| c.own_change_db.is_some() || c.own_change_at_most_db.is_some()) {
        doc.paragraph(PROSE.own.as_str());
    }
    doc.paragraph(format!("Made with {} {}.", changes.tool.name, changes.tool.version));
    doc
}

/// "2: Autumn evening (autumn), 2026-09-20, 190 days (6 months) later".
fn told(report: &ComparedReport, changes: &Changes) -> String {
    let first = changes.reports.first().map(|first| first.number);
    let is_new = !report.name.is_empty() && report.name != report.title;
    let name = if is_new { format!(" ({})", label(&report.name)) } else { String::new() };
    let started = report.started.as_deref().map_or_else(String::new, |at| format!(", {}", day(at)));
    let later = report
        .days
        .filter(|_| first != Some(report.number))
        .map_or_else(String::new, |days| format!(", {} later", span(days)));
    format!("{}: {}{name}{started}{later}", report.number, label(&report.title))
}

fn day(at: &str) -> String {
    at.split('T').next().unwrap_or(at).to_owned()
}

/// "190 days (6 months)".
fn span(days: f64) -> String {
    match days.round() {
        whole if whole < 1.0 => "less than a day".to_owned(),
        whole if whole < MONTHS_FROM_DAYS => count(whole as usize, "day", "days"),
        whole => format!("{} days ({} months)", number(whole, 0), number(whole / MONTH_DAYS, 0)),
    }
}

/// The device with its remedies and, where there are several, the setting; and what became of it.
fn sentence(change: &Change, changes: &Changes) -> (String, String) {
    let several = settings(changes).len() > 1;
    let place = if several { format!(", {}", label(&change.setting)) } else { String::new() };
    let name = format!("{}{}{place}", capital(&label(&change.device)), remedies(change));
    let [then, now] = [(change.then_db, change.then_ci_db), (change.now_db, change.now_ci_db)].map(level);
    let doubt = if change.trust.is_doubtful() { "doubtful: " } else { "" };
    let mut said = format!("{doubt}{then} then, {now} now: {}.", difference(change));
    said.push_str(&own(change));
    said.push_str(&kinds(change));
    said.push_str(&totals(change));
    said.push_str(&carriers(change));
    if !change.reasons.is_empty() {
        said.push_str(&format!(" Mind: {}.", change.reasons.join("; ")));
    }
    (name, said)
}

/// ", porch socket" or ", then without a remedy, now with porch socket".
fn remedies(change: &Change) -> String {
    let with = |remedy: &Option<String>| {
        remedy.as_deref().map_or("without a remedy".into(), |r| format!("with {}", label(r)))
    };
    match (&change.then_remedy, &change.now_remedy) {
        (None, None) => String::new(),
        (then, now) if then == now => format!(", {}", with(now)),
        (then, now) => format!(", {} then, {} now", with(then), with(now)),
    }
}

/// "13.9 dB (13.6 to 14.2)".
fn level((value, ci): (Option<f64>, Option<[f64; 2]>)) -> String {
    match (value, ci) {
        (Some(value), Some(ends)) => format!("{} ({})", db(value), interval(ends)),
        (Some(value), None) => format!("{} (interval not known)", db(value)),
        (None, _) => "no figure".to_owned(),
    }
}

/// "11.9 dB less (11.4 to 12.4)".
fn difference(change: &Change) -> String {
    let (Some(value), Some([low, high])) = (change.change_db, change.change_ci_db) else {
        return "nothing can be told".to_owned();
    };
    match change.shows {
        Shows::Less => format!("{} less ({})", db(-value), interval([-high, -low])),
        Shows::More => format!("{} more ({})", db(value), interval([low, high])),
        Shows::NoChange => {
            let between = if is_of_lines(change) { " between its carriers" } else { "" };
            format!("no change shown{between} ({} to {} dB)", signed(low, 1), signed(high, 1))
        }
        Shows::NotTold => "nothing can be told".to_owned(),
    }
}

/// Whether carriers are what the device adds, so that the noise between them is the lesser part.
fn is_of_lines(change: &Change) -> bool {
    change.then_kind.is_lines() || change.now_kind.is_lines()
}

fn own(change: &Change) -> String {
    match (change.own_change_db, change.own_change_ci_db, change.own_change_at_most_db) {
        (Some(value), Some([low, high]), _) => match (high < 0.0, low > 0.0) {
            (true, _) => format!(" Its own power fell by {} ({}).", db(-value), interval([-high, -low])),
            (_, true) => format!(" Its own power rose by {} ({}).", db(value), interval([low, high])),
            _ => format!(" Its own power shows no change ({} to {} dB).", signed(low, 1), signed(high, 1)),
        },
        (.., Some(most)) if most < 0.0 => format!(" Its own power fell by at least {}.", db(-most)),
        _ => String::new(),
    }
}

/// What kind of noise it was, where that has changed.
fn kinds(change: &Change) -> String {
    // That nothing was added, or not any more, the figures say.
    let is_told = |kind: Character| !matches!(kind, Character::Unclear | Character::None);
    let told = is_told(change.then_kind) && is_told(change.now_kind) && change.trust != Trust::Void;
    match told && change.then_kind != change.now_kind {
        true => format!(" The kind was {} and is {}.", kind_word(change.then_kind), kind_word(change.now_kind)),
        false => String::new(),
    }
}

/// All that is added, where lines and clicks are most of it; without an interval, so that nothing is claimed.
fn totals(change: &Change) -> String {
    let out = |total: Option<f64>, noise: Option<f64>| {
        total.zip(noise).is_some_and(|(t, n)| t - n >= TOTAL_STANDS_OUT_DB)
    };
    let stands_out = out(change.then_total_db, change.then_db) || out(change.now_total_db, change.now_db);
    match (change.then_total_db, change.now_total_db) {
        (Some(then), Some(now)) if stands_out => {
            let with = if change.then_carriers + change.now_carriers > 0 { "carriers" } else { "clicks" };
            format!(" With its {with} it was {} in all and is {}.", db(then), db(now))
        }
        _ => String::new(),
    }
}

fn carriers(change: &Change) -> String {
    if change.trust == Trust::Void {
        return String::new();
    }
    if let Some(comb) = &change.comb {
        let [then, now] = [comb.then_spacing_hz, comb.now_spacing_hz].map(hz);
        return match comb.moved {
            true => format!(" Its carriers stood every {then} and stand every {now} now."),
            false => format!(" Its carriers stand every {now}, as they did."),
        };
    }
    match (change.then_carriers, change.now_carriers) {
        (then, now) if then == now => String::new(),
        (then, now) => {
            let said = |n: usize| if n == 0 { "none".to_owned() } else { n.to_string() };
            let noun = if then == 1 { "carrier" } else { "carriers" };
            format!(" It had {} {noun} and has {} now.", said(then).replace("none", "no"), said(now))
        }
    }
}

fn floor(floor: &FloorChange) -> String {
    let place = label(&floor.setting);
    let between = format!("reports {} and {}", floor.then_report, floor.now_report);
    let (Some(basis), Some(value), Some([low, high])) = (floor.basis, floor.change_db, floor.change_ci_db) else {
        let why = floor.why_not.as_deref().unwrap_or("no figure");
        return format!("{place}, {between}: can't be compared; {why}.");
    };
    let [then, now] = [floor.then_db, floor.now_db].map(|v| v.map_or_else(String::new, |v| number(v, 1)));
    let said = match (high < 0.0, low > 0.0) {
        (true, _) => format!("{} quieter ({})", db(-value), interval([-high, -low])),
        (_, true) => format!("{} louder ({})", db(value), interval([low, high])),
        _ => format!("no change shown ({} to {} dB)", signed(low, 1), signed(high, 1)),
    };
    match basis {
        FloorBasis::Dbm => format!("{place}, {between}: {then} dBm in 1 Hz then, {now} dBm now: {said}."),
        FloorBasis::ReceiverNoise => {
            format!("{place}, {between}: {then} dB over the receiver's own noise then, {now} dB now: {said}.")
        }
    }
}

fn spacing(one: &SpacingChange) -> String {
    let khz = |hz: f64| format!("{} kHz", number(hz / 1000.0, 4));
    let [low, high] = one.change_ci_hz;
    let said = match one.moved {
        true => format!("it moved by {} Hz ({} to {})", signed(one.change_hz, 1), signed(low, 1), signed(high, 1)),
        false => format!("no change shown ({} to {} Hz)", signed(low, 1), signed(high, 1)),
    };
    format!(
        "{}: every {} in report {}, every {} in report {}: {said}.",
        capital(&label(&one.device)),
        khz(one.then_spacing_hz),
        one.then_report,
        khz(one.now_spacing_hz),
        one.now_report
    )
}

/// What was not compared.
fn not_compared(changes: &Changes) -> Vec<String> {
    let mut lines: Vec<String> = changes
        .not_compared
        .iter()
        .map(|n| {
            let numbers: Vec<String> = n.in_reports.iter().map(ToString::to_string).collect();
            format!("{}, reports {}: not compared; {}.", capital(&label(&n.device)), and(&numbers), n.why)
        })
        .collect();
    lines.extend(changes.reports.iter().filter_map(|report| only(report.number, changes)));
    lines
}

/// What else there is to know.
fn notes(changes: &Changes) -> Vec<String> {
    changes.notes.iter().map(|note| format!("{note}.")).collect()
}

/// "Only in report 1: pond pump, LED strip (7100 kHz, USB), drill charger with porch socket."
fn only(number: usize, changes: &Changes) -> Option<String> {
    let is_elsewhere = |one: &OnlyIn| {
        changes.changes.iter().any(|c| c.device == one.device)
            || changes.only_in.iter().any(|other| other.report != number && other.device == one.device)
    };
    let here = changes.only_in.iter().filter(|one| one.report == number);
    let named = here.map(|one| match &one.remedy {
        // Of a device that the others have too, what it is that they have not.
        remedy if is_elsewhere(one) => {
            let remedy = remedy.as_deref().map_or("without a remedy".to_owned(), |r| format!("with {}", label(r)));
            format!("{} {remedy} ({})", label(&one.device), label(&one.setting))
        }
        _ => label(&one.device),
    });
    let named = text::each_once(named);
    (!named.is_empty()).then(|| format!("Only in report {number}: {}.", and(&named)))
}

/// A row a change, a column a report.
fn table(changes: &Changes) -> Table {
    let heads = changes.reports.iter().map(|report| {
        let day = report.started.as_deref().map_or_else(String::new, |at| format!(", {}", day(at)));
        Column::number(format!("{}{day}, dB (95 %)", report.number))
    });
    let mut columns = vec![Column::text("Device"), Column::text("Remedy")];
    if settings(changes).len() > 1 {
        columns.push(Column::text("Setting"));
    }
    columns.extend(heads);
    columns.extend([Column::number("Change, dB (95 %)"), Column::text("Trust")]);
    let has_setting = settings(changes).len() > 1;
    let mut table = Table::of(columns);
    for change in &changes.changes {
        let word = |remedy: &Option<String>| remedy.as_deref().map_or("none".to_owned(), label);
        let remedy = match change.then_remedy == change.now_remedy {
            true => word(&change.now_remedy),
            false => format!("{} → {}", word(&change.then_remedy), word(&change.now_remedy)),
        };
        let mut cells: Vec<Words> = vec![label(&change.device).into(), remedy.into()];
        if has_setting {
            cells.push(label(&change.setting).into());
        }
        for report in &changes.reports {
            let evening = change.series.iter().find(|evening| evening.report == report.number);
            let cell = evening.map_or_else(String::new, |e| match (e.excess_db, e.excess_ci_db) {
                (Some(value), Some(ends)) => format!("{} ({})", number(value, 1), interval(ends)),
                (Some(value), None) => number(value, 1),
                (None, _) => "–".to_owned(),
            });
            cells.push(cell.into());
        }
        let cell = match (change.change_db, change.change_ci_db) {
            (Some(value), Some([low, high])) => {
                format!("{} ({} to {})", signed(value, 1), signed(low, 1), signed(high, 1))
            }
            _ => "–".to_owned(),
        };
        cells.push(cell.into());
        cells.push(if change.trust == Trust::Sound { "sound".into() } else { Words::strong(change.trust.word()) });
        table.cells(cells);
    }
    table
}

/// "Drill charger: 11.9 dB less; 2 of 3 show no change".
fn title(changes: &Changes) -> String {
    let all = changes.changes.len();
    let largest = changes
        .changes
        .iter()
        .filter(|c| matches!(c.shows, Shows::Less | Shows::More) && c.trust.is_unspoilt())
        .filter_map(|c| Some((c, c.change_db?)))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let is_same = |c: &&Change| c.shows == Shows::NoChange && c.news_of_carriers().is_none();
    let same = changes.changes.iter().filter(is_same).count();
    let rest = match same {
        0 => String::new(),
        1 => format!("; 1 of {all} shows no change"),
        _ => format!("; {same} of {all} show no change"),
    };
    match largest {
        Some((change, value)) => {
            let word = if value < 0.0 { "less" } else { "more" };
            format!("{}: {} {word} than then{rest}", capital(&label(&change.device)), db(value.abs()))
        }
        None if all == 0 => "Nothing to compare".to_owned(),
        None if same == all => format!("No change shown in {}", count(all, "device", "devices")),
        None => format!("No change that is sure{rest}"),
    }
}
