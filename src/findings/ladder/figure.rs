//! The figure of a ladder: what is left after each remedy, what each step bought, the carriers that stayed.

use plotters::prelude::Color;

use crate::contrast::comparison::ContrastResult;
use crate::findings::ladder::figure_carriers::{self, CarrierTrace};
use crate::findings::ladder::result::{Ladder, LadderStep};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::dots::{Dot, Shape};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, count, number};

/// Of one device in one setting.
pub fn figure(ladder: &Ladder, contrasts: &[ContrastResult]) -> LadderFigure {
    let contrast = |id: &str| contrasts.iter().find(|c| c.id == id);
    // A void figure means nothing, on the bars or in the title.
    let told = |step: &LadderStep| {
        let void = contrast(&step.contrast).is_some_and(ContrastResult::is_void);
        step.excess_db.filter(|_| !void).map(|db| number(db, 1))
    };
    let title = match (ladder.steps.first().and_then(told), ladder.steps.last().and_then(told)) {
        (Some(first), Some(last)) => format!("{}: from {first} to {last} dB of excess", capital(&ladder.device)),
        _ => format!("{}: excess left after each remedy", capital(&ladder.device)),
    };
    LadderFigure {
        title,
        subtitle: "Excess left after each remedy, with its 95 % interval".to_owned(),
        steps: ladder
            .steps
            .iter()
            .map(|step| LadderBar {
                label: step.remedy.clone().unwrap_or_else(|| "no remedy".to_owned()),
                excess: step
                    .excess_db
                    .zip(step.excess_ci_db)
                    .filter(|_| contrast(&step.contrast).is_some_and(|c| !c.is_void()))
                    .map(|(excess, [low, high])| (excess, low, high)),
                bought: step.bought_db.zip(step.bought_ci_db).map(|(bought, [low, high])| (bought, low, high)),
                doubtful: contrast(&step.contrast).is_some_and(|c| c.is_doubtful()),
                with_lines_db: contrast(&step.contrast).and_then(ContrastResult::total_db),
            })
            .collect(),
        detection_limit_db: ladder
            .steps
            .iter()
            .filter_map(|step| contrast(&step.contrast)?.detection_limit_db)
            .reduce(f64::max),
        carriers: ladder
            .carriers
            .iter()
            .map(|carrier| CarrierTrace {
                label: format!("{:.0} Hz", carrier.freq_hz),
                levels: carrier.steps.iter().map(|step| step.level_db).collect(),
            })
            .collect(),
        forecast: forecast(ladder),
    }
}

/// What the next piece of ferrite would leave, where theory fits the steps.
fn forecast(ladder: &Ladder) -> Option<LadderForecast> {
    let now = ladder.steps.iter().filter_map(|step| step.ferrites).max().unwrap_or(0);
    let more = ladder.choke_fit.as_ref()?.forecasts.iter().filter(|f| f.ferrites > now);
    let next = more.min_by_key(|f| f.ferrites)?;
    let [low, high] = next.excess_range_db;
    let pieces = count(next.ferrites as usize, "ferrite", "ferrites");
    Some(LadderForecast { label: format!("forecast: {pieces} in all"), excess: (next.excess_db, low, high) })
}

/// A ladder of remedies.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LadderFigure {
    /// The finding.
    pub title: String,
    /// Which device, which setting.
    pub subtitle: String,
    /// Remedies in order; the first is the device without one.
    pub steps: Vec<LadderBar>,
    /// The smallest excess that would have been called, dB.
    pub detection_limit_db: Option<f64>,
    /// Carriers followed through the steps; a panel of the card leaves them out.
    pub carriers: Vec<CarrierTrace>,
    /// What the next remedy would leave; a panel of the card leaves it out.
    pub forecast: Option<LadderForecast>,
}

/// What a remedy not tried yet would leave.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LadderForecast {
    /// Which remedy.
    pub label: String,
    /// Excess left with all that the steps allow, dB.
    pub excess: (f64, f64, f64),
}

