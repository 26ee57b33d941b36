//! A night's details: every episode, source by source, carriers, what was recorded, how to read it.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::words;
use crate::findings::known_noise::words::known_noise;
use crate::labels::facts::LeftOut;
use crate::night::figures::source_of;
use crate::night::result::{Episode, NightFacts, NightRecording, Source};
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::details::closing::how_to_read;
use crate::report::night::brief::rise_db;
use crate::report::night::words::hours;
use crate::report::night::{carriers, log, sources};
use crate::report::verdict::episode_sentence;
use crate::text::{
    Column, Document, Table, Words, and, and_at_most, capital, clock, count, db, full_sentence, hz, interval,
    label, number, percent,
};

/// Episodes told one by one. Chosen: nobody reads more; all are in the table and the JSON.
const TOLD: usize = 24;
/// Carriers named of an episode. Chosen: what a sentence bears.
const CARRIERS: usize = 6;

/// The details of a night.
pub(crate) fn details(report: &Report, night: &NightFacts) -> Document {
    let mut doc = Document::default();
    doc.heading(1, format!("{}: details", capital(&label(&report.session.title))));
    doc.heading(2, "Every time");
    if let Some(explained) = band(night) {
        doc.paragraph(explained);
    }
    table(&mut doc, report);
    log::write(&mut doc, report, night);
    sources::write(&mut doc, report);
    carriers::write(&mut doc, night);
    each(&mut doc, report);
    recordings(&mut doc, report, night);
    spoilers(&mut doc, report, night);
    how_to_read(&mut doc, report);
    doc.paragraph(format!("Made with {} {}.", report.tool.name, report.tool.version));
    doc
}

/// How loud the band was in between.
fn band(night: &NightFacts) -> Option<String> {
    let [low, middle, high] = night.noise_dbfs?;
    Some(format!(
        "The noise level by minutes, stations and carriers kept out of it, was {} dBFS in the middle of the night's range; \
         one minute in ten lay below {} and one in ten above {} dBFS.",
        number(middle, 1),
        number(low, 1),
        number(high, 1)
    ))
}

fn table(doc: &mut Document, report: &Report) {
    if report.episodes.is_empty() {
        return;
    }
    let mut table = Table::new([
        Column::number("No."),
        Column::text("Source"),
        Column::text("Start"),
        Column::text("End"),
        Column::number("Length"),
        Column::number("Over the quiet band, dB (95 %)"),
        Column::text("Beside"),
        Column::text("Kind"),
        Column::number("How sure of the kind"),
        Column::text("Trust"),
    ]);
    let dated = report.night.as_ref().is_some_and(|night| night.duration_s >= 86_400.0);
    for (at, episode) in report.episodes.iter().enumerate() {
        let c = &episode.contrast;
        let time = |at: &Option<String>, at_s: f64| hours(at.as_deref(), at_s, true, dated);
        let open = |is_open: bool, words: &str| if is_open { format!(" ({words})") } else { String::new() };
        table.row([
            (at + 1).to_string().into(),
            source_of(&report.sources, at).map_or_else(String::new, |source| source.id.clone()).into(),
            (time(&episode.start, episode.start_s) + &open(episode.from_before, "or before")).into(),
            (time(&episode.end, episode.end_s) + &open(episode.until_after, "or after")).into(),
            clock(episode.end_s - episode.start_s).into(),
            over_quiet(episode).into(),
            and(&episode.beside.iter().map(usize::to_string).collect::<Vec<_>>()).into(),
            words::kind(c).into(),
            if c.is_void() { "–".into() } else { percent(c.confidence).into() },
            words::trust(c),
        ]);
    }
    doc.table(table);
}

/// "7.1 (6.4 to 7.8)".
fn over_quiet(episode: &Episode) -> String {
    match (episode.quiet_excess_db, episode.quiet_excess_ci_db) {
        (Some(value), Some(ends)) => format!("{} ({})", number(value, 1), interval(ends)),
        _ => words::excess(&episode.contrast),
    }
}

