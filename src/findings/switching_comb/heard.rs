//! From the added lines of one device at all its dial settings to carriers on the air, and from what they tell to
//! the contract's words.
//!
//! Radio frequency = dial + pitch in USB and CW as labelled, dial − pitch in LSB; in AM the carrier stands a pitch
//! above or below the dial (derived from what the modes do). FM gives no pitch of a carrier. Where no spacing
//! explains the carriers: would one, had a recording been made in the other sideband than its label says? That is
//! only a hint to look the labels up; no figure is taken from it. Not here: the search
//! (`findings::switching_comb`).

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::contrast::{Figures, WARMS_UP_HZ};
use crate::findings::basis::Basis;
use crate::findings::switching_comb::result::{
    AlikeNeighbours, CombCandidate, CombMember, CombPlace, FinerSpacing, ListenAt, Placed, PredictedCarrier,
    RefusedComb, RefusedFor, SwitchingComb,
};
use crate::findings::switching_comb::words::khz;
use crate::findings::switching_comb::{
    Answer, CALLED_BELOW, Carrier, Family, Finer, Listening, Offset, Refusal, find, find_still, predictions,
};
use crate::labels::{Label, Mode, printable};
use crate::signal::recording::Measured;
use crate::signal::spectrum::Passband;

/// Lines taken of one setting, the strongest: many more are a family of their own, or a station's. Chosen so; a
/// switching supply has one harmonic in a passband, rarely two.
const MOST_LINES_OF_SETTING: usize = 4;
/// Settings that must have been listened to before it is worth saying that no spacing was found. Chosen: a spacing
/// needs three carriers.
const WORTH_A_WORD: usize = 3;
/// The digits a dial label has if it is not written down as a number: kHz. Common practice: a dial is written in
/// kilohertz.
const USUAL_STEP_HZ: f64 = 1_000.0;

const SECONDS_OF_HOUR: f64 = 3600.0;

/// The combs of all devices, and those that could not be told.
pub fn of(basis: &Basis<'_>) -> (Vec<SwitchingComb>, Vec<RefusedComb>) {
    let mut devices: Vec<&str> = Vec::new();
    for (plan, _) in basis.contrasts {
        if !devices.contains(&plan.device.as_str()) {
            devices.push(&plan.device);
        }
    }
    let (mut combs, mut refused) = (Vec::new(), Vec::new());
    for device in devices {
        let heard = Heard::of(device, basis);
        let answer = find(&heard.carriers, &heard.listenings);
        combs.extend(answer.families.iter().map(|family| heard.comb(family, &answer, &basis.session.bands_khz)));
        if heard.listenings.len() >= WORTH_A_WORD && !heard.carriers.is_empty() {
            refused.extend(answer.refusal.as_ref().map(|refusal| {
                let mut refused = heard.refused(refusal);
                refused.neighbours = answer.neighbours.map(|found| AlikeNeighbours {
                    apart_hz: [found.apart_hz.0, found.apart_hz.1],
                    spacing_ci_hz: found.spacing_hz.map(|(low, high)| [low, high]),
                    pairs: found.pairs,
                    of: found.of,
                    // No smaller number is believed.
                    chance: found.chance.max(0.001),
                });
                refused.notes.extend(heard.other_sideband());
                refused
            }));
        }
    }
    (combs, refused)
}

/// What was heard of one device.
pub(crate) struct Heard<'a> {
    device: &'a str,
    pub(crate) listenings: Vec<Listening>,
    pub(crate) carriers: Vec<Carrier>,
    /// The on recording of each setting.
    recordings: Vec<&'a str>,
    /// Mode of each setting, as labelled.
    pub(crate) modes: Vec<Mode>,
    /// The recording of each carrier.
    of_carrier: Vec<&'a str>,
    /// When the first setting was listened to, if all times are labelled: the beginning of the clock.
    began: Option<Timestamp>,
    notes: Vec<String>,
}

