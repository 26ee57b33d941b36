//! A page to draw on, counted in pixels: strokes, areas, text, titles, legends; and its way into a file.
//! Not here: axes (`chart`), colours (`theme`).

use std::path::{Path, PathBuf};

use plotters::coord::Shift;
use plotters::drawing::DrawingAreaErrorKind;
use plotters::element::{Drawable, PathElement, PointCollection, Polygon, Rectangle};
use plotters::prelude::{Color, DrawingArea, FontFamily, FontTransform, IntoDrawingArea, IntoFont, ShapeStyle};
use plotters::style::RGBAColor;
use plotters::style::text_anchor::Pos;
use plotters_backend::{BackendCoord, DrawingBackend, DrawingErrorKind, FontStyle};
use tiny_skia::{IntSize, Pixmap};

use super::canvas::{Canvas, UNITS};
use super::dots::{Dot, Shape};
use super::theme::{self, Sizes};
use super::{letters, palette};

pub use plotters::style::text_anchor::{HPos, VPos};

/// Why a figure could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The page could not be made or drawn on.
    #[error("the figure could not be drawn: {0}")]
    Draw(#[from] DrawingAreaErrorKind<std::convert::Infallible>),
    /// The picture could not be turned into a PNG.
    #[error("the figure could not be made a PNG: {0}")]
    Encode(#[from] png::EncodingError),
    /// The file could not be written.
    #[error("{file}: the figure could not be written: {cause}")]
    Write {
        /// Where it should have gone.
        file: PathBuf,
        /// What the system said.
        #[source]
        cause: std::io::Error,
    },
}

/// A figure that can be drawn: what to draw is its own.
pub trait Drawing: std::fmt::Debug + Send + Sync {
    /// Draws it as a PNG.
    ///
    /// # Errors
    /// If the file cannot be written.
    fn draw(&self, file: &Path) -> Result<(), PlotError>;
}

/// A figure with a page of its own, 1200 pixels wide.
pub trait Single: std::fmt::Debug + Send + Sync {
    /// Height of the page, pixels.
    fn height(&self) -> u32 {
        700
    }

    /// Draws into a frame of a page.
    ///
    /// # Errors
    /// If the page takes no drawing.
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn;
}

impl<T: Single> Drawing for T {
    fn draw(&self, file: &Path) -> Drawn {
        let within = |whole: Frame| whole.inset(34.0, 32.0);
        write(file, 1200, self.height(), |page, whole| self.paint(page, within(whole), &theme::SINGLE))
    }
}

/// What drawing gives.
pub type Drawn = Result<(), PlotError>;

/// A rectangle on the page, pixels from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Frame {
    /// A frame by its edges.
    pub fn new(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self { left, top, right, bottom }
    }

    /// Pixels across.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Pixels down.
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// The frame made smaller on each side.
    pub fn inset(&self, across: f64, down: f64) -> Self {
        Self::new(self.left + across, self.top + down, self.right - across, self.bottom - down)
    }

    /// The frame cut by vertical lines into parts of these shares, `gap` pixels apart.
    pub fn columns(&self, shares: &[f64], gap: f64) -> Vec<Self> {
        let room = self.width() - gap * shares.len().saturating_sub(1) as f64;
        let all: f64 = shares.iter().sum();
        let mut left = self.left;
        shares
            .iter()
            .map(|share| {
                let column = Self::new(left, self.top, left + room * share / all, self.bottom);
                left = column.right + gap;
                column
            })
            .collect()
    }
}

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub struct Hand {
    /// Pixels an em.
    pub size: f64,
    /// Bold or regular.
    pub bold: bool,
    /// Colour.
    pub colour: RGBAColor,
}

impl Hand {
    /// Regular letters.
    pub fn plain(size: f64, colour: impl Color) -> Self {
        Self { size, bold: false, colour: colour.to_rgba() }
    }

    /// Bold letters.
    pub fn bold(size: f64, colour: impl Color) -> Self {
        Self { size, bold: true, colour: colour.to_rgba() }
    }
}

