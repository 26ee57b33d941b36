//! The figure of a family of carriers over the dial: which stretches of radio frequency, which carriers.

use crate::findings::figure_file::FigureKind;
use crate::findings::switching_comb::drawing::{CombStretch, SwitchingCombFigure};
use crate::findings::switching_comb::result::SwitchingComb;
use crate::findings::switching_comb::words::{khz, spacing_decimals};
use crate::report::pictures::names::slug;
use crate::report::pictures::{Data, Picture};
use crate::run::Tally;
use crate::text::capital;
use crate::units::counted;

/// Air beside the outermost carriers, as a share of all.
const AIR: f64 = 0.02;
/// Bands with a stretch of their own.
const MOST_BANDS: usize = 5;

/// A figure for every family.
pub(crate) fn pictures(tally: &Tally) -> Vec<Picture> {
    let combs = &tally.report.switching_combs;
    combs
        .iter()
        .enumerate()
        .map(|(at, comb)| Picture {
            file: format!("comb{}-{}dial.png", at + 1, slug(&comb.device)),
            kind: FigureKind::SwitchingComb,
            contrast: None,
            caption: format!(
                "{}: its carriers over the dial, every {} kHz.",
                capital(&comb.device),
                khz(comb.spacing_hz, 3)
            ),
            data: Data::SwitchingComb(figure(comb, &tally.session.bands_khz)),
        })
        .collect()
}

fn figure(comb: &SwitchingComb, bands_khz: &[(f64, f64)]) -> SwitchingCombFigure {
    let in_khz = |hz: f64| hz / 1000.0;
    let members_khz: Vec<f64> = comb.members.iter().map(|m| in_khz(m.rf_hz)).collect();
    let outsiders_khz: Vec<f64> = comb.outsiders.iter().copied().map(in_khz).collect();
    let missing_khz: Vec<f64> = comb.missing.iter().map(|m| in_khz(m.rf_hz)).collect();
    let all = || members_khz.iter().chain(&outsiders_khz).chain(&missing_khz).copied();
    let (low, high) = (all().fold(f64::MAX, f64::min), all().fold(f64::MIN, f64::max));
    let air = (high - low) * AIR;
    let decimals = spacing_decimals(comb.spacing_ci_hz);
    let mut stretches = vec![CombStretch {
        label: "Everything listened to".to_owned(),
        from_khz: (low - air).max(0.0),
        to_khz: high + air,
        is_labelled: false,
    }];
    stretches.extend(bands_khz.iter().take(MOST_BANDS).map(|&(low, high)| CombStretch {
        label: format!("{low} to {high} kHz"),
        from_khz: low,
        to_khz: high,
        is_labelled: true,
    }));
    SwitchingCombFigure {
        title: format!("{}: carriers every {} kHz", capital(&comb.device), khz(comb.spacing_hz, 3)),
        subtitle: format!(
            "95 % interval {} to {} kHz · {}, {} unrelated, {} listened to and not heard",
            khz(comb.spacing_ci_hz[0], decimals),
            khz(comb.spacing_ci_hz[1], decimals),
            counted(comb.members.len(), "carrier"),
            comb.outsiders.len(),
            comb.missing.len(),
        ),
        stretches,
        members_khz,
        missing_khz,
        outsiders_khz,
        // Those listened to in vain have their own mark.
        predicted_khz: comb.predicted.iter().filter(|p| !p.missing).map(|p| in_khz(p.rf_hz)).collect(),
    }
}
