//! How every figure looks: colours, letter sizes, the colour scale of spectrograms.
//! Not here: where things go (`page`, `chart`) and what is drawn (one file a figure).

use std::sync::OnceLock;

use plotters::style::RGBColor;

/// Ground of a page. Chosen: white, as forums and paper are.
pub const GROUND: RGBColor = RGBColor(255, 255, 255);
/// Titles and figures. Chosen by eye, as all greys here: near to black, darker than all else.
pub const INK: RGBColor = RGBColor(28, 32, 38);
/// Captions, tick labels, notes: 7:1 against the ground. Chosen: WCAG 2.1, 1.4.6, asks for 7:1.
pub const SOFT_INK: RGBColor = RGBColor(82, 88, 96);
/// Axes. Chosen by eye.
pub const RULE: RGBColor = RGBColor(150, 156, 163);
/// Grid lines. Chosen by eye.
pub const GRID: RGBColor = RGBColor(226, 229, 232);
/// What lies outside the passband, or below the detection limit. Chosen by eye.
pub const SHADE: RGBColor = RGBColor(238, 240, 242);
/// Tiles and panels of the card. Chosen by eye.
pub const TILE: RGBColor = RGBColor(246, 247, 249);

// Okabe and Ito, "Color Universal Design", 2008: a set of eight that the common kinds of colour blindness keep
// apart.
/// The device is off ("blue").
pub const OFF: RGBColor = RGBColor(0, 114, 178);
/// The device is on ("vermilion"). Source: Okabe and Ito, 2008.
pub const ON: RGBColor = RGBColor(213, 94, 0);
/// The noise floor with the device off, over its spectrum: the same blue, darker. Chosen by eye: over half as
/// light.
pub const OFF_DARK: RGBColor = RGBColor(0, 62, 104);
/// The noise floor with the device on. Chosen by eye.
pub const ON_DARK: RGBColor = RGBColor(126, 50, 0);
/// All is well ("bluish green"). Source: Okabe and Ito, 2008.
pub const GOOD: RGBColor = RGBColor(0, 158, 115);
/// With care ("orange"). Source: Okabe and Ito, 2008.
pub const CARE: RGBColor = RGBColor(230, 159, 0);

/// Steps of one device in their order, without remedy first: neighbours differ in lightness, so that grey tells
/// them apart; shapes do too. Source: Okabe and Ito, 2008 (vermilion, "sky blue", green, orange); ink and the dark red
/// chosen by eye.
pub const STEPS: [RGBColor; 6] = [ON, INK, RGBColor(86, 180, 233), RGBColor(136, 34, 85), CARE, GOOD];

/// A colour thinned with the ground: `share` of it is left, and nothing shines through.
pub fn tint(RGBColor(r, g, b): RGBColor, share: f64) -> RGBColor {
    let thin =
        |ink: u8, ground: u8| (f64::from(ground) + (f64::from(ink) - f64::from(ground)) * share).round() as u8;
    RGBColor(thin(r, GROUND.0), thin(g, GROUND.1), thin(b, GROUND.2))
}

/// Letter sizes (pixels an em) and line widths (pixels) of one kind of drawing.
#[derive(Debug, Clone, Copy)]
pub struct Sizes {
    /// Title.
    pub title: f64,
    /// Subtitle; 0: none is drawn.
    pub subtitle: f64,
    /// Ticks, captions, legend.
    pub text: f64,
    /// A curve.
    pub curve: f64,
    /// Lines a title may take.
    pub title_lines: usize,
}

impl Sizes {
    /// Whether the drawing is a small one among others: words are then shorter.
    pub fn is_panel(&self) -> bool {
        self.subtitle == 0.0
    }
}

/// A figure of its own, 1200 pixels wide; still readable at 800. Chosen by eye.
pub const SINGLE: Sizes = Sizes { title: 37.0, subtitle: 25.0, text: 24.0, curve: 2.4, title_lines: 2 };
/// A panel on the card. Chosen by eye.
pub const PANEL: Sizes = Sizes { title: 25.0, subtitle: 0.0, text: 20.5, curve: 1.9, title_lines: 1 };

/// Steps of the colour scale: few enough to leave the palette of the file room for letters, and still finer than
/// the eye at the usual 40 to 60 dB (0.5 to 0.8 dB a step). Chosen so.
pub const SCALE_STEPS: usize = 80;

