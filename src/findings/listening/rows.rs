//! The columns of the table of comparisons that concern a listener.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::{Listening, ListeningCost};
use crate::findings::man_made::result::NoiseLevel;
use crate::findings::target::judge::Outcome;
use crate::text::csv::Figure;

/// A comparison's part of its row.
#[derive(Default, Serialize)]
pub(crate) struct ListeningRow {
    snr_loss_2500_db: Figure,
    snr_loss_500_best_db: Figure,
    snr_loss_500_worst_db: Figure,
    heard_100_w_as_w: Figure,
    heard_100_w_as_low_w: Figure,
    heard_100_w_as_high_w: Figure,
    between_clicks_db: Figure,
    carrier_over_500_hz_db: Figure,
    speech_needs_off_dbm: Figure,
    speech_needs_on_dbm: Figure,
    noise_figure_off_db: Figure,
    noise_figure_on_db: Figure,
    noise_figure_tolerance_db: Figure,
    target: Option<Outcome>,
}

/// What belongs to each comparison, by its id.
pub(crate) struct ListeningColumns<'a> {
    costs: BTreeMap<&'a str, &'a ListeningCost>,
    noise: BTreeMap<&'a str, (&'a NoiseLevel, &'a NoiseLevel, f64)>,
    target: BTreeMap<&'a str, Outcome>,
}

impl<'a> ListeningColumns<'a> {
    pub(crate) fn of(listening: &'a Listening) -> Self {
        let levels = listening.station_noise.iter().flat_map(|station| {
            station.on.iter().map(move |on| (on.contrast.as_str(), (&station.off, on, station.tolerance_db)))
        });
        let judged = listening.target.iter().flat_map(|target| &target.devices);
        Self {
            costs: listening.costs.iter().map(|cost| (cost.contrast.as_str(), cost)).collect(),
            noise: levels.collect(),
            target: judged.map(|device| (device.contrast.as_str(), device.outcome)).collect(),
        }
    }

    pub(crate) fn row(&self, contrast: &ContrastResult) -> ListeningRow {
        let id = contrast.id.as_str();
        let cost = self.costs.get(id);
        let of_cost = |pick: fn(&ListeningCost) -> Option<f64>| Figure::from(cost.and_then(|cost| pick(cost)));
        let noise = self.noise.get(id);
        ListeningRow {
            snr_loss_2500_db: of_cost(|c| c.snr_loss_2500_db),
            snr_loss_500_best_db: of_cost(|c| c.snr_loss_500_best_db),
            snr_loss_500_worst_db: of_cost(|c| c.snr_loss_500_worst_db),
            heard_100_w_as_w: of_cost(|c| c.heard_100_w_as_w),
            heard_100_w_as_low_w: of_cost(|c| c.heard_100_w_as_ci_w.map(|ci| ci[0])),
            heard_100_w_as_high_w: of_cost(|c| c.heard_100_w_as_ci_w.map(|ci| ci[1])),
            between_clicks_db: of_cost(|c| c.between_clicks_db),
            carrier_over_500_hz_db: of_cost(|c| c.carrier_over_500_hz_db),
            speech_needs_off_dbm: of_cost(|c| Some(c.signal_needed.as_ref()?.speech_off_dbm)),
            speech_needs_on_dbm: of_cost(|c| Some(c.signal_needed.as_ref()?.speech_on_dbm)),
            noise_figure_off_db: noise.map(|(off, ..)| off.noise_figure_db).into(),
            noise_figure_on_db: noise.map(|(_, on, _)| on.noise_figure_db).into(),
            noise_figure_tolerance_db: noise.map(|(.., tolerance)| *tolerance).into(),
            target: self.target.get(id).copied(),
        }
    }
}
