//! The station's noise against published noise, in sentences without markup: for the report and the terminal alike.

use crate::findings::man_made::p372::Standing;
use crate::findings::man_made::result::{NoiseLevel, StationNoise};
use crate::text::{db, interval, label, number};

/// Where the station stands against published noise: everything off, then the loudest device.
pub(crate) fn station(noise: &StationNoise) -> String {
    let mut text = format!(
        "With everything off the noise at {} MHz {}.",
        number(noise.freq_mhz, 3),
        stands(&noise.off, noise)
    );
    let loudest = noise.on.iter().max_by(|a, b| a.noise_figure_db.total_cmp(&b.noise_figure_db));
    if let Some(on) = loudest.filter(|on| on.noise_figure_db > noise.off.noise_figure_db) {
        text += &format!(" With the {} on, the noise {}.", on_words(on), stands(on, noise));
    }
    text
}

/// "drill charger (remedy: porch socket)".
pub(crate) fn on_words(level: &NoiseLevel) -> String {
    let remedy = level.remedy.as_deref().map_or_else(String::new, |r| format!(" (remedy: {})", label(r)));
    format!("{}{remedy}", label(level.device.as_deref().unwrap_or("device")))
}

/// "(external noise figure 49.9 dB, 46.9 to 52.9) is 0.8 dB above the median of residential places, within …".
fn stands(level: &NoiseLevel, noise: &StationNoise) -> String {
    let category = noise.categories.iter().find(|c| c.category == level.nearest);
    let spread = category.map_or_else(String::new, |c| {
        format!(" ({} below it to {} above)", db(c.spread_lower_db), db(c.spread_upper_db))
    });
    let over = level.over_median_db;
    let side = if over < 0.0 { "below" } else { "above" };
    let standing = match level.standing {
        Standing::Within => format!("within their usual spread{spread}"),
        Standing::Above => format!("louder than nine in ten of them{spread}"),
        Standing::Below => format!("quieter than nine in ten of them{spread}"),
        Standing::Borderline => {
            format!("at the edge of their usual spread{spread}, too near to it for this calibration to tell")
        }
    };
    format!(
        "(external noise figure {}, {}) is {} {side} the median of {} places in ITU-R P.372, {standing}",
        db(level.noise_figure_db),
        interval(level.noise_figure_ci_db),
        db(over.abs()),
        level.nearest.word()
    )
}
