//! From a timeline and its episodes to the data of the figures.

use super::patterns::groups;
use crate::contrast::Character;
use crate::findings::picture::FigureFile;
use crate::findings::picture::FigureKind;
use crate::night::Clock;
use crate::night::Passage;
use crate::night::Timeline;
use crate::night::drawing::hours::Hours;
use crate::night::drawing::hours::HoursDay;
use crate::night::drawing::on_times::OnTimesFigure;
use crate::night::drawing::on_times::OnTimesRow;
use crate::night::drawing::timeline::MarkedEpisode;
use crate::night::drawing::timeline::TimelineCell;
use crate::night::drawing::timeline::TimelineFigure;
use crate::night::drawing::waterfall::WaterfallFigure;
use crate::night::on_times_words::on_times_label;
use crate::night::on_times_words::on_times_note;
use crate::night::on_times_words::on_times_title;
use crate::night::result::NightPattern;
use crate::night::words::night_lines;
use crate::plot::Drawing;
use crate::plot::PlotError;
use crate::report::contract::Report;
use crate::report::pictures::drawing::spectrogram::Image;
use crate::run::night::Night;
use crate::signal::spectrum::statistics::quantile;
use crate::units::Dbfs;
use crate::units::DbfsPerHz;
use crate::warning::Trust;
use anyhow::Context;
use jiff::tz::Offset;
use std::path::Path;

/// Cells that the timeline's length is divided into, within bounds.
const CELLS: f64 = 360.0;
const LEAST_CELL_S: f64 = 6.0;
const MOST_CELL_S: f64 = 300.0;
/// Bins of the waterfall at most: about one a dot.
const MOST_BINS: usize = 600;

/// Days that are named on the time axis.
const MOST_DAYS: usize = 4000;

/// File names.
const TIMELINE: &str = "timeline.png";
const WATERFALL: &str = "waterfall.png";
const ON_TIMES: &str = "on-times.png";

/// Episodes from which on their times are drawn: a single one is seen in the other figures.
const LEAST_TIMES: usize = 2;

/// How many figures there will be.
pub(crate) fn count(report: &Report) -> usize {
    2 + usize::from(report.episodes.len() >= LEAST_TIMES)
}

/// Draws the night's figures into a folder and gives their lines in the report.
///
/// # Errors
/// A picture that can't be written.
pub(crate) fn draw(night: &Night, dir: &Path, mut done: impl FnMut(&str)) -> anyhow::Result<Vec<FigureFile>> {
    let scene = Scene::of(night);
    let mut drawn = Vec::new();
    let mut put = |file: &str, kind: FigureKind, caption: &str, how: &dyn Fn(&Path) -> Result<(), PlotError>| {
        how(&dir.join(file)).with_context(|| format!("{file}: the picture could not be written"))?;
        done(file);
        drawn.push(FigureFile { file: file.to_owned(), kind, contrast: None, caption: caption.to_owned() });
        anyhow::Ok(())
    };
    put(
        TIMELINE,
        FigureKind::Timeline,
        "The noise level over the night, stations and carriers kept out of it; the episodes are shaded and numbered, paler \
         where the figures are doubtful or void.",
        &|file| scene.timeline().draw(file),
    )?;
    put(
        WATERFALL,
        FigureKind::Waterfall,
        "The spectrum over the night; the bars above it are the episodes.",
        &|file| scene.waterfall().draw(file),
    )?;
    if night.report.episodes.len() >= LEAST_TIMES {
        put(
            ON_TIMES,
            FigureKind::OnTimes,
            "When each noise was there, numbered as in the table; paler where the figures are doubtful or void, or the noise was not \
             found again.",
            &|file| scene.on_times(&night.report).draw(file),
        )?;
    }
    Ok(drawn)
}

/// What the figures share.
struct Scene<'a> {
    night: &'a Timeline,
    title: String,
    subtitle: String,
    hours: Hours,
    episodes: Vec<MarkedEpisode>,
}

impl<'a> Scene<'a> {
    fn of(night: &'a Night) -> Self {
        let facts = night.report.night.as_ref();
        let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
        let subtitle = facts.map_or_else(String::new, |facts| {
            format!("{}: {} to {}", night.report.session.title, day(&facts.start), day(&facts.end))
        });
        let episodes = night.report.episodes.iter().enumerate();
        Self {
            night: &night.timeline,
            title: title(&night.report),
            subtitle,
            hours: hours(&night.timeline),
            episodes: episodes
                .map(|(at, episode)| MarkedEpisode {
                    start_s: episode.start_s,
                    end_s: episode.end_s,
                    name: (at + 1).to_string(),
                    sound: episode.contrast.trust == Trust::Sound,
                })
                .collect(),
        }
    }

