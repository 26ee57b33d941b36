//! When a line came and went, to a fraction of a spectrum: the one in which it came holds as much of its power as
//! it stood in it.

use super::track::{Floors, Place, Track, WHOLE};
use super::{LineSeries, LineStretch};
use crate::signal::spectrum::statistics::median;

/// Spectra next to an edge that tell a line's power there. Chosen: an odd number, of which two odd ones do not
/// move the median.
const TYPICAL_OF: usize = 5;
/// Before the spectrum in which it came, this share at most may be there, beyond chance: else it swelled. Chosen:
/// the window spreads a little of a line over the spectrum before, fading that rises in ten seconds leaves more;
/// and as chance three standard deviations, common practice.
const NOTHING: f64 = 0.2;
const SIGMAS: f64 = 3.0;

/// The line with its begin and end; `None` if it does not come and go at once.
pub(crate) fn placed(series: &LineSeries<'_>, floors: &Floors, track: &Track) -> Option<LineStretch> {
    let rows = &track.rows;
    let (first, last) = (rows.first()?, rows.last()?);
    let mut powers: Vec<f64> = rows.iter().map(|place| place.power).collect();
    let count = series.rows.len();
    // At the ends of the series an edge would have nothing on its other side.
    let (from_before, until_after) = (first.row <= 1, last.row + 2 >= count);
    let start_s = if from_before {
        series.rows[0].from_s
    } else {
        let (row, stood_s) = edge(series, floors, rows.iter(), |row, n| row.checked_sub(n))?;
        series.rows[row].to_s - stood_s
    };
    let end_s = if until_after {
        series.rows[count - 1].to_s
    } else {
        let further = |row: usize, n: usize| Some(row + n).filter(|&row| row < count);
        let (row, stood_s) = edge(series, floors, rows.iter().rev(), further)?;
        series.rows[row].from_s + stood_s
    };
    let middle_hz = rows[rows.len() / 2].bin as f64 * series.bin_hz;
    Some(LineStretch {
        start_s,
        end_s,
        from_before,
        until_after,
        power: median(&mut powers),
        freqs_hz: vec![middle_hz],
        strongest_hz: middle_hz,
    })
}

/// The first spectrum that the line fills, and how long it stood up to the inner end of it. `places`: from the edge
/// inwards; `beyond(row, n)`: n spectra further out.
fn edge<'a>(
    series: &LineSeries<'_>,
    floors: &Floors,
    places: impl Iterator<Item = &'a Place>,
    beyond: impl Fn(usize, usize) -> Option<usize>,
) -> Option<(usize, f64)> {
    let mut places: Vec<&Place> = places.take(2 * TYPICAL_OF).collect();
    let typical = median(&mut places.iter().skip(1).take(TYPICAL_OF).map(|place| place.power).collect::<Vec<_>>());
    let is_whole = |place: &&Place| place.power >= WHOLE * typical - place.sd;
    let first = places.remove(places.iter().position(is_whole)?);
    let share = |row: usize| {
        let place = Place::of(series, floors, row, first.bin);
        (place.power / typical, place.sd / typical)
    };
    let seconds = |row: usize| series.rows[row].seconds();
    let next = beyond(first.row, 1)?;
    let (before, sd) = share(next);
    let stood_s = if before > SIGMAS * sd {
        seconds(first.row) + before.clamp(0.0, 1.0) * seconds(next)
    } else {
        (first.power / typical).clamp(0.0, 1.0) * seconds(first.row)
    };
    // Further out there is nothing.
    let is_nothing = |row: usize| {
        let (share, sd) = share(row);
        share <= NOTHING + SIGMAS * sd
    };
    let mut outer = [2, 3].into_iter().filter_map(|n| beyond(first.row, n));
    outer.all(is_nothing).then_some((first.row, stood_s))
}
