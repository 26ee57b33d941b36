//! How sure a verdict is, 0..1: of those given at 0.9, some nine in ten are right (the validation bench's table).
//! The numbers stand in `doubts`; here is how they are put together, and when each counts.

use super::clicks::{CLICKS_CHANCE, Clicks};
use super::doubts::{Doubt, Sure};
use super::{Character, Facts, Heard, LEAST_SHARE, Part, Verdict};
use crate::contrast::comb::CALLED_BELOW;
use crate::contrast::visitor::Visitor;
use crate::signal::spectrum::statistics::normal_cdf;
use crate::units::in_db;
use crate::warning::Trust;

/// A band at rest does not rise by so much from one take to the next (common practice: by some dB within minutes),
/// dB. Chosen: an S-unit (IARU Region 1, R.1).
pub(super) const BAND_MOVES_DB: f64 = 6.0;
/// A signal that keys, fades or hops, of this share of the noise, or moments that lift the mean by so many dB, may
/// be the device's after all. Chosen: stations that any band has must not spoil every "nothing", a device that keys
/// must not hide.
const SOMETHING_SHARE: f64 = 0.5;
const SOMETHING_DB: f64 = 0.5;
/// Where nothing smaller than this would have been noticed, dB, "nothing" says little. Chosen: a doubling of the
/// noise, half an S-unit (IARU Region 1, R.1).
pub const BLIND_DB: f64 = 3.0;
/// Nor does it where the interval lies above 0 with a rise of more than this, dB. Chosen: a smaller one is worth no
/// word.
const WORTH_A_WORD_DB: f64 = 0.5;
/// Depth of a buzz whose absence must be known for noise to be hash for certain. Chosen: a little below that of
/// full-wave ripple as |sin|, 0.67.
pub(super) const RIPPLE_DEPTH: f64 = 0.6;
/// The part of that depth taken where no limit is known. Chosen: the middle.
const UNKNOWN_LIMIT: f64 = 0.5;
/// A family whose members chance would place so less often than this is one, weak as each may be. Chosen: once in a
/// million, as the evidence says it.
const FAMILY_FOR_CERTAIN: f64 = 1e-6;
/// No interval is trusted to be narrower than this, dB. Chosen: far below the least detection limit, 0.1 dB, so
/// that it only guards the division.
const LEAST_SD_DB: f64 = 0.02;
/// The share of the detection limit at which a rise is as probable as not. Chosen: nearer to 1 and hash just above
/// the limit is too unsure, nearer to 0 and it is too sure; the bench's table of the confidence shows which.
const PROBABLE_FROM: f64 = 0.7;
/// "Nothing" is in the middle of its row where this many standard deviations are left to the limit. Chosen as
/// above.
const ROOM_SIGMAS: f64 = 0.5;

impl Verdict {
    /// No surer than the comparison's trust allows.
    pub fn doubted(&mut self, trust: Trust) {
        let now = Sure { value: self.confidence, bound: self.bound };
        let Sure { value, bound } = match trust {
            Trust::Void => now.at_most(Doubt::TrustVoid.flat()),
            Trust::Doubtful => now.times(Doubt::TrustDoubtful.flat()).limited(),
            Trust::Unrepeated | Trust::Sound => now,
        };
        (self.confidence, self.bound) = (value, bound);
    }

    /// No surer than one take of a state allows, in a comparison of this trust. `rise_db`: of the noise, where the
    /// gain is known to have been fixed.
    pub fn recorded_once(&mut self, trust: Trust, rise_db: Option<f64>) {
        // The band does not begin to pulse, nor does it rise by so much.
        let may_be_the_band = |kind| match kind {
            Character::Hash => rise_db.is_none_or(|rise_db| rise_db < BAND_MOVES_DB),
            Character::Carriers => true,
            Character::None
            | Character::Buzz
            | Character::Clicks
            | Character::Comb
            | Character::Mixed
            | Character::Unclear => false,
        };
        if !may_be_the_band(self.character) && !self.parts.iter().any(|part| may_be_the_band(part.character)) {
            return;
        }
        let most = if trust.is_unspoilt() { Doubt::BandOrDevice } else { Doubt::BandMoves };
        let sure = Sure { value: self.confidence, bound: self.bound }.at_most(most.flat());
        (self.confidence, self.bound) = (sure.value, sure.bound);
    }
}