impl<'a> Heard<'a> {
    fn of(device: &'a str, basis: &Basis<'a>) -> Self {
        let (listenings, carriers, recordings) = (Vec::new(), Vec::new(), Vec::new());
        let mut heard = Self {
            device,
            listenings,
            carriers,
            recordings,
            modes: Vec::new(),
            of_carrier: Vec::new(),
            began: None,
            notes: Vec::new(),
        };
        let mut seen: Vec<&str> = Vec::new();
        let mut started: Vec<Option<Timestamp>> = Vec::new();
        let of_device = |plain: bool| {
            basis.contrasts.iter().filter(move |(plan, _)| plan.device == device && plan.remedy.is_none() == plain)
        };
        // Of each setting the device without a remedy, where there is such a comparison.
        for (plan, contrast) in of_device(true).chain(of_device(false)) {
            let usable = contrast.figures.as_ref().filter(|_| !contrast.trust.is_void());
            let (Some(figures), false) = (usable, seen.contains(&plan.setting.as_str())) else { continue };
            seen.push(&plan.setting);
            let labels: Vec<&Label> = basis.session.recordings.iter().filter(|l| plan.on.contains(&l.id)).collect();
            heard.take(&labels, figures, basis.measured);
            if heard.listenings.len() > started.len() {
                started.push(labels.iter().filter_map(|label| label.started).map(|start| start.at).min());
            }
        }
        heard.date(&started, basis);
        heard
    }

    /// Puts the settings on a clock: hours where all have times, else the numbers of the takes in the session.
    fn date(&mut self, started: &[Option<Timestamp>], basis: &Basis<'_>) {
        let all: Option<Vec<Timestamp>> = started.iter().copied().collect();
        self.began = all.as_ref().and_then(|all| all.iter().copied().min());
        for (place, listening) in self.listenings.iter_mut().enumerate() {
            let take = || basis.session.recordings.iter().position(|l| l.id == self.recordings[place]).unwrap_or(0);
            listening.at = match (self.began, started[place]) {
                (Some(began), Some(at)) => at.duration_since(began).as_secs_f64() / SECONDS_OF_HOUR,
                _ => take() as f64,
            };
        }
    }

    /// A time of the clock: as written down, to the minute, and on the clock again.
    fn dated(&self, at: f64) -> Option<(Timestamp, f64)> {
        let minutes = (self.began?.as_second() as f64 / 60.0 + at * 60.0).round();
        let dated = Timestamp::from_second(minutes as i64 * 60).ok()?;
        Some((dated, dated.duration_since(self.began?).as_secs_f64() / SECONDS_OF_HOUR))
    }

    /// What is told of a drift, into the result.
    fn drifting(&self, family: &Family, comb: &mut SwitchingComb) {
        let Some(drift) = family.drift else { return };
        let (rate, ci) = (drift.rate_hz, [drift.rate_hz - drift.half_hz, drift.rate_hz + drift.half_hz]);
        let nearest = |at: f64| {
            let apart = |place: &usize| (self.listenings[*place].at - at).abs();
            (0..self.listenings.len()).min_by(|a, b| apart(a).total_cmp(&apart(b)))
        };
        let Some(place) = nearest(drift.at) else { return };
        let stated = match self.dated(drift.at) {
            Some((dated, at)) => {
                (comb.drift_hz_per_h, comb.drift_ci_hz_per_h) = (Some(rate), Some(ci));
                comb.at = Some(dated.to_string());
                at
            }
            None => {
                (comb.drift_hz_per_take, comb.drift_ci_hz_per_take) = (Some(rate), Some(ci));
                self.listenings[place].at
            }
        };
        comb.at_recording = Some(self.recordings[place].to_owned());
        comb.predicted_at = self.dated(drift.until).map(|(dated, _)| dated.to_string());
        // The interval stays: a spacing is stated within minutes of where it is known best.
        let moved_hz = family.spacing_at(stated) - comb.spacing_hz;
        let wider_hz = (drift.half_hz * (stated - drift.at)).abs();
        comb.spacing_hz += moved_hz;
        comb.spacing_ci_hz =
            [comb.spacing_ci_hz[0] + moved_hz - wider_hz, comb.spacing_ci_hz[1] + moved_hz + wider_hz];
    }

