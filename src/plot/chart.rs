//! A pair of axes on a page and what is drawn between them, in the axes' units.
//! Not here: which ticks and numbers (`axis`), titles and legends (`page`).

use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::element::Rectangle;
use plotters::prelude::{Color, DrawingArea};

use super::axis::Axis;
use super::canvas::{Canvas, UNITS};
use super::letters;
use super::page::{Drawn, Frame, HPos, Hand, Page, VPos};
use super::theme::{self, Sizes};

/// The axes, laid out but not yet drawn: [`Chart::grid`] draws them.
pub struct Chart<'p, 'a> {
    /// What it is drawn on.
    pub page: &'p Page<'a>,
    area: DrawingArea<Canvas<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
    sizes: Sizes,
    /// Where data go, pixels.
    pub plot: Frame,
    /// The axis along the lower edge.
    pub x: Axis,
    /// The axis along the left edge.
    pub y: Axis,
}

/// How many ticks an upright axis of this height takes.
pub fn ticks_down(height: f64, sizes: &Sizes) -> usize {
    (height / (sizes.text * 1.9)).clamp(3.0, 8.0) as usize
}

/// How many ticks a level axis of this width takes, with numbers of up to four figures.
pub fn ticks_across(width: f64, sizes: &Sizes) -> usize {
    (width / (sizes.text * 3.3)).clamp(2.0, 9.0) as usize
}

/// Room that ticks and caption take below the plot.
pub fn room_below(sizes: &Sizes) -> f64 {
    sizes.text * 2.95
}

/// Room that ticks and caption of this axis take to its left.
pub fn room_left(y: &Axis, sizes: &Sizes) -> f64 {
    let caption = if y.caption.is_empty() { 0.0 } else { sizes.text * 1.35 };
    let widest = y.ticks.iter().map(|(_, words)| letters::width(words, sizes.text, false)).fold(0.0, f64::max);
    (caption + widest + sizes.text * 0.45).ceil()
}

impl<'p, 'a> Chart<'p, 'a> {
    /// Axes inside `frame`, which holds their words too. Half of the last label's width is kept free at the right.
    pub fn inside(page: &'p Page<'a>, frame: Frame, x: Axis, y: Axis, sizes: &Sizes) -> Self {
        let last = x.ticks.last().map_or(0.0, |(_, words)| letters::width(words, sizes.text, false) / 2.0);
        let plot = Frame::new(
            (frame.left + room_left(&y, sizes)).round(),
            (frame.top + sizes.text * 0.45).round(),
            (frame.right - last.max(2.0)).round(),
            (frame.bottom - room_below(sizes)).round(),
        );
        Self::over(page, plot, x, y, sizes)
    }

    /// Axes whose data go exactly into `plot`; their words stand outside it.
    pub fn over(page: &'p Page<'a>, plot: Frame, x: Axis, y: Axis, sizes: &Sizes) -> Self {
        let area = page.area(plot);
        let (across, down) = area.get_pixel_range();
        let spec = Cartesian2d::new(x.lo..x.hi, y.lo..y.hi, (across, down.end..down.start));
        Self { page, area: area.apply_coord_spec(spec), sizes: *sizes, plot, x, y }
    }

    /// Drops ticks of the level axis whose words would reach further right than this.
    pub fn keep_words_left_of(&mut self, right: f64) {
        let size = self.sizes.text;
        let end =
            |tick: &(f64, String)| self.place(tick.0, self.y.lo).0 + letters::width(&tick.1, size, false) / 2.0;
        self.x.ticks = self.x.ticks.iter().filter(|tick| end(tick) <= right).cloned().collect();
    }

