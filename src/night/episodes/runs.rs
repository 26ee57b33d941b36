//! A night's recordings as runs without a gap, the noise level along each, and the stretches in which noise was
//! there.
//!
//! Not here: how a stretch is told from fading (`night::episodes`), what kind of noise it was (`compared`).

use super::{LevelSeries, stretches};
use crate::night::{Passage, Timeline};
use crate::units::{Estimate, in_db};

/// Recordings whose ends lie this close make one run: a recorder takes a moment to begin its next file. Silence as
/// short is bridged. Chosen.
const BRIDGED_S: f64 = 3.0;
/// Share of their passbands that the recordings of a run have in common: else mode or filter were changed, and with
/// them the level.
const COMMON_SHARE: f64 = 0.8;
/// In a shorter run there is nothing to tell a noise that came from a station or the band. Chosen.
const LEAST_RUN_S: f64 = 60.0;

/// Recordings that follow each other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    /// Places in the timeline, in order of time.
    pub passages: Vec<usize>,
    /// Begin and end, from the night's origin.
    pub span_s: (f64, f64),
}

impl Run {
    /// Whether it is long enough to be searched.
    pub fn is_long(&self) -> bool {
        self.span_s.1 - self.span_s.0 >= LEAST_RUN_S
    }
}

/// A stretch of a run in which a noise was there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spotted {
    /// Place of the run.
    pub run: usize,
    /// Begin, from the night's origin.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// How far the noise level jumped; `None` for what stands in lines or in clicks alone.
    pub jump_db: Option<f64>,
    /// There when the run (or what follows silence in it) began.
    pub from_before: bool,
    /// There when it ended.
    pub until_after: bool,
    /// Told by its clicks alone: neither the noise level nor lines show it.
    pub of_clicks: bool,
    /// From one click to the next where they keep a beat, s.
    pub beat: Option<Estimate>,
    /// How much earlier it may have begun and how much later ended, s; 0 where both are known.
    pub unsure_s: [f64; 2],
}

/// The runs, in order of their begin.
pub(crate) fn runs(night: &Timeline) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (at, passage) in night.passages.iter().enumerate() {
        let end_s = passage.start_s + passage.duration_s;
        let goes_on = |run: &&mut Run| {
            let last = run.passages.last().map(|&last| &night.passages[last]);
            (passage.start_s - run.span_s.1).abs() <= BRIDGED_S && last.is_some_and(|last| is_alike(last, passage))
        };
        match runs.iter_mut().find(goes_on) {
            Some(run) => {
                run.passages.push(at);
                run.span_s.1 = run.span_s.1.max(end_s);
            }
            None => runs.push(Run { passages: vec![at], span_s: (passage.start_s, end_s) }),
        }
    }
    runs
}

fn is_alike(a: &Passage, b: &Passage) -> bool {
    let widest = a.passband.width_hz().max(b.passband.width_hz());
    let common = a.passband.common(&b.passband).map_or(0.0, |common| common.width_hz());
    a.grid == b.grid && common >= COMMON_SHARE * widest
}

/// All stretches of all runs in which noise was there, in order of their begin.
pub(crate) fn spot(night: &Timeline, runs: &[Run]) -> Vec<Spotted> {
    let mut found: Vec<Spotted> = Vec::new();
    for (run, one) in runs.iter().enumerate().filter(|(_, one)| one.is_long()) {
        let in_run = stretches(Levels::of(night, one).series());
        found.extend(in_run.into_iter().map(|stretch| Spotted {
            run,
            start_s: one.span_s.0 + stretch.start_s,
            end_s: one.span_s.0 + stretch.end_s,
            jump_db: Some(stretch.jump_db),
            from_before: stretch.from_before,
            until_after: stretch.until_after,
            of_clicks: false,
            beat: None,
            unsure_s: [0.0; 2],
        }));
    }
    in_order(&mut found);
    found
}

pub(crate) fn in_order(spotted: &mut [Spotted]) {
    spotted.sort_by(|a, b| a.start_s.total_cmp(&b.start_s).then(a.end_s.total_cmp(&b.end_s)));
}

/// Noise density along a run, dB, at even steps; NaN where nothing was recorded for longer than is bridged. A
/// density, since the edges of two recordings' passbands may lie a little apart.
pub(crate) struct Levels {
    pub level_db: Vec<f64>,
    /// Where something that moves may have lifted it.
    pub lifted: Vec<bool>,
    pub step_s: f64,
}

impl Levels {
    pub fn of(night: &Timeline, run: &Run) -> Self {
        let step_s = run.passages.first().map_or(1.0, |&at| night.passages[at].grid.step_s());
        let (mut level_db, mut lifted): (Vec<f64>, Vec<bool>) = (Vec::new(), Vec::new());
        for passage in run.passages.iter().map(|&at| &night.passages[at]) {
            for (at_s, step) in passage.timed_steps() {
                let place = ((at_s - run.span_s.0) / step_s).round().max(0.0) as usize;
                if place >= level_db.len() {
                    level_db.resize(place + 1, f64::NAN);
                    lifted.resize(place + 1, false);
                }
                if let Some(noise) = step.noise_power() {
                    level_db[place] = in_db(noise / passage.passband.width_hz());
                    lifted[place] = step.holds_more();
                }
            }
        }
        bridge(&mut level_db, (BRIDGED_S / step_s).round() as usize);
        Self { level_db, lifted, step_s }
    }

    pub fn series(&self) -> LevelSeries<'_> {
        LevelSeries { level_db: &self.level_db, lifted: &self.lifted, step_s: self.step_s }
    }

    /// What the pauses of a voice tell.
    pub fn of_pauses(&self) -> Vec<f64> {
        self.series().of_pauses()
    }
}

/// Fills holes of up to `most` values with the value before them.
fn bridge(levels: &mut [f64], most: usize) {
    let mut last = None;
    for at in 0..levels.len() {
        if levels[at].is_nan() {
            continue;
        }
        if let Some(last) = last.filter(|&last| at - last - 1 <= most) {
            let value = levels[last];
            levels[last + 1..at].fill(value);
        }
        last = Some(at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_holes_are_bridged_and_long_ones_stay() {
        let nan = f64::NAN;
        let mut levels = [nan, 1.0, nan, nan, 2.0, nan, nan, nan, 3.0, nan];
        bridge(&mut levels, 2);
        let known: Vec<Option<f64>> = levels.iter().map(|v| (!v.is_nan()).then_some(*v)).collect();
        let some = Some;
        assert_eq!(known, [None, some(1.0), some(1.0), some(1.0), some(2.0), None, None, None, some(3.0), None]);
    }
}
