//! The digest to paste into a forum: short lines, columns held by blanks, no markup, below [`POST_LIMIT`]
//! characters. Not here: the full account (`markdown`).

use crate::contrast::comparison::{AddedLine, ContrastResult};
use crate::contrast::words::kind_word;
use crate::contrast::{Certainty, Character, loudest};
use crate::labels::Setting;
use crate::report::contract::Report;
use crate::report::findings;
use crate::report::words::{causes, is_note};
use crate::text::{
    Column, Document, List, Mark, Plain, Table, Words, count, hz, interval, label, number, one_line, plain, signed,
};
use crate::warning::{Code, Trust};

/// The length a post stays below, in characters as forums count them (UTF-16 units).
pub const POST_LIMIT: usize = 2000;

/// Settings of one device and remedy that have a row each; more share one.
const SETTINGS_EACH: usize = 3;

/// A session's report as a short text: title, one row a comparison, the strongest new carriers, warnings.
///
/// Always below [`POST_LIMIT`] characters, no line wider than 72 columns; signs are those of the keyboard, letters
/// of other scripts in labels stay. What does not fit is dropped, carriers first, then warnings, then the last
/// rows, and counted.
pub(super) fn of_session(report: &Report) -> String {
    let digest = Digest::of(report);
    let mut shown = Shown { carriers: 6, concerns: 8, findings: 8, rows: 24 };
    loop {
        let text = digest.text(&shown);
        if text.encode_utf16().count() < POST_LIMIT || !shown.drop_one(&digest) {
            return text;
        }
    }
}

/// How much of each is shown.
struct Shown {
    carriers: usize,
    concerns: usize,
    findings: usize,
    rows: usize,
}

impl Shown {
    /// One thing less, the least important first; false where nothing is left to drop.
    fn drop_one(&mut self, digest: &Digest) -> bool {
        self.carriers = self.carriers.min(digest.carriers.len());
        self.concerns = self.concerns.min(digest.concerns.len());
        self.findings = self.findings.min(digest.findings.len());
        self.rows = self.rows.min(digest.rows.len());
        let least = if self.carriers > 1 {
            &mut self.carriers
        } else if self.concerns > 2 {
            &mut self.concerns
        } else if self.findings > 2 {
            &mut self.findings
        } else if self.rows > 1 {
            &mut self.rows
        } else if self.carriers > 0 {
            &mut self.carriers
        } else if self.findings > 0 {
            &mut self.findings
        } else if self.concerns > 0 {
            &mut self.concerns
        } else {
            return false;
        };
        *least -= 1;
        true
    }
}

/// All that could be shown.
struct Digest {
    head: Vec<Words>,
    rows: Vec<Row>,
    carriers: Vec<String>,
    concerns: Vec<String>,
    findings: Vec<String>,
    foot: String,
}

/// A comparison's cells: device, remedy, excess, kind, trust.
struct Row {
    cells: [String; 5],
}

impl Digest {
    fn of(report: &Report) -> Self {
        let several = report.comparisons().are_of_several_settings();
        let mut head: Vec<Words> = vec![report.session.title.as_str().into()];
        head.extend(report.session.station.as_deref().map(Into::into));
        if let (false, [setting]) = (several, report.settings.as_slice()) {
            head.extend(dial(setting).map(Into::into));
        }
        Self {
            head,
            rows: rows(report),
            carriers: carriers(report),
            concerns: concerns(report),
            findings: findings::digest(report),
            foot: foot(report),
        }
    }

    fn text(&self, shown: &Shown) -> String {
        let mut doc = Document::default();
        doc.lines(self.head.clone());
        if self.rows.is_empty() {
            doc.paragraph("Nothing could be compared.");
        }
        doc.table(table(&self.rows[..shown.rows.min(self.rows.len())]));
        let rest = self.rows.len().saturating_sub(shown.rows);
        if rest > 0 {
            doc.paragraph(format!("... and {rest} more in the report"));
        }
        part(&mut doc, "Taken together:", Mark::Dash, &self.findings, shown.findings);
        let came = "Strongest carriers that came with a device:";
        part(&mut doc, came, Mark::None, &self.carriers, shown.carriers);
        part(&mut doc, "Mind:", Mark::Dash, &self.concerns, shown.concerns);
        doc.paragraph(self.foot.as_str());
        plain(&doc, Plain::POST)
    }
}

pub(crate) fn foot(report: &Report) -> String {
    format!("made with {} {}", report.tool.name, report.tool.version)
}

/// A list under its head, cut and counted; nothing if there are no items.
pub(crate) fn part(doc: &mut Document, head: &str, mark: Mark, items: &[String], shown: usize) {
    if !items.is_empty() {
        doc.lead(head);
        let items = items.iter().map(|item| item.as_str().into()).collect();
        doc.list(List::new(mark, items).cut_to(shown, "in the report"));
    }
}

