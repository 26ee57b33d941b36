//! The stretches of a night's runs in which a device stood in lines alone: from the spectra, and then by ear. And
//! all lines that stood, whoever sent them.
//!
//! Not here: how lines are followed and told from stations (`night::lines`), stretches of noise (`runs`).

use super::{Followed, LineSeries, LineStretch, SpectrumRow, Upon, followed, line_stretches};
use crate::audio::ChannelChoice;
use crate::night::compared::listen::hear;
use crate::night::compared::pieces::Piece;
use crate::night::episodes::runs::{Run, Spotted};
use crate::night::{Passage, Timeline};
use crate::signal::spectrum::statistics::welch_dof;

/// Lines that come and go this close to a noise belong to it: noise is placed to two seconds, lines to some.
/// Chosen: the two together, with room.
const SAME_EDGE_S: f64 = 6.0;
/// Longest parts that are heard: one at the begin, one in the middle, one at the end, so far from the edges.
/// Chosen: as much as is heard of an episode, and twice what its edges keep.
const HEARD_S: f64 = 60.0;
const GUARD_S: f64 = 4.0;

/// All stretches of all runs that belong to none of the noises, and upon which nothing is sent.
pub(crate) fn standing(
    night: &Timeline,
    runs: &[Run],
    noises: &[Spotted],
    channels: &[ChannelChoice],
) -> Vec<Spotted> {
    let mut found: Vec<(Spotted, Upon)> = Vec::new();
    let mut heard: Vec<Vec<(usize, Piece)>> = night.passages.iter().map(|_| Vec::new()).collect();
    for (at, run) in runs.iter().enumerate().filter(|(_, run)| run.is_long()) {
        for one in in_run(night, run, line_stretches) {
            let spotted = Spotted {
                run: at,
                start_s: run.span_s.0 + one.start_s,
                end_s: run.span_s.0 + one.end_s,
                jump_db: None,
                from_before: one.from_before,
                until_after: one.until_after,
                of_clicks: false,
                beat: None,
                unsure_s: [0.0; 2],
            };
            let is_own = noises.iter().any(|noise| noise.run == at && come_and_go_together(noise, &spotted));
            let Some(&first) = run.passages.first().filter(|_| !is_own) else { continue };
            for piece in parts(night, run, &spotted) {
                heard[piece.passage].push((found.len(), piece));
            }
            found.push((spotted, upon(&night.passages[first], &one)));
        }
    }
    // Each recording once for all: some can only be read through.
    for ((heard, passage), &channel) in heard.iter().zip(&night.passages).zip(channels) {
        let pieces: Vec<Piece> = heard.iter().map(|(_, piece)| *piece).collect();
        if !pieces.is_empty() {
            // A recording that can't be read any more is told of where its episodes are compared.
            let _ = hear(passage, channel, &pieces, |place, samples| found[heard[place].0].1.add(samples));
        }
    }
    // Something is sent upon the carrier: it is a station's. What can't be read again is taken for a device's.
    found.into_iter().filter(|(_, upon)| !upon.is_modulated()).map(|(spotted, _)| spotted).collect()
}

pub(crate) fn come_and_go_together(a: &Spotted, b: &Spotted) -> bool {
    let near = |open: [bool; 2], a: f64, b: f64| open == [true; 2] || (a - b).abs() <= SAME_EDGE_S;
    near([a.from_before, b.from_before], a.start_s, b.start_s)
        && near([a.until_after, b.until_after], a.end_s, b.end_s)
}

/// Every line that stood for two minutes or more, stations' and devices' alike, times from the beginning of the
/// night.
pub(crate) fn carriers(night: &Timeline, runs: &[Run]) -> Vec<Followed> {
    let mut all: Vec<Followed> = Vec::new();
    for run in runs.iter().filter(|run| run.is_long()) {
        all.extend(in_run(night, run, followed).into_iter().map(|line| Followed {
            first_s: run.span_s.0 + line.first_s,
            last_s: run.span_s.0 + line.last_s,
            ..line
        }));
    }
    all.sort_by(|a, b| b.power[1].total_cmp(&a.power[1]).then(a.first_s.total_cmp(&b.first_s)));
    all
}

/// What a look at a run's spectra finds.
fn in_run<T>(night: &Timeline, run: &Run, look: impl FnOnce(&LineSeries<'_>) -> Vec<T>) -> Vec<T> {
    let passages: Vec<&Passage> = run.passages.iter().map(|&at| &night.passages[at]).collect();
    let Some(first) = passages.first() else { return Vec::new() };
    let step_s = first.grid.step_s();
    let (mut noise, mut total, mut rows) = (Vec::new(), Vec::new(), Vec::new());
    for passage in &passages {
        for (at_s, step) in passage.timed_steps() {
            let place = ((at_s - run.span_s.0) / step_s).round().max(0.0) as usize;
            if place >= noise.len() {
                noise.resize(place + 1, f64::NAN);
                total.resize(place + 1, f64::NAN);
            }
            if let Some(power) = step.noise_power() {
                (noise[place], total[place]) = (power, f64::from(step.total));
            }
        }
        for row in &passage.rows {
            let (start_s, seconds) = passage.row_time(row);
            let from_s = start_s - run.span_s.0;
            let averages = (welch_dof(f64::from(row.sounding)) / 2.0).max(1.0);
            rows.push(SpectrumRow { from_s, to_s: from_s + seconds, density: &row.density, averages });
        }
    }
    // What all its recordings have in common.
    let low_hz = passages.iter().map(|passage| passage.passband.low_hz).fold(0.0, f64::max);
    let high_hz = passages.iter().map(|passage| passage.passband.high_hz).fold(f64::MAX, f64::min);
    let bins = passages.iter().map(|passage| passage.bins).min().unwrap_or(0);
    let place = |hz: f64| ((hz / first.bin_hz) as usize).min(bins);
    let band = place(low_hz) + 1..place(high_hz).max(place(low_hz) + 1);
    look(&LineSeries { rows, band, bin_hz: first.bin_hz, noise: &noise, total: &total, step_s })
}

/// What tells whether something is sent upon a carrier.
fn upon(passage: &Passage, one: &LineStretch) -> Upon {
    let passband_hz = (passage.passband.low_hz, passage.passband.high_hz);
    let others: Vec<f64> = one.freqs_hz.iter().copied().filter(|&hz| hz != one.strongest_hz).collect();
    Upon::new(passage.grid.rate_hz, one.strongest_hz, passband_hz, &others)
}

/// The parts of a stretch that are heard, in order of time.
fn parts(night: &Timeline, run: &Run, spotted: &Spotted) -> Vec<Piece> {
    let (from_s, to_s) = (spotted.start_s + GUARD_S, spotted.end_s - GUARD_S);
    let each_s = HEARD_S.min((to_s - from_s) / 3.0);
    let middle_s = (from_s + to_s - each_s) / 2.0;
    let spans = [from_s, middle_s, to_s - each_s].map(|from_s| (from_s, from_s + each_s));
    let of_passage = |&at: &usize| {
        let passage = &night.passages[at];
        let end_s = passage.start_s + passage.duration_s;
        spans.map(|(from, to)| Piece { passage: at, from_s: from.max(passage.start_s), to_s: to.min(end_s) })
    };
    run.passages.iter().flat_map(of_passage).filter(|piece| piece.seconds() > 1.0).collect()
}
