//! The verdict: a line a device, the loudest first; those that add nothing share one.

use crate::contrast::Character;
use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{kind_word, thing, with_interval};
use crate::findings::known_noise::words as known_noise;
use crate::findings::ladder::{table as ladder, words as remedies};
use crate::findings::listening::words as listening;
use crate::report::contract::Report;
use crate::report::devices::Device;
use crate::report::verdict::in_short;
use crate::text::{Words, and, and_at_most, capital, db, label};

/// Settings told one by one; of more, their kinds and the loudest.
const SETTINGS: usize = 2;
/// Quiet devices named one by one.
const QUIET: usize = 12;

/// One item a device that adds something, one for all that don't; `heard`: with what it means to a listener.
pub(crate) fn verdicts(devices: &[Device], report: &Report, heard: bool) -> Vec<Words> {
    let (quiet, others): (Vec<&Device>, Vec<&Device>) = devices.iter().partition(|d| d.is_quiet());
    let mut lines: Vec<Words> = others.iter().map(|d| verdict(d, report, heard)).collect();
    lines.extend(nothing_added(&quiet));
    lines
}

/// "No change with the lamp and the kettle: a rise of 0.4 dB would have shown."
fn nothing_added(quiet: &[&Device]) -> Option<Words> {
    let limits = quiet.iter().flat_map(|d| &d.contrasts).map(|c| c.detection_limit_db);
    let worst = limits.collect::<Option<Vec<f64>>>().map(|all| all.into_iter().fold(0.0, f64::max));
    let names: Vec<String> = quiet.iter().map(|d| thing(d.name)).collect();
    let shown = match worst {
        Some(limit) => format!("a rise of {} would have shown", db(limit)),
        None => "how small a rise would have shown is not known".to_owned(),
    };
    (!quiet.is_empty()).then(|| {
        Words::strong("No change").then(" with ").then(and_at_most(&names, QUIET)).then(format!(": {shown}."))
    })
}

/// What it is, what it costs, what helped, what is left.
fn verdict(device: &Device, report: &Report, heard: bool) -> Words {
    let mut sentences = vec![found(device, report, heard)];
    let loudest = device.loudest();
    sentences.extend(loudest.and_then(known_noise::in_short));
    for ladder in device.ladders.iter().filter(|l| loudest.is_some_and(|c| c.setting == l.setting)) {
        sentences.extend(ladder::in_short(ladder, &report.contrasts).map(|bought| {
            let last = ladder.steps.last().and_then(|step| device.contrasts.iter().find(|c| c.id == step.contrast));
            last.map_or_else(|| format!("{bought}."), |c| format!("{bought}; {}.", left(c, loudest, report)))
        }));
        sentences.extend(remedies::appeared_in_short(ladder));
        let void = |c: &&&ContrastResult| c.is_void() && ladder.steps.iter().skip(1).any(|s| s.contrast == c.id);
        let void = device.contrasts.iter().filter(void).filter_map(|c| c.remedy.as_deref().map(thing));
        sentences.extend(void.map(|remedy| format!("With {remedy} there is no result: void.")));
    }
    Words::strong(format!("{}:", capital(&label(device.name)))).then(" ").then(sentences.join(" "))
}

/// "2.0 dB (1.7 to 2.4) are left"; of another kind than before, what that is.
fn left(last: &ContrastResult, first: Option<&ContrastResult>, report: &Report) -> String {
    match (last.character, last.excess_db) {
        (Character::None, _) if last.is_unspoilt() => match last.detection_limit_db {
            Some(limit) => format!("nothing is left that could be noticed ({})", db(limit)),
            None => "nothing is left that could be noticed".to_owned(),
        },
        (kind, Some(db)) if last.is_unspoilt() && first.is_some_and(|first| first.character == kind) => {
            format!("{} are left", with_interval(db, last.excess_ci_db))
        }
        _ => format!("left: {}", in_short(last, report.session.mains_hz)),
    }
}

fn found(device: &Device, report: &Report, heard: bool) -> String {
    let firsts = device.first_steps();
    let told = |c: &ContrastResult| {
        let heard = listening::heard_as(c, &report.listening.costs).filter(|_| heard);
        let heard = heard.map_or_else(String::new, |power| {
            let mean = if c.counts_clicks() { ", on average" } else { "" };
            format!("; a 100 W station is heard as one of {power}{mean}")
        });
        let remedy = c.remedy.as_deref().map_or_else(String::new, |r| format!("with {}, ", label(r)));
        format!("{remedy}{}{heard}", in_short(c, report.session.mains_hz))
    };
    let at = |c: &ContrastResult| format!("at {}, {}", report.comparisons().setting_name(&c.setting), told(c));
    let bands = report.device_bands.iter().find(|bands| bands.device == device.name);
    let of_band = |setting: Option<&String>| firsts.iter().copied().find(|c| Some(&c.setting) == setting);
    let ends = bands.and_then(|bands| of_band(bands.worst.as_ref()).zip(of_band(bands.best.as_ref())));
    let text = match (firsts.len(), device.loudest()) {
        (1, Some(only)) if report.comparisons().main_setting().is_some_and(|main| main.id == only.setting) => {
            told(only)
        }
        (2, Some(_)) if ends.is_some() => {
            ends.map_or_else(String::new, |(worst, best)| format!("worst {}; best {}", at(worst), at(best)))
        }
        (n, Some(_)) if n <= SETTINGS => firsts.iter().map(|c| at(c)).collect::<Vec<_>>().join("; "),
        (_, Some(loudest)) => match ends {
            Some((worst, best)) => format!("{}; worst {}; best {}", in_sum(&firsts), at(worst), at(best)),
            None => format!("{}; loudest {}", in_sum(&firsts), at(loudest)),
        },
        (_, None) => "nothing could be compared".to_owned(),
    };
    format!("{text}.")
}

/// "of 18 settings, carriers in 8 and no change in 1".
fn in_sum(contrasts: &[&ContrastResult]) -> String {
    let mut kinds: Vec<(&str, usize)> = Vec::new();
    for c in contrasts {
        let kind = if c.is_void() { "void" } else { kind_word(c.character) };
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, times)) => *times += 1,
            None => kinds.push((kind, 1)),
        }
    }
    kinds.sort_by_key(|(_, times)| std::cmp::Reverse(*times));
    let kinds: Vec<String> = kinds.iter().map(|(kind, times)| format!("{kind} in {times}")).collect();
    format!("of {} settings, {}", contrasts.len(), and(&kinds))
}
