//! The drawing surface: plotters draws on it, tiny-skia fills and strokes it smoothly.
//!
//! plotters counts in whole units; eight of them are a pixel here, so that curves and letters stand where they
//! belong and not at the nearest pixel. Not here: the file format (`palette`).

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind, FontStyle,
    FontTransform,
};
use tiny_skia::{FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, Transform};

use super::letters;

/// Units a pixel. Chosen: finer than the eye; a power of two, so that halves and quarters are whole.
pub const UNITS: f64 = 8.0;

type Done = Result<(), DrawingErrorKind<Infallible>>;

/// Draws on `pixels`. A letter's size is units an em; a text's box runs from the top of its capitals to its
/// baseline.
pub struct Canvas<'a> {
    pixels: &'a mut Pixmap,
}

impl<'a> Canvas<'a> {
    /// A canvas over all of `pixels`.
    pub fn new(pixels: &'a mut Pixmap) -> Self {
        Self { pixels }
    }

    fn fill(&mut self, path: Option<Path>, colour: BackendColor) {
        if let Some(path) = path {
            self.pixels.fill_path(&path, &paint(colour), FillRule::Winding, Transform::identity(), None);
        }
    }

    fn stroke(&mut self, path: Option<Path>, style: &impl BackendStyle) {
        let stroke = Stroke {
            width: style.stroke_width() as f32 / UNITS as f32,
            line_join: LineJoin::Round,
            line_cap: LineCap::Butt,
            ..Stroke::default()
        };
        if let Some(path) = path {
            self.pixels.stroke_path(&path, &paint(style.color()), &stroke, Transform::identity(), None);
        }
    }

    /// Lays a colour over one pixel.
    fn blend(&mut self, x: i32, y: i32, (r, g, b): (u8, u8, u8), alpha: f32) {
        let (width, height) = (self.pixels.width() as i32, self.pixels.height() as i32);
        if !(0..width).contains(&x) || !(0..height).contains(&y) || alpha <= 0.0 {
            return;
        }
        let at = (y * width + x) as usize * 4;
        let alpha = alpha.min(1.0);
        let pixel = &mut self.pixels.data_mut()[at..at + 4];
        for (channel, ink) in pixel.iter_mut().zip([r, g, b, 255]) {
            let under = f32::from(*channel);
            // Rounds: `round` is a call where no instruction does it.
            *channel = (under + (f32::from(ink) - under) * alpha + 0.5) as u8;
        }
    }
}

fn paint(colour: BackendColor) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    let (r, g, b) = colour.rgb;
    paint.set_color_rgba8(r, g, b, (colour.alpha.clamp(0.0, 1.0) * 255.0).round() as u8);
    paint
}

fn pixel((x, y): BackendCoord) -> (f32, f32) {
    (x as f32 / UNITS as f32, y as f32 / UNITS as f32)
}

/// The path through the points; `None` for less than two.
fn path(points: impl IntoIterator<Item = BackendCoord>, closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (i, point) in points.into_iter().enumerate() {
        let (x, y) = pixel(point);
        if i == 0 {
            builder.move_to(x, y);
        } else {
            builder.line_to(x, y);
        }
    }
    if closed {
        builder.close();
    }
    builder.finish()
}

/// From the anchor to the left end of the baseline, in the text's own directions, pixels.
fn start_of(anchor: plotters_backend::text_anchor::Pos, width: f64, cap_height: f64) -> (f64, f64) {
    let x = match anchor.h_pos {
        HPos::Left => 0.0,
        HPos::Center => -width / 2.0,
        HPos::Right => -width,
    };
    let y = match anchor.v_pos {
        VPos::Top => cap_height,
        VPos::Center => cap_height / 2.0,
        VPos::Bottom => 0.0,
    };
    (x, y)
}

