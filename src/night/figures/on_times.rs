//! When each noise of a night was there: a row a noise, a bar a time, so that a regular one is seen at a glance.

use plotters::prelude::Color;

use super::hours::{Hours, Laid};
use super::timeline::{MarkedEpisode, parted};
use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::kind_word;
use crate::night::result::{Episode, Regularity, Source};
use crate::plot::axis::Axis;
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{self, and_at_most, capital, clock, hz, times};

/// When noises were there.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OnTimesFigure {
    /// The finding.
    pub title: String,
    /// What was recorded.
    pub subtitle: String,
    /// The time axis.
    pub hours: Hours,
    /// A row a noise, from the top.
    pub rows: Vec<OnTimesRow>,
}

/// One noise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OnTimesRow {
    /// What it is.
    pub label: String,
    /// How it came, in a few words.
    pub note: String,
    /// When it was there, in order of time.
    pub times: Vec<MarkedEpisode>,
    /// Where exactly even starts would lie, seconds from the night's start; none where it is not regular.
    pub even_s: Vec<f64>,
}

/// Rows drawn. Chosen: a night has fewer kinds of noise, and more known ones would be slivers.
const MOST_ROWS: usize = 12;
/// Height of a row, pixels. Chosen by eye: a label of two lines and a bar.
const ROW: u32 = 92;
/// A time is drawn at least so wide, pixels. Chosen by eye: less is lost when the picture is made smaller.
const LEAST_WIDTH: f64 = 3.0;
/// Edges of a bar and of the strokes below it, shares of the row from its foot. Chosen by eye.
const BAR: (f64, f64) = (0.30, 0.66);
const STROKE: (f64, f64) = (0.08, 0.22);
/// Ground between two bars at once, pixels. Chosen by eye.
const RIM: f64 = 2.0;
/// Strokes of one row at most: more would be an area (chosen).
const MOST_STROKES: usize = 400;

impl Single for OnTimesFigure {
    fn height(&self) -> u32 {
        330 + ROW * self.rows.len().clamp(1, MOST_ROWS) as u32
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let rows = &self.rows[..self.rows.len().min(MOST_ROWS)];
        let frame = page.legend(frame, &legend(rows), sizes)?;
        let Some(laid) = self.hours.lay().filter(|_| !rows.is_empty()) else {
            return page.no_data(frame, "no noise came or went", sizes);
        };
        let widest = rows.iter().map(|row| width_of(row, sizes)).fold(sizes.text * 4.0, f64::max);
        let labels = widest.min(frame.width() * 0.3).ceil();
        let plot = Frame::new(
            frame.left + labels + sizes.text * 0.7,
            frame.top + sizes.text * 0.3,
            frame.right - sizes.text * 1.4,
            frame.bottom - chart::room_below(sizes) - self.hours.more_room_below(&laid, sizes),
        );
        let x = self.hours.axis(&laid, chart::ticks_across(plot.width(), sizes));
        let y = Axis { lo: 0.0, hi: rows.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        chart.grid_across(true)?;
        self.hours.write_days(page, &chart, &laid, sizes)?;
        for (from, to) in laid.gaps() {
            chart.bar((from, to), (chart.y.lo, chart.y.hi), theme::GRID)?;
        }
        for (i, row) in rows.iter().enumerate() {
            let foot = (rows.len() - 1 - i) as f64;
            let Frame { left, right, .. } = plot;
            let y = chart.place(chart.x.lo, foot).1;
            page.hairline((left - labels, y), (right, y), if foot > 0.0 { theme::GRID } else { theme::RULE })?;
            label(page, &chart, row, (foot, labels), sizes)?;
            row.paint(page, &chart, &laid, foot, sizes)?;
        }
        page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::RULE)
    }
}

fn width_of(row: &OnTimesRow, sizes: &Sizes) -> f64 {
    letters::width(&row.label, sizes.text, true).max(letters::width(&row.note, sizes.text * 0.9, false))
}

