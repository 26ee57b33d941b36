//! A figure ready to be drawn: what is to be known of it before, and its line in the report after.

use std::path::Path;

use anyhow::Context;
use serde::{Deserialize, Serialize};

use crate::plot::Drawing;

/// A figure ready to be drawn.
pub struct Picture {
    /// Name of the PNG.
    pub file: String,
    /// One word, as `report.json` has it.
    pub kind: &'static str,
    /// Id of the comparison it shows.
    pub contrast: Option<String>,
    /// What it shows, as a sentence.
    pub caption: String,
    /// The figure.
    pub drawing: Box<dyn Drawing>,
}

impl Picture {
    /// Draws it into `dir`.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn draw(&self, dir: &Path) -> anyhow::Result<()> {
        let drawn = self.drawing.draw(&dir.join(&self.file));
        drawn.with_context(|| format!("{}: the picture could not be written", self.file))
    }

    /// Its line in the report.
    pub fn listed(&self) -> FigureFile {
        FigureFile {
            file: self.file.clone(),
            kind: self.kind.to_owned(),
            contrast: self.contrast.clone(),
            caption: self.caption.clone(),
        }
    }
}

/// A picture beside the report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FigureFile {
    /// Name of the PNG beside `report.md`.
    pub file: String,
    /// card, spectra, excess, spectrogram, envelope, apd, ladder, man-made-noise; timeline, waterfall.
    pub kind: String,
    /// Id of the contrast it shows.
    pub contrast: Option<String>,
    /// What it shows, as a sentence.
    pub caption: String,
}