    /// Where a value lies on the page, pixels.
    pub fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = self.area.map_coordinate(&(self.x.clamp(x), self.y.clamp(y)));
        (f64::from(x) / UNITS, f64::from(y) / UNITS)
    }

    /// Grid, axes, ticks and captions.
    pub fn grid(&self) -> Drawn {
        self.grid_down(true)?;
        self.grid_across(true)
    }

    /// The upright axis: level grid lines (or only short ticks outside), numbers at the left, caption.
    pub fn grid_down(&self, full: bool) -> Drawn {
        let Frame { left, right, top, bottom } = self.plot;
        let size = self.sizes.text;
        for (value, words) in &self.y.ticks {
            let y = self.place(self.x.lo, *value).1;
            let (from, to, colour) =
                if full { (left, right, theme::GRID) } else { (left - size * 0.25, left, theme::RULE) };
            self.page.hairline((from, y), (to, y), colour)?;
            let hand = Hand::plain(size, theme::SOFT_INK);
            self.page.text(words, (left - size * 0.45, y), hand, HPos::Right, VPos::Center)?;
        }
        self.page.hairline((left, top), (left, bottom), theme::RULE)?;
        let caption =
            letters::cut(&self.y.caption, size, false, self.plot.height() + room_below(&self.sizes) * 0.8);
        let width = letters::width(&caption, size, false);
        // A caption longer than the axis may use the room beside the words below.
        let middle = ((top + bottom) / 2.0).max(top - size * 0.4 + width / 2.0);
        let x = left - room_left(&self.y, &self.sizes) + size * 0.45;
        self.page.text_up(&caption, (x, middle), Hand::plain(size, theme::SOFT_INK))
    }

    /// The level axis: short ticks (or grid lines over the full height), numbers below, caption.
    pub fn grid_across(&self, full: bool) -> Drawn {
        let Frame { left, right, top, bottom } = self.plot;
        let size = self.sizes.text;
        for (value, words) in &self.x.ticks {
            let x = self.place(*value, self.y.lo).0;
            if full {
                self.page.hairline((x, top), (x, bottom), theme::GRID)?;
            }
            self.page.hairline((x, bottom), (x, bottom + size * 0.25), theme::RULE)?;
            let hand = Hand::plain(size, theme::SOFT_INK);
            self.page.text(words, (x, bottom + size * 0.5), hand, HPos::Center, VPos::Top)?;
        }
        self.page.hairline((left, bottom), (right, bottom), theme::RULE)?;
        let caption = letters::cut(&self.x.caption, size, false, self.plot.width() + size * 4.0);
        let hand = Hand::plain(size, theme::SOFT_INK);
        self.page.text(&caption, ((left + right) / 2.0, bottom + size * 1.75), hand, HPos::Center, VPos::Top)
    }

    /// Greys what lies left of and right of a range of x.
    pub fn shade_outside(&self, (lo, hi): (f64, f64)) -> Drawn {
        if lo >= hi || lo.is_nan() || hi.is_nan() {
            return Ok(());
        }
        self.bar((self.x.lo, lo), (self.y.lo, self.y.hi), theme::SHADE)?;
        self.bar((hi, self.x.hi), (self.y.lo, self.y.hi), theme::SHADE)
    }

    /// A filled rectangle between two values of x and two of y, cut at the axes.
    pub fn bar(&self, (x0, x1): (f64, f64), (y0, y1): (f64, f64), colour: impl Color) -> Drawn {
        if [x0, x1, y0, y1].iter().any(|v| v.is_nan()) || x0.max(x1) <= self.x.lo || x0.min(x1) >= self.x.hi {
            return Ok(());
        }
        let corner = |x: f64, y: f64| (self.x.clamp(x), self.y.clamp(y));
        let (mut low, mut high) = (corner(x0, y0), corner(x1, y1));
        if low.0 > high.0 {
            std::mem::swap(&mut low.0, &mut high.0);
        }
        if low.0 == high.0 || low.1 == high.1 {
            return Ok(());
        }
        Ok(self.area.draw(&Rectangle::new([low, high], colour.filled()))?)
    }

    /// A curve through values of x and y, cut at the axes and broken where a value is not a number. −∞ counts as
    /// far below.
    pub fn curve(&self, values: &[(f64, f64)], colour: impl Color, width: f64) -> Drawn {
        let colour = colour.to_rgba();
        self.runs(values).iter().try_for_each(|run| self.page.curve(run, colour, width))
    }

    /// The same, dashed.
    pub fn dashes(&self, values: &[(f64, f64)], colour: impl Color, width: f64) -> Drawn {
        let colour = colour.to_rgba();
        self.runs(values).iter().try_for_each(|run| self.page.dashes(run, colour, width))
    }

    /// The stretches of a curve that lie within the axes, in pixels, thinned to what the pixels can show.
    fn runs(&self, values: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut open = false;
        for pair in self.thinned(values).windows(2) {
            match self.cut(pair[0], pair[1]) {
                Some((from, to)) => {
                    let (from, to) = (self.place(from.0, from.1), self.place(to.0, to.1));
                    match runs.last_mut() {
                        Some(run) if open && run.last() == Some(&from) => run.push(to),
                        _ => runs.push(vec![from, to]),
                    }
                    open = true;
                }
                None => open = false,
            }
        }
        runs
    }

    /// The part of a stretch between two values that lies within the axes.
    fn cut(&self, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let (mut start, mut end) = (0.0f64, 1.0f64);
        for (a, b, axis) in [(a.0, b.0, &self.x), (a.1, b.1, &self.y)] {
            let change = b - a;
            if !change.is_finite() || (change == 0.0 && !(axis.lo..=axis.hi).contains(&a)) {
                return None;
            }
            if change != 0.0 {
                let (enter, leave) = ((axis.lo - a) / change, (axis.hi - a) / change);
                start = start.max(enter.min(leave));
                end = end.min(enter.max(leave));
            }
        }
        let at = |t: f64| (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
        (start < end).then(|| (at(start), at(end)))
    }

    /// Where more than a few points share half a pixel's column, its first, lowest, highest and last, in their
    /// order.
    fn thinned(&self, values: &[(f64, f64)]) -> Vec<(f64, f64)> {
        let far_below = self.y.lo - (self.y.hi - self.y.lo);
        let sound = |&(x, y): &(f64, f64)| (x, if y == f64::NEG_INFINITY { far_below } else { y });
        if values.len() as f64 <= self.plot.width() * 2.0 {
            return values.iter().map(sound).collect();
        }
        let per_column = (self.x.hi - self.x.lo) / (self.plot.width() * 2.0);
        let values: Vec<(f64, f64)> = values.iter().map(sound).collect();
        let same = |a: &(f64, f64), b: &(f64, f64)| (a.0 / per_column).floor() == (b.0 / per_column).floor();
        values.chunk_by(same).flat_map(extremes).collect()
    }
}

