//! Dots with whiskers: a value and its 95 % interval, told apart by shape as well as by colour.
//! Not here: axes (`chart`).

use plotters::prelude::Color;

use super::axis;
use super::chart::Chart;
use super::page::{Drawn, Page};
use super::theme;

/// The shape of a dot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A disc.
    Disc,
    /// A square on its side.
    Square,
    /// A square on its corner.
    Diamond,
    /// A triangle that points up.
    Triangle,
}

/// Shapes in the order in which they are given out.
pub const SHAPES: [Shape; 4] = [Shape::Disc, Shape::Square, Shape::Diamond, Shape::Triangle];

impl Shape {
    /// Its outline around a place, about as large as a disc of this radius.
    fn outline(self, (x, y): (f64, f64), radius: f64) -> Vec<(f64, f64)> {
        let corners = |count: usize, first: f64, radius: f64| {
            (0..count)
                .map(|turn| first + std::f64::consts::TAU * turn as f64 / count as f64)
                .map(|angle| (x + radius * angle.cos(), y + radius * angle.sin()))
                .collect()
        };
        match self {
            Self::Disc => corners(20, 0.0, radius),
            Self::Square => corners(4, std::f64::consts::FRAC_PI_4, radius * 1.2),
            Self::Diamond => corners(4, 0.0, radius * 1.3),
            Self::Triangle => corners(3, -std::f64::consts::FRAC_PI_2, radius * 1.35),
        }
    }
}

/// How a dot and its whisker look.
#[derive(Debug, Clone, Copy)]
pub struct Dot<C> {
    /// Shape.
    pub shape: Shape,
    /// Pixels from its middle to its edge.
    pub radius: f64,
    /// Colour of both.
    pub colour: C,
    /// Whether its middle is left blank: for what is in doubt.
    pub hollow: bool,
}

/// Width of a whisker, pixels. Chosen by eye: seen at two thirds of the size.
const WHISKER: f64 = 2.0;

impl<C: Color> Dot<C> {
    /// Draws the dot alone.
    pub fn draw(&self, page: &Page<'_>, at: (f64, f64)) -> Drawn {
        let mut outline = self.shape.outline(at, self.radius);
        if !self.hollow {
            return page.shape(&outline, self.colour.to_rgba());
        }
        page.shape(&outline, theme::GROUND)?;
        outline.push(outline[0]);
        page.curve(&outline, self.colour.to_rgba(), WHISKER)
    }

    /// A value (value, low, high) at a place on the level axis, moved by some pixels; nothing where the value can't
    /// be drawn.
    pub fn upright(&self, chart: &Chart<'_, '_>, at: f64, value: (f64, f64, f64), aside: f64) -> Drawn {
        if !axis::is_sound(value.0) {
            return Ok(());
        }
        let place = |y: f64| (chart.place(at, y).0 + aside, chart.place(at, y).1);
        let span = (chart.y.lo, chart.y.hi);
        self.whisker(chart.page, value, span, place, |(x, y), half| [(x - half, y), (x + half, y)])?;
        if (span.0..=span.1).contains(&value.0) { self.draw(chart.page, place(value.0)) } else { Ok(()) }
    }

    /// A value on the level axis at a height.
    pub fn level(&self, chart: &Chart<'_, '_>, value: (f64, f64, f64), at: f64) -> Drawn {
        if !axis::is_sound(value.0) {
            return Ok(());
        }
        let place = |x: f64| chart.place(x, at);
        let span = (chart.x.lo, chart.x.hi);
        self.whisker(chart.page, value, span, place, |(x, y), half| [(x, y - half), (x, y + half)])?;
        if (span.0..=span.1).contains(&value.0) { self.draw(chart.page, place(value.0)) } else { Ok(()) }
    }

    /// The interval as a stroke with caps; an arrow where it goes on beyond the axis.
    fn whisker(
        &self,
        page: &Page<'_>,
        (_, lo, hi): (f64, f64, f64),
        (least, most): (f64, f64),
        place: impl Fn(f64) -> (f64, f64),
        cap: impl Fn((f64, f64), f64) -> [(f64, f64); 2],
    ) -> Drawn {
        if lo.is_nan() || hi.is_nan() || lo > hi || hi < least || lo > most {
            return Ok(());
        }
        let (low, high) = (place(lo.max(least)), place(hi.min(most)));
        let colour = self.colour.to_rgba();
        page.curve(&[low, high], colour, WHISKER)?;
        let half = self.radius * 0.85;
        let along = (high.0 - low.0, high.1 - low.1);
        let length = along.0.hypot(along.1).max(1e-6);
        for (end, is_beyond, outward) in [(low, lo < least, -1.0), (high, hi > most, 1.0)] {
            let ends = cap(end, half);
            if is_beyond {
                let step = |share: f64| outward * share * half / length;
                let tip = (end.0 + along.0 * step(1.0), end.1 + along.1 * step(1.0));
                page.shape(&[tip, ends[0], ends[1]], colour)?;
            } else {
                page.curve(&ends, colour, WHISKER)?;
            }
        }
        Ok(())
    }
}
