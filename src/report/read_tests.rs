//! Short report and details as they are read, and that no label can break them.
//!
//! What a Markdown reader makes of it is asked of an independent parser, pulldown-cmark (CommonMark 0.31 and the
//! tables of GitHub Flavored Markdown).

use insta::assert_snapshot;
use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};

use super::sample::{added_line, sample_report};
use super::{details_markdown, markdown};
use crate::findings::budget::result::BudgetEntry;
use crate::findings::ladder::result::LadderStep;
use crate::findings::ladder::table::Bought;
use crate::findings::switching_comb::result::SwitchingComb;
use crate::labels::State;
use crate::report::contract::*;
use crate::text::one_line;
use crate::warning::{Code, Trust, Warning};

/// Short report and details, one below the other.
fn whole(report: &Report) -> String {
    format!("{}\n{}", markdown(report), details_markdown(report))
}

/// From one heading to the next of the same level.
fn section(markdown: &str, heading: &str) -> String {
    let start = markdown.find(&format!("## {heading}\n")).expect("the heading is there");
    let rest = &markdown[start..];
    let end = rest[3..].find("\n## ").map_or(rest.len(), |i| i + 3);
    rest[..end].trim_end().to_owned()
}

#[test]
fn the_verdict_comes_first_and_every_part_follows_in_order() {
    let text = whole(&sample_report());
    let headings: Vec<_> = text.lines().filter(|l| l.starts_with('#')).collect();
    assert_eq!(
        headings,
        [
            "# Pond evening",
            "## Verdict",
            "## All comparisons",
            "## What could spoil it",
            "## What to do next",
            "## Before you change anything",
            "# Pond evening: details",
            "## Pond pump",
            "### Remedies in order",
            "### Comparisons",
            "## Fountain light",
            "### Carriers that came with the device",
            "## Charger",
            "## Every warning",
            "## Recordings",
            "## How it was measured",
            "## Reading this report",
        ]
    );
    assert_snapshot!(section(&text, "Verdict"), @"
    ## Verdict

    - **Pond pump:** +14.2 dB (13.9 to 14.5) of buzz at 100 Hz (twice the 50 Hz mains), 97 % sure. The ferrite ring took off nothing measurable and the linear supply 11.8 dB; left: +2.3 dB (2.0 to 2.6) of hash, 97 % sure.
    - **Fountain light:** 2 carriers, strongest at 1234.5 Hz, +6.2 dB in all, 97 % sure.
    - **Charger:** no result, void: clipping.
    ");
}

#[test]
fn a_device_with_remedies() {
    assert_snapshot!(section(&whole(&sample_report()), "Pond pump"), @"
    ## Pond pump

    ### Remedies in order

    | Step | Remedy | Excess left, dB (95 %) | Took off, dB (95 %) | Trust |
    | ---: | --- | ---: | ---: | --- |
    | 0 | none yet | 14.2 (13.9 to 14.5) | – | sound |
    | 1 | ferrite ring | 14.1 (13.8 to 14.3) | nothing measurable (−0.3 to 0.6) | sound |
    | 2 | linear supply | 2.3 (2.0 to 2.6) | 11.8 (11.4 to 12.2) | sound |

    ### Comparisons

    | Remedy | Excess, dB (95 %) | With lines and pulses, dB | Would have been noticed, dB | A signal loses, dB | Kind | How sure of the kind | Trust |
    | --- | ---: | ---: | ---: | ---: | --- | ---: | --- |
    | none | 14.2 (13.9 to 14.5) | 14.4 | 0.3 | 14.2 | buzz, 100 a second | 97 % | sound |
    | ferrite ring | 14.1 (13.8 to 14.3) | 14.2 | 0.3 | 14.1 | buzz, 100 a second | 97 % | sound |
    | linear supply | 2.3 (2.0 to 2.6) | 2.5 | 0.3 | 2.3 | hash | 97 % | sound |

    - **Without a remedy:** The envelope has a line at 100 Hz, 21 dB above its own noise. Over frequency the excess goes from 10.1 dB near 450 Hz to 16.4 dB near 1500 Hz.
    - **Ferrite ring:** The envelope has a line at 100 Hz, 21 dB above its own noise. Over frequency the excess goes from 10.1 dB near 450 Hz to 16.4 dB near 1500 Hz.
    - **Linear supply:** The envelope has a line at 100 Hz, 21 dB above its own noise. Over frequency the excess goes from 10.1 dB near 450 Hz to 16.4 dB near 1500 Hz.

    ![spectra](c1-spectra.png)

    Noise with the pond pump off and on.

    ![ladder](ladder-1.png)

    What each remedy left.
    ");
}

#[test]
fn recordings_say_once_what_is_the_same_of_all() {
    let mut report = sample_report();
    for (i, r) in report.recordings.iter_mut().enumerate() {
        r.started = Some(format!("2026-03-14T19:{:02}:30.5+01:00", i + 2));
    }
    report.recordings[1].note = Some("Kettle off | too".into());
    let text = section(&whole(&report), "Recordings");
    assert!(
        text.contains("All of 2026-03-14, times at UTC+01:00. All are flac, 12 kHz. The passband is 301–2699 Hz")
    );
    assert!(
        text.contains("| File | What was on | Started | Length | Level, dBFS | Floor, dBFS in 1 Hz | Lines |\n")
    );
    assert!(text.contains("| 04-pump-ferrite.flac | pond pump, ferrite ring | 19:05 | 30.0 s |"), "{text}");
    assert!(text.ends_with("- 02-off-again.flac: Kettle off &#124; too"));
    report.recordings[0].started = Some("2026-03-13T23:59:00+01:00".into());
    report.recordings[0].codec = "opus".into();
    let text = section(&whole(&report), "Recordings");
    assert!(text.contains("| 2026-03-13T23:59:00+01:00 |") && text.contains("| opus, 12 kHz |"), "{text}");
}

#[test]
fn what_could_spoil_it_names_recordings_and_reasons() {
    assert_snapshot!(section(&whole(&sample_report()), "Every warning"), @"
    ## Every warning

    - **Clipping**, 07-charger.flac: 3.1 % of the samples stand at full scale; turn the level down.
    - **Clipping**, charger on: An on recording is clipped, so its level is too low.
    - **A guess to confirm**: The state of 01-off.flac was taken from its name.
    - Left out, 08-broken.wav: holds no sound: 0 bytes. Record it again.
    ");
}

#[test]
fn a_clean_session_says_so() {
    let mut report = sample_report();
    report.contrasts.truncate(1);
    report.recordings.truncate(3);
    report.left_out.clear();
    report.warnings.clear();
    let clean = section(&whole(&report), "Every warning");
    assert!(clean.ends_with("- Nothing was found against these figures."), "{clean}");
}

#[test]
fn a_warning_said_of_many_is_told_once() {
    let mut report = sample_report();
    for recording in &mut report.recordings {
        recording.warnings = vec![Warning::new(Code::LossyCodec, "Record to WAV or FLAC.")];
    }
    let text = section(&whole(&report), "Every warning");
    assert_eq!(text.matches("Record to WAV or FLAC.").count(), 1, "{text}");
    assert!(text.contains("06-fountain.flac and 1 more"), "{text}");
}

#[test]
fn nothing_to_compare_says_what_is_lacking() {
    let mut report = Report { contrasts: vec![], ladders: vec![], figures: vec![], ..sample_report() };
    report.recordings.retain(|r| r.state == Some(State::Off));
    assert!(whole(&report).contains("Nothing could be compared: there is no recording with a device on."));
}

#[test]
fn a_void_contrast_shows_no_figure_anywhere_but_in_the_recordings() {
    let text = whole(&sample_report());
    assert!(!text.contains("21.3"), "the void excess of the sample");
}

/// Source: JCGM 100:2008 (GUM), 5.1.2: uncertainties of uncorrelated quantities add in quadrature.
#[test]
fn what_a_step_bought_has_an_interval_in_quadrature() {
    let step = |excess: f64, ci: [f64; 2]| LadderStep {
        remedy: None,
        contrast: String::new(),
        excess_db: Some(excess),
        excess_ci_db: Some(ci),
        ..LadderStep::default()
    };
    // Lower distances 0.3 and 0.4 make 0.5, upper ones 0.5 and 1.2 make 1.3.
    let bought = Bought::between(&step(14.0, [13.7, 14.5]), &step(4.0, [2.8, 4.4])).unwrap();
    let [low, high] = bought.ci.unwrap();
    approx::assert_abs_diff_eq!(bought.value, 10.0, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(low, 9.5, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(high, 11.3, epsilon = 1e-9);
}

#[test]
fn a_step_that_buys_nothing_or_harms_or_can_not_be_told_is_told_so() {
    let mut report = sample_report();
    report.ladders[0].steps[2].excess_db = Some(18.0);
    report.ladders[0].steps[2].excess_ci_db = Some([17.7, 18.3]);
    let text = section(&whole(&report), "Pond pump");
    assert!(text.contains("| nothing measurable (−0.3 to 0.6) |"), "{text}");
    assert!(text.contains("| worse by 3.9 (3.5 to 4.4) |"), "{text}");
    assert!(section(&whole(&report), "Verdict").contains("No step took off anything"));
    report.contrasts[1].trust = Trust::Void;
    let text = section(&whole(&report), "Pond pump");
    assert_eq!(text.matches("| can't be told |").count(), 2, "{text}");
}

#[test]
fn budget_and_combs_have_their_tables() {
    let mut report = sample_report();
    report.budget = vec![
        BudgetEntry { device: "pond pump".into(), share: 0.8, excess_db: 14.2, ..BudgetEntry::default() },
        BudgetEntry { device: "fountain light".into(), share: 0.2, excess_db: 3.1, ..BudgetEntry::default() },
    ];
    report.switching_combs = vec![SwitchingComb {
        spacing_hz: 32_500.0,
        spacing_ci_hz: [32_499.2, 32_500.8],
        offset_hz: 0.0,
        ..SwitchingComb::default()
    }];
    let text = whole(&report);
    assert!(text.contains("- Of the noise that all devices add together, 80 % comes from **pond pump**."));
    assert!(text.contains("| pond pump | 80 % | 14.2 |"));
    assert!(text.contains("| 32500.0 | 32499.2 to 32500.8 | 0.0 |"));
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    assert_eq!(whole(&sample_report()), whole(&sample_report()));
}

const HOSTILE: [&str; 10] = [
    "a|b\\|c\\\\|d",
    "`code` *star* _under_ ~~gone~~",
    "line\nbreak\r\n| cell | cell |",
    "<script>x</script> & &amp; <b>",
    "[link](http://example.org) ![x](y)",
    "# heading #",
    "- item",
    "12. item",
    "3.1) item",
    "$x$ ]( | \\",
];

/// The sample with one label wherever the user's words go.
fn with_label(word: &str) -> Report {
    let mut report = sample_report();
    report.session.title = word.into();
    report.session.station = Some(word.into());
    report.settings[0].antenna = Some(word.into());
    for r in &mut report.recordings {
        r.file = word.into();
        r.device = Some(word.into());
        r.remedy = Some(word.into());
        r.note = Some(word.into());
        r.meter = Some(word.into());
        r.warnings = vec![Warning::new(Code::Label, word)];
    }
    for c in &mut report.contrasts {
        c.device = word.into();
        c.remedy = c.remedy.as_ref().map(|_| word.into());
        c.evidence = vec![word.into()];
        c.added_lines = vec![added_line(500.0, -50.0, 20.0)];
        c.warnings = vec![Warning::new(Code::Label, word)];
    }
    report.ladders[0].device = word.into();
    report.ladders[0].steps[1].remedy = Some(word.into());
    report.left_out[0].file = word.into();
    report.left_out[0].reason = word.into();
    report.figures[0].caption = word.into();
    report
}

#[test]
fn no_label_breaks_a_table_or_becomes_markup() {
    let times = |text: &str, word: &str| text.to_lowercase().matches(&word.to_lowercase()).count();
    let harmless = whole(&with_label("qqq"));
    for word in HOSTILE {
        let text = whole(&with_label(word));
        assert_eq!(shape_of(&text), shape_of(&harmless), "{word:?} changed what the report is made of");
        let read = text_of(&text);
        assert_eq!(
            times(&read, &one_line(word)),
            times(&harmless, "qqq"),
            "{word:?} does not read as itself:\n{read}"
        );
    }
}

#[test]
fn table_rows_have_as_many_cells_as_their_heads_whatever_the_parser() {
    for word in HOSTILE {
        let text = whole(&with_label(word));
        let mut bars = 0;
        for line in text.lines() {
            let here = line.matches('|').count();
            let is_row = line.starts_with("| ");
            assert!(!is_row || bars == 0 || here == bars, "{word:?}: {line}");
            assert!(is_row || here == 0, "a bar outside a table: {line}");
            bars = if is_row { here } else { 0 };
        }
    }
}

fn parse(markdown: &str) -> Parser<'_> {
    Parser::new_ext(markdown, Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH | Options::ENABLE_MATH)
}

/// The kinds of blocks and spans in order, without their text.
fn shape_of(markdown: &str) -> Vec<String> {
    let mut shape = Vec::new();
    for event in parse(markdown) {
        match event {
            Event::Text(_) | Event::SoftBreak => {}
            Event::Start(Tag::Image { dest_url, .. }) => shape.push(format!("image {dest_url}")),
            Event::Start(tag) => shape.push(format!("{tag:?}")),
            Event::End(tag) => shape.push(format!("end {tag:?}")),
            other => shape.push(format!("{other:?}")),
        }
    }
    shape
}

/// What a reader sees, blocks and cells on lines of their own.
fn text_of(markdown: &str) -> String {
    let mut read = String::new();
    for event in parse(markdown) {
        match event {
            Event::Text(text) | Event::Code(text) => read.push_str(&text),
            Event::SoftBreak => read.push(' '),
            Event::End(TagEnd::Strong | TagEnd::Emphasis) => {}
            Event::End(_) => read.push('\n'),
            _ => {}
        }
    }
    read
}

#[test]
fn figures_are_linked_by_name_and_nothing_of_the_machine_is_told() {
    let mut report = sample_report();
    report.figures[1].file = "c1 spectra (1).png".into();
    report.recordings[0].file = "/home/someone/radio/01-off.flac".into();
    report.left_out[0].reason = "could not read /home/someone/radio/08.wav: denied".into();
    report.warnings[0].message = r"C:\Users\someone\x.wav was guessed".into();
    let text = whole(&report);
    assert!(text.contains("](c1%20spectra%20%281%29.png)"));
    assert!(!text.contains("someone") && text.contains("could not read 08.wav: denied"), "{text}");
}

#[test]
fn there_is_no_keyboard_minus_before_a_figure() {
    let text = whole(&sample_report());
    let wrong = text.lines().find(|l| l.starts_with("| ") && l.contains(" -") && !l.contains("---"));
    assert_eq!(wrong, None);
    assert!(text.contains("−31.2"));
}

/// What is said of a ladder's steps together.
mod remedies {
    use super::*;
    use crate::findings::ladder::result::ChokeVerdict;
    use crate::findings::ladder::result::Origin;
    use crate::findings::ladder::result::{Appeared, AppearedWhat, ChokeForecast, ChokeResult};

    fn fit(verdict: ChokeVerdict) -> ChokeResult {
        ChokeResult {
            verdict,
            contrasts: vec!["c1".into(), "c2".into()],
            ratio: Some(0.82),
            ratio_ci: Some((0.7, Some(0.95))),
            chi2: 0.0,
            degrees_of_freedom: 0,
            bypass_share: Some(0.44),
            bypass_ci: Some([0.41, 0.47]),
            forecasts: vec![],
        }
    }

    /// `steps`: how many the ladder has; the third is another remedy than ferrite.
    fn told_of(steps: usize, fit: ChokeResult) -> (String, String) {
        let mut report = sample_report();
        report.ladders[0].steps[1].ferrites = Some(6);
        report.ladders[0].steps.truncate(steps);
        report.ladders[0].choke_fit = Some(fit);
        let text = whole(&report);
        let steps = section(&text, "What to do next");
        (steps, text)
    }

    fn told(fit: ChokeResult) -> (String, String) {
        told_of(2, fit)
    }

    #[test]
    fn a_forecast_is_a_range_with_what_it_assumes() {
        let forecast = |ferrites, turns| ChokeForecast {
            ferrites,
            turns,
            attenuation_db: 2.9,
            attenuation_range_db: [2.04, 3.96],
            excess_db: 4.0,
            excess_range_db: [3.1, 5.2],
        };
        let (steps, text) =
            told(ChokeResult { forecasts: vec![forecast(12, 1), forecast(6, 2)], ..fit(ChokeVerdict::Fits) });
        let said = "6 more pieces of the same would take a further 2.0 to 4.0 dB off the device's own noise";
        assert!(steps.contains(said), "{steps}");
        assert!(
            text.contains(&format!("{said} and leave 3.1 to 5.2 dB of excess; one more turn through each piece"))
        );
        assert!(text.contains("0.82 times (0.70 to 0.95) the impedance of the lead"));
        let fit = ChokeResult { forecasts: vec![forecast(12, 1)], ..fit(ChokeVerdict::Fits) };
        assert!(!told_of(3, fit).0.contains("more pieces"), "another remedy took the ferrites' place");
        assert!(text.contains("With so few steps the fit could not be put to the test"));
        assert!(text.contains("The maker's chart of impedance over frequency decides."));
    }

    #[test]
    fn where_ferrite_can_not_help_it_is_said() {
        for (verdict, said) in [
            (ChokeVerdict::NoUse, "more ferrite on this lead can't help"),
            (
                ChokeVerdict::Flattens,
                "about 44 % (41 % to 47 %) of the device's noise power passes this ferrite by",
            ),
            (ChokeVerdict::Worse, "the device got louder at one step"),
            (ChokeVerdict::PoorFit, "nothing is foretold"),
            (ChokeVerdict::Unsure, "can't be told from nothing yet"),
        ] {
            let (_, text) = told(fit(verdict));
            assert!(text.contains(said), "{verdict:?}: {text}");
        }
    }

    #[test]
    fn what_appeared_is_told_with_its_origin() {
        let appeared = |freq_hz: Option<f64>, what: AppearedWhat, origin: Origin| Appeared {
            contrast: "c3".into(),
            what,
            freq_hz,
            level_db: Some(-66.0),
            needed_db: freq_hz.map(|_| -58.0),
            origin,
        };
        let mut report = sample_report();
        report.ladders[0].unmasked = vec![
            appeared(Some(1318.0), AppearedWhat::Carrier, Origin::Unmasked),
            appeared(Some(2041.0), AppearedWhat::Carrier, Origin::Unmasked),
            appeared(Some(900.0), AppearedWhat::Carrier, Origin::New),
            appeared(None, AppearedWhat::Clicks, Origin::Unclear),
        ];
        let text = whole(&report);
        for said in [
            "With \"linear supply\", carriers at 1318.0 Hz and 2041.0 Hz have come to light: the earlier, louder noise \
             would have hidden them.",
            "With \"linear supply\", a carrier at 900.0 Hz is new: it would have stood out above the earlier noise, and \
             did not.",
            "With \"linear supply\", clicks are there, and whether they are new or were hidden before can't be told.",
            "New after a remedy: 1 carrier. Hidden before by the louder noise: 2 carriers.",
        ] {
            assert!(text.contains(said), "{said}\n{text}");
        }
    }
}

/// What is said of the receiver's own noise.
mod receiver_margin {
    use super::*;
    use crate::findings::receiver_check::words::{of_contrast, of_setting};

    fn with(margin: f64, corrected: Option<f64>) -> Report {
        let mut report = sample_report();
        let c = &mut report.contrasts[0];
        c.receiver_margin_db = Some(margin);
        c.receiver_margin_ci_db = Some([margin - 0.2, margin + 0.3]);
        c.excess_corrected_db = corrected;
        c.excess_corrected_ci_db = corrected.map(|e| [e - 0.5, e + 0.5]);
        report
    }

    #[test]
    fn it_is_said_once_and_where_it_matters() {
        let far = with(17.0, None);
        assert_eq!(
            of_setting(&far.contrasts, "s1").unwrap(),
            "The band noise lies 17.0 dB (16.8 to 17.3) above the receiver's own noise, so the receiver adds nothing \
             worth correcting."
        );
        assert_eq!(of_contrast(&far.contrasts[0]), None);
        let near = with(4.0, Some(7.1));
        assert_eq!(of_setting(&near.contrasts, "s1"), None);
        assert_eq!(
            of_contrast(&near.contrasts[0]).unwrap(),
            "The band noise lies only 4.0 dB (3.8 to 4.3) above the receiver's own noise: corrected for it the excess \
             is 7.1 dB (6.6 to 7.6)."
        );
        assert!(
            of_contrast(&with(0.2, None).contrasts[0]).unwrap().ends_with("too near to correct the excess for it.")
        );
        assert_eq!(of_setting(&sample_report().contrasts, "s1"), None);
        assert!(whole(&near).contains("corrected for it the excess is 7.1 dB"));
        assert!(whole(&far).contains("nothing worth correcting"));
    }
}
