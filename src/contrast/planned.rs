//! One planned comparison: which of its recordings can be used, and whether what the user asked for could be done.
//! Not here: the comparison itself (`contrast`).

use std::collections::BTreeMap;

use super::cells::Cells;
use super::excess::{Take, take_levels};
use super::pair::odd_ones_out;
use super::questions::is_gain_known;
use super::trust::SPOILS;
use super::{At, Contrast, ContrastSettings, ReceiverNoise, TakeLevel, TakeScatter, contrast_in_time};
use crate::labels::{Label, Plan, Session, Setting, Start, State, printable, tells_agc};
use crate::signal::measure::Measurement;
use crate::signal::recording::Measured;
use crate::signal::spectrum::Passband;
use crate::warning::{Code, Trust, Warning};

/// Compares what can be compared; the plan comes back with the recordings that were.
pub fn compare(
    plan: &Plan,
    session: &Session,
    measured: &BTreeMap<String, Measured>,
    settings: &ContrastSettings,
) -> (Plan, Contrast) {
    let mut plan = plan.clone();
    let case = Recordings { session, measured };
    let empty_side = case.drop_unusable(&mut plan);
    if let Some(why) = empty_side.or_else(|| case.copies(&mut plan)) {
        return (plan, Contrast::void(why));
    }
    case.drop_spoilt(&mut plan);
    let setting = plan.setting.clone();
    let minutes = case.minutes(&setting);
    let side = |ids: &[String]| -> Vec<At<'_>> {
        let at = |id: &String| At { measurement: &measured[id].measurement, at_min: minutes(id) };
        ids.iter().map(at).collect()
    };
    let mut result = contrast_in_time(&side(&plan.off), &side(&plan.on), settings);
    case.set_receiver_noise(&plan, &mut result, settings);
    let gain_unknown = gain_unknown(&plan, &result, &case);
    let is_gain_fixed = gain_unknown.is_none();
    let says_agc = gain_unknown.as_ref().is_some_and(|warning| warning.code != Code::GainUnknown);
    let labels = case.copied_elsewhere(&plan).into_iter().chain(case.misfits(&plan, settings.passband));
    let doubts: Vec<Warning> = unfulfilled(&plan, &result, &case, settings)
        .into_iter()
        .chain(labels)
        .chain(far_apart(&plan, &result, &case))
        .collect();
    // What counts as one remedy and was several has no excess of its own.
    let is_mislabelled = plan.warnings.iter().any(|warning| warning.code == Code::Label);
    if (is_mislabelled || says_agc || !doubts.is_empty()) && result.trust < Trust::Doubtful {
        result.trust = Trust::Doubtful;
        if let Some(figures) = &mut result.figures {
            figures.verdict.doubted(result.trust);
        }
    }
    result.warnings.extend(doubts);
    let stands_alone = plan.on.len() == 1 || plan.off.len() - result.set_aside.len() == 1;
    if stands_alone {
        result.trust = result.trust.max(Trust::Unrepeated);
        if let Some(figures) = &mut result.figures {
            let rise_db = Some(figures.excess.steady.value).filter(|_| is_gain_fixed);
            figures.verdict.recorded_once(result.trust, rise_db);
        }
    }
    // That nothing shows whether the gain was fixed is no news where it was seen to move.
    result.warnings.extend(gain_unknown.filter(|_| says_agc || !result.spoilt_by.contains(&Code::GainMoving)));
    (plan, result)
}