/// The colour scale from quiet (light) to loud (dark).
///
/// Lightness falls evenly, so the order can be read in grey and by every kind of colour vision; hue only helps.
/// Made in OKLab (Björn Ottosson, "A perceptual color space for image processing", 2020): lightness is linear, hue
/// and chroma run through the anchors.
pub fn scale() -> &'static [RGBColor; SCALE_STEPS] {
    static SCALE: OnceLock<[RGBColor; SCALE_STEPS]> = OnceLock::new();
    SCALE.get_or_init(|| std::array::from_fn(|i| scale_colour(i as f64 / (SCALE_STEPS - 1) as f64)))
}

/// Chroma and hue (degrees) of the scale at evenly spaced places. Chosen by eye: yellow over orange and red to
/// violet.
const ANCHORS: [(f64, f64); 6] =
    [(0.018, 95.0), (0.060, 90.0), (0.125, 62.0), (0.155, 28.0), (0.125, -20.0), (0.070, -75.0)];
/// Lightness of its ends. Chosen: nearly the ground's, and dark enough for the loudest to stand out.
const LIGHT: f64 = 0.985;
const DARK: f64 = 0.22;

fn scale_colour(t: f64) -> RGBColor {
    let place = t * (ANCHORS.len() - 1) as f64;
    let left = (place as usize).min(ANCHORS.len() - 2);
    let part = place - left as f64;
    let mix = |a: f64, b: f64| a + (b - a) * part;
    let chroma = mix(ANCHORS[left].0, ANCHORS[left + 1].0);
    let hue = mix(ANCHORS[left].1, ANCHORS[left + 1].1).to_radians();
    oklab_to_srgb(LIGHT + (DARK - LIGHT) * t, chroma * hue.cos(), chroma * hue.sin())
}

/// OKLab to 8-bit sRGB, clipped to what sRGB holds. Matrices: Ottosson 2020; transfer curve: IEC 61966-2-1.
fn oklab_to_srgb(lightness: f64, a: f64, b: f64) -> RGBColor {
    let l = (lightness + 0.396_337_777_4 * a + 0.215_803_757_3 * b).powi(3);
    let m = (lightness - 0.105_561_345_8 * a - 0.063_854_172_8 * b).powi(3);
    let s = (lightness - 0.089_484_177_5 * a - 1.291_485_548_0 * b).powi(3);
    let encode = |linear: f64| {
        let c = linear.clamp(0.0, 1.0);
        let v = if c <= 0.003_130_8 { 12.92 * c } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 };
        (v * 255.0).round() as u8
    };
    RGBColor(
        encode(4.076_741_662_1 * l - 3.307_711_591_3 * m + 0.230_969_929_2 * s),
        encode(-1.268_438_004_6 * l + 2.609_757_401_1 * m - 0.341_319_396_5 * s),
        encode(-0.004_196_086_3 * l - 0.703_418_614_7 * m + 1.707_614_701_0 * s),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, IEC 61966-2-1 (the weights of ITU-R BT.709).
    fn luminance(RGBColor(r, g, b): RGBColor) -> f64 {
        let linear = |v: u8| {
            let c = f64::from(v) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    /// CIE 1976 lightness L* of a luminance (ISO/CIE 11664-4).
    fn lightness(colour: RGBColor) -> f64 {
        let y = luminance(colour);
        if y > 0.008_856 { 116.0 * y.cbrt() - 16.0 } else { 903.3 * y }
    }

    #[test]
    fn scale_darkens_steadily() {
        let steps: Vec<f64> = scale().windows(2).map(|pair| lightness(pair[0]) - lightness(pair[1])).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        assert!(mean > 0.9, "{mean}");
        for (i, step) in steps.iter().enumerate() {
            assert!((0.3 * mean..2.0 * mean).contains(step), "step {i}: {step}, mean {mean}");
        }
    }

    /// Source: Ottosson 2020, table of test values: XYZ (0.950, 1.000, 1.089) is L = 1, a = b = 0, which is white.
    #[test]
    fn oklab_white_and_black() {
        assert_eq!(oklab_to_srgb(1.0, 0.0, 0.0), RGBColor(255, 255, 255));
        assert_eq!(oklab_to_srgb(0.0, 0.0, 0.0), RGBColor(0, 0, 0));
    }

    /// Source: WCAG 2.1, 1.4.6: a contrast of 7:1 for text. (L1 + 0.05) / (L2 + 0.05).
    #[test]
    fn letters_stand_out() {
        for ground in [GROUND, TILE] {
            for letters in [INK, SOFT_INK] {
                let contrast = (luminance(ground) + 0.05) / (luminance(letters) + 0.05);
                assert!(contrast >= 6.5, "{letters:?} on {ground:?}: {contrast}");
            }
        }
        assert!((luminance(GROUND) + 0.05) / (luminance(SOFT_INK) + 0.05) >= 7.0);
    }
}