/// A row a comparison; one for all of a device that was recorded all over the dial.
fn rows(report: &Report) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut seen: Vec<(&str, Option<&str>)> = Vec::new();
    for c in &report.contrasts {
        let of = (c.device.as_str(), c.remedy.as_deref());
        let alike: Vec<&ContrastResult> =
            report.contrasts.iter().filter(|o| (o.device.as_str(), o.remedy.as_deref()) == of).collect();
        if alike.len() <= SETTINGS_EACH {
            rows.push(Row::of_contrast(c, report));
        } else if !seen.contains(&of) {
            seen.push(of);
            rows.push(Row::all_over_the_dial(&alike));
        }
    }
    rows
}

impl Row {
    fn of_contrast(c: &ContrastResult, report: &Report) -> Self {
        let mut device = label(&c.device);
        let several = report.contrasts.iter().any(|o| o.device == c.device && o.setting != c.setting);
        if several {
            let at = report.comparisons().dial_khz(&c.setting);
            let at = at.map_or_else(|| label(&c.setting), |khz| format!("{} kHz", number(khz, 0)));
            device = format!("{at} {device}");
        }
        Self::new(&device, c.remedy.as_deref().unwrap_or("-"), c)
    }

    /// The loudest of many settings, by its total, stands for them; the trust is that of the worst.
    fn all_over_the_dial(alike: &[&ContrastResult]) -> Self {
        let loudest = loudest(alike.iter().copied()).or(alike.first().copied());
        let worst = alike.iter().map(|c| c.trust).max();
        let (Some(loudest), Some(worst)) = (loudest, worst) else { return Self { cells: Default::default() } };
        let remedy = loudest.remedy.as_deref().map_or_else(String::new, |remedy| format!("{}, ", label(remedy)));
        let mut row = Self::new(&label(&loudest.device), &format!("{remedy}loudest of {}", alike.len()), loudest);
        row.cells[4] = worst.word().to_owned();
        row
    }

    fn new(who: &str, remedy: &str, c: &ContrastResult) -> Self {
        Self { cells: [one_line(who), one_line(remedy), excess(c), kind(c), c.trust.word().to_owned()] }
    }
}

pub(crate) fn excess(c: &ContrastResult) -> String {
    match (c.excess_db.filter(|_| !c.is_void()), c.excess_ci_db) {
        (None, _) => "-".to_owned(),
        (Some(v), Some(ci)) => format!("{} ({})", signed(v, 1), interval(ci)),
        (Some(v), None) => format!("{} (?)", signed(v, 1)),
    }
}

/// The kind, with a question mark where it is not sure.
pub(crate) fn kind(c: &ContrastResult) -> String {
    let doubt = if c.certainty() != Certainty::Stated && c.character != Character::Unclear { "?" } else { "" };
    if c.is_void() { "-".to_owned() } else { format!("{}{doubt}", kind_word(c.character)) }
}

/// Rows under their heads.
fn table(rows: &[Row]) -> Table {
    let mut table = Table::new([
        Column::label("Device"),
        Column::label("Remedy"),
        Column::text("Excess, dB (95 %)"),
        Column::text("Kind"),
        Column::text("Trust"),
    ]);
    rows.iter().for_each(|row| table.row(row.cells.each_ref().map(String::as_str)));
    note(
        &mut table,
        rows.iter().any(|r| r.cells[3].ends_with('?')),
        rows.iter().any(|r| r.cells[4] == Trust::Void.word()),
    );
    table
}

/// What must be said under a table with these comparisons.
pub(crate) fn note_under<'a>(table: &mut Table, contrasts: impl Iterator<Item = &'a ContrastResult>) {
    let (mut unsure, mut void) = (false, false);
    for contrast in contrasts {
        unsure |= kind(contrast).ends_with('?');
        void |= contrast.is_void();
    }
    note(table, unsure, void);
}

fn note(table: &mut Table, unsure: bool, void: bool) {
    if unsure {
        table.note("(? = the kind is not sure)");
    }
    if void {
        table.note("(void = no result: it shows neither noise nor that there is none)");
    }
}

/// The added lines of all contrasts, strongest first.
fn carriers(report: &Report) -> Vec<String> {
    let usable = report.contrasts.iter().filter(|c| !c.is_void());
    let mut found: Vec<(&AddedLine, &ContrastResult)> =
        usable.flat_map(|c| c.added_lines.iter().map(move |l| (l, c))).collect();
    found.sort_by(|a, b| b.0.level_db.total_cmp(&a.0.level_db));
    found.into_iter().map(|(l, c)| carrier(l, c, report)).collect()
}

