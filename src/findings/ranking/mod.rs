//! Many devices of one setting, the loudest first: which add noise, which add none that shows, what is left with
//! everything off, and whether their sum explains everything on. Here: which recordings make a ranking; `solve` is
//! the arithmetic; `result`, `words` and `figure` are what is told of it in the JSON, the texts and the picture.
//!
//! A device that was recorded by itself has the figures of its comparison. Where recordings of all but one take part
//! its power is solved for from all recordings of the setting together.

pub mod figure;
pub mod result;
pub mod solve;
pub(crate) mod words;

use crate::contrast::comparison::ContrastResult;
use crate::contrast::planned::{compare, levels};
use crate::contrast::{Character, Contrast, ContrastSettings};
use crate::findings::basis::Basis;
use crate::findings::budget::shares::Balance;
use crate::labels::{Label, Plan, Present, State, same_words};
use crate::units::{in_db, ratio_of_db};
use crate::warning::Trust;
use result::{RankedDevice, Ranking, Recorded};
use solve::{Heard, Part, Scatter, Solved, solve};

pub(crate) use figure::figures;

/// From so many devices on they are ranked. Chosen: fewer are seen in the budget.
const LEAST_DEVICES: usize = 5;

/// Of each setting with many devices, or with recordings of all but one; the one with most devices first.
pub fn of(basis: &Basis<'_>, settings: &ContrastSettings) -> Vec<Ranking> {
    let session = basis.session;
    let ranked = session.settings.iter().filter_map(|setting| of_setting(&setting.id, basis, settings));
    let mut rankings: Vec<Ranking> = ranked.collect();
    rankings.sort_by_key(|ranking| std::cmp::Reverse(ranking.devices.len()));
    rankings
}

/// A device with what it was compared in.
struct Entry<'a> {
    name: &'a str,
    /// By itself, without remedy, else with its first.
    alone: Option<&'a ContrastResult>,
    /// Everything on against everything but it.
    missing: Option<ContrastResult>,
}

fn of_setting(setting: &str, basis: &Basis<'_>, settings: &ContrastSettings) -> Option<Ranking> {
    let session = basis.session;
    let complements = || session.complements.iter().filter(|plan| plan.setting == setting);
    let several = basis.results.iter().filter(|c| c.setting == setting).map(|c| c.device.as_str());
    let several: Vec<&str> = several.chain(complements().map(|plan| plan.device.as_str())).collect();
    let mut entries = by_themselves(setting, basis.results, &several);
    let mut names: Vec<&str> = entries.iter().map(|entry| entry.name).collect();
    for plan in complements().filter(|plan| !entries.iter().any(|entry| same_words(entry.name, &plan.device))) {
        names.push(&plan.device);
    }
    let heard = heard(setting, &names, basis, settings);
    let scatter = Scatter::of(&heard, settings.scatter);
    // Among takes with nearly everything on.
    let among_loud = ContrastSettings { scatter: scatter.loud, ..settings.clone() };
    for plan in complements() {
        let (plan, contrast) = compare(plan, session, basis.measured, &among_loud);
        let missing = ContrastResult::in_session(&plan, &contrast, session, basis.measured);
        match entries.iter_mut().find(|known| same_words(known.name, &plan.device)) {
            Some(entry) => entry.missing = Some(missing),
            None => {
                let name = complements().find(|known| known.id == plan.id)?.device.as_str();
                entries.push(Entry { name, alone: None, missing: Some(missing) });
            }
        }
    }
    let is_walk = entries.iter().any(|entry| entry.missing.is_some());
    if entries.len() < LEAST_DEVICES && !(is_walk && entries.len() > 1) {
        return None;
    }
    let solved = solve(&heard, names.len(), &scatter);
    Some(in_order(setting, &entries, solved.as_ref()))
}

/// Of each device of the setting the comparison by itself; `several`: the names of all that is compared there.
fn by_themselves<'a>(setting: &str, results: &'a [ContrastResult], several: &[&str]) -> Vec<Entry<'a>> {
    let mut entries: Vec<Entry<'_>> = Vec::new();
    for c in results.iter().filter(|c| c.setting == setting && is_one(&c.device, several)) {
        match entries.iter_mut().find(|known| known.name == c.device) {
            Some(Entry { alone: Some(known), .. }) if known.remedy.is_some() && c.remedy.is_none() => *known = c,
            Some(_) => {}
            None => entries.push(Entry { name: &c.device, alone: Some(c), missing: None }),
        }
    }
    entries
}