fn extremes(column: &[(f64, f64)]) -> Vec<(f64, f64)> {
    if column.len() <= 4 {
        return column.to_vec();
    }
    let by_value = |a: &usize, b: &usize| column[*a].1.total_cmp(&column[*b].1);
    let lowest = (0..column.len()).min_by(by_value).unwrap_or(0);
    let highest = (0..column.len()).max_by(by_value).unwrap_or(0);
    let mut kept = vec![0, lowest, highest, column.len() - 1];
    kept.sort_unstable();
    kept.dedup();
    kept.into_iter().map(|i| column[i]).collect()
}

/// A label that wants to stand above a place on the level axis.
#[derive(Debug, Clone, Copy)]
pub struct Wish {
    /// The place it belongs to, pixels.
    pub x: f64,
    /// Its width, pixels.
    pub width: f64,
}

/// Where a label stands: its row above the data (0 is the lowest) and its middle, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seat {
    /// Row, counted upwards.
    pub row: usize,
    /// Middle of the label.
    pub middle: f64,
}

/// Heights for words beside places, as near to them as `apart` between two allows, within (top, bottom); in the
/// order of the wishes.
pub fn stacked(wishes: &[f64], apart: f64, (top, bottom): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wishes.len()).collect();
    order.sort_by(|a, b| wishes[*a].total_cmp(&wishes[*b]));
    // Heaps of words that touch, each as (first of the order, how many, middle of the heap).
    let mut heaps: Vec<(usize, usize, f64)> = Vec::new();
    for (at, wish) in order.iter().map(|i| wishes[*i]).enumerate() {
        let mut heap = (at, 1, wish);
        while let Some(&(first, count, middle)) = heaps.last() {
            let room = apart * (count + heap.1) as f64 / 2.0;
            if heap.2 - middle >= room {
                break;
            }
            heaps.pop();
            let all = (count + heap.1) as f64;
            let mean = (middle * count as f64 + heap.2 * heap.1 as f64) / all;
            heap = (first, count + heap.1, mean);
        }
        let half = apart * (heap.1 - 1) as f64 / 2.0;
        heap.2 = heap.2.max(top + half).min((bottom - half).max(top + half));
        heaps.push(heap);
    }
    let mut heights = vec![0.0; wishes.len()];
    for (first, count, middle) in heaps {
        for n in 0..count {
            heights[order[first + n]] = middle + apart * (n as f64 - (count - 1) as f64 / 2.0);
        }
    }
    heights
}

/// How many rows of these seats are taken.
pub fn rows_taken(seats: &[Option<Seat>]) -> usize {
    seats.iter().flatten().map(|seat| seat.row + 1).max().unwrap_or(0)
}

/// Seats labels in rows so that none touches another, nor the line that leads from another down to its place.
/// Wishes come in order of importance; what finds no room gets no seat.
pub fn seat(wishes: &[Wish], span: (f64, f64), rows: usize, gap: f64) -> Vec<Option<Seat>> {
    // Labels that stand straight above their places look best; labels that lean away from their nearest neighbour
    // leave more room between close places. Whichever seats more, or else the more important.
    let straight = seat_by(wishes, span, rows, gap, |_| LEANS.to_vec());
    let apart = seat_by(wishes, span, rows, gap, |i| leans_away(wishes, i, gap));
    let worth = |seats: &[Option<Seat>]| {
        let seated: Vec<bool> = seats.iter().map(Option::is_some).collect();
        (seated.iter().filter(|seated| **seated).count(), seated)
    };
    if worth(&apart) > worth(&straight) { apart } else { straight }
}

