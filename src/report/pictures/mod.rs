//! From measurements and results to the data of the figures. Here: which figures a session has; each has its file.

mod budget;
mod card;
mod ladder;
mod man_made;
mod names;
mod scene;
mod spectrum;
mod switching_combs;

use std::path::Path;

use anyhow::Context;

pub(super) use names::slug;

use super::Tally;
use crate::health::Trust;
use crate::plot::{
    ApdFigure, BudgetFigure, CardFigure, EnvelopeFigure, ExcessFigure, LadderFigure, ManMadeFigure, SpectraFigure,
    SpectrogramFigure, SwitchingCombFigure,
};
use crate::report::contract::FigureFile;
use scene::Scene;

/// A figure ready to be drawn.
pub struct Picture {
    file: String,
    kind: &'static str,
    contrast: Option<String>,
    caption: String,
    data: Data,
}

enum Data {
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
            kind: self.kind.to_owned(),
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
            found.push(scene.picture("card", Data::Card(Box::new(scene.card()))));
        }
        if first && let Some(ladder) = scene.ladder() {
            found.push(scene.picture("ladder", Data::Ladder(ladder::figure(ladder, &tally.report))));
        }
        found.push(scene.picture("spectra", Data::Spectra(scene.spectra())));
        if scene.trust != Trust::Void && (loudest || scene.settings() <= SETTINGS_IN_FULL) {
            found.push(scene.picture("excess", Data::Excess(scene.excess())));
        }
        // After a remedy the kind of noise rarely changes: the two figures that show how much are enough.
        if first && loudest {
            found.push(scene.picture("spectrogram", Data::Spectrogram(scene.spectrogram())));
            if let Some(envelope) = scene.envelope() {
                found.push(scene.picture("envelope", Data::Envelope(envelope)));
            }
            if let Some(apd) = scene.apd() {
                found.push(scene.picture("apd", Data::Apd(apd)));
            }
        }
    }
    found.extend(switching_combs::pictures(tally));
    found.extend(man_made::picture(&tally.report));
    found.extend(budget::pictures(&tally.report));
    found
}
