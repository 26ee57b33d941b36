//! Noise that comes for a part of the on recordings only (a thermostat, a charger that rests): the level that most
//! slices keep to may not show it, and "nothing found" would be wrong. Not here: pulses (`character::clicks`).

use super::bootstrap::level_scatter;
use super::cells::NoiseSeries;
use crate::signal::spectrum::statistics::{median, standard_deviation, steady_level};
use crate::units::in_db;

/// How far a stretch must stand above the off level: this many standard deviations of single slices, and this ratio
/// of powers (2 dB). Chosen: a whole stretch of slices above four by chance is out of the question; 2 dB is more
/// than a quiet band moves within seconds. Held by the validation bench.
const SIGMAS: f64 = 4.0;
const LEAST_RATIO: f64 = 1.585;
/// A band whose level is known no better than this from an off recording fades by itself, dB. Chosen: the least
/// detection limit with room.
const STILL_DB: f64 = 0.25;
/// Shortest stretch without a break: syllables, static crashes and clicks are shorter. Chosen so.
const LEAST_S: f64 = 2.0;
/// Share of a stretch's slices that may fall below. Chosen: single slices that scatter low must not cut a stretch
/// in two.
const BREAKS: f64 = 0.1;

/// Stretches of raised noise in the on state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surge {
    /// Share of the time, 0..1, in stretches of two seconds or more.
    pub share: f64,
    /// The longest, seconds.
    pub longest_s: f64,
    /// How far the noise in them stands above the off level, dB.
    pub excess_db: f64,
}

impl Surge {
    /// Looks for them. `None` where there are none, or where the off state has such stretches too. `gain`: what the
    /// on side's gain is above the off side's (ratio of powers).
    pub fn find(off: &[NoiseSeries], on: &[NoiseSeries], gain: f64) -> Option<Self> {
        let mut levels: Vec<f64> = off.iter().map(|series| steady_level(&series.all)).collect();
        let quiet = median(&mut levels);
        let scatter = off.iter().map(|series| typical_scatter(&series.all)).fold(0.0, f64::max);
        let limit = quiet * LEAST_RATIO.max(1.0 + SIGMAS * scatter);
        let moves = |series: &NoiseSeries| level_scatter(&series.all).sd_db > STILL_DB;
        if off.iter().any(|series| moves(series) || !stretches(series, limit).is_empty()) {
            return None;
        }
        let found: Vec<(usize, usize, &NoiseSeries)> = on
            .iter()
            .flat_map(|series| stretches(series, limit * gain).into_iter().map(move |(a, b)| (a, b, series)))
            .collect();
        let seconds = |(a, b, series): &(usize, usize, &NoiseSeries)| (b - a) as f64 * series.slice_s;
        let raised: f64 = found.iter().map(seconds).sum();
        let whole: f64 = on.iter().map(|series| series.all.len() as f64 * series.slice_s).sum();
        let mut powers: Vec<f64> =
            found.iter().flat_map(|(a, b, series)| series.all[*a..*b].iter().map(|p| p / gain)).collect();
        (!found.is_empty()).then(|| Self {
            share: raised / whole,
            longest_s: found.iter().map(seconds).fold(0.0, f64::max),
            excess_db: in_db(median(&mut powers) / quiet),
        })
    }

    /// As a sentence.
    pub fn sentence(&self) -> String {
        format!(
            "for {:.0} % of the time with the device on the noise stands {:.1} dB higher (longest stretch {:.0} \
             s), for the rest it does not: the device may come and go, or something else did. Record on and off \
             again, longer",
            100.0 * self.share,
            self.excess_db,
            self.longest_s
        )
    }
}

/// Standard deviation over level of single slices, from what is not raised.
fn typical_scatter(powers: &[f64]) -> f64 {
    let level = steady_level(powers);
    let below: Vec<f64> = powers.iter().filter(|p| **p <= level).flat_map(|p| [*p, 2.0 * level - p]).collect();
    standard_deviation(&below) / level
}

/// Stretches (from, to) of at least two seconds that stand above the limit with hardly a break.
fn stretches(series: &NoiseSeries, limit: f64) -> Vec<(usize, usize)> {
    let least = (LEAST_S / series.slice_s).ceil().max(3.0) as usize;
    let high: Vec<bool> = series.all.iter().map(|power| *power > limit).collect();
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut from = 0;
    while from < high.len() {
        if !high[from] {
            from += 1;
            continue;
        }
        let (mut to, mut low) = (from + 1, 0usize);
        for (k, is_high) in high.iter().enumerate().skip(from + 1) {
            low += usize::from(!is_high);
            if low as f64 > BREAKS * (k + 1 - from).max(2 * least) as f64 {
                break;
            }
            if *is_high {
                to = k + 1;
            }
        }
        let highs = high[from..to].iter().filter(|h| **h).count();
        if to - from >= least && highs as f64 >= (1.0 - BREAKS) * (to - from) as f64 {
            found.push((from, to));
        }
        from = to;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn series(levels: impl IntoIterator<Item = f64>) -> NoiseSeries {
        // Slices scatter by 4 %, in a fixed pattern.
        let all = levels
            .into_iter()
            .enumerate()
            .map(|(k, level)| level * (1.0 + 0.04 * ((k * 7 % 11) as f64 - 5.0) / 5.0));
        NoiseSeries { all: all.collect(), bands: Vec::new(), slice_s: 0.25 }
    }

    #[test]
    fn noise_for_a_part_of_the_time_is_seen_with_its_share_and_size() {
        let off = series([1.0; 40]);
        let on = series((0..40).map(|k| if (10..26).contains(&k) { 4.0 } else { 1.0 }));
        let surge = Surge::find(&[off], &[on], 1.0).unwrap();
        assert_abs_diff_eq!(surge.share, 0.4, epsilon = 1e-9);
        assert_abs_diff_eq!(surge.longest_s, 4.0, epsilon = 1e-9);
        assert_abs_diff_eq!(surge.excess_db, 6.02, epsilon = 0.2);
    }

    #[test]
    fn syllables_clicks_and_what_the_off_state_has_too_are_none() {
        let off = || series([1.0; 40]);
        let syllables = series((0..40).map(|k| if k % 3 == 0 { 1.0 } else { 6.0 }));
        assert_eq!(Surge::find(&[off()], &[syllables], 1.0), None);
        let click = series((0..40).map(|k| if k == 9 { 100.0 } else { 1.0 }));
        assert_eq!(Surge::find(&[off()], &[click], 1.0), None);
        let surge = || series((0..40).map(|k| if k < 12 { 4.0 } else { 1.0 }));
        assert_eq!(Surge::find(&[surge()], &[surge()], 1.0), None);
        assert_eq!(Surge::find(&[off()], &[series([2.0; 40])], 2.0), None, "a change of gain is no surge");
    }
}
