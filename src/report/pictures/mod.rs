//! From measurements and results to the data of the figures. Here: which figures a session has; each has its file.

pub mod card;
pub mod drawing;
pub mod names;
pub mod scene;
pub mod spectrum;

use std::path::Path;

use anyhow::Context;

pub(crate) use names::slug;

use crate::findings::budget::drawing::BudgetFigure;
use crate::findings::figure_file::{FigureFile, FigureKind};
use crate::findings::ladder::drawing::LadderFigure;
use crate::findings::man_made::drawing::ManMadeFigure;
use crate::findings::switching_comb::drawing::SwitchingCombFigure;
use crate::report::pictures::drawing::apd::ApdFigure;
use crate::report::pictures::drawing::card::CardFigure;
use crate::report::pictures::drawing::envelope::EnvelopeFigure;
use crate::report::pictures::drawing::excess::ExcessFigure;
use crate::report::pictures::drawing::spectra::SpectraFigure;
use crate::report::pictures::drawing::spectrogram::SpectrogramFigure;
use crate::run::Tally;
use crate::warning::Trust;
use scene::Scene;

/// A figure ready to be drawn.
pub struct Picture {
    pub(crate) file: String,
    pub(crate) kind: FigureKind,
    pub(crate) contrast: Option<String>,
    pub(crate) caption: String,
    pub(crate) data: Data,
}

#[derive(Debug)]
pub(crate) enum Data {
    Card(Box<CardFigure>),
    Spectra(SpectraFigure),
    Excess(ExcessFigure),
    Spectrogram(SpectrogramFigure),
    Envelope(EnvelopeFigure),
    Apd(ApdFigure),
    Ladder(LadderFigure),
    SwitchingComb(SwitchingCombFigure),
    ManMade(ManMadeFigure),
    Budget(BudgetFigure),
}

impl Picture {
    /// Draws it into `dir`.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn draw(&self, dir: &Path) -> anyhow::Result<()> {
        let file = dir.join(&self.file);
        match &self.data {
            Data::Card(figure) => figure.draw(&file),
            Data::Spectra(figure) => figure.draw(&file),
            Data::Excess(figure) => figure.draw(&file),
            Data::Spectrogram(figure) => figure.draw(&file),
            Data::Envelope(figure) => figure.draw(&file),
            Data::Apd(figure) => figure.draw(&file),
            Data::Ladder(figure) => figure.draw(&file),
            Data::SwitchingComb(figure) => figure.draw(&file),
            Data::ManMade(figure) => figure.draw(&file),
            Data::Budget(figure) => figure.draw(&file),
        }
        .with_context(|| format!("{}: the picture could not be written", self.file))
    }

    /// Its file name.
    pub fn file(&self) -> &str {
        &self.file
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

/// A device recorded at more settings than this is shown in full at the loudest, by its spectra at the others.
const SETTINGS_IN_FULL: usize = 3;

/// All figures of a session: a card for every device, then the single figures of every contrast (fewer after remedies
/// and at further settings).
pub fn pictures(tally: &Tally) -> Vec<Picture> {
    let mut found = Vec::new();
    for (at, (plan, contrast)) in tally.contrasts.iter().enumerate() {
        let Some(figures) = &contrast.figures else { continue };
        let scene = Scene::new(tally, at, plan, contrast, figures);
        let (first, loudest) = (scene.is_first_of_setting(), scene.is_loudest_setting());
        if first && loudest {
            found.push(scene.picture(FigureKind::Card, Data::Card(Box::new(scene.card()))));
        }
        if first && let Some(ladder) = scene.ladder() {
            found.push(scene.picture(
                FigureKind::Ladder,
                Data::Ladder(crate::findings::ladder::figure::figure(ladder, &tally.report)),
            ));
        }
        found.push(scene.picture(FigureKind::Spectra, Data::Spectra(scene.spectra())));
        if scene.trust != Trust::Void && (loudest || scene.settings() <= SETTINGS_IN_FULL) {
            found.push(scene.picture(FigureKind::Excess, Data::Excess(scene.excess())));
        }
        // After a remedy the kind of noise rarely changes: the two figures that show how much are enough.
        if first && loudest {
            found.push(scene.picture(FigureKind::Spectrogram, Data::Spectrogram(scene.spectrogram())));
            if let Some(envelope) = scene.envelope() {
                found.push(scene.picture(FigureKind::Envelope, Data::Envelope(envelope)));
            }
            if let Some(apd) = scene.apd() {
                found.push(scene.picture(FigureKind::Apd, Data::Apd(apd)));
            }
        }
    }
    found.extend(crate::findings::switching_comb::figure::pictures(tally));
    found.extend(crate::findings::man_made::figure::picture(&tally.report));
    found.extend(crate::findings::budget::figure::pictures(&tally.report));
    found
}
