//! The carriers beside a ladder: the level of each at every step, on the rows of the steps.
//! Not here: the steps themselves (`ladder`).

use plotters::prelude::Color;
use plotters::style::RGBColor;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::page::{Drawn, Frame, Mark, Page};
use crate::plot::theme::{self, Sizes};

/// One carrier through the steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CarrierTrace {
    /// Its words, such as "1318 Hz".
    pub label: String,
    /// Level at each step, dBFS; none where it was not seen.
    pub levels: Vec<Option<f64>>,
}

/// Colours of the traces, which are as many as are drawn.
const COLOURS: [RGBColor; 4] = [theme::OFF, theme::GOOD, theme::CARE, theme::INK];

/// Those drawn: the first few that more than one step shows, so that there is something to compare.
pub(crate) fn drawn(traces: &[CarrierTrace]) -> Vec<&CarrierTrace> {
    let sound =
        |trace: &CarrierTrace| trace.levels.iter().flatten().filter(|level| axis::is_sound(**level)).count();
    let seen = |trace: &&CarrierTrace| sound(trace) > 1;
    traces.iter().filter(seen).take(COLOURS.len()).collect()
}

/// The marks of the traces for the legend.
pub(crate) fn legend(traces: &[CarrierTrace]) -> Vec<(Mark, String)> {
    let mark = |colour: &RGBColor| Mark::Curve(colour.to_rgba());
    drawn(traces).iter().zip(&COLOURS).map(|(trace, colour)| (mark(colour), trace.label.clone())).collect()
}

/// Draws them into a frame; `middles` are the rows' middles of the ladder's `rows`, from its lower edge, and the
/// step each row shows.
pub(crate) fn paint(
    page: &Page<'_>,
    plot: Frame,
    traces: &[CarrierTrace],
    (rows, middles): (usize, &[(usize, f64)]),
    sizes: &Sizes,
) -> Drawn {
    let traces = drawn(traces);
    let levels = || traces.iter().flat_map(|t| t.levels.iter().flatten()).copied().filter(|l| axis::is_sound(*l));
    let (low, high) = (levels().fold(f64::INFINITY, f64::min), levels().fold(f64::NEG_INFINITY, f64::max));
    let margin = ((high - low) * 0.15).max(2.0);
    let x =
        Axis::new(low - margin, high + margin, chart::ticks_across(plot.width(), sizes).min(4), "Carriers (dBFS)");
    let y = Axis { lo: 0.0, hi: rows as f64, ticks: Vec::new(), caption: String::new() };
    let chart = Chart::over(page, plot, x, y, sizes);
    chart.grid_across(true)?;
    for (trace, colour) in traces.iter().zip(COLOURS) {
        let at = |&(step, middle): &(usize, f64)| {
            trace.levels.get(step).copied().flatten().filter(|l| axis::is_sound(*l)).map(|l| (l, middle))
        };
        let seen: Vec<(f64, f64)> = middles.iter().filter_map(at).collect();
        chart.curve(&seen, colour, sizes.curve)?;
        for (level, middle) in seen {
            let ((x, y), half) = (chart.place(level, middle), sizes.text * 0.24);
            page.shape(&[(x - half, y), (x, y - half), (x + half, y), (x, y + half)], colour)?;
        }
    }
    page.hairline((plot.left, plot.top), (plot.left, plot.bottom), theme::RULE)
}