    fn take(&mut self, labels: &[&'a Label], figures: &Figures, measured: &BTreeMap<String, Measured>) {
        let Some(first) = labels.first() else { return };
        let file = printable(&first.file);
        let has_lines = !figures.lines.added.is_empty();
        let (Some(dial_khz), Some(mode)) = (first.dial_khz, first.mode) else {
            let lacks = if first.dial_khz.is_none() { "dial frequency" } else { "mode" };
            if has_lines {
                self.notes.push(format!("{file}: not used, it has no {lacks}"));
            }
            return;
        };
        let dial_hz = dial_khz * 1000.0;
        let Some(heard_hz) = on_air(mode, dial_hz, &figures.passband) else {
            if has_lines {
                self.notes.push(format!("{file}: not used, FM tells no pitch of a carrier"));
            }
            return;
        };
        let step_hz = labels.iter().filter_map(|label| label.dial_step_hz).fold(0.0, f64::max);
        let half_step_hz = if step_hz > 0.0 { step_hz } else { USUAL_STEP_HZ } / 2.0;
        let listening = self.listenings.len();
        self.listenings.push(Listening { dial_hz, half_step_hz, heard_hz, at: 0.0 });
        self.recordings.push(&first.id);
        self.modes.push(mode);
        for found in figures.lines.added.iter().take(MOST_LINES_OF_SETTING) {
            let (above, below) = (dial_hz + found.line.freq_hz, dial_hz - found.line.freq_hz);
            let (places_hz, mirrored_hz) = match mode {
                Mode::Lsb => (vec![below], Some(above)),
                Mode::Am => (vec![above, below], None),
                Mode::Usb | Mode::Cw | Mode::Fm => (vec![above], Some(below)),
            };
            self.carriers.push(Carrier { listening, places_hz, mirrored_hz });
            self.of_carrier.push(shown_by(labels, found.line.freq_hz, measured).unwrap_or(&first.id));
        }
        let rest = figures.lines.added.len().saturating_sub(MOST_LINES_OF_SETTING);
        if rest > 0 {
            self.notes.push(format!(
                "{file}: the {MOST_LINES_OF_SETTING} strongest of its carriers were used, {rest} not"
            ));
        }
    }

    fn comb(&self, family: &Family, answer: &Answer, bands_khz: &[(f64, f64)]) -> SwitchingComb {
        let (placed, offset_half_hz) = match family.offset {
            Offset::Harmonics { .. } => (Placed::Harmonics, None),
            Offset::Beside { half_hz, .. } => (Placed::Beside, Some(half_hz)),
            Offset::Unknown { half_hz, .. } => (Placed::Unknown, Some(half_hz)),
        };
        let bands_hz: Vec<(f64, f64)> = bands_khz.iter().map(|&(low, high)| (low * 1e3, high * 1e3)).collect();
        let mut notes = self.notes.clone();
        if !answer.repeated.is_empty() {
            notes.push(format!("{} heard again at an overlapping setting and counted once", answer.repeated.len()));
        }
        let mut comb = SwitchingComb {
            device: self.device.to_owned(),
            spacing_hz: family.spacing_hz,
            spacing_ci_hz: [family.spacing_ci_hz.0, family.spacing_ci_hz.1],
            offset_hz: family.offset_hz(),
            offset_half_hz,
            placed,
            residual_hz: family.residual_sd_hz,
            // No smaller number is believed.
            chance: family.chance.max(0.001),
            members: family
                .members
                .iter()
                .map(|m| CombMember {
                    rf_hz: m.rf_hz,
                    harmonic: m.harmonic,
                    residual_hz: m.residual_hz,
                    recording: self.of_carrier[m.carrier].to_owned(),
                })
                .collect(),
            outsiders: family.outsiders.iter().map(|&i| self.carriers[i].places_hz[0]).collect(),
            other_sideband: family
                .other_sideband
                .iter()
                .filter_map(|&(i, harmonic)| {
                    let rf_hz = self.carriers[i].mirrored_hz?;
                    Some(CombPlace { rf_hz, harmonic, recording: self.of_carrier[i].to_owned() })
                })
                .collect(),
            missing: family
                .missing
                .iter()
                .map(|m| CombPlace {
                    rf_hz: m.rf_hz,
                    harmonic: m.harmonic,
                    recording: self.recordings[m.listening].to_owned(),
                })
                .collect(),
            predicted: predictions(family, &bands_hz)
                .into_iter()
                .map(|p| PredictedCarrier {
                    rf_hz: p.rf_hz,
                    within_hz: p.within_hz,
                    harmonic: p.harmonic,
                    missing: p.is_missing,
                })
                .collect(),
            notes,
            ..SwitchingComb::default()
        };
        self.drifting(family, &mut comb);
        let part = |part: &Finer| FinerSpacing {
            divisor: part.divisor,
            spacing_hz: comb.spacing_hz / part.divisor as f64,
            chance: part.chance,
        };
        comb.finer = family.finer.iter().map(part).collect();
        comb
    }

    fn refused(&self, refusal: &Refusal) -> RefusedComb {
        let refused = RefusedComb {
            device: self.device.to_owned(),
            carriers: self.carriers.len(),
            settings: self.listenings.len(),
            notes: self.notes.clone(),
            ..RefusedComb::default()
        };
        match refusal {
            Refusal::TooFew { .. } => RefusedComb { reason: RefusedFor::TooFew, ..refused },
            Refusal::Chance { .. } => RefusedComb { reason: RefusedFor::Chance, ..refused },
            Refusal::Ambiguous { candidates, telling } => RefusedComb {
                reason: RefusedFor::Ambiguous,
                candidates: candidates
                    .iter()
                    .map(|&(spacing_hz, share)| CombCandidate { spacing_hz, share })
                    .collect(),
                listen_at: telling.map(|t| ListenAt {
                    rf_hz: t.rf_hz,
                    within_hz: t.within_hz,
                    carrier_means_hz: t.speaks_for_hz,
                    silence_means_hz: t.silence_for_hz,
                }),
                ..refused
            },
        }
    }
}

/// The stretches of radio frequency that a passband shows; `None` in FM.
pub(crate) fn on_air(mode: Mode, dial_hz: f64, passband: &Passband) -> Option<Vec<(f64, f64)>> {
    let above = (dial_hz + passband.low_hz, dial_hz + passband.high_hz);
    let below = (dial_hz - passband.high_hz, dial_hz - passband.low_hz);
    match mode {
        Mode::Usb | Mode::Cw => Some(vec![above]),
        Mode::Lsb => Some(vec![below]),
        Mode::Am => Some(vec![below, above]),
        Mode::Fm => None,
    }
}

/// The recording that shows a line strongest.
fn shown_by<'a>(labels: &[&'a Label], freq_hz: f64, measured: &BTreeMap<String, Measured>) -> Option<&'a str> {
    let power = |label: &Label| {
        let lines = measured.get(&label.id).map(|one| one.measurement.lines.as_slice()).unwrap_or_default();
        let near = lines.iter().filter(|line| (line.freq_hz - freq_hz).abs() <= WARMS_UP_HZ);
        near.map(|line| line.power).fold(0.0, f64::max)
    };
    labels.iter().max_by(|a, b| power(a).total_cmp(&power(b))).map(|label| label.id.as_str())
}

