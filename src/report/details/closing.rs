//! The end of the details: the recordings, how it was measured, how to read it.

use crate::findings::receiver_check::words as receiver;
use crate::labels::{Setting, State};
use crate::report::contract::Report;
use crate::report::prose::{glossary, method};
use crate::signal::recording_result::RecordingResult;
use crate::signal::spectrum::statistics::ends;
use crate::text::{Column, Document, Table, capital, clock, label, number, one_line, or_dash};

/// How far a passband's edges may be apart to be called the same: found from spectra, they scatter by a few Hz.
const ALIKE_HZ: f64 = 10.0;

pub(crate) fn write(doc: &mut Document, report: &Report) {
    doc.heading(2, "Recordings");
    settings(doc, report);
    recordings(doc, report);
    how_to_read(doc, report);
    doc.paragraph(format!("Made with {} {}.", report.tool.name, report.tool.version));
}

/// How any report, a session's or a night's, came about and what its words mean.
pub(crate) fn how_to_read(doc: &mut Document, report: &Report) {
    doc.heading(2, "How it was measured");
    doc.paragraph(method(report));
    doc.heading(2, "Reading this report");
    doc.list(glossary(report));
}

fn settings(doc: &mut Document, report: &Report) {
    let line = |s: &Setting| {
        let receiver =
            receiver::of_setting(&report.contrasts, &s.id).map_or_else(String::new, |said| format!(". {said}"));
        format!(
            "{}: {}{receiver}",
            capital(&s.name_among(&report.settings)),
            s.facts().unwrap_or_else(|| "no labels given".to_owned())
        )
    };
    let items: Vec<_> = report.settings.iter().map(line).collect();
    doc.list(items);
}

fn recordings(doc: &mut Document, report: &Report) {
    let all = &report.recordings;
    if all.is_empty() {
        return;
    }
    let (several, day) = (report.settings.len() > 1, Day::of_all(all));
    let alike = alike(all, format);
    let same_passband = passband_of_all(all);
    doc.paragraph(said_once(day.as_ref(), alike.as_deref(), same_passband));
    let mut table = Table::new([
        Column::text("File"),
        Column::text("What was on"),
        Column::text("Setting"),
        Column::text("Started"),
        Column::number("Length"),
        Column::text("Format"),
        Column::number("Passband, Hz"),
        Column::number("Level, dBFS"),
        Column::number("Floor, dBFS in 1 Hz"),
        Column::number("SNR, dB"),
        Column::number("Lines"),
        Column::text("Meter"),
        Column::text("S value"),
    ]);
    for r in all {
        let started = r.started.as_deref().map_or_else(String::new, |at| match &day {
            Some(day) => day.time(at),
            None => label(at),
        });
        table.row([
            label(&r.file),
            what_was_on(r),
            if several { report.comparisons().setting_name(&r.setting) } else { String::new() },
            started,
            clock(r.duration_s),
            if alike.is_some() { String::new() } else { format(r) },
            if same_passband.is_some() { String::new() } else { passband(r.passband_hz) },
            or_dash(r.level_db),
            or_dash(r.floor_db_per_hz),
            r.snr_db.map_or_else(String::new, |snr| number(snr, 1)),
            if r.lines.is_empty() { String::new() } else { r.lines.len().to_string() },
            optional(&r.meter),
            optional(&r.s_reading),
        ]);
    }
    doc.table(table);
    let notes =
        all.iter().filter_map(|r| Some((r, one_line(r.note.as_deref()?)))).filter(|(_, note)| !note.is_empty());
    doc.list(notes.map(|(r, note)| format!("{}: {note}", label(&r.file))).collect::<Vec<_>>());
}

/// "nothing", "lamp", "lamp, ferrite ring".
fn what_was_on(r: &RecordingResult) -> String {
    let named = [r.device.as_deref(), r.remedy.as_deref()].into_iter().flatten().map(label).collect::<Vec<_>>();
    match r.state {
        Some(State::On) if !named.is_empty() => named.join(", "),
        Some(State::Off) if !named.is_empty() => format!("off ({})", named.join(", ")),
        Some(state) => state.to_string(),
        None => named.join(", "),
    }
}

