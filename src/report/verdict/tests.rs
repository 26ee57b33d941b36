//! Every kind of verdict as it is read, at each trust and confidence.

use insta::assert_snapshot;

use super::super::sample::{added_line, contrast, sample_report};
use super::*;
use crate::contrast::comparison::{BandExcess, CombResult};
use crate::labels::Setting;
use crate::report::contract::*;
use crate::warning::Code;

fn of(character: Character) -> ContrastResult {
    let mut c = contrast("c9", "aquarium lamp", None, character, 14.2, &["r3"]);
    c.evidence.clear();
    match character {
        Character::None => {
            c.excess_db = Some(0.1);
            c.excess_ci_db = Some([-0.2, 0.4]);
            c.total_excess_db = Some(0.1);
            c.snr_loss_db = Some(0.1);
        }
        Character::Clicks => {
            // The mean power of clicks is part of the excess.
            c.excess_db = Some(8.1);
            c.excess_ci_db = Some([7.7, 8.6]);
            c.total_excess_db = Some(8.2);
            c.snr_loss_db = Some(8.1);
            c.pulse_rate_hz = Some(0.8);
            c.pulses_regular = Some(true);
            c.pulse_period_s = Some(1.25);
            c.pulse_period_ci_s = Some([1.247, 1.253]);
        }
        Character::Carriers | Character::Comb => {
            c.excess_db = Some(0.1);
            c.excess_ci_db = Some([-0.2, 0.4]);
            c.total_excess_db = Some(6.2);
            c.snr_loss_db = Some(0.1);
            c.added_lines = vec![
                added_line(1234.5, -40.0, 30.0),
                added_line(1407.8, -42.0, 28.0),
                added_line(1581.1, -44.0, 26.0),
            ];
            c.comb = (character == Character::Comb).then_some(CombResult {
                spacing_hz: 173.3,
                lines: 3,
                offset_hz: 21.4,
            });
        }
        Character::Mixed => {
            c.mains_rate_hz = Some(100.0);
            c.added_lines = vec![added_line(1234.5, -40.0, 30.0)];
            c.parts = vec![
                Part { character: Character::Buzz, share: 0.61 },
                Part { character: Character::Carriers, share: 0.39 },
            ];
            c.total_excess_db = Some(16.3);
        }
        _ => {}
    }
    c
}

const KINDS: [Character; 8] = [
    Character::None,
    Character::Hash,
    Character::Buzz,
    Character::Clicks,
    Character::Carriers,
    Character::Comb,
    Character::Mixed,
    Character::Unclear,
];

/// A line each: headline, then sentence.
fn told(contrasts: impl IntoIterator<Item = ContrastResult>) -> String {
    let report = Report { contrasts: vec![], ..sample_report() };
    contrasts.into_iter().map(|c| format!("{}\n  - {}\n", headline(&c), sentence(&c, &report))).collect()
}

fn clipped(c: ContrastResult, trust: Trust) -> ContrastResult {
    let warnings = vec![Warning::new(Code::Clipped, "m"), Warning::new(Code::LossyCodec, "m")];
    ContrastResult { trust, warnings, ..c }
}

#[test]
fn what_is_sound_and_sure_is_stated() {
    assert_snapshot!(told(KINDS.map(of)), @"
    Aquarium lamp: no change found, limit 0.3 dB
      - No change with the aquarium lamp on: a rise of 0.3 dB would have shown.
    Aquarium lamp: +14.2 dB of hash
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: broadband hash.
    Aquarium lamp: +14.2 dB of buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: hash that pulses 100 times a second (twice the 50 Hz mains).
    Aquarium lamp: clicks, one every 1.25 s, +8.1 dB on average
      - With the aquarium lamp on, there are clicks, one every 1.250 s, ±3 ms; on average they raise the noise by 8.1 dB (7.7 to 8.6).
    Aquarium lamp: 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: 3 single carriers (birdies), the strongest at 1234.5 Hz; with its carriers the power rises by 6.2 dB in all, while the noise between them shows no sure change.
    Aquarium lamp: 3 carriers every 173.3 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: a family of 3 carriers every 173.3 Hz; with its carriers the power rises by 6.2 dB in all, while the noise between them shows no sure change.
    Aquarium lamp: +14.2 dB, mixed noise
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz; with its carrier, 16.3 dB in all.
    Aquarium lamp: +14.2 dB, kind unclear
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), but of what kind it is can't be told: the figures fit no single kind.
    ");
}