/// How far takes of a session differ with nothing touched, from all that repeat one: of every setting, off, and on
/// of every device and remedy.
pub fn take_scatter(
    session: &Session,
    measured: &BTreeMap<String, Measured>,
    passband: Option<Passband>,
) -> TakeScatter {
    let case = Recordings { session, measured };
    let of_setting = |setting: &Setting| -> Vec<TakeLevel> {
        let minutes = case.minutes(&setting.id);
        let mut conditions: Vec<Vec<&String>> = Vec::new();
        let plans = session.contrasts.iter().map(|plan| (&plan.setting, [&plan.off, &plan.on]));
        let places = session.places.iter().map(|place| (&place.setting, [&place.off, &place.on]));
        for (_, sides) in plans.chain(places).filter(|(of, _)| **of == setting.id) {
            for ids in sides {
                let is_new = |id: &&String| {
                    !conditions.iter().flatten().any(|known| known == id) && case.unfit(id).is_none()
                };
                let mut new: Vec<&String> = Vec::new();
                for id in ids.iter().filter(is_new) {
                    if !new.iter().any(|known| case.same_sound(known, id)) {
                        new.push(id);
                    }
                }
                conditions.push(new);
            }
        }
        let takes = conditions.iter().enumerate().filter(|(_, ids)| ids.len() > 1).flat_map(|(condition, ids)| {
            let all: Vec<&Measurement> = ids.iter().map(|id| &measured[*id].measurement).collect();
            let odd = odd_ones_out(&all, passband);
            let kept = ids.iter().zip(all).enumerate().filter(|(place, _)| !odd.contains(place));
            let kept: Vec<At<'_>> =
                kept.map(|(_, (id, measurement))| At { measurement, at_min: minutes(id) }).collect();
            levels_alike(&kept, condition, passband)
        });
        takes.collect()
    };
    TakeScatter::learned(&session.settings.iter().map(of_setting).collect::<Vec<_>>())
}

/// Levels of recordings of one setting, over what is free of lines and stations in all of them: each with its place
/// in `ids`, which it has for a condition too. Those that can't be used and copies are left out; all are where
/// nothing is free in all.
pub fn levels(
    ids: &[&str],
    setting: &str,
    session: &Session,
    measured: &BTreeMap<String, Measured>,
    passband: Option<Passband>,
) -> Vec<TakeLevel> {
    let case = Recordings { session, measured };
    let minutes = case.minutes(setting);
    let mut used: Vec<(usize, &str)> = Vec::new();
    for (place, &id) in ids.iter().enumerate() {
        if case.unfit(id).is_none() && !used.iter().any(|(_, known)| case.same_sound(known, id)) {
            used.push((place, id));
        }
    }
    let takes: Vec<At<'_>> =
        used.iter().map(|(_, id)| At { measurement: &measured[*id].measurement, at_min: minutes(id) }).collect();
    let found = levels_alike(&takes, 0, passband).into_iter().zip(used);
    found.map(|(level, (condition, _))| TakeLevel { condition, ..level }).collect()
}

/// Levels of takes of one condition.
fn levels_alike(takes: &[At<'_>], condition: usize, passband: Option<Passband>) -> Vec<TakeLevel> {
    let all: Vec<&Measurement> = takes.iter().map(|at| at.measurement).collect();
    let Some(cells) = Cells::of(&all, passband) else { return Vec::new() };
    let takes: Vec<Take> = takes
        .iter()
        .map(|at| Take { series: cells.series(at.measurement), at_min: at.at_min, gain_db: 0.0 })
        .collect();
    take_levels(&cells, &takes).into_iter().map(|level| TakeLevel { condition, ..level }).collect()
}

/// Takes of one side this far apart are looked at for wrong labels, dB. Chosen: beyond what a band at rest moves from
/// take to take.
const APART_DB: f64 = 2.0;
/// An exchange of labels is likely that brings the takes so many times as near to each other; and a take without the
/// device's noise stands no further over off than that part of the others. Chosen: what is left is the band's motion.
const NEARER: f64 = 3.0;

/// Places of an off and an on take, of these levels, that may be swapped.
fn swapped(off: &[f64], on: &[f64]) -> Option<(usize, usize)> {
    let apart = |off: &[f64], on: &[f64]| range(off).max(range(on));
    let mean = |side: &[f64]| side.iter().sum::<f64>() / side.len() as f64;
    let exchanged = |(at_off, at_on): (usize, usize)| {
        let (mut off, mut on) = (off.to_vec(), on.to_vec());
        std::mem::swap(&mut off[at_off], &mut on[at_on]);
        (mean(&on) > mean(&off)).then(|| (apart(&off, &on), (at_off, at_on)))
    };
    let places = (0..off.len()).flat_map(|at_off| (0..on.len()).map(move |at_on| (at_off, at_on)));
    let (after, places) = places.filter_map(exchanged).min_by(|a, b| a.0.total_cmp(&b.0))?;
    let before = apart(off, on);
    (off.len() > 1 && before > APART_DB && NEARER * after < before).then_some(places)
}

/// The on take of these levels that stands with the off takes, and how far the lowest other one stands over it.
fn idle(off: &[f64], on: &[f64]) -> Option<(usize, f64)> {
    let highest_off = off.iter().copied().fold(f64::MIN, f64::max);
    let (place, &lowest) = on.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1))?;
    let others = on.iter().enumerate().filter(|(other, _)| *other != place).map(|(_, level)| *level);
    let next = others.fold(f64::MAX, f64::min);
    let is_idle =
        range(off) < APART_DB && next - lowest > APART_DB && NEARER * (lowest - highest_off) < next - highest_off;
    (is_idle && on.len() > 1).then_some((place, next - lowest))
}

