//! What every picture must be: drawn, of its size, light enough to post.

use std::fs;
use std::path::{Path, PathBuf};

use noisetally::plot::PlotError;

/// The heaviest a figure may be, bytes: forums refuse or shrink large pictures.
const HEAVIEST: usize = 300_000;

pub struct Picture {
    pub width: u32,
    pub height: u32,
    pub pixels: Vec<[u8; 3]>,
    pub bytes: Vec<u8>,
}

/// A folder to look into afterwards, or one that goes away.
pub fn folder() -> (PathBuf, Option<tempfile::TempDir>) {
    if let Some(kept) = std::env::var_os("NOISETALLY_FIGURES") {
        fs::create_dir_all(&kept).expect("folder for figures");
        return (kept.into(), None);
    }
    let passing = tempfile::tempdir().expect("temporary folder");
    (passing.path().to_owned(), Some(passing))
}

/// Draws twice: the same bytes, a palette PNG that decodes, not too heavy.
pub fn picture(name: &str, draw: impl Fn(&Path) -> Result<(), PlotError>) -> Picture {
    let (folder, _guard) = folder();
    let file = folder.join(format!("{name}.png"));
    draw(&file).expect("drawn");
    let bytes = fs::read(&file).expect("written");
    draw(&file).expect("drawn again");
    assert_eq!(bytes, fs::read(&file).expect("written again"), "{name} differs from itself");
    assert!(bytes.len() < HEAVIEST, "{name}: {} bytes", bytes.len());
    let mut decoder = png::Decoder::new(std::io::Cursor::new(&bytes));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().expect("a PNG");
    assert_eq!(reader.info().color_type, png::ColorType::Indexed, "{name}");
    let mut rgb = vec![0; reader.output_buffer_size().expect("size")];
    let info = reader.next_frame(&mut rgb).expect("whole");
    let pixels = rgb.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect();
    Picture { width: info.width, height: info.height, pixels, bytes }
}

impl Picture {
    pub fn colours(&self) -> usize {
        let mut seen = self.pixels.clone();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    }

    pub fn ground_share(&self) -> f64 {
        self.pixels.iter().filter(|p| **p == [255; 3]).count() as f64 / self.pixels.len() as f64
    }

    /// Nothing may be cut off at the edge: a margin all around is blank.
    pub fn margin_is_blank(&self, margin: usize) -> bool {
        let (width, height) = (self.width as usize, self.height as usize);
        self.pixels.iter().enumerate().all(|(i, pixel)| {
            let (x, y) = (i % width, i / width);
            let inside = x >= margin && x < width - margin && y >= margin && y < height - margin;
            inside || *pixel == [255; 3]
        })
    }
}

pub fn check(name: &str, size: (u32, u32), draw: impl Fn(&Path) -> Result<(), PlotError>) -> Picture {
    let picture = picture(name, draw);
    assert_eq!(&picture.bytes[..8], b"\x89PNG\r\n\x1a\n", "{name}");
    assert_eq!((picture.width, picture.height), size, "{name}");
    assert!(picture.margin_is_blank(12), "{name}: something reaches into the margin");
    picture
}