impl DrawingBackend for Canvas<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (self.pixels.width() * UNITS as u32, self.pixels.height() * UNITS as u32)
    }

    fn ensure_prepared(&mut self) -> Done {
        Ok(())
    }

    fn present(&mut self) -> Done {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Done {
        let (x, y) = pixel(point);
        self.blend(x.floor() as i32, y.floor() as i32, color.rgb, color.alpha as f32);
        Ok(())
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Done {
        self.stroke(path([from, to], false), style);
        Ok(())
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Done {
        let ((left, top), (right, bottom)) = (pixel(upper_left), pixel(bottom_right));
        let rect = Rect::from_ltrb(left.min(right), top.min(bottom), left.max(right), top.max(bottom));
        let path = rect.map(PathBuilder::from_rect);
        if fill {
            self.fill(path, style.color());
        } else {
            self.stroke(path, style);
        }
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, points: I, style: &S) -> Done {
        self.stroke(path(points, false), style);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(&mut self, center: BackendCoord, radius: u32, style: &S, fill: bool) -> Done {
        let (x, y) = pixel(center);
        let path = PathBuilder::from_circle(x, y, radius as f32 / UNITS as f32);
        if fill {
            self.fill(path, style.color());
        } else {
            self.stroke(path, style);
        }
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        points: I,
        style: &S,
    ) -> Done {
        self.fill(path(points, true), style.color());
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, pos: BackendCoord) -> Done {
        let size = style.size() / UNITS;
        let bold = matches!(style.style(), FontStyle::Bold);
        let width = letters::width(text, size, bold);
        let (along, down) = start_of(style.anchor(), width, letters::CAP_HEIGHT * size);
        let colour = style.color();
        let (x, y) = (f64::from(pos.0) / UNITS, f64::from(pos.1) / UNITS);
        // The baseline stands on a whole pixel: level strokes stay sharp. Along the line, letters stand where they
        // fall.
        let turn = style.transform();
        let (start, baseline) = match turn {
            FontTransform::None => (x + along, y + down),
            FontTransform::Rotate90 => (y + along, -(x - down)),
            FontTransform::Rotate180 => (-(x - along), -(y - down)),
            FontTransform::Rotate270 => (-(y - along), x + down),
        };
        let baseline = baseline.round() as i32;
        letters::draw(text, size, bold, start as f32, |column, row, coverage| {
            let (u, v) = (column, baseline + row);
            let (px, py) = match turn {
                FontTransform::None => (u, v),
                FontTransform::Rotate90 => (-v - 1, u),
                FontTransform::Rotate180 => (-u - 1, -v - 1),
                FontTransform::Rotate270 => (v, -u - 1),
            };
            self.blend(px, py, colour.rgb, coverage * colour.alpha as f32);
        });
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(
        &self,
        text: &str,
        style: &T,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let bold = matches!(style.style(), FontStyle::Bold);
        let width = letters::width(text, style.size(), bold);
        Ok((width.ceil() as u32, (letters::CAP_HEIGHT * style.size()).ceil() as u32))
    }

    /// Copies an RGB image, one of its dots a pixel of the canvas.
    fn blit_bitmap(&mut self, pos: BackendCoord, (width, height): (u32, u32), src: &[u8]) -> Done {
        let (left, top) = pixel(pos);
        let (left, top) = (left.round() as i32, top.round() as i32);
        let (page_width, page_height) = (self.pixels.width() as i32, self.pixels.height() as i32);
        let shown = (-left).clamp(0, width as i32)..(page_width - left).clamp(0, width as i32);
        for (row, line) in src.chunks_exact(width.max(1) as usize * 3).take(height as usize).enumerate() {
            let y = top + row as i32;
            if !(0..page_height).contains(&y) || shown.is_empty() {
                continue;
            }
            let at = (y * page_width + left + shown.start) as usize * 4;
            let dots = line.as_chunks::<3>().0[shown.start as usize..shown.end as usize].iter();
            let pixels = self.pixels.data_mut()[at..at + shown.len() * 4].as_chunks_mut::<4>().0;
            pixels.iter_mut().zip(dots).for_each(|(pixel, &[red, green, blue])| *pixel = [red, green, blue, 255]);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plotters::prelude::*;
    use plotters::style::text_anchor::Pos;

    fn darkness(draw: impl Fn(&DrawingArea<Canvas<'_>, plotters::coord::Shift>)) -> Vec<u8> {
        let mut pixels = Pixmap::new(80, 80).expect("not empty");
        pixels.fill(tiny_skia::Color::WHITE);
        draw(&Canvas::new(&mut pixels).into_drawing_area());
        pixels.data().chunks_exact(4).map(|p| 255 - p[0]).collect()
    }

    /// Half a pixel of black over white is mid-grey, wherever the edge falls.
    #[test]
    fn edges_fall_between_pixels() {
        let dark = darkness(|area| {
            area.draw(&Rectangle::new([(80, 80), (164, 160)], BLACK.filled())).expect("drawn");
        });
        let row = &dark[15 * 80..16 * 80];
        assert_eq!((row[9], row[10], row[19], row[21]), (0, 255, 255, 0));
        assert!((118..=138).contains(&row[20]), "{}", row[20]);
    }

    /// A text turned by a quarter is the same dots, turned.
    #[test]
    fn turned_text_is_the_same_dots() {
        let written = |transform: FontTransform| {
            darkness(move |area| {
                let font = ("sans-serif", 20.0 * UNITS).into_font().transform(transform.clone());
                let style = font.color(&BLACK).pos(Pos::new(HPos::Center, VPos::Center));
                area.draw_text("dB −3", &style, (40 * 8, 40 * 8)).expect("drawn");
            })
        };
        let level = written(FontTransform::None);
        assert!(level.iter().map(|d| u64::from(*d)).sum::<u64>() > 10_000);
        let up = written(FontTransform::Rotate270);
        for y in 0..80 {
            for x in 0..80 {
                assert_eq!(level[y * 80 + x], up[(79 - x) * 80 + y], "{x} {y}");
            }
        }
    }
}
