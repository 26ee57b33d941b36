//! Carriers and kinds of noise that appear after a remedy, when a louder noise went: would it have stood above the
//! earlier noise, so that it is new, or did it lie under it all along?

use crate::contrast::{Character, Figures, UNMOVED_HZ};
use crate::findings::ladder::Rung;
use crate::findings::ladder::floor::{Floor, floor};
use crate::findings::ladder::result::{Appeared, AppearedWhat, Origin};
use crate::findings::ladder::tracks::Track;
use crate::units::Dbfs;

/// So many standard deviations away from what was needed, it is decided. Common practice: about 95 %.
const DECIDED_SIGMAS: f64 = 2.0;
/// A line that moves through more bins than this is found by another way, whose threshold is known less well.
/// Chosen: half the main lobe; so much the other way's threshold may be off.
const STILL_BINS: f64 = 2.0;
const MOVING_SD_DB: f64 = 4.0;

/// Where a line came from that stands at `level_db` (dBFS, standard deviation `sd_db`) and was not found before.
/// `moves_bins`: how many bins it moves through. `earlier`: what each earlier recording would have needed; the
/// quietest decides.
pub fn line_origin(level_db: f64, sd_db: f64, moves_bins: f64, earlier: &[Floor]) -> Origin {
    let quietest = earlier.iter().min_by(|a, b| a.needed_db.total_cmp(&b.needed_db));
    let Some(floor) = quietest else { return Origin::Unclear };
    let moving = if moves_bins > STILL_BINS { MOVING_SD_DB } else { 0.0 };
    let margin = level_db - floor.needed_db;
    let reach = DECIDED_SIGMAS * sd_db.hypot(floor.sd_db).hypot(moving);
    if margin > reach {
        Origin::New
    } else if margin < -reach {
        Origin::Unmasked
    } else {
        Origin::Unclear
    }
}

/// Where a kind of noise came from that was not among the kinds of an earlier, louder step: `power`, its own,
/// `earlier`, all that the device added before (same unit).
///
/// The limits follow from how kinds are told apart (`contrast::character`): noise that pulses in part is called a
/// buzz down to a quarter of modulation, so steady hash hides in a buzz until it is most of it; clicks and buzz are
/// seen from a quarter on. Carriers are told line by line.
pub fn noise_origin(kind: Character, power: f64, earlier: f64) -> Origin {
    let (hidden, seen) = match kind {
        Character::Hash => (0.5, 1.0),
        Character::Buzz | Character::Clicks => (0.1, 0.5),
        Character::None | Character::Carriers | Character::Comb | Character::Mixed | Character::Unclear => {
            return Origin::Unclear;
        }
    };
    let share = power / earlier;
    if share >= seen {
        Origin::New
    } else if share <= hidden {
        Origin::Unmasked
    } else {
        Origin::Unclear
    }
}

/// Told of each step; a comb that came to light has many members. Chosen for a readable list.
const MOST_OF_A_STEP: usize = 8;