/// One remedy.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LadderBar {
    /// The remedy's words.
    pub label: String,
    /// Excess with its 95 % interval, dB; none where none could be had.
    pub excess: Option<(f64, f64, f64)>,
    /// What the step took away, with its 95 % interval, dB; none at the first.
    pub bought: Option<(f64, f64, f64)>,
    /// Whether the figure must be taken with care.
    pub doubtful: bool,
    /// The excess with the carriers that stayed or came along, dB.
    pub with_lines_db: Option<f64>,
}

/// Carriers that add less to the excess are not drawn, dB. Chosen: a whisker's cap hides them.
const LEAST_LINES_DB: f64 = 0.3;
/// Share of the figure's width that the carriers take.
const CARRIERS_SHARE: f64 = 0.27;
/// Letters of what a step bought, against those of what is left.
const SMALLER: f64 = 0.85;

/// What stands on one rung.
enum Rung<'a> {
    /// With its place in the ladder.
    Step(usize, &'a LadderBar),
    /// So many steps are not drawn.
    LeftOut(usize),
    /// Not tried yet.
    Forecast(&'a LadderForecast),
}

impl Single for LadderFigure {
    fn height(&self) -> u32 {
        700 + 58 * self.steps.len().clamp(7, 22) as u32 - 58 * 7
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(sizes), sizes)?;
        if self.steps.is_empty() {
            return page.no_data(frame, "no remedies to show", sizes);
        }
        let forecast = self.forecast.as_ref().filter(|next| !sizes.is_panel() && axis::is_sound(next.excess.0));
        let room = (frame.height() - chart::room_below(sizes)) / (sizes.text * 1.5);
        let mut rungs = self.rungs(room - f64::from(u8::from(forecast.is_some())));
        rungs.extend(forecast.map(Rung::Forecast));
        let (low, high) = self.decibels();
        let labels = self.label_width(frame, sizes);
        let carriers = !sizes.is_panel() && !figure_carriers::drawn(&self.carriers).is_empty();
        let beside = if carriers { frame.width() * CARRIERS_SHARE } else { 0.0 };
        let plot = Frame::new(
            frame.left + labels + sizes.text * 0.6,
            frame.top + sizes.text * 0.3,
            frame.right - beside - self.value_width(sizes) - sizes.text * 0.8,
            frame.bottom - chart::room_below(sizes),
        );
        let x = Axis::new(low, high, chart::ticks_across(plot.width(), sizes), "On above off (dB)");
        let y = Axis { lo: 0.0, hi: rungs.len() as f64, ticks: Vec::new(), caption: String::new() };
        let chart = Chart::over(page, plot, x, y, sizes);
        if let Some(limit) = self.limit() {
            chart.bar((-limit, limit), (0.0, rungs.len() as f64), theme::SHADE)?;
        }
        chart.grid_across(true)?;
        for (i, rung) in rungs.iter().enumerate() {
            // The first step stands at the top.
            let middle = rungs.len() as f64 - i as f64 - 0.5;
            let left = Frame { right: frame.left + labels, ..frame };
            self.rung(page, &chart, rung, middle, left, sizes)?;
        }
        self.staircase(page, &chart, &rungs)?;
        let zero = chart.place(0.0, 0.0).0;
        page.hairline((zero, plot.top), (zero, plot.bottom), theme::INK)?;
        if carriers {
            let middles: Vec<(usize, f64)> = steps_of(&rungs).map(|(step, middle, _)| (step, middle)).collect();
            let left = frame.right - beside + sizes.text;
            let panel = Frame { left, right: frame.right - sizes.text * 0.5, ..plot };
            figure_carriers::paint(page, panel, &self.carriers, (rungs.len(), &middles), sizes)?;
        }
        Ok(())
    }
}