fn range(levels: &[f64]) -> f64 {
    let (low, high) = levels.iter().fold((f64::MAX, f64::MIN), |(low, high), &v| (low.min(v), high.max(v)));
    high - low
}

/// So many takes of a side without a fault make one with a fault dispensable. Chosen: they repeat each other.
const ENOUGH: usize = 2;

/// A recording this long has enough sound for a spectrum, if it has any.
const SHORT_S: f64 = 1.0;

/// The recordings that plans speak of by their ids.
struct Recordings<'a> {
    session: &'a Session,
    measured: &'a BTreeMap<String, Measured>,
}

/// A recording that can't take part in a comparison.
struct Unfit {
    code: Code,
    why: String,
}

impl Recordings<'_> {
    fn file(&self, id: &str) -> String {
        let label = self.session.recordings.iter().find(|label| label.id == id);
        label.map_or_else(|| id.to_owned(), |label| printable(&label.file))
    }

    /// When each recording of a setting was made, minutes from the epoch; 0 for all where some are not dated.
    fn minutes(&self, setting: &str) -> impl Fn(&str) -> f64 {
        let mine = self.session.recordings.iter().filter(|label| label.setting == setting);
        let started: Option<BTreeMap<&str, f64>> =
            mine.map(|label| Some((label.id.as_str(), label.started?.at.as_second() as f64 / 60.0))).collect();
        move |id| started.as_ref().and_then(|started| started.get(id)).copied().unwrap_or(0.0)
    }

    fn unfit(&self, id: &str) -> Option<Unfit> {
        let Some(one) = self.measured.get(id) else {
            let label = self.session.recordings.iter().find(|label| label.id == id);
            let reason = self.session.left_out.iter().find(|(file, _)| label.is_some_and(|l| l.file == *file));
            let why = reason.map_or_else(|| "it could not be used".to_owned(), |(_, reason)| reason.clone());
            return Some(Unfit { code: Code::NoRecording, why });
        };
        let sound = &one.measurement;
        if sound.passband.is_some() {
            return None;
        }
        let unfit = |code, why: &str| Some(Unfit { code, why: why.to_owned() });
        if sound.has_silent_ends() || sound.level.is_some() && sound.duration_s >= SHORT_S {
            return unfit(Code::Silent, "it is silence but for moments, with no noise to measure");
        }
        if sound.level.is_none() {
            return unfit(Code::Silent, "there is nothing to hear in it");
        }
        unfit(Code::TooShort, &format!("its {:.1} s are too short to measure anything", sound.duration_s))
    }

    /// Takes out of both sides what can't be used; a side without any other is the reason for a void comparison.
    fn drop_unusable(&self, plan: &mut Plan) -> Option<Warning> {
        let mut emptied = None;
        let mut dropped = Vec::new();
        for (side, word) in [(&mut plan.off, "off"), (&mut plan.on, "on")] {
            let unfit: Vec<(String, Unfit)> =
                side.iter().filter_map(|id| Some((self.file(id), self.unfit(id)?))).collect();
            side.retain(|id| self.unfit(id).is_none());
            if side.is_empty() {
                emptied.get_or_insert(none_left(word, &unfit));
            }
            dropped.extend(unfit);
        }
        if emptied.is_none() {
            // Those that could not be read stand among the recordings left out, with their reasons.
            let unread = |unfit: &Unfit| unfit.code == Code::NoRecording;
            plan.warnings.extend(
                dropped.iter().filter(|(_, unfit)| !unread(unfit)).map(|(file, unfit)| {
                    Warning::new(Code::SetAside, format!("{file} was not used: {}.", unfit.why))
                }),
            );
        }
        emptied
    }

    /// Takes out what a fault spoils where enough recordings of its side have none.
    fn drop_spoilt(&self, plan: &mut Plan) {
        for side in [&mut plan.off, &mut plan.on] {
            let fault = |id: &String| {
                self.measured[id].measurement.warnings.iter().find(|warning| SPOILS.contains(&warning.code))
            };
            if side.iter().filter(|id| fault(id).is_none()).count() < ENOUGH {
                continue;
            }
            plan.warnings.extend(side.iter().filter_map(|id| {
                let why = format!(
                    "{} was not used beside others without such a fault: {}",
                    self.file(id),
                    fault(id)?.message
                );
                Some(Warning::new(Code::SetAside, why))
            }));
            side.retain(|id| fault(id).is_none());
        }
    }

    /// The same samples twice are one recording: between off and on nothing is compared, within a side they would
    /// count double. Copies happen where files are renamed by hand.
    fn copies(&self, plan: &mut Plan) -> Option<Warning> {
        for on in &plan.on {
            if let Some(off) = plan.off.iter().find(|off| self.same_sound(off, on)) {
                return Some(Warning::new(
                    Code::SameSound,
                    format!(
                        "{} (off) and {} (on) hold the very same sound, so nothing is compared: one is a copy of the \
                         other. Find the recording that belongs there, or make it.",
                        self.file(off),
                        self.file(on)
                    ),
                ));
            }
        }
        let mut warnings = Vec::new();
        for side in [&mut plan.off, &mut plan.on] {
            let mut kept: Vec<String> = Vec::new();
            for id in side.drain(..) {
                match kept.iter().find(|other| self.same_sound(other, &id)) {
                    Some(other) => warnings.push(Warning::new(
                        Code::SameSound,
                        format!(
                            "{} holds the very same sound as {} and was not counted twice.",
                            self.file(&id),
                            self.file(other)
                        ),
                    )),
                    None => kept.push(id),
                }
            }
            *side = kept;
        }
        plan.warnings.extend(warnings);
        None
    }

    /// On recordings that hold the very sound of one that is labelled as something else: one of the labels is
    /// wrong.
    fn copied_elsewhere(&self, plan: &Plan) -> Vec<Warning> {
        let mut found = Vec::new();
        for on in &plan.on {
            let own = self.session.recordings.iter().find(|label| label.id == *on);
            let meant =
                |label: &Label| (label.state, label.device.clone(), label.remedy.clone(), label.setting.clone());
            let is_copy = |label: &&Label| {
                own.is_some_and(|own| meant(own) != meant(label))
                    && !plan.off.contains(&label.id)
                    && self.measured.contains_key(&label.id)
                    && self.same_sound(on, &label.id)
            };
            found.extend(self.session.recordings.iter().find(is_copy).map(|other| {
                Warning::new(
                    Code::SameSound,
                    format!(
                        "{} holds the very same sound as {}, which is labelled otherwise: one is a copy of the other. Find \
                         the recording that belongs there, or make it.",
                        self.file(on),
                        printable(&other.file)
                    ),
                )
            }));
        }
        found
    }

    /// On recordings that stand apart from their own side and fit into the other, or that an off recording could be
    /// exchanged with so that both sides agree.
    fn misfits(&self, plan: &Plan, passband: Option<Passband>) -> Option<Warning> {
        if plan.on.len() < 2 {
            return None;
        }
        let ids: Vec<&str> = plan.off.iter().chain(&plan.on).map(String::as_str).collect();
        let levels = levels(&ids, &plan.setting, self.session, self.measured, passband);
        let levels: Vec<f64> = levels.iter().map(|level| level.level_db).collect();
        if levels.len() < ids.len() {
            return None;
        }
        let (off, on) = levels.split_at(plan.off.len());
        let message = if let Some((off, on)) = swapped(off, on) {
            format!(
                "{} (off) sounds as the on recordings do, and {} (on) as the off recordings: their labels may be \
                 swapped. Look them over.",
                self.file(&plan.off[off]),
                self.file(&plan.on[on])
            )
        } else {
            let (idle, higher_db) = idle(off, on)?;
            format!(
                "{} sounds as the off recordings do, and the other on recordings stand {higher_db:.1} dB higher: its \
                 label is wrong, or the device made no noise just then. Leave it out or record it again.",
                self.file(&plan.on[idle])
            )
        };
        Some(Warning::new(Code::Label, message))
    }

    /// Where the setting was recorded with a dummy load too: the receiver's own noise.
    fn set_receiver_noise(&self, plan: &Plan, result: &mut Contrast, settings: &ContrastSettings) {
        let Some(figures) = &mut result.figures else { return };
        let sound =
            |id: &String| self.measured.get(id).map(|one| &one.measurement).filter(|m| m.passband.is_some());
        let is_terminated = |l: &&Label| l.state == State::Terminated && l.setting == plan.setting;
        let terminated = self.session.recordings.iter().filter(is_terminated);
        let terminated: Vec<&Measurement> = terminated.filter_map(|label| sound(&label.id)).collect();
        let kept = plan.off.iter().enumerate().filter(|(index, _)| !result.set_aside.contains(index));
        let off: Vec<&Measurement> = kept.filter_map(|(_, id)| sound(id)).collect();
        figures.receiver =
            ReceiverNoise::of(&terminated, &off, figures.excess_db(), settings.passband, &settings.scatter);
    }

    fn same_sound(&self, a: &str, b: &str) -> bool {
        let (a, b) = (&self.measured[a].measurement, &self.measured[b].measurement);
        a.duration_s == b.duration_s && a.level == b.level && a.slices.mean == b.slices.mean
    }
}