/// The mark that stands for something in a legend.
#[derive(Debug, Clone, Copy)]
pub enum Mark {
    /// A curve.
    Curve(RGBAColor),
    /// A dashed curve.
    Dashes(RGBAColor),
    /// A filled area.
    Area(RGBAColor),
    /// A filled triangle that points down.
    Wedge(RGBAColor),
    /// The same, hollow.
    HollowWedge(RGBAColor),
    /// A dot with a whisker.
    Dot(RGBAColor),
    /// A hollow dot.
    HollowDot(RGBAColor),
    /// A diamond.
    Diamond(RGBAColor),
    /// A hatched area.
    Hatch(RGBAColor),
    /// A dotted curve.
    Dots(RGBAColor),
    /// A cross.
    Cross(RGBAColor),
}

/// The page.
pub struct Page<'a> {
    area: DrawingArea<Canvas<'a>, Shift>,
}

/// RGB dots with their upper left corner.
struct Dots {
    corner: BackendCoord,
    size: (u32, u32),
    rgb: Vec<u8>,
}

impl<'a> PointCollection<'a, BackendCoord> for &'a Dots {
    type Point = &'a BackendCoord;
    type IntoIter = std::iter::Once<&'a BackendCoord>;

    fn point_iter(self) -> Self::IntoIter {
        std::iter::once(&self.corner)
    }
}

impl<B: DrawingBackend> Drawable<B> for Dots {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        mut corner: I,
        backend: &mut B,
        _: (u32, u32),
    ) -> Result<(), DrawingErrorKind<B::ErrorType>> {
        corner.next().map_or(Ok(()), |corner| backend.blit_bitmap(corner, self.size, &self.rgb))
    }
}

/// Draws a picture of `width` by `height` pixels and writes it to `file`.
pub fn write(file: &Path, width: u32, height: u32, paint: impl FnOnce(&Page<'_>, Frame) -> Drawn) -> Drawn {
    let white = vec![255; 4 * width as usize * height as usize];
    let size = IntSize::from_wh(width, height);
    let mut pixels =
        size.and_then(|size| Pixmap::from_vec(white, size)).ok_or(DrawingAreaErrorKind::LayoutError)?;
    paint(
        &Page { area: Canvas::new(&mut pixels).into_drawing_area() },
        Frame::new(0.0, 0.0, f64::from(width), f64::from(height)),
    )?;
    let scale = theme::scale().map(|colour| [colour.0, colour.1, colour.2]);
    let bytes = palette::encode(&pixels, &scale)?;
    crate::disk::write(file, bytes).map_err(|cause| PlotError::Write { file: file.to_owned(), cause })
}

/// Pixels to plotters' units. Places far off the page stay far off without overflow.
fn units((x, y): (f64, f64)) -> (i32, i32) {
    // Chosen: a hundred pages away, and far below the largest `i32`.
    const FAR: f64 = 1e6;
    ((x * UNITS).clamp(-FAR, FAR).round() as i32, (y * UNITS).clamp(-FAR, FAR).round() as i32)
}

/// A stroke of this colour and width in pixels.
pub fn stroke(colour: impl Color, width: f64) -> ShapeStyle {
    ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: (width * UNITS).round().max(1.0) as u32 }
}