impl Facts<'_> {
    pub(super) fn confidence(&self, character: Character, parts: &[Part], heard: &Heard) -> Sure {
        let sure = match character {
            Character::None => self.nothing_came(),
            Character::Unclear => Doubt::NoKindFits.flat(),
            Character::Hash
            | Character::Buzz
            | Character::Clicks
            | Character::Carriers
            | Character::Comb
            | Character::Mixed => parts
                .iter()
                .map(|part| self.part_is_there(part.character, heard))
                .reduce(Sure::at_most)
                .unwrap_or(Doubt::Limits.flat()),
        };
        let sure = if heard.bursts { sure.at_most(Doubt::MoreThanClicks.flat()) } else { sure };
        let sure = if heard.few_pulses(self).is_some() { sure.at_most(Doubt::PulsesTooFew.flat()) } else { sure };
        let sure = if character == Character::Mixed {
            // How near a part was to being named, or to not being named.
            let margin = |part: &Part| match part.share >= LEAST_SHARE {
                true => (part.share - LEAST_SHARE) / LEAST_SHARE,
                false => 1.0,
            };
            sure.times(Doubt::PartHardlyNamed.by(parts.iter().map(margin).fold(1.0, f64::min)))
        } else {
            sure
        };
        sure.limited()
    }

    fn nothing_came(&self) -> Sure {
        let room = (self.excess.limit_db - self.excess.steady.value.abs()) / self.sd_db();
        let mut sure = Doubt::NoneNearLimit.by(normal_cdf(room - ROOM_SIGMAS));
        if self.says_little() {
            sure = sure.at_most(Doubt::NoneSaysLittle.flat());
        }
        if self.something_came() { sure.at_most(Doubt::NoneButSomethingCame.flat()) } else { sure }
    }

    fn part_is_there(&self, kind: Character, heard: &Heard) -> Sure {
        match kind {
            Character::Hash => self.is_hash(heard),
            Character::Buzz => heard.buzz.as_ref().map_or(Doubt::NoKindFits.flat(), |buzz| {
                if !self.excess.is_called() {
                    return Doubt::BuzzWithoutRise.flat();
                }
                let (deep, clear) = (Doubt::BuzzShallow.part(buzz.depth), Doubt::BuzzByChance.part(buzz.sigmas));
                let bound = if clear < deep { Doubt::BuzzByChance } else { Doubt::BuzzShallow };
                bound.at_part(deep * clear)
            }),
            Character::Clicks if self.more_than_clicks(heard) => Doubt::MoreThanClicks.flat(),
            Character::Clicks => heard.clicks.as_ref().map_or(Doubt::NoKindFits.flat(), |clicks| {
                Doubt::ClicksByChance.by((clicks.chance / CLICKS_CHANCE).min(1.0).sqrt())
            }),
            Character::Carriers | Character::Comb if self.may_be_a_station() => {
                self.are_lines().at_most(Doubt::CarriersOrStation.flat())
            }
            Character::Carriers | Character::Comb if self.stand_perhaps() => {
                self.are_lines().at_most(Doubt::CarriersPerhaps.flat())
            }
            Character::Carriers if self.lines.possible_comb.is_some() => {
                self.are_lines().at_most(Doubt::CarriersOrComb.flat())
            }
            Character::Carriers => self.are_lines(),
            Character::Comb => self
                .lines
                .comb
                .as_ref()
                .map_or(Doubt::NoKindFits.flat(), |comb| Doubt::CombByChance.by(comb.chance / CALLED_BELOW)),
            Character::None | Character::Mixed | Character::Unclear => Doubt::Limits.flat(),
        }
    }

    fn is_hash(&self, heard: &Heard) -> Sure {
        let over = (self.excess.steady.value - PROBABLE_FROM * self.excess.limit_db) / self.sd_db();
        let rose = Doubt::RiseByChance.by(normal_cdf(over));
        let apart = Doubt::BandMoves.flat();
        let rose = if self.rose_apart() && rose.value < apart.value { apart } else { rose };
        let unseen = self
            .least_depth_seen(heard.steady_power)
            .map_or(UNKNOWN_LIMIT, |depth| (depth / RIPPLE_DEPTH).clamp(0.0, 1.0));
        rose.times(Doubt::BuzzUnseen.by(unseen * unseen))
    }

    fn are_lines(&self) -> Sure {
        let crowd = self.cluster.map_or(0.0, |cluster| in_db(cluster.power / (self.excess.density.1 * self.gain)));
        Doubt::CarriersWeak.by(self.lines.added.first().map_or(0.0, |found| found.line.cnr_db_hz()).max(crowd))
    }

    fn sd_db(&self) -> f64 {
        self.excess.sd_db.max(LEAST_SD_DB)
    }

    /// Whether something beside the clicks pulses, which can't be named.
    pub(super) fn more_than_clicks(&self, heard: &Heard) -> bool {
        heard.buzz.is_none() && heard.clicks.as_ref().is_some_and(|clicks| self.last_longer(clicks))
    }

    /// Whether pulses at random may be no clicks: the tops of what lasts longer, or made by a carrier that runs to and
    /// fro over the notches at lines.
    pub(super) fn are_bursts(&self, clicks: &Clicks) -> bool {
        clicks.beat.is_none() && (self.warbles || self.last_longer(clicks))
    }

    fn last_longer(&self, clicks: &Clicks) -> bool {
        self.added.is_some_and(|added| clicks.leave_time_over(added.time_share))
    }

    /// Whether something stands in the on state that is not the steady noise: a strong signal that keys, fades or
    /// hops, single moments that lift the mean, or more pulses.
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

    /// Whether most of the added lines' power is in lines that were not shown to stand.
    pub(super) fn stand_perhaps(&self) -> bool {
        // That of a crowd was seen to stand.
        if self.cluster.is_some_and(|cluster| cluster.power > 0.5 * self.lines_power()) {
            return false;
        }
        // Nor do so many lines stand at one spacing that do not stand.
        let family = self.lines.comb.as_ref().is_some_and(|comb| comb.chance < FAMILY_FOR_CERTAIN);
        if family && self.lines.comb_power() > 0.5 * self.lines_power() {
            return false;
        }
        let sure: f64 = self.lines.added.iter().filter(|found| found.sure).map(|found| found.added_power).sum();
        sure < 0.5 * self.lines_power()
    }

    /// Whether the added lines were shown to stand, and are no station's.
    pub(in crate::contrast) fn stand_for_sure(&self) -> bool {
        !self.stand_perhaps() && !self.may_be_a_station()
    }

    /// A signal of the on state only, if it is strong, also against the noise of that state.
    pub(super) fn strong_visitor(&self) -> Option<&Visitor> {
        let noise = self.excess.density.0.max(self.excess.density.1) * self.width_hz;
        self.visitor.as_ref().filter(|visitor| visitor.power / self.gain > SOMETHING_SHARE * noise)
    }
}