fn none_left(word: &str, unfit: &[(String, Unfit)]) -> Warning {
    let alike = unfit.iter().all(|(_, one)| one.code == unfit[0].1.code);
    let code = if alike { unfit.first().map_or(Code::NoRecording, |(_, one)| one.code) } else { Code::NoRecording };
    let reasons: Vec<String> = unfit.iter().map(|(file, one)| format!("{file}: {}", one.why)).collect();
    Warning::new(code, format!("no {word} recording is left to compare ({}).", reasons.join("; ")))
}

/// What the user asked for and the comparison could not do.
fn unfulfilled(plan: &Plan, result: &Contrast, case: &Recordings<'_>, settings: &ContrastSettings) -> Vec<Warning> {
    let mut found = Vec::new();
    if let (Some(hz), Some(figures)) = (settings.reference_hz, &result.figures)
        && figures.reference.is_none()
    {
        found.push(Warning::new(
            Code::NoReference,
            format!(
                "no carrier stands at {hz:.1} Hz in every off and on recording, so the levels were compared without a \
                 reference. Look up its frequency in lines.csv, or in the spectra."
            ),
        ));
    }
    let outside = plan.off.iter().chain(&plan.on).find_map(|id| {
        let warning = case.measured[id].measurement.warnings.iter().find(|w| w.code == Code::OutsidePassband)?;
        Some(Warning::new(warning.code, format!("{}: {}", case.file(id), warning.message)))
    });
    found.extend(outside);
    let receiver = result.figures.as_ref().and_then(|figures| figures.receiver.as_ref());
    found.extend(receiver.and_then(ReceiverNoise::warning));
    found.extend(case.session.warnings.iter().find(|w| w.code == Code::ReceiverCheck).cloned());
    found
}

