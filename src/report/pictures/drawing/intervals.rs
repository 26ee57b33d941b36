//! From one click to the next: how often each interval comes, with the beat they keep.

use plotters::prelude::Color;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// Intervals between clicks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct IntervalsFigure {
    /// The finding.
    pub title: String,
    /// What was listened to.
    pub subtitle: String,
    /// From each click to the next, s.
    pub intervals_s: Vec<f64>,
    /// The beat the clicks keep, s, with its words.
    pub beat: Option<(f64, String)>,
}

/// Bars over the whole axis. Chosen: some ten dots each, and finer than a beat's scatter matters to the eye.
const BARS: usize = 80;
/// The axis shows so many beats: at twice, three times as much clicks were missed. Chosen: the beat lies in the
/// middle of a bar.
const BEATS: f64 = BARS as f64 / 18.5;
/// Without a beat, the axis ends where this share of the intervals is shown. Chosen.
const SHOWN_SHARE: f64 = 0.97;

impl Single for IntervalsFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let intervals = self.sound();
        let Some(to_s) = self.extent(&intervals) else {
            return page.no_data(page.legend(frame, &[], sizes)?, "too few clicks to show", sizes);
        };
        let counts = counts(&intervals, to_s);
        let beyond = intervals.len() - counts.iter().sum::<usize>();
        let frame = page.legend(frame, &self.legend(sizes), sizes)?;
        let top = counts.iter().copied().max().unwrap_or(1).max(1) as f64;
        let height = frame.height() - chart::room_below(sizes);
        let head = if self.beat().is_some() { (sizes.text * 1.7 / height).min(0.4) } else { 0.02 };
        let y_words = if sizes.is_panel() { "How often" } else { "How often it came" };
        let mut y = Axis::new(0.0, top / (1.0 - head), chart::ticks_down(height, sizes), y_words);
        y.ticks.retain(|(value, _)| *value <= top && value.fract() == 0.0);
        let (per_unit, unit) = if to_s < 1.0 { (1000.0, "ms") } else { (1.0, "s") };
        let rest = if beyond > 0 { format!("; {beyond} longer not shown") } else { String::new() };
        let caption = &format!("From one click to the next ({unit}{rest})");
        let x = Axis::new(0.0, to_s * per_unit, chart::ticks_across(frame.width(), sizes), caption);
        let chart = Chart::inside(page, frame, x, y, sizes);
        chart.grid_down(true)?;
        chart.grid_across(false)?;
        let width = to_s * per_unit / BARS as f64;
        for (i, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            let from = width * i as f64;
            chart.bar((from, from + width), (0.0, *count as f64), theme::ON)?;
        }
        chart.dashes(&by_chance(&intervals, to_s, per_unit), theme::INK, sizes.curve * 0.8)?;
        self.beats(&chart, per_unit, sizes)
    }
}

impl IntervalsFigure {
    fn sound(&self) -> Vec<f64> {
        self.intervals_s.iter().copied().filter(|s| axis::is_sound(*s) && *s > 0.0).collect()
    }

    fn beat(&self) -> Option<(f64, &str)> {
        let sound = |(s, _): &&(f64, String)| axis::is_sound(*s) && *s > 1e-4;
        self.beat.as_ref().filter(sound).map(|(s, words)| (*s, words.as_str()))
    }

    fn extent(&self, intervals: &[f64]) -> Option<f64> {
        if intervals.len() < 2 {
            return None;
        }
        let mut sorted = intervals.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let most = sorted[((sorted.len() - 1) as f64 * SHOWN_SHARE).round() as usize];
        Some(self.beat().map_or(most * 1.1, |(beat_s, _)| beat_s * BEATS))
    }

    /// The beat and twice, three times as much: where clicks were missed.
    fn beats(&self, chart: &Chart<'_, '_>, per_unit: f64, sizes: &Sizes) -> Drawn {
        let Some((beat_s, words)) = self.beat() else { return Ok(()) };
        let hand = Hand::bold(sizes.text, theme::INK);
        let times = (1..=BEATS as usize).map(|n| n as f64);
        let marks: Vec<(f64, String)> = times
            .map(|n| {
                (
                    chart.place(beat_s * n * per_unit, 0.0).0,
                    match n as usize {
                        1 => words.to_owned(),
                        n => format!("× {n}"),
                    },
                )
            })
            .collect();
        let wishes: Vec<Wish> =
            marks.iter().map(|(x, words)| Wish { x: *x, width: letters::width(words, sizes.text, true) }).collect();
        let seats = chart::seat(&wishes, (chart.plot.left + 4.0, chart.plot.right), 1, sizes.text * 0.5);
        for ((x, words), seat) in marks.iter().zip(seats) {
            let top = chart.plot.top + sizes.text * 1.1;
            chart.page.dashes(&[(*x, top + 4.0), (*x, chart.plot.bottom)], theme::OFF, 2.0)?;
            if let Some(seat) = seat {
                chart.page.text(words, (seat.middle, top - 4.0), hand, HPos::Center, VPos::Bottom)?;
            }
        }
        Ok(())
    }

    fn legend(&self, sizes: &Sizes) -> Vec<(Mark, String)> {
        let mut entries = vec![(Mark::Area(theme::ON.to_rgba()), "intervals".to_owned())];
        if self.beat().is_some() {
            entries.push((Mark::Dashes(theme::OFF.to_rgba()), "the beat".to_owned()));
        }
        let words = if sizes.is_panel() { "by chance" } else { "if they came by chance" };
        entries.push((Mark::Dashes(theme::INK.to_rgba()), words.to_owned()));
        entries
    }
}

fn counts(intervals: &[f64], to_s: f64) -> Vec<usize> {
    let mut counts = vec![0; BARS];
    for s in intervals.iter().filter(|s| **s < to_s) {
        counts[((s / to_s * BARS as f64) as usize).min(BARS - 1)] += 1;
    }
    counts
}

/// How many intervals a bar would have if each click came whenever it likes. Mathematics: intervals of a Poisson
/// process are exponential.
fn by_chance(intervals: &[f64], to_s: f64, per_unit: f64) -> Vec<(f64, f64)> {
    let mean = intervals.iter().sum::<f64>() / intervals.len().max(1) as f64;
    let width = to_s / BARS as f64;
    let expected = |at: f64| intervals.len() as f64 * ((-at / mean).exp() - (-(at + width) / mean).exp());
    (0..BARS).map(|i| width * i as f64).map(|at| ((at + width / 2.0) * per_unit, expected(at))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_interval_is_in_its_bar() {
        let counts = counts(&[0.0126, 0.5, 0.51, 0.999, 1.0, 7.0], 1.0);
        assert_eq!(counts.iter().sum::<usize>(), 4);
        assert_eq!((counts[1], counts[40], counts[79]), (1, 2, 1));
    }

    /// Source: the exponential distribution: 1 − 1/e of all below the mean.
    #[test]
    fn chance_is_exponential() {
        let expected: f64 = by_chance(&vec![1.0; 1000], 1.0, 1.0).iter().map(|point| point.1).sum();
        assert!((expected - 632.12).abs() < 0.01, "{expected}");
    }
}
