//! A family of carriers over the dial in a sentence, and why none is named. Not here: tables (`markdown`).

use crate::findings::switching_comb::result::{RefusedComb, RefusedFor, SwitchingComb};
use crate::text::{and, capital, label, number};

/// Radio frequency or spacing in kHz.
pub(crate) fn khz(hz: f64, decimals: usize) -> String {
    number(hz / 1000.0, decimals)
}

/// Decimals of a spacing in kHz such that the ends of its interval differ.
pub(crate) fn spacing_decimals([low, high]: [f64; 2]) -> usize {
    let half_hz = (high - low).abs() / 2.0;
    if half_hz.is_finite() && half_hz > 0.0 { (3.0 - half_hz.log10().floor()).clamp(1.0, 6.0) as usize } else { 3 }
}

/// "Shed heater: carriers every 64.321 kHz over the dial (95 % interval …), heard at 8 places from 3.5 to 21.3 MHz."
pub(crate) fn sentence(comb: &SwitchingComb) -> String {
    let [low, high] = comb.spacing_ci_hz;
    let heard = match (comb.members.first(), comb.members.last()) {
        (Some(first), Some(last)) => format!(
            ", heard at {} places from {} to {} MHz",
            comb.members.len(),
            number(first.rf_hz / 1e6, 2),
            number(last.rf_hz / 1e6, 2)
        ),
        _ => String::new(),
    };
    let who = capital(&label(&comb.device));
    let decimals = spacing_decimals(comb.spacing_ci_hz);
    let spacing = khz(comb.spacing_hz, decimals);
    format!(
        "{who}: carriers every {spacing} kHz over the dial ({} to {}){heard}.",
        khz(low, decimals),
        khz(high, decimals)
    )
}

/// Why no spacing is named, and what to do.
pub(crate) fn refusal(comb: &RefusedComb) -> String {
    let who = capital(&label(&comb.device));
    match comb.reason {
        RefusedFor::TooFew => format!("{who}: too few carriers over the dial to tell a spacing."),
        RefusedFor::Chance => format!(
            "{who}: no spacing explains the carriers over the dial better than it would explain as many carriers at random."
        ),
        RefusedFor::Ambiguous => ambiguous(&who, comb),
    }
}

fn ambiguous(who: &str, comb: &RefusedComb) -> String {
    let spacings: Vec<String> = comb.candidates.iter().take(3).map(|c| khz(c.spacing_hz, 2)).collect();
    let could = and(&spacings).replace(" and ", " or ");
    let tell = match &comb.listen_at {
        Some(at) => format!(
            " Listen at {} kHz (± {} Hz) to tell: a carrier there means {} kHz, none there speaks for {} kHz.",
            khz(at.rf_hz, 1),
            number(at.within_hz.max(1.0), 0),
            khz(at.carrier_means_hz, 2),
            khz(at.silence_means_hz, 2)
        ),
        None => " Record carriers at more dial settings, far from these, to tell.".to_owned(),
    };
    format!("{who}: the spacing of the carriers over the dial could be {could} kHz.{tell}")
}
