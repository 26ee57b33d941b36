//! What the receiver check showed, in sentences without markup and as a section; and how far the band's noise lies
//! above the receiver's own. Not here: the judgement (`solve`).

use crate::contrast::comparison::ContrastResult;
use crate::findings::receiver_check::result::{Answer, ReceiverCheckResult};
use crate::findings::receiver_check::solve::Untold;
use crate::notes::NOTES;
use crate::text::{Document, db, interval, number};

/// The whole answer.
pub fn sentences(check: &ReceiverCheckResult) -> String {
    let Some(step) = check.step_db else {
        return format!(
            "Not made: of {} recordings with the attenuator out and {} with it in, both are needed.",
            check.recordings[0], check.recordings[1]
        );
    };
    let ends = |ci: Option<[f64; 2]>| ci.map_or_else(String::new, |ci| format!(" ({})", interval(ci)));
    let mut text = format!(
        "The attenuator of {} dB, good to {}, makes a step of {}{} in the audio",
        number(check.attenuator_db, if check.attenuator_db.fract() == 0.0 { 0 } else { 1 }),
        db(check.attenuator_within_db),
        db(step),
        ends(check.step_ci_db)
    );
    if let Some(drop) = check.dummy_load_drop_db {
        text += &format!("; with the dummy load it is {}{} quieter", db(drop), ends(check.dummy_load_drop_ci_db));
    }
    if let Some(expected) = check.expected_step_db {
        text += &format!(", by which a receiver that follows its input would show {}", db(expected));
    }
    format!("{text}. {}", verdict(check))
}

fn verdict(check: &ReceiverCheckResult) -> String {
    let slope = match (check.slope, check.slope_ci) {
        (Some(slope), Some([low, high])) => {
            let ends = if high.is_finite() {
                format!(", {} to {}", number(low, 2), number(high, 2))
            } else {
                String::new()
            };
            format!(" ({} dB for each{ends})", number(slope, 2))
        }
        (Some(slope), None) if slope.is_finite() => format!(" ({} dB for each)", number(slope, 2)),
        _ => String::new(),
    };
    match check.response {
        Answer::Follows => {
            format!("The audio follows the input dB for dB{slope}{}.{}", own_noise(check), reach(check))
        }
        Answer::Compressed => NOTES.receiver_compressed.replace("{slope}", &slope),
        Answer::Expanded => NOTES.receiver_expanded.replace("{slope}", &slope),
        Answer::Untold => untold(check.why).to_owned(),
    }
}

fn own_noise(check: &ReceiverCheckResult) -> String {
    match (check.own_noise_below_db, check.own_noise_below_at_least_db) {
        (Some(below), _) if check.dummy_load_drop_db.is_some() => {
            format!(", and the receiver's own noise lies {} below", db(below))
        }
        (_, Some(least)) => format!(", and the receiver's own noise lies at least {} below", db(least)),
        _ => String::new(),
    }
}

/// An AGC has a threshold: what holds at these levels need not hold above them.
fn reach(check: &ReceiverCheckResult) -> String {
    check.seen_dbfs.map_or_else(String::new, |[low, high]| {
        format!(
            " Seen from {} to {} dBFS: of a device that is louder it tells nothing, an AGC may begin to act there.",
            number(low, 1),
            number(high, 1)
        )
    })
}

fn untold(why: Option<Untold>) -> &'static str {
    match why {
        Some(Untold::NoLoad) => &NOTES.receiver_no_load,
        Some(Untold::BandTooWeak) => &NOTES.receiver_band_too_weak,
        Some(Untold::LoadLouder) => &NOTES.receiver_load_louder,
        Some(Untold::Scatter | Untold::NoRecording) | None => &NOTES.receiver_scatter,
    }
}

/// A section of its own, where the manifest has a check.
pub(crate) fn section(doc: &mut Document, check: Option<&ReceiverCheckResult>) {
    if let Some(check) = check {
        doc.heading(2, "Receiver check");
        doc.paragraph(sentences(check));
    }
}

