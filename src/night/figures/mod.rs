//! The figures of a night: which there are, their captions and titles. Each file beside has one with its data.

pub mod hours;
pub mod on_times;
pub mod timeline;
pub mod waterfall;

use crate::contrast::Character;
use crate::findings::picture::{FigureKind, Picture};
use crate::night::Timeline;
use crate::night::result::{Episode, NightFacts, Source};
use crate::plot::Drawing;
use crate::text::{self, count};
use hours::Hours;
use on_times::{OnTimesFigure, OnTimesRow, on_times_label, on_times_note, on_times_title};
use timeline::{MarkedEpisode, TimelineFigure};
use waterfall::WaterfallFigure;

/// Episodes from which on their times are drawn: chosen, for a single one is seen in the other figures.
const LEAST_TIMES: usize = 2;

/// What the figures show beside the timeline.
pub(crate) struct Shown<'a> {
    /// What the night came to, in a line.
    pub finding: String,
    /// Of the night.
    pub title: &'a str,
    /// Paths cut, as in the report.
    pub facts: &'a NightFacts,
    pub episodes: &'a [Episode],
    pub sources: &'a [Source],
}

/// The night's figures, in the order of the report.
pub(crate) fn figures(night: &Timeline, shown: &Shown<'_>) -> Vec<Picture> {
    let scene = Scene::of(night, shown);
    let marked = |bare: &str, marks: &str| match shown.episodes.is_empty() {
        true => format!("{bare}."),
        false => format!("{bare}; {marks}."),
    };
    let mut found = vec![
        picture(
            FigureKind::Timeline,
            &marked(
                "The noise level over the night, stations and carriers kept out of it",
                "what came and went is shaded and named by its source, paler where the figures are doubtful or void",
            ),
            scene.timeline(),
        ),
        picture(
            FigureKind::Waterfall,
            &marked("The spectrum over the night", "the bars above it are what came and went, named by its source"),
            scene.waterfall(shown),
        ),
    ];
    if shown.episodes.len() >= LEAST_TIMES {
        found.push(picture(
            FigureKind::OnTimes,
            "When each source was there, its times numbered as in the table; paler where the figures are doubtful or \
             void.",
            scene.on_times(shown),
        ));
    }
    found
}

fn picture(kind: FigureKind, caption: &str, drawing: impl Drawing + 'static) -> Picture {
    let (file, caption) = (format!("{}.png", kind.word()), caption.to_owned());
    Picture { file, kind, contrast: None, caption, drawing: Box::new(drawing) }
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
    fn of(timeline: &'a Timeline, shown: &Shown<'_>) -> Self {
        let day = |at: &str| at.trim_end_matches('Z').replace('T', " ");
        let episodes = shown.episodes.iter().enumerate();
        Self {
            night: timeline,
            title: shown.finding.clone(),
            subtitle: format!("{}: {} to {}", shown.title, day(&shown.facts.start), day(&shown.facts.end)),
            hours: Hours::of(timeline),
            episodes: episodes
                .map(|(at, episode)| MarkedEpisode {
                    start_s: episode.start_s,
                    end_s: episode.end_s,
                    name: source_of(shown.sources, at).map_or_else(|| "?".to_owned(), |source| source.id.clone()),
                    is_sure: episode.contrast.is_unspoilt(),
                })
                .collect(),
        }
    }

    fn timeline(&self) -> TimelineFigure {
        let cell_s = TimelineFigure::cell_s(&self.hours);
        TimelineFigure {
            title: self.title.clone(),
            subtitle: self.subtitle.clone(),
            hours: self.hours.clone(),
            cells: TimelineFigure::cells(self.night, cell_s),
            cell_s,
            episodes: self.episodes.clone(),
        }
    }

    /// A row a source; what belongs to none in a last one.
    fn on_times(&self, shown: &Shown<'_>) -> OnTimesFigure {
        let times = |numbers: &[usize]| -> Vec<MarkedEpisode> {
            let at = numbers.iter().filter_map(|number| Some((number, self.episodes.get(number.checked_sub(1)?)?)));
            at.map(|(number, one)| MarkedEpisode { name: number.to_string(), ..one.clone() }).collect()
        };
        let mut rows: Vec<OnTimesRow> = shown
            .sources
            .iter()
            .map(|source| OnTimesRow {
                label: on_times_label(source, shown.episodes),
                note: on_times_note(source),
                times: times(&source.episodes),
                even_s: even_s(source, &self.episodes),
            })
            .collect();
        let title = on_times_title(shown.sources, shown.episodes);
        let rest: Vec<usize> =
            (1..=self.episodes.len()).filter(|number| source_of(shown.sources, number - 1).is_none()).collect();
        if !rest.is_empty() {
            rows.push(OnTimesRow {
                label: "Not told".to_owned(),
                note: text::times(rest.len()),
                times: times(&rest).into_iter().map(|time| MarkedEpisode { is_sure: false, ..time }).collect(),
                even_s: Vec::new(),
            });
        }
        OnTimesFigure { title, subtitle: self.subtitle.clone(), hours: self.hours.clone(), rows }
    }

    fn waterfall(&self, shown: &Shown<'_>) -> WaterfallFigure {
        let edges = self.night.passages.iter().map(|passage| passage.passband);
        let passband_hz = edges.fold((f64::MAX, 0.0f64), |(low, high), p| (low.min(p.low_hz), high.max(p.high_hz)));
        WaterfallFigure {
            title: waterfall_title(shown.sources, shown.episodes),
            subtitle: self.subtitle.clone(),
            image: WaterfallFigure::image(self.night, &self.hours),
            hours: self.hours.clone(),
            passband_hz,
            episodes: self.episodes.clone(),
        }
    }
}

