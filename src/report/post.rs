//! The digest to paste into a forum: lists in short lines that any font bears, no markup, below [`POST_LIMIT`]
//! characters. Not here: the full account (`brief`, `details`).

use crate::contrast::comparison::ContrastResult;
use crate::labels::Setting;
use crate::report::brief::device::verdicts;
use crate::report::contract::Report;
use crate::report::devices::{Device, loudest_first};
use crate::report::findings;
use crate::report::words::{causes, is_note};
use crate::text::{Document, List, Mark, Plain, Words, and_at_most, capital, each_once, label, number, plain};
use crate::warning::Code;

/// The length a post stays below, in characters as forums count them (UTF-16 units).
pub const POST_LIMIT: usize = 2000;

/// Files left out and carriers of a device that are named.
const NAMED: usize = 4;

/// A session's report as a short text: title, an item a device, what the findings say, what could spoil it.
///
/// Always below [`POST_LIMIT`] characters, no line wider than 72 columns; signs are those of the keyboard, letters
/// of other scripts in labels stay. No item is cut; what does not fit is dropped, carriers first, then what could
/// spoil it, then the findings, then the quietest devices, and counted.
pub(super) fn of_session(report: &Report) -> String {
    let digest = Digest::of(report);
    let mut shown = Shown { carriers: NAMED, concerns: 8, findings: 8, devices: 24 };
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
    devices: usize,
}

impl Shown {
    /// One thing less, the least important first; false where nothing is left to drop.
    fn drop_one(&mut self, digest: &Digest) -> bool {
        self.carriers = self.carriers.min(digest.carriers.len());
        self.concerns = self.concerns.min(digest.concerns.len());
        self.findings = self.findings.min(digest.findings.len());
        self.devices = self.devices.min(digest.devices.len());
        // What goes, and how much of it stays at first.
        let one = match self {
            Self { carriers, .. } if *carriers > 0 => carriers,
            Self { concerns, .. } if *concerns > 2 => concerns,
            Self { findings, .. } if *findings > 2 => findings,
            Self { devices, .. } if *devices > 1 => devices,
            Self { findings, .. } if *findings > 0 => findings,
            Self { concerns, .. } if *concerns > 0 => concerns,
            Self { devices, .. } if *devices > 0 => devices,
            _ => return false,
        };
        *one -= 1;
        true
    }
}

/// All that could be shown.
struct Digest {
    head: Vec<Words>,
    setting: Option<String>,
    devices: Vec<Words>,
    carriers: Vec<Words>,
    findings: Vec<Words>,
    concerns: Vec<Words>,
    foot: String,
}

impl Digest {
    fn of(report: &Report) -> Self {
        let devices = loudest_first(report);
        let mut head: Vec<Words> = vec![report.session.title.as_str().into()];
        head.extend(report.session.station.as_deref().map(Into::into));
        Self {
            head,
            setting: report.comparisons().main_setting().and_then(Setting::facts),
            devices: verdicts(&devices, report, false),
            carriers: devices.iter().filter_map(|device| carriers(device, report)).collect(),
            findings: findings::digest(report).into_iter().map(Into::into).collect(),
            concerns: concerns(report).into_iter().map(Into::into).collect(),
            foot: foot(report),
        }
    }

    fn text(&self, shown: &Shown) -> String {
        let mut doc = Document::default();
        doc.lines(self.head.clone());
        self.setting.iter().for_each(|facts| doc.paragraph(facts.as_str()));
        if self.devices.is_empty() && self.findings.is_empty() {
            doc.paragraph("Nothing could be compared.");
        }
        doc.list(List::new(Mark::Dash, self.devices.clone()).cut_to(shown.devices, "in the report"));
        part(&mut doc, "New carriers on the air:", &self.carriers, shown.carriers);
        part(&mut doc, "Taken together:", &self.findings, shown.findings);
        part(&mut doc, "Mind:", &self.concerns, shown.concerns);
        doc.paragraph(self.foot.as_str());
        plain(&doc, Plain::POST)
    }
}

pub(crate) fn foot(report: &Report) -> String {
    format!("made with {} {}", report.tool.name, report.tool.version)
}

/// A list under its head, cut and counted; nothing if there are no items.
pub(crate) fn part(doc: &mut Document, head: &str, items: &[Words], shown: usize) {
    if !items.is_empty() {
        doc.lead(head);
        doc.list(List::new(Mark::Dash, items.to_vec()).cut_to(shown, "in the report"));
    }
}