    fn timeline(&self) -> TimelineFigure {
        let all_s: f64 = self.hours.recorded_s.iter().map(|(from, to)| to - from).sum();
        let cell_s = (all_s / CELLS).clamp(LEAST_CELL_S, MOST_CELL_S);
        TimelineFigure {
            title: self.title.clone(),
            subtitle: self.subtitle.clone(),
            hours: self.hours.clone(),
            cells: cells(self.night, cell_s),
            cell_s,
            episodes: self.episodes.clone(),
        }
    }

    /// A row a known noise or kind.
    fn on_times(&self, report: &Report) -> OnTimesFigure {
        let groups = groups(report.episodes.iter().map(|episode| &episode.contrast));
        let patterns = report.night.as_ref().map_or(&[][..], |facts| &facts.patterns);
        let rows: Vec<OnTimesRow> = groups
            .iter()
            .map(|group| {
                let is_its = |pattern: &&NightPattern| {
                    pattern.episodes.iter().map(|n| n - 1).eq(group.places.iter().copied())
                };
                let pattern = patterns.iter().find(is_its);
                OnTimesRow {
                    label: on_times_label(group.known, group.kind),
                    note: on_times_note(group.places.len(), pattern),
                    times: group.places.iter().map(|&at| self.time(at, group.kind)).collect(),
                    even_s: pattern.map_or_else(Vec::new, |pattern| even_s(pattern, &self.episodes)),
                }
            })
            .collect();
        let named: Vec<(String, usize)> = rows.iter().map(|row| (row.label.clone(), row.times.len())).collect();
        OnTimesFigure {
            title: on_times_title(patterns, &named),
            subtitle: self.subtitle.clone(),
            hours: self.hours.clone(),
            rows,
        }
    }

    /// An episode as its row has it: what the comparison did not find again is as little sure as what is doubtful.
    fn time(&self, at: usize, kind: Option<Character>) -> MarkedEpisode {
        let episode = self.episodes[at].clone();
        MarkedEpisode { sound: episode.sound && kind != Some(Character::None), ..episode }
    }

    fn waterfall(&self) -> WaterfallFigure {
        let edges = self.night.passages.iter().map(|passage| passage.passband);
        let passband_hz = edges.fold((f64::MAX, 0.0f64), |(low, high), p| (low.min(p.low_hz), high.max(p.high_hz)));
        WaterfallFigure {
            title: self.title.clone(),
            subtitle: self.subtitle.clone(),
            image: image(self.night, &self.hours),
            hours: self.hours.clone(),
            passband_hz,
            episodes: self.episodes.clone(),
        }
    }
}

/// Where exactly even comings lie, from the first coming to the last.
fn even_s(pattern: &NightPattern, episodes: &[MarkedEpisode]) -> Vec<f64> {
    let (Some(first_s), Some(period_s)) = (pattern.even_from_s, pattern.period_s) else { return Vec::new() };
    let last_s = pattern.episodes.iter().map(|number| episodes[number - 1].start_s).fold(first_s, f64::max);
    let count = ((last_s - first_s) / period_s).round();
    (0..=count as u32).map(|n| first_s + f64::from(n) * period_s).collect()
}

/// The answer's first sentence, without its stop.
fn title(report: &Report) -> String {
    let answer = night_lines(report).into_iter().next().unwrap_or_default();
    let first = answer.split_inclusive(". ").next().unwrap_or_default();
    first.trim_end_matches([' ', '.']).to_owned()
}

/// The time axis.
fn hours(night: &Timeline) -> Hours {
    let mut recorded_s: Vec<(f64, f64)> = Vec::new();
    for passage in &night.passages {
        let (from, to) = (passage.start_s, passage.start_s + passage.duration_s);
        match recorded_s.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => recorded_s.push((from, to)),
        }
    }
    let origin = Offset::UTC.to_datetime(night.origin);
    let clock = match night.clock {
        Clock::Utc => "UTC",
        Clock::Local => "the recorder's clock",
        Clock::Mixed => "UTC, in part guessed",
    };
    let time = origin.time();
    let seconds = i32::from(time.hour()) * 3600 + i32::from(time.minute()) * 60 + i32::from(time.second());
    let days = days(&recorded_s, origin.date(), f64::from(seconds));
    Hours { recorded_s, starts_at_s: f64::from(seconds), days, clock: clock.to_owned() }
}

