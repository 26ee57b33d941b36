//! The time axis of a night: hours of the day, and long gaps between recordings drawn short.
//! Not here: what is drawn over it (`timeline`, `waterfall`, `on_times`).

use super::axis::Axis;

/// A gap longer than this share of all that is recorded is drawn as a break of [`BREAK_SHARE`].
const LONG_SHARE: f64 = 0.08;
const BREAK_SHARE: f64 = 0.02;
/// Some three hundred years: no night is longer.
const LONGEST_S: f64 = 1e10;
/// Distances of ticks, s.
const STEPS_S: [f64; 16] = [
    10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10_800.0, 21_600.0, 43_200.0, 86_400.0,
    172_800.0, 604_800.0,
];

/// What is recorded when, and which hours of the day that is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hours {
    /// Begin and end of each stretch without a gap, seconds from the night's start, in order and apart.
    pub recorded_s: Vec<(f64, f64)>,
    /// Time of day at the night's start, seconds from midnight.
    pub starts_at_s: f64,
    /// The day it starts on and those after it, as they are written at midnight where the night is longer than a day.
    pub days: Vec<String>,
    /// "UTC" or the like.
    pub clock: String,
}

/// A stretch and where it lies on the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Placed {
    from_s: f64,
    to_s: f64,
    at: f64,
}

/// The axis worked out: seconds recorded, with gaps.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Laid {
    stretches: Vec<Placed>,
    /// Length of the axis.
    pub length: f64,
}

impl Hours {
    /// Where everything lies; `None` where nothing is recorded.
    pub(super) fn lay(&self) -> Option<Laid> {
        let sound = |(from, to): &(f64, f64)| from.abs() <= LONGEST_S && to.abs() <= LONGEST_S && to > from;
        let recorded: Vec<(f64, f64)> = self.recorded_s.iter().copied().filter(sound).collect();
        let all_s: f64 = recorded.iter().map(|(from, to)| to - from).sum();
        let mut stretches: Vec<Placed> = Vec::new();
        for (from_s, to_s) in recorded {
            let at = stretches.last().map_or(0.0, |last| {
                let gap_s = (from_s - last.to_s).max(0.0);
                let drawn = if gap_s > LONG_SHARE * all_s { BREAK_SHARE * all_s } else { gap_s };
                last.at + last.to_s - last.from_s + drawn
            });
            stretches.push(Placed { from_s, to_s, at });
        }
        let last = stretches.last()?;
        let length = last.at + last.to_s - last.from_s;
        Some(Laid { stretches, length })
    }

    /// The axis with at most about `most` ticks at round times of day.
    pub(super) fn axis(&self, laid: &Laid, most: usize) -> Axis {
        let step_s = STEPS_S.into_iter().find(|step| laid.length / step <= most as f64).unwrap_or(STEPS_S[15]);
        let mut ticks: Vec<(f64, String)> = Vec::new();
        for stretch in &laid.stretches {
            let mut number = ((stretch.from_s + self.starts_at_s) / step_s).ceil();
            while number * step_s - self.starts_at_s <= stretch.to_s {
                let at_s = number * step_s - self.starts_at_s;
                let place = stretch.at + at_s - stretch.from_s;
                // Beyond a break the next tick may lie too close to the last one before it.
                if ticks.last().is_none_or(|last| place - last.0 >= 0.7 * step_s) {
                    ticks.push((place, self.word(number * step_s, step_s)));
                }
                number += 1.0;
            }
        }
        Axis { lo: 0.0, hi: laid.length, ticks, caption: format!("Time of day ({})", self.clock) }
    }

    /// "22:00", "22:00:30", or the day at midnight.
    fn word(&self, since_midnight_s: f64, step_s: f64) -> String {
        let whole = since_midnight_s.round().max(0.0) as u64;
        let (day, second) = ((whole / 86_400) as usize, whole % 86_400);
        if second == 0
            && self.days.len() > 2
            && let Some(day) = self.days.get(day)
        {
            return day.clone();
        }
        let (hour, minute) = (second / 3600, second / 60 % 60);
        if step_s < 60.0 {
            format!("{hour:02}:{minute:02}:{:02}", second % 60)
        } else {
            format!("{hour:02}:{minute:02}")
        }
    }
}

impl Laid {
    /// Where a time lies on the axis; one in a gap at the gap's place.
    pub fn place(&self, at_s: f64) -> f64 {
        let mut before = 0.0;
        for stretch in &self.stretches {
            if at_s < stretch.from_s {
                return (stretch.at - (stretch.from_s - at_s)).max(before);
            }
            before = stretch.at + (at_s.min(stretch.to_s) - stretch.from_s);
            if at_s <= stretch.to_s {
                return before;
            }
        }
        before
    }

    /// Whether anything was recorded at a time.
    pub fn holds(&self, at_s: f64) -> bool {
        self.stretches.iter().any(|stretch| (stretch.from_s..=stretch.to_s).contains(&at_s))
    }

    /// Gaps on the axis: begin and end.
    pub fn gaps(&self) -> Vec<(f64, f64)> {
        let end = |one: &Placed| one.at + one.to_s - one.from_s;
        self.stretches.windows(2).map(|pair| (end(&pair[0]), pair[1].at)).filter(|(from, to)| to > from).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn night(recorded_s: Vec<(f64, f64)>) -> Hours {
        Hours {
            recorded_s,
            starts_at_s: 77_400.0,
            days: vec!["14 Mar".into(), "15 Mar".into()],
            clock: "UTC".into(),
        }
    }

    #[test]
    fn ticks_stand_at_round_hours() {
        let hours = night(vec![(0.0, 8.0 * 3600.0)]);
        let laid = hours.lay().unwrap();
        let axis = hours.axis(&laid, 9);
        let words: Vec<&str> = axis.ticks.iter().map(|(_, word)| word.as_str()).collect();
        assert_eq!(words, ["22:00", "23:00", "00:00", "01:00", "02:00", "03:00", "04:00", "05:00"]);
        assert_eq!(axis.ticks[0].0, 1800.0);
    }

    /// A gap of years takes a fiftieth; a short one its own length.
    #[test]
    fn long_gaps_are_drawn_short() {
        let laid = night(vec![(0.0, 100.0), (1e8, 1e8 + 100.0), (1e8 + 105.0, 1e8 + 200.0)]).lay().unwrap();
        assert!((laid.length - (295.0 + 5.0 + 0.02 * 295.0)).abs() < 1e-6, "{}", laid.length);
        assert!((laid.place(1e8 + 10.0) - 115.9).abs() < 1e-6);
        assert_eq!(laid.gaps().len(), 2);
        assert_eq!(night(Vec::new()).lay(), None);
        assert_eq!(night(vec![(0.0, f64::NAN)]).lay(), None);
    }
}
