//! The figure of a family of carriers over the dial: which stretches of radio frequency, which carriers.

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::findings::names::slug;
use crate::findings::picture::{FigureKind, Picture};
use crate::findings::switching_comb::result::SwitchingComb;
use crate::findings::switching_comb::words::{khz, spacing_decimals};
use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart, Wish};
use crate::plot::letters;
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};
use crate::text::{capital, count};

/// Air beside the outermost carriers, as a share of all.
const AIR: f64 = 0.02;
/// Bands with a stretch of their own.
const MOST_BANDS: usize = 5;

/// A stretch around members reaches so many spacings beyond them, holds at most so many times as much, and there
/// are at most so many. Chosen by eye: places are seen to be even.
const NEIGHBOURS: f64 = 1.6;
const MOST_REACHES: f64 = 6.0;
const MOST_AROUND: usize = 3;

/// A figure for every family.
pub fn figures(combs: &[SwitchingComb], bands_khz: &[(f64, f64)]) -> Vec<Picture> {
    combs
        .iter()
        .enumerate()
        .map(|(at, comb)| Picture {
            file: format!("comb{}-{}dial.png", at + 1, slug(&comb.device)),
            kind: FigureKind::SwitchingComb,
            contrast: None,
            caption: format!(
                "{}: its carriers over the dial, every {} kHz.",
                capital(&comb.device),
                khz(comb.spacing_hz, 3)
            ),
            drawing: Box::new(figure(comb, bands_khz)),
        })
        .collect()
}

fn figure(comb: &SwitchingComb, bands_khz: &[(f64, f64)]) -> SwitchingCombFigure {
    let in_khz = |hz: f64| hz / 1000.0;
    let members_khz: Vec<f64> = comb.members.iter().map(|m| in_khz(m.rf_hz)).collect();
    let outsiders_khz: Vec<f64> = comb.outsiders.iter().copied().map(in_khz).collect();
    let missing_khz: Vec<f64> = comb.missing.iter().map(|m| in_khz(m.rf_hz)).collect();
    let all = || members_khz.iter().chain(&outsiders_khz).chain(&missing_khz).copied();
    let (low, high) = (all().fold(f64::MAX, f64::min), all().fold(f64::MIN, f64::max));
    let air = (high - low) * AIR;
    let decimals = spacing_decimals(comb.spacing_ci_hz);
    let mut stretches = vec![CombStretch {
        label: "Everything listened to".to_owned(),
        from_khz: (low - air).max(0.0),
        to_khz: high + air,
        is_overview: true,
    }];
    let spacing_khz = in_khz(comb.spacing_hz);
    let named: Vec<(f64, f64)> = match bands_khz {
        [] => around(&members_khz, spacing_khz),
        bands => bands.to_vec(),
    };
    stretches.extend(named.into_iter().take(MOST_BANDS).map(|(low, high)| CombStretch {
        label: format!("{low} to {high} kHz"),
        from_khz: low,
        to_khz: high,
        is_overview: false,
    }));
    SwitchingCombFigure {
        title: format!("{}: carriers every {} kHz", capital(&comb.device), khz(comb.spacing_hz, 3)),
        subtitle: format!(
            "95 % interval {} to {} kHz · {}, {} unrelated, {} listened to and not heard",
            khz(comb.spacing_ci_hz[0], decimals),
            khz(comb.spacing_ci_hz[1], decimals),
            count(comb.members.len(), "carrier", "carriers"),
            comb.outsiders.len(),
            comb.missing.len(),
        ),
        stretches,
        members_khz,
        missing_khz,
        outsiders_khz,
        // Those listened to in vain have their own mark.
        predicted_khz: comb.predicted.iter().filter(|p| !p.missing).map(|p| in_khz(p.rf_hz)).collect(),
    }
}

/// Without bands in the manifest: stretches around the members, where their neighbours can be seen; those with most
/// members first, then in order of frequency.
fn around(members_khz: &[f64], spacing_khz: f64) -> Vec<(f64, f64)> {
    let reach = spacing_khz * NEIGHBOURS;
    let mut sorted: Vec<f64> = members_khz.iter().copied().filter(|khz| axis::is_sound(*khz)).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    if !axis::is_sound(reach) || reach <= 0.0 {
        return Vec::new();
    }
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for khz in sorted {
        match groups.last_mut() {
            Some(group)
                if khz - group[group.len() - 1] <= 2.0 * reach && khz - group[0] <= MOST_REACHES * reach =>
            {
                group.push(khz);
            }
            _ => groups.push(vec![khz]),
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.len()));
    groups.truncate(MOST_AROUND);
    groups.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let whole = |khz: f64| khz.max(0.0).round();
    groups.iter().map(|group| (whole(group[0] - reach), whole(group[group.len() - 1] + reach))).collect()
}