#[test]
fn what_is_doubtful_never_sounds_certain() {
    assert_snapshot!(told(KINDS.map(|k| clipped(of(k), Trust::Doubtful))), @"
    Aquarium lamp: no change found, doubtful
      - Doubtful, because of clipping and a lossy codec: no change with the aquarium lamp on: one of less than 0.3 dB would not have shown. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: +14.2 dB of hash, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, the noise seems to rise by about 14.2 dB: probably broadband hash. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: +14.2 dB of buzz at 100 Hz, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, the noise seems to rise by about 14.2 dB: probably hash that pulses 100 times a second (twice the 50 Hz mains). To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: clicks, one every 1.25 s, +8.1 dB on average, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, there seems to be something new: probably clicks, one every 1.250 s, ±3 ms; on average they seem to raise the noise by about 8.1 dB. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, there seems to be something new: probably 3 single carriers (birdies), the strongest at 1234.5 Hz; with its carriers the power seems to rise by about 6.2 dB in all, while the noise between them shows no sure change. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: 3 carriers every 173.3 Hz, +6.2 dB in all, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, there seems to be something new: probably a family of 3 carriers every 173.3 Hz; with its carriers the power seems to rise by about 6.2 dB in all, while the noise between them shows no sure change. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: +14.2 dB, mixed noise, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, the noise seems to rise by about 14.2 dB: probably a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz; with its carrier, 16.3 dB in all. To settle it, turn the recorder's input down; then record WAV or FLAC.
    Aquarium lamp: +14.2 dB, kind unclear, doubtful
      - Doubtful, because of clipping and a lossy codec: with the aquarium lamp on, the noise seems to rise by about 14.2 dB, but of what kind it is can't be told. To settle it, turn the recorder's input down; then record WAV or FLAC.
    ");
}

#[test]
fn what_is_void_gives_no_figure_whatever_the_kind() {
    assert_snapshot!(told([clipped(of(Character::Buzz), Trust::Void)]), @"
    Aquarium lamp: no result, the comparison is void
      - No result for the aquarium lamp: the comparison is void because of clipping and a lossy codec. That says neither noise nor quiet. To get a result, turn the recorder's input down; then record WAV or FLAC.
    ");
    for kind in KINDS {
        let text = told([clipped(of(kind), Trust::Void)]);
        assert!(!text.contains(|c: char| c.is_ascii_digit()) && text.contains("No result"), "{kind:?}: {text}");
    }
}

#[test]
fn a_kind_that_is_not_sure_is_called_probable_then_possible() {
    let buzz = |confidence| ContrastResult { confidence, ..of(Character::Buzz) };
    assert_snapshot!(told([0.9, 0.89, 0.7, 0.69, 0.0].map(buzz)), @"
    Aquarium lamp: +14.2 dB of buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: hash that pulses 100 times a second (twice the 50 Hz mains).
    Aquarium lamp: +14.2 dB, probably buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: probably hash that pulses 100 times a second (twice the 50 Hz mains).
    Aquarium lamp: +14.2 dB, probably buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: probably hash that pulses 100 times a second (twice the 50 Hz mains).
    Aquarium lamp: +14.2 dB, perhaps buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: perhaps hash that pulses 100 times a second (twice the 50 Hz mains), but the kind is far from sure.
    Aquarium lamp: +14.2 dB, perhaps buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: perhaps hash that pulses 100 times a second (twice the 50 Hz mains), but the kind is far from sure.
    ");
    assert_snapshot!(told(KINDS.map(|k| ContrastResult { confidence: 0.4, ..of(k) })), @"
    Aquarium lamp: no change found, limit 0.3 dB
      - No change with the aquarium lamp on: a rise of 0.3 dB would have shown, and even that is far from sure.
    Aquarium lamp: +14.2 dB, perhaps hash
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: perhaps broadband hash, but the kind is far from sure.
    Aquarium lamp: +14.2 dB, perhaps buzz at 100 Hz
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: perhaps hash that pulses 100 times a second (twice the 50 Hz mains), but the kind is far from sure.
    Aquarium lamp: perhaps clicks, one every 1.25 s, +8.1 dB on average
      - With the aquarium lamp on, there is something new: perhaps clicks, one every 1.250 s, ±3 ms, but the kind is far from sure; on average they raise the noise by 8.1 dB (7.7 to 8.6).
    Aquarium lamp: perhaps 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: perhaps 3 single carriers (birdies), the strongest at 1234.5 Hz, but the kind is far from sure; with its carriers the power rises by 6.2 dB in all, while the noise between them shows no sure change.
    Aquarium lamp: perhaps 3 carriers every 173.3 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: perhaps a family of 3 carriers every 173.3 Hz, but the kind is far from sure; with its carriers the power rises by 6.2 dB in all, while the noise between them shows no sure change.
    Aquarium lamp: +14.2 dB, perhaps mixed noise
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: perhaps a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz, but the kind is far from sure; with its carrier, 16.3 dB in all.
    Aquarium lamp: +14.2 dB, kind unclear
      - With the aquarium lamp on, the noise rises by 14.2 dB (13.9 to 14.5), but of what kind it is can't be told: the figures fit no single kind.
    ");
}

#[test]
fn a_figure_that_could_not_be_had_is_not_replaced_by_a_guess() {
    let without = |k| ContrastResult { excess_db: None, excess_ci_db: None, ..of(k) };
    assert_snapshot!(told(KINDS.map(without)), @"
    Aquarium lamp: can't be told from these takes
      - No new line was found with the aquarium lamp on, but the noise could not be compared.
    Aquarium lamp: hash, dB not measurable
      - With the aquarium lamp on, there is something new: broadband hash; how many dB it adds could not be measured.
    Aquarium lamp: buzz at 100 Hz, dB not measurable
      - With the aquarium lamp on, there is something new: hash that pulses 100 times a second (twice the 50 Hz mains); how many dB it adds could not be measured.
    Aquarium lamp: clicks, one every 1.25 s, dB not measurable
      - With the aquarium lamp on, there are clicks, one every 1.250 s, ±3 ms; how many dB they add on average could not be measured.
    Aquarium lamp: 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: 3 single carriers (birdies), the strongest at 1234.5 Hz; with its carriers the power rises by 6.2 dB in all, while the noise between them could not be compared.
    Aquarium lamp: 3 carriers every 173.3 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: a family of 3 carriers every 173.3 Hz; with its carriers the power rises by 6.2 dB in all, while the noise between them could not be compared.
    Aquarium lamp: mixed noise, +16.3 dB in all
      - With the aquarium lamp on, there is something new: a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz; with its carrier the power rises by 16.3 dB in all, while the noise between the lines could not be compared.
    Aquarium lamp: can't be told from these takes
      - What the noise does with the aquarium lamp on can't be told: the figures fit no single kind.
    ");
    let nothing = ContrastResult { total_excess_db: None, detection_limit_db: None, ..without(Character::None) };
    let limitless = ContrastResult { detection_limit_db: None, ..of(Character::None) };
    let no_interval = ContrastResult { excess_ci_db: None, ..of(Character::Hash) };
    assert_snapshot!(told([nothing, limitless, no_interval]), @"
    Aquarium lamp: can't be told from these takes
      - No new line was found with the aquarium lamp on, but the noise could not be compared.
    Aquarium lamp: no change found
      - No change with the aquarium lamp on: how small a rise would have shown is not known.
    Aquarium lamp: +14.2 dB of hash
      - With the aquarium lamp on, the noise rises by 14.2 dB (interval not known), about two and a half S-units: broadband hash.
    ");
}

#[test]
fn a_small_excess_without_interval_and_limit_is_no_rise() {
    let bare = |excess| ContrastResult {
        excess_db: Some(excess),
        excess_ci_db: None,
        detection_limit_db: None,
        ..of(Character::Hash)
    };
    assert!(matches!(bare(0.9).change(), Change::NotSure(..)));
    assert!(matches!(bare(1.1).change(), Change::Up(..)));
}

#[test]
fn a_fall_is_not_told_as_a_rise() {
    let fallen = |k| ContrastResult { excess_db: Some(-2.1), excess_ci_db: Some([-2.4, -1.8]), ..of(k) };
    assert_snapshot!(told([Character::Hash, Character::None, Character::Carriers, Character::Mixed].map(fallen)), @"
    Aquarium lamp: −2.1 dB, quieter when on
      - With the aquarium lamp on, the noise reads 2.1 dB (1.8 to 2.4) lower. A device seldom takes noise away: look for a gain that moved (AGC), swapped labels, or another noise that stopped meanwhile.
    Aquarium lamp: −2.1 dB, quieter when on
      - With the aquarium lamp on, the noise reads 2.1 dB (1.8 to 2.4) lower. A device seldom takes noise away: look for a gain that moved (AGC), swapped labels, or another noise that stopped meanwhile.
    Aquarium lamp: 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all
      - With the aquarium lamp on, there is something new: 3 single carriers (birdies), the strongest at 1234.5 Hz; with its carriers the power rises by 6.2 dB in all, while the noise between them reads 2.1 dB (1.8 to 2.4) lower.
    Aquarium lamp: mixed noise, +16.3 dB in all
      - With the aquarium lamp on, there is something new: a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz; with its carrier the power rises by 16.3 dB in all, while the noise between the lines reads 2.1 dB (1.8 to 2.4) lower.
    ");
    let slight = ContrastResult { excess_db: Some(-0.2), excess_ci_db: Some([-0.3, -0.1]), ..of(Character::None) };
    assert!(told([slight]).contains("no change found"), "a fall below the limit is no finding");
}

/// No rise or fall is stated of a size that the same report says would not have been noticed.
#[test]
fn a_change_below_the_limit_is_not_stated() {
    for (excess_db, ci) in [(0.25, [0.05, 0.45]), (-0.25, [-0.45, -0.05])] {
        let small = |k| ContrastResult { excess_db: Some(excess_db), excess_ci_db: Some(ci), ..of(k) };
        for kind in KINDS {
            let text = told([small(kind)]);
            assert!(!text.contains("the noise rises") && !text.contains("raise the noise by"), "{kind:?}: {text}");
            assert!(!text.contains("lower"), "{kind:?}: {text}");
        }
    }
}

#[test]
fn an_interval_that_includes_zero_is_no_rise() {
    let small = |k| ContrastResult {
        excess_db: Some(0.2),
        excess_ci_db: Some([-0.3, 0.7]),
        snr_loss_db: Some(0.2),
        total_excess_db: Some(0.3),
        ..of(k)
    };
    assert_snapshot!(told([Character::Hash, Character::Clicks, Character::Mixed, Character::Unclear].map(small)), @"
    Aquarium lamp: +0.2 dB, no sure rise: hash
      - With the aquarium lamp on, the noise shows no sure change (0.2 dB, −0.3 to 0.7); what may be added looks like broadband hash.
    Aquarium lamp: clicks, one every 1.25 s, no sure rise on average, +0.3 dB in all
      - With the aquarium lamp on, there are clicks, one every 1.250 s, ±3 ms; on average the noise shows no sure change (0.2 dB, −0.3 to 0.7).
    Aquarium lamp: mixed noise, +0.3 dB in all
      - With the aquarium lamp on, there is something new: a mixture, 61 % in hash that pulses 100 times a second (twice the 50 Hz mains) and 39 % in a single carrier (birdie) at 1234.5 Hz; the noise between the lines shows no sure change.
    Aquarium lamp: +0.2 dB, unclear
      - With the aquarium lamp on, the noise shows no sure change (0.2 dB, −0.3 to 0.7); whether something came with it can't be told: the figures fit no single kind.
    ");
}

#[test]
fn a_remedy_is_named_and_what_is_left_is_still_there() {
    let remedied = |k| ContrastResult { remedy: Some("linear supply".into()), ..of(k) };
    assert_snapshot!(told([Character::None, Character::Buzz, Character::Carriers].map(remedied)), @"
    Aquarium lamp (linear supply): no change found, limit 0.3 dB
      - No change with the aquarium lamp on (remedy: linear supply): a rise of 0.3 dB would have shown.
    Aquarium lamp (linear supply): +14.2 dB of buzz at 100 Hz
      - With the aquarium lamp on (remedy: linear supply), the noise still rises by 14.2 dB (13.9 to 14.5), about two and a half S-units: hash that pulses 100 times a second (twice the 50 Hz mains).
    Aquarium lamp (linear supply): 3 carriers, strongest at 1234.5 Hz, +6.2 dB in all
      - With the aquarium lamp on (remedy: linear supply), this is added: 3 single carriers (birdies), the strongest at 1234.5 Hz; with its carriers the power still rises by 6.2 dB in all, while the noise between them shows no sure change.
    ");
}

/// An AGC that holds all levels alike hides any device: where neither label nor carrier rules it out, that is said.
#[test]
fn no_change_is_claimed_only_as_far_as_the_gain_is_known() {
    let mut report = sample_report();
    let caveat = "if AGC was off (the labels don't say)";
    for told in [true, false] {
        let unknown = Warning::new(Code::GainUnknown, "nothing shows that the gain was fixed");
        report.contrasts.truncate(1);
        report.contrasts[0] = ContrastResult { warnings: vec![unknown], ..of(Character::None) };
        report.contrasts[0].warnings.truncate(usize::from(told));
        assert_eq!(sentence(&report.contrasts[0], &report).contains(caveat), told);
        assert_eq!(
            crate::report::details_markdown(&report).contains("nothing shows that the gain was fixed"),
            told
        );
        assert_eq!(crate::report::post(&report).contains("nothing shows that AGC was off"), told);
        assert_eq!(crate::report::markdown(&report).contains("if AGC was off: the labels don't say"), told);
    }
}

/// What stands alone is said, and what one take more would settle.
#[test]
fn a_state_recorded_once_is_said() {
    let alone = |off: usize, on: usize| {
        let mut c = ContrastResult { trust: Trust::Unrepeated, ..of(Character::Hash) };
        (c.off, c.on) = (vec!["r1".into(); off], vec!["r2".into(); on]);
        sentence(&c, &sample_report())
    };
    assert!(alone(1, 1).contains("Off and on stand alone: one more of each would tell it"), "{}", alone(1, 1));
    assert!(alone(1, 2).contains("Off stands alone: one more"), "{}", alone(1, 2));
    assert!(alone(3, 1).contains("On stands alone: one more"), "{}", alone(3, 1));
}

#[test]
fn an_off_recording_set_aside_is_no_reason_for_doubt() {
    let aside = Warning::new(Code::SetAside, "m");
    let mut doubtful = clipped(of(Character::Hash), Trust::Doubtful);
    doubtful.warnings.insert(0, aside);
    assert!(sentence(&doubtful, &sample_report()).starts_with("Doubtful, because of clipping and a lossy codec: "));
}

/// The noise between clicks is not known where the excess is their mean.
#[test]
fn a_mixture_with_clicks_is_told_as_a_mean() {
    let mixed = ContrastResult { pulse_rate_hz: Some(2.0), ..of(Character::Mixed) };
    let text = told([mixed.clone()]);
    assert!(text.contains("mixed noise with clicks, +14.2 dB on average\n"), "{text}");
    assert!(text.contains("rises by 14.2 dB (13.9 to 14.5) on average, clicks included: a mixture"), "{text}");
    let small = ContrastResult { excess_ci_db: Some([-0.3, 0.7]), excess_db: Some(0.2), ..mixed };
    assert!(told([small]).contains("on average the noise between the lines shows no sure change"));
}

#[test]
fn unclear_says_why() {
    let report = Report { contrasts: vec![], ..sample_report() };
    let short = vec![Warning::new(Code::TooShort, "m")];
    let warned = ContrastResult { warnings: short, ..of(Character::Unclear) };
    assert!(sentence(&warned, &report).contains("can't be told, because of too short a recording."));
    let evidence = vec!["Two kinds fit equally well.".to_owned()];
    let shown = ContrastResult { evidence, ..of(Character::Unclear) };
    assert!(sentence(&shown, &report).ends_with("can't be told: Two kinds fit equally well."));
}

#[test]
fn reasons_come_from_the_recordings_where_the_contrast_names_none() {
    let mut report = sample_report();
    report.contrasts[4].warnings.clear();
    assert!(sentence(&report.contrasts[4], &report).contains("void because of clipping"));
}

#[test]
fn a_label_keeps_the_article_it_brings() {
    let report = sample_report();
    for (device, said) in [
        ("lamp", "with the lamp on"),
        ("The lamp", "with The lamp on"),
        ("my lamp", "with my lamp on"),
        ("neighbour's pump", "with neighbour's pump on"),
        ("", "with the device on"),
    ] {
        let contrast = ContrastResult { device: device.into(), ..of(Character::None) };
        assert!(sentence(&contrast, &report).contains(said), "{device}");
    }
}

#[test]
fn several_settings_are_told_apart() {
    let mut report = sample_report();
    report.settings.push(Setting { id: "s2".into(), dial_khz: Some(7_000.0), ..report.settings[0].clone() });
    report.contrasts[1].setting = "s2".into();
    assert!(sentence(&report.contrasts[0], &report).starts_with("With the pond pump on (14.1 MHz), "));
    assert!(sentence(&report.contrasts[1], &report).contains("(remedy: ferrite ring; 7.0 MHz)"));
}

/// A family and a carrier beside it are no "noise", and the carrier is not counted among the family.
#[test]
fn a_family_with_a_carrier_beside_it() {
    let family = of(Character::Comb);
    let mut c = ContrastResult { character: Character::Mixed, ..family };
    c.added_lines.push(added_line(1999.0, -39.0, 31.0));
    c.parts = vec![
        Part { character: Character::Carriers, share: 0.55 },
        Part { character: Character::Comb, share: 0.45 },
    ];
    assert_snapshot!(told([c]), @r"
    Aquarium lamp: 3 carriers every 173.3 Hz and 1 more, +6.2 dB in all
      - With the aquarium lamp on, there is something new: a family of 3 carriers every 173.3 Hz, and 1 carrier beside it; with its carriers the power rises by 6.2 dB in all, while the noise between the lines shows no sure change.
    ");
}

/// By construction: hash in four of twelve bands of 200 Hz, with slopes; and the same known too badly to say so.
#[test]
fn hash_in_a_part_of_the_passband_says_where() {
    let bands = |reach_db: f64| {
        let excess_db = [0.1, 0.0, -0.1, 3.0, 7.0, 7.2, 7.1, 6.9, 2.0, 0.0, 0.2, 0.1];
        let band = |(n, &excess_db): (usize, &f64)| BandExcess {
            freq_hz: 300.0 + 200.0 * n as f64,
            excess_db,
            excess_ci_db: [excess_db - reach_db, excess_db + reach_db],
        };
        excess_db.iter().enumerate().map(band).collect::<Vec<_>>()
    };
    let said = |reach_db: f64| {
        let c = ContrastResult { bands: bands(reach_db), added_lines: Vec::new(), ..of(Character::Hash) };
        sentence(&c, &sample_report())
    };
    assert!(said(0.5).contains(": hash between about 1.0 and 1.8 kHz"), "{}", said(0.5));
    assert!(said(4.0).contains(": broadband hash"), "{}", said(4.0));
}

/// Carriers that are no part of the kind are named all the same, but not in doubt.
#[test]
fn carriers_beside_a_noise_are_named() {
    let c = ContrastResult { added_lines: vec![added_line(1234.5, -50.0, 22.0)], ..of(Character::Buzz) };
    let said = |c: &ContrastResult| sentence(c, &sample_report());
    assert!(said(&c).contains("; beside it, a single carrier (birdie) at 1234.5 Hz"), "{}", said(&c));
    let doubtful = clipped(c, Trust::Doubtful);
    assert!(!said(&doubtful).contains("beside it"), "{}", said(&doubtful));
}