/// Off and on that lie further apart than this are of two bands, h. Chosen: what was recorded by day is not held
/// against the night.
const FAR_APART_H: f64 = 12.0;

/// Nothing where the hour of some is not known.
fn far_apart(plan: &Plan, result: &Contrast, case: &Recordings<'_>) -> Option<Warning> {
    let at = |id: &String| {
        let label = case.session.recordings.iter().find(|label| label.id == *id)?;
        let by_file = || case.measured.get(id)?.facts.started.as_deref().and_then(Start::of_tag);
        Some(label.started.or_else(by_file)?.at.as_second() as f64 / 3600.0)
    };
    let kept = plan.off.iter().enumerate().filter(|(place, _)| !result.set_aside.contains(place));
    let off: Vec<f64> = kept.map(|(_, id)| at(id)).collect::<Option<_>>()?;
    let on: Vec<f64> = plan.on.iter().map(at).collect::<Option<_>>()?;
    let apart = off.iter().flat_map(|off| on.iter().map(move |on| (on - off).abs()));
    let nearest_h = apart.reduce(f64::min).filter(|hours| *hours > FAR_APART_H)?;
    let apart =
        if nearest_h < 48.0 { format!("{nearest_h:.0} hours") } else { format!("{:.0} days", nearest_h / 24.0) };
    Some(Warning::new(
        Code::FarApart,
        format!(
            "off and on were recorded {apart} apart, and the band's own noise is another one by then. Record them \
             within minutes."
        ),
    ))
}

