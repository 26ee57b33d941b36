//! What the noise of each comparison costs a listener: SNR, the power others seem to send with, the signal needed.
//!
//! Here: from the figures of the comparisons; [`weak_signal`] is the arithmetic; `result`, `words` and `rows` are
//! what is told of it in the JSON, the texts and the table. In the JSON it shares one object with published noise,
//! the target and supplies: [`result::Listening`].

pub mod result;
pub(crate) mod rows;
pub mod weak_signal;
pub(crate) mod words;

use crate::contrast::{Contrast, Figures};
use crate::findings::anchor::{USUAL_TOLERANCE_DB, is_linear};
use crate::findings::basis::Basis;
use crate::findings::listening::result::{AnchorKind, ListeningCost, SignalNeeded};
use crate::findings::listening::weak_signal::{
    LEAST_SPEECH_HZ, MORSE_NEEDS_DB, NARROW_BANDWIDTH_HZ, NarrowLoss, SPEECH_NEEDS_DB, Stretch, heard_as_w,
    narrow_loss, needed_dbm,
};
use crate::labels::{Mode, Plan};
use crate::signal::envelope::AmplitudeDistribution;
use crate::signal::measure::Measurement;
use crate::units::{DbfsPerHz, Estimate, REFERENCE_BANDWIDTH_HZ, in_db, s_reading};

pub(crate) use words::{digest, section};

/// How far a meter's reading may be off, dB: our own choice. One receiver's meter was measured to take from 1.5 to
/// 10 dB for a unit, 8 dB off at S5.
const METER_TOLERANCE_DB: f64 = 10.0;

/// The cost of every comparison that is not void; and what could not be told, with the reason.
pub fn of(basis: &Basis<'_>) -> (Vec<ListeningCost>, Vec<String>) {
    let mut not_told = Vec::new();
    let settings = basis.session.settings.iter();
    let fm: Vec<&str> = settings.filter(|s| s.mode == Some(Mode::Fm)).map(|s| s.id.as_str()).collect();
    if !fm.is_empty() {
        not_told.push(format!(
            "What the noise costs in FM ({}): the noise behind an FM detector is not in proportion to that on the air.",
            fm.join(", ")
        ));
    }
    let costs = basis
        .contrasts
        .iter()
        .filter(|(plan, contrast)| !contrast.trust.is_void() && !fm.contains(&plan.setting.as_str()))
        .filter_map(|(plan, contrast)| {
            let figures = contrast.figures.as_ref()?;
            Some(Costing { basis, plan, contrast, figures }.cost())
        })
        .collect();
    (costs, not_told)
}

/// One comparison with what it is made of.
struct Costing<'a> {
    basis: &'a Basis<'a>,
    plan: &'a Plan,
    contrast: &'a Contrast,
    figures: &'a Figures,
}

