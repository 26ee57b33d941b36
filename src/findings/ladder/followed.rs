//! The carriers of a ladder, followed through its steps.

use crate::contrast::Found;
use crate::findings::ladder::result::{CarrierStep, FollowedCarrier};
use crate::findings::ladder::rungs::Rung;
use crate::findings::ladder::tracks::{Seen, Track, level_sd_db, tracks as follow};
use crate::findings::ladder::unmasked::Floor;
use crate::signal::measure::Measurement;
use crate::units::{Dbfs, SIGMAS_OF_95};

/// Carriers listed; a comb's weak members add nothing to the first of them. Chosen for a readable table.
const MOST_FOLLOWED: usize = 12;

/// The added carriers of all steps, followed; steps without figures have none.
pub(crate) fn tracks(rungs: &[Rung<'_>]) -> Vec<Track> {
    let steps: Vec<Vec<Seen>> = rungs
        .iter()
        .map(|rung| {
            let lines = rung.figures().map(|figures| figures.lines.added.as_slice()).unwrap_or_default();
            lines.iter().map(|found| seen(found, rung)).collect()
        })
        .collect();
    follow(&steps)
}

fn seen(found: &Found, rung: &Rung<'_>) -> Seen {
    let seconds: f64 = rung.on.iter().map(|m| m.duration_s).sum();
    Seen {
        freq_hz: found.line.freq_hz,
        level_db: Dbfs::from_mean_square(found.line.power).0 - rung.gain_db(),
        sd_db: level_sd_db(found.line.cnr_db_hz(), seconds),
    }
}

/// What a carrier here would have needed to be found in this step: of several recordings, in the quietest.
pub(crate) fn floor(rung: &Rung<'_>, freq_hz: f64) -> Option<Floor> {
    rung.figures()?;
    let floors = rung.on.iter().filter_map(|m| floor_of(m, freq_hz));
    let lowest = floors.min_by(|a, b| a.needed_db.total_cmp(&b.needed_db))?;
    Some(Floor { needed_db: lowest.needed_db - rung.gain_db(), ..lowest })
}

fn floor_of(measurement: &Measurement, freq_hz: f64) -> Option<Floor> {
    let slices = &measurement.slices;
    let passband = measurement.passband.filter(|p| p.contains(freq_hz))?;
    let density = *measurement.floor.get(slices.bin_of(freq_hz))?;
    Floor::of(density, slices.bin_hz, slices.averages(), passband.bins(slices.bin_hz, slices.bins).len() as f64)
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