/// The days on which something is recorded, at most [`MOST_DAYS`]; `starts_at_s`: time of day of the night's start.
fn days(recorded_s: &[(f64, f64)], first: jiff::civil::Date, starts_at_s: f64) -> Vec<HoursDay> {
    let number = |at_s: f64| ((at_s + starts_at_s) / 86_400.0).floor().max(0.0) as u64;
    let mut numbers: Vec<u64> =
        recorded_s.iter().flat_map(|(from, to)| number(*from)..=number(*to)).take(MOST_DAYS).collect();
    numbers.dedup();
    let date = |number: u64| {
        let after = jiff::Span::new().try_days(i64::try_from(number).ok()?).ok()?;
        Some((number, first.checked_add(after).ok()?))
    };
    let dates: Vec<(u64, jiff::civil::Date)> = numbers.into_iter().filter_map(date).collect();
    let years = dates.iter().any(|(_, date)| date.year() != first.year());
    dates
        .iter()
        .map(|(number, date)| HoursDay {
            number: *number,
            short: date.strftime("%-d %b").to_string(),
            full: date.strftime(if years { "%-d %b %Y" } else { "%-d %b" }).to_string(),
        })
        .collect()
}

/// The level in cells; those without sound are left out.
fn cells(night: &Timeline, cell_s: f64) -> Vec<TimelineCell> {
    let mut gathered: std::collections::BTreeMap<u64, (Vec<f64>, usize)> = std::collections::BTreeMap::new();
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

/// The rows' spectra on an even raster of the time axis; where several fall into one cell, their mean power.
fn image(night: &Timeline, hours: &Hours) -> Image {
    let Some(share_of) = WaterfallFigure::shares(hours) else { return Image::default() };
    let top_hz = night.passages.iter().map(|p| (p.bins - 1) as f64 * p.bin_hz).fold(0.0, f64::max);
    let edge_hz = night.passages.iter().map(|p| p.passband.high_hz).fold(0.0, f64::max);
    let top_hz = top_hz.min(1.4 * edge_hz);
    let finest_hz = night.passages.iter().map(|p| p.bin_hz).fold(0.0, f64::max);
    let cols = ((top_hz / finest_hz) as usize + 1).clamp(2, MOST_BINS);
    let col_hz = top_hz / (cols - 1) as f64;
    let rows = WaterfallFigure::MOMENTS;
    let mut power = vec![0f32; rows * cols];
    let mut weight = vec![0f32; rows * cols];
    for passage in &night.passages {
        for (from, to, spectrum) in moments(passage, col_hz, cols) {
            let place = |at_s: f64| share_of(at_s) * rows as f64;
            // At least the raster's moment in which its middle lies.
            let first = place(from).round().min(place((from + to) / 2.0).floor()).max(0.0) as usize;
            let last = (place(to).round() as usize).max(first + 1).min(rows);
            for row in first.min(rows)..last {
                for (col, value) in spectrum.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
                    power[row * cols + col] += value;
                    weight[row * cols + col] += 1.0;
                }
            }
        }
    }
    let level = |(power, weight): (&f32, &f32)| match *weight > 0.0 {
        true => DbfsPerHz::from_density(f64::from(power / weight)).0 as f32,
        false => f32::NAN,
    };
    Image {
        rows,
        cols,
        db: power.iter().zip(&weight).map(level).collect(),
        duration_s: night.duration_s(),
        freq_hz: (0.0, top_hz),
    }
}

/// Begin, end and spectrum of each row in columns of `col_hz`; NaN where its recording has none.
fn moments(passage: &Passage, col_hz: f64, cols: usize) -> impl Iterator<Item = (f64, f64, Vec<f32>)> {
    let sounding = passage.rows.iter().filter(|row| row.sounding > 0);
    sounding.map(move |row| {
        let (from, length) = passage.row_time(row);
        let mut sums = vec![(0f32, 0u16); cols];
        for (bin, value) in row.density.iter().enumerate() {
            let col = (bin as f64 * passage.bin_hz / col_hz).round() as usize;
            if let Some(sum) = sums.get_mut(col) {
                *sum = (sum.0 + value, sum.1 + 1);
            }
        }
        let spectrum = sums.into_iter().map(|(sum, n)| if n > 0 { sum / f32::from(n) } else { f32::NAN }).collect();
        (from, from + length, spectrum)
    })
}