/// Without a label, a carrier or pulsing nothing in the sound betrays an AGC: it brings a noisy device back to the level
/// of the quiet one. A label may say that it was on.
fn gain_unknown(plan: &Plan, result: &Contrast, case: &Recordings<'_>) -> Option<Warning> {
    let figures = result.figures.as_ref()?;
    let setting = case.session.settings.iter().find(|setting| setting.id == plan.setting);
    let label = setting.and_then(|setting| setting.gain.as_deref());
    if is_gain_known(figures.reference.is_some(), label) {
        return None;
    }
    if let Some(label) = label.filter(|label| tells_agc(label)) {
        return Some(Warning::new(
            Code::GainMoving,
            format!(
                "the label of the gain says \"{}\": an AGC brings a noisy device back to the level of the quiet one. \
                 Switch it off, or fix the RF gain, and record again.",
                printable(label)
            ),
        ));
    }
    Some(Warning::new(
        Code::GainUnknown,
        "nothing shows that the gain was fixed, and an AGC hides steady noise. Switch it off and say so \
         (gain = \"AGC off\" in the manifest, --gain-fixed with pair), or record where a steady carrier stands in the passband.",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By construction: an on take and an off take of 4 dB between the states were given each other's label.
    #[test]
    fn exchanged_labels_are_found() {
        assert_eq!(swapped(&[-40.0, -36.1, -40.2], &[-36.0, -40.1, -35.9]), Some((1, 1)));
        assert_eq!(swapped(&[-40.0, -39.8], &[-36.0, -35.9]), None);
        // A band that moves, with nothing that an exchange would mend.
        assert_eq!(swapped(&[-40.0, -37.5, -38.7], &[-36.0, -38.4, -37.1]), None);
        assert_eq!(swapped(&[-36.0], &[-40.0, -36.1]), None);
    }

    /// By construction: the device of 4 dB was off in one of its takes.
    #[test]
    fn an_on_take_without_the_noise_is_found() {
        assert_eq!(idle(&[-40.0, -39.7], &[-36.0, -39.8, -35.7]).map(|(place, _)| place), Some(1));
        assert_eq!(idle(&[-40.0], &[-36.0, -39.9]).map(|(place, _)| place), Some(1));
        // A device that is not the same each time, and one that adds little.
        assert_eq!(idle(&[-40.0, -39.7], &[-36.0, -33.0]), None);
        assert_eq!(idle(&[-40.0, -39.7], &[-38.5, -39.8]), None);
        assert_eq!(idle(&[-40.0, -37.0], &[-36.0, -39.8]), None);
    }
}