fn carrier(l: &AddedLine, c: &ContrastResult, report: &Report) -> String {
    let on_air = report
        .comparisons()
        .on_air_khz(&c.setting, l.freq_hz)
        .map_or_else(String::new, |khz| format!("  {} kHz", number(khz, 2)));
    let remedy = c.remedy.as_deref().map_or_else(String::new, |r| format!(", {}", label(r)));
    format!("{:>9}{on_air}  {:>5} dBFS  {}{remedy}", hz(l.freq_hz), number(l.level_db, 1), label(&c.device))
}

/// What speaks against comparisons, worst first; then what was left out and what concerns the session; notes last.
fn concerns(report: &Report) -> Vec<String> {
    let mut found = grouped(report);
    let of_unknown_gain = |c: &&ContrastResult| c.warnings.iter().any(|w| w.code == Code::GainUnknown);
    let untold: Vec<&ContrastResult> = report.contrasts.iter().filter(of_unknown_gain).collect();
    if !untold.is_empty() {
        found.push(format!("nothing shows that AGC was off: {}", who(&untold, report)));
    }
    if !report.left_out.is_empty() {
        found.push(format!("{} left out", count(report.left_out.len(), "file was", "files were")));
    }
    let against = report.warnings.iter().filter(|w| !is_note(w.code));
    found.extend(causes(against).into_iter().map(|cause| format!("{cause}: the session as a whole")));
    found.extend(notes(report));
    found
}

/// One line a cause with the comparisons it was said of: "clipping: charger, LED strip".
fn grouped(report: &Report) -> Vec<String> {
    let mut order: Vec<&ContrastResult> = report.contrasts.iter().collect();
    order.sort_by_key(|c| std::cmp::Reverse(c.trust));
    let mut of_cause: Vec<(String, Vec<&ContrastResult>)> = Vec::new();
    for c in order {
        for cause in causes(c.warnings.iter().filter(|w| !is_note(w.code))) {
            match of_cause.iter_mut().find(|(known, _)| *known == cause) {
                Some((_, of)) => of.push(c),
                None => of_cause.push((cause, vec![c])),
            }
        }
    }
    of_cause.into_iter().map(|(cause, of)| format!("{cause}: {}", who(&of, report))).collect()
}

