//! Rounding of what concerns a listener; what is no finite number goes.

use super::{Digits, round, round_option, round_pair};
use crate::findings::listening::result::{Listening, ListeningCost, SignalNeeded};
use crate::findings::man_made::result::{NoiseLevel, StationNoise};

pub(crate) fn round_listening(listening: &mut Listening, digits: Digits) {
    listening.costs.iter_mut().for_each(|cost| round_cost(cost, digits));
    listening.station_noise.retain(is_finite);
    listening.station_noise.iter_mut().for_each(|noise| round_station(noise, digits));
    if let Some(target) = &mut listening.target {
        target.largest_left = target.largest_left.take().filter(|left| left.lifts_db.is_finite());
        if let Some(left) = &mut target.largest_left {
            left.lifts_db = round(left.lifts_db, digits.level);
        }
    }
}

fn round_cost(cost: &mut ListeningCost, digits: Digits) {
    for pair in
        [&mut cost.snr_loss_2500_ci_db, &mut cost.snr_loss_500_best_ci_db, &mut cost.snr_loss_500_worst_ci_db]
    {
        round_pair(pair, digits.level);
    }
    for figure in [
        &mut cost.snr_loss_2500_db,
        &mut cost.snr_loss_500_best_db,
        &mut cost.snr_loss_500_best_hz,
        &mut cost.snr_loss_500_worst_db,
        &mut cost.snr_loss_500_worst_hz,
        &mut cost.between_clicks_db,
        &mut cost.carrier_over_500_hz_db,
    ] {
        round_option(figure, digits.level);
    }
    // Below a watt a hundredth is coarse.
    round_option(&mut cost.heard_100_w_as_w, digits.fine);
    round_pair(&mut cost.heard_100_w_as_ci_w, digits.fine);
    let sound = |needed: &SignalNeeded| {
        [needed.speech_off_dbm, needed.speech_on_dbm, needed.morse_off_dbm, needed.morse_on_dbm]
            .iter()
            .all(|level| level.is_finite())
    };
    cost.signal_needed = cost.signal_needed.take().filter(sound);
    if let Some(needed) = &mut cost.signal_needed {
        for level in [
            &mut needed.speech_off_dbm,
            &mut needed.speech_on_dbm,
            &mut needed.morse_off_dbm,
            &mut needed.morse_on_dbm,
        ] {
            *level = round(*level, digits.level);
        }
    }
}

fn is_finite(noise: &StationNoise) -> bool {
    let sound = |level: &NoiseLevel| {
        [level.noise_dbm, level.noise_figure_db, level.noise_figure_ci_db[0], level.noise_figure_ci_db[1]]
            .iter()
            .all(|v| v.is_finite())
    };
    noise.freq_mhz.is_finite() && noise.bandwidth_hz.is_finite() && sound(&noise.off) && noise.on.iter().all(sound)
}

fn round_station(noise: &mut StationNoise, digits: Digits) {
    noise.freq_mhz = round(noise.freq_mhz, digits.fine.map(|places| places + 3));
    noise.bandwidth_hz = round(noise.bandwidth_hz, digits.level);
    for level in std::iter::once(&mut noise.off).chain(&mut noise.on) {
        level.noise_dbm = round(level.noise_dbm, digits.level);
        level.noise_figure_db = round(level.noise_figure_db, digits.level);
        level.noise_figure_ci_db = level.noise_figure_ci_db.map(|v| round(v, digits.level));
        level.over_median_db = round(level.over_median_db, digits.level);
    }
    for category in &mut noise.categories {
        category.median_db = round(category.median_db, digits.level);
        category.spread_upper_db = round(category.spread_upper_db, digits.level);
        category.spread_lower_db = round(category.spread_lower_db, digits.level);
    }
}
