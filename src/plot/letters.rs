//! Letters: the embedded fonts, how wide a text is, how it is broken or cut to fit, and its dots on the canvas.
//!
//! DejaVu Sans Condensed stands in the binary, so figures are the same bytes on every machine. A letter it lacks is
//! drawn as the font's empty box. Not here: colours and sizes (`theme`).

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef, Glyph, PxScale, ScaleFont, point};

/// Height of a capital letter or figure in em: DejaVu Sans, OS/2 table, 1493 of 2048.
pub const CAP_HEIGHT: f64 = 0.729;
/// Distance of two lines of text in em. Common practice: 1.2 to 1.25.
pub const LEADING: f64 = 1.22;

fn font(bold: bool) -> &'static FontRef<'static> {
    static FACES: OnceLock<[FontRef<'static>; 2]> = OnceLock::new();
    let faces = FACES.get_or_init(|| {
        [dejavu::sans_condensed::regular(), dejavu::sans_condensed::bold()]
            // The bytes are part of the binary: they parse, or no test passes.
            .map(|bytes| FontRef::try_from_slice(bytes).expect("the embedded font is whole"))
    });
    &faces[usize::from(bold)]
}

/// The scale at which an em is `size` pixels: `ab_glyph` counts from the highest ascender to the lowest descender.
fn scale(font: &FontRef<'_>, size: f64) -> PxScale {
    let em = font.units_per_em().unwrap_or(2048.0);
    PxScale::from(size as f32 * font.height_unscaled() / em)
}

/// Each glyph at its place along the baseline, and the width of all.
fn lay_out(text: &str, size: f64, bold: bool, left: f32) -> (Vec<Glyph>, f32) {
    let font = font(bold);
    let scaled = font.as_scaled(scale(font, size));
    let mut glyphs: Vec<Glyph> = Vec::with_capacity(text.len());
    let mut x = left;
    for letter in text.chars().filter(|c| !c.is_control()) {
        let id = font.glyph_id(letter);
        if let Some(previous) = glyphs.last() {
            x += scaled.kern(previous.id, id);
        }
        glyphs.push(id.with_scale_and_position(scaled.scale(), point(x, 0.0)));
        x += scaled.h_advance(id);
    }
    (glyphs, x - left)
}

/// Width in pixels of one line of text, `size` pixels an em.
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    f64::from(lay_out(text, size, bold, 0.0).1)
}

/// Calls `dot` with column, row and coverage (0..1) of each pixel the text touches; row 0 is the first below the
/// baseline. `left` is where the text starts.
pub fn draw(text: &str, size: f64, bold: bool, left: f32, mut dot: impl FnMut(i32, i32, f32)) {
    for glyph in lay_out(text, size, bold, left).0 {
        if let Some(outlined) = font(bold).outline_glyph(glyph) {
            let corner = outlined.px_bounds().min;
            outlined.draw(|x, y, coverage| dot(corner.x as i32 + x as i32, corner.y as i32 + y as i32, coverage));
        }
    }
}

/// The text on one line, cut with an ellipsis where it is wider than `most` pixels.
pub fn cut(text: &str, size: f64, bold: bool, most: f64) -> String {
    let clean = tidy(text);
    if width(&clean, size, bold) <= most {
        return clean;
    }
    let letters: Vec<char> = clean.chars().collect();
    let fits = |n: usize| width(&shortened(&letters[..n]), size, bold) <= most;
    // Wider with every letter but for a hair of kerning, so halving finds the last that fits.
    let (mut fit, mut too_long) = (0, letters.len());
    while too_long - fit > 1 {
        let middle = (fit + too_long) / 2;
        if fits(middle) {
            fit = middle;
        } else {
            too_long = middle;
        }
    }
    shortened(&letters[..fit])
}

fn shortened(letters: &[char]) -> String {
    let start: String = letters.iter().collect();
    format!("{}…", start.trim_end())
}