impl<'a> Page<'a> {
    /// The plotters area of a frame, for axes.
    pub fn area(&self, frame: Frame) -> DrawingArea<Canvas<'a>, Shift> {
        let ((left, top), (right, bottom)) = (units((frame.left, frame.top)), units((frame.right, frame.bottom)));
        let (page_right, page_bottom) = self.area.dim_in_pixel();
        self.area.clone().margin(top, page_bottom as i32 - bottom, left, page_right as i32 - right)
    }

    /// A filled rectangle.
    pub fn fill(&self, frame: Frame, colour: impl Color) -> Drawn {
        let corners = [units((frame.left, frame.top)), units((frame.right, frame.bottom))];
        Ok(self.area.draw(&Rectangle::new(corners, colour.filled()))?)
    }

    /// A filled shape.
    pub fn shape(&self, points: &[(f64, f64)], colour: impl Color) -> Drawn {
        let points: Vec<_> = points.iter().copied().map(units).collect();
        Ok(self.area.draw(&Polygon::new(points, colour.filled()))?)
    }

    /// A curve through the points.
    pub fn curve(&self, points: &[(f64, f64)], colour: impl Color, width: f64) -> Drawn {
        let points: Vec<_> = points.iter().copied().map(units).collect();
        Ok(self.area.draw(&PathElement::new(points, stroke(colour, width)))?)
    }

    /// A dashed curve through the points.
    pub fn dashes(&self, points: &[(f64, f64)], colour: impl Color, width: f64) -> Drawn {
        let colour = colour.to_rgba();
        dashed(points, width * 4.5, width * 3.0).iter().try_for_each(|dash| self.curve(dash, colour, width))
    }

    /// A dotted curve through the points.
    pub fn dots(&self, points: &[(f64, f64)], colour: impl Color, width: f64) -> Drawn {
        let colour = colour.to_rgba();
        dashed(points, width * 1.1, width * 1.6).iter().try_for_each(|dot| self.curve(dot, colour, width))
    }

    /// A rectangle with an outline and strokes across, which also grey tells from a filled one.
    pub fn hatch(&self, frame: Frame, colour: impl Color) -> Drawn {
        // Chosen by eye: pixels from stroke to stroke.
        const APART: f64 = 8.0;
        let colour = colour.to_rgba();
        let Frame { left, top, right, bottom } = frame;
        if !(right > left && bottom > top) {
            return Ok(());
        }
        let height = bottom - top;
        let strokes = ((right - left + height) / APART).min(1e4) as u32;
        for n in 0..=strokes {
            // From the lower edge up to the right, cut at the sides.
            let foot = left - height + APART * f64::from(n);
            let (from, to) = (foot.max(left), (foot + height).min(right));
            if from < to {
                self.curve(&[(from, bottom - (from - foot)), (to, bottom - (to - foot))], colour, 1.6)?;
            }
        }
        let outline = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        self.curve(&outline, colour, 1.6)
    }

    /// A lying cross.
    pub fn cross(&self, (x, y): (f64, f64), half: f64, colour: impl Color) -> Drawn {
        let colour = colour.to_rgba();
        self.curve(&[(x - half, y - half), (x + half, y + half)], colour, 2.4)?;
        self.curve(&[(x - half, y + half), (x + half, y - half)], colour, 2.4)
    }

    /// A level or upright line one pixel wide that keeps to the pixels.
    pub fn hairline(&self, (x0, y0): (f64, f64), (x1, y1): (f64, f64), colour: impl Color) -> Drawn {
        let (x0, y0, x1, y1) = (x0.round(), y0.round(), x1.round(), y1.round());
        let frame = if y0 == y1 { Frame::new(x0, y0, x1, y0 + 1.0) } else { Frame::new(x0, y0, x0 + 1.0, y1) };
        self.fill(frame, colour)
    }

    /// A triangle that points down to `tip`.
    pub fn wedge(&self, (x, y): (f64, f64), size: f64, colour: impl Color, hollow: bool) -> Drawn {
        let corners = [(x, y), (x - size * 0.62, y - size), (x + size * 0.62, y - size)];
        if hollow {
            self.shape(&corners, theme::GROUND)?;
            return self.curve(&[corners[0], corners[1], corners[2], corners[0]], colour, 2.0);
        }
        self.shape(&corners, colour)
    }

    /// An image of RGB dots, one a pixel.
    pub fn image(&self, (left, top): (f64, f64), (width, height): (u32, u32), rgb: Vec<u8>) -> Drawn {
        Ok(self.area.draw(&Dots { corner: units((left, top)), size: (width, height), rgb })?)
    }

    /// One line of text, anchored at a place.
    pub fn text(&self, text: &str, at: (f64, f64), hand: Hand, across: HPos, down: VPos) -> Drawn {
        self.written(text, at, hand, Pos::new(across, down), FontTransform::None)
    }

    /// One line of text that runs upwards, centred on a place.
    pub fn text_up(&self, text: &str, at: (f64, f64), hand: Hand) -> Drawn {
        self.written(text, at, hand, Pos::new(HPos::Center, VPos::Center), FontTransform::Rotate270)
    }

    fn written(&self, text: &str, at: (f64, f64), hand: Hand, pos: Pos, turn: FontTransform) -> Drawn {
        let style = if hand.bold { FontStyle::Bold } else { FontStyle::Normal };
        let font = (FontFamily::SansSerif, hand.size * UNITS, style).into_font().transform(turn);
        Ok(self.area.draw_text(text, &font.color(&hand.colour).pos(pos), units(at))?)
    }

    /// Title and subtitle at the top of a frame; returns what is left below them.
    pub fn heading(&self, frame: Frame, title: &str, subtitle: &str, sizes: &Sizes) -> Result<Frame, PlotError> {
        let mut top = frame.top;
        let (size, lines) = fitting(title, sizes.title, frame.width(), sizes.title_lines);
        for line in lines {
            self.text(&line, (frame.left, top), Hand::bold(size, theme::INK), HPos::Left, VPos::Top)?;
            top += size * letters::LEADING;
        }
        if sizes.subtitle > 0.0 {
            top += sizes.subtitle * 0.1;
            for line in letters::wrap(subtitle, sizes.subtitle, false, frame.width(), 2) {
                let hand = Hand::plain(sizes.subtitle, theme::SOFT_INK);
                self.text(&line, (frame.left, top), hand, HPos::Left, VPos::Top)?;
                top += sizes.subtitle * letters::LEADING;
            }
        }
        Ok(Frame { top: top + sizes.text * 0.25, ..frame })
    }

    /// A row of marks with their words, in more rows where one is too short; returns what is left below it.
    pub fn legend(&self, frame: Frame, entries: &[(Mark, String)], sizes: &Sizes) -> Result<Frame, PlotError> {
        let size = sizes.text;
        let (mark_width, gap) = (size * 1.35, size * 0.4);
        let (mut x, mut y) = (frame.left, frame.top + size * 0.5);
        for (mark, words) in entries {
            let words = letters::cut(words, size, false, frame.width() - mark_width - gap);
            let width = mark_width + gap + letters::width(&words, size, false);
            if x > frame.left && x + width > frame.right {
                (x, y) = (frame.left, y + size * 1.3);
            }
            self.mark(*mark, (x, y), mark_width, size)?;
            let hand = Hand::plain(size, theme::INK);
            self.text(&words, (x + mark_width + gap, y), hand, HPos::Left, VPos::Center)?;
            x += width + size * 1.1;
        }
        let bottom = if entries.is_empty() { frame.top } else { y + size * 0.95 };
        Ok(Frame { top: bottom, ..frame })
    }

    fn mark(&self, mark: Mark, (x, y): (f64, f64), width: f64, size: f64) -> Drawn {
        let line = [(x, y), (x + width, y)];
        let tip = (x + width * 0.5, y + size * 0.3);
        match mark {
            Mark::Curve(colour) => self.curve(&line, colour, 4.0),
            Mark::Dashes(colour) => self.dashes(&line, colour, 2.4),
            Mark::Area(colour) => {
                let swatch = Frame::new(x, y - size * 0.36, x + width, y + size * 0.36);
                self.fill(swatch, theme::RULE)?;
                self.fill(swatch.inset(1.0, 1.0), theme::GROUND)?;
                self.fill(swatch.inset(1.0, 1.0), colour)
            }
            Mark::Wedge(colour) => self.wedge(tip, size * 0.62, colour, false),
            Mark::HollowWedge(colour) => self.wedge(tip, size * 0.62, colour, true),
            Mark::HollowDot(colour) | Mark::Diamond(colour) => {
                let hollow = matches!(mark, Mark::HollowDot(_));
                let shape = if hollow { Shape::Disc } else { Shape::Diamond };
                Dot { shape, radius: size * 0.26, colour, hollow }.draw(self, (x + width * 0.5, y))
            }
            Mark::Hatch(colour) => self.hatch(Frame::new(x, y - size * 0.36, x + width, y + size * 0.36), colour),
            Mark::Dots(colour) => self.dots(&line, colour, 3.0),
            Mark::Cross(colour) => self.cross((x + width * 0.5, y), size * 0.3, colour),
            Mark::Dot(colour) => {
                let middle = x + width * 0.5;
                self.curve(&[(middle, y - size * 0.5), (middle, y + size * 0.5)], colour, 2.0)?;
                Dot { shape: Shape::Disc, radius: size * 0.26, colour, hollow: false }.draw(self, (middle, y))
            }
        }
    }

    /// Says that there is nothing to draw.
    pub fn no_data(&self, frame: Frame, why: &str, sizes: &Sizes) -> Drawn {
        let middle = ((frame.left + frame.right) / 2.0, (frame.top + frame.bottom) / 2.0);
        let words = letters::cut(why, sizes.text, false, frame.width());
        self.text(&words, middle, Hand::plain(sizes.text, theme::SOFT_INK), HPos::Center, VPos::Center)
    }
}