/// For the list of settings: where in none of the setting's comparisons the receiver matters, the smallest margin.
pub(crate) fn of_setting(contrasts: &[ContrastResult], setting: &str) -> Option<String> {
    let known = contrasts.iter().filter(|c| c.setting == setting && !c.is_void());
    let known: Vec<_> = known.filter(|c| c.receiver_margin_db.is_some()).collect();
    let least = known.iter().min_by(|a, b| {
        a.receiver_margin_db.unwrap_or(f64::MAX).total_cmp(&b.receiver_margin_db.unwrap_or(f64::MAX))
    })?;
    if known.iter().any(|c| matters(c)) {
        return None;
    }
    Some(format!("{}, so the receiver adds nothing worth correcting.", margin(least, "")?))
}

/// For one comparison, where the receiver matters.
pub(crate) fn of_contrast(c: &ContrastResult) -> Option<String> {
    let margin = margin(c, "only ").filter(|_| matters(c))?;
    let Some(corrected) = c.excess_corrected_db else {
        return Some(format!("{margin}: too near to correct the excess for it."));
    };
    let ends = c.excess_corrected_ci_db.map_or_else(String::new, |ci| format!(" ({})", interval(ci)));
    Some(format!("{margin}: corrected for it the excess is {}{ends}.", db(corrected)))
}

/// A margin that was corrected for, or should have been.
fn matters(c: &ContrastResult) -> bool {
    c.excess_corrected_db.is_some() || c.receiver_margin_db.is_some_and(|m| m < crate::contrast::CORRECTED_BELOW_DB)
}

fn margin(c: &ContrastResult, only: &str) -> Option<String> {
    let margin = c.receiver_margin_db?;
    let ends = c.receiver_margin_ci_db.map_or_else(String::new, |ci| format!(" ({})", interval(ci)));
    Some(format!("The band noise lies {only}{}{ends} above the receiver's own noise", db(margin)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(response: Answer) -> ReceiverCheckResult {
        ReceiverCheckResult {
            attenuator_db: 10.0,
            attenuator_within_db: 0.5,
            recordings: [2, 2],
            step_db: Some(4.87),
            step_ci_db: Some([4.8, 4.94]),
            response,
            ..ReceiverCheckResult::default()
        }
    }

    #[test]
    fn each_outcome_is_said_with_its_figures() {
        let follows = ReceiverCheckResult {
            dummy_load_drop_db: Some(6.0),
            dummy_load_drop_ci_db: Some([5.9, 6.1]),
            expected_step_db: Some(4.867),
            slope: Some(1.0),
            slope_ci: Some([0.93, 1.08]),
            own_noise_below_db: Some(6.0),
            seen_dbfs: Some([-51.0, -45.0]),
            ..check(Answer::Follows)
        };
        assert_eq!(
            sentences(&follows),
            "The attenuator of 10 dB, good to 0.5 dB, makes a step of 4.9 dB (4.8 to 4.9) in the audio; with the dummy load \
             it is 6.0 dB (5.9 to 6.1) quieter, by which a receiver that follows its input would show 4.9 dB. The audio \
             follows the input dB for dB (1.00 dB for each, 0.93 to 1.08), and the receiver's own noise lies 6.0 dB below. \
             Seen from −51.0 to −45.0 dBFS: of a device that is louder it tells nothing, an AGC may begin to act there."
        );
        assert!(sentences(&check(Answer::Compressed)).contains("AGC"));
        let open = ReceiverCheckResult { why: Some(Untold::NoLoad), ..check(Answer::Untold) };
        assert!(sentences(&open).ends_with("A take with the dummy load tells which."));
        assert!(sentences(&ReceiverCheckResult { step_db: None, ..check(Answer::Untold) }).starts_with("Not made"));
    }
}
