//! The columns of the table of comparisons that concern a listener.

use std::collections::BTreeMap;

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::ListeningCost;
use crate::findings::man_made::result::NoiseLevel;
use crate::report::contract::Report;
use crate::report::csv_tables::field;

/// Their heads, in order.
pub(crate) const LISTENING_HEADS: [&str; 14] = [
    "snr_loss_2500_db",
    "snr_loss_500_best_db",
    "snr_loss_500_worst_db",
    "heard_100_w_as_w",
    "heard_100_w_as_low_w",
    "heard_100_w_as_high_w",
    "between_clicks_db",
    "carrier_over_500_hz_db",
    "speech_needs_off_dbm",
    "speech_needs_on_dbm",
    "noise_figure_off_db",
    "noise_figure_on_db",
    "noise_figure_tolerance_db",
    "target",
];

/// What belongs to each comparison, by its id.
pub(crate) struct ListeningColumns<'a> {
    costs: BTreeMap<&'a str, &'a ListeningCost>,
    noise: BTreeMap<&'a str, (&'a NoiseLevel, &'a NoiseLevel, f64)>,
    target: BTreeMap<&'a str, &'a str>,
}

impl<'a> ListeningColumns<'a> {
    pub(crate) fn of(report: &'a Report) -> Self {
        let listening = &report.listening;
        let levels = listening.station_noise.iter().flat_map(|station| {
            station.on.iter().map(move |on| (on.contrast.as_str(), (&station.off, on, station.tolerance_db)))
        });
        let judged = listening.target.iter().flat_map(|target| &target.devices);
        Self {
            costs: listening.costs.iter().map(|cost| (cost.contrast.as_str(), cost)).collect(),
            noise: levels.collect(),
            target: judged.map(|device| (device.contrast.as_str(), device.outcome.as_str())).collect(),
        }
    }

    pub(crate) fn row(&self, contrast: &ContrastResult) -> Vec<String> {
        let id = contrast.id.as_str();
        let cost = self.costs.get(id);
        let of_cost = |pick: fn(&ListeningCost) -> Option<f64>| field(cost.and_then(|cost| pick(cost)));
        let noise = self.noise.get(id);
        vec![
            of_cost(|c| c.snr_loss_2500_db),
            of_cost(|c| c.snr_loss_500_best_db),
            of_cost(|c| c.snr_loss_500_worst_db),
            of_cost(|c| c.heard_100_w_as_w),
            of_cost(|c| c.heard_100_w_as_ci_w.map(|ci| ci[0])),
            of_cost(|c| c.heard_100_w_as_ci_w.map(|ci| ci[1])),
            of_cost(|c| c.between_clicks_db),
            of_cost(|c| c.carrier_over_500_hz_db),
            of_cost(|c| Some(c.signal_needed.as_ref()?.speech_off_dbm)),
            of_cost(|c| Some(c.signal_needed.as_ref()?.speech_on_dbm)),
            field(noise.map(|(off, ..)| off.noise_figure_db)),
            field(noise.map(|(_, on, _)| on.noise_figure_db)),
            field(noise.map(|(.., tolerance)| *tolerance)),
            self.target.get(id).map_or_else(String::new, |outcome| (*outcome).to_owned()),
        ]
    }
}