impl LadderFigure {
    /// From bar to bar, so that the eye sees what each step took away.
    fn staircase(&self, page: &Page<'_>, chart: &Chart<'_, '_>, rungs: &[Rung<'_>]) -> Drawn {
        let known: Vec<(f64, f64)> = steps_of(rungs)
            .filter_map(|(_, middle, step)| Some((step.excess.filter(|e| axis::is_sound(e.0))?.0, middle)))
            .collect();
        for pair in known.windows(2) {
            let [(before, upper), (after, lower)] = [pair[0], pair[1]];
            let between = (upper + lower) / 2.0;
            let place = |x: f64, y: f64| chart.place(x, y);
            let stair = [place(before, upper), place(before, between), place(after, between), place(after, lower)];
            page.curve(&stair, theme::RULE, 1.6)?;
        }
        Ok(())
    }

    fn limit(&self) -> Option<f64> {
        self.detection_limit_db.filter(|limit| axis::is_sound(*limit) && *limit > 0.0)
    }

    /// All steps, or the first few and the last few where `room` is short.
    fn rungs(&self, room: f64) -> Vec<Rung<'_>> {
        let room = (room as usize).max(3);
        if self.steps.len() <= room {
            return self.steps.iter().enumerate().map(|(i, step)| Rung::Step(i, step)).collect();
        }
        let last = (room - 1) / 2;
        let first = room - 1 - last;
        let left_out = self.steps.len() - first - last;
        let mut all = self.steps.iter().enumerate().map(|(i, step)| Rung::Step(i, step));
        let before: Vec<Rung<'_>> = all.by_ref().take(first).collect();
        before.into_iter().chain([Rung::LeftOut(left_out)]).chain(all.skip(left_out)).collect()
    }

    /// Zero, every value and its interval, as far as that keeps the bars readable.
    fn decibels(&self) -> (f64, f64) {
        let with_lines = |step: &LadderBar| step.lines().map(|(_, db)| (db, db, db));
        let steps = self.steps.iter().flat_map(|step| step.excess.into_iter().chain(with_lines(step)));
        let values: Vec<_> = steps
            .chain(self.forecast.as_ref().map(|next| next.excess))
            .filter(|excess| axis::is_sound(excess.0))
            .collect();
        let low = values.iter().map(|value| value.0).fold(0.0, f64::min);
        let high = values.iter().map(|value| value.0).fold(self.limit().unwrap_or(1.0).max(1.0), f64::max);
        let beyond = (high - low) * 0.5;
        let ends = values.iter().flat_map(|value| [value.1, value.2]).filter(|end| axis::is_sound(*end));
        let ends: Vec<f64> = ends.map(|end| end.clamp(low - beyond, high + beyond)).collect();
        let low = ends.iter().copied().fold(low, f64::min);
        let high = ends.iter().copied().fold(high, f64::max);
        let margin = (high - low) * 0.03;
        (if low < 0.0 { low - margin } else { 0.0 }, high + margin)
    }

    fn label_width(&self, frame: Frame, sizes: &Sizes) -> f64 {
        let next = self.forecast.iter().filter(|_| !sizes.is_panel()).map(|next| &next.label);
        let words = self.steps.iter().map(|step| &step.label).chain(next);
        let widths = words.map(|words| letters::width(words, sizes.text, false));
        widths.fold(sizes.text * 4.0, f64::max).min(frame.width() * if sizes.is_panel() { 0.38 } else { 0.3 })
    }

    fn value_width(&self, sizes: &Sizes) -> f64 {
        let width = |step: &LadderBar| {
            let bought = letters::width(&bought_words(step, sizes), sizes.text * SMALLER, false);
            letters::width(&value_words(step, sizes), sizes.text, true).max(bought)
        };
        self.steps.iter().map(width).fold(0.0, f64::max)
    }

    fn rung(
        &self,
        page: &Page<'_>,
        chart: &Chart<'_, '_>,
        rung: &Rung<'_>,
        middle: f64,
        labels: Frame,
        sizes: &Sizes,
    ) -> Drawn {
        let y = chart.place(0.0, middle).1;
        let height = chart.plot.height() / chart.y.hi;
        let soft = Hand::plain(sizes.text, theme::SOFT_INK);
        let step = match rung {
            Rung::Step(_, step) => step,
            Rung::Forecast(next) => return next.paint(page, chart, middle, labels, sizes),
            Rung::LeftOut(count) => {
                let words = letters::cut(&format!("… {count} more"), sizes.text, false, labels.width());
                return page.text(&words, (labels.right, y), soft, HPos::Right, VPos::Center);
            }
        };
        let lines = if height > sizes.text * 2.1 { 2 } else { 1 };
        let lines = letters::wrap(&step.label, sizes.text, false, labels.width(), lines);
        let first = y - (lines.len() as f64 - 1.0) * sizes.text * letters::LEADING / 2.0;
        for (i, line) in lines.iter().enumerate() {
            let at = (labels.right, first + i as f64 * sizes.text * letters::LEADING);
            page.text(line, at, Hand::plain(sizes.text, theme::INK), HPos::Right, VPos::Center)?;
        }
        self.bar(page, chart, step, middle, sizes)?;
        let known = step.excess.is_some_and(|excess| axis::is_sound(excess.0));
        let hand = if known && !step.doubtful { Hand::bold(sizes.text, theme::INK) } else { soft };
        let bought = bought_words(step, sizes);
        let two_lines = !bought.is_empty() && height > sizes.text * 2.4;
        let x = chart.plot.right + sizes.text * 0.8;
        let value_y = if two_lines { y - sizes.text * 0.6 } else { y };
        page.text(&value_words(step, sizes), (x, value_y), hand, HPos::Left, VPos::Center)?;
        if two_lines {
            let small = Hand::plain(sizes.text * SMALLER, theme::SOFT_INK);
            page.text(&bought, (x, y + sizes.text * 0.6), small, HPos::Left, VPos::Center)?;
        }
        Ok(())
    }

    fn bar(&self, page: &Page<'_>, chart: &Chart<'_, '_>, step: &LadderBar, middle: f64, sizes: &Sizes) -> Drawn {
        let Some((value, lo, hi)) = step.excess.filter(|excess| axis::is_sound(excess.0)) else { return Ok(()) };
        let colour = if value >= 0.0 { theme::ON } else { theme::OFF };
        // A lone step is no wall: bars are never thicker than two lines of text.
        let half = (sizes.text * 1.1 * chart.y.hi / chart.plot.height().max(1.0)).min(0.32);
        chart.bar(
            (0.0, value),
            (middle - half, middle + half),
            theme::tint(colour, if step.doubtful { 0.22 } else { 0.6 }),
        )?;
        if step.doubtful {
            let (left, top) = chart.place(0.0, middle + half);
            let (right, bottom) = chart.place(value, middle - half);
            let outline = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
            page.dashes(&outline, colour, 1.6)?;
        }
        if let Some((from, to)) = step.lines() {
            let ((left, top), (right, bottom)) = (chart.place(from, middle + half), chart.place(to, middle - half));
            page.hatch(Frame::new(left, top, right, bottom), colour)?;
        }
        if !(axis::is_sound(lo) && axis::is_sound(hi)) {
            return Ok(());
        }
        let (left, y) = chart.place(lo, middle);
        let right = chart.place(hi, middle).0;
        page.curve(&[(left, y), (right, y)], theme::INK, 2.0)?;
        let cap = sizes.text * 0.25;
        for (x, within) in [(left, lo >= chart.x.lo), (right, hi <= chart.x.hi)] {
            if within {
                page.curve(&[(x, y - cap), (x, y + cap)], theme::INK, 2.0)?;
            }
        }
        Ok(())
    }

    fn legend(&self, sizes: &Sizes) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        if let Some(limit) = self.limit() {
            let words = format!("not detectable (±{})", axis::decibels(limit));
            entries.push((Mark::Area(theme::SHADE.to_rgba()), words));
        }
        if self.steps.iter().any(|step| step.lines().is_some()) {
            entries.push((Mark::Hatch(theme::ON.to_rgba()), "with its carriers".to_owned()));
        }
        if self.steps.iter().any(|step| step.doubtful) {
            entries.push((Mark::Area(theme::tint(theme::ON, 0.22).to_rgba()), "doubtful".to_owned()));
        }
        if !sizes.is_panel() {
            entries.extend(figure_carriers::legend(&self.carriers));
        }
        entries
    }
}