fn legend(rows: &[OnTimesRow]) -> Vec<(Mark, String)> {
    let times = || rows.iter().flat_map(|row| &row.times);
    let mut entries = Vec::new();
    if times().any(|time| time.is_sure) {
        entries.push((Mark::Area(theme::ON.to_rgba()), "noise is there".to_owned()));
    }
    if times().any(|time| !time.is_sure) {
        entries.push((Mark::Area(pale().to_rgba()), "in doubt".to_owned()));
    }
    if rows.iter().any(|row| !row.even_s.is_empty()) {
        entries.push((Mark::Curve(theme::OFF.to_rgba()), "exactly even".to_owned()));
    }
    entries
}

/// What is not sure.
fn pale() -> impl Color {
    theme::tint(theme::ON, 0.55)
}

/// Name and note to the left of a row.
fn label(
    page: &Page<'_>,
    chart: &Chart<'_, '_>,
    row: &OnTimesRow,
    (foot, room): (f64, f64),
    sizes: &Sizes,
) -> Drawn {
    let (right, middle) = (chart.plot.left - sizes.text * 0.7, chart.place(chart.x.lo, foot + 0.5).1);
    let lines = [
        (&row.label, Hand::bold(sizes.text, theme::INK), -0.6),
        (&row.note, Hand::plain(sizes.text * 0.9, theme::SOFT_INK), 0.6),
    ];
    lines.into_iter().try_for_each(|(words, hand, down)| {
        let words = letters::cut(words, hand.size, hand.bold, room);
        page.text(&words, (right, middle + down * sizes.text), hand, HPos::Right, VPos::Center)
    })
}

impl OnTimesRow {
    fn paint(&self, page: &Page<'_>, chart: &Chart<'_, '_>, laid: &Laid, foot: f64, sizes: &Sizes) -> Drawn {
        let mut wishes = Vec::new();
        let (lanes, count) = parted(&self.times);
        let height = (BAR.1 - BAR.0) / count as f64;
        for (time, lane) in self.times.iter().zip(lanes) {
            let place = |at_s: f64, up: f64| chart.place(laid.place(at_s), foot + up);
            let lower = BAR.0 + height * lane as f64;
            let ((left, bottom), (right, top)) = (place(time.start_s, lower), place(time.end_s, lower + height));
            let right = right.max(left + LEAST_WIDTH);
            let bar =
                Frame { top: if count > 1 { top + RIM } else { top }, ..Frame::new(left, top, right, bottom) };
            if time.is_sure {
                page.fill(bar, theme::ON)?;
            } else {
                page.fill(bar, pale())?;
            }
            let width = letters::width(&time.name, sizes.text * 0.9, false);
            wishes.push(Wish { x: (left + right) / 2.0, width });
        }
        let seats = chart::seat(&wishes, (chart.plot.left, chart.plot.right), 1, sizes.text * 0.3);
        let above = chart.place(chart.x.lo, foot + BAR.1).1 - 3.0;
        for (time, seat) in self.times.iter().zip(seats) {
            if let Some(seat) = seat {
                let hand = Hand::plain(sizes.text * 0.9, theme::ON_DARK);
                page.text(&time.name, (seat.middle, above), hand, HPos::Center, VPos::Bottom)?;
            }
        }
        // Strokes in a gap would all stand at one place.
        for at_s in self.even_s.iter().copied().filter(|at_s| laid.holds(*at_s)).take(MOST_STROKES) {
            let x = laid.place(at_s);
            chart.curve(&[(x, foot + STROKE.0), (x, foot + STROKE.1)], theme::OFF, sizes.curve)?;
        }
        Ok(())
    }
}

/// Noises named in a title. Chosen: what fits in a line.
const NAMED: usize = 3;