/// The text in at most `lines` lines, with the letters made smaller (to three quarters) before any is cut, and a
/// little smaller where a last line would hold but a word or two.
pub fn fitting(text: &str, size: f64, most: f64, lines: usize) -> (f64, Vec<String>) {
    let smaller = [1.0, 0.92, 0.84, 0.76].map(|share| size * share);
    let broken = |size: f64| (size, letters::wrap(text, size, true, most, lines));
    let whole = |(_, lines): &(f64, Vec<String>)| lines.iter().all(|line| !line.ends_with('…'));
    let fits = smaller.into_iter().map(broken).find(whole).unwrap_or_else(|| broken(smaller[3]));
    let is_left_alone = |(size, lines): &(f64, Vec<String>)| {
        lines.len() > 1 && lines.last().is_some_and(|last| letters::width(last, *size, true) < LEFT_ALONE * most)
    };
    let shorter = |other: &(f64, Vec<String>)| whole(other) && other.1.len() < fits.1.len();
    let tighter = smaller[1..3].iter().map(|size| broken(*size)).find(shorter);
    if is_left_alone(&fits) && whole(&fits) { tighter.unwrap_or(fits) } else { fits }
}

/// A last line shorter than this share of the width looks left behind. Chosen by eye.
const LEFT_ALONE: f64 = 0.3;