/// Steps that are drawn: place in the ladder, middle of the row, bar.
fn steps_of<'a>(rungs: &'a [Rung<'a>]) -> impl Iterator<Item = (usize, f64, &'a LadderBar)> {
    rungs.iter().enumerate().filter_map(|(i, rung)| match rung {
        Rung::Step(step, bar) => Some((*step, rungs.len() as f64 - i as f64 - 0.5, *bar)),
        Rung::LeftOut(_) | Rung::Forecast(_) => None,
    })
}

impl LadderBar {
    /// From where to where carriers lengthen the bar, dB.
    fn lines(&self) -> Option<(f64, f64)> {
        let excess = self.excess.filter(|excess| axis::is_sound(excess.0))?.0;
        let all = self.with_lines_db.filter(|db| axis::is_sound(*db))?;
        (all - excess.max(0.0) >= LEAST_LINES_DB).then_some((excess.max(0.0), all))
    }
}

impl LadderForecast {
    /// A hollow dot with all that is possible: nothing of it was measured.
    fn paint(&self, page: &Page<'_>, chart: &Chart<'_, '_>, middle: f64, labels: Frame, sizes: &Sizes) -> Drawn {
        let (value, low, high) = self.excess;
        let y = chart.place(0.0, middle).1;
        let soft = Hand::plain(sizes.text, theme::SOFT_INK);
        let lines = letters::wrap(&self.label, sizes.text, false, labels.width(), 2);
        let first = y - (lines.len() as f64 - 1.0) * sizes.text * letters::LEADING / 2.0;
        for (i, line) in lines.iter().enumerate() {
            let at = (labels.right, first + i as f64 * sizes.text * letters::LEADING);
            page.text(line, at, soft, HPos::Right, VPos::Center)?;
        }
        let dot = Dot { shape: Shape::Diamond, radius: sizes.text * 0.28, colour: theme::SOFT_INK, hollow: true };
        dot.level(chart, self.excess, middle)?;
        let sound = axis::is_sound(low) && axis::is_sound(high);
        let words = if sound {
            format!("{} to {}", axis::number(low, 1), axis::decibels(high))
        } else {
            axis::decibels(value)
        };
        page.text(&words, (chart.plot.right + sizes.text * 0.8, y), soft, HPos::Left, VPos::Center)
    }
}

