//! A picture beside the report as `report.json` lists it.

use serde::{Deserialize, Serialize};

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
