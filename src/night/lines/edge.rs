//! When a line came and went, to a fraction of a spectrum: the one in which it came holds as much of its power as it stood
//! in it.

use super::track::{Floors, Place, Track};
use super::{LineSeries, LineStretch};
use crate::spectrum::statistics::median;

/// Spectra next to an edge that tell a line's power there.
const TYPICAL_OF: usize = 5;
/// A spectrum with this share of that power is whole: the edge lies in the one beside it.
const WHOLE: f64 = 0.8;
/// Before the spectrum in which it came, this share at most may be there, beyond chance: else it swelled.
const NOTHING: f64 = 0.2;
const SIGMAS: f64 = 3.0;

/// The line with its begin and end; `None` if it does not come and go at once.
pub(super) fn placed(series: &LineSeries<'_>, floors: &Floors, track: &Track) -> Option<LineStretch> {
    let rows = &track.rows;
    let (first, last) = (rows.first()?, rows.last()?);
    let mut powers: Vec<f64> = rows.iter().map(|place| place.power).collect();
    let count = series.rows.len();
    // At the ends of the series an edge would have nothing on its other side.
    let (from_before, until_after) = (first.row <= 1, last.row + 2 >= count);
    let forth: Vec<&Place> = rows.iter().collect();
    let back: Vec<&Place> = rows.iter().rev().collect();
    let start_s = match from_before {
        true => series.rows[0].from_s,
        false => series.rows[first.row].to_s - edge(series, floors, &forth, |row, n| row.checked_sub(n))?,
    };
    let end_s = match until_after {
        true => series.rows[count - 1].to_s,
        false => {
            series.rows[last.row].from_s
                + edge(series, floors, &back, |row, n| (row + n < count).then_some(row + n))?
        }
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

/// How long the line stood up to the inner end of the spectrum at which it is first seen. `rows`: from the edge inwards;
/// `beyond(row, n)`: n spectra further out.
fn edge(
    series: &LineSeries<'_>,
    floors: &Floors,
    rows: &[&Place],
    beyond: impl Fn(usize, usize) -> Option<usize>,
) -> Option<f64> {
    let first = rows[0];
    let mut inner: Vec<f64> = rows[1..].iter().take(TYPICAL_OF).map(|place| place.power).collect();
    let typical = median(&mut inner);
    let share = |row: usize| {
        let place = Place::of(series, floors, row, first.bin);
        (place.power / typical, place.sd / typical)
    };
    let seconds = |row: usize| series.rows[row].seconds();
    let own = (first.power / typical).clamp(0.0, 1.0);
    // A line that fills less of it than shows was not seen yet in the one before.
    let next = beyond(first.row, 1)?;
    let (before, sd) = share(next);
    let spilt = if own >= WHOLE && before > SIGMAS * sd { before.clamp(0.0, 1.0) } else { 0.0 };
    let stood_s = if spilt > 0.0 { seconds(first.row) } else { own * seconds(first.row) } + spilt * seconds(next);
    // Further out there is nothing.
    let is_nothing = |row: usize| {
        let (share, sd) = share(row);
        share <= NOTHING + SIGMAS * sd
    };
    let outer = [2, 3].into_iter().filter_map(|n| beyond(first.row, n));
    let clear = (own >= WHOLE || is_nothing(next)) && outer.into_iter().all(is_nothing);
    clear.then_some(stood_s)
}
