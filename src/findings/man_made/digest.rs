//! The digest's line on the station's noise against published noise.

use crate::findings::man_made::result::StationNoise;
use crate::text::{number, signed};

/// Everything off, in the first setting that could be compared.
pub(crate) fn digest(stations: &[StationNoise]) -> Option<String> {
    let noise = stations.first()?;
    Some(format!(
        "All off: Fa {} dB +/-{}, {} dB over {} median (ITU-R P.372)",
        number(noise.off.noise_figure_db, 1),
        number(noise.tolerance_db, 0),
        signed(noise.off.over_median_db, 1),
        noise.off.nearest.word()
    ))
}
