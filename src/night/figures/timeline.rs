//! The noise level over a night, with its range and the episodes; below it how much else was heard.

use std::collections::BTreeMap;

use plotters::prelude::Color;

use super::hours::{Hours, Laid};
use crate::night::Timeline;
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::signal::spectrum::statistics::quantile;
use crate::units::Dbfs;

/// A night's noise level.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TimelineFigure {
    /// The finding.
    pub title: String,
    /// What was recorded.
    pub subtitle: String,
    /// The time axis.
    pub hours: Hours,
    /// The level in cells of even length, in order of time.
    pub cells: Vec<TimelineCell>,
    /// Length of a cell, s.
    pub cell_s: f64,
    /// When noise was there, in order of time.
    pub episodes: Vec<MarkedEpisode>,
}

/// The level over some seconds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TimelineCell {
    /// Begin, seconds from the night's start.
    pub at_s: f64,
    /// Level that 10 %, half and 90 % of the time stay under, dBFS.
    pub level_db: [f64; 3],
    /// Share of the time in which stations, clicks or carriers stand clearly (by 2 dB) over the noise, 0..1.
    pub busy_share: f64,
}

/// An episode as it is marked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MarkedEpisode {
    /// Begin, seconds from the night's start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// What it is called: its number.
    pub name: String,
    /// Whether its comparison is sound: else it is marked paler.
    pub is_sure: bool,
}

/// A rise that is named though it is no episode: so many dB over its surroundings (this many cells on either side),
/// shorter than this, while stations are heard for less than this share of the time. Chosen by eye: what a reader
/// would ask about.
const RISE_DB: f64 = 3.0;
const BESIDE: usize = 12;
const SHORT_S: f64 = 60.0;
const STATION_SHARE: f64 = 0.5;
/// Height of the lane of stations, of the plot's. Chosen by eye.
const LANE_SHARE: f64 = 0.07;
/// An episode is drawn at least so wide, pixels. Chosen by eye: less is lost when the picture is made smaller.
const LEAST_WIDTH: f64 = 3.0;

impl Single for TimelineFigure {
    fn height(&self) -> u32 {
        640
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        let (Some(laid), Some((low, high))) = (self.hours.lay(), self.range()) else {
            return page.no_data(frame, "nothing was heard", sizes);
        };
        let frame = Frame { bottom: frame.bottom - self.hours.more_room_below(&laid, sizes), ..frame };
        let height = frame.height() - chart::room_below(sizes);
        let x = self.hours.axis(&laid, chart::ticks_across(frame.width(), sizes));
        // The lane of stations lies below the lowest level.
        let floor = low - (high - low) * LANE_SHARE / (1.0 - LANE_SHARE);
        let mut y = Axis::new(floor, high, chart::ticks_down(height, sizes), "Noise, dBFS");
        y.ticks.retain(|(value, _)| *value >= low);
        let frame = Frame { top: frame.top + lane(sizes), ..frame };
        let chart = Chart::inside(page, frame, x, y, sizes);
        mark(page, &chart, &laid, &self.episodes, sizes, true)?;
        chart.grid()?;
        self.hours.write_days(page, &chart, &laid, sizes)?;
        for (from, to) in laid.gaps() {
            chart.bar((from, to), (chart.y.lo, chart.y.hi), theme::GRID)?;
        }
        for cell in self.drawable_cells() {
            let (from, to) = (laid.place(cell.at_s), laid.place(cell.at_s + self.cell_s));
            chart.bar((from, to), (cell.level_db[0], cell.level_db[2]), theme::tint(theme::OFF, 0.4))?;
            let busy = (low - floor) * 0.85 * cell.busy_share.clamp(0.0, 1.0);
            chart.bar((from, to), (floor, floor + busy), theme::RULE)?;
        }
        chart.curve(&self.middle(&laid), theme::OFF_DARK, sizes.curve)?;
        for (at_s, level) in self.short_rises() {
            let (x, y) = chart.place(laid.place(at_s), level);
            let tip = (x, (y - sizes.text * 0.25).max(chart.plot.top + sizes.text * 0.6));
            page.wedge(tip, sizes.text * 0.55, theme::SOFT_INK, true)?;
        }
        Ok(())
    }
}