/// Carriers of one family on axes of radio frequency.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SwitchingCombFigure {
    /// The finding.
    pub title: String,
    /// What it rests on.
    pub subtitle: String,
    /// Stretches of radio frequency shown, one above the other.
    pub stretches: Vec<CombStretch>,
    /// Members that were heard, kHz.
    pub members_khz: Vec<f64>,
    /// Places listened to without hearing a member.
    pub missing_khz: Vec<f64>,
    /// Carriers that do not belong.
    pub outsiders_khz: Vec<f64>,
    /// Where further members should stand.
    pub predicted_khz: Vec<f64>,
}

/// A stretch of radio frequency.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CombStretch {
    /// What it is.
    pub label: String,
    /// Its lower end.
    pub from_khz: f64,
    /// Its upper end.
    pub to_khz: f64,
    /// Whether it is the overview of all others: what is to be expected would be a blob there. Elsewhere carriers
    /// get their frequency written above them, where there is room.
    pub is_overview: bool,
}

/// Most stretches drawn.
const MOST_STRETCHES: usize = 6;
/// Height of a stretch with its axis, pixels.
const STRETCH: u32 = 190;
/// Most carriers of a kind drawn; more are a grey area.
const MOST_MARKS: usize = 3_000;

/// How one kind of carrier is drawn: how high (share of the axis), how.
struct Ink<'a> {
    places: &'a [f64],
    height: f64,
    colour: RGBColor,
    line: Line,
    words: &'static str,
}

/// Told apart without colour: heard is bold and solid, the others are thinner or broken.
#[derive(Clone, Copy, PartialEq)]
enum Line {
    Bold,
    Thin,
    /// With a cross at its head.
    Crossed,
    Dotted,
}

impl Single for SwitchingCombFigure {
    fn height(&self) -> u32 {
        190 + STRETCH * self.stretches.len().clamp(1, MOST_STRETCHES) as u32
    }

    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let inks = self.inks();
        let mark = |ink: &Ink<'_>| match ink.line {
            Line::Bold | Line::Thin => Mark::Curve(ink.colour.to_rgba()),
            Line::Crossed => Mark::Cross(ink.colour.to_rgba()),
            Line::Dotted => Mark::Dots(ink.colour.to_rgba()),
        };
        let entries: Vec<(Mark, String)> =
            inks.iter().rev().filter(|i| !i.places.is_empty()).map(|i| (mark(i), i.words.to_owned())).collect();
        let frame = page.legend(frame, &entries, sizes)?;
        if self.stretches.is_empty() || entries.is_empty() {
            return page.no_data(frame, "no carriers to show", sizes);
        }
        let shown = &self.stretches[..self.stretches.len().min(MOST_STRETCHES)];
        let frame = Frame { top: frame.top + sizes.text * 0.35, ..frame };
        let height = frame.height() / shown.len() as f64;
        for (i, stretch) in shown.iter().enumerate() {
            let top = frame.top + height * i as f64;
            self.stretch(page, Frame { top, bottom: top + height, ..frame }, stretch, &inks, sizes)?;
        }
        Ok(())
    }
}

impl SwitchingCombFigure {
    fn inks(&self) -> [Ink<'_>; 4] {
        let ink = |places, height, colour, line, words| Ink { places, height, colour, line, words };
        [
            ink(&self.predicted_khz, 0.5, theme::SOFT_INK, Line::Dotted, "to be expected"),
            ink(&self.missing_khz, 0.5, theme::OFF, Line::Crossed, "listened to, not heard"),
            ink(&self.outsiders_khz, 0.34, theme::RULE, Line::Thin, "unrelated"),
            ink(&self.members_khz, 0.62, theme::ON, Line::Bold, "heard"),
        ]
    }

