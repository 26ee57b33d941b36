//! The plan as a sheet to print and fill in with a pencil: Markdown, or plain text of 80 columns.
//! Not here: what stands in the plan (`plan`), fixed prose (`sheet.toml`).

use std::sync::LazyLock;

use serde::Deserialize;

use super::plan::{Plan, PlanWords, described};
use super::receiver_takes::{CHECK_DIR, CHECK_S, check_takes};
use super::walk::Way;
use crate::cautions::{always, called_for, of_walk};
use crate::labels::{State, printable};
use crate::text::{Column, Document, List, Mark, Plain, Table, Words, markdown, plain};
use crate::units::Db;

static PROSE: LazyLock<Prose> =
    LazyLock::new(|| toml::from_str(include_str!("sheet.toml")).expect("tests read the same text"));

/// The file beside this one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Prose {
    settings: String,
    receiver_check: String,
    takes: String,
    in_turn: String,
    dummy_load: String,
    limits: String,
    afterwards: String,
    walk_alone: String,
    walk_all_but: String,
    walk_afterwards: String,
}

/// How the sheet is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// Markdown.
    Markdown,
    /// Text of 80 columns in a type of one width.
    Plain,
}

/// Columns of a gap for what the plan does not tell (chosen: a name in a clear hand).
const GAP: usize = 16;
/// How far a band that is not quiet moves between takes, for comparison (our own choice), dB.
const WANDER_DB: f64 = 0.5;

/// The whole sheet.
pub fn sheet(plan: &Plan, paper: Paper) -> String {
    let mut page = Document::default();
    page.heading(1, format!("Test sheet: {}", printable(&plan.title())));
    page.paragraph(format!(
        "{}; {} takes of {:.0} s, some {:.0} min with the switching.",
        described(&plan.words),
        plan.takes.len(),
        plan.seconds,
        plan.minutes().ceil()
    ));
    settings(&mut page, plan);
    which_way(&mut page, plan);
    receiver_check(&mut page, plan);
    // At the distribution board everything that can hurt comes with the first take.
    let is_walk = !plan.words.circuits.is_empty();
    if is_walk {
        take_care(&mut page, plan);
    }
    order(&mut page, plan);
    limits(&mut page, plan);
    if !is_walk {
        take_care(&mut page, plan);
    }
    afterwards(&mut page, plan);
    match paper {
        Paper::Markdown => markdown(&page),
        Paper::Plain => plain(&page, Plain::TERMINAL),
    }
}

fn take_care(page: &mut Document, plan: &Plan) {
    page.heading(2, "Take care");
    to_tick(page, cautions(&plan.words));
}

fn to_tick<W: Into<Words>>(page: &mut Document, items: impl IntoIterator<Item = W>) {
    page.list(List::new(Mark::Box, items.into_iter().map(Into::into).collect()));
}

/// The general cautions, then those for what is planned, each once.
pub(super) fn cautions(words: &PlanWords) -> Vec<&'static str> {
    let mut texts: Vec<&str> = always().iter().map(String::as_str).collect();
    texts.extend(walk_cautions(words));
    for device in &words.devices {
        let remedies = std::iter::once(None).chain(device.remedies.iter().map(|remedy| Some(remedy.as_str())));
        let called = remedies.flat_map(|remedy| called_for(&device.name, remedy));
        for text in called.filter_map(|about| about.on_sheet()) {
            if !texts.contains(&text) {
                texts.push(text);
            }
        }
    }
    texts
}

/// Those for a walk over the circuits; none where none is planned.
pub fn walk_cautions(words: &PlanWords) -> Vec<&'static str> {
    let all = of_walk().iter().map(String::as_str);
    if words.circuits.is_empty() { Vec::new() } else { all.collect() }
}

/// What this way of walking finds, and when the other one is the better.
fn which_way(page: &mut Document, plan: &Plan) {
    if plan.words.circuits.is_empty() {
        return;
    }
    let (head, prose) = match plan.words.walk.unwrap_or_default() {
        Way::Alone => ("Each circuit on alone", &PROSE.walk_alone),
        Way::AllBut => ("Each circuit off alone", &PROSE.walk_all_but),
    };
    page.heading(2, head);
    page.paragraph(Words::prose(prose));
}

