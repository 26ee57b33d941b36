//! A device that was recorded at several dials: what it adds on each band, with each remedy, and where that is most
//! and least. Not here: carriers at one spacing all over the dial (`switching_comb`).

pub mod figure;
pub mod result;
pub(crate) mod words;

use crate::contrast::Comparisons;
use crate::contrast::comparison::ContrastResult;
use crate::labels::Present;
use result::{BandPoint, DeviceBands};

pub(crate) use figure::figures;

/// Dials nearer to each other than this are one place, kHz. Chosen: less than the width of any amateur band below 10
/// MHz, more than one tunes aside for a free spot.
const ONE_PLACE_KHZ: f64 = 20.0;
/// The worst band must stand out from the best by this where there are no intervals, dB (chosen: an S-unit; IARU
/// Region 1, R.1).
const APART_DB: f64 = 6.0;

/// Of each device that was compared at two dials or more, in the order of the comparisons.
pub fn of(comparisons: Comparisons<'_>) -> Vec<DeviceBands> {
    let mut names: Vec<&str> = Vec::new();
    for c in comparisons.contrasts.iter().filter(|c| !Present::is_of_several(&c.device)) {
        if !names.contains(&c.device.as_str()) {
            names.push(&c.device);
        }
    }
    names.into_iter().filter_map(|name| of_device(name, comparisons)).collect()
}

fn of_device(device: &str, comparisons: Comparisons<'_>) -> Option<DeviceBands> {
    let dialled = comparisons.of_device(device).filter_map(|c| Some((comparisons.dial_khz(&c.setting)?, c)));
    let mut dialled: Vec<(f64, &ContrastResult)> = dialled.collect();
    dialled.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (lowest, highest) = (dialled.first()?.0, dialled.last()?.0);
    if highest - lowest < ONE_PLACE_KHZ {
        return None;
    }
    let mut firsts: Vec<&ContrastResult> = Vec::new();
    for c in comparisons.of_device(device).filter(|c| dialled.iter().any(|(_, one)| one.id == c.id)) {
        if firsts.iter().all(|first| first.setting != c.setting) {
            firsts.push(c);
        }
    }
    let (worst, best) = apart(&firsts).unzip();
    let point = |(dial_khz, c): (f64, &ContrastResult)| BandPoint {
        setting: c.setting.clone(),
        dial_khz,
        remedy: c.remedy.clone(),
        contrast: c.id.clone(),
        excess_db: c.excess_db.filter(|_| !c.is_void() && !c.is_too_wide()),
        excess_ci_db: c.excess_ci_db.filter(|_| !c.is_void() && !c.is_too_wide()),
        total_excess_db: c.total_db(),
        character: c.character,
        trust: c.trust,
    };
    Some(DeviceBands { device: device.to_owned(), worst, best, points: dialled.into_iter().map(point).collect() })
}

/// The settings with most and least of the device's noise, where that is sure.
fn apart(firsts: &[&ContrastResult]) -> Option<(String, String)> {
    let usable = firsts.iter().filter(|c| c.is_unspoilt() && c.total_db().is_some());
    let mut usable: Vec<&ContrastResult> = usable.copied().collect();
    let total = |c: &ContrastResult| c.total_db().unwrap_or_default();
    usable.sort_by(|a, b| total(a).total_cmp(&total(b)));
    let (least, most) = (*usable.first()?, *usable.last()?);
    let apart = total(most) - total(least);
    // Lines have no interval of their own; of noise the wider side counts.
    let reach = |c: &ContrastResult| {
        let own = c.excess_db.zip(c.excess_ci_db).filter(|_| !c.character.is_lines());
        own.map(|(value, [low, high])| (value - low).max(high - value))
    };
    let needed = reach(least).zip(reach(most)).map_or(APART_DB, |(a, b)| a + b);
    (apart > needed).then(|| (most.setting.clone(), least.setting.clone()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::Character;
    use crate::labels::{Mode, Setting};
    use crate::report::sample::contrast;

    fn at(id: &str, khz: f64) -> Setting {
        Setting {
            id: id.into(),
            dial_khz: Some(khz),
            band: None,
            mode: Some(Mode::Usb),
            bandwidth_hz: None,
            antenna: None,
            gain: None,
        }
    }

    fn lamp(id: &str, setting: &str, excess_db: f64) -> ContrastResult {
        let mut c = contrast(id, "lamp", None, Character::Hash, excess_db, &["r9"]);
        c.setting = setting.into();
        c.excess_ci_db = Some([excess_db - 0.5, excess_db + 0.5]);
        c
    }

    #[test]
    fn the_worst_band_and_the_best_are_named_where_they_are_sure() {
        let settings = [at("s1", 14100.0), at("s2", 3600.0), at("s3", 3605.0)];
        let told = |contrasts: &[ContrastResult]| {
            let found = of(Comparisons { settings: &settings, recordings: &[], contrasts });
            found.into_iter().next().map(|bands| (bands.worst, bands.best, bands.points[0].dial_khz))
        };
        let sure = told(&[lamp("c1", "s1", 3.0), lamp("c2", "s2", 9.0)]);
        assert_eq!(sure, Some((Some("s2".into()), Some("s1".into()), 3600.0)));
        let alike = told(&[lamp("c1", "s1", 3.0), lamp("c2", "s2", 3.6)]);
        assert_eq!(alike, Some((None, None, 3600.0)));
        assert_eq!(told(&[lamp("c1", "s2", 3.0), lamp("c2", "s3", 9.0)]), None, "one place");
        assert_eq!(told(&[lamp("c1", "s1", 3.0)]), None);
    }
}