impl TimelineFigure {
    /// Where the level rises for less than a minute without being an episode, nor a station: time and upper level.
    fn short_rises(&self) -> Vec<(f64, f64)> {
        let reach = self.cell_s * 1.5;
        let in_episode = |at_s: f64| {
            self.episodes
                .iter()
                .any(|e| (e.start_s - reach..=e.end_s + reach).contains(&(at_s + self.cell_s / 2.0)))
        };
        let beside: Vec<&TimelineCell> =
            self.drawable_cells().filter(|cell| axis::is_sound(cell.at_s) && !in_episode(cell.at_s)).collect();
        let usual = |at: usize| {
            let near = beside[at.saturating_sub(BESIDE)..(at + BESIDE + 1).min(beside.len())].iter();
            let mut levels: Vec<f64> = near.map(|cell| cell.level_db[1]).collect();
            quantile(&mut levels, 0.5)
        };
        let rises: Vec<usize> = (0..beside.len())
            .filter(|at| beside[*at].busy_share < STATION_SHARE)
            .filter(|at| beside[*at].level_db[1] - usual(*at) >= RISE_DB)
            .collect();
        let next = |a: &usize, b: &usize| beside[*b].at_s - beside[*a].at_s <= 1.5 * self.cell_s;
        rises
            .chunk_by(next)
            .filter(|run| run.len() as f64 * self.cell_s < SHORT_S)
            .filter_map(|run| {
                let highest =
                    run.iter().copied().max_by(|a, b| beside[*a].level_db[2].total_cmp(&beside[*b].level_db[2]))?;
                Some((beside[highest].at_s + self.cell_s / 2.0, beside[highest].level_db[2]))
            })
            .collect()
    }

    fn drawable_cells(&self) -> impl Iterator<Item = &TimelineCell> {
        self.cells.iter().filter(|cell| cell.level_db.iter().all(|level| axis::is_sound(*level)))
    }

    /// The medians as a curve, broken where nothing was recorded.
    fn middle(&self, laid: &Laid) -> Vec<(f64, f64)> {
        let mut points = Vec::new();
        let mut last_s = f64::NAN;
        for cell in self.drawable_cells() {
            if cell.at_s - last_s > 1.5 * self.cell_s {
                points.push((laid.place(cell.at_s), f64::NAN));
            }
            points.push((laid.place(cell.at_s + self.cell_s / 2.0), cell.level_db[1]));
            last_s = cell.at_s;
        }
        points
    }

    /// Levels to show: no less than 6 dB, on whole decibels.
    fn range(&self) -> Option<(f64, f64)> {
        let low = self.drawable_cells().map(|cell| cell.level_db[0]).reduce(f64::min)?;
        let high = self.drawable_cells().map(|cell| cell.level_db[2]).reduce(f64::max)?;
        let (low, high) = (low.floor() - 1.0, high.ceil() + 1.0);
        Some((low, high.max(low + 6.0)))
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = vec![
            (Mark::Curve(theme::OFF_DARK.to_rgba()), "noise level".to_owned()),
            (Mark::Area(theme::tint(theme::OFF, 0.4).to_rgba()), "range, 8 of 10 seconds".to_owned()),
            (Mark::Area(theme::RULE.to_rgba()), "stations, clicks, strong carriers".to_owned()),
        ];
        if !self.episodes.is_empty() {
            entries.push((Mark::Area(theme::ON.to_rgba()), "episode".to_owned()));
        }
        if !self.short_rises().is_empty() {
            entries.push((Mark::HollowWedge(theme::SOFT_INK.to_rgba()), "short, no episode".to_owned()));
        }
        entries
    }
}

/// Lanes that episodes at once are parted into. Chosen: of more at once nothing can be told anyhow.
const MOST_LANES: usize = 3;

/// Which lane each episode stands in: the first that is free when it begins, the last where none is; and how many
/// lanes that takes.
pub(crate) fn parted(episodes: &[MarkedEpisode]) -> (Vec<usize>, usize) {
    let mut ends: Vec<f64> = Vec::new();
    let lanes: Vec<usize> = episodes
        .iter()
        .map(|episode| {
            let free = ends.iter().position(|end| *end <= episode.start_s);
            let lane = free.unwrap_or(ends.len()).min(MOST_LANES - 1);
            match ends.get_mut(lane) {
                Some(end) => *end = end.max(episode.end_s),
                None => ends.push(episode.end_s),
            }
            lane
        })
        .collect();
    (lanes, ends.len().max(1))
}

/// Height of the lane above the plot in which episodes are marked.
pub(crate) fn lane(sizes: &Sizes) -> f64 {
    sizes.text * 1.75
}