/// "LED strip: 7100.55, 7100.98, 7101.63 kHz and 5 more", strongest first.
fn carriers(device: &Device, report: &Report) -> Option<Words> {
    let usable = device.contrasts.iter().filter(|c| !c.is_void());
    let mut lines: Vec<(f64, f64)> = usable
        .flat_map(|c| {
            let on_air = |hz| report.comparisons().on_air_khz(&c.setting, hz);
            c.added_lines.iter().filter_map(move |l| Some((l.level_db, on_air(l.freq_hz)?)))
        })
        .collect();
    lines.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut named = each_once(lines.iter().map(|(_, khz)| number(*khz, 2)));
    let rest = named.len().saturating_sub(NAMED);
    named.truncate(NAMED);
    let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    (!named.is_empty()).then(|| format!("{}: {} kHz{more}", capital(&label(device.name)), named.join(", ")).into())
}

/// What speaks against comparisons, worst first; then what was left out and what concerns the session; notes last.
fn concerns(report: &Report) -> Vec<String> {
    let mut found = grouped(report);
    let all = |code: Code| -> Vec<&ContrastResult> {
        report.contrasts.iter().filter(|c| !c.is_void() && c.warnings.iter().any(|w| w.code == code)).collect()
    };
    let untold = all(Code::GainUnknown);
    if !untold.is_empty() {
        found.push(format!("nothing shows that AGC was off: {}", who(&untold, report)));
    }
    let once: Vec<&ContrastResult> = report.contrasts.iter().filter(|c| c.is_unrepeated()).collect();
    if !once.is_empty() {
        found.push(format!("off or on recorded once only: {}", who(&once, report)));
    }
    if !report.left_out.is_empty() {
        let names: Vec<String> = report.left_out.iter().map(|o| label(&o.file)).collect();
        found.push(format!("left out: {}", and_at_most(&names, NAMED)));
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
        1 => lines.push("1 off recording set aside: it stands apart from the others".to_owned()),
        n => lines.push(format!("{n} off recordings set aside: they stand apart from the others")),
    }
    if guessed.into_iter().any(|w| w.code == Code::Guessed) {
        lines.push("some labels were guessed".to_owned());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::super::sample::{added_line, sample_report};
    use super::*;
    use crate::report::post;
    use crate::warning::{Code, Trust, Warning};
    use insta::assert_snapshot;
    use unicode_width::UnicodeWidthStr;

    #[test]
    fn the_sample_as_a_post() {
        let text = post(&sample_report());
        assert!(text.is_ascii());
        assert_snapshot!(text, @"
        Pond evening
        portable receiver, end-fed wire, earth rod

        14100 kHz, USB, 2400 Hz wide, end-fed wire, AGC off, RF gain 60

        - Pond pump: +14.2 dB (13.9 to 14.5) of buzz at 100 Hz (twice the 50 Hz
          mains), 97 % sure. The ferrite ring took off nothing measurable and
          the linear supply 11.8 dB; left: +2.3 dB (2.0 to 2.6) of hash, 97 %
          sure.
        - Fountain light: 2 carriers, strongest at 1234.5 Hz, +6.2 dB in all,
          97 % sure.
        - Charger: no result, void: clipping.

        New carriers on the air:
        - Fountain light: 14101.23, 14102.47 kHz

        Mind:
        - clipping: charger
        - left out: 08-broken.wav
        - some labels were guessed

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
        assert_snapshot!(mind, @"
        - clipping: charger
        - a lossy codec: pond pump, fountain light
        - dropouts: pond pump (ferrite ring)
        - left out: 08-broken.wav
        - 1 off recording set aside: it stands apart from the others
        - some labels were guessed
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

    /// What is said against one comparison taints no other.
    #[test]
    fn a_void_comparison_shows_no_figure_and_doubt_stays_with_its_own() {
        let mut report = sample_report();
        report.contrasts[3].trust = Trust::Doubtful;
        report.contrasts[3].warnings = vec![Warning::new(Code::Dropouts, "m")];
        let text = post(&report);
        assert!(!text.contains("21.3"), "{text}");
        let doubted: Vec<&str> = text.split("\n- ").filter(|item| item.contains("doubtful")).collect();
        assert!(doubted.len() == 1 && doubted[0].starts_with("Fountain light: "), "{text}");
    }
}
