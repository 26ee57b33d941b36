//! A figure ready to be drawn: what is to be known of it before, and its line in the report after.

use std::path::Path;

use anyhow::Context;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::plot::Drawing;
use crate::watch::{Stopped, Watch};

/// A figure ready to be drawn.
pub struct Picture {
    /// Name of the PNG.
    pub file: String,
    /// What it shows.
    pub kind: FigureKind,
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
            kind: self.kind,
            contrast: self.contrast.clone(),
            caption: self.caption.clone(),
        }
    }
}

/// Makes the pictures of one comparison, say, when they are to be drawn.
pub type PictureGroup<'a> = Box<dyn Fn() -> Vec<Picture> + Send + Sync + 'a>;

/// Draws pictures into `dir`, in parallel, and gives their lines in the report, in their order.
///
/// # Errors
/// A picture that can't be written; [`Stopped`].
pub fn draw_all(pictures: &[Picture], dir: &Path, watch: &dyn Watch) -> anyhow::Result<Vec<FigureFile>> {
    watch.begin("drawing", pictures.len());
    pictures.par_iter().map(|picture| draw_watched(picture, dir, watch)).collect()
}

/// The same of pictures that are made in groups: no more than a group for each core is there at a time.
///
/// # Errors
/// As for [`draw_all`].
pub fn draw_groups(groups: &[PictureGroup<'_>], dir: &Path, watch: &dyn Watch) -> anyhow::Result<Vec<FigureFile>> {
    // A few groups would leave cores idle.
    if groups.len() <= FEW_GROUPS {
        return draw_all(&groups.iter().flat_map(|group| group()).collect::<Vec<_>>(), dir, watch);
    }
    watch.begin("drawing", groups.len());
    let drawn = |group: &PictureGroup<'_>| -> anyhow::Result<Vec<FigureFile>> {
        let listed: Vec<FigureFile> =
            group().iter().map(|picture| draw(picture, dir, watch)).collect::<anyhow::Result<_>>()?;
        watch.done(listed.last().map_or("", |last| &last.file));
        Ok(listed)
    };
    let all: Vec<Vec<FigureFile>> = groups.par_iter().map(drawn).collect::<anyhow::Result<_>>()?;
    Ok(all.into_iter().flatten().collect())
}

/// Groups that are made all at once. Chosen: the pictures of so many take some ten megabytes.
const FEW_GROUPS: usize = 16;

fn draw_watched(picture: &Picture, dir: &Path, watch: &dyn Watch) -> anyhow::Result<FigureFile> {
    let listed = draw(picture, dir, watch)?;
    watch.done(&picture.file);
    Ok(listed)
}

fn draw(picture: &Picture, dir: &Path, watch: &dyn Watch) -> anyhow::Result<FigureFile> {
    if watch.is_stopped() {
        return Err(Stopped.into());
    }
    picture.draw(dir)?;
    Ok(picture.listed())
}

/// What a picture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FigureKind {
    /// A device's results at a glance.
    Card,
    /// Spectra off and on.
    Spectra,
    /// Excess over frequency.
    Excess,
    /// Spectrograms off and on.
    Spectrogram,
    /// How the noise pulses.
    Envelope,
    /// How often the noise exceeds each level.
    Apd,
    /// Excess left after each remedy.
    Ladder,
    /// Carriers over the dial.
    #[serde(rename = "switching_comb")]
    SwitchingComb,
    /// The station's noise beside published noise.
    ManMadeNoise,
    /// Shares of the devices.
    Budget,
    /// Many devices, loudest first.
    Ranking,
    /// A device over the dial.
    Bands,
    /// The same noise at several places.
    Places,
    /// The level over a night.
    Timeline,
    /// The spectrum over a night.
    Waterfall,
    /// When each noise of a night was there.
    OnTimes,
    /// What several evenings tell of each device.
    Changes,
    /// Days by hours, over weeks.
    Calendar,
}

impl FigureKind {
    /// The word in the JSON, which the names of most files end with.
    pub fn word(self) -> &'static str {
        match self {
            Self::Card => "card",
            Self::Spectra => "spectra",
            Self::Excess => "excess",
            Self::Spectrogram => "spectrogram",
            Self::Envelope => "envelope",
            Self::Apd => "apd",
            Self::Ladder => "ladder",
            Self::SwitchingComb => "switching_comb",
            Self::ManMadeNoise => "man-made-noise",
            Self::Budget => "budget",
            Self::Ranking => "ranking",
            Self::Bands => "bands",
            Self::Places => "places",
            Self::Timeline => "timeline",
            Self::Waterfall => "waterfall",
            Self::OnTimes => "on-times",
            Self::Changes => "changes",
            Self::Calendar => "calendar",
        }
    }
}

/// A picture beside the report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FigureFile {
    /// Name of the PNG beside `report.md`.
    pub file: String,
    /// What it shows.
    pub kind: FigureKind,
    /// Id of the contrast it shows.
    pub contrast: Option<String>,
    /// What it shows, as a sentence.
    pub caption: String,
}

impl From<&FigureFile> for crate::text::Picture {
    fn from(figure: &FigureFile) -> Self {
        let (word, caption) = (figure.kind.word().to_owned(), figure.caption.clone());
        // A card says itself whose it is.
        let (alternative, caption) =
            if figure.kind == FigureKind::Card { (caption, String::new()) } else { (word, caption) };
        Self { file: figure.file.clone(), alternative, caption }
    }
}
