//! The report of a night: what came and went first, then each time by itself, what was recorded, how to read it.

use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{self, kind_word};
use crate::findings::known_noise::words::known_noise;
use crate::findings::picture::FigureKind;
use crate::night::Clock;
use crate::night::result::{Episode, NightFacts, NightRecording};
use crate::notes::NOTES;
use crate::report::contract::Report;
use crate::report::markdown::closing::how_to_read;
use crate::report::night::words::{hours, span};
use crate::report::night::{carriers, patterns};
use crate::report::verdict::episode_sentence;
use crate::text::{
    Column, Document, Table, Words, and_at_most, capital, clock, count, db, full_sentence, hz, interval, label,
    number, percent, times,
};
use crate::warning::Trust;

/// Episodes told one by one. Chosen: nobody reads more; all are in the table and the JSON.
const TOLD: usize = 24;
/// Episodes told on the terminal. Chosen: a screen has 24 lines; all are in the report.
const MOST_LINES: usize = 20;
/// Carriers named of an episode. Chosen: what a sentence bears.
const CARRIERS: usize = 6;

pub(crate) fn write(doc: &mut Document, report: &Report, night: &NightFacts) {
    doc.heading(1, capital(&label(&report.session.title)));
    doc.paragraph(recorded(night));
    doc.heading(2, "What came and went");
    doc.paragraph(Words::strong(answer(report, night)));
    if let Some(explained) = band(night) {
        doc.paragraph(explained);
    }
    report
        .figures
        .iter()
        .filter(|figure| figure.kind != FigureKind::OnTimes)
        .for_each(|figure| doc.picture(figure));
    table(doc, report);
    patterns::write(doc, report, night);
    carriers::write(doc, night);
    each(doc, report);
    recordings(doc, report, night);
    spoilers(doc, report, night);
    how_to_read(doc, report);
    doc.paragraph(format!("Made with {} {}.", report.tool.name, report.tool.version));
}

/// "Recorded from … to …, UTC: 8 h 00 min in 3 recordings."
fn recorded(night: &NightFacts) -> String {
    let clock_words = match night.clock {
        Clock::Utc => "UTC",
        Clock::Mixed => "UTC; the clock of some recordings has no zone and was taken as UTC, so check their order",
        Clock::Local => "the recorder's clock: nothing tells its zone, most often it is local time",
    };
    let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
    let told_by = and_at_most(&sources(night), 4);
    let all = count(night.recordings.len(), "recording", "recordings");
    format!(
        "Recorded from {} to {} ({clock_words}): {} in {all}. The start is told by {told_by}.",
        day(&night.start),
        day(&night.end),
        clock(night.recorded_s),
    )
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
            "No noise came or went in {}. What was there all the time, what fades in and out slowly, clicks with quiet \
             between, and what rises by less than about 1 dB is not found this way.",
            clock(night.searched_s)
        );
    }
    let times = times(episodes.len());
    let all = if episodes.len() == 1 { clock(night.noisy_s) } else { format!("{} in all", clock(night.noisy_s)) };
    let strongest = match (strongest(report), episodes.len()) {
        (Some(one), 1) => format!(", {}", in_short(one, report)),
        (Some(one), _) => format!("; strongest {}", in_short(one, report)),
        (None, _) => String::new(),
    };
    format!("Noise came {times}, {all}{strongest}.")
}

/// The answer's first sentence, without its stop: the title of the figures.
pub(crate) fn finding(report: &Report, night: &NightFacts) -> String {
    let answer = answer(report, night);
    let first = answer.split_inclusive(". ").next().unwrap_or_default();
    first.trim_end_matches([' ', '.']).to_owned()
}

/// By the excess where it means something, else by the jump of the level.
fn strongest(report: &Report) -> Option<&Episode> {
    let size = |e: &&Episode| rise_db(e);
    report.episodes.iter().max_by(|a, b| size(a).total_cmp(&size(b)))
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
    let kind = match c.trust {
        Trust::Void => "kind not told".to_owned(),
        Trust::Doubtful | Trust::Unrepeated | Trust::Sound if c.character == Character::Unclear => {
            "of no clear kind".to_owned()
        }
        Trust::Doubtful => format!("{} (doubtful)", kind_word(c.character)),
        Trust::Sound | Trust::Unrepeated => kind_word(c.character).to_owned(),
    };
    format!("{}, {rise}, {kind}", span(episode, report.night.as_ref()))
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
        Column::text("Start"),
        Column::text("End"),
        Column::number("Length"),
        Column::number("Excess, dB (95 %)"),
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
            (time(&episode.start, episode.start_s) + &open(episode.from_before, "or before")).into(),
            (time(&episode.end, episode.end_s) + &open(episode.until_after, "or after")).into(),
            clock(episode.end_s - episode.start_s).into(),
            words::excess(c).into(),
            words::kind(c).into(),
            if c.is_void() { "–".into() } else { percent(c.confidence).into() },
            words::trust(c),
        ]);
    }
    doc.table(table);
}

fn each(doc: &mut Document, report: &Report) {
    if report.episodes.is_empty() {
        return;
    }
    doc.heading(2, "Each time");
    // The strongest, in order of time.
    let mut shown: Vec<usize> = (0..report.episodes.len()).collect();
    shown.sort_by(|&a, &b| rise_db(&report.episodes[b]).total_cmp(&rise_db(&report.episodes[a])).then(a.cmp(&b)));
    let hidden = shown.len().saturating_sub(TOLD);
    shown.truncate(TOLD);
    shown.sort_unstable();
    if hidden > 0 {
        let weaker = count(hidden, "weaker one is", "weaker ones are");
        doc.paragraph(Words::prose(&format!("The {TOLD} strongest; {weaker} in the table and in `report.json`.")));
    }
    for at in shown {
        let episode = &report.episodes[at];
        doc.heading(3, format!("{}: {}", at + 1, span(episode, report.night.as_ref())));
        doc.paragraph(episode_sentence(episode, report));
        doc.list(remarks(episode));
    }
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
    items.extend(
        report.left_out.iter().map(|o| format!("Left out, {}: {}", label(&o.file), full_sentence(&o.reason))),
    );
    if night.recordings.len() > 1 && night.joins.is_empty() {
        items.push("The recordings join without a gap.".to_owned());
    }
    doc.list(items);
}

fn format(r: &NightRecording) -> String {
    let channel = if r.channels > 1 { format!(", {}", label(&r.channel_used)) } else { String::new() };
    format!("{}, {} kHz{channel}", label(&r.codec), f64::from(r.sample_rate_hz) / 1000.0)
}

fn spoilers(doc: &mut Document, report: &Report, night: &NightFacts) {
    doc.heading(2, "What could spoil this");
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
    items.extend([&NOTES.night_gain, &NOTES.night_neighbours].map(String::clone));
    doc.list(items);
}

/// What came and went, in lines for the terminal: the answer, then each episode. Empty for a report of no night.
pub fn night_lines(report: &Report) -> Vec<String> {
    let report = &report.readable();
    let Some(night) = &report.night else { return Vec::new() };
    let mut lines = vec![answer(report, night)];
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
        (Some(v), Some(ci)) => format!("{} ({})", db(v), interval(ci)),
        (Some(v), None) => db(v),
    };
    let trust = if c.is_doubtful() { ", doubtful" } else { "" };
    format!("{}: {excess}, {}{trust}", capital(&span(episode, report.night.as_ref())), words::kind(c))
}