/// Marks the episodes in the lane above a plot, with their names; `down`: and tints the plot below.
pub(crate) fn mark(
    page: &Page<'_>,
    chart: &Chart<'_, '_>,
    laid: &Laid,
    episodes: &[MarkedEpisode],
    sizes: &Sizes,
    down: bool,
) -> Drawn {
    let bottom = chart.plot.top - 3.0;
    let top = bottom - sizes.text * 0.5;
    let mut wishes = Vec::new();
    let (lanes, count) = parted(episodes);
    let height = (bottom - top) / count as f64;
    for (episode, lane) in episodes.iter().zip(lanes) {
        let [from, to] = [episode.start_s, episode.end_s].map(|at_s| chart.place(laid.place(at_s), chart.y.lo).0);
        let to = to.max(from + LEAST_WIDTH);
        if down {
            page.fill(Frame::new(from, chart.plot.top, to, chart.plot.bottom), theme::tint(theme::ON, 0.14))?;
        }
        let colour = if episode.is_sure { theme::ON } else { theme::tint(theme::ON, 0.55) };
        // The first lane is the lowest; a pixel of ground parts it from the next.
        let foot = bottom - height * lane as f64;
        let gap = if count > 1 { 1.0 } else { 0.0 };
        page.fill(Frame::new(from, foot - height + gap, to, foot), colour)?;
        wishes.push(Wish { x: (from + to) / 2.0, width: letters::width(&episode.name, sizes.text * 0.9, false) });
    }
    let seats = chart::seat(&wishes, (chart.plot.left, chart.plot.right), 1, sizes.text * 0.3);
    for (episode, seat) in episodes.iter().zip(seats) {
        if let Some(seat) = seat {
            let hand = Hand::plain(sizes.text * 0.9, theme::ON_DARK);
            page.text(&episode.name, (seat.middle, top - 3.0), hand, HPos::Center, VPos::Bottom)?;
        }
    }
    Ok(())
}

/// Cells that the timeline's length is divided into, and the shortest. Chosen: a cell every three dots, be it of a
/// week; six seconds still have six steps.
const CELLS: f64 = 360.0;
const LEAST_CELL_S: f64 = 6.0;

impl TimelineFigure {
    /// Length of a cell.
    pub(crate) fn cell_s(hours: &Hours) -> f64 {
        let all_s: f64 = hours.recorded_s.iter().map(|(from, to)| to - from).sum();
        (all_s / CELLS).max(LEAST_CELL_S)
    }

    /// The level in cells; those without sound are left out.
    pub(crate) fn cells(night: &Timeline, cell_s: f64) -> Vec<TimelineCell> {
        let mut gathered: BTreeMap<u64, (Vec<f64>, usize)> = BTreeMap::new();
        for passage in &night.passages {
            let half_s = passage.grid.step_s() / 2.0;
            for (at_s, step) in passage.timed_steps() {
                let Some(noise) = step.noise_power() else { continue };
                let cell = gathered.entry(((at_s + half_s) / cell_s) as u64).or_default();
                cell.0.push(noise);
                cell.1 += usize::from(step.is_busy());
            }
        }
        gathered
            .into_iter()
            .map(|(number, (mut noise, busy))| TimelineCell {
                at_s: number as f64 * cell_s,
                busy_share: busy as f64 / noise.len() as f64,
                level_db: [0.1, 0.5, 0.9].map(|q| Dbfs::from_mean_square(quantile(&mut noise, q)).0),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn episode(start_s: f64, end_s: f64) -> MarkedEpisode {
        MarkedEpisode { start_s, end_s, ..MarkedEpisode::default() }
    }

    #[test]
    fn episodes_at_once_stand_in_lanes() {
        let episodes = [
            episode(0.0, 100.0),
            episode(50.0, 60.0),
            episode(55.0, 58.0),
            episode(56.0, 57.0),
            episode(100.0, 110.0),
        ];
        assert_eq!(parted(&episodes), (vec![0, 1, 2, 2, 0], 3));
        assert_eq!(parted(&[]), (vec![], 1));
    }

    #[test]
    fn a_short_rise_is_named_and_an_episode_is_not() {
        let level = |at: usize| if matches!(at, 40 | 41 | 90..=99 | 120) { -30.0 } else { -40.0 };
        let cells = (0..150).map(|at| TimelineCell {
            at_s: 6.0 * at as f64,
            level_db: [level(at); 3],
            busy_share: if at == 120 { 0.9 } else { 0.0 },
        });
        let figure = TimelineFigure {
            cells: cells.collect(),
            cell_s: 6.0,
            episodes: vec![episode(540.0, 600.0)],
            ..TimelineFigure::default()
        };
        let rises: Vec<f64> = figure.short_rises().iter().map(|rise| rise.0).collect();
        assert_eq!(rises, [249.0], "the episode and the station have their own marks");
    }
}
