//! Stretches of a night in which a device made clicks that leave the noise level as it is: an electric fence, a
//! thermostat that arcs, the ticks of a motor.
//!
//! Told by their beat (`beats`), or by their number where they keep none (`rates`). Static crashes are long, come in
//! flocks and are of all strengths; syllables and the tops of a buzz have no quiet around them, so the pass has left
//! most of them out. Not here: finding single clicks (`pass::ticks`), and whether a comparison confirms them
//! (`compared`).

mod beats;
mod rates;
#[cfg(test)]
mod tests;

pub(crate) use beats::ON_BEAT_S;

use crate::night::Timeline;
use crate::night::episodes::runs::{Run, Spotted};
use crate::night::lines::standing::come_and_go_together;
use crate::signal::spectrum::statistics::median;
use crate::units::Estimate;

/// What begins or ends this close to an end of the recording was there before or after it, beside one period of its
/// beat (chosen: two steps).
const AT_THE_END_S: f64 = 2.0;
/// An end that may lie this much further out is told as unsure. Chosen: some pulses; of the weak ones two or three in a
/// row drown.
const UNSURE_FROM_S: f64 = 10.0;
/// A step whose noise stands so far over the quieter half of the run's hides clicks. Chosen: of pulses 15 dB over
/// the noise those that remain above the limit of the pass, in a noise that moves within a step.
const HIDING_DB: f64 = 3.0;

/// A click in a run.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Click {
    /// Seconds from the run's start.
    at_s: f64,
    /// Its largest sample over the noise's standard deviation.
    sigmas: f64,
}

/// The clicks of a run, and where something louder may hide them.
struct RunClicks {
    /// In order of time.
    clicks: Vec<Click>,
    /// At even steps: whether noise, a station or a voice may hide a click.
    hidden: Vec<bool>,
    /// Whether louder noise does, or what was not recorded.
    drowned: Vec<bool>,
    step_s: f64,
    seconds: f64,
}

/// A stretch with clicks.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    /// Seconds from the run's start.
    start_s: f64,
    end_s: f64,
    /// From one click to the next, on average.
    period_s: f64,
    /// The same where they keep a beat, with its interval.
    beat: Option<Estimate>,
    /// How much earlier it may have begun and how much later ended, where something hides its clicks.
    unsure_s: [f64; 2],
}

/// All stretches of all runs that belong to none of the noises, in order of their begin.
pub(crate) fn spot(night: &Timeline, runs: &[Run], noises: &[Spotted]) -> Vec<Spotted> {
    let mut found = Vec::new();
    for (at, run) in runs.iter().enumerate().filter(|(_, run)| run.is_long()) {
        for one in RunClicks::of(night, run).stretches() {
            let beside_s = AT_THE_END_S + one.period_s;
            let spotted = Spotted {
                run: at,
                start_s: run.span_s.0 + one.start_s,
                end_s: run.span_s.0 + one.end_s,
                jump_db: None,
                from_before: one.start_s < beside_s,
                until_after: run.span_s.1 - run.span_s.0 - one.end_s < beside_s,
                of_clicks: true,
                beat: one.beat,
                unsure_s: one.unsure_s.map(|unsure_s| if unsure_s >= UNSURE_FROM_S { unsure_s } else { 0.0 }),
            };
            let always = spotted.from_before && spotted.until_after;
            let is_own = noises.iter().any(|noise| noise.run == at && come_and_go_together(noise, &spotted));
            found.extend((!always && !is_own).then_some(spotted));
        }
    }
    found
}

impl RunClicks {
    fn of(night: &Timeline, run: &Run) -> Self {
        let step_s = run.passages.first().map_or(1.0, |&at| night.passages[at].grid.step_s());
        let seconds = run.span_s.1 - run.span_s.0;
        let mut noise = vec![f64::NAN; (seconds / step_s).ceil() as usize + 1];
        let mut hidden = vec![true; noise.len()];
        let mut drowned = hidden.clone();
        let mut clicks: Vec<Click> = Vec::new();
        for passage in run.passages.iter().map(|&at| &night.passages[at]) {
            for (at_s, step) in passage.timed_steps() {
                let place = ((at_s - run.span_s.0) / step_s).round().max(0.0) as usize;
                if let (Some(power), Some(slot)) = (step.noise_power(), noise.get_mut(place)) {
                    *slot = power;
                    (hidden[place], drowned[place]) = (step.holds_more(), false);
                }
            }
            clicks.extend(
                passage
                    .timed_ticks()
                    .map(|(at_s, tick)| Click { at_s: at_s - run.span_s.0, sigmas: f64::from(tick.sigmas) }),
            );
        }
        clicks.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let mut known: Vec<f64> = noise.iter().copied().filter(|power| power.is_finite()).collect();
        if !known.is_empty() {
            let hiding = median(&mut known) * crate::units::Db(HIDING_DB).ratio();
            for ((hidden, drowned), power) in hidden.iter_mut().zip(&mut drowned).zip(&noise) {
                *drowned |= *power > hiding;
                *hidden |= *drowned;
            }
        }
        Self { clicks, hidden, drowned, step_s, seconds }
    }

    /// On a beat, and else by their number.
    fn stretches(&self) -> Vec<Stretch> {
        let (mut found, others) = beats::beats(self);
        found.extend(rates::rates(self, &others));
        found.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        found
    }

    fn is_hidden(&self, at_s: f64) -> bool {
        self.hidden.get((at_s / self.step_s).max(0.0) as usize).copied().unwrap_or(true)
    }

    fn is_drowned(&self, at_s: f64) -> bool {
        self.drowned.get((at_s / self.step_s).max(0.0) as usize).copied().unwrap_or(true)
    }

    /// Share of a span in which clicks may be hidden.
    fn hidden_share(&self, from_s: f64, to_s: f64) -> f64 {
        self.share(&self.hidden, from_s, to_s)
    }

    /// Share of a span with louder noise.
    fn drowned_share(&self, from_s: f64, to_s: f64) -> f64 {
        self.share(&self.drowned, from_s, to_s)
    }

    fn share(&self, of: &[bool], from_s: f64, to_s: f64) -> f64 {
        let place = |at_s: f64| ((at_s / self.step_s).max(0.0) as usize).min(of.len());
        let (from, to) = (place(from_s), place(to_s));
        of[from.min(to)..to].iter().filter(|is| **is).count() as f64 / (to - from.min(to)).max(1) as f64
    }

    /// Those of a span.
    fn within(&self, from_s: f64, to_s: f64) -> &[Click] {
        within(&self.clicks, from_s, to_s)
    }
}

/// Those of some clicks, in order of time, that lie in a span.
fn within(clicks: &[Click], from_s: f64, to_s: f64) -> &[Click] {
    let place = |at_s: f64| clicks.partition_point(|click| click.at_s < at_s);
    &clicks[place(from_s)..place(to_s)]
}
