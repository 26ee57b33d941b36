//! Pixels to a small PNG: at most 256 colours, chosen so that none is further from its true colour than need be.
//! Not here: drawing.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use tiny_skia::Pixmap;

/// Red, green, blue.
pub type Rgb = [u8; 3];

/// How hard the file is pressed, 1 to 9. Measured: reports' pictures take a third of the time of level 6 and are 6 %
/// larger.
const LEVEL: u8 = 4;

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
    let (tally, kinds) = tally(rgba);
    let colours = cover(&tally, keep);
    let nearest: Vec<u8> = tally.iter().map(|(colour, _)| nearest(&colours, *colour)).collect();
    let mut places = Vec::with_capacity(rgba.len() / 4);
    for run in runs(rgba) {
        places.resize(places.len() + run.len(), nearest[kinds[&key(run)] as usize]);
    }
    Indexed { places, colours }
}

/// A colour's place among those that were seen.
type Kinds = HashMap<u32, u32, BuildHasherDefault<Mixed>>;

/// Pixels that follow each other and are alike: most are as the one before.
fn runs(rgba: &[u8]) -> impl Iterator<Item = &[[u8; 4]]> {
    rgba.as_chunks::<4>().0.chunk_by(|a, b| a == b)
}

fn key(run: &[[u8; 4]]) -> u32 {
    u32::from_le_bytes(run[0])
}

/// Each colour with its number of pixels, in order of first sight, and its place in that list.
fn tally(rgba: &[u8]) -> (Vec<(Rgb, u32)>, Kinds) {
    let mut tally: Vec<(Rgb, u32)> = Vec::new();
    let mut kinds = Kinds::default();
    for run in runs(rgba) {
        let kind = *kinds.entry(key(run)).or_insert_with(|| {
            let [red, green, blue, _] = run[0];
            tally.push(([red, green, blue], 0));
            tally.len() as u32 - 1
        });
        tally[kind as usize].1 += run.len() as u32;
    }
    (tally, kinds)
}

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
