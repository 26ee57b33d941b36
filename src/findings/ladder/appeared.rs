//! What appears after a remedy: carriers and kinds of noise that no earlier step shows.

use crate::contrast::{Character, Figures, UNMOVED_HZ};
use crate::findings::ladder::followed as carriers;
use crate::findings::ladder::result::{Appeared, AppearedWhat};
use crate::findings::ladder::rungs::Rung;
use crate::findings::ladder::tracks::Track;
use crate::findings::ladder::unmasked::{Floor, Origin, line_origin, noise_origin};
use crate::units::Dbfs;

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
    let earlier: Vec<Floor> = rungs[..k].iter().filter_map(|rung| carriers::floor(rung, seen.freq_hz)).collect();
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
