//! Where a family's next carriers stand, and where to listen to tell two families apart.

use super::{Family, Listening, Offset, Telling};
use crate::signal::spectrum::statistics::ends;

/// Most predictions of one family. Chosen: bounds memory and the table's length.
const MOST_PREDICTED: usize = 2_000;
/// A telling place lies at least so far from the other family's places: more than an SSB passband shows. Common
/// practice: filters for speech are 1.8 to 3 kHz wide.
const APART_HZ: f64 = 3_000.0;
/// A telling place is known at least so well, or it could be missed. Chosen: well within a passband for speech.
const KNOWN_HZ: f64 = 1_000.0;
/// Fundamentals and low harmonics below this are not on a short-wave receiver's dial. Common practice: medium wave
/// begins at 526.5 kHz.
const DIAL_FROM_HZ: f64 = 500_000.0;

/// A carrier that should be there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    /// Where, Hz.
    pub rf_hz: f64,
    /// How far off that may be at 95 %.
    pub within_hz: f64,
    /// Its number.
    pub harmonic: i64,
    /// Whether it was listened to and not heard.
    pub is_missing: bool,
}

/// The family's places within `bands` (low, high, Hz) that are not heard already; without bands, the neighbours of
/// the members. In order of frequency; none whose number can't be told (uncertain by a quarter of the spacing or
/// more).
pub fn predictions(family: &Family, bands: &[(f64, f64)]) -> Vec<Predicted> {
    let number = |hz: f64| (hz - family.offset_hz()) / family.last_spacing_hz();
    let mut numbers: Vec<i64> = if bands.is_empty() {
        family.members.iter().flat_map(|m| [m.harmonic - 1, m.harmonic + 1]).collect()
    } else {
        let span = |&(low, high): &(f64, f64)| number(low).ceil() as i64..=number(high).floor() as i64;
        bands.iter().flat_map(|band| span(band).take(MOST_PREDICTED)).collect()
    };
    numbers.sort_unstable();
    numbers.dedup();
    let least = if matches!(family.offset, Offset::Harmonics { .. }) { 1 } else { 0 };
    numbers
        .into_iter()
        .filter(|k| *k >= least && !family.members.iter().any(|m| m.harmonic == *k))
        .map(|k| Predicted {
            rf_hz: family.place_hz(k),
            within_hz: family.place_error_hz(k),
            harmonic: k,
            is_missing: family.missing.iter().any(|m| m.harmonic == k),
        })
        .filter(|p| p.within_hz < family.spacing_hz / 4.0 && p.rf_hz > 0.0)
        .take(MOST_PREDICTED)
        .collect()
}

/// The place nearest to what was heard where one of two families has a carrier, the other has none within an SSB
/// passband, and nobody has listened yet.
pub(crate) fn telling(one: &Family, other: &Family, listenings: &[Listening]) -> Option<Telling> {
    let members = || one.members.iter().chain(&other.members).map(|m| m.rf_hz);
    let (low, high) = ends(members());
    let low = low.max(DIAL_FROM_HZ);
    let was_heard = |hz: f64| {
        let near = |&(from, to): &(f64, f64)| (from - APART_HZ..=to + APART_HZ).contains(&hz);
        listenings.iter().any(|listening| listening.heard_hz.iter().any(near))
    };
    let mut best: Option<(f64, Telling)> = None;
    for (speaks, silent) in [(one, other), (other, one)] {
        let number = |family: &Family, hz: f64| ((hz - family.offset_hz()) / family.spacing_hz).round() as i64;
        let last = number(speaks, high).min(number(speaks, low) + 20_000);
        for k in number(speaks, low)..=last {
            let (rf_hz, within_hz) = (speaks.place_hz(k), speaks.place_error_hz(k));
            let near = number(silent, rf_hz);
            let apart = (rf_hz - silent.place_hz(near)).abs() - within_hz - silent.place_error_hz(near);
            if within_hz > KNOWN_HZ || apart < APART_HZ || was_heard(rf_hz) {
                continue;
            }
            let way = members().map(|hz| (hz - rf_hz).abs()).fold(f64::MAX, f64::min);
            if best.is_none_or(|(shortest, _)| way < shortest) {
                let (speaks_for_hz, silence_for_hz) = (speaks.spacing_hz, silent.spacing_hz);
                best = Some((way, Telling { rf_hz, within_hz, speaks_for_hz, silence_for_hz }));
            }
        }
    }
    best.map(|(_, telling)| telling)
}
