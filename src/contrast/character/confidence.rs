//! How sure a verdict is, 0..1: of those given at 0.9, some nine in ten are right (the validation bench's table).

use super::clicks::CLICKS_CHANCE;
use super::{Case, Character, Heard, LEAST_SHARE, Part};
use crate::contrast::visitor::Visitor;
use crate::signal::spectrum::statistics::normal_cdf;

/// A steady rise smaller than this may be the band's own change from one recording to the next (common practice: the
/// noise of a band moves by some dB within minutes), and how sure a verdict can be then.
const BAND_MOVES_DB: f64 = 3.0;
const BAND_OR_DEVICE: f64 = 0.85;
/// A signal that keys, fades or hops, of this share of the noise, or moments that lift the mean by so many dB, may be the
/// device's after all: how sure "nothing" can be then.
const SOMETHING_SHARE: f64 = 0.5;
const SOMETHING_DB: f64 = 0.5;
const SOMETHING_CAME: f64 = 0.7;
/// Where nothing smaller than this would have been noticed, dB, "nothing" says little.
pub const BLIND_DB: f64 = 3.0;
/// Nor does it where the interval lies above 0 with a rise of more than this, dB; it is no surer then than the second.
const WORTH_A_WORD_DB: f64 = 0.5;
const SAYS_LITTLE: f64 = 0.6;
/// How sure clicks can be where the noise stands above its Gaussian part for longer than clicks do.
const MORE_THAN_CLICKS: f64 = 0.6;
/// How sure any verdict without clicks can be where there were strong pulses, too few to call.
const CLICKS_PERHAPS: f64 = 0.6;
/// How sure carriers can be that may be a station's.
const CARRIERS_OR_STATION: f64 = 0.6;
/// How sure single carriers can be that may be a family.
const CARRIERS_OR_COMB: f64 = 0.6;

impl Case<'_> {
    pub(super) fn confidence(&self, character: Character, parts: &[Part], heard: &Heard) -> f64 {
        let sd = self.excess.sd_db.max(0.02);
        let over = normal_cdf((self.excess.steady.value - 0.7 * self.excess.limit_db) / sd);
        let line = || {
            let best = self.lines.added.first().map_or(0.0, |found| found.line.cnr_db_hz());
            0.6 + 0.38 * ((best - 10.0) / 8.0).clamp(0.0, 1.0)
        };
        let of = |kind: Character| match kind {
            Character::Hash => {
                let over = if self.may_be_the_band() { over.min(BAND_OR_DEVICE) } else { over };
                let blind =
                    self.least_depth_seen(heard.steady_power).map_or(0.5, |depth| (depth / 0.6).clamp(0.0, 1.0));
                over * (1.0 - 0.5 * blind * blind)
            }
            Character::Buzz => heard.buzz.as_ref().map_or(0.5, |buzz| {
                let margin = if self.excess.is_called() { (buzz.depth - 0.15) / 0.35 } else { 0.4 };
                0.55 + 0.44 * margin.clamp(0.0, 1.0) * ((buzz.sigmas - 3.0) / 4.0).clamp(0.0, 1.0)
            }),
            Character::Clicks if self.more_than_clicks(heard) => MORE_THAN_CLICKS,
            Character::Clicks => heard
                .clicks
                .as_ref()
                .map_or(0.5, |clicks| 0.98 - 0.3 * (clicks.chance / CLICKS_CHANCE).min(1.0).sqrt()),
            Character::Carriers | Character::Comb if self.may_be_a_station() => line().min(CARRIERS_OR_STATION),
            Character::Carriers if self.lines.possible_comb.is_some() => line().min(CARRIERS_OR_COMB),
            Character::Carriers => line(),
            Character::Comb => {
                self.lines.comb.as_ref().map_or(0.5, |comb| 0.99 - 0.3 * (comb.chance / 0.01).clamp(0.0, 1.0))
            }
            _ => 1.0,
        };
        let sure = match character {
            Character::None => {
                let room = (self.excess.limit_db - self.excess.steady.value.abs()) / sd;
                let sure = 0.5 + 0.49 * normal_cdf(room - 0.5);
                let sure = if self.says_little() { sure.min(SAYS_LITTLE) } else { sure };
                if self.something_came() { sure.min(SOMETHING_CAME) } else { sure }
            }
            Character::Unclear => 0.3,
            _ => parts.iter().map(|part| of(part.character)).fold(1.0, f64::min),
        };
        let sure = if heard.few_pulses(self).is_some() { sure.min(CLICKS_PERHAPS) } else { sure };
        // How near a part was to being named, or to not being named.
        let margin = parts.iter().map(|part| (part.share - LEAST_SHARE).abs() / 0.1).fold(1.0, f64::min);
        (sure * if character == Character::Mixed { 0.75 + 0.25 * margin } else { 1.0 }).clamp(0.05, 0.99)
    }

    /// Whether something beside the clicks pulses, which can't be named.
    pub(super) fn more_than_clicks(&self, heard: &Heard) -> bool {
        heard.buzz.is_none()
            && heard
                .clicks
                .as_ref()
                .zip(self.added)
                .is_some_and(|(clicks, added)| clicks.leave_time_over(added.time_share))
    }

    /// Whether something stands in the on state that is not the steady noise: a strong signal that keys, fades or hops,
    /// single moments that lift the mean, or more pulses.
    fn something_came(&self) -> bool {
        let noise = self.excess.density.0 * self.width_hz;
        let moments = self.excess.mean.value - self.excess.steady.value;
        self.lines.unsteady_power / self.gain > SOMETHING_SHARE * noise
            || moments > SOMETHING_DB.max(self.excess.limit_db)
            || self.pulses_perhaps()
    }

    /// Whether a rise worth having may be there unnoticed.
    fn says_little(&self) -> bool {
        self.excess.limit_db > BLIND_DB || self.leans_to_a_rise()
    }

    /// Whether the interval lies above 0, though not so far that a rise is called.
    pub(super) fn leans_to_a_rise(&self) -> bool {
        let rise = self.excess.steady;
        !self.excess.is_called() && rise.ci95.0 > 0.0 && rise.value > WORTH_A_WORD_DB
    }

    /// Whether most of the added lines' power is in lines near each other, as a station has that keys evenly.
    pub(super) fn may_be_a_station(&self) -> bool {
        let beating: f64 =
            self.lines.added.iter().filter(|found| found.line.beats).map(|found| found.added_power).sum();
        beating > 0.5 * self.lines.added_power()
    }

    /// A signal of the on state only, if it is strong, also against the noise of that state.
    pub(super) fn strong_visitor(&self) -> Option<&Visitor> {
        let noise = self.excess.density.0.max(self.excess.density.1) * self.width_hz;
        self.visitor.as_ref().filter(|visitor| visitor.power / self.gain > SOMETHING_SHARE * noise)
    }

    /// Whether a rise of this size may as well be the band's own: steady, small, and seen once only.
    pub(super) fn may_be_the_band(&self) -> bool {
        self.off.len() == 1 && self.excess.is_called() && self.excess.steady.value < BAND_MOVES_DB
    }
}