fn settings(page: &mut Document, plan: &Plan) {
    let words = &plan.words;
    let noted = |what: &str, value: Option<String>| {
        Words::from(format!("{what}: ")).then(value.map_or_else(|| Words::blank(GAP), Words::from))
    };
    let typed = |value: &Option<String>| value.as_deref().map(printable);
    let fields = |names: &[(&str, usize)]| {
        names.iter().fold(Words::default(), |row, (name, columns)| {
            row.then(format!("{name} ")).then(Words::blank(*columns))
        })
    };
    page.heading(2, "Before the first take: set, write down, then leave alone");
    to_tick(
        page,
        [
            fields(&[("Date", 12), ("start", 8)]),
            noted("Dial", words.dial_khz.map(|khz| format!("{khz} kHz"))),
            noted("Mode", words.mode.map(|mode| mode.to_string())),
            noted("Filter", words.bandwidth_hz.map(|hz| format!("{hz} Hz")))
                .then(" (the wider, the finer the figures)"),
            noted("Antenna", typed(&words.antenna)),
            noted("Gain", typed(&words.gain)),
            "AGC off; where that can't be done, RF gain turned down until the meter stands still".into(),
            fields(&[("Preamplifier", 6), ("attenuator", 6), ("volume mark", 6), ("recorder level", 6)]),
            "Noise blanker off, noise reduction off, notch off, recorder's automatic level off".into(),
            "A spot without stations; loudest take at least 6 dB below clipping".into(),
            noted("Receiver, station", typed(&words.station)),
        ],
    );
    page.paragraph(PROSE.settings.as_str());
}

fn receiver_check(page: &mut Document, plan: &Plan) {
    let Some(attenuator_db) = plan.words.receiver_check_db else { return };
    page.heading(2, "Receiver check");
    page.paragraph(format!("{CHECK_S:.0} s each, into the folder {CHECK_DIR}. {}", PROSE.receiver_check));
    to_tick(page, check_takes(attenuator_db).iter().map(|take| format!("{} File: {}", take.before, take.file)));
}

fn order(page: &mut Document, plan: &Plan) {
    page.heading(2, "Takes, in this order");
    page.paragraph(format!("Record {:.0} s each. {}", plan.seconds, PROSE.takes));
    let mut table = Table::new([
        Column::number("No."),
        Column::text("Do"),
        Column::text("File"),
        Column::blank("Time", 8),
        Column::blank("Meter", 8),
        Column::blank("Note", 30),
    ]);
    for take in &plan.takes {
        let [time, meter, note] = [(); 3].map(|()| Words::default());
        let [number, before] = [take.number.to_string(), printable(&take.before)].map(Words::from);
        table.row([number, before, Words::code(take.file.as_str()), time, meter, note]);
    }
    page.table(table);
    page.paragraph(PROSE.in_turn.as_str());
    if plan.takes.iter().any(|take| take.state == State::Terminated) {
        page.paragraph(PROSE.dummy_load.as_str());
    }
}

fn limits(page: &mut Document, plan: &Plan) {
    page.heading(2, "How small a change this can show");
    page.paragraph(format!(
        "With {} off takes and {} on takes a step, in {:.0} Hz of noise, the smallest rise that will be called:",
        plan.off_takes(),
        plan.rounds,
        plan.free_hz()
    ));
    let mut table = Table::new([
        Column::text(""),
        Column::number("Band and gain hold still"),
        Column::number(format!("Band wanders by {WANDER_DB} dB between takes")),
    ]);
    for (what, longer, more) in
        [("as planned", 1.0, 1), ("each take twice as long", 2.0, 1), ("twice as many takes", 1.0, 2)]
    {
        let [still, wander] = [0.0, WANDER_DB].map(|wander| in_db(plan.limit_db(longer, more, wander)));
        table.row([what.to_owned(), still, wander]);
    }
    page.table(table);
    if plan.words.walk == Some(Way::AllBut) {
        page.paragraph(beside_others(plan));
    }
    page.paragraph(PROSE.limits.as_str());
}

/// What shows of a circuit while all others are on: the same share of a larger power.
fn beside_others(plan: &Plan) -> String {
    let share = Db(plan.limit_db(1.0, 1, 0.0)).ratio() - 1.0;
    let beside = |others_db: f64| in_db(Db::from_ratio(1.0 + share * Db(others_db).ratio()).0);
    format!(
        "This is of the noise with everything on. Of a circuit by itself, above everything off, at least {} will show \
         where all the others lift the noise by 3 dB, {} where they lift it by 10 dB.",
        beside(3.0),
        beside(10.0)
    )
}

fn in_db(limit_db: f64) -> String {
    format!("{:.1} dB", (limit_db * 10.0).ceil() / 10.0)
}

fn afterwards(page: &mut Document, plan: &Plan) {
    page.heading(2, "Afterwards");
    if !plan.words.circuits.is_empty() {
        page.paragraph(PROSE.walk_afterwards.as_str());
    }
    page.paragraph(Words::prose(&PROSE.afterwards));
}