    fn stretch(
        &self,
        page: &Page<'_>,
        frame: Frame,
        stretch: &CombStretch,
        inks: &[Ink<'_>],
        sizes: &Sizes,
    ) -> Drawn {
        let label = letters::cut(&stretch.label, sizes.text, true, frame.width());
        page.text(&label, (frame.left, frame.top), Hand::bold(sizes.text, theme::INK), HPos::Left, VPos::Top)?;
        let frame = Frame { top: frame.top + sizes.text * 0.9, ..frame };
        let ticks = chart::ticks_across(frame.width(), sizes);
        let x = Axis::new(stretch.from_khz, stretch.to_khz, ticks, "Radio frequency (kHz)");
        let y = Axis { lo: 0.0, hi: 1.0, ticks: Vec::new(), caption: String::new() };
        // The first tick's words stand half beside the axis, as the last one's do.
        let first = x.ticks.first().map_or(0.0, |(_, words)| letters::width(words, sizes.text, false) / 2.0);
        let frame = Frame { left: frame.left + first, ..frame };
        let chart = Chart::inside(page, frame, x, y, sizes);
        chart.grid_across(true)?;
        for ink in inks.iter().filter(|ink| !(stretch.is_overview && ink.line == Line::Dotted)) {
            for &khz in ink.places.iter().filter(|khz| is_within(**khz, &chart.x)).take(MOST_MARKS) {
                let ((x, foot), head) = (chart.place(khz, 0.0), chart.place(khz, ink.height).1);
                let line = [(x, foot), (x, head)];
                match ink.line {
                    Line::Bold => page.curve(&line, ink.colour, sizes.curve * 1.9)?,
                    Line::Thin => page.curve(&line, ink.colour, sizes.curve * 1.2)?,
                    Line::Dotted => page.dots(&line, ink.colour, sizes.curve * 1.1)?,
                    Line::Crossed => {
                        page.curve(&line, ink.colour, sizes.curve * 0.7)?;
                        page.cross((x, head), sizes.text * 0.26, ink.colour)?;
                    }
                }
            }
        }
        if stretch.is_overview { Ok(()) } else { self.labels(page, &chart, sizes) }
    }

    /// Frequencies above members and predicted carriers, as many as find room.
    fn labels(&self, page: &Page<'_>, chart: &Chart<'_, '_>, sizes: &Sizes) -> Drawn {
        let all = self.members_khz.iter().chain(&self.missing_khz).chain(&self.predicted_khz);
        let labelled: Vec<f64> =
            all.copied().filter(|khz| is_within(*khz, &chart.x)).take(MOST_MARKS / 30).collect();
        let words = |khz: f64| axis::number(khz, 1);
        let wishes: Vec<Wish> = labelled
            .iter()
            .map(|&khz| Wish { x: chart.place(khz, 0.0).0, width: letters::width(&words(khz), sizes.text, true) })
            .collect();
        let seats = chart::seat(&wishes, (chart.plot.left, chart.plot.right), 1, sizes.text * 0.6);
        for (&khz, seat) in labelled.iter().zip(&seats) {
            let Some(seat) = seat else { continue };
            let y = chart.place(khz, 0.62).1 - sizes.text * 0.3;
            let is_heard = self.members_khz.contains(&khz);
            let hand = if is_heard {
                Hand::bold(sizes.text, theme::INK)
            } else {
                Hand::plain(sizes.text, theme::SOFT_INK)
            };
            page.text(&words(khz), (seat.middle, y), hand, HPos::Center, VPos::Bottom)?;
        }
        Ok(())
    }
}

fn is_within(khz: f64, axis: &Axis) -> bool {
    axis::is_sound(khz) && (axis.lo..=axis.hi).contains(&khz)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_bands_the_neighbours_of_members_are_shown() {
        let members: Vec<f64> = [88.0, 161.0, 162.0, 163.0, 322.0, 645.0].map(|k| k * 40.0).into();
        assert_eq!(around(&members, 40.0), [(3456.0, 3584.0), (6376.0, 6584.0), (12_816.0, 12_944.0)]);
        assert!(around(&[f64::NAN], 40.0).is_empty() && around(&[1.0], f64::NAN).is_empty());
        let all: Vec<f64> = (0..2000).map(f64::from).collect();
        assert!(around(&all, 1.0).iter().all(|(low, high)| high - low <= 17.0));
    }
}
