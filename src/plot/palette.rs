//! Pixels to a small PNG: at most 256 colours, chosen so that none is further from its true colour than need be.
//! Not here: drawing.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use tiny_skia::Pixmap;

/// Red, green, blue.
pub type Rgb = [u8; 3];

/// How hard the file is pressed, 1 to 9. Measured: a session takes a quarter less time than with level 6, and its
/// pictures are an eighth larger.
const LEVEL: u8 = 2;

/// An image as places in a list of colours.
struct Indexed {
    colours: Vec<Rgb>,
    places: Vec<u8>,
}

/// The picture as a PNG file's bytes. Pixels must be opaque. Colours of `keep` (at most 128) stay as they are.
pub fn encode(pixels: &Pixmap, keep: &[Rgb]) -> Result<Vec<u8>, png::EncodingError> {
    let indexed = reduce(pixels.data(), keep);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(indexed.colours.concat());
    encoder.set_deflate_compression(png::DeflateCompression::Level(LEVEL));
    // Neighbouring places in a palette say nothing of each other: a filter would only harm.
    encoder.set_filter(png::Filter::NoFilter);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&indexed.places)?;
    writer.finish()?;
    Ok(bytes)
}

fn reduce(rgba: &[u8], keep: &[Rgb]) -> Indexed {
    let Tally { colours: tally, runs } = tally(rgba);
    let colours = cover(&tally, keep);
    let nearest: Vec<u8> = tally.iter().map(|(colour, _)| nearest(&colours, *colour)).collect();
    let mut places = Vec::with_capacity(rgba.len() / 4);
    for (colour, len) in runs {
        places.resize(places.len() + len as usize, nearest[colour as usize]);
    }
    Indexed { places, colours }
}

/// What a picture holds.
#[derive(Default)]
struct Tally {
    /// Each colour with its number of pixels, in order of first sight.
    colours: Vec<(Rgb, u32)>,
    /// Pixels that follow each other and are alike: their colour's place in that list, and how many.
    runs: Vec<(u32, u32)>,
}

fn tally(rgba: &[u8]) -> Tally {
    let mut tally = Tally::default();
    let mut kinds: HashMap<u32, u32, BuildHasherDefault<Mixed>> = HashMap::default();
    let mut pixels = rgba.as_chunks::<4>().0;
    while let [pixel, ..] = pixels {
        let len = run_of(pixel, pixels);
        let kind = *kinds.entry(u32::from_le_bytes(*pixel)).or_insert_with(|| {
            let [red, green, blue, _] = *pixel;
            tally.colours.push(([red, green, blue], 0));
            tally.colours.len() as u32 - 1
        });
        tally.colours[kind as usize].1 += len as u32;
        tally.runs.push((kind, len as u32));
        pixels = &pixels[len..];
    }
    tally
}

/// How many pixels from the first are as `pixel`. On a ground that is nearly all, so many are compared at once.
fn run_of(pixel: &[u8; 4], pixels: &[[u8; 4]]) -> usize {
    let alike = |pixels: &[[u8; 4]]| pixels.iter().take_while(|next| *next == pixel).count();
    let near = alike(&pixels[..pixels.len().min(BLOCK)]);
    if near < BLOCK {
        return near;
    }
    let blocks = pixels.as_chunks::<BLOCK>().0.iter().take_while(|block| **block == [*pixel; BLOCK]).count();
    blocks * BLOCK + alike(&pixels[blocks * BLOCK..])
}

/// Pixels that are compared at once: 64 bytes, a line of a cache.
const BLOCK: usize = 16;

/// Spreads colours over a table: of a picture's own there is nothing to fear, and it is asked for every run of pixels.
#[derive(Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn write(&mut self, bytes: &[u8]) {
        bytes.iter().for_each(|&byte| self.write_u32(self.0 as u32 ^ u32::from(byte)));
    }

    /// Multiplied by 2⁶⁴ over the golden ratio (D. E. Knuth, The Art of Computer Programming 3, 6.4; from memory).
    fn write_u32(&mut self, value: u32) {
        self.0 = u64::from(value).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.0 ^= self.0 >> 32;
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

/// This many colours stay to the bit: those to keep, then the most frequent (grounds, curves, letters). Chosen:
/// half of the 256 a palette PNG has; the other half stands for what lies between them.
const KEPT: usize = 128;

/// At most 256 colours: those to keep, the most frequent, and others such that every colour has one within the
/// smallest radius that suffices.
fn cover(tally: &[(Rgb, u32)], keep: &[Rgb]) -> Vec<Rgb> {
    let mut by_count = tally.to_vec();
    by_count.sort_by_cached_key(|(colour, count)| (!keep.contains(colour), Reverse(*count), *colour));
    (0..).map(|step| step * 3).find_map(|radius| cover_within(&by_count, radius)).unwrap_or_default()
}

fn cover_within(by_count: &[(Rgb, u32)], radius: i32) -> Option<Vec<Rgb>> {
    let mut chosen: Vec<Rgb> = Vec::new();
    for (i, (colour, _)) in by_count.iter().enumerate() {
        if i >= KEPT && chosen.iter().any(|c| distance(*c, *colour) <= radius * radius) {
            continue;
        }
        if chosen.len() == 256 {
            return None;
        }
        chosen.push(*colour);
    }
    Some(chosen)
}

fn nearest(colours: &[Rgb], colour: Rgb) -> u8 {
    let best = (0..colours.len()).min_by_key(|i| distance(colours[*i], colour)).unwrap_or(0);
    // `cover` gives at most 256.
    best as u8
}

/// Squared distance.
fn distance(a: Rgb, b: Rgb) -> i32 {
    a.iter().zip(b).map(|(a, b)| (i32::from(*a) - i32::from(b)).pow(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_are_kept_to_the_bit() {
        let rgba: Vec<u8> = (0..1000u32).flat_map(|i| [(i % 250) as u8, 7, 9, 255]).collect();
        let image = reduce(&rgba, &[]);
        assert_eq!(image.colours.len(), 250);
        for (pixel, place) in rgba.chunks_exact(4).zip(&image.places) {
            assert_eq!(image.colours[*place as usize], pixel[..3]);
        }
    }

    #[test]
    fn many_colours_stay_close_and_the_ground_exact() {
        let mut rgba = [255u8, 255, 255, 255].repeat(5000);
        rgba.extend((0..20_000u32).flat_map(|i| {
            let t = (i % 4000) as f64 / 4000.0;
            [(255.0 * t) as u8, (200.0 * t * t) as u8, (i % 16) as u8, 255]
        }));
        let rare = [rgba[4 * 7001], rgba[4 * 7001 + 1], rgba[4 * 7001 + 2]];
        let image = reduce(&rgba, &[rare]);
        assert_eq!(image.colours[image.places[7001] as usize], rare);
        assert!(image.colours.len() <= 256);
        assert_eq!(image.colours[image.places[0] as usize], [255; 3]);
        for (pixel, place) in rgba.chunks_exact(4).zip(&image.places) {
            let drawn = image.colours[*place as usize];
            assert!(distance(drawn, [pixel[0], pixel[1], pixel[2]]) <= 12 * 12);
        }
    }
}