fn passband(edges: Option<[f64; 2]>) -> String {
    edges.map_or_else(|| "–".to_owned(), |[low, high]| format!("{}–{}", number(low, 0), number(high, 0)))
}

/// What is the same of all recordings, so that the table need not repeat it.
fn said_once(day: Option<&Day>, format: Option<&str>, passband_hz: Option<[f64; 2]>) -> String {
    let sentences: Vec<String> = [
        day.map(|day| format!("All of {}, times {}.", day.date, day.zone_words())),
        format.map(|format| format!("All are {format}.")),
        passband_hz.map(|edges| {
            format!("The passband is {} Hz in all, within {} Hz.", passband(Some(edges)), number(ALIKE_HZ, 0))
        }),
    ]
    .into_iter()
    .flatten()
    .collect();
    sentences.join(" ")
}

/// What all recordings have in common, if there are several.
fn alike(all: &[RecordingResult], of: impl Fn(&RecordingResult) -> String) -> Option<String> {
    let first = of(all.first()?);
    (all.len() > 1 && all.iter().all(|r| of(r) == first)).then_some(first)
}

/// The middle of all passbands, where none is far from it.
fn passband_of_all(all: &[RecordingResult]) -> Option<[f64; 2]> {
    let edges: Vec<[f64; 2]> = all.iter().filter_map(|r| r.passband_hz).collect();
    if edges.len() < 2 || edges.len() < all.len() {
        return None;
    }
    let middle = |i: usize| {
        let (low, high) = ends(edges.iter().map(|e| e[i]));
        (high - low <= 2.0 * ALIKE_HZ).then_some((low + high) / 2.0)
    };
    Some([middle(0)?, middle(1)?])
}

/// The one day and offset from UTC of a session's starts.
struct Day<'a> {
    date: &'a str,
    zone: &'a str,
}

impl<'a> Day<'a> {
    /// `None` where the starts are of several days, or not of RFC 3339.
    fn of_all(all: &'a [RecordingResult]) -> Option<Self> {
        let mut days = all.iter().filter_map(|r| r.started.as_deref()).map(parts);
        let (date, _, zone) = days.next()??;
        days.all(|day| day.is_some_and(|(d, _, z)| d == date && z == zone)).then_some(Self { date, zone })
    }

    fn zone_words(&self) -> String {
        match self.zone {
            "Z" | "z" | "+00:00" => "in UTC".to_owned(),
            "" => "as the recorder gave them".to_owned(),
            other => format!("at UTC{other}"),
        }
    }

    /// "19:02".
    fn time(&self, started: &str) -> String {
        parts(started).map_or_else(|| label(started), |(_, time, _)| label(time))
    }
}

/// Date, hours and minutes, and offset of a time as RFC 3339 writes it.
fn parts(started: &str) -> Option<(&str, &str, &str)> {
    let (date, rest) = started.split_once(['T', 't', ' '])?;
    let numeric =
        |text: &str, other: char| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == other);
    let end = rest.find(['Z', 'z', '+', '-']).unwrap_or(rest.len());
    let time = rest.get(..5).filter(|time| end >= 5 && numeric(time, ':'))?;
    (date.len() == 10 && numeric(date, '-')).then_some((date, time, &rest[end..]))
}

fn optional(text: &Option<String>) -> String {
    text.as_deref().map_or_else(String::new, label)
}

/// "flac, 12 kHz"; the channel where there was a choice.
fn format(r: &RecordingResult) -> String {
    let channel = if r.channels > 1 { format!(", {}", label(&r.channel_used)) } else { String::new() };
    let khz = f64::from(r.sample_rate_hz) / 1000.0;
    format!("{}, {khz} kHz{channel}", label(&r.codec))
}