/// What it rests on: of each source its loudest time, and what belongs to none.
fn each(doc: &mut Document, report: &Report) {
    if report.episodes.is_empty() {
        return;
    }
    doc.heading(2, "What it rests on");
    let louder = |a: &usize, b: &usize| {
        rise_db(&report.episodes[*a]).total_cmp(&rise_db(&report.episodes[*b])).then(b.cmp(a))
    };
    let loudest = |source: &Source| {
        let places = source.episodes.iter().filter_map(|number| number.checked_sub(1));
        let is_told = |at: &usize| !report.episodes[*at].contrast.is_too_wide();
        let places = places.filter(|at| *at < report.episodes.len());
        places.max_by(|a, b| is_told(a).cmp(&is_told(b)).then(louder(a, b)))
    };
    let mut shown: Vec<usize> = report.sources.iter().filter_map(loudest).collect();
    shown.extend(sources::without_source(report));
    shown.sort_by(|a, b| louder(b, a));
    let hidden = shown.len().saturating_sub(TOLD);
    shown.truncate(TOLD);
    shown.sort_unstable();
    if hidden > 0 {
        let weaker = count(hidden, "weaker one is", "weaker ones are");
        doc.paragraph(Words::prose(&format!("The {TOLD} strongest; {weaker} in the table and in `report.json`.")));
    }
    doc.list(shown.into_iter().map(|at| told(at, &report.episodes[at], report)).collect::<Vec<_>>());
}

/// "1: From 22:10 to 22:40, …", with all that is known of it.
fn told(at: usize, episode: &Episode, report: &Report) -> Words {
    let mut sentences = vec![episode_sentence(episode, report)];
    sentences.extend(sources::over_quiet(episode, report).map(|words| capital(&full_sentence(&words))));
    sentences.extend(hidden_ends(episode));
    sentences.extend(remarks(episode).iter().map(|remark| full_sentence(remark)));
    let name = match source_of(&report.sources, at) {
        Some(source) if source.episodes.len() > 1 => format!("{}, its loudest time, {}:", source.id, at + 1),
        Some(source) => format!("{}, {}:", source.id, at + 1),
        None => format!("{}:", at + 1),
    };
    Words::strong(name).then(" ").then(sentences.join(" "))
}

/// How far out its begin and its end may lie.
fn hidden_ends(episode: &Episode) -> Option<String> {
    let begun = episode.start_unsure_s.map(|by_s| format!("begun up to {} earlier", clock(by_s)));
    let ended = episode.end_unsure_s.map(|by_s| format!("ended up to {} later", clock(by_s)));
    let both: Vec<String> = begun.into_iter().chain(ended).collect();
    (!both.is_empty()).then(|| format!("Something louder hides its clicks there: it may have {}.", and(&both)))
}

fn remarks(episode: &Episode) -> Vec<String> {
    let c = &episode.contrast;
    let mut sentences = Vec::new();
    if !c.is_void() {
        let evidence: Vec<String> = c.evidence.iter().map(|e| capital(&full_sentence(e))).collect();
        sentences.extend((!evidence.is_empty()).then(|| evidence.join(" ")));
        sentences.extend(carriers(c));
        sentences.extend(known_noise(c));
        sentences.push(compared(episode));
    }
    if let Some(jump) = episode.jump_db.filter(|_| c.is_void()) {
        sentences.push(format!("The noise level jumped by {} when it {}.", db(jump), came(episode)));
    }
    sentences.extend(c.warnings.iter().map(|warning| capital(&full_sentence(&warning.message))));
    sentences
}

fn came(episode: &Episode) -> &'static str {
    if episode.from_before { "went" } else { "came" }
}

