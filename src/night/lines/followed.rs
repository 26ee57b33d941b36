//! Lines through the whole night, whoever sends them: where each stood, for how long, how strong and how even.

use super::track::{Floors, Track, tracks};
use super::{LEAST_ROWS, LineSeries};
use crate::signal::spectrum::statistics::{median, quantile};
use crate::units::in_db;

/// A line that comes again this near to where it was is the same one, bins. Chosen: half the main lobe of a Hann
/// window.
const SAME_PLACE: usize = 2;
/// Least time in all: long enough that a voice's overtones seldom are so smooth by chance (chosen).
const LEAST_S: f64 = 120.0;
/// From one spectrum to the next a tone's power moves by less than this in half of all steps, beyond chance, dB:
/// fading is slower, a voice's overtones move by twice as much (chosen).
const SMOOTH_DB: f64 = 0.8;
/// Least power over the noise in the passband, as the middle of the night has it: some 17 dB-Hz in 2.4 kHz
/// (chosen).
const LEAST_SHARE: f64 = 0.02;
/// How near a sideband stands to its line, and the most of that one's power that it has (a key's first sidebands:
/// a tenth). Chosen: the reach of keying's sidebands, as `track::BESIDE_HZ` has it, and twice that power.
const SIDEBAND_HZ: f64 = 40.0;
const SIDEBAND_POWER: f64 = 0.2;
/// Places at either end that tell where it was then. Chosen: the median of three passes over one that is wrong.
const END_ROWS: usize = 3;

/// A line that stood for two minutes or more in all.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    /// When it was first seen, seconds from the start of the series.
    pub first_s: f64,
    /// When it was last seen.
    pub last_s: f64,
    /// How long it stood in between.
    pub stood_s: f64,
    /// Where it stood at first and at last, Hz, to half a bin.
    pub place_hz: (f64, f64),
    /// Power while it stood, FS²: a tenth of the time below the first, half below the second, a tenth above the
    /// third.
    pub power: [f64; 3],
}

/// All of them, the strongest first.
pub fn followed(series: &LineSeries<'_>) -> Vec<Followed> {
    if series.rows.is_empty() || series.band.is_empty() {
        return Vec::new();
    }
    let floors = Floors::of(series);
    let mut pieces: Vec<Track> = tracks(series, &floors).into_iter().filter(is_tone).collect();
    pieces.sort_by_key(|track| (track.rows[0].row, track.rows[0].bin));
    let mut noise: Vec<f64> = series.noise.iter().copied().filter(|power| power.is_finite()).collect();
    let least = LEAST_SHARE * if noise.is_empty() { f64::INFINITY } else { median(&mut noise) };
    let mut found: Vec<Followed> =
        joined(pieces).iter().map(|line| of(series, line)).filter(|line| line.stood_s >= LEAST_S).collect();
    found.retain(|line| line.power[1] >= least);
    found.sort_by(|a, b| b.power[1].total_cmp(&a.power[1]).then(a.first_s.total_cmp(&b.first_s)));
    without_sidebands(found)
}

/// Without what is much weaker and stands beside a line while that stands: keying, and a voice's low tones.
fn without_sidebands(found: Vec<Followed>) -> Vec<Followed> {
    let mut kept: Vec<Followed> = Vec::new();
    for line in found {
        let is_sideband = kept.iter().any(|other| {
            (other.place_hz.0 - line.place_hz.0).abs() <= SIDEBAND_HZ
                && line.power[1] < SIDEBAND_POWER * other.power[1]
                && line.first_s < other.last_s
                && line.last_s > other.first_s
        });
        if !is_sideband {
            kept.push(line);
        }
    }
    kept
}

/// Whether it is long enough and as smooth as a tone, and no overtone of a voice.
fn is_tone(track: &Track) -> bool {
    if track.rows.len() < LEAST_ROWS {
        return false;
    }
    // The first and the last may be filled in part.
    let inner = &track.rows[1..track.rows.len() - 1];
    let db = |ratio: f64| in_db(ratio.max(f64::MIN_POSITIVE));
    let mut steps: Vec<f64> = inner.windows(2).map(|pair| db(pair[1].power / pair[0].power).abs()).collect();
    let mut chance: Vec<f64> = inner.iter().map(|place| db(1.0 + place.sd / place.power.max(place.sd))).collect();
    median(&mut steps) <= SMOOTH_DB + median(&mut chance)
}

/// Pieces in order of time at one place belong together.
fn joined(pieces: Vec<Track>) -> Vec<Track> {
    let mut lines: Vec<Track> = Vec::new();
    for piece in pieces {
        let first = piece.rows[0];
        let before = |line: &Track| line.rows.last().map(|last| (last.row, last.bin));
        let apart = |line: &&mut Track| {
            before(line).filter(|last| last.0 < first.row).map_or(usize::MAX, |last| last.1.abs_diff(first.bin))
        };
        match lines.iter_mut().min_by_key(|line| apart(line)).filter(|line| apart(line) <= SAME_PLACE) {
            Some(line) => line.rows.extend(piece.rows),
            None => lines.push(piece),
        }
    }
    lines
}

fn of(series: &LineSeries<'_>, line: &Track) -> Followed {
    let mut powers: Vec<f64> = line.rows.iter().map(|place| place.power).collect();
    let place_hz = |places: &mut dyn Iterator<Item = usize>| {
        median(&mut places.take(END_ROWS).map(|bin| bin as f64 * series.bin_hz).collect::<Vec<_>>())
    };
    let rows = &series.rows;
    Followed {
        first_s: rows[line.rows[0].row].from_s,
        last_s: line.rows.last().map_or(0.0, |place| rows[place.row].to_s),
        stood_s: line.rows.iter().map(|place| rows[place.row].to_s - rows[place.row].from_s).sum(),
        place_hz: (
            place_hz(&mut line.rows.iter().map(|place| place.bin)),
            place_hz(&mut line.rows.iter().rev().map(|place| place.bin)),
        ),
        power: [0.1, 0.5, 0.9].map(|q| quantile(&mut powers, q)),
    }
}