/// What the step took away, in words below the value; nothing on the card.
fn bought_words(step: &LadderBar, sizes: &Sizes) -> String {
    let sound = |b: &(f64, f64, f64)| axis::is_sound(b.0) && axis::is_sound(b.1) && axis::is_sound(b.2);
    match step.bought.filter(sound).filter(|_| !sizes.is_panel()) {
        None => String::new(),
        Some((_, low, high)) if low <= 0.0 && high >= 0.0 => "took off nothing measurable".to_owned(),
        Some((value, ..)) if value < 0.0 => format!("worse by {}", axis::decibels(-value)),
        Some((value, ..)) => format!("took off {}", axis::decibels(value)),
    }
}

/// The figure beside the bar; short on the card.
fn value_words(step: &LadderBar, sizes: &Sizes) -> String {
    match step.excess.filter(|excess| axis::is_sound(excess.0)) {
        None => "no figure".to_owned(),
        Some((value, ..)) if sizes.is_panel() => axis::decibels(value),
        Some(excess) => axis::estimate(excess),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample_report;
    use crate::warning::Trust;

    #[test]
    fn a_void_step_is_not_in_the_title() {
        let mut report = sample_report();
        let ladder = report.ladders[0].clone();
        let last = ladder.steps[2].contrast.clone();
        assert_eq!(figure(&ladder, &report.contrasts).title, "Pond pump: from 14.2 to 2.3 dB of excess");
        report.contrasts.iter_mut().find(|c| c.id == last).unwrap().trust = Trust::Void;
        assert_eq!(figure(&ladder, &report.contrasts).title, "Pond pump: excess left after each remedy");
    }

    #[test]
    fn a_long_ladder_keeps_its_ends_and_says_what_is_left_out() {
        let steps = (0..30).map(|i| LadderBar { label: i.to_string(), ..LadderBar::default() }).collect();
        let figure = LadderFigure { steps, ..LadderFigure::default() };
        let words: Vec<String> = figure
            .rungs(6.9)
            .iter()
            .map(|rung| match rung {
                Rung::Step(_, step) => step.label.clone(),
                Rung::LeftOut(count) => format!("{count} left out"),
                Rung::Forecast(next) => next.label.clone(),
            })
            .collect();
        assert_eq!(words, ["0", "1", "2", "25 left out", "28", "29"]);
    }
}
