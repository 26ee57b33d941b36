//! The figures of single comparisons: which a session has. Each has its file.

pub mod card;
pub mod description;
pub mod drawing;
pub mod scene;
pub mod spectrum;

use crate::contrast::Contrast;
use crate::findings::basis::Basis;
use crate::findings::ladder;
use crate::findings::picture::{FigureKind, Picture, PictureGroup};
use crate::labels::Plan;
use crate::report::contract::Report;
use crate::report::devices::devices;
use drawing::card::PulsingFigure;
use scene::Scene;

/// A device recorded at more settings than this is shown in full at the loudest, by its spectra at the others.
const SETTINGS_IN_FULL: usize = 3;

/// Of more devices than this, those that add nothing are shown by their spectra alone. Chosen: nobody looks at a
/// dozen cards without noise, and each picture costs time and room.
const DEVICES_IN_FULL: usize = 4;

/// A card for every device, then the single figures of every contrast (fewer after remedies, at further settings and
/// of devices that add nothing): a group for each contrast.
pub fn of_comparisons<'a>(basis: &'a Basis<'_>, report: &'a Report) -> Vec<PictureGroup<'a>> {
    let devices = devices(report);
    let many = devices.len() > DEVICES_IN_FULL;
    let quiet: Vec<&str> = devices.iter().filter(|d| many && d.is_quiet()).map(|d| d.name).collect();
    let group = |(at, (plan, contrast)): (usize, &'a (Plan, Contrast))| -> Option<PictureGroup<'a>> {
        let figures = contrast.figures.as_ref()?;
        let is_quiet = quiet.contains(&plan.device.as_str());
        Some(Box::new(move || {
            of_comparison(&Scene::new(basis, report, at, plan, contrast, figures), report, is_quiet)
        }))
    };
    basis.contrasts.iter().enumerate().filter_map(group).collect()
}

fn of_comparison(scene: &Scene<'_>, report: &Report, is_quiet: bool) -> Vec<Picture> {
    if is_quiet {
        return vec![scene.picture(FigureKind::Spectra, scene.spectra())];
    }
    let mut found = Vec::new();
    let (first, loudest) = (scene.is_first_of_setting(), scene.is_loudest_setting());
    if first && loudest {
        found.push(scene.picture(FigureKind::Card, scene.card()));
    }
    if first && let Some(ladder) = scene.ladder() {
        found.push(scene.picture(FigureKind::Ladder, ladder::figure(ladder, &report.contrasts)));
    }
    found.push(scene.picture(FigureKind::Spectra, scene.spectra()));
    if first && scene.has_excess() && (loudest || scene.settings() <= SETTINGS_IN_FULL) {
        found.push(scene.picture(FigureKind::Excess, scene.excess()));
    }
    // After a remedy the kind of noise rarely changes: the two figures that show how much are enough.
    if first && loudest {
        found.push(scene.picture(FigureKind::Spectrogram, scene.spectrogram()));
        match scene.pulsing() {
            Some(PulsingFigure::Modulation(figure)) => found.push(scene.picture(FigureKind::Envelope, figure)),
            Some(PulsingFigure::Intervals(figure)) => found.push(scene.picture(FigureKind::Envelope, figure)),
            None => {}
        }
        if let Some(apd) = scene.apd() {
            found.push(scene.picture(FigureKind::Apd, apd));
        }
    }
    found
}
