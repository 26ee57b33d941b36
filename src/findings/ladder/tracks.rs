//! Which carrier is which from step to step: a carrier is the same one when it drifted, also when all of a device's
//! carriers drifted together. Not here: finding lines (`spectrum`), drift within a recording.

use crate::contrast::{DeviceLine, WARMS_UP_HZ};
use crate::findings::ladder::Rung;
use crate::findings::ladder::floor::floor;
use crate::findings::ladder::result::{CarrierStep, FollowedCarrier};
use crate::units::{Dbfs, SIGMAS_OF_95, ratio_of_db};

/// Several carriers that move as one are looked for this far away. Chosen: a clock that all carriers are made of
/// drifts by more at a high harmonic; farther, other carriers fall into place by chance.
const COMMON_REACH_HZ: f64 = 200.0;
/// So near to where the common motion puts them. Chosen: about a bin.
const COMMON_WITHIN_HZ: f64 = 4.0;
/// So many at least must move alike, and so large a share of the fewer. Chosen: two fall into place by chance;
/// seven of ten leaves room for carriers lost in the noise.
const LEAST_ALIKE: usize = 3;
const ALIKE_SHARE: f64 = 0.7;
/// A carrier farther away than this share of the distance of the next one is taken to be that carrier. Chosen:
/// nearer to half, carriers that could be either are taken; nearer to 0, drifting ones are lost.
const CLEARLY_NEARER: f64 = 0.6;
/// Bandwidth that a line's power is summed over, Hz: five bins of 4 to 6 Hz. Chosen: the Hann window's main lobe
/// (four bins) and one for drift.
const LOBE_HZ: f64 = 25.0;

/// A carrier as one step shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Frequency.
    pub freq_hz: f64,
    /// Level, dBFS.
    pub level_db: f64,
    /// Standard deviation of the level, dB.
    pub sd_db: f64,
}

/// One carrier through all steps; `None` where it was not seen.
pub type Track = Vec<Option<Seen>>;

/// Standard deviation of a line's level, dB, from its power over the noise density (`cnr_db_hz`) and the time it
/// was heard for.
///
/// Source: a coherent estimate of a sinusoid's power P in noise of density N₀ has the relative variance 2N₀/(P·T)
/// (Cramér–Rao bound of the amplitude, Rife and Boorstyn 1974, from memory); the noise's own power in the bandwidth
/// B summed over adds B·N₀²/(P²·T). NaN where either figure is.
pub fn level_sd_db(cnr_db_hz: f64, seconds: f64) -> f64 {
    let cnr = ratio_of_db(cnr_db_hz);
    let relative = 2.0 / (cnr * seconds) + LOBE_HZ / (cnr * cnr * seconds);
    10.0 / std::f64::consts::LN_10 * relative.sqrt()
}

/// Follows carriers through steps. Each step's carriers in any order; the tracks come strongest first, by the level
/// at which each is seen first, and each has an entry a step.
///
/// A carrier missing at a step is looked for again at later ones, where it was seen last.
pub fn tracks(steps: &[Vec<Seen>]) -> Vec<Track> {
    let mut tracks: Vec<Track> = Vec::new();
    for (k, step) in steps.iter().enumerate() {
        let last: Vec<Seen> = tracks.iter().map(last_of).collect();
        let shift_hz = common_shift(&last, step);
        let taken = pairs(&last, step, shift_hz);
        for track in &mut tracks {
            track.push(None);
        }
        for (j, seen) in step.iter().enumerate() {
            match taken.iter().find(|&&(_, at)| at == j) {
                Some(&(i, _)) => tracks[i][k] = Some(*seen),
                None => {
                    let mut track = vec![None; k];
                    track.push(Some(*seen));
                    tracks.push(track);
                }
            }
        }
    }
    tracks.sort_by(|a, b| first_of(b).level_db.total_cmp(&first_of(a).level_db));
    tracks
}

fn first_of(track: &Track) -> Seen {
    // A track is begun with the carrier that was seen.
    track.iter().flatten().next().copied().unwrap_or(Seen { freq_hz: 0.0, level_db: 0.0, sd_db: 0.0 })
}

fn last_of(track: &Track) -> Seen {
    track.iter().flatten().next_back().copied().unwrap_or_else(|| first_of(track))
}

/// The motion that most carriers share, 0 where they do not.
fn common_shift(last: &[Seen], step: &[Seen]) -> f64 {
    let fewer = last.len().min(step.len());
    if fewer < LEAST_ALIKE {
        return 0.0;
    }
    let alike = |shift_hz: f64| {
        let meets = |a: &Seen| step.iter().any(|b| (a.freq_hz + shift_hz - b.freq_hz).abs() < COMMON_WITHIN_HZ);
        last.iter().filter(|a| meets(a)).count()
    };
    let shifts = last.iter().flat_map(|a| step.iter().map(move |b| b.freq_hz - a.freq_hz));
    let best = shifts.filter(|shift| shift.abs() <= COMMON_REACH_HZ).map(|shift| (alike(shift), shift));
    // The most carriers; of equals, the smallest motion: the members of a comb meet each other's places too.
    let best = best.max_by(|a, b| a.0.cmp(&b.0).then(b.1.abs().total_cmp(&a.1.abs())));
    let needed = LEAST_ALIKE.max((ALIKE_SHARE * fewer as f64).ceil() as usize);
    best.filter(|(count, _)| *count >= needed).map_or(0.0, |(_, shift)| shift)
}