fn carriers(c: &ContrastResult) -> Option<String> {
    if c.added_lines.is_empty() {
        return None;
    }
    let named: Vec<String> = c
        .added_lines
        .iter()
        .map(|line| format!("{} ({} over the noise in 1 Hz)", hz(line.freq_hz), db(line.cnr_db_hz)))
        .collect();
    Some(format!("Carriers that came with it: {}.", and_at_most(&named, CARRIERS)))
}

/// "Compared: 60 s of it with 60 s of quiet, before and after."
fn compared(episode: &Episode) -> String {
    let seconds = |spans: &[[f64; 2]]| spans.iter().map(|[from, to]| to - from).sum::<f64>();
    let before = episode.quiet_s.iter().any(|span| span[1] <= episode.start_s);
    let after = episode.quiet_s.iter().any(|span| span[0] >= episode.end_s);
    let beside = match (before, after) {
        (true, true) => "before and after it",
        (true, false) => "before it",
        _ => "after it",
    };
    format!(
        "Compared: {} s of it with {} s of the quiet {beside}.",
        number(seconds(&episode.heard_s), 0),
        number(seconds(&episode.quiet_s), 0)
    )
}

fn recordings(doc: &mut Document, report: &Report, night: &NightFacts) {
    doc.heading(2, "Recordings");
    let mut table = Table::new([
        Column::text("File"),
        Column::text("Start"),
        Column::text("Told by"),
        Column::number("Length"),
        Column::text("Format"),
        Column::number("Passband, Hz"),
    ]);
    for r in &night.recordings {
        table.row([
            label(&r.file),
            r.start.trim_end_matches('Z').replace('T', " "),
            r.start_from.to_string(),
            clock(r.duration_s),
            format(r),
            format!("{}–{}", number(r.passband_hz[0], 0), number(r.passband_hz[1], 0)),
        ]);
    }
    doc.table(table);
    let mut items: Vec<String> = night.joins.iter().map(|j| capital(&full_sentence(&j.told))).collect();
    items.extend(left_out(report));
    if night.recordings.len() > 1 && night.joins.is_empty() {
        items.push("The recordings join without a gap.".to_owned());
    }
    doc.list(items);
}

/// Files that could not be used, with the reason.
pub(super) fn left_out(report: &Report) -> Vec<String> {
    let told = |o: &LeftOut| format!("Left out, {}: {}", label(&o.file), full_sentence(&o.reason));
    report.left_out.iter().map(told).collect()
}

fn format(r: &NightRecording) -> String {
    let channel = if r.channels > 1 { format!(", {}", label(&r.channel_used)) } else { String::new() };
    format!("{}, {} kHz{channel}", label(&r.codec), f64::from(r.sample_rate_hz) / 1000.0)
}

fn spoilers(doc: &mut Document, report: &Report, night: &NightFacts) {
    doc.heading(2, "Every warning");
    let mut items = spoilt(report, night);
    items.extend([&NOTES.night_gain, &NOTES.night_neighbours].map(String::clone));
    doc.list(items);
}

/// What was found that spoils or limits the night's figures.
pub(super) fn spoilt(report: &Report, night: &NightFacts) -> Vec<String> {
    let mut items: Vec<String> = Vec::new();
    for recording in &night.recordings {
        let of_it = recording.warnings.iter().map(|w| format!("{}: {}", label(&recording.file), w.message));
        items.extend(of_it);
    }
    items.extend(report.warnings.iter().map(|w| capital(&w.message)));
    let sum = |of: fn(&crate::night::result::NightMinute) -> f64| night.minutes.iter().map(of).sum::<f64>();
    let clipped = sum(|m| m.clipped as f64);
    if clipped > 0.0 {
        items.push(format!(
            "{} samples stand at full scale: the recorder's input was too loud in places, and levels there are too low.",
            number(clipped, 0)
        ));
    }
    let holes_s = sum(|m| m.hole_s);
    if holes_s >= 1.0 {
        items
            .push(format!("The sound has holes, {} in all; they are left out of the noise level.", clock(holes_s)));
    }
    items
}