/// The source that the episode at a place belongs to.
pub(crate) fn source_of(sources: &[Source], place: usize) -> Option<&Source> {
    sources.iter().find(|source| source.episodes.contains(&(place + 1)))
}

/// What the sources look like over frequency: "3 of 5 noises fill the passband, 1 stands in carriers". Clicks are too
/// short to show in a spectrum.
fn waterfall_title(sources: &[Source], episodes: &[Episode]) -> String {
    let lines = sources.iter().filter(|source| stands_in_lines(source, episodes)).count();
    let wide =
        sources.iter().filter(|source| matches!(source.character, Character::Hash | Character::Buzz)).count();
    let fill = |n: usize| if n == 1 { "fills the passband" } else { "fill the passband" };
    let stand = |n: usize| if n == 1 { "stands in carriers" } else { "stand in carriers" };
    match (sources.len(), wide, lines) {
        (0, ..) => "The night over time and frequency".to_owned(),
        (1, 1, _) => "The noise fills the passband".to_owned(),
        (1, _, 1) => "The noise stands in carriers".to_owned(),
        (all, wide, _) if wide == all => format!("All {all} noises fill the passband"),
        (all, _, lines) if lines == all => format!("All {all} noises stand in carriers"),
        (all, 0, 0) => format!("{} over time and frequency", count(all, "noise", "noises")),
        (all, wide, 0) => format!("{wide} of {all} noises {}", fill(wide)),
        (all, 0, lines) => format!("{lines} of {all} noises {}", stand(lines)),
        (all, wide, lines) => format!("{wide} of {all} noises {}, {lines} {}", fill(wide), stand(lines)),
    }
}

/// Whether a source is nothing but lines, be it a mixture of them.
fn stands_in_lines(source: &Source, episodes: &[Episode]) -> bool {
    source.episodes.iter().filter_map(|number| episodes.get(number.checked_sub(1)?)).all(|episode| {
        let c = &episode.contrast;
        c.character.is_lines() || c.is_lines_only()
    })
}

/// Where exactly even starts lie, from the first start to the last.
fn even_s(pattern: &Source, episodes: &[MarkedEpisode]) -> Vec<f64> {
    let (Some(first_s), Some(period_s)) = (pattern.even_from_s, pattern.period_s) else { return Vec::new() };
    let last_s = pattern.episodes.iter().map(|number| episodes[number - 1].start_s).fold(first_s, f64::max);
    let count = ((last_s - first_s) / period_s).round();
    (0..=count as u32).map(|n| first_s + f64::from(n) * period_s).collect()
}
