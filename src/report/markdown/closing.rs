//! The end of the report: the recordings, how it was measured, how to read it, what to be careful with.

use super::super::contract::{RecordingResult, Report, SettingFacts};
use super::super::words::{count, label, number, one_line, or_dash};
use super::table::{Column, Table};
use super::{Document, cell, clock, escape};

pub(super) fn write(doc: &mut Document, report: &Report) {
    doc.heading(2, "Recordings");
    settings(doc, report);
    recordings(doc, report);
    doc.heading(2, "How it was measured");
    doc.block(&method(report));
    doc.heading(2, "Reading this report");
    doc.list(&glossary(report));
    doc.heading(2, "Before you change anything");
    doc.list(&CAUTIONS.map(str::to_owned));
    doc.block(&escape(&format!("Made with {} {}.", report.tool.name, report.tool.version)));
}

fn settings(doc: &mut Document, report: &Report) {
    let items: Vec<_> =
        report.settings.iter().map(|s| escape(&format!("Setting {}: {}", label(&s.id), facts(s)))).collect();
    doc.list(&items);
}

fn facts(setting: &SettingFacts) -> String {
    let told: Vec<String> = [
        setting.dial_khz.map(|khz| format!("dial {} kHz", number(khz, 3))),
        setting.mode.as_deref().map(label),
        setting.bandwidth_hz.map(|hz| format!("{} Hz wide", number(hz, 0))),
        setting.antenna.as_deref().map(label),
        setting.gain.as_deref().map(label),
    ]
    .into_iter()
    .flatten()
    .collect();
    if told.is_empty() { "no labels given".to_owned() } else { told.join(", ") }
}

fn recordings(doc: &mut Document, report: &Report) {
    let several = report.settings.len() > 1;
    let mut table = Table::new([
        Column::text("File"),
        Column::text("State"),
        Column::text("Device"),
        Column::text("Remedy"),
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
        Column::text("Note"),
    ]);
    for r in &report.recordings {
        table.row([
            cell(&r.file),
            cell(&r.state),
            optional(&r.device),
            optional(&r.remedy),
            if several { cell(&r.setting) } else { String::new() },
            optional(&r.started),
            clock(r.duration_s),
            format(r),
            r.passband_hz
                .map_or_else(|| "–".to_owned(), |[low, high]| format!("{}–{}", number(low, 0), number(high, 0))),
            or_dash(r.level_db),
            or_dash(r.floor_db_per_hz),
            r.snr_db.map_or_else(String::new, |snr| number(snr, 1)),
            r.lines.len().to_string(),
            optional(&r.meter),
            r.note.as_deref().map_or_else(String::new, |note| escape(&one_line(note))),
        ]);
    }
    doc.table(&table);
}

fn optional(text: &Option<String>) -> String {
    text.as_deref().map_or_else(String::new, cell)
}

/// "flac, 12 kHz"; the channel where there was a choice.
fn format(r: &RecordingResult) -> String {
    let channel = if r.channels > 1 { format!(", {}", cell(&r.channel_used)) } else { String::new() };
    let khz = f64::from(r.sample_rate_hz) / 1000.0;
    format!("{}, {khz} kHz{channel}", cell(&r.codec))
}

fn method(report: &Report) -> String {
    format!(
        "{} measured and {} made. Levels are in dBFS as AES17 defines it: a full-scale sine has 0 dBFS. Each recording is \
         cut into slices of about a second, and each slice into half-overlapping frames under a Hann window, with bins \
         at most 6 Hz wide. The noise floor is the median over time and a running quantile over frequency, both corrected \
         for their bias, so that speech, static crashes and carriers do not lift it. Excess is the ratio of noise \
         power, on over off, in the passband both recordings share (as found from their spectra, or as labelled). Its \
         95 % interval comes from a block bootstrap over the slices with a fixed seed, widened by what the off \
         recordings differ from each other where there are two or more. What \"would have been noticed\" is the \
         smallest excess that would have been called one, given how much these recordings scatter. The kind of noise \
         is judged on the added power, on minus off, never on the on recording alone. The mains is taken as {} Hz.",
        count(report.recordings.len(), "recording was", "recordings were"),
        count(report.contrasts.len() + report.episodes.len(), "comparison", "comparisons"),
        number(report.session.mains_hz, 0),
    )
}

/// Only the words this report uses.
fn glossary(report: &Report) -> Vec<String> {
    let kind = |kind: &str| {
        report.contrasts.iter().any(|c| c.character == kind || c.parts.iter().any(|p| p.character == kind))
    };
    let figure = |kind: &str| report.figures.iter().any(|f| f.kind == kind);
    let lines = kind("carriers") || kind("comb");
    let entries = [
        (
            true,
            "*Excess*: how many dB the noise between the lines stands higher with the device on than off. The \
                interval behind it holds the true value in 95 of 100 such measurements.",
        ),
        (
            true,
            "*Trust*: sound, nothing was found that spoils the figures; doubtful, they may be off; void, they mean \
                nothing.",
        ),
        (
            true,
            "*S-units*: a change is given at 6 dB a unit (IARU Region 1 recommendation R.1). Real meters differ \
                widely: one was measured to take from 1.5 to 10 dB for a unit, so a meter is no way to check these \
                figures.",
        ),
        (kind("hash"), "*Hash*: noise spread over the whole passband, with a steady strength."),
        (kind("buzz"), "*Buzz*: hash that comes and goes with the mains, once or twice in each of its cycles."),
        (kind("clicks"), "*Clicks*: short pulses with quiet between."),
        (
            lines,
            "*Carrier* (birdie): a single steady tone. Its strength is given over the noise in 1 Hz of bandwidth; in \
                 2500 Hz it stands 34 dB less above the noise.",
        ),
        (kind("comb"), "*Comb*: carriers at one regular spacing."),
        (
            figure("spectra"),
            "*Spectra*: noise power over audio frequency, off and on; where they part is what the \
                             device adds.",
        ),
        (
            figure("excess"),
            "*Excess over frequency*: the same difference by bands, with its 95 % interval; a band whose \
                            interval reaches 0 dB shows no sure change.",
        ),
        (
            figure("spectrogram"),
            "*Spectrogram*: time against audio frequency, stronger where the colour says so. Clicks stand as strokes along the frequency axis, carriers as lines along the time axis.",
        ),
        (
            figure("envelope"),
            "*Envelope*: how strongly the noise pulses at each rate; mains noise has peaks at once and \
                              twice the mains frequency.",
        ),
        (
            figure("ladder"),
            "*Ladder*: what is left after each remedy; steps whose intervals overlap widely can't be told \
                            apart.",
        ),
    ];
    entries.into_iter().filter(|(used, _)| *used).map(|(_, text)| text.to_owned()).collect()
}

const CAUTIONS: [&str; 4] = [
    "Mains can kill. Do not open a mains-operated device or a power supply, even unplugged: its capacitors hold their \
     charge.",
    "Work on fixed wiring, filters in it and the protective earth are for a licensed electrician, under the codes that \
     hold where you live.",
    "Leave battery packs and their chargers closed; a damaged cell can burn.",
    "Put ferrite only over leads whose insulation is whole, never over bare conductors, and never open the protective \
     earth to quieten a device.",
];