/// The pieces of a curve that a dash pattern leaves, lengths in pixels.
fn dashed(points: &[(f64, f64)], dash: f64, gap: f64) -> Vec<Vec<(f64, f64)>> {
    let mut dashes = Vec::new();
    let mut current: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
    let (mut inked, mut left) = (true, dash);
    for pair in points.windows(2) {
        let ((mut x, mut y), (x1, y1)) = (pair[0], pair[1]);
        loop {
            let length = (x1 - x).hypot(y1 - y);
            if length <= left {
                left -= length;
                if inked {
                    current.push((x1, y1));
                }
                break;
            }
            (x, y) = (x + (x1 - x) * left / length, y + (y1 - y) * left / length);
            if inked {
                current.push((x, y));
                dashes.push(std::mem::take(&mut current));
            } else {
                current = vec![(x, y)];
            }
            inked = !inked;
            left = if inked { dash } else { gap };
        }
    }
    if current.len() > 1 {
        dashes.push(current);
    }
    dashes
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn dashes_share_the_length() {
        let bent = [(0.0, 0.0), (30.0, 40.0), (30.0, 140.0)];
        let length =
            |dash: &Vec<(f64, f64)>| dash.windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).sum::<f64>();
        let dashes = dashed(&bent, 6.0, 4.0);
        assert_eq!(dashes.len(), 15);
        assert_abs_diff_eq!(dashes.iter().map(length).sum::<f64>(), 90.0, epsilon = 1e-6);
        assert!(dashed(&[], 6.0, 4.0).is_empty() && dashed(&[(1.0, 1.0)], 6.0, 4.0).is_empty());
    }

    #[test]
    fn titles_shrink_before_they_are_cut() {
        let title = "Aquarium lamp: broadband hash";
        let room = letters::width(title, 37.0, true) * 0.9;
        let (size, lines) = fitting(title, 37.0, room, 1);
        assert!(size < 37.0 && lines == [title]);
        assert!(fitting(title, 37.0, room * 0.5, 1).1[0].ends_with('…'));
        let (size, lines) = fitting(title, 37.0, room, 2);
        assert!(size < 37.0 && lines == [title], "no word is left alone on a line");
    }
}