/// In order of the steps, strongest first within each.
pub(crate) fn appeared(rungs: &[Rung<'_>], tracks: &[Track]) -> Vec<Appeared> {
    (1..rungs.len())
        .filter(|&k| rungs[..k].iter().any(|rung| rung.figures().is_some()))
        .flat_map(|k| {
            let lines = tracks.iter().filter_map(move |track| line(rungs, track, k));
            lines.take(MOST_OF_A_STEP).chain(noise(rungs, k)).collect::<Vec<_>>()
        })
        .collect()
}

/// A carrier first seen at step `k`.
fn line(rungs: &[Rung<'_>], track: &Track, k: usize) -> Option<Appeared> {
    let seen = track.get(k).copied().flatten().filter(|_| track[..k].iter().all(Option::is_none))?;
    let earlier: Vec<Floor> = rungs[..k].iter().filter_map(|rung| floor(rung, seen.freq_hz)).collect();
    let was_there = |rung: &Rung<'_>| {
        let lines = rung.on.iter().flat_map(|m| &m.lines);
        rung.figures().is_some() && lines.into_iter().any(|line| (line.freq_hz - seen.freq_hz).abs() < UNMOVED_HZ)
    };
    let origin = if rungs[..k].iter().any(was_there) {
        Origin::Unclear
    } else {
        line_origin(seen.level_db, seen.sd_db, moves_bins(&rungs[k], seen.freq_hz), &earlier)
    };
    Some(Appeared {
        contrast: rungs[k].plan.id.clone(),
        what: AppearedWhat::Carrier,
        freq_hz: Some(seen.freq_hz),
        level_db: Some(seen.level_db),
        needed_db: earlier.iter().map(|floor| floor.needed_db).reduce(f64::min),
        origin,
    })
}

fn moves_bins(rung: &Rung<'_>, freq_hz: f64) -> f64 {
    let lines = rung.figures().map(|figures| figures.lines.added.as_slice()).unwrap_or_default();
    let line = lines.iter().find(|found| found.line.freq_hz == freq_hz).map(|found| &found.line);
    let bin_hz = rung.on.first().map_or(f64::INFINITY, |m| m.slices.bin_hz);
    // Over a whole recording; the span itself is widened by the noise in single slices.
    let seconds = rung.on.iter().map(|m| m.duration_s).fold(0.0, f64::max);
    line.map_or(0.0, |line| line.drift_hz_per_s.abs() * seconds / bin_hz)
}

/// Kinds of noise that step `k` has and no earlier one, where the last one was louder.
fn noise(rungs: &[Rung<'_>], k: usize) -> Vec<Appeared> {
    let sure = |figures: &&Figures| figures.is_kind_probable();
    let Some(now) = rungs[k].figures().filter(sure) else { return Vec::new() };
    let earlier: Vec<&Figures> = rungs[..k].iter().filter_map(Rung::figures).collect();
    let Some(before) = earlier.last().filter(|figures| sure(figures)) else { return Vec::new() };
    let louder = noise_power(before);
    let known = |kind: Character| earlier.iter().any(|f| f.verdict.parts.iter().any(|p| p.character == kind));
    let parts = now.verdict.parts.iter().filter(|part| !known(part.character));
    parts
        .filter_map(|part| Some((AppearedWhat::noise(part.character)?, part)))
        .map(|(what, part)| (what, part.character, part.share * now.verdict.added_power))
        .filter(|(.., power)| *power < louder)
        .map(|(what, kind, power)| Appeared {
            contrast: rungs[k].plan.id.clone(),
            what,
            freq_hz: None,
            level_db: Some(Dbfs::from_mean_square(power).0),
            needed_db: None,
            origin: noise_origin(kind, power, louder),
        })
        .collect()
}

/// Added power of all kinds of noise, carriers left out, FS².
fn noise_power(figures: &Figures) -> f64 {
    let parts = figures.verdict.parts.iter().filter(|part| !part.character.is_lines());
    parts.map(|part| part.share).sum::<f64>() * figures.verdict.added_power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn far_above_is_new_far_below_unmasked_and_between_can_not_be_told() {
        let floors = [Floor { needed_db: -60.0, sd_db: 1.5 }, Floor { needed_db: -55.0, sd_db: 1.5 }];
        let at = |level_db| line_origin(level_db, 0.5, 0.0, &floors);
        assert_eq!((at(-50.0), at(-70.0), at(-59.0)), (Origin::New, Origin::Unmasked, Origin::Unclear));
        assert_eq!(
            line_origin(-55.0, 0.5, 5.0, &floors),
            Origin::Unclear,
            "a moving line's threshold is less sure"
        );
        assert_eq!(line_origin(-50.0, 0.5, 0.0, &[]), Origin::Unclear);
    }

    #[test]
    fn noise_is_judged_by_its_share_of_what_was_there() {
        assert_eq!(noise_origin(Character::Clicks, 0.05, 10.0), Origin::Unmasked);
        assert_eq!(noise_origin(Character::Buzz, 8.0, 10.0), Origin::New);
        assert_eq!(noise_origin(Character::Hash, 7.0, 10.0), Origin::Unclear);
        assert_eq!(noise_origin(Character::Hash, 0.0, 0.0), Origin::Unclear);
    }
}