/// Which carrier of `last` is which of `step`: each other's nearest, and clearly nearer than any other.
fn pairs(last: &[Seen], step: &[Seen], shift_hz: f64) -> Vec<(usize, usize)> {
    let distance = |i: usize, j: usize| (last[i].freq_hz + shift_hz - step[j].freq_hz).abs();
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut all: Vec<(usize, usize)> = (0..last.len())
        .flat_map(|i| (0..step.len()).map(move |j| (i, j)))
        .filter(|&(i, j)| distance(i, j) <= WARMS_UP_HZ)
        .collect();
    all.sort_by(|a, b| distance(a.0, a.1).total_cmp(&distance(b.0, b.1)));
    let candidates = all.clone();
    for (i, j) in all {
        if found.iter().any(|&(a, b)| a == i || b == j) {
            continue;
        }
        let rival = |&&(a, b): &&(usize, usize)| {
            (a == i) != (b == j)
                && !found.iter().any(|&(x, y)| x == a || y == b)
                && distance(i, j) > CLEARLY_NEARER * distance(a, b)
                && distance(i, j) > COMMON_WITHIN_HZ
        };
        if !candidates.iter().any(|pair| rival(&pair)) {
            found.push((i, j));
        }
    }
    found
}

/// Carriers listed; a comb's weak members add nothing to the first of them. Chosen for a readable table.
const MOST_FOLLOWED: usize = 12;

/// The added carriers of all steps, followed; steps without figures have none.
pub(crate) fn carriers(rungs: &[Rung<'_>]) -> Vec<Track> {
    let steps: Vec<Vec<Seen>> = rungs
        .iter()
        .map(|rung| {
            let lines = rung.figures().map(|figures| figures.lines.added.as_slice()).unwrap_or_default();
            lines.iter().map(|found| seen(found, rung)).collect()
        })
        .collect();
    tracks(&steps)
}

fn seen(found: &DeviceLine, rung: &Rung<'_>) -> Seen {
    let seconds: f64 = rung.on.iter().map(|m| m.duration_s).sum();
    Seen {
        freq_hz: found.line.freq_hz,
        level_db: Dbfs::from_mean_square(found.line.power).0 - rung.gain_db(),
        sd_db: level_sd_db(found.line.cnr_db_hz(), seconds),
    }
}

/// In the contract's words.
pub(crate) fn followed(rungs: &[Rung<'_>], tracks: &[Track]) -> Vec<FollowedCarrier> {
    tracks.iter().take(MOST_FOLLOWED).map(|track| carrier(rungs, track)).collect()
}

fn carrier(rungs: &[Rung<'_>], track: &Track) -> FollowedCarrier {
    let mut last: Option<Seen> = None;
    // Before it was first seen it is looked for where it stood then.
    let first_hz = track.iter().flatten().next().map_or(0.0, |seen| seen.freq_hz);
    let steps = rungs
        .iter()
        .zip(track)
        .map(|(rung, seen)| match seen {
            Some(seen) => {
                let bought = last.map(|before| (before.level_db - seen.level_db, before.sd_db.hypot(seen.sd_db)));
                last = Some(*seen);
                CarrierStep {
                    freq_hz: Some(seen.freq_hz),
                    level_db: Some(seen.level_db),
                    bought_db: bought.map(|(value, _)| value),
                    bought_ci_db: bought.map(|(value, sd)| [value - SIGMAS_OF_95 * sd, value + SIGMAS_OF_95 * sd]),
                    needed_db: None,
                }
            }
            None => {
                let place = last.map_or(first_hz, |seen| seen.freq_hz);
                CarrierStep { needed_db: floor(rung, place).map(|f| f.needed_db), ..CarrierStep::default() }
            }
        })
        .collect();
    FollowedCarrier { freq_hz: first_hz, steps }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn at(freqs: &[f64]) -> Vec<Seen> {
        freqs.iter().map(|&freq_hz| Seen { freq_hz, level_db: -50.0 - freq_hz / 1000.0, sd_db: 0.3 }).collect()
    }

    #[test]
    fn a_carrier_is_followed_through_its_drift_and_a_gap() {
        let found = tracks(&[at(&[1000.0, 1800.0]), at(&[1012.0]), at(&[1020.0, 1805.0])]);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].iter().flatten().count(), 3);
        assert_eq!(found[1][1], None);
        assert_eq!(found[1][2].unwrap().freq_hz, 1805.0);
    }

    #[test]
    fn a_family_that_moved_as_one_is_followed_as_one() {
        let found = tracks(&[at(&[500.0, 720.0, 955.0, 1400.0]), at(&[590.0, 810.0, 1045.0, 1490.0])]);
        assert_eq!(found.len(), 4);
        assert!(
            found.iter().all(|track| (track[1].unwrap().freq_hz - track[0].unwrap().freq_hz - 90.0).abs() < 1e-9)
        );
    }

    #[test]
    fn what_is_far_away_is_another_carrier_and_what_is_ambiguous_is_not_followed() {
        assert_eq!(tracks(&[at(&[1000.0]), at(&[1200.0])]).len(), 2);
        assert_eq!(tracks(&[at(&[1000.0]), at(&[990.0, 1011.0])]).len(), 3);
        assert!(tracks(&[]).is_empty());
        assert_eq!(tracks(&[vec![], vec![]]).len(), 0);
    }

    /// Source: as at the function, derived: 15 dB-Hz for 10 s has a relative variance of 2/316 + 25/(1000·10),
    /// which is 0.405 dB.
    #[test]
    fn the_level_of_a_line_is_as_sure_as_its_power_and_time_allow() {
        assert_abs_diff_eq!(level_sd_db(15.0, 10.0), 4.343 * (2.0 / 316.23f64 + 0.0025).sqrt(), epsilon = 1e-3);
    }
}
