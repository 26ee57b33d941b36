//! The digest's lines on families of carriers over the dial.

use crate::findings::switching_comb::result::SwitchingComb;
use crate::findings::switching_comb::words::spacing_decimals;
use crate::text::{label, number};

/// A line a family.
pub(crate) fn digest(combs: &[SwitchingComb]) -> Vec<String> {
    let told = combs.iter().map(|comb| {
        let decimals = spacing_decimals(comb.spacing_ci_hz);
        let [low, high] = comb.spacing_ci_hz.map(|hz| number(hz / 1000.0, decimals));
        let spacing = number(comb.spacing_hz / 1000.0, decimals);
        format!("every {spacing} kHz ({low} to {high}), {} heard: {}", comb.members.len(), label(&comb.device))
    });
    told.collect()
}