fn in_order(setting: &str, entries: &[Entry<'_>], solved: Option<&Solved>) -> Ranking {
    let mut devices: Vec<RankedDevice> = entries
        .iter()
        .enumerate()
        .map(|(place, entry)| entry.ranked(solved.and_then(|s| Some((s, s.parts[place]?)))))
        .collect();
    // What adds nothing stands below what adds something, however the figures scatter.
    let size = |d: &RankedDevice| d.total_excess_db.filter(|_| d.adds).or(d.excess_db).unwrap_or(f64::NEG_INFINITY);
    devices.sort_by(|a, b| b.adds.cmp(&a.adds).then(size(b).total_cmp(&size(a))));
    let all = solved.and_then(|solved| solved.all);
    let sum = solved.and_then(|solved| solved.sum);
    let unexplained = all.map(|(_, beyond)| beyond);
    Ranking {
        setting: setting.to_owned(),
        devices,
        all_on_db: all.map(|(all, _)| all.value),
        all_on_ci_db: all.map(|(all, _)| all.ends()),
        sum_db: sum.map(|sum| sum.value),
        sum_ci_db: sum.map(|sum| sum.ends()),
        unexplained_db: unexplained.map(|beyond| beyond.value),
        unexplained_ci_db: unexplained.map(|beyond| beyond.ends()),
        balance: unexplained.as_ref().map(Balance::of),
    }
}

/// Whether a label is of one device: "all" is, where it is the only one.
fn is_one(device: &str, among: &[&str]) -> bool {
    match Present::of(device) {
        Present::One => true,
        Present::All => among.iter().all(|other| *other == device),
        Present::Several(_) | Present::AllBut(_) => false,
    }
}

/// All recordings of a setting that tell what these devices add: nothing fitted to quieten any of them, none set
/// aside.
fn heard(setting: &str, names: &[&str], basis: &Basis<'_>, settings: &ContrastSettings) -> Vec<Heard> {
    let session = basis.session;
    let set_aside: Vec<&String> = basis
        .contrasts
        .iter()
        .flat_map(|(plan, contrast): &(Plan, Contrast)| contrast.set_aside.iter().map(|&place| &plan.off[place]))
        .collect();
    let on_a_walk = |label: &Label| session.places.iter().any(|plan| plan.on.contains(&label.id));
    let usable = |label: &&Label| {
        label.setting == setting && label.remedy.is_none() && !set_aside.contains(&&label.id) && !on_a_walk(label)
    };
    let labels: Vec<(&Label, Vec<bool>, bool)> = session
        .recordings
        .iter()
        .filter(usable)
        .filter_map(|label| Some((label, present(label, names)?)))
        .map(|(label, (on, rest))| (label, on, rest))
        .collect();
    let ids: Vec<&str> = labels.iter().map(|(label, ..)| label.id.as_str()).collect();
    levels(&ids, setting, session, basis.measured, settings.passband)
        .into_iter()
        .map(|level| {
            let (_, on, rest) = &labels[level.condition];
            Heard { on: on.clone(), rest: *rest, level }
        })
        .collect()
}

/// Which of the devices are on, and whether everything is; `None` where the label names another.
fn present(label: &Label, names: &[&str]) -> Option<(Vec<bool>, bool)> {
    let place = |name: &String| names.iter().position(|known| same_words(known, name));
    let only = |wanted: &[String], on: bool| {
        let mut found = vec![!on; names.len()];
        for name in wanted {
            found[place(name)?] = on;
        }
        Some(found)
    };
    match (label.state, label.device.as_deref()) {
        (State::Off, None) => Some((vec![false; names.len()], false)),
        (State::On, Some(device)) => match Present::of(device) {
            Present::One => Some((only(&[device.to_owned()], true)?, false)),
            Present::Several(wanted) => Some((only(&wanted, true)?, false)),
            Present::All => Some((vec![true; names.len()], true)),
            Present::AllBut(missing) => Some((only(&missing, false)?, true)),
        },
        (State::Off, Some(_)) | (State::On, None) | (State::Terminated, _) => None,
    }
}

impl Entry<'_> {
    fn ranked(&self, solved: Option<(&Solved, Part)>) -> RankedDevice {
        let alone = self.alone.filter(|c| !c.is_void());
        let missing = self.missing.as_ref().filter(|c| !c.is_void());
        let told = alone.or(missing).or(self.alone).or(self.missing.as_ref());
        // By itself, a device is what its comparison says.
        let part = solved.filter(|_| missing.is_some()).map(|(_, part)| part);
        let own = alone.filter(|c| !c.is_too_wide());
        let total_db = own.and_then(ContrastResult::total_db).or_else(|| {
            let (solved, part) = solved?;
            // All on over all but it, as power over everything off.
            let total = ratio_of_db(missing?.total_db()?) - 1.0;
            let before = solved.all_power - part.power;
            Some(in_db(1.0 + (total * before).max(part.power).max(0.0)))
        });
        let shows = ContrastResult::adds_something;
        RankedDevice {
            device: self.name.to_owned(),
            excess_db: part.map(|part| part.excess.value).or(own.and_then(|c| c.excess_db)),
            excess_ci_db: part.map(|part| part.excess.ends()).or(own.and_then(|c| c.excess_ci_db)),
            total_excess_db: total_db,
            adds: alone.is_some_and(shows) || missing.is_some_and(shows) || part.is_some_and(|part| part.is_called),
            detection_limit_db: part.map(|part| part.limit_db).or(own.and_then(|c| c.detection_limit_db)),
            recorded: match (self.alone, &self.missing) {
                (Some(_), Some(_)) => Recorded::BothWays,
                (None, Some(_)) => Recorded::AllBut,
                (_, None) => Recorded::Alone,
            },
            contrast: self.alone.map(|c| c.id.clone()),
            character: told.map_or(Character::Unclear, |c| c.character),
            trust: told.map_or(Trust::Void, |c| c.trust),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::{Character, Comparisons};
    use crate::report::sample::contrast;

    fn many() -> Vec<ContrastResult> {
        let quiet = |id: &str, device: &str| {
            let mut one = contrast(id, device, None, Character::None, 0.1, &["r9"]);
            one.excess_ci_db = Some([-0.2, 0.4]);
            one.detection_limit_db = Some(0.5);
            one
        };
        let mut remedied = contrast("c5", "pump", Some("ferrite"), Character::Hash, 9.0, &["r8"]);
        remedied.remedy = Some("ferrite".into());
        vec![
            quiet("c1", "lamp"),
            remedied,
            contrast("c2", "pump", None, Character::Hash, 4.0, &["r3"]),
            quiet("c3", "clock"),
            contrast("c4", "charger", None, Character::Buzz, 14.0, &["r4"]),
            quiet("c6", "router"),
        ]
    }

    fn ranked(contrasts: &[ContrastResult]) -> Ranking {
        let several: Vec<&str> = contrasts.iter().map(|c| c.device.as_str()).collect();
        let setting = &contrasts[0].setting;
        in_order(setting, &by_themselves(setting, contrasts, &several), None)
    }

    #[test]
    fn the_loudest_is_first_and_each_device_once() {
        let contrasts = many();
        let ranking = ranked(&contrasts);
        let order: Vec<&str> = ranking.devices.iter().map(|d| d.device.as_str()).collect();
        assert_eq!(order, ["charger", "pump", "lamp", "clock", "router"]);
        assert_eq!(ranking.devices[1].contrast.as_deref(), Some("c2"));
        let view = Comparisons { settings: &[], recordings: &[], contrasts: &contrasts };
        let found = figures(std::slice::from_ref(&ranking), view);
        let drawn = format!("{:?}", found[0].drawing);
        assert!(drawn.contains("Charger adds most (+14.0 dB); 3 of 5 add nothing that shows"), "{drawn}");
        assert!(drawn.contains("nothing; 0.5 dB would show"), "{drawn}");
        let said: String = words::verdict(&[ranking], &[]).iter().map(|words| format!("{words:?}")).collect();
        assert!(said.contains("Two of 5 devices add noise"), "{said}");
    }

    #[test]
    fn devices_together_are_none_of_those_in_order() {
        let mut contrasts = many();
        contrasts[0].device = "lamp + pump".into();
        contrasts[3].device = "all".into();
        assert_eq!(ranked(&contrasts).devices.len(), 3);
        // Alone, "all" is a name.
        contrasts.iter_mut().for_each(|c| c.device = "all".into());
        assert_eq!(ranked(&contrasts).devices.len(), 1);
    }

    /// Beside the others a device with a wide interval is no quiet one.
    #[test]
    fn what_the_others_hide_is_said() {
        let missing = |device: &str, power: f64, limit_db: f64, called: bool| {
            let excess = crate::units::Estimate { value: in_db(1.0 + power), ci95: (-2.0, 2.5) };
            let part = Part { excess, limit_db, is_called: called, power };
            let mut c = contrast("w1", device, None, Character::None, 0.05, &["r9"]);
            c.excess_ci_db = Some([-0.3, 0.4]);
            (Entry { name: "", alone: None, missing: Some(c) }, part)
        };
        let (entries, parts): (Vec<_>, Vec<_>) = [
            missing("freezer", 0.2, 2.8, false),
            missing("ring", 7.0, 2.0, true),
            missing("hall", 0.0, 0.6, false),
        ]
        .into_iter()
        .unzip();
        let solved = Solved { parts: parts.into_iter().map(Some).collect(), sum: None, all: None, all_power: 8.2 };
        let ranking = in_order("s1", &entries, Some(&solved));
        let hidden: Vec<bool> = ranking.devices.iter().map(RankedDevice::is_hidden).collect();
        assert_eq!(hidden, [false, true, false], "{ranking:?}");
        assert!(words::next_steps(&[ranking]).len() == 1);
    }
}