impl Costing<'_> {
    fn cost(&self) -> ListeningCost {
        let excess = self.figures.excess_db();
        let wide = self.figures.passband.width_hz() >= LEAST_SPEECH_HZ;
        let narrow = self.narrow();
        let heard = self.figures.change().is_up().then(|| heard_as_w(excess));
        let strongest = self.figures.lines.added.iter().map(|found| found.line.cnr_db_hz()).reduce(f64::max);
        ListeningCost {
            contrast: self.plan.id.clone(),
            snr_loss_2500_db: wide.then_some(excess.value),
            snr_loss_2500_ci_db: wide.then(|| excess.ends()),
            snr_loss_500_best_db: narrow.map(|n| n.best.value),
            snr_loss_500_best_ci_db: narrow.map(|n| n.best.ends()),
            snr_loss_500_best_hz: narrow.map(|n| n.best_hz),
            snr_loss_500_worst_db: narrow.map(|n| n.worst.value),
            snr_loss_500_worst_ci_db: narrow.map(|n| n.worst.ends()),
            snr_loss_500_worst_hz: narrow.map(|n| n.worst_hz),
            heard_100_w_as_w: heard.map(|h| h.value),
            heard_100_w_as_ci_w: heard.map(Estimate::ends),
            between_clicks_db: self.between_clicks(),
            carrier_over_500_hz_db: strongest.map(|cnr| cnr - in_db(NARROW_BANDWIDTH_HZ)),
            signal_needed: self.signal_needed(excess),
        }
    }

    fn side(&self, ids: &[String], aside: &[usize]) -> Vec<&Measurement> {
        let kept = ids.iter().enumerate().filter(|(index, _)| !aside.contains(index));
        kept.filter_map(|(_, id)| self.basis.measured.get(id)).map(|one| &one.measurement).collect()
    }

    /// By bands. Clicks are lengthened by a narrow filter, and bands are measured by the level between rare ones:
    /// of them nothing is said.
    fn narrow(&self) -> Option<NarrowLoss> {
        if self.figures.counts_clicks() {
            return None;
        }
        let off = self.side(&self.plan.off, &self.contrast.set_aside);
        let bands = &self.figures.excess.bands;
        let width_hz = bands.windows(2).map(|b| b[1].freq_hz - b[0].freq_hz).reduce(f64::min)?;
        let parts: Vec<Stretch> = bands
            .iter()
            .map(|band| Stretch {
                freq_hz: band.freq_hz,
                off_density: mean_floor(&off, band.freq_hz, width_hz),
                excess: band.excess,
            })
            .collect();
        narrow_loss(&parts, width_hz)
    }

    /// How far the Gaussian part of the noise rose, where clicks stand above it.
    fn between_clicks(&self) -> Option<f64> {
        if !self.figures.counts_clicks() {
            return None;
        }
        let density = |side: Vec<&Measurement>| {
            let all = side.into_iter().filter_map(|m| Some(&m.envelope.as_ref()?.apd));
            Some(AmplitudeDistribution::together(all)?.gaussian()?.density)
        };
        let off = density(self.side(&self.plan.off, &self.contrast.set_aside))?;
        let on = density(self.side(&self.plan.on, &[]))?;
        Some(in_db(on / off) - self.figures.gain_db())
    }

    fn signal_needed(&self, excess: Estimate) -> Option<SignalNeeded> {
        let anchor = self.basis.anchors.of_setting(&self.plan.setting)?;
        let setting = self.basis.session.settings.iter().find(|s| s.id == self.plan.setting)?;
        // A gain that changed may have changed before the reading, too.
        if !is_linear(setting.mode) || self.figures.corrected {
            return None;
        }
        let off = DbfsPerHz::from_density(self.figures.density().0).0 + anchor.dbm_at_full_scale;
        let on = off + excess.value;
        let speech = |noise: f64| needed_dbm(noise, REFERENCE_BANDWIDTH_HZ, SPEECH_NEEDS_DB);
        let morse = |noise: f64| needed_dbm(noise, NARROW_BANDWIDTH_HZ, MORSE_NEEDS_DB);
        let told_db = self.basis.session.listening.dbm_tolerance_db.unwrap_or(USUAL_TOLERANCE_DB);
        let s = |dbm: f64| s_reading(dbm, anchor.dial_hz);
        Some(SignalNeeded {
            anchor: if anchor.by_power { AnchorKind::Dbm } else { AnchorKind::Meter },
            tolerance_db: if anchor.by_power { told_db } else { METER_TOLERANCE_DB },
            speech_snr_db: SPEECH_NEEDS_DB,
            morse_snr_db: MORSE_NEEDS_DB,
            speech_off_dbm: speech(off),
            speech_on_dbm: speech(on),
            morse_off_dbm: morse(off),
            morse_on_dbm: morse(on),
            speech_off_s: s(speech(off)),
            speech_on_s: s(speech(on)),
            morse_off_s: s(morse(off)),
            morse_on_s: s(morse(on)),
        })
    }
}

/// Mean noise floor over a band of all recordings of a side, FS²/Hz: a weight, so its own scatter hardly matters.
fn mean_floor(side: &[&Measurement], middle_hz: f64, width_hz: f64) -> f64 {
    let mean = |m: &Measurement| {
        let from = m.slices.bin_of(middle_hz - width_hz / 2.0).min(m.floor.len().saturating_sub(1));
        let to = (m.slices.bin_of(middle_hz + width_hz / 2.0) + 1).clamp(from + 1, m.floor.len().max(from + 1));
        let bins = m.floor.get(from..to).unwrap_or_default();
        bins.iter().sum::<f64>() / bins.len().max(1) as f64
    };
    side.iter().map(|m| mean(m)).sum::<f64>() / side.len().max(1) as f64
}