/// How far a label may lean, in halves of its width: it still stands above its place. Chosen by eye.
const LEANS: [f64; 5] = [0.0, 0.35, -0.35, 0.7, -0.7];

/// The same, those away from a close neighbour first, the furthest before all.
fn leans_away(wishes: &[Wish], i: usize, gap: f64) -> Vec<f64> {
    let mut leans = LEANS.to_vec();
    let others = wishes.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, other)| other);
    let nearest = others.min_by(|a, b| (a.x - wishes[i].x).abs().total_cmp(&(b.x - wishes[i].x).abs()));
    if let Some(other) = nearest {
        let away = (wishes[i].x - other.x).signum();
        if (wishes[i].x - other.x).abs() < (wishes[i].width + other.width) / 2.0 + gap {
            leans.push(0.95 * away);
            leans.sort_by(|a, b| (b * away).total_cmp(&(a * away)));
        }
    }
    leans
}

fn seat_by(
    wishes: &[Wish],
    span: (f64, f64),
    rows: usize,
    gap: f64,
    leans: impl Fn(usize) -> Vec<f64>,
) -> Vec<Option<Seat>> {
    let mut seated: Vec<(Wish, Seat)> = Vec::new();
    (0..wishes.len())
        .map(|i| {
            let leans = leans(i);
            let seat = (0..rows).find_map(|row| seat_in_row(&wishes[i], row, span, gap, &leans, &seated))?;
            seated.push((wishes[i], seat));
            Some(seat)
        })
        .collect()
}

fn seat_in_row(
    wish: &Wish,
    row: usize,
    (left, right): (f64, f64),
    gap: f64,
    leans: &[f64],
    seated: &[(Wish, Seat)],
) -> Option<Seat> {
    let half = wish.width / 2.0;
    leans.iter().find_map(|lean| {
        let middle = (wish.x + lean * half).clamp(left + half, (right - half).max(left + half));
        let touches = |(other, seat): &(Wish, Seat)| {
            let apart = (seat.middle - middle).abs();
            (seat.row == row && apart < half + other.width / 2.0 + gap)
                || (seat.row > row && (other.x - middle).abs() < half + gap / 2.0)
                || (seat.row < row && (wish.x - seat.middle).abs() < other.width / 2.0 + gap / 2.0)
        };
        let above_its_place = (wish.x - middle).abs() <= half;
        (above_its_place && wish.width <= right - left && !seated.iter().any(touches))
            .then_some(Seat { row, middle })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_never_touch() {
        let wishes: Vec<Wish> = (0..40).map(|i| Wish { x: f64::from(i * 37 % 400), width: 60.0 }).collect();
        let seats = seat(&wishes, (0.0, 400.0), 3, 8.0);
        assert_eq!(seats[0].map(|seat| seat.row), Some(0));
        let seated: Vec<(Wish, Seat)> =
            wishes.iter().zip(&seats).filter_map(|(wish, seat)| seat.map(|seat| (*wish, seat))).collect();
        assert!((8..20).contains(&seated.len()), "{}", seated.len());
        for (i, (wish, a)) in seated.iter().enumerate() {
            assert!(a.middle >= 30.0 && a.middle <= 370.0);
            assert!((wish.x - a.middle).abs() <= 30.0);
            for (_, b) in &seated[i + 1..] {
                assert!(a.row != b.row || (a.middle - b.middle).abs() >= 68.0);
            }
            // The line down from this label passes between those below it.
            for (_, below) in seated.iter().filter(|(_, b)| b.row < a.row) {
                assert!((wish.x - below.middle).abs() > 30.0);
            }
        }
    }

    #[test]
    fn words_beside_places_keep_apart_and_near() {
        let heights = stacked(&[100.0, 101.0, 300.0, 99.0], 20.0, (0.0, 400.0));
        assert_eq!(heights, [100.0, 120.0, 300.0, 80.0]);
        let heights = stacked(&[398.0, 5.0, 399.0], 20.0, (10.0, 390.0));
        assert_eq!(heights, [370.0, 10.0, 390.0]);
        assert!(stacked(&[], 20.0, (0.0, 1.0)).is_empty());
    }

    #[test]
    fn close_places_lean_apart() {
        let wishes = [Wish { x: 200.0, width: 100.0 }, Wish { x: 222.0, width: 100.0 }];
        assert!(seat(&wishes, (0.0, 400.0), 1, 12.0).iter().all(Option::is_some));
    }

    #[test]
    fn too_wide_a_label_finds_no_seat() {
        assert_eq!(seat(&[Wish { x: 50.0, width: 500.0 }], (0.0, 100.0), 3, 8.0), [None]);
        assert_eq!(seat(&[Wish { x: 50.0, width: 50.0 }], (0.0, 100.0), 0, 8.0), [None]);
    }
}