impl Heard<'_> {
    /// The hint. Tried are all settings of one sideband, all of both, and every setting alone.
    pub(crate) fn other_sideband(&self) -> Option<String> {
        let labelled = |wanted: &[Mode]| -> Vec<usize> {
            (0..self.modes.len()).filter(|&setting| wanted.contains(&self.modes[setting])).collect()
        };
        let both = labelled(&[Mode::Usb, Mode::Lsb]);
        let mut tries = vec![labelled(&[Mode::Usb]), labelled(&[Mode::Lsb]), both.clone()];
        tries.extend(both.iter().map(|&setting| vec![setting]));
        tries.retain(|turned| !turned.is_empty());
        let most = CALLED_BELOW / tries.len() as f64;
        let (turned, family) = tries.into_iter().find_map(|turned| {
            let family = self.turned(&turned).families.into_iter().next()?;
            let all_fit = turned.iter().all(|&setting| self.fits(&family, setting));
            (family.chance < most && all_fit).then_some((turned, family))
        })?;
        Some(format!(
            "Had {} been made in the other sideband than labelled, the carriers would be a family every {} kHz: \
             look the mode up",
            self.which(turned, &family),
            khz(family.spacing_hz, 3)
        ))
    }

    /// What the carriers would tell had these settings been in the other sideband.
    fn turned(&self, settings: &[usize]) -> Answer {
        let mut listenings = self.listenings.clone();
        for &setting in settings {
            let dial_hz = listenings[setting].dial_hz;
            for heard in &mut listenings[setting].heard_hz {
                *heard = (2.0 * dial_hz - heard.1, 2.0 * dial_hz - heard.0);
            }
        }
        let turned = |carrier: &Carrier| {
            let mirrored_hz = carrier.mirrored_hz.filter(|_| settings.contains(&carrier.listening))?;
            let back_hz = carrier.places_hz.first().copied();
            Some(Carrier { listening: carrier.listening, places_hz: vec![mirrored_hz], mirrored_hz: back_hz })
        };
        let carriers: Vec<Carrier> =
            self.carriers.iter().map(|carrier| turned(carrier).unwrap_or_else(|| carrier.clone())).collect();
        find_still(&carriers, &listenings)
    }

    /// Whether a carrier of this setting belongs to the family, if it has any.
    fn fits(&self, family: &Family, setting: usize) -> bool {
        let of_setting = |carrier: &usize| self.carriers[*carrier].listening == setting;
        (0..self.carriers.len()).all(|carrier| !of_setting(&carrier))
            || family.members.iter().any(|member| of_setting(&member.carrier))
    }

    /// The recordings that were turned, and those that would then fit if they were turned too.
    fn which(&self, mut turned: Vec<usize>, family: &Family) -> String {
        turned.extend(family.other_sideband.iter().map(|hint| self.carriers[hint.0].listening));
        turned.sort_unstable();
        turned.dedup();
        let dials: Vec<String> = turned.iter().map(|&i| khz(self.listenings[i].dial_hz, 2)).collect();
        match dials.as_slice() {
            [only] => format!("the recording at {only} kHz"),
            dials => format!("the recordings at {} kHz", dials.join(", ")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition of the modes: the upper sideband keeps the order of frequencies, the lower turns it round,
    /// AM has both.
    #[test]
    fn what_a_passband_shows_on_the_air() {
        let passband = Passband { low_hz: 300.0, high_hz: 2_700.0 };
        let at = |mode| on_air(mode, 7e6, &passband);
        assert_eq!(at(Mode::Usb), Some(vec![(7_000_300.0, 7_002_700.0)]));
        assert_eq!(at(Mode::Lsb), Some(vec![(6_997_300.0, 6_999_700.0)]));
        assert_eq!(at(Mode::Am), Some(vec![(6_997_300.0, 6_999_700.0), (7_000_300.0, 7_002_700.0)]));
        assert_eq!(at(Mode::Fm), None);
    }
}