/// The row's name: "n1, buzz", "n1, carrier at 1500.0 Hz", "n1, like pump", or "n1, pump by the log".
pub fn on_times_label(source: &Source, episodes: &[Episode]) -> String {
    match (&source.logged, &source.known) {
        (Some(device), _) => format!("{}, {} by the log", source.id, text::label(device)),
        (None, Some(name)) => format!("{}, like {}", source.id, text::label(name)),
        (None, None) => {
            let kind = match typical_of(source, episodes).and_then(|one| carriers(&one.contrast)) {
                Some((1, at_hz)) => format!("carrier at {}", hz(at_hz)),
                Some((n, _)) => format!("{n} carriers"),
                None => kind_word(source.character).to_owned(),
            };
            format!("{}, {kind}", source.id)
        }
    }
}

/// "4 times, every 7 min 00 s"; as much as is known.
pub fn on_times_note(source: &Source) -> String {
    let came = times(source.episodes.len());
    match (source.told, source.period_s) {
        (Regularity::Even, Some(period_s)) => format!("{came}, every {}", clock(period_s)),
        (Regularity::Chance, _) => format!("{came}, not evenly"),
        _ => came,
    }
}

/// The finding: what comes back evenly, else how often each source came.
pub fn on_times_title(sources: &[Source], episodes: &[Episode]) -> String {
    let even = sources.iter().filter(|source| source.told == Regularity::Even);
    let surest = even.min_by(|a, b| a.chance.unwrap_or(1.0).total_cmp(&b.chance.unwrap_or(1.0)));
    if let Some((source, period_s)) = surest.and_then(|source| Some((source, source.period_s?))) {
        return format!("{} comes back every {}", capital(&noise_words(source, episodes)), clock(period_s));
    }
    if sources.is_empty() {
        return "What came and went is not told".to_owned();
    }
    let mut often: Vec<&Source> = sources.iter().collect();
    often.sort_by_key(|source| std::cmp::Reverse(source.episodes.len()));
    let came = |source: &&Source| {
        format!("{} ({}) {}", source.id, noise_words(source, episodes), times(source.episodes.len()))
    };
    and_at_most(&often.iter().map(came).collect::<Vec<_>>(), NAMED)
}

/// "buzz", or "what resembles pump (buzz)". The log comes first, for that is what the user knows: "what the log calls
/// pump (buzz, though it resembles lamp)".
pub(crate) fn noise_words(source: &Source, episodes: &[Episode]) -> String {
    let kind = typical_of(source, episodes)
        .map_or_else(|| kind_word(source.character).to_owned(), |one| kind_in_full(&one.contrast));
    match (&source.logged, &source.known) {
        (Some(device), known) => {
            let against = known.as_ref().filter(|name| !is_one_device(name, device));
            let against =
                against.map_or_else(String::new, |name| format!(", though it resembles {}", text::label(name)));
            format!("what the log calls {} ({kind}{against})", text::label(device))
        }
        (None, Some(name)) => format!("what resembles {} ({kind})", text::label(name)),
        (None, None) => kind,
    }
}

/// The first of its episodes that is of its kind.
pub(crate) fn typical_of<'a>(source: &Source, episodes: &'a [Episode]) -> Option<&'a Episode> {
    let own = source.episodes.iter().filter_map(|number| episodes.get(number.checked_sub(1)?));
    own.into_iter().find(|one| one.contrast.character == source.character)
}

/// The kind in a word; of carriers how many, and the pitch to listen for.
pub(crate) fn kind_in_full(c: &ContrastResult) -> String {
    match carriers(c) {
        Some((1, at_hz)) => format!("a single carrier at {}", hz(at_hz)),
        Some((n, at_hz)) => format!("{n} carriers, the strongest at {}", hz(at_hz)),
        None => kind_word(c.character).to_owned(),
    }
}