/// The text broken at spaces into at most `lines` lines of at most `most` pixels; the last is cut where more is
/// left.
pub fn wrap(text: &str, size: f64, bold: bool, most: f64, lines: usize) -> Vec<String> {
    let clean = tidy(text);
    let mut done: Vec<String> = Vec::new();
    let mut rest = clean.as_str();
    while !rest.is_empty() && done.len() < lines {
        let end = if done.len() + 1 == lines { rest.len() } else { line_end(rest, size, bold, most) };
        done.push(cut(&rest[..end], size, bold, most));
        rest = rest[end..].trim_start();
    }
    done
}

/// Words that stay on the line of the number before them.
const UNITS: [&str; 15] =
    ["dB", "dBFS", "dBm", "Hz", "kHz", "MHz", "s", "ms", "min", "h", "%", "W", "S-units", "S-unit", "a second"];

/// Whether a line may end at this space: not between a number and its unit.
fn may_break(text: &str, at: usize) -> bool {
    let after = &text[at + 1..];
    let is_unit = |unit: &&str| {
        after.strip_prefix(*unit).is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric()))
    };
    !(text[..at].ends_with(|c: char| c.is_ascii_digit()) && UNITS.iter().any(is_unit))
}

/// Where the first line ends: at the last space that keeps it short enough, else at the first space.
fn line_end(text: &str, size: f64, bold: bool, most: f64) -> usize {
    let spaces = text.match_indices(' ').map(|(at, _)| at).filter(|at| may_break(text, *at)).chain([text.len()]);
    let mut end = None;
    for at in spaces {
        if end.is_some() && width(&text[..at], size, bold) > most {
            break;
        }
        end = Some(at);
    }
    end.unwrap_or(text.len())
}

/// Control characters and runs of spaces become one space: a device's name may hold anything. Overlong text is
/// cut here, so that no label costs time without end.
fn tidy(text: &str) -> String {
    // Chosen: several times what any page shows.
    const MOST_LETTERS: usize = 600;
    let start: String = text.chars().take(MOST_LETTERS).map(|c| if c.is_control() { ' ' } else { c }).collect();
    start.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_keeps_words_and_width() {
        let text = "The aquarium lamp adds broadband hash that pulses at 100 Hz over the whole passband";
        let lines = wrap(text, 30.0, true, 500.0, 9);
        assert!(lines.len() > 1);
        assert_eq!(lines.join(" "), text);
        assert!(lines.iter().all(|line| width(line, 30.0, true) <= 500.0));
        let two = wrap(text, 30.0, true, 300.0, 2);
        assert_eq!(two.len(), 2);
        assert!(two[1].ends_with('…') && width(&two[1], 30.0, true) <= 300.0);
    }

    #[test]
    fn a_number_keeps_its_unit() {
        let text = "the noise rises by 13.9 dB, pulses 100 Hz, in 5 minutes";
        for most in 60..400 {
            let lines = wrap(text, 30.0, true, f64::from(most), 99);
            assert!(!lines.iter().any(|line| line.ends_with("13.9") || line.ends_with("100")), "{lines:?}");
        }
        assert!(may_break("5 minutes", 1) && !may_break("94 % of", 2) && may_break("94 % of", 4));
    }

    #[test]
    fn one_endless_word_is_cut() {
        let word = "x".repeat(5000);
        for lines in 1..4 {
            let broken = wrap(&word, 24.0, false, 400.0, lines);
            assert!(broken.iter().all(|line| width(line, 24.0, false) <= 400.0));
        }
        assert_eq!(cut("abc", 24.0, false, 0.0), "…");
        assert!(wrap("", 24.0, false, 400.0, 2).is_empty());
    }

    #[test]
    fn every_sign_the_figures_use_is_in_the_font() {
        for sign in "−±µ²°…·×≥≤–→ΩäßøñЖλ".chars() {
            assert_ne!(font(false).glyph_id(sign).0, 0, "{sign}");
            assert_ne!(font(true).glyph_id(sign).0, 0, "{sign}");
        }
    }
}