/// Devices by name, with the remedy where only some of a device's comparisons are meant.
fn who(of: &[&ContrastResult], report: &Report) -> String {
    if report.contrasts.len() > 1 && of.len() == report.contrasts.len() {
        return "all comparisons".to_owned();
    }
    let mut names: Vec<String> = Vec::new();
    for c in of {
        let all = report.contrasts.iter().filter(|other| other.device == c.device);
        let whole = all.count() == of.iter().filter(|other| other.device == c.device).count();
        let name = match &c.remedy {
            Some(remedy) if !whole => format!("{} ({})", label(&c.device), label(remedy)),
            _ => label(&c.device),
        };
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join(", ")
}

/// What was done that speaks against nothing, in plain words.
fn notes(report: &Report) -> Vec<String> {
    let mut aside: Vec<&str> = Vec::new();
    for warning in report.contrasts.iter().flat_map(|c| &c.warnings).filter(|w| w.code == Code::SetAside) {
        if !aside.contains(&warning.message.as_str()) {
            aside.push(&warning.message);
        }
    }
    let guessed = report.warnings.iter().chain(report.contrasts.iter().flat_map(|c| &c.warnings));
    let mut lines = Vec::new();
    match aside.len() {
        0 => {}
        1 => lines.push("1 off recording set aside as it stood apart from the others".to_owned()),
        n => lines.push(format!("{n} off recordings set aside as they stood apart from the others")),
    }
    if guessed.into_iter().any(|w| w.code == Code::Guessed) {
        lines.push("what the labels left open was guessed; the report says what".to_owned());
    }
    lines
}

/// "14100.0 kHz USB, 2400 Hz wide"
fn dial(setting: &Setting) -> Option<String> {
    let khz = setting.dial_khz?;
    let mode = setting.mode.map_or_else(String::new, |m| format!(" {m}"));
    let wide = setting.bandwidth_hz.map_or_else(String::new, |b| format!(", {} Hz wide", number(b, 0)));
    Some(format!("{} kHz{mode}{wide}", number(khz, 1)))
}

#[cfg(test)]
mod tests {
    use super::super::sample::{added_line, sample_report};
    use super::*;
    use crate::report::post;
    use crate::warning::{Code, Warning};
    use insta::assert_snapshot;
    use unicode_width::UnicodeWidthStr;

    #[test]
    fn the_sample_as_a_post() {
        let text = post(&sample_report());
        assert!(text.is_ascii());
        assert_snapshot!(text, @r"
        Pond evening
        portable receiver, end-fed wire, earth rod
        14100.0 kHz USB, 2400 Hz wide

        Device          Remedy         Excess, dB (95 %)     Kind      Trust
        pond pump       -              +14.2 (13.9 to 14.5)  buzz      sound
        pond pump       ferrite ring   +14.1 (13.8 to 14.4)  buzz      sound
        pond pump       linear supply  +2.3 (2.0 to 2.6)     hash      sound
        fountain light  -              +0.1 (-0.2 to 0.4)    carriers  sound
        charger         -              -                     -         void
        (void = no result: it shows neither noise nor that there is none)

        Strongest carriers that came with a device:
          1234.5 Hz  14101.23 kHz  -40.0 dBFS  fountain light
          2468.9 Hz  14102.47 kHz  -49.3 dBFS  fountain light

        Mind:
        - clipping: charger
        - 1 file was left out
        - what the labels left open was guessed; the report says what

        made with noisetally 0.1.0
        ");
    }

    #[test]
    fn a_concern_is_told_once_with_all_it_concerns_and_notes_come_last() {
        let mut report = sample_report();
        let aside = Warning::new(Code::SetAside, "09-off.wav was set aside: it stands apart.");
        for c in &mut report.contrasts {
            c.warnings.insert(0, aside.clone());
        }
        report.contrasts[1].warnings.push(Warning::new(Code::Dropouts, "m"));
        for i in [0, 1, 2, 3] {
            report.contrasts[i].warnings.push(Warning::new(Code::LossyCodec, "m"));
        }
        let text = post(&report);
        let mind = text.split("Mind:\n").nth(1).unwrap().split("\n\n").next().unwrap();
        assert_snapshot!(mind, @r"
        - clipping: charger
        - a lossy codec: pond pump, fountain light
        - dropouts: pond pump (ferrite ring)
        - 1 file was left out
        - 1 off recording set aside as it stood apart from the others
        - what the labels left open was guessed; the report says what
        ");
        for c in &mut report.contrasts {
            c.warnings = vec![Warning::new(Code::GainMoving, "m")];
        }
        assert!(post(&report).contains("- a moving gain (AGC or fading): all comparisons\n"));
    }

    /// Labels of every kind and length, seeded; any number of devices.
    #[test]
    fn always_below_the_limit_and_never_wider_than_72_columns() {
        let mut seed = 1_u64;
        let mut draw = |n: usize| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize % n
        };
        let alphabet =
            ["a", "é", "e\u{301}", "灯", "🔌", "|", "`", "\n", "\t", "\u{202E}", "\u{E0100}", " ", "Ω", "-"];
        for round in 0..60 {
            let mut report = sample_report();
            let base = report.contrasts[3].clone();
            let mut word = || (0..draw(300)).map(|_| alphabet[draw(alphabet.len())]).collect::<String>();
            report.session.title = word();
            report.session.station = Some(word());
            for i in 0..[0, 1, 5, 40, 700][round % 5] {
                let lines =
                    (0..i % 9).map(|k| added_line(200.0 + 17.3 * k as f64, -40.0 - k as f64, 20.0)).collect();
                report.contrasts.push(ContrastResult {
                    device: word(),
                    remedy: Some(word()),
                    setting: if i % 3 == 0 { "s1".into() } else { word() },
                    excess_db: Some(-1e3 + 123.4 * i as f64),
                    added_lines: lines,
                    warnings: vec![Warning::new(Code::LossyCodec, word())],
                    ..base.clone()
                });
            }
            let text = post(&report);
            assert!(text.encode_utf16().count() < POST_LIMIT, "round {round}");
            assert!(text.lines().all(|l| l.width() <= Plain::POST.width), "round {round}: {text}");
            assert!(!text.contains('\t') && text.contains("made with noisetally"), "round {round}");
            if report.contrasts.len() > 100 {
                assert!(text.contains("more in the report"), "what is dropped is counted");
            }
        }
    }

    #[test]
    fn nothing_to_compare_is_said() {
        let report = Report { contrasts: vec![], figures: vec![], ..sample_report() };
        assert!(post(&report).contains("Nothing could be compared."));
    }

    #[test]
    fn a_void_comparison_shows_no_figure_and_an_unsure_kind_its_question_mark() {
        let mut report = sample_report();
        report.contrasts[0].confidence = 0.6;
        let text = post(&report);
        assert!(!text.contains("21.3"), "{text}");
        assert!(text.contains("buzz?") && text.contains("(? = the kind is not sure)"), "{text}");
    }
}