/// Of what is carriers alone, how many, and where the strongest stands, Hz.
fn carriers(c: &ContrastResult) -> Option<(usize, f64)> {
    let lines = Some(&c.added_lines).filter(|_| c.character == Character::Carriers)?;
    let strongest = lines.iter().max_by(|a, b| a.level_db.total_cmp(&b.level_db))?;
    Some((lines.len(), strongest.freq_hz))
}

/// Whether two names may be of one device, as "pump" and "pond pump": all words of one stand in the other.
fn is_one_device(a: &str, b: &str) -> bool {
    let [a, b] = [a, b].map(|name| name.to_lowercase());
    let has = |all: &str, some: &str| some.split_whitespace().all(|word| all.split_whitespace().any(|w| w == word));
    has(&a, &b) || has(&b, &a)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::{added_line, contrast, sample_episode, sample_source};

    fn source(told: Regularity, known: Option<&str>) -> Source {
        Source { told, known: known.map(Into::into), ..sample_source("n1", &[1, 2, 4, 5]) }
    }

    #[test]
    fn rows_are_named_by_what_is_known() {
        assert_eq!(on_times_label(&source(Regularity::Even, Some("pond pump")), &[]), "n1, like pond pump");
        assert_eq!(on_times_label(&source(Regularity::Even, None), &[]), "n1, buzz");
        assert_eq!(on_times_note(&source(Regularity::Even, None)), "4 times, every 7 min 00 s");
        assert_eq!(on_times_note(&source(Regularity::Chance, None)), "4 times, not evenly");
        assert_eq!(on_times_note(&source(Regularity::TooFew, None)), "4 times");
    }

    #[test]
    fn the_log_names_before_a_known_noise_which_may_contradict() {
        let named = |known: Option<&str>| Source { logged: Some("Pump".into()), ..source(Regularity::Even, known) };
        assert_eq!(on_times_label(&named(Some("lamp")), &[]), "n1, Pump by the log");
        assert_eq!(noise_words(&named(None), &[]), "what the log calls Pump (buzz)");
        assert_eq!(noise_words(&named(Some("pond pump")), &[]), "what the log calls Pump (buzz)");
        assert_eq!(
            noise_words(&named(Some("lamp")), &[]),
            "what the log calls Pump (buzz, though it resembles lamp)"
        );
    }

    #[test]
    fn the_title_is_the_finding() {
        let once = Source { character: Character::Hash, ..sample_source("n2", &[3]) };
        let title = on_times_title(&[once, source(Regularity::TooFew, None)], &[]);
        assert_eq!(title, "n1 (buzz) 4 times and n2 (hash) once");
        let even = [source(Regularity::Even, Some("pump"))];
        assert_eq!(on_times_title(&even, &[]), "What resembles pump (buzz) comes back every 7 min 00 s");
    }
    #[test]
    fn carriers_are_told_by_their_number_and_pitch() {
        let mut one = sample_episode(0.0, 90.0, &contrast("e1", "x", None, Character::Carriers, 0.5, &["r2"]));
        let source = Source { character: Character::Carriers, ..sample_source("n1", &[1]) };
        let mut told = |lines: &[(f64, f64)]| {
            one.contrast.added_lines =
                lines.iter().map(|(hz, level_db)| added_line(*hz, *level_db, 25.0)).collect();
            let episodes = [one.clone()];
            (on_times_label(&source, &episodes), noise_words(&source, &episodes))
        };
        let [label, words] = ["n1, carrier at 1500.0 Hz", "a single carrier at 1500.0 Hz"].map(str::to_owned);
        assert_eq!(told(&[(1500.0, -50.0)]), (label, words));
        let [label, words] = ["n1, 2 carriers", "2 carriers, the strongest at 1234.5 Hz"].map(str::to_owned);
        assert_eq!(told(&[(700.0, -50.0), (1234.5, -44.0)]), (label, words));
        assert_eq!(told(&[]), ("n1, carriers".to_owned(), "carriers".to_owned()));
    }
}
