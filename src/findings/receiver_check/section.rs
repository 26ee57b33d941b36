//! How far the band's noise lies above the receiver's own, where recordings with a dummy load tell it; and whether the
//! receiver follows its input, where an attenuator tells it.

use crate::contrast::comparison::ContrastResult;
use crate::findings::receiver_check::result::ReceiverCheckResult;
use crate::findings::receiver_check::words::sentences;
use crate::text::{Document, db, interval};

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
    use crate::report::contract::Report;
    use crate::report::sample::sample_report;

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
        assert!(crate::report::markdown(&near).contains("corrected for it the excess is 7.1 dB"));
        assert!(crate::report::markdown(&far).contains("nothing worth correcting"));
    }
}
